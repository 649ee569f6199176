//! `holdfast box`

use std::fmt::Write as _;

use record::{BoxView, Channel, Fan, FanCourse, Reading};

use crate::args::OneBox;
use crate::cmd::watch::{as_of_instant, push_line};
use crate::fail::Fail;
use crate::{files, json, out};

/// Latest readings shown to a person.
const READINGS_SHOWN: usize = 12;

/// Shows one box.
pub fn run(c: &OneBox) -> Result<u8, Fail> {
    let v = files::open_voyage(c.voyage.as_deref())?;
    let instant = v.instant(c.as_of)?;
    let Some(one) = v.one_box(&c.unit, c.as_of)? else {
        return Err(Fail::refused(format!(
            "box {}: on no list and never read; check the number, holdfast watch --all lists them",
            c.unit
        )));
    };
    let (fan, view) = (one.fan(c.repair_in_h), &one.view);
    if c.json {
        out::print_json(&json::one_box(view, instant, fan.as_ref()))?;
    } else {
        let head = as_of_instant(instant, view.line.last_read_at, c.as_of, files::now());
        out::print(format!("{head}\n\n{}", text(view, fan.as_ref())))?;
    }
    Ok(0)
}

fn text(view: &BoxView, fan: Option<&Fan>) -> String {
    let mut s = String::new();
    push_line(&mut s, &view.line);
    if let Some(fan) = fan {
        ahead(&mut s, fan);
        quality(&mut s, fan);
    }
    for f in view.line.findings.iter().skip(1) {
        let _ = writeln!(s, "  also  {} {}", f.what, f.action);
    }
    if let Some(l) = &view.listed {
        let _ = writeln!(s, "\nOn the list:");
        for line in l.text.lines() {
            let _ = writeln!(s, "        {line}");
        }
        for w in &l.warnings {
            let _ = writeln!(s, "      ! {w}");
        }
    }
    if !view.cargo_facts.is_empty() {
        let _ = writeln!(s, "\nOf this cargo:");
        for f in &view.cargo_facts {
            let mark = if f.unverified { " (recalled, unverified)" } else { "" };
            let _ = writeln!(s, "        {}: {}{mark} [{}]", f.name, f.text, f.source);
        }
    }
    let shown = view.readings.len().saturating_sub(READINGS_SHOWN);
    let _ = writeln!(s, "\nLatest readings (of {}):", view.readings.len());
    let _ = writeln!(s, "UTC               set   supply return ambient power mode     source");
    for r in view.readings.iter().skip(shown) {
        let _ = writeln!(s, "{}", reading(r));
    }
    s.trim_end().to_owned()
}

/// When each limit is met on each course.
fn ahead(s: &mut String, fan: &Fan) {
    let _ = writeln!(s, "\nWhat may lie ahead of the cargo:");
    for line in &fan.lines {
        let course = match line.course {
            FanCourse::Present => "on the present course".to_owned(),
            FanCourse::PowerOff => "power lost now".to_owned(),
            FanCourse::Repaired => format!("repaired after {:.1} h", fan.repair_in_h),
        };
        for l in &line.limits {
            let [low, high] = l.p90_h;
            let met = match l.hours {
                Some(h) => format!("in about {h:.1} h (90 %: {low:.1} to {high:.1} h)"),
                None if l.probability < 0.05 => "not before the end of its voyage".to_owned(),
                None => format!(
                    "hardly before the end of its voyage (probability {:.0} %)",
                    100.0 * l.probability
                ),
            };
            let _ = writeln!(s, "        {course}: {} {met}", l.text);
        }
    }
}

/// What the temperatures cost the cargo.
fn quality(s: &mut String, fan: &Fan) {
    for q in &fan.quality {
        let mark = if q.unverified { " (recalled or estimated, unverified)" } else { "" };
        let _ = writeln!(s, "        {}: {}{mark} [{}]", q.name, q.text, q.source);
    }
}

fn reading(r: &Reading) -> String {
    let t = |c| r.get(c).map_or_else(|| "-".to_owned(), |v| format!("{v:.1}"));
    let power = match r.on_power {
        Some(true) => "on",
        Some(false) => "OFF",
        None => "-",
    };
    let alarm = r.alarm.as_deref().map_or_else(String::new, |a| format!("  alarm: {a}"));
    let raw = r.raw.as_deref().map_or_else(String::new, |a| format!("  as written: {a}"));
    format!(
        "{}  {:>5}  {:>5}  {:>5}  {:>5}   {power:4}  {:8} {}{alarm}{raw}",
        r.at.to_minute(),
        t(Channel::SetPoint),
        t(Channel::Supply),
        t(Channel::Return),
        t(Channel::Ambient),
        r.mode.map_or("-", record::Mode::as_str),
        r.source
    )
}
