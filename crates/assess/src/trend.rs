//! Whether the air is on its way somewhere.

use box_model::Estimate;
use record::Reading;
use units::Utc;

use crate::air::Judged;
use crate::fitted;
use crate::ground::{Control, Ground};
use crate::robust::{self, Trend};

/// Windows looked at, longest first, h. The longest only where readings are few.
const WINDOWS_H: [f64; 5] = [96.0, 48.0, 24.0, 12.0, 6.0];
/// Fewer readings than this in two days are rounds.
const FEW: usize = 12;
/// A shorter window overrules a longer one when the two differ by this much over its span.
const OVERRULES_K: f64 = 0.6;
/// The present course may change: the slope's interval is widened by these factors. Our
/// estimate.
const COURSE_LOW: f64 = 0.6;
const COURSE_HIGH: f64 = 1.6;
/// Readings at least this far apart are rounds rather than a logger's.
const ROUND_GAP_H: f64 = 4.0;
/// Frozen return air that stays this far over the set point for hours no longer cycles. Our
/// estimate.
const SAW_K: f64 = 1.0;
const LATELY_H: f64 = 6.0;
/// Pulp does not saw as air does: a steady change of so much is one. Our estimate.
const PROBES_MOVED_K: f64 = 0.6;
/// Air from this far back is "now".
const NOW_H: f64 = 3.0;

/// A change of the air around the cargo.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drift {
    /// Rate, K/h, with its 90 % interval.
    pub slope_k_per_h: Estimate,
    /// Over how many hours it was seen.
    pub span_h: f64,
    /// First reading of that span.
    pub since: Utc,
    /// Told apart from noise, daily swings and cycling.
    pub significant: bool,
}

impl Drift {
    /// Told apart, and leading away from the set point, to where it can do harm.
    pub fn leads_away(&self, g: &Ground<'_>) -> bool {
        self.significant && leads_away(g, self.slope_k_per_h.best)
    }
}

/// Towards the set point is recovery. Frozen cargo suffers no harm from cold, and its air saws
/// around the set point: only when it no longer comes down to it is it on its way up.
fn leads_away(g: &Ground<'_>, slope: f64) -> bool {
    let control = g.control.unwrap_or(Control::Chilled);
    let (Some(air), Some(set)) = (air_now(g), g.judged.last().and_then(|j| j.set_c)) else {
        return control == Control::Chilled || slope > 0.0;
    };
    match control {
        Control::Chilled => (air > set) == (slope > 0.0),
        Control::Frozen => slope > 0.0 && lowest_lately(g).is_some_and(|low| low > set + SAW_K),
    }
}

/// Coldest held air of the last hours, of four readings at least.
fn lowest_lately(g: &Ground<'_>) -> Option<f64> {
    let control = g.control.unwrap_or(Control::Chilled);
    let last = g.judged.last()?;
    g.judged
        .iter()
        .rev()
        .enumerate()
        .take_while(|(i, j)| *i < 4 || last.at.hours_since(j.at) <= LATELY_H)
        .filter_map(|(_, j)| j.held_c(control))
        .reduce(f64::min)
}

/// Judged air since the set point was last changed on the display and since power was last
/// restored: only that tells where things go now.
pub fn present<'g>(g: &'g Ground<'_>) -> &'g [Judged] {
    let judged = g.judged.as_slice();
    let mut from = 0;
    for (i, pair) in judged.windows(2).enumerate() {
        if let [a, b] = pair
            && let (Some(x), Some(y)) = (a.set_c, b.set_c)
            && (x - y).abs() > 0.05
        {
            from = i + 1;
        }
    }
    if let Some(back) = g.spells.last().and_then(|s| s.back) {
        from = from.max(judged.partition_point(|j| j.at < back));
    }
    judged.get(from..).unwrap_or(&[])
}

/// Air around the cargo now: the middle of the last hours.
pub fn air_now(g: &Ground<'_>) -> Option<f64> {
    let control = g.control.unwrap_or(Control::Chilled);
    let last = g.judged.last()?;
    let mut recent: Vec<f64> = g
        .judged
        .iter()
        .rev()
        .take_while(|j| last.at.hours_since(j.at) <= NOW_H)
        .filter_map(|j| j.around_cargo_c(control))
        .collect();
    robust::median(&mut recent)
}

/// The drift of the air around the cargo.
pub fn drift(g: &Ground<'_>) -> Option<Drift> {
    let control = g.control.unwrap_or(Control::Chilled);
    let steady = drift_of(g, |j| j.around_cargo_c(control));
    match steady {
        Some(d) if d.significant => steady,
        _ => between_rounds(g, control).or(steady),
    }
}

