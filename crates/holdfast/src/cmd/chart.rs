//! `holdfast chart`: recorder charts put on, taken off, where the original is kept.

use std::path::PathBuf;

use lexopt::{Arg, Parser, ValueExt};
use record::calibration::{ChartLine, Due};
use record::{Act, ChartAct, ChartKept, ChartOff, ChartOn, UnitId};
use serde_json::{Value, json};
use units::Utc;

use super::instrument::plain;
use crate::args::{Command, Invocation, usage};
use crate::fail::Fail;
use crate::{files, out};

/// `holdfast chart --help`
pub const HELP: &str = "\
holdfast chart list [UNIT] [--on TIME] [--voyage FILE] [--json]
holdfast chart on UNIT [--at TIME] --days N | --due TIME [--chart TEXT] [--remark TEXT]
holdfast chart off UNIT [--at TIME] [--kept PLACE] [--scan FILE]... [--remark TEXT]
holdfast chart keep UNIT [--put-on TIME] [--kept PLACE] [--scan FILE]... [--remark TEXT]

Charts of a container's own recorder: when one was put on and has to come off, where the original
is kept, with a scan attached (held byte for byte under its SHA-256). keep says where the original
lies now, or attaches a scan later: of the chart put on at --put-on, else of the one put on last.
Not written down stays blank.

example: holdfast chart on QQQU1000011 --at 2026-03-01T08:00Z --days 31 --chart \"no. 3\"
         holdfast chart off QQQU1000011 --kept \"folder 2, reefer office\" --scan chart3.png";

/// Options that take a text.
const TEXTS: [&str; 9] = ["at", "due", "days", "chart", "kept", "remark", "who", "on", "put-on"];

/// Options.
#[derive(Default)]
pub struct ChartOf {
    verb: String,
    names: Vec<String>,
    texts: Vec<(&'static str, String)>,
    scans: Vec<PathBuf>,
    json: bool,
    voyage: Option<PathBuf>,
}

/// Reads what stands after `chart`.
pub fn parse(parser: &mut Parser) -> Result<Invocation, Fail> {
    let mut c = ChartOf::default();
    while let Some(arg) = parser.next().map_err(usage)? {
        match arg {
            Arg::Long("help") | Arg::Short('h') => return Ok(Invocation::Help(HELP)),
            Arg::Long("json") => c.json = true,
            Arg::Long("scan") => c.scans.push(parser.value().map_err(usage)?.into()),
            Arg::Long("voyage") => c.voyage = Some(parser.value().map_err(usage)?.into()),
            Arg::Long(name) => match TEXTS.into_iter().find(|t| *t == name) {
                Some(key) => {
                    let value = parser.value().and_then(ValueExt::string).map_err(usage)?;
                    c.texts.push((key, value));
                }
                None => return Err(usage(Arg::Long(name).unexpected())),
            },
            Arg::Value(v) if c.verb.is_empty() => c.verb = v.to_string_lossy().into_owned(),
            Arg::Value(v) => c.names.push(v.to_string_lossy().into_owned()),
            other @ Arg::Short(_) => return Err(usage(other.unexpected())),
        }
    }
    Ok(Invocation::Run(Command::Chart(c)))
}

/// Runs it.
pub fn run(c: &ChartOf) -> Result<u8, Fail> {
    let mut v = files::open_voyage(c.voyage.as_deref())?;
    if c.verb == "list" {
        return c.list(&v);
    }
    let unit = c.unit()?;
    let documents = files::read_all(&c.scans)?;
    let scans = voyage::scans(&documents);
    let text = |key: &str| plain(c.get(key).unwrap_or_default());
    let act = match c.verb.as_str() {
        "on" => {
            if !scans.is_empty() {
                return Err(Fail::refused("chart on: --scan goes with off or keep"));
            }
            let at = c.past("at")?;
            ChartAct::On(ChartOn {
                unit,
                at,
                due: c.due(at)?,
                chart: text("chart"),
                remark: text("remark"),
            })
        }
        "off" => ChartAct::Off(ChartOff {
            unit,
            at: c.past("at")?,
            kept: text("kept"),
            remark: text("remark"),
            scans,
        }),
        "keep" => {
            let last = v.acts().charts.iter().rev().find(|f| f.on.unit == unit);
            let on_at = c.time("put-on")?.or(last.map(|f| f.on.at)).ok_or_else(|| {
                Fail::refused(format!(
                    "chart keep: no chart of {unit} is entered; holdfast chart list"
                ))
            })?;
            let (kept, remark) = (text("kept"), text("remark"));
            ChartAct::Kept(ChartKept { unit, on_at, kept, remark, scans })
        }
        other => {
            return Err(Fail::refused(format!(
                "chart: \"{other}\" is nothing to do; write list, on, off or keep"
            )));
        }
    };
    let act = Act::Chart(Box::new(act));
    let who = files::who(c.get("who"));
    let entry = v.enter(&act, &documents, &who, files::now())?;
    if c.json {
        out::print_json(&json!({ "entry": entry, "who": who, "words": act.title() }))?;
    } else {
        out::print(format!("entry {entry} by {who}: {}", act.title()))?;
    }
    Ok(0)
}

impl ChartOf {
    fn get(&self, key: &str) -> Option<&str> {
        self.texts.iter().rev().find(|(k, _)| *k == key).map(|(_, v)| v.trim())
    }

