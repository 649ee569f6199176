//! Less air through the box than days ago: return over supply has grown for the same load.

use units::Utc;

use crate::air::Judged;
use crate::ground::{Control, Ground};
use crate::robust;
use crate::strength;

/// "Now" is the middle of so many hours.
const NOW_H: f64 = 8.0;
/// Days ago: the calmest day among those before the last hours.
const DAY_H: f64 = 24.0;
/// Fewer readings in either are too few.
const READINGS: usize = 5;
/// Grown by this factor and by this much, for the same ambient: in a step, and over days. Our
/// estimate.
const STEP_GROWN: f64 = 1.45;
const STEP_K: f64 = 0.55;
const SLOW_GROWN: f64 = 1.35;
const SLOW_K: f64 = 0.5;
/// A kelvin between ambient and box makes this much spread: 40 W/K on 1700 W/K.
const PER_AMBIENT_K: f64 = 0.024;
/// A fan that stops takes so much power with it, kW and as a share, and the spread grows by so
/// much. Our estimate.
const FAN_KW: f64 = 0.2;
const FAN_SHARE: f64 = 0.06;
const FAN_LIFT_K: f64 = 0.22;
const FAN_GROWN: f64 = 1.15;
/// A step is looked for in so many of the last readings: a fan stands. Ice takes days.
const STEP_LOOK: usize = 260;
/// Supply must be held, else the spread says something else.
const SUPPLY_HELD_K: f64 = 1.0;
/// Frozen: the spread of the running compressor has grown by this, as a logarithm.
const FROZEN_GROWN_LN: f64 = 0.15;
const FROZEN_SCORE: f64 = 4.0;

/// Less air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LessAir {
    /// Since when it grew.
    pub since: Utc,
    /// Spread of days ago, for today's ambient, K.
    pub was_k: f64,
    /// Spread now, K.
    pub now_k: f64,
    /// It came within hours: a fan rather than ice.
    pub step: bool,
}

/// Told from the spread.
pub fn of(g: &Ground<'_>) -> Option<LessAir> {
    if g.power_lost().is_some() || g.trust.doubts_held_air() {
        return None;
    }
    match g.control? {
        Control::Chilled => chilled(g),
        Control::Frozen => frozen(g),
    }
}

fn frozen(g: &Ground<'_>) -> Option<LessAir> {
    let t = strength::less_air(g)?;
    let grown = t.change >= FROZEN_GROWN_LN && t.score >= FROZEN_SCORE;
    let last = g.long_judged.last()?;
    grown.then(|| LessAir {
        since: last.at.plus_hours(-2.0 * DAY_H),
        was_k: 100.0,
        now_k: 100.0 * units::math::exp(t.change),
        step: false,
    })
}

fn chilled(g: &Ground<'_>) -> Option<LessAir> {
    let air = strength::same_order(g);
    let last = air.last()?;
    let mut points: Vec<(Utc, f64)> = Vec::with_capacity(air.len());
    let mut ambient = None;
    for j in air {
        ambient = j.ambient_c.or(ambient);
        let (Some(spread), Some(back)) = (j.spread_k(), j.return_c) else { continue };
        let gap = ambient.map_or(0.0, |a| a - back);
        points.push((j.at, spread - PER_AMBIENT_K * gap));
    }
    let held = |j: &Judged| match (j.supply_c, j.set_c) {
        (Some(s), Some(c)) => (s - c).abs() <= SUPPLY_HELD_K,
        _ => false,
    };
    if !air.iter().rev().take(READINGS).all(held) {
        return None;
    }
    let first = points.first()?.0;
    let settled = points.partition_point(|(t, _)| t.hours_since(first) < DAY_H);
    let points = points.get(settled..)?;
    let lately = |hours: f64| points.partition_point(|(t, _)| last.at.hours_since(*t) > hours);
    if let Some(fan) = fan_by_power(air, points, last.spread_k()?) {
        return Some(fan);
    }
    // A step shows in some hours; what grows slowly is told by whole days, for the sun swings.
    step(points, lately(NOW_H), last.spread_k()?)
        .or_else(|| slow(points, lately(DAY_H), last.spread_k()?))
}

