//! Supply air too cold for the cargo: freezing, chilling, drying that freezes.

use box_model::Cargo;
use record::{Channel, Finding, FindingKind, State};

use crate::air::Judged;
use crate::ground::{Control, Ground, latest};
use crate::words::{celsius, when};

/// A chilling dose from here on needs somebody today, K·h. Our estimate.
const DOSE_K_H: f64 = 24.0;
/// So does this long below the limit, h. Our estimate.
const LONG_H: f64 = 24.0;
/// Below a limit for this long is no hunting of the control any more.
const SUSTAINED_H: f64 = 1.0;
/// A lone reading of a round counts when it is this far below.
const CLEAR_K: f64 = 1.0;
/// Readings at least this far apart are rounds.
const ROUND_GAP_H: f64 = 3.0;
/// A humidity set point below this dries living, wet cargo until it freezes, when set this cold
/// (a study of cut flowers; thresholds our estimate).
const DRY_PCT: f64 = 80.0;
const DRY_SET_C: f64 = 2.0;

/// All findings on the cold side.
pub fn findings(g: &Ground<'_>) -> Vec<Finding> {
    let mut out: Vec<Finding> = drying(g).into_iter().collect();
    if g.control == Some(Control::Frozen) || g.power_lost().is_some() {
        return out;
    }
    let freezing = freezing(g);
    if freezing.is_none() {
        out.extend(chilling(g));
    }
    out.extend(freezing);
    out
}

/// Judged readings below a limit up to the latest, oldest first.
fn below<'g>(g: &'g Ground<'_>, limit_c: f64) -> &'g [Judged] {
    let air = g.judged.as_slice();
    let cold = |j: &&Judged| j.coldest_c().is_none_or(|s| s < limit_c);
    let n = air.iter().rev().take_while(cold).count();
    let run = air.get(air.len() - n..).unwrap_or(&[]);
    let first = run.iter().position(|j| j.coldest_c().is_some());
    first.and_then(|i| run.get(i..)).unwrap_or(&[])
}

/// Supply air near freezing for so long that the cargo follows.
pub fn is_freezing(g: &Ground<'_>) -> bool {
    freezing(g).is_some_and(|f| f.state >= State::Act)
}

fn freezing(g: &Ground<'_>) -> Option<Finding> {
    let limit = g.limits.freezing.as_ref()?;
    let run = below(g, limit.temp_c);
    let (first, last) = (run.first()?, run.last()?);
    let supply_c = last.coldest_c()?;
    let sustained = last.at.hours_since(first.at) >= SUSTAINED_H;
    let clear = limit.temp_c - supply_c >= CLEAR_K && is_round(g, run.len());
    if !sustained && !clear {
        return None;
    }
    let once = if sustained { "" } else { "; one reading: read it again" };
    Some(Finding {
        kind: FindingKind::FreezingRisk,
        state: if sustained { State::Act } else { State::Watch },
        what: format!(
            "Supply air {} is below {} since {}{once}.",
            celsius(supply_c),
            limit.text,
            when(first.at)
        ),
        action: "Measure the supply air by hand at once; if it is that cold, tell the office and \
                 raise the set point only on their order. Look at pulp near the supply end."
            .to_owned(),
        since: Some(first.at),
    })
}

/// The latest `n` readings stand alone, as those of a round do; a logger's lone cold reading is
/// the unit catching up after a defrost.
fn is_round(g: &Ground<'_>, n: usize) -> bool {
    let first = g.judged.len().checked_sub(n).and_then(|i| g.judged.get(i));
    let before = g.judged.len().checked_sub(n + 1).and_then(|i| g.judged.get(i));
    match (before, first) {
        (Some(b), Some(f)) => f.at.hours_since(b.at) >= ROUND_GAP_H,
        _ => true,
    }
}

fn chilling(g: &Ground<'_>) -> Option<Finding> {
    let limit = g.limits.chilling.as_ref()?;
    let run = below(g, limit.temp_c);
    let (first, last) = (run.first()?, run.last()?);
    let hours = last.at.hours_since(first.at);
    if hours < SUSTAINED_H && !is_round(g, run.len()) {
        return None;
    }
    let dose_k_h: f64 = run
        .windows(2)
        .map(|pair| match pair {
            [a, b] => {
                let under = |j: &Judged| j.coldest_c().map_or(0.0, |s| (limit.temp_c - s).max(0.0));
                0.5 * (under(a) + under(b)) * b.at.hours_since(a.at)
            }
            _ => 0.0,
        })
        .sum();
    let serious = hours > LONG_H || dose_k_h >= DOSE_K_H;
    Some(Finding {
        kind: FindingKind::ChillingRisk,
        state: if serious { State::Act } else { State::Watch },
        what: format!(
            "Supply air {} is below {} since {}: {dose_k_h:.0} K·h so far.",
            celsius(last.coldest_c()?),
            limit.text,
            when(first.at)
        ),
        action: "Measure the supply air by hand; tell the office. Chilling harm shows only after \
                 the fruit is warm again, so log the hours."
            .to_owned(),
        since: Some(first.at),
    })
}

fn drying(g: &Ground<'_>) -> Option<Finding> {
    let wet = |c: &Cargo| c.respires && c.dehumidify == "off";
    let all_wet = !g.cargo.is_unknown() && g.cargo.candidates.iter().all(|c| wet(c));
    let set = g.set_c().filter(|s| *s <= DRY_SET_C && all_wet)?;
    let shown = latest(&g.rows, |r| r.get(Channel::RhSet)).map(|(_, v)| v);
    let rh = shown.or_else(|| g.listed.and_then(|l| l.humidity_pct))?;
    (rh > 0.0 && rh < DRY_PCT).then(|| Finding {
        kind: FindingKind::FreezingRisk,
        state: State::Watch,
        what: format!(
            "Humidity is set to {rh:.0} % at {}: drying can freeze wet, living cargo ({}).",
            celsius(set),
            g.cargo_name()
        ),
        action: "Ask the planner to confirm the humidity order; wet produce is usually carried \
                 without one."
            .to_owned(),
        since: None,
    })
}
