//! A defrost that does not end, or follows the last one at once.

use record::{Finding, FindingKind, Mode, State};

use crate::ground::{Ground, within};
use crate::words::when;

/// A defrost and the hour after take less than this (20 to 60 min and 1 h; common practice, no
/// source).
const LONGEST_H: f64 = 3.5;

/// Between readings further apart than this another defrost may have begun, h: units defrost every
/// 3 to 24 h (common practice, no source).
const ANOTHER_H: f64 = 3.0;

/// So many readings in a row without air that may be judged.
const READINGS_MIN: usize = 3;

/// The finding, when readings come and none of their air may be judged for long.
pub fn finding(g: &Ground<'_>) -> Option<Finding> {
    if g.power_lost().is_some() {
        return None;
    }
    let judged = g.judged.last().map(|j| j.at);
    let masked: Vec<_> =
        g.rows.iter().copied().filter(|r| judged.is_none_or(|t| r.at > t)).collect();
    let (first, last) = (masked.first()?, masked.last()?);
    let defrosts = masked.iter().any(|r| r.mode == Some(Mode::Defrost));
    let span_h = last.at.hours_since(first.at);
    let long = defrosts && masked.len() >= READINGS_MIN && span_h >= LONGEST_H;
    let (state, end) = if within(&masked, ANOTHER_H) {
        (State::Act, "No defrost takes that long.")
    } else {
        (State::Watch, "It may be a new one each time: read it again between two defrosts.")
    };
    long.then(|| Finding {
        kind: FindingKind::LongDefrost,
        state,
        what: format!(
            "In defrost, or within the hour after one, since {}: for {span_h:.0} h no air could be \
             judged. {end}",
            when(first.at)
        ),
        action: "Read the display and see whether the defrost ends; if it does not, a heater or \
                 its control may be stuck. Isolate and lock off before opening (440 V)."
            .to_owned(),
        since: Some(first.at),
    })
}
