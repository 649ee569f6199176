//! One box's line on the watch list.

use box_model::CargoTable;
use record::{BoxFacts, BoxLine, Channel, Finding, FindingKind, State};

use crate::Clock;
use crate::air::Judged;
use crate::forecast::{self, Driver, Forecast, Hours};
use crate::ground::Ground;
use crate::power;
use crate::rules;
use crate::rules::drift::SOON_H;
use crate::rules::rounds::UNREAD_H;
use crate::words::{celsius, hours, set_point, when};

/// A limit within this many hours is urgent (contract §6).
const URGENT_H: f64 = 6.0;

/// Figures that stand still for so many readings and hours are said to. Our estimate.
const STILL_READINGS: usize = 24;
const STILL_H: f64 = 24.0;

/// Assesses one box as of the clock.
#[must_use]
pub fn box_line(facts: &BoxFacts, clock: Clock, cargoes: &CargoTable) -> BoxLine {
    let g = Ground::new(facts, clock, cargoes);
    let f = forecast::of(&g);
    let findings = rules::findings(&g, &f);
    let state = state(&findings, f.hours.as_ref());
    let air = g.judged.last();
    let listed = g.listed;
    let cargo = f.cargo.filter(|_| g.carries());
    let round = |t: f64| units::math::round_to(t, 2);
    BoxLine {
        unit: facts.unit.clone(),
        stow: listed.and_then(|l| l.stow.clone()),
        cell: listed.and_then(|l| l.cell),
        size_type: listed.and_then(|l| l.size_type.clone()),
        cargo: g.cargo.label(),
        discharge_port: listed.and_then(|l| l.discharge_port.clone()),
        full: listed.and_then(|l| l.full),
        state,
        reason: reason(&g, &f, &findings),
        hours_to_limit: f.hours.as_ref().map(|h| round(h.best)),
        hours_to_limit_p90: f.hours.as_ref().map(|h| h.p90.map(round)),
        limit: limit_text(&g, &f),
        action: findings
            .first()
            .map_or_else(|| "Nothing beyond the rounds.".to_owned(), |f| f.action.clone()),
        findings,
        set_point_c: g.set_c(),
        supply_c: air.and_then(|_| last_of(&g, |j| j.supply_c)),
        return_c: air.and_then(|_| last_of(&g, |j| j.return_c)),
        cargo_c: cargo.map(|c| round(c.temp_c)),
        cargo_c_p90: cargo.map(|c| [round(c.temp_c - c.half_k), round(c.temp_c + c.half_k)]),
        on_power: g.rows.iter().rev().find_map(|r| power::says(r)),
        last_read_at: g.last_read_at(),
    }
}

fn last_of(g: &Ground<'_>, get: impl Fn(&Judged) -> Option<f64>) -> Option<f64> {
    g.judged.iter().rev().find_map(get)
}

fn state(findings: &[Finding], due: Option<&Hours>) -> State {
    let found = findings.iter().map(|f| f.state).max().unwrap_or(State::Ok);
    // Judged on the figure that is shown.
    let by_time = match due.map(|h| units::math::round_to(h.best, 2)) {
        Some(h) if h <= URGENT_H => State::Urgent,
        Some(h) if h <= SOON_H => State::Act,
        Some(_) => State::Watch,
        None => State::Ok,
    };
    found.max(by_time)
}

fn limit_text(g: &Ground<'_>, f: &Forecast) -> Option<String> {
    if !g.carries() {
        return None;
    }
    let due = f.hours.as_ref().map(|h| &h.limit);
    due.or(g.limits.warm.as_ref()).map(|l| l.text.clone())
}

/// One sentence: the most urgent finding and when the limit comes; for a box that is fine, what
/// was seen.
fn reason(g: &Ground<'_>, f: &Forecast, findings: &[Finding]) -> String {
    let mut out = match findings.first() {
        Some(first) => first.what.clone(),
        None => seen(g),
    };
    // What was seen long ago is not told as if it stood there now.
    let missed = findings.first().is_none_or(|f| f.kind == FindingKind::MissedRound);
    if let Some(last) = g.last_read_at().filter(|t| !missed && g.age_h(*t) > UNREAD_H) {
        out.push_str(&format!(" Nothing read since {}.", when(last)));
    }
    if let Some(h) = &f.hours {
        if h.best > 0.0 {
            out.push_str(&format!(
                " Limit {} in about {} (90 %: {} to {}).",
                celsius(h.limit.temp_c),
                hours(h.best),
                hours(h.p90[0]),
                hours(h.p90[1])
            ));
        } else {
            out.push_str(&format!(
                " The cargo is taken to be at its limit {} already.",
                celsius(h.limit.temp_c)
            ));
        }
        if h.course == Driver::NoPower && !g.ambient_measured {
            out.push_str(" Ambient was not measured.");
        } else if let Some(lack) = f.lacks.first().filter(|_| h.best > 0.0) {
            out.push_str(&format!(" Less sure than it could be: {lack}."));
        }
    }
    out
}

/// Air that has not moved by a tenth for a day and more, reading after reading: whatever reads it
/// may repeat an old figure. A display in whole degrees may well stand still.
fn still(g: &Ground<'_>) -> String {
    let Some(last) = g.judged.last() else { return String::new() };
    let figures = |j: &Judged| (j.supply_c, j.return_c, j.ambient_c, j.power_kw);
    let tenths = [last.supply_c, last.return_c].into_iter().flatten().any(|c| c.fract() != 0.0);
    let same = g.judged.iter().rev().take_while(|j| figures(j) == figures(last));
    let (n, since) = same.fold((0, last.at), |(n, _), j| (n + 1, j.at));
    if !tenths || n < STILL_READINGS || last.at.hours_since(since) < STILL_H {
        return String::new();
    }
    format!(
        " The same figures on every reading since {}: see that what reads them is alive.",
        when(since)
    )
}

fn seen(g: &Ground<'_>) -> String {
    if !g.carries() {
        return "Listed as empty; not judged.".to_owned();
    }
    let mut parts = Vec::new();
    if let Some(s) = last_of(g, |j| j.supply_c) {
        parts.push(format!("supply {}", celsius(s)));
    }
    if let Some(r) = last_of(g, |j| j.return_c) {
        parts.push(format!("return {}", celsius(r)));
    }
    if let Some((_, p)) = crate::ground::latest(&g.rows, crate::fitted::probes_c) {
        parts.push(format!("probes {}", celsius(p)));
    }
    if let Some(s) = g.set_c() {
        parts.push(format!("set point {}", set_point(s)));
    }
    // Air is shown with the time it was judged at, not with that of a later row.
    let judged = g.judged.last().map(|j| j.at);
    let read = judged.or(g.last_read_at()).map(when);
    match (parts.is_empty(), read) {
        (false, Some(at)) => {
            let air =
                g.judged.is_empty() && g.rows.iter().any(|r| r.get(Channel::Supply).is_some());
            let note = if air { " (air not judged: defrost or the hour after)" } else { "" };
            let lacks = if g.judged.is_empty() && !air { "; no air is read" } else { note };
            let mut text = parts.join(", ");
            if let Some(first) = text.get_mut(..1) {
                first.make_ascii_uppercase();
            }
            format!("{text}; read {at}{lacks}.{}", still(g))
        }
        (true, Some(at)) => format!("Read {at}; no temperature was noted."),
        (_, None) => "Nothing read, nothing ordered.".to_owned(),
    }
}
