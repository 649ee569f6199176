//! `holdfast instrument list`: the register as text and JSON.

use record::calibration::{CheckLine, Drift, Due, IcePoint, InstrumentLine, Use};
use serde_json::{Value, json};

use super::InstrumentOf;
use crate::fail::Fail;
use crate::{files, out};

/// Shows the register, or one instrument of it.
pub fn list(c: &InstrumentOf) -> Result<u8, Fail> {
    let v = files::open_voyage(c.voyage.as_deref())?;
    let on = c.time("on")?.unwrap_or_else(files::now);
    let mut lines = v.instruments(on);
    let mut sensors = v.sensor_checks(None);
    if !c.names.is_empty() {
        let id = c.id()?;
        lines.retain(|l| l.instrument.id == id);
        if lines.is_empty() {
            return Err(Fail::refused(format!(
                "instrument list: {id} is not in the register; holdfast instrument list shows it"
            )));
        }
        sensors.clear();
    }
    if c.json {
        let all: Vec<Value> = lines.iter().map(line_json).collect();
        let checks: Vec<Value> = sensors.iter().map(check_json).collect();
        out::print_json(&json!({
            "ship": v.ship_line(), "as_of_at": on.to_string(), "instruments": all,
            "box_checks": checks,
        }))?;
        return Ok(0);
    }
    let mut s = format!("Instruments of {}, as of {} UTC", v.ship_line(), on.to_minute());
    if lines.is_empty() {
        s += "\nNone is entered; holdfast instrument add --help";
    }
    for l in &lines {
        s += &text(l);
    }
    if !sensors.is_empty() {
        s += "\n\nSensors and probes of containers, held in ice";
        for check in &sensors {
            s += &format!("\n  {}", check_text(check));
        }
    }
    out::print(s)?;
    Ok(0)
}

fn text(l: &InstrumentLine) -> String {
    let i = &l.instrument;
    let mut s = format!("\n\n{}  {}", i.id, i.line());
    for (name, t) in [
        ("", &i.what),
        ("accuracy ", &i.accuracy),
        ("issued by ", &i.issuer),
        ("kept: ", &i.place),
        ("", &i.remark),
    ] {
        if !t.is_empty() {
            s += &format!("\n    {name}{t}");
        }
    }
    match &l.withdrawn {
        Some((at, why)) => s += &format!("\n    WITHDRAWN {} UTC: {why}", at.to_minute()),
        None => {
            s += &format!("\n    certificate: {}", l.due.words());
            if l.check_due != Due::NotStated {
                s += &format!("\n    ice-point check: {}", l.check_due.words());
            }
        }
    }
    for check in l.checks.iter().rev().take(3) {
        s += &format!("\n    {}", check_text(check));
    }
    for u in l.uses.iter().take(5) {
        s += &format!("\n    used {} UTC, {}", u.at.to_minute(), u.record);
        if let Some(unit) = &u.unit {
            s += &format!(" of {unit}");
        }
        s += &format!(": {}", u.on_day.words());
    }
    for scan in &l.scans {
        s += &format!("\n    scan {} sha256 {}", scan.name, scan.sha256);
    }
    s
}

/// A check in one line.
pub fn check_text(c: &CheckLine) -> String {
    let mut s =
        format!("{} UTC {}: {} {}", c.at.to_minute(), c.label, c.readings.join(" "), c.sign);
    match &c.ice {
        Ok(ice) => s += &format!(" -> {}", ice_line(ice)),
        Err(why) => s += &format!(" -> {why}"),
    }
    if let Some(d) = &c.drift {
        s += &format!(" | drift {}", drift_text(d));
    }
    if !c.notes.is_empty() {
        s += &format!(" | {}", c.notes);
    }
    s + &format!(" | by {}", c.who)
}

/// Correction, spread and remarks in words.
pub fn ice_text(ice: &IcePoint) -> String {
    let mut s = ice_line(ice);
    for r in &ice.remarks {
        s += &format!("\n    ! {r}");
    }
    s
}

