//! Defrosts that fail, told apart: one alone, and an iced coil or a defrost that cannot do its
//! work any more.

use record::{Finding, FindingKind, State};

use crate::defrost_signs::DefrostSigns;
use crate::forecast::Forecast;
use crate::ground::Ground;
use crate::words::when;

/// Words that stand for so long have outlasted a defrost of most units, h (common practice, no
/// source: every 3 to 24 h, most within 12 h).
const STOOD_H: f64 = 13.0;
/// Nobody need see another defrost after this, h: longer than any unit waits (as above), and a
/// round more.
const STOOD_LONG_H: f64 = 30.0;
/// Supply air this warm leaves little frost, so that the next defrost may be days away and words
/// stand for want of one, °C. Our estimate.
const LITTLE_FROST_C: f64 = 5.0;
/// Failed defrosts are present when the last is not older, h.
const PRESENT_H: f64 = 30.0;

/// How sure it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Grade {
    /// One defrost failed.
    Once,
    /// The coil is iced or the defrost cannot do its work; look at it on the next round.
    Likely,
    /// The same, told twice or from two sides: somebody has to look today.
    Clear,
}

/// The finding.
pub fn finding(g: &Ground<'_>, f: &Forecast) -> Option<Finding> {
    if g.power_lost().is_some() {
        return None;
    }
    let signs = &f.defrosts;
    let grade = grade(g, f)?;
    let since = signs.words.as_ref().map(|w| w.1).into_iter().chain(signs.failed.first().copied());
    let (what, action, state) = match grade {
        Grade::Once => (
            format!(
                "One defrost did not end as it should ({}). Alone that happens on a wet coil; \
                 the next one tells.",
                evidence(signs)
            ),
            "See whether the next defrost ends by itself, and note it. If it does not, a manual \
             defrost and a look at the coil are due."
                .to_owned(),
            State::Watch,
        ),
        Grade::Likely | Grade::Clear => (
            format!(
                "Iced coil, or defrost heater / termination sensor failing: {}.",
                evidence(signs)
            ),
            "Start a manual defrost and see whether it ends by itself and the coil comes clear; \
             then compare heater currents and the termination sensor with the maker's figures. \
             Isolate and lock off before touching heaters or fans (440 V); heaters and coil are \
             hot after a defrost: let them cool. No tools on the ice: they hole the coil."
                .to_owned(),
            if grade == Grade::Clear { State::Act } else { State::Watch },
        ),
    };
    Some(Finding { kind: FindingKind::LongDefrost, state, what, action, since: since.min() })
}

fn grade(g: &Ground<'_>, f: &Forecast) -> Option<Grade> {
    let signs = &f.defrosts;
    if signs.is_empty() {
        return None;
    }
    let recent = signs.failed.last().is_some_and(|t| g.age_h(*t) <= PRESENT_H);
    let failed = if recent { signs.failed.len() } else { 0 };
    let stood_h = signs.stood_h(g.clock.as_of);
    let less_air = f.less_air.is_some_and(|a| !a.step) || signs.little_air;
    let told = signs.words.is_some() || failed > 0;
    // Words outlast a defrost only where defrosts come.
    let air_c = g.judged.iter().rev().find_map(|j| j.supply_c).or(g.set_c());
    let frosts = air_c.is_none_or(|c| c < LITTLE_FROST_C);
    let twice = failed >= 2 || (frosts && stood_h >= STOOD_LONG_H);
    if signs.part || twice || (told && less_air) || (told && signs.often) {
        return Some(Grade::Clear);
    }
    if signs.ice || (frosts && stood_h >= STOOD_H) || signs.often {
        return Some(Grade::Likely);
    }
    (signs.words.is_some() || !signs.seen.is_empty()).then_some(Grade::Once).filter(|_| recent)
}

/// What was said and seen.
fn evidence(signs: &DefrostSigns) -> String {
    let mut parts = Vec::new();
    if signs.failed.len() >= 2 {
        parts.push(format!("{} defrosts of the last 3 days failed", signs.failed.len()));
    }
    if let Some((text, since)) = &signs.words {
        parts.push(format!("\"{text}\" written since {}", when(*since)));
    }
    if let Some(seen) = signs.seen.first() {
        parts.push(seen.clone());
    }
    if signs.often {
        parts.push("four defrosts or more within 12 h".to_owned());
    }
    if signs.little_air {
        parts.push("little air noted".to_owned());
    }
    parts.join("; ")
}
