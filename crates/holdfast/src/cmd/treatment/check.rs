//! `holdfast treatment check`

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use serde_json::{Value, json};
use treatment::{Answer, Calibration, Hour, Ledger, RefusedRow, Schedule, words};
use voyage::{NamedBytes, ProbeFile};

use super::Check;
use crate::fail::Fail;
use crate::{files, out};

/// Refused rows told to a person; the rest are counted.
const REFUSED_SHOWN: usize = 20;

/// Checks one box.
pub fn run(c: &Check) -> Result<u8, Fail> {
    let schedule = schedule(&c.schedule)?;
    let calibration = calibration(c.calibration.as_deref())?;
    let file = one(&c.readings)?;
    let read = voyage::read_probe_file(&file, &c.unit)?;
    let ledger = treatment::evaluate(&schedule, calibration.as_ref(), read.units, &read.rows, &[]);
    let mut answer = ledger.answer(c.unit.as_str());
    answer.warnings.extend(ledger.doubts(&file.name));
    add_file_notes(&mut answer, read);
    let code = answer.verdict.exit_status();
    if c.json {
        out::print(json_text(&answer, c.hours.then(|| ledger.hours()))?)?;
    } else {
        tell_refused(&answer);
        let mut text = words::report(&answer, &schedule);
        if c.hours {
            text += &hours_text(&ledger);
        }
        out::print(text)?;
    }
    Ok(code)
}

/// A calibration file, where one is named.
pub fn calibration(path: Option<&Path>) -> Result<Option<Calibration>, Fail> {
    path.map(|p| voyage::read_calibration(&one(p)?).map_err(Fail::from)).transpose()
}

/// A schedule file, or one that ships.
pub fn schedule(named: &str) -> Result<Schedule, Fail> {
    let refuse = |e: treatment::ScheduleProblem| Fail::refused(e.to_string());
    if let Some(shipped) = treatment::by_id(named).filter(|_| !Path::new(named).is_file()) {
        return shipped.schedule().map_err(refuse);
    }
    let path = PathBuf::from(named);
    if !path.exists() && path.extension().is_none() {
        return Err(Fail::refused(format!(
            "--schedule {named}: neither a file nor the id of a schedule that ships; holdfast \
             treatment schedules lists them"
        )));
    }
    let file = one(&path)?;
    let bytes = file.bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(&file.bytes);
    let text = std::str::from_utf8(bytes).map_err(|_| {
        Fail::refused(format!("{}: is no text in UTF-8; give the schedule's TOML", file.name))
    })?;
    Schedule::from_toml(text, &file.name).map_err(refuse)
}

fn one(path: &Path) -> Result<NamedBytes, Fail> {
    let mut all = files::read_all(&[path.to_path_buf()])?;
    all.pop().ok_or_else(|| Fail::refused(format!("{}: could not be read", path.display())))
}

fn add_file_notes(answer: &mut Answer, read: ProbeFile) {
    answer.warnings.extend(read.warnings);
    answer.refused = read
        .refused
        .into_iter()
        .map(|r| RefusedRow { file: r.file, line: r.line, why: r.why })
        .collect();
}

/// The contract's keys in the contract's order, then ours.
fn json_text(answer: &Answer, hours: Option<Vec<Hour>>) -> Result<String, Fail> {
    let wrong = |e: serde_json::Error| Fail::refused(format!("standard output: {e}"));
    let mut text = serde_json::to_string(answer).map_err(wrong)?;
    if let Some(hours) = hours {
        let lines: Vec<Value> = hours.iter().map(hour_json).collect();
        let lines = serde_json::to_string(&lines).map_err(wrong)?;
        text.pop();
        let _ = write!(text, ",\"hours\":{lines}}}");
    }
    Ok(text)
}

fn hour_json(h: &Hour) -> Value {
    let found = h
        .found
        .iter()
        .map(|(kind, probe, rule)| json!({"kind": kind.as_str(), "probe": probe, "rule": rule}));
    json!({
        "at": h.at.to_string(),
        "reading_time": h.reading_time,
        "counts": h.counts,
        "started": h.started,
        "found": found.collect::<Vec<_>>(),
    })
}

fn hours_text(ledger: &Ledger) -> String {
    let mut t = String::from("\n\nreading times (UTC)\n");
    for h in ledger.hours() {
        let mark = match (h.reading_time, h.started, h.counts) {
            (false, ..) => "no reading time: every probe missing or impossible",
            (_, true, _) => "a clock starts",
            (_, _, true) => "counts",
            _ => "-",
        };
        let _ = write!(t, "  {}  {mark}", h.at.to_minute());
        for (kind, probe, rule) in &h.found {
            let _ = write!(t, "; {} {}", kind.as_str(), probe.as_deref().unwrap_or("record"));
            if let Some(rule) = rule {
                let _ = write!(t, " [{rule}]");
            }
        }
        t.push('\n');
    }
    t
}

/// Refused rows for a person, on standard error.
fn tell_refused(answer: &Answer) {
    for r in answer.refused.iter().take(REFUSED_SHOWN) {
        out::remark(&format!("refused {}:{}: {}", r.file, r.line, r.why));
    }
    let more = answer.refused.len().saturating_sub(REFUSED_SHOWN);
    if more > 0 {
        out::remark(&format!("… and {more} more refused rows; --json lists them"));
    }
}