    fn unit(&self) -> Result<UnitId, Fail> {
        let typed = self.names.concat();
        UnitId::from_text(&typed).filter(UnitId::has_iso_form).ok_or_else(|| {
            Fail::refused(format!("chart {}: \"{typed}\" is no container number", self.verb))
        })
    }

    fn time(&self, key: &str) -> Result<Option<Utc>, Fail> {
        let read = |t: &str| {
            Utc::parse(t)
                .map_err(|e| Fail::refused(format!("chart {}: --{key} \"{t}\" {e}", self.verb)))
        };
        self.get(key).map(read).transpose()
    }

    /// Now when not given, never ahead of the clock.
    fn past(&self, key: &str) -> Result<Utc, Fail> {
        let now = files::now();
        let at = self.time(key)?.unwrap_or(now);
        voyage::has_come(&format!("chart {}: --{key}", self.verb), at, now).map_err(Fail::refused)
    }

    fn due(&self, at: Utc) -> Result<Utc, Fail> {
        match (self.time("due")?, self.get("days")) {
            (Some(due), None) => Ok(due),
            (None, Some(days)) => {
                let n = days.parse::<u32>().ok().filter(|n| (1..=366).contains(n));
                let n = n.ok_or_else(|| {
                    Fail::refused(format!("chart on: --days \"{days}\": write 1 to 366"))
                })?;
                Ok(at.plus_hours(24.0 * f64::from(n)))
            }
            _ => {
                Err(Fail::refused("chart on: say when it has to come off, --days 31 or --due TIME"))
            }
        }
    }

    fn list(&self, v: &voyage::Voyage) -> Result<u8, Fail> {
        let on = self.time("on")?.unwrap_or_else(files::now);
        let mut lines = v.charts(on);
        if !self.names.is_empty() {
            let unit = self.unit()?;
            lines.retain(|l| l.file.on.unit == unit);
        }
        if self.json {
            let all: Vec<Value> = lines.iter().map(chart_json).collect();
            out::print_json(&json!({
                "ship": v.ship_line(), "as_of_at": on.to_string(), "charts": all,
            }))?;
        } else if lines.is_empty() {
            out::print("no chart is entered; holdfast chart on --help")?;
        } else {
            let all: Vec<String> = lines.iter().map(chart_text).collect();
            out::print(format!(
                "Recorder charts of {}, as of {} UTC\n{}",
                v.ship_line(),
                on.to_minute(),
                all.join("\n")
            ))?;
        }
        Ok(0)
    }
}

fn chart_text(l: &ChartLine) -> String {
    let f = &l.file;
    let mut s = format!("{}  on {} UTC", f.on.unit, f.on.at.to_minute());
    if !f.on.chart.is_empty() {
        s += &format!(" ({})", f.on.chart);
    }
    match &f.off {
        None => {
            let state = match l.due {
                Due::Overdue { .. } => "CHANGE OVERDUE since",
                Due::Soon { .. } => "change soon:",
                _ => "change due",
            };
            s += &format!(", {state} {} UTC", f.on.due.to_minute());
        }
        Some((off, who)) => {
            s += &format!(", off {} UTC by {who}", off.to_minute());
            if let Some(h) = l.late_h {
                s += &format!(" ({h:.0} h after it was due)");
            }
            s += "; original kept: ";
            s += if f.kept.is_empty() { "NOT WRITTEN DOWN" } else { &f.kept };
        }
    }
    for scan in &f.scans {
        s += &format!("\n    scan {} sha256 {}", scan.name, scan.sha256);
    }
    for r in &f.remarks {
        s += &format!("\n    {r}");
    }
    s
}

/// One chart.
pub fn chart_json(l: &ChartLine) -> Value {
    let f = &l.file;
    let some = |t: &str| Some(t.to_owned()).filter(|t| !t.is_empty());
    let scans: Vec<Value> =
        f.scans.iter().map(|s| json!({ "name": s.name, "sha256": s.sha256 })).collect();
    json!({
        "unit": f.on.unit.as_str(), "chart": some(&f.on.chart), "on_at": f.on.at.to_string(),
        "due_at": f.on.due.to_string(), "off_at": f.off.as_ref().map(|o| o.0.to_string()),
        "off_by": f.off.as_ref().map(|o| &o.1), "on_by": f.on_by,
        "state": f.off.as_ref().map_or(l.due.as_str(), |_| "off"), "late_h": l.late_h,
        "kept": some(&f.kept), "remarks": f.remarks, "scans": scans,
    })
}