fn ice_line(ice: &IcePoint) -> String {
    let mut s = format!("mean {:.3} °C, correction {:+.3} K", ice.mean_c, ice.correction_k);
    match ice.correction_p90 {
        Some([low, high]) => s += &format!(" (90 %: {low:+.3} to {high:+.3} K)"),
        None => s += " (one reading: its spread is not known)",
    }
    if let Some(spread) = ice.spread_k {
        s += &format!(", spread {spread:.3} K of {} readings", ice.count);
    }
    s
}

fn drift_text(d: &Drift) -> String {
    let mut s = format!("{:+.3} K", d.drift_k);
    if let Some([low, high]) = d.drift_p90 {
        s += &format!(" (90 %: {low:+.3} to {high:+.3})");
    }
    let since = d.since.to_day();
    s += &format!(" since {since}");
    if let Some(y) = d.per_year_k {
        s += &format!(", {y:+.3} K a year");
        if let Some([low, high]) = d.per_year_p90 {
            s += &format!(" (90 %: {low:+.3} to {high:+.3})");
        }
    }
    s
}

/// What readings in ice say.
pub fn ice_json(ice: &IcePoint) -> Value {
    json!({
        "count": ice.count, "mean_c": ice.mean_c, "correction_k": ice.correction_k,
        "correction_k_p90": ice.correction_p90, "spread_k": ice.spread_k, "step_k": ice.step_k,
        "remarks": ice.remarks,
    })
}

/// One check.
pub fn check_json(c: &CheckLine) -> Value {
    let drift = c.drift.as_ref().map(|d| {
        json!({
            "since_at": d.since.to_string(), "days": d.days, "drift_k": d.drift_k,
            "drift_k_p90": d.drift_p90, "per_year_k": d.per_year_k,
            "per_year_k_p90": d.per_year_p90,
        })
    });
    json!({
        "of": c.label, "unit": c.unit.as_ref().map(record::UnitId::as_str),
        "checked_at": c.at.to_string(), "who": c.who, "readings": c.readings,
        "sign": c.sign, "ice": c.ice.as_ref().ok().map(ice_json), "drift": drift,
        "trouble": c.ice.as_ref().err(), "notes": c.notes,
    })
}

/// One use.
pub fn use_json(u: &Use) -> Value {
    json!({
        "id": u.id, "line": u.line, "used_at": u.at.to_string(),
        "unit": u.unit.as_ref().map(record::UnitId::as_str), "record": u.record,
        "on_day": u.on_day.as_str(), "words": u.on_day.words(),
    })
}

fn line_json(l: &InstrumentLine) -> Value {
    let i = &l.instrument;
    let some = |t: &str| Some(t.to_owned()).filter(|t| !t.is_empty());
    let due = |d: Due| json!({ "state": d.as_str(), "day": some(&d.day()) });
    let scans: Vec<Value> =
        l.scans.iter().map(|s| json!({ "name": s.name, "sha256": s.sha256 })).collect();
    json!({
        "id": i.id, "kind": i.kind.as_str(), "what": some(&i.what), "serial": some(&i.serial),
        "accuracy": some(&i.accuracy), "certificate": some(&i.certificate),
        "issuer": some(&i.issuer), "dated": i.dated, "every_months": i.every_months,
        "check_every_days": i.check_every_days, "place": some(&i.place),
        "remark": some(&i.remark), "who": l.who, "entered_at": l.entered_at.to_string(),
        "withdrawn_at": l.withdrawn.as_ref().map(|w| w.0.to_string()),
        "withdrawn_why": l.withdrawn.as_ref().map(|w| &w.1),
        "due": due(l.due), "check_due": due(l.check_due),
        "checks": l.checks.iter().map(check_json).collect::<Vec<_>>(),
        "uses": l.uses.iter().map(use_json).collect::<Vec<_>>(), "scans": scans,
    })
}
