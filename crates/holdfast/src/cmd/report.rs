//! `holdfast report`: the messages that go ashore.

use std::fs;
use std::path::{Path, PathBuf};

use lexopt::{Arg, Parser, ValueExt};
use papers::message::Kind;
use record::digest::Digest;
use serde_json::json;
use voyage::Voyage;
use web::report::{Prepared, prepare, send};

use crate::args::{Command, Invocation, usage};
use crate::fail::Fail;
use crate::{files, out};

/// `holdfast report --help`
pub const HELP: &str = "\
holdfast report --kind twice-daily|exceptions [--delta] [--preview] [--out DIR] [--who NAME]
                [--voyage FILE] [--json]

The message to shore: plain text of at most 4 kB in lines of 76 that any mail takes and that can
be read out by radio, and a table of all boxes, packed (at most 25 kB for any ship).

twice-daily  counts, exceptions most urgent first, cold treatments with every probe
exceptions   malfunction reports per box: noticed, done, restored, with their times (written
             down with holdfast note or on the box's page)

Each message has a number and the root of the journal, and is entered as sent. Keep what comes
back from shore: holdfast verify --against holds the voyage file against that root.

--delta      only what changed since the message of this kind before
--preview    shows it and enters nothing
--out DIR    writes DIR/report-NNNN-KIND.txt and .csv.gz

example: holdfast report --kind twice-daily --out outbox --who \"J. Ruiz\"";

/// Options.
pub struct Report {
    kind: Kind,
    delta: bool,
    preview: bool,
    out: Option<PathBuf>,
    who: Option<String>,
    voyage: Option<PathBuf>,
    json: bool,
}

/// Reads what stands after `report`.
pub fn parse(parser: &mut Parser) -> Result<Invocation, Fail> {
    let mut kind = None;
    let mut c = Report {
        kind: Kind::TwiceDaily,
        delta: false,
        preview: false,
        out: None,
        who: None,
        voyage: None,
        json: false,
    };
    while let Some(arg) = parser.next().map_err(usage)? {
        match arg {
            Arg::Long("help") | Arg::Short('h') => return Ok(Invocation::Help(HELP)),
            Arg::Long("json") => c.json = true,
            Arg::Long("delta") => c.delta = true,
            Arg::Long("preview") => c.preview = true,
            Arg::Long("out") => c.out = Some(parser.value().map_err(usage)?.into()),
            Arg::Long("voyage") => c.voyage = Some(parser.value().map_err(usage)?.into()),
            Arg::Long("who") => {
                c.who = Some(parser.value().and_then(ValueExt::string).map_err(usage)?);
            }
            Arg::Long("kind") => {
                let text = parser.value().and_then(ValueExt::string).map_err(usage)?;
                kind = Some(Kind::from_text(&text).ok_or_else(|| {
                    Fail::refused(format!(
                        "report: --kind \"{text}\" is none; write twice-daily or exceptions"
                    ))
                })?);
            }
            other => return Err(usage(other.unexpected())),
        }
    }
    c.kind = kind.ok_or_else(|| {
        Fail::refused("report: --kind is missing; write --kind twice-daily or --kind exceptions")
    })?;
    Ok(Invocation::Run(Command::Report(c)))
}

/// Makes the message, writes its files, enters it.
pub fn run(c: &Report) -> Result<u8, Fail> {
    let mut v: Voyage = files::open_voyage(c.voyage.as_deref())?;
    let now = files::now();
    let p = prepare(&v, c.kind, c.delta, now)?;
    // Files first: a message that could not be written must not stand as sent.
    let written = c.out.as_deref().map(|dir| write(dir, &p)).transpose()?;
    let entry = match c.preview {
        true => None,
        false => Some(send(&mut v, &p, &files::who(c.who.as_deref()), now)?),
    };
    if c.json {
        out::print_json(&json!({
            "kind": p.kind.as_str(),
            "number": p.number,
            "made_at": now.to_string(),
            "delta": p.delta,
            "since_number": p.since,
            "text": p.message.text,
            "text_bytes": p.message.text.len(),
            "text_sha256": Digest::of(p.message.text.as_bytes()).to_string(),
            "exceptions": p.message.exceptions,
            "exceptions_told": p.message.told,
            "treatments_told": p.message.treatments_told,
            "table_rows": p.rows,
            "table_bytes": p.table_bytes,
            "attachment_bytes": p.packed.len(),
            "root": p.log.1.to_string(),
            "entries": p.log.0,
            "entry": entry,
            "files": written,
        }))?;
        return Ok(0);
    }
    out::print(p.message.text.trim_end())?;
    let mut said =
        format!("table of {} boxes: {} bytes, packed {}", p.rows, p.table_bytes, p.packed.len());
    match entry {
        Some(n) => said += &format!("; entered as sent, entry {n}"),
        None => said += "; preview, nothing was entered",
    }
    if written.is_none() {
        said += "; --out DIR writes both files";
    }
    out::remark(&said);
    Ok(0)
}

fn write(dir: &Path, p: &Prepared) -> Result<Vec<String>, Fail> {
    let io = |path: &Path, e: std::io::Error| {
        Fail::refused(format!("{}: {e}; nothing was entered", path.display()))
    };
    fs::create_dir_all(dir).map_err(|e| io(dir, e))?;
    let parts: [(&str, &[u8]); 2] = [("txt", p.message.text.as_bytes()), ("csv.gz", &p.packed)];
    let mut written = Vec::new();
    for (ending, bytes) in parts {
        let path = dir.join(format!("{}.{ending}", p.stem()));
        fs::write(&path, bytes).map_err(|e| io(&path, e))?;
        written.push(path.display().to_string());
    }
    Ok(written)
}
