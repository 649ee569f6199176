//! The first page: who it is, what happened, and the chart.

use figures::Look;
use record::dossier::{Dossier, Incident};

use super::words::{celsius, count, maybe, minus, minute, plain, text, utc};
use crate::sheet::{Sheet, Table};

/// Stories told on the first page; the others stand in their own part.
const TOLD: usize = 3;
/// Lines of one story there.
const LINES: usize = 4;

pub(super) fn write(d: &Dossier, s: &mut Sheet<'_>) {
    s.title("Hand-over dossier", d.unit.as_str());
    identity(d, s);
    s.heading("What the record shows");
    s.paragraph(&summary(d));
    stories(d, s);
    if let Some(svg) = figures::history_chart(&d.history, Look::Paper) {
        s.figure(&svg, "Gaps in a line: nothing was read. Times are UTC.");
    }
}

fn identity(d: &Dossier, s: &mut Sheet<'_>) {
    let l = d.listed.as_ref();
    let check = match (d.unit.has_iso_form(), d.unit.check_digit_ok()) {
        (true, true) => "check digit right".to_owned(),
        (true, false) => match d.unit.expected_check_digit() {
            Some(want) => format!("check digit WRONG: {want} expected"),
            None => "check digit WRONG".to_owned(),
        },
        (false, _) => "not in the form of ISO 6346".to_owned(),
    };
    let ordered = match (l.and_then(|l| l.set_point_c), l) {
        (Some(c), _) => celsius(Some(c)),
        (None, Some(l)) => text(l.set_point_as_sent.as_deref()),
        (None, None) => String::new(),
    };
    let air = l
        .and_then(|l| l.vent_m3_h)
        .map(|v| if v == 0.0 { "closed".to_owned() } else { format!("{v} m³/h") });
    let full = match l.and_then(|l| l.full) {
        Some(true) => "full",
        Some(false) => "empty",
        None => "",
    };
    let size = [text(l.and_then(|l| l.size_type.as_deref())), full.to_owned()];
    let port = l.and_then(|l| l.discharge_port.as_deref());
    let port = match d.eta {
        Some(eta) => format!("{} (expected {})", text(port), utc(eta)),
        None => text(port),
    };
    s.facts(&[
        ("container", format!("{}, {check}", d.unit)),
        (
            "size-type",
            size.iter().filter(|t| !t.is_empty()).cloned().collect::<Vec<_>>().join(", "),
        ),
        ("ship, voyage", d.ship_line()),
        ("cargo", text(d.line.cargo.as_deref())),
        ("loaded at", text(l.and_then(|l| l.load_port.as_deref()))),
        ("discharge port", port),
        ("set point ordered", ordered),
        ("cell", text(l.and_then(|l| l.stow.as_deref()))),
        ("fresh air ordered", air.unwrap_or_default()),
        (
            "humidity ordered",
            l.and_then(|l| l.humidity_pct).map(|h| format!("{h} %")).unwrap_or_default(),
        ),
        ("record from", maybe(d.readings.first().map(|r| r.reading.at))),
        ("record to", maybe(d.readings.last().map(|r| r.reading.at))),
    ]);
}

fn summary(d: &Dossier) -> String {
    if d.readings.is_empty() {
        return "Nothing was read from this container.".to_owned();
    }
    let mut sources: Vec<(&str, usize)> = Vec::new();
    for r in &d.readings {
        let name: &str = &r.reading.source;
        match sources.iter_mut().find(|s| s.0 == name) {
            Some(s) => s.1 += 1,
            None => sources.push((name, 1)),
        }
    }
    sources.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(b.0)));
    let named: Vec<String> = sources
        .iter()
        .take(6)
        .map(|(name, n)| format!("{} {n}", if name.is_empty() { "source not said" } else { name }))
        .collect();
    let more = sources.len().saturating_sub(6);
    let more = if more > 0 { format!(" and {more} more sources") } else { String::new() };
    let acts = d.log.iter().filter(|l| l.act.is_some()).count();
    format!(
        "{} ({}{more}). Spells over 12 h without a reading: {}. Alarms: {}. Spells without power: \
         {}. Acts entered by persons: {}.{}",
        count(d.readings.len(), "reading"),
        named.join(", "),
        none(d.gaps.iter().filter(|g| g.long).count()),
        none(d.alarms.len()),
        none(d.power_off.len()),
        none(acts),
        d.treatment
            .as_ref()
            .map(|t| format!(" Cold treatment {}: {}.", t.schedule_id, t.standing.words()))
            .unwrap_or_default()
    )
}

