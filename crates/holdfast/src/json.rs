//! Records as the JSON of the contract. Wire forms are written here by hand: what is stored and
//! what is printed may change apart.

use record::{
    BoxLine, BoxView, Changes, Channel, Fan, FanLine, Finding, ListReport, ListedUnit, Reading,
    WatchList,
};
use serde_json::{Value, json};
use units::Utc;
use units::math::round_to;
use voyage::TakeOutcome;

/// `load --json`
pub fn load(report: &ListReport, changes: Changes) -> Value {
    json!({
        "files": report.files,
        "messages": report.messages,
        "units": report.units.iter().map(listed).collect::<Vec<_>>(),
        "warnings": report.warnings,
        "changes": {
            "added": changes.added,
            "removed": changes.removed,
            "moved": changes.moved,
            "set_point_changed": changes.set_point_changed,
        },
    })
}

fn listed(u: &ListedUnit) -> Value {
    json!({
        "unit": u.unit.as_ref().map(record::UnitId::as_str),
        "check_digit_ok": u.check_digit_ok,
        "size_type": u.size_type,
        "thermal": u.thermal,
        "stow": u.stow,
        "bay": u.cell.map(|c| c.bay),
        "row": u.cell.map(|c| c.row),
        "tier": u.cell.map(|c| c.tier),
        "load_port": u.load_port,
        "discharge_port": u.discharge_port,
        "full": u.full,
        "weight_kg": u.weight_kg,
        "set_point_c": u.set_point_c,
        "set_point_as_sent": u.set_point_as_sent,
        "range_c": u.range_c,
        "humidity_pct": u.humidity_pct,
        "vent_m3_h": u.vent_m3_h,
        "remarks": u.remarks,
        "text": u.text,
        "warnings": u.warnings,
    })
}

/// `take --json`
pub fn take(t: &TakeOutcome) -> Value {
    let refused = t.refused.iter().map(|r| json!({"file": r.file, "line": r.line, "why": r.why}));
    json!({
        "files": t.files,
        "rows": t.rows,
        "stored": t.stored,
        "already_held": t.already_held,
        "refused": refused.collect::<Vec<_>>(),
        "conflicts": t.conflicts,
        "warnings": t.warnings,
    })
}

/// `watch --json`
pub fn watch(list: &WatchList) -> Value {
    json!({
        "as_of_at": at(list.as_of),
        "boxes": list.boxes.iter().map(line).collect::<Vec<_>>(),
    })
}

fn line(b: &BoxLine) -> Value {
    json!({
        "unit": b.unit.as_str(),
        "stow": b.stow,
        "bay": b.cell.map(|c| c.bay),
        "row": b.cell.map(|c| c.row),
        "tier": b.cell.map(|c| c.tier),
        "size_type": b.size_type,
        "cargo": b.cargo,
        "discharge_port": b.discharge_port,
        "full": b.full,
        "state": b.state.as_str(),
        "reason": b.reason,
        "hours_to_limit": b.hours_to_limit.map(|h| round_to(h, 2)),
        "hours_to_limit_p90": b.hours_to_limit_p90.map(|i| i.map(|h| round_to(h, 2))),
        "limit": b.limit,
        "action": b.action,
        "set_point_c": b.set_point_c,
        "supply_c": b.supply_c,
        "return_c": b.return_c,
        "cargo_c": b.cargo_c.map(|t| round_to(t, 2)),
        "cargo_c_p90": b.cargo_c_p90.map(|i| i.map(|t| round_to(t, 2))),
        "on_power": b.on_power,
        "last_read_at": at(b.last_read_at),
        "findings": b.findings.iter().map(finding).collect::<Vec<_>>(),
    })
}

fn finding(f: &Finding) -> Value {
    json!({
        "state": f.state.as_str(),
        "what": f.what,
        "action": f.action,
        "since_at": at(f.since),
    })
}

/// `box --json`
pub fn one_box(view: &BoxView, as_of: Option<Utc>, fan: Option<&Fan>) -> Value {
    let mut out = line(&view.line);
    let facts = view.cargo_facts.iter().map(
        |f| json!({"name": f.name, "text": f.text, "source": f.source, "unverified": f.unverified}),
    );
    if let Value::Object(map) = &mut out {
        map.insert("as_of_at".into(), at(as_of));
        map.insert("ahead".into(), fan.map_or(Value::Null, ahead));
        map.insert("listed".into(), view.listed.as_ref().map_or(Value::Null, listed));
        map.insert("cargo_facts".into(), facts.collect());
        map.insert("readings".into(), view.readings.iter().map(reading).collect());
    }
    out
}

fn ahead(fan: &Fan) -> Value {
    json!({
        "from_at": fan.at.to_string(),
        "horizon_h": round_to(fan.horizon_h, 2),
        "repair_in_h": fan.repair_in_h,
        "courses": fan.lines.iter().map(course).collect::<Vec<_>>(),
        "lacks": fan.lacks,
        "quality": fan.quality.iter().map(|q| json!({
            "name": q.name, "text": q.text, "source": q.source, "unverified": q.unverified,
        })).collect::<Vec<_>>(),
    })
}

fn course(line: &FanLine) -> Value {
    let r = |x: f64| round_to(x, 2);
    json!({
        "course": line.course.as_str(),
        "limits": line.limits.iter().map(|l| json!({
            "limit_c": l.limit_c,
            "limit": l.text,
            "hours_to_limit": l.hours.map(r),
            "hours_to_limit_p90": l.p90_h.map(r),
            "probability": r(l.probability),
        })).collect::<Vec<_>>(),
        "cargo": line.cargo.iter().map(|p| json!({
            "hours_h": p.hours, "cargo_c": r(p.cargo_c), "cargo_c_p90": p.p90_c.map(r),
        })).collect::<Vec<_>>(),
    })
}

fn reading(r: &Reading) -> Value {
    let mut out = json!({
        "time_at": r.at.to_string(),
        "source": r.source.as_ref(),
        "line": r.origin.line,
        "on_power": r.on_power,
        "mode": r.mode.map(record::Mode::as_str),
        "alarm": r.alarm.as_deref(),
        "remark": r.remark.as_deref(),
        "as_written": r.raw.as_deref(),
    });
    if let Value::Object(map) = &mut out {
        for c in Channel::ALL {
            map.insert(c.column(), r.get(c).map_or(Value::Null, Value::from));
        }
    }
    out
}

fn at(t: Option<Utc>) -> Value {
    t.map_or(Value::Null, |t| Value::String(t.to_string()))
}
