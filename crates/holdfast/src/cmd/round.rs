//! `holdfast round sheet`: the paper that goes along on a round.

use std::fs;
use std::path::PathBuf;

use lexopt::{Arg, Parser, ValueExt};
use papers::round::{Bays, RoundSheet, csv, sheet};
use papers::sheet::Fonts;
use record::Part;
use record::round::parts;
use serde_json::json;
use voyage::AsOf;

use crate::args::{Command, Invocation, usage};
use crate::fail::Fail;
use crate::{files, out};

/// `holdfast round --help`
pub const HELP: &str = "\
holdfast round sheet --out FILE [--bays LIST] [--as-of latest|now|TIME] [--who NAME]
                     [--voyage FILE] [--json]

The sheet for a round, A4, black and white: every refrigerated box in walking order (bay by bay
from the bow, deck before hold, tier by tier out and back), with cell, number, cargo, set point,
limits, what to read and the last values with their age; boxes to write in for two rounds. Bays
001, 002 and 003 are walked together. Blank means not read; nothing is carried over.

--out FILE  ends .pdf: the sheet; ends .csv: the same boxes as a table to fill in for holdfast take
--bays      only these, for example 2-30,42; a hold goes with its bay
--as-of     last values as known then; the latest reading when not given
--who       who makes it; the first signed paper of a voyage enters the ship's public key under
            that name (see holdfast dossier --help)

A round that is written down is keyed in on the page \"Rounds\" (holdfast serve), where a figure
that cannot be right is questioned at once; or taken in as a file.

example: holdfast round sheet --out round.pdf --bays 2-30 --voyage v017.holdfast";

/// Options.
pub struct Round {
    out: PathBuf,
    csv: bool,
    bays: Bays,
    who: Option<String>,
    as_of: AsOf,
    voyage: Option<PathBuf>,
    json: bool,
}

/// Reads what stands after `round`.
pub fn parse(parser: &mut Parser) -> Result<Invocation, Fail> {
    let (mut what, mut out, mut bays) = (String::new(), None, Bays::default());
    let (mut voyage, mut who, mut json, mut as_of) = (None, None, false, AsOf::Latest);
    while let Some(arg) = parser.next().map_err(usage)? {
        match arg {
            Arg::Long("help") | Arg::Short('h') => return Ok(Invocation::Help(HELP)),
            Arg::Long("json") => json = true,
            Arg::Long("out") => out = Some(PathBuf::from(parser.value().map_err(usage)?)),
            Arg::Long("voyage") => voyage = Some(parser.value().map_err(usage)?.into()),
            Arg::Long("as-of") => as_of = super::repair::as_of(parser)?,
            Arg::Long("bays") => {
                let text = parser.value().and_then(ValueExt::string).map_err(usage)?;
                bays = Bays::parse(&text)
                    .map_err(|e| Fail::refused(format!("round sheet: --bays {e}")))?;
            }
            Arg::Long("who") => {
                who = Some(parser.value().and_then(ValueExt::string).map_err(usage)?);
            }
            Arg::Value(v) => what.push_str(&v.to_string_lossy()),
            other => return Err(usage(other.unexpected())),
        }
    }
    if what != "sheet" {
        return Err(Fail::refused("round: write round sheet; holdfast round --help"));
    }
    let out = out.ok_or_else(|| {
        Fail::refused("round sheet: name the file with --out, ending .pdf or .csv")
    })?;
    let ending = out.extension().map(|e| e.to_string_lossy().to_ascii_lowercase());
    let csv = match ending.as_deref() {
        Some("pdf") => false,
        Some("csv") => true,
        _ => {
            return Err(Fail::refused(format!(
                "round sheet: --out {}: let it end .pdf or .csv",
                out.display()
            )));
        }
    };
    Ok(Invocation::Run(Command::Round(Round { out, csv, bays, who, as_of, voyage, json })))
}

/// Makes the sheet.
pub fn run(c: &Round) -> Result<u8, Fail> {
    let mut v = files::open_voyage(c.voyage.as_deref())?;
    let made_at = files::now();
    let as_of = v.instant(c.as_of)?;
    let list = v.watch(as_of.map_or(AsOf::Latest, AsOf::At))?;
    let mut lines = v.round_lines(&list, as_of.unwrap_or(made_at))?;
    lines.retain(|l| c.bays.hold(l));
    let (bytes, pages) = if c.csv {
        (csv(&lines), 0)
    } else {
        let key = v.ready_to_sign(&files::who(c.who.as_deref()), made_at)?;
        let (entries, root) = v.log_root()?;
        let fonts = Fonts::load()
            .ok_or_else(|| Fail::refused("round sheet: the program's fonts cannot be read"))?;
        let r = RoundSheet {
            ship_line: v.ship_line(),
            made_at,
            as_of,
            lines: &lines,
            covers: c.bays.title(),
            entries: u64::try_from(entries).unwrap_or(0),
            root,
        };
        sheet(&r, &fonts, key.public(), &|bytes| key.sign(bytes))
            .map_err(|e| Fail::refused(format!("round sheet: {e}")))?
    };
    fs::write(&c.out, bytes).map_err(|e| {
        Fail::refused(format!("{}: {e}; check the folder and the room", c.out.display()))
    })?;
    let bays = parts(&lines);
    let in_bays = bays.iter().filter(|(p, _)| *p != Part::NoCell).count();
    if c.json {
        out::print_json(&json!({
            "file": c.out.display().to_string(),
            "boxes": lines.len(),
            "bays": in_bays,
            "pages": if c.csv { None } else { Some(pages) },
            "as_of_at": as_of.map(|t| t.to_string()),
            "units": lines.iter().map(|l| l.unit().as_str()).collect::<Vec<_>>(),
        }))?;
    } else {
        let pages = if c.csv { String::new() } else { format!(" on {pages} pages") };
        out::print(format!("{}: {} boxes{pages}", c.out.display(), lines.len()))?;
    }
    Ok(0)
}
