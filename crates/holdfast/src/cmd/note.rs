//! `holdfast note`: what was noticed or done, in a person's words.

use std::path::PathBuf;

use lexopt::{Arg, Parser, ValueExt};
use record::note::late_h;
use record::{Act, Note, NoteKind, RoundMissed, UnitId};
use serde_json::json;
use units::Utc;

use crate::args::{Command, Invocation, usage};
use crate::fail::Fail;
use crate::{files, out};

/// `holdfast note --help`
pub const HELP: &str = "\
holdfast note [UNIT] TEXT [--kind noticed|done|restored|remark] [--at TIME] [--who NAME]
              [--voyage FILE] [--json]
holdfast note --missed --from TIME --to TIME TEXT [--wind W] [--sea S] [--who NAME] ...

Writes down what was seen or done, for a box or (without UNIT) for the ship. noticed, done and
restored make the box's malfunction report; remark is anything else and what is taken when
--kind is not given. --at is when it happened, now if not given; a note entered more than 3 h
later is marked late. Nothing is edited: a slip is put right by a further note.

--missed   nobody could walk the round, and why; with the weather as the bridge logs it

example: holdfast note QQQU1000011 \"ice on coil, return 4 K up\" --kind noticed --at 2026-03-05T08:12Z
         holdfast note --missed --from 2026-03-05T20:00Z --to 2026-03-06T04:00Z \"deck closed\" \\
                  --wind \"NW 9\" --sea \"6 m\"";

/// Options.
#[derive(Default)]
pub struct NoteOf {
    words: Vec<String>,
    kind: Option<NoteKind>,
    at: Option<Utc>,
    missed: bool,
    from: Option<Utc>,
    to: Option<Utc>,
    wind: String,
    sea: String,
    who: Option<String>,
    voyage: Option<PathBuf>,
    json: bool,
}

/// Reads what stands after `note`.
pub fn parse(parser: &mut Parser) -> Result<Invocation, Fail> {
    let mut c = NoteOf::default();
    while let Some(arg) = parser.next().map_err(usage)? {
        match arg {
            Arg::Long("help") | Arg::Short('h') => return Ok(Invocation::Help(HELP)),
            Arg::Long("json") => c.json = true,
            Arg::Long("missed") => c.missed = true,
            Arg::Long("kind") => {
                let t = text(parser)?;
                c.kind = Some(NoteKind::from_text(&t).ok_or_else(|| {
                    Fail::refused(format!(
                        "note: --kind \"{t}\" is none; write noticed, done, restored or remark"
                    ))
                })?);
            }
            Arg::Long("at") => c.at = Some(instant(parser, "--at")?),
            Arg::Long("from") => c.from = Some(instant(parser, "--from")?),
            Arg::Long("to") => c.to = Some(instant(parser, "--to")?),
            Arg::Long("wind") => c.wind = text(parser)?,
            Arg::Long("sea") => c.sea = text(parser)?,
            Arg::Long("who") => c.who = Some(text(parser)?),
            Arg::Long("voyage") => c.voyage = Some(parser.value().map_err(usage)?.into()),
            Arg::Value(v) => c.words.push(v.to_string_lossy().into_owned()),
            other => return Err(usage(other.unexpected())),
        }
    }
    Ok(Invocation::Run(Command::Note(c)))
}

fn text(parser: &mut Parser) -> Result<String, Fail> {
    parser.value().and_then(ValueExt::string).map_err(usage)
}

fn instant(parser: &mut Parser, name: &str) -> Result<Utc, Fail> {
    let t = text(parser)?;
    Utc::parse(&t).map_err(|e| Fail::refused(format!("note: {name} \"{t}\" {e}")))
}

/// Enters it.
pub fn run(c: &NoteOf) -> Result<u8, Fail> {
    let now = files::now();
    let act = if c.missed { missed(c, now)? } else { noted(c, now)? };
    let mut v = files::open_voyage(c.voyage.as_deref())?;
    let who = files::who(c.who.as_deref());
    let entry = v.enter(&act, &[], &who, now)?;
    let late = act.happened_at().and_then(|at| late_h(at, now));
    if c.json {
        out::print_json(&json!({
            "entry": entry, "who": who, "entered_at": now.to_string(), "late_h": late,
            "at": act.happened_at().map(|t| t.to_string()), "words": act.title(),
        }))?;
    } else {
        let late = if late.is_some() { ", marked late" } else { "" };
        out::print(format!("entry {entry} by {who}{late}: {}", act.title()))?;
    }
    Ok(0)
}

fn noted(c: &NoteOf, now: Utc) -> Result<Act, Fail> {
    // A container number may be written as it is painted, in several words.
    let unit = (1..=3).find_map(|n| {
        let head = c.words.get(..n)?.concat();
        UnitId::from_text(&head).filter(UnitId::has_iso_form).map(|u| (u, n))
    });
    let (unit, from) = unit.map_or((None, 0), |(u, n)| (Some(u), n));
    let text = plain(c.words.get(from..).unwrap_or(&[]).join(" "));
    if text.is_empty() {
        return Err(Fail::refused("note: write what was seen or done; holdfast note --help"));
    }
    if c.from.is_some() || c.to.is_some() || !c.wind.is_empty() || !c.sea.is_empty() {
        return Err(Fail::refused("note: --from, --to, --wind and --sea go with --missed"));
    }
    let at = in_the_past("--at", c.at.unwrap_or(now), now)?;
    let kind = c.kind.unwrap_or(NoteKind::Remark);
    Ok(Act::Noted(Box::new(Note { unit, kind, at, text })))
}

fn missed(c: &NoteOf, now: Utc) -> Result<Act, Fail> {
    let (Some(from), Some(to)) = (c.from, c.to) else {
        return Err(Fail::refused("note --missed: --from and --to say when nobody could go round"));
    };
    let why = plain(c.words.join(" "));
    if why.is_empty() || from > to {
        return Err(Fail::refused(
            "note --missed: write why, and --from before --to; holdfast note --help",
        ));
    }
    in_the_past("--from", from, now)?;
    let (wind, sea) = (plain(c.wind.clone()), plain(c.sea.clone()));
    Ok(Act::RoundMissed(Box::new(RoundMissed { from, to, why, wind, sea })))
}

fn in_the_past(name: &str, at: Utc, now: Utc) -> Result<Utc, Fail> {
    voyage::has_come(&format!("note: {name}"), at, now).map_err(Fail::refused)
}

/// One line, no longer than a page shows.
fn plain(text: String) -> String {
    let one: String = text.split_whitespace().collect::<Vec<_>>().join(" ");
    one.chars().filter(|c| !c.is_control()).take(600).collect()
}
