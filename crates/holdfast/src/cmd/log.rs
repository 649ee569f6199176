//! `holdfast log`: who did what, in plain words.

use std::path::PathBuf;

use lexopt::{Arg, Parser, ValueExt};
use record::UnitId;
use serde_json::{Value, json};
use units::Utc;
use voyage::{LogAsked, LogLine};

use crate::args::{Command, Invocation, usage};
use crate::fail::Fail;
use crate::{files, out};

/// `holdfast log --help`
pub const HELP: &str = "\
holdfast log [--unit UNIT] [--from TIME] [--to TIME] [--search WORDS] [--csv|--json]
             [--voyage FILE]

The log of the watch, oldest first: every list and reading taken in, every note, order, reading by
hand, message and signature, with who entered it; late entries marked; rounds that left no
reading for more than 12 h, with the weather where somebody wrote it down (holdfast note
--missed). Times are when it happened, as far as that was told.

example: holdfast log --unit QQQU1000011 --search defrost
         holdfast log --from 2026-03-05 00:00 --csv > log.csv";

/// Options.
#[derive(Default)]
pub struct LogOf {
    asked: LogAsked,
    csv: bool,
    json: bool,
    voyage: Option<PathBuf>,
}

/// Reads what stands after `log`.
pub fn parse(parser: &mut Parser) -> Result<Invocation, Fail> {
    let mut c = LogOf::default();
    while let Some(arg) = parser.next().map_err(usage)? {
        match arg {
            Arg::Long("help") | Arg::Short('h') => return Ok(Invocation::Help(HELP)),
            Arg::Long("json") => c.json = true,
            Arg::Long("csv") => c.csv = true,
            Arg::Long("voyage") => c.voyage = Some(parser.value().map_err(usage)?.into()),
            Arg::Long("search") => c.asked.search = text(parser)?,
            Arg::Long("unit") => {
                let t = text(parser)?;
                c.asked.unit = Some(UnitId::from_text(&t).ok_or_else(|| {
                    Fail::refused(format!("log: --unit \"{t}\" is no container number"))
                })?);
            }
            Arg::Long("from") => c.asked.from = Some(instant(parser, "--from")?),
            Arg::Long("to") => c.asked.to = Some(instant(parser, "--to")?),
            other => return Err(usage(other.unexpected())),
        }
    }
    if c.csv && c.json {
        return Err(Fail::refused("log: --csv or --json, not both"));
    }
    Ok(Invocation::Run(Command::Log(c)))
}

fn text(parser: &mut Parser) -> Result<String, Fail> {
    parser.value().and_then(ValueExt::string).map_err(usage)
}

/// A time or a day, which begins at midnight UTC.
fn instant(parser: &mut Parser, name: &str) -> Result<Utc, Fail> {
    let t = text(parser)?;
    let whole = if t.trim().len() == 10 { format!("{} 00:00", t.trim()) } else { t.clone() };
    Utc::parse(&whole).map_err(|e| Fail::refused(format!("log: {name} \"{t}\" {e}")))
}

/// Shows it.
pub fn run(c: &LogOf) -> Result<u8, Fail> {
    let v = files::open_voyage(c.voyage.as_deref())?;
    let lines = v.log(&c.asked)?;
    if let Some(unit) = &c.asked.unit
        && lines.is_empty()
        && !v.held().units.contains_key(unit)
    {
        return Err(Fail::refused(format!(
            "log: {unit} is on no list and was never read; holdfast watch --all lists the boxes"
        )));
    }
    if c.json {
        let lines: Vec<Value> = lines.iter().map(line_json).collect();
        out::print_json(&json!({ "ship": v.ship_line(), "lines": lines }))?;
    } else if c.csv {
        // The line end of the last row comes with the print.
        let table = web::log::csv(&lines);
        out::print(String::from_utf8_lossy(&table).trim_end_matches("\r\n"))?;
    } else {
        out::print(plain(&v.ship_line(), &lines))?;
    }
    Ok(0)
}

fn line_json(l: &LogLine) -> Value {
    let files: Vec<Value> = l
        .files
        .iter()
        .map(|(name, sha)| json!({ "name": name, "sha256": sha.to_string() }))
        .collect();
    json!({
        "entry": l.seq, "kind": l.kind, "happened_at": l.at.to_string(),
        "entered_at": l.entered_at.map(|t| t.to_string()), "late_h": l.late_h,
        "who": (!l.who.is_empty()).then_some(&l.who), "words": l.words, "files": files,
        "sha256": l.sha256.map(|d| d.to_string()),
    })
}

fn plain(ship: &str, lines: &[LogLine]) -> String {
    let mut s = format!("Log of {ship}, times UTC");
    for l in lines {
        let number = l.seq.map_or_else(|| "  gap".to_owned(), |n| format!("{n:>5}"));
        let who = if l.who.is_empty() { String::new() } else { format!(" {}:", l.who) };
        s += &format!("\n{number}  {}{who} {}", l.at.to_minute(), l.words);
        if let (Some(h), Some(at)) = (l.late_h, l.entered_at) {
            s += &format!(" [LATE: entered {} UTC, {h:.0} h after]", at.to_minute());
        }
        if !l.files.is_empty() {
            let names: Vec<&str> = l.files.iter().map(|(n, _)| n.as_str()).take(4).collect();
            let more = l.files.len() - names.len();
            let more = if more > 0 { format!(" and {more} more") } else { String::new() };
            s += &format!(" [{}{more}]", names.join(", "));
        }
    }
    if lines.is_empty() {
        s += "\nNothing in it that was asked for.";
    }
    s
}
