//! Return air much warmer than supply for long in a chilled box: cargo loaded warm, weak air or
//! ice on the coil, or nobody can tell.

use record::{Finding, FindingKind, State};
use units::Utc;

use crate::air::Judged;
use crate::airflow::LessAir;
use crate::forecast::Forecast;
use crate::ground::{Control, Ground};
use crate::trend;
use crate::words::{celsius, when};

/// Normal is 0.5 to 3 K (GDV Container Handbook §8.4.2).
const WIDE_K: f64 = 3.0;
/// A smaller one is told when return falls day by day: cargo loaded warm. Our estimate.
const WARM_CARGO_K: f64 = 1.5;
/// A smaller one still where the model says that the cargo lies so far over its air. Our estimate.
const MODEL_SPREAD_K: f64 = 1.0;
const MODEL_OVER_AIR_K: f64 = 1.35;
/// Supply this near the set point is good.
const SUPPLY_GOOD_K: f64 = 1.0;
/// Frozen boxes: the spread has grown over days by this factor, beyond doubt. Our estimate.
const FROZEN_CLEAR: f64 = 1.22;
/// As many readings in a row at least.
const READINGS: usize = 3;

/// Why the spread is wide.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Cause {
    /// Supply good, return falling: warm cargo coming down.
    WarmCargo,
    /// The spread grows: air gets less.
    WeakAir,
    /// Not to be told yet.
    Open,
}

/// Readings with a wide spread up to the latest, and since when.
fn run<'g>(g: &'g Ground<'_>, wide_k: f64) -> Option<(Utc, &'g Judged)> {
    if g.control != Some(Control::Chilled) || g.power_lost().is_some() {
        return None;
    }
    let air = trend::present(g);
    let last = air.last()?;
    let wide = |j: &&Judged| j.spread_k().is_some_and(|k| k > wide_k);
    let run = air.iter().rev().take_while(wide);
    let (n, first) = run.fold((0, last), |(n, _), j| (n + 1, j));
    (n >= READINGS && last.at.hours_since(first.at) >= 2.0).then_some((first.at, last))
}

fn cause(g: &Ground<'_>) -> Cause {
    if g.judged.len() < READINGS {
        return Cause::Open;
    }
    let return_c = trend::drift_of(g, |j| j.return_c);
    let spread = trend::drift_of(g, Judged::spread_k);
    let rate =
        |d: Option<trend::Drift>| d.filter(|d| d.significant).map_or(0.0, |d| d.slope_k_per_h.best);
    let supply_good = trend::present(g).last().is_some_and(|j| {
        matches!((j.supply_c, j.set_c), (Some(s), Some(set)) if (s - set).abs() <= SUPPLY_GOOD_K)
    });
    if supply_good && rate(return_c) < 0.0 {
        Cause::WarmCargo
    } else if rate(spread) > 0.0 {
        Cause::WeakAir
    } else {
        Cause::Open
    }
}

/// Supply is good and the model holds the cargo to be well over its air: more than its own breath
/// explains.
fn warm_by_model(g: &Ground<'_>, f: &Forecast) -> bool {
    let (Some(cargo), Some(air_c)) = (f.cargo, trend::air_now(g)) else { return false };
    let supply_good = trend::present(g).last().is_some_and(|j| {
        matches!((j.supply_c, j.set_c), (Some(s), Some(set)) if (s - set).abs() <= SUPPLY_GOOD_K)
    });
    supply_good && cargo.temp_c - 0.6 * cargo.half_k > air_c + MODEL_OVER_AIR_K
}

/// Wide for long, and not because warm cargo is coming down.
pub fn is_worrying(g: &Ground<'_>) -> bool {
    run(g, WIDE_K).is_some() && cause(g) != Cause::WarmCargo
}

/// Less air than days ago, named by how it came.
fn less_air(a: LessAir, frozen: bool) -> Finding {
    let (why, action) = if a.step {
        (
            "it came within hours: a fan stands or turns slowly",
            "See whether all evaporator fans turn and what they draw. Keep hands out of the fans; \
             isolate and lock off before opening (440 V).",
        )
    } else {
        (
            "it grew over days: ice on the coil, or weak fans",
            "Start a manual defrost, then see whether all fans turn and the spread closes. Keep \
             hands out of the fans; isolate and lock off before opening (440 V).",
        )
    };
    let seen = if frozen {
        format!("{:.0} % more than days ago", a.now_k - a.was_k)
    } else {
        format!("{:.1} K now and {:.1} K days ago for the same ambient", a.now_k, a.was_k)
    };
    // Frozen air swings with the compressor: a little growth alone is worth a look, not a walk.
    let little = frozen && !a.step && a.now_k < FROZEN_CLEAR * a.was_k;
    Finding {
        kind: FindingKind::WideSpread,
        state: if little { State::Watch } else { State::Act },
        what: format!("Less air through the box: return over supply is {seen}; {why}."),
        action: action.to_owned(),
        since: Some(a.since),
    }
}

/// The finding.
pub fn finding(g: &Ground<'_>, f: &Forecast) -> Option<Finding> {
    if let Some(a) = f.less_air {
        return Some(less_air(a, g.control == Some(Control::Frozen)));
    }
    let by_model = warm_by_model(g, f);
    let cause = if by_model { Cause::WarmCargo } else { cause(g) };
    let warm_cargo = cause == Cause::WarmCargo;
    let some = || run(g, WARM_CARGO_K).filter(|_| warm_cargo);
    let little = || run(g, MODEL_SPREAD_K).filter(|_| by_model);
    let (since, last) = run(g, WIDE_K).or_else(some).or_else(little)?;
    let (supply, back) = (last.supply_c?, last.return_c?);
    let why = match cause {
        Cause::WarmCargo => "supply is good and the cargo gives heat: cargo was loaded warm",
        Cause::WeakAir => "the spread grows: weak air or ice on the coil",
        Cause::Open => "warm cargo, weak air or an iced coil; the readings do not tell which",
    };
    let action = match cause {
        Cause::WarmCargo => {
            "Leave the set point; note the temperatures and report cargo loaded warm. Return \
             should fall day by day."
        }
        Cause::WeakAir => {
            "Start a manual defrost, then see whether all fans turn and the spread closes. Keep \
             hands out of the fans; isolate and lock off before opening (440 V)."
        }
        Cause::Open => {
            "Feel the air flow at the return grille, see that all fans turn; compare \
                        the spread after the next defrost."
        }
    };
    Some(Finding {
        kind: FindingKind::WideSpread,
        state: if cause == Cause::WeakAir { State::Act } else { State::Watch },
        what: format!(
            "Return air {} is {:.1} K over supply air {} since {}: {why}.",
            celsius(back),
            back - supply,
            celsius(supply),
            when(since)
        ),
        action: action.to_owned(),
        since: Some(since),
    })
}