fn none(n: usize) -> String {
    if n == 0 { "none".to_owned() } else { n.to_string() }
}

/// True when the first page tells every incident in full.
pub(super) fn tells_all(d: &Dossier) -> bool {
    let short =
        |i: &Incident| i.what.len() <= LINES && i.noticed.len() <= LINES && i.done.len() <= LINES;
    d.incidents.len() <= TOLD && d.incidents.iter().all(short)
}

fn stories(d: &Dossier, s: &mut Sheet<'_>) {
    if d.incidents.is_empty() {
        if !d.readings.is_empty() {
            s.paragraph(
                "In these readings: no alarm, none without power, no air off the set point for \
                 two hours or more, no display that showed another set point than the list. What \
                 lies between two readings is not in the record.",
            );
        }
        return;
    }
    let mut by_weight: Vec<usize> = (0..d.incidents.len()).collect();
    let weight = |i: &usize| d.incidents.get(*i).map_or(0, |x| x.weight);
    by_weight.sort_by_key(|i| std::cmp::Reverse(weight(i)));
    by_weight.truncate(TOLD);
    by_weight.sort_unstable();
    for i in by_weight {
        if let Some(incident) = d.incidents.get(i) {
            one(i + 1, incident, LINES, s);
        }
    }
    let left = d.incidents.len().saturating_sub(TOLD);
    if left > 0 {
        s.paragraph(&format!(
            "These are the gravest of {}; all of them stand under \"Incidents\".",
            count(d.incidents.len(), "incident")
        ));
    }
}

/// One story: what, noticed, done, temperatures; no more than `lines` sentences of each.
pub(super) fn one(number: usize, i: &Incident, lines: usize, s: &mut Sheet<'_>) {
    let end = if i.open { "the end of the record".to_owned() } else { utc(i.to) };
    s.need(70.0);
    s.strong(&format!("{number}. {} to {end}", utc(i.from)));
    let some = |all: &[String]| {
        let left = all.len().saturating_sub(lines);
        let mut words = all.iter().take(lines).cloned().collect::<Vec<_>>().join(" ");
        if left > 0 {
            words.push_str(&format!(" And {left} more."));
        }
        minus(&words)
    };
    s.indented(&format!("What: {}", some(&i.what)));
    s.indented(&format!("Noticed: {}", some(&i.noticed)));
    let done: Vec<String> =
        i.done.iter().map(|d| format!("{} {}: {}.", utc(d.at), d.who, d.what)).collect();
    if done.is_empty() {
        s.indented("Done: nothing is entered about it.");
    } else {
        s.indented(&format!("Done: {}", some(&done)));
    }
    effects(i, s);
    s.space(4.0);
}

/// What the temperatures did, as figures.
fn effects(i: &Incident, s: &mut Sheet<'_>) {
    let heads =
        ["temperatures °C", ">before", "at", ">warmest", "at", ">coldest", "at", ">last", "at"];
    let mut t = Table::new(&heads).dense().indented(12.0);
    for e in &i.effect {
        let before = e.before.map(|(at, c)| (plain(c), minute(at))).unwrap_or_default();
        let mut row = vec![e.name.clone(), before.0, before.1];
        for (at, c) in [e.warmest, e.coldest, e.last] {
            row.push(plain(c));
            row.push(minute(at));
        }
        t.row(row);
    }
    if i.cargo_not_measured {
        t.row(vec!["inside the cargo: not measured".to_owned()]);
    }
    s.table(&t, "Temperatures: none was read.");
}
