//! `holdfast spares`: parts on board, parts used, what will be short.

use std::fmt::Write as _;
use std::path::PathBuf;

use lexopt::{Arg, Parser, ValueExt};
use record::{Act, SparesAct, UnitId};
use serde_json::json;
use service::spares::PartLine;
use units::Utc;
use units::math::round_to;

use crate::args::{Command, Invocation, usage};
use crate::fail::Fail;
use crate::{files, out};

/// `holdfast spares --help`
pub const HELP: &str = "\
holdfast spares [list]                    what is on board, used, and will be short
holdfast spares count PART N [--least N]  the shelf was counted; --least: fewest wanted
holdfast spares receive PART N [--remark TEXT]
holdfast spares use PART N --for JOB [--unit UNIT]
common options: --voyage FILE --at TIME --who NAME --json

What the days ahead take is worked out from what was used since the account began, up to the last
arrival entered (treatment arrival), else 30 days: 5 and 95 % bounds and the chance of running
out. Little seen means wide bounds. Nothing is edited: a miscount is put right by counting again.
A part that the crew file held (repair crew) names is planned with the count kept here.

example: holdfast spares count \"fan motor\" 4 --least 1
         holdfast spares use \"fan motor\" 1 --for \"evaporator fan changed\" --unit QQQU1000011";

/// Most parts of one entry.
const MOST: u32 = 100_000;

/// `spares` with what was typed.
#[derive(Default)]
pub struct Spares {
    words: Vec<String>,
    least: Option<String>,
    job: Option<String>,
    unit: Option<String>,
    remark: Option<String>,
    at: Option<String>,
    who: Option<String>,
    voyage: Option<PathBuf>,
    json: bool,
}

fn refuse(why: impl std::fmt::Display) -> Fail {
    Fail::refused(format!("spares: {why}"))
}

/// Reads what stands after `spares`.
pub fn parse(parser: &mut Parser) -> Result<Invocation, Fail> {
    let mut c = Spares::default();
    while let Some(arg) = parser.next().map_err(usage)? {
        let field = match arg {
            Arg::Long("help") | Arg::Short('h') => return Ok(Invocation::Help(HELP)),
            Arg::Long("json") => {
                c.json = true;
                continue;
            }
            Arg::Long("voyage") => {
                c.voyage = Some(parser.value().map_err(usage)?.into());
                continue;
            }
            Arg::Value(v) => {
                c.words.push(v.to_string_lossy().into_owned());
                continue;
            }
            Arg::Long("least") => &mut c.least,
            Arg::Long("for") => &mut c.job,
            Arg::Long("unit") => &mut c.unit,
            Arg::Long("remark") => &mut c.remark,
            Arg::Long("at") => &mut c.at,
            Arg::Long("who") => &mut c.who,
            other => return Err(usage(other.unexpected())),
        };
        *field = Some(parser.value().and_then(ValueExt::string).map_err(usage)?);
    }
    Ok(Invocation::Run(Command::Spares(c)))
}

/// Answers, or enters it.
pub fn run(c: &Spares) -> Result<u8, Fail> {
    let verb = c.words.first().map_or("list", String::as_str);
    match verb {
        "list" => list(c),
        "count" | "receive" | "use" => enter(c, verb),
        other => Err(refuse(format!("\"{other}\" is none of list, count, receive, use"))),
    }
}

fn number(what: &str, text: &str) -> Result<u32, Fail> {
    text.trim()
        .parse()
        .ok()
        .filter(|n| *n <= MOST)
        .ok_or_else(|| refuse(format!("{what} \"{text}\" is no count")))
}

fn enter(c: &Spares, verb: &str) -> Result<u8, Fail> {
    let now = files::now();
    let at = match c.at.as_deref() {
        None => now,
        Some(t) => Utc::parse(t).map_err(|e| refuse(format!("--at \"{t}\" {e}")))?,
    };
    voyage::has_come("--at", at, now).map_err(refuse)?;
    let [_, name @ .., count] = c.words.as_slice() else {
        return Err(refuse("name the part and how many; holdfast spares --help"));
    };
    let part: String = name.join(" ").chars().filter(|c| !c.is_control()).take(80).collect();
    if part.trim().is_empty() {
        return Err(refuse("name the part and how many; holdfast spares --help"));
    }
    let count = number("the number", count)?;
    let remark = c.remark.clone().unwrap_or_default();
    let act = match verb {
        "count" => {
            let least = c.least.as_deref().map(|t| number("--least", t)).transpose()?;
            SparesAct::Counted { part, count, least, at }
        }
        "receive" => SparesAct::Received { part, count, at, remark },
        _ => {
            let job = c.job.clone().filter(|j| !j.trim().is_empty());
            let job = job.ok_or_else(|| refuse("--for says what the part was used for"))?;
            let unit = match c.unit.as_deref() {
                None => None,
                Some(t) => Some(
                    UnitId::from_text(t)
                        .filter(UnitId::has_iso_form)
                        .ok_or_else(|| refuse(format!("--unit \"{t}\" is no container number")))?,
                ),
            };
            SparesAct::Used { part, count, unit, job, at }
        }
    };
    let mut v = files::open_voyage(c.voyage.as_deref())?;
    let who = files::who(c.who.as_deref());
    let title = act.title();
    let entry = v.enter(&Act::Spares(Box::new(act)), &[], &who, now)?;
    if c.json {
        out::print_json(&json!({
            "entry": entry, "who": who, "entered_at": now.to_string(), "words": title,
        }))?;
    } else {
        out::print(format!("entry {entry} by {who}: {title}"))?;
    }
    Ok(0)
}

fn list(c: &Spares) -> Result<u8, Fail> {
    let v = files::open_voyage(c.voyage.as_deref())?;
    let shelf = v.shelf(files::now());
    if c.json {
        let parts = shelf.parts.iter().map(|p| {
            json!({
                "part": p.part, "on_board": p.on_board, "least": p.least, "used": p.used,
                "days_watched": round_to(p.days, 1),
                "ahead_p5_p50_p95": p.ahead, "runs_out": p.runs_out.map(|x| round_to(x, 3)),
                "short": p.short(),
            })
        });
        out::print_json(&json!({
            "as_of_at": shelf.at.to_string(), "days_ahead": round_to(shelf.days_ahead, 1),
            "until": shelf.until, "parts": parts.collect::<Vec<_>>(),
        }))?;
        return Ok(0);
    }
    if shelf.parts.is_empty() {
        out::print("Nothing is entered yet. Begin with a count: holdfast spares --help")?;
        return Ok(0);
    }
    let mut t = format!("to {} ({:.0} days)\n", shelf.until, shelf.days_ahead);
    for p in &shelf.parts {
        line(&mut t, p);
    }
    out::print(t.trim_end())?;
    Ok(0)
}

fn line(t: &mut String, p: &PartLine) {
    let mark = if p.short() { "short" } else { "" };
    let held = p.on_board.map_or_else(|| "not counted".to_owned(), |n| format!("{n} on board"));
    let least = p.least.map_or_else(String::new, |n| format!(", at least {n} wanted"));
    let _ = write!(t, "{mark:5}  {}: {held}{least}; {} used in {:.0} days", p.part, p.used, p.days);
    if let Some([low, _, high]) = p.ahead {
        let _ = write!(t, "; ahead {low} to {high}");
    }
    if let Some(x) = p.runs_out {
        let _ = write!(t, ", runs out {:.0} %", 100.0 * x);
    }
    let _ = writeln!(t);
}
