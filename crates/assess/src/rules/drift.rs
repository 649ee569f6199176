//! Air on its way away from where it was held.

use record::{Finding, FindingKind, State};

use crate::forecast::{Driver, Forecast, Over};
use crate::ground::Ground;
use crate::words::when;

/// A limit within this many hours needs somebody today.
pub const SOON_H: f64 = 72.0;

/// The finding, when the air drifts away from the set point.
pub fn finding(g: &Ground<'_>, f: &Forecast) -> Option<Finding> {
    let drift = f.drift.filter(|d| d.leads_away(g))?;
    let once = f.off.is_some_and(|o| o.readings == 1);
    if once || g.power_lost().is_some() || f.over == Some(Over::ComingDown) {
        return None;
    }
    let slope = drift.slope_k_per_h.best;
    let due = f.hours.as_ref().filter(|h| h.course == Driver::Drift);
    let state = match due {
        Some(h) if h.best <= SOON_H => State::Act,
        _ => State::Watch,
    };
    let alone = g.judged.is_empty();
    let (what, way) = match (alone, slope > 0.0) {
        (false, true) => ("The air", "warms"),
        (false, false) => ("The air", "cools"),
        (true, true) => ("No air is read, and by its probes the cargo", "warms"),
        (true, false) => ("No air is read, and by its probes the cargo", "cools"),
    };
    Some(Finding {
        kind: FindingKind::Drift,
        state,
        what: format!(
            "{what} {way} by {:.2} K/h (90 %: {:.2} to {:.2}), seen over {:.0} h since {}.",
            slope.abs(),
            drift.slope_k_per_h.low.abs().min(drift.slope_k_per_h.high.abs()),
            drift.slope_k_per_h.low.abs().max(drift.slope_k_per_h.high.abs()),
            drift.span_h,
            when(drift.since)
        ),
        action: "Read it again in a few hours; look at air flow, frost on the coil, door seals \
                 and drains, and whether the compressor runs all the time."
            .to_owned(),
        since: Some(drift.since),
    })
}