/// The drift of the cargo's probes.
pub fn of_probes(g: &Ground<'_>) -> Option<Drift> {
    let probes = |r: &&Reading| Some((r.at, fitted::probes_c(r)?));
    drift_through(g, g.rows.iter().filter_map(probes))
}

/// The drift of the probes of a box whose air nobody reads.
pub fn of_probes_alone(g: &Ground<'_>) -> Option<Drift> {
    let d = of_probes(g).filter(|_| g.judged.is_empty())?;
    let rate = d.slope_k_per_h;
    let clear = rate.low * rate.high > 0.0 && (rate.best * d.span_h).abs() >= PROBES_MOVED_K;
    Some(Drift { significant: clear, ..d })
}

/// The drift of one signal.
pub fn drift_of(g: &Ground<'_>, signal: impl Fn(&Judged) -> Option<f64>) -> Option<Drift> {
    let points = present(g).iter().filter_map(|j| Some((j.at, signal(j)?)));
    drift_through(g, points)
}

fn drift_through(g: &Ground<'_>, points: impl Iterator<Item = (Utc, f64)>) -> Option<Drift> {
    let mut points = points.peekable();
    let (origin, _) = *points.peek()?;
    let points: Vec<(f64, f64)> = points.map(|(at, v)| (at.hours_since(origin), v)).collect();
    let points = robust::binned(&points, 1.0);
    let trend = best_window(&points)?;
    let (last_h, _) = points.last()?;
    let frozen = g.control == Some(Control::Frozen);
    let slope = trend.slope;
    let wide = Estimate::new(
        (trend.low * COURSE_LOW).min(trend.high * COURSE_LOW).min(trend.low),
        slope,
        (trend.high * COURSE_HIGH).max(trend.low * COURSE_HIGH).max(trend.high),
    );
    Some(Drift {
        slope_k_per_h: if trend.has_direction() { same_sign(slope, trend) } else { wide },
        span_h: trend.span_h,
        since: origin.plus_hours(last_h - trend.span_h),
        significant: trend.has_direction() && trend.change().abs() >= least_change_k(trend, frozen),
    })
}

/// The interval of a slope whose sign is known, widened for the course that may change.
fn same_sign(slope: f64, t: Trend) -> Estimate {
    let (near, far) = if slope > 0.0 { (t.low, t.high) } else { (t.high, t.low) };
    let weak = if near.abs() < slope.abs() { near } else { slope };
    Estimate::new(weak * COURSE_LOW, slope, far * COURSE_HIGH)
}

/// How much the air must have changed before it counts: more over short spans, more for frozen
/// boxes, whose air saws up and down with the compressor. Our estimate.
fn least_change_k(t: Trend, frozen: bool) -> f64 {
    match (t.span_h >= 20.0, frozen) {
        (true, false) => 0.8,
        (true, true) => 1.2,
        (false, false) => 1.2,
        (false, true) => 2.5,
    }
}

/// The longest window's trend, unless a shorter one clearly says otherwise.
fn best_window(points: &[(f64, f64)]) -> Option<Trend> {
    let (last_h, _) = *points.last()?;
    let since = |hours: f64| {
        let from = points.partition_point(|(h, _)| *h < last_h - hours);
        points.get(from..).unwrap_or(&[])
    };
    let few = since(48.0).len() < FEW;
    let mut held: Option<Trend> = None;
    for window in WINDOWS_H {
        if window > 48.0 && !few {
            continue;
        }
        let Some(t) = robust::trend(since(window)).filter(|t| t.span_h >= 0.4 * window) else {
            continue;
        };
        held = match held {
            Some(h) if (t.low..=t.high).contains(&h.slope) => Some(h),
            Some(h) if (t.slope - h.slope).abs() * t.span_h < OVERRULES_K => Some(h),
            _ => Some(t),
        };
    }
    held
}

/// Two rounds only: one in band, the next far off. When it began between them is not known, so
/// the rate is known within a wide interval.
fn between_rounds(g: &Ground<'_>, control: Control) -> Option<Drift> {
    let [.., before, last] = present(g) else {
        return None;
    };
    let change = last.around_cargo_c(control)? - before.around_cargo_c(control)?;
    let gap_h = last.at.hours_since(before.at);
    // Only air that is off now: two points of a sound box's sawtooth are no trend.
    let off = crate::rules::off_set_point::run(g)?;
    if (off.air_c > off.set_c) != (change > 0.0) {
        return None;
    }
    if gap_h < ROUND_GAP_H || change.abs() < 2.0 {
        return None;
    }
    let plain = change / gap_h;
    Some(Drift {
        slope_k_per_h: Estimate::new(plain, 1.5 * plain, 5.0 * plain),
        span_h: gap_h,
        since: before.at,
        significant: true,
    })
}