/// A fan that stops draws less from one hour to the next, and the spread grows after it, slowly:
/// the cargo takes up the heat at first.
fn fan_by_power(air: &[Judged], points: &[(Utc, f64)], shown_k: f64) -> Option<LessAir> {
    let drawn: Vec<(Utc, f64)> = air.iter().filter_map(|j| Some((j.at, -j.power_kw?))).collect();
    let (at, drop_kw) = largest_jump(&drawn, drawn.len().saturating_sub(STEP_LOOK))?;
    let i = drawn.partition_point(|(t, _)| *t < at);
    let (before, after) = drawn.split_at(i);
    let was_kw = -middle(before.get(i.saturating_sub(8)..)?)?;
    // Readings since have kept most of the drop.
    let low = after.iter().filter(|(_, kw)| was_kw + kw > 0.5 * drop_kw).count();
    let kept = 4 * low >= 3 * after.len();
    if drop_kw < FAN_KW.max(FAN_SHARE * was_kw) || !kept || after.len() < READINGS {
        return None;
    }
    let j = points.partition_point(|(t, _)| *t < at);
    let (old, new) = points.split_at(j);
    let lately = new.get(new.len().saturating_sub(2 * READINGS)..)?;
    let lift = middle(lately)? - middle(old.get(j.saturating_sub(24)..)?)?;
    let was_k = (shown_k - lift).max(0.1);
    (lift >= FAN_LIFT_K && shown_k / was_k >= FAN_GROWN).then_some(LessAir {
        since: at,
        was_k,
        now_k: shown_k,
        step: true,
    })
}

fn step(points: &[(Utc, f64)], recent: usize, shown_k: f64) -> Option<LessAir> {
    let (old, new) = points.split_at_checked(recent)?;
    let (now, base) = (middle(new).filter(|_| new.len() >= READINGS)?, calmest_day(old)?);
    let lift = now - base;
    if lift < STEP_K || shown_k / (shown_k - lift).max(0.1) < STEP_GROWN {
        return None;
    }
    let (begun, jump) = largest_jump(points, points.len().saturating_sub(STEP_LOOK))?;
    (jump >= 0.65 * lift).then(|| LessAir {
        since: begun,
        was_k: (shown_k - lift).max(0.1),
        now_k: shown_k,
        step: true,
    })
}

/// Where four readings most exceed the four before them, from index `from` on.
fn largest_jump(points: &[(Utc, f64)], from: usize) -> Option<(Utc, f64)> {
    const WIDE: usize = 4;
    let lately = points.get(from..)?;
    let mut best: Option<(Utc, f64)> = None;
    for pair in lately.windows(2 * WIDE) {
        let (before, after) = pair.split_at(WIDE);
        let jump = middle(after)? - middle(before)?;
        if best.is_none_or(|(_, j)| jump > j) {
            best = after.first().map(|p| (p.0, jump));
        }
    }
    best
}

fn slow(points: &[(Utc, f64)], recent: usize, shown_k: f64) -> Option<LessAir> {
    let (old, new) = points.split_at_checked(recent)?;
    let (now, base) = (middle(new).filter(|_| new.len() >= 2 * READINGS)?, calmest_day(old)?);
    let lift = now - base;
    if lift < SLOW_K || shown_k / (shown_k - lift).max(0.1) < SLOW_GROWN {
        return None;
    }
    // Still growing: the latest half day against the one before it.
    let half = new.len() / 2;
    let (before, after) = new.split_at(half);
    if middle(after)? - middle(before)? < 0.2 * lift {
        return None;
    }
    let begun = points.iter().rev().find(|p| p.1 < base + 0.3 * lift)?.0;
    Some(LessAir { since: begun, was_k: (shown_k - lift).max(0.1), now_k: shown_k, step: false })
}

fn middle(points: &[(Utc, f64)]) -> Option<f64> {
    let mut values: Vec<f64> = points.iter().map(|p| p.1).collect();
    robust::median(&mut values)
}

/// The day with the least spread among those before, by its middle.
fn calmest_day(points: &[(Utc, f64)]) -> Option<f64> {
    let last = points.last()?.0;
    let mut rest = points;
    let mut least: Option<f64> = None;
    for back in 1..=9 {
        let cut = rest.partition_point(|(t, _)| last.hours_since(*t) >= DAY_H * f64::from(back));
        let (before, day) = rest.split_at(cut);
        if day.len() >= 2 * READINGS {
            let m = middle(day)?;
            least = Some(least.map_or(m, |l: f64| l.min(m)));
        }
        rest = before;
        if rest.is_empty() {
            break;
        }
    }
    least
}
