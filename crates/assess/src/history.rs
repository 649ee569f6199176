//! One box's past, ready to be drawn.

use box_model::CargoTable;
use record::{BoxFacts, BoxHistory, BoxLine, Channel, Reading, Span, Trace};
use units::Utc;

use crate::air;
use crate::power;

/// A silence longer than this many usual intervals is a gap.
const GAP_FACTOR: f64 = 2.5;
/// Shorter silences are never a gap, h.
const GAP_LEAST_H: f64 = 1.0;

/// Traces, limits, defrosts, power losses, gaps and alarms within `span`. `line` is the box's
/// line as of the end of it: the limits shown are those it was judged by.
#[must_use]
pub fn history(facts: &BoxFacts, line: &BoxLine, span: Span, cargoes: &CargoTable) -> BoxHistory {
    let mut rows: Vec<&Reading> = facts.readings.iter().collect();
    rows.sort_by_key(|r| r.at);
    let spells = power::spells(&rows);
    let inside: Vec<&Reading> =
        rows.iter().copied().filter(|r| r.at >= span.from && r.at <= span.to).collect();
    let gap_h = gap_h(&inside);
    let power_off = spells
        .iter()
        .map(|s| (s.from, s.back.unwrap_or(span.to)))
        .filter_map(|(a, b)| clipped(a, b, span))
        .collect();
    let defrosts =
        air::defrosts(&rows).into_iter().filter_map(|(a, b)| clipped(a, b, span)).collect();
    BoxHistory {
        unit: facts.unit.clone(),
        span,
        traces: Channel::ALL.into_iter().filter_map(|c| trace(&inside, c, gap_h)).collect(),
        ordered_c: facts.listed.as_ref().and_then(|l| l.set_point_c),
        limits_c: limit_lines(facts, line, cargoes),
        defrosts,
        power_off,
        gaps: gaps(&inside, gap_h),
        alarms: alarms(&inside),
    }
}

fn clipped(from: Utc, to: Utc, span: Span) -> Option<Span> {
    let (from, to) = (from.max(span.from), to.min(span.to));
    (from <= to).then_some(Span { from, to })
}

/// The usual interval between readings times a factor; infinite for fewer than three readings.
fn gap_h(rows: &[&Reading]) -> f64 {
    let mut steps: Vec<f64> = rows
        .windows(2)
        .filter_map(|pair| match pair {
            [a, b] => Some(b.at.hours_since(a.at)).filter(|h| *h > 0.0),
            _ => None,
        })
        .collect();
    if steps.len() < 2 {
        return f64::INFINITY;
    }
    crate::robust::median(&mut steps).map_or(f64::INFINITY, |m| (GAP_FACTOR * m).max(GAP_LEAST_H))
}

/// One channel in pieces. Fault codes are left out: they are no temperature.
fn trace(rows: &[&Reading], channel: Channel, gap_h: f64) -> Option<Trace> {
    let mut pieces: Vec<Vec<(Utc, f64)>> = Vec::new();
    let value = |r: &Reading| {
        if channel.is_temperature() { r.sane_c(channel) } else { r.get(channel) }
    };
    for r in rows {
        let Some(v) = value(r) else { continue };
        match pieces.last_mut() {
            Some(piece) if piece.last().is_some_and(|(t, _)| r.at.hours_since(*t) <= gap_h) => {
                piece.push((r.at, v));
            }
            _ => pieces.push(vec![(r.at, v)]),
        }
    }
    (!pieces.is_empty()).then_some(Trace { channel, pieces })
}

fn gaps(rows: &[&Reading], gap_h: f64) -> Vec<Span> {
    rows.windows(2)
        .filter_map(|pair| match pair {
            [a, b] if b.at.hours_since(a.at) > gap_h => Some(Span { from: a.at, to: b.at }),
            _ => None,
        })
        .collect()
}

/// Alarms, each when it was first seen and again when it came back.
fn alarms(rows: &[&Reading]) -> Vec<(Utc, String)> {
    let mut out = Vec::new();
    let mut shown: Option<&str> = None;
    for r in rows.iter().filter(|r| r.has_observation()) {
        let now = r.alarm.as_deref().map(str::trim).filter(|a| !a.is_empty());
        if let Some(alarm) = now.filter(|_| now != shown) {
            out.push((r.at, alarm.to_owned()));
        }
        shown = now;
    }
    out
}

fn limit_lines(facts: &BoxFacts, line: &BoxLine, cargoes: &CargoTable) -> Vec<(f64, String)> {
    let listed = facts.listed.as_ref();
    if listed.is_some_and(|l| l.full == Some(false) && l.set_point_c.is_none()) {
        return Vec::new();
    }
    let remarks = listed.map_or(&[][..], |l| &l.remarks);
    let cargo = cargoes.recognition(remarks).narrowed(line.set_point_c);
    let range_c = listed.and_then(|l| l.range_c);
    let limits = box_model::limits(&cargo, line.set_point_c, range_c);
    [limits.warm, limits.cold, limits.freezing, limits.chilling]
        .into_iter()
        .flatten()
        .map(|l| (l.temp_c, l.text))
        .collect()
}
