//! What a display tells whose steps hide the noise.
//!
//! Such a display tells little while it stands still. Where it changes once, the pressure crossed
//! the edge between two steps. Where it flickers between two, the share of the upper one tells how
//! far from the edge the pressure stands, in noises: half and half is on it, one in six is a noise
//! below. So readings are looked at in short runs.

use units::math::{exp, ln, sqrt};

use crate::hold::normal;
use crate::noise::{Point, single};

/// Readings in a run: a twentieth of all, within these.
const RUN: (usize, usize) = (6, 12);
/// Equal readings in a row after which the display stands well inside its step.
const STILL: usize = 6;

/// Where the pressure may stand against an edge, in noises.
const PLACES: i32 = 80;
const WIDEST: f64 = 3.0;
/// Share of readings that noise does not explain.
const ODD: f64 = 1e-3;

/// The points of a coarse display: crossings, flickering runs, and what first and last reading
/// bound.
pub(crate) fn points(raw: &[(f64, f64)], step: f64, noise: f64) -> Vec<Point> {
    let same = |run: &mut dyn Iterator<Item = &(f64, f64)>, y: f64| {
        run.take(STILL).filter(|r| (r.1 - y).abs() < 0.5 * step).count() == STILL
    };
    let bound = |r: &(f64, f64), still: bool| {
        // Near an edge the noise would have made it flicker.
        let near = if still { (2.0 * noise * r.1).min(0.6 * step) } else { 0.0 };
        single(r.0, r.1, (step - near) * (step - near) / 12.0)
    };
    let first = raw.first().map(|r| bound(r, same(&mut raw.iter(), r.1)));
    let mut points: Vec<Point> = first.into_iter().collect();
    let runs = runs(raw);
    let kinds: Vec<Kind> = runs.iter().map(|r| kind(r, step)).collect();
    for (i, run) in runs.iter().enumerate() {
        let t = mean(run, |r| r.0);
        let k = run.len() as f64;
        match kinds.get(i) {
            Some(Kind::Flickers { edge, upper }) => {
                points.push(at_edge(t, *edge, place(*upper, k, WIDEST)));
            }
            Some(Kind::Still { y }) => {
                let beside = [i.checked_sub(1), Some(i + 1)];
                let edge = beside.into_iter().flatten().find_map(|j| kinds.get(j)?.edge());
                let Some(edge) = edge.filter(|e| (e - y).abs() < step) else { continue };
                // Left out, it would seem that the pressure never goes far from the edge.
                let reach = (0.5 * step / (noise * y).max(1e-9)).clamp(2.5, 12.0);
                let (below, sd) = place(0.0, k, reach);
                let place = if *y < edge { below } else { -below };
                points.push(at_edge(t, edge, (place, sd)));
            }
            Some(Kind::Scatters) => {
                // Several steps by noise alone: their mean errs as if the steps were noise.
                let fixed = step * step / 12.0 / k;
                points.push(Point { n: k, ..single(t, mean(run, |r| r.1), fixed) });
            }
            Some(Kind::Crosses) | None => {
                points.extend(run.windows(2).filter_map(|w| crossing(w, step)));
            }
        }
    }
    points.extend(raw.last().map(|r| bound(r, same(&mut raw.iter().rev(), r.1))));
    points
}

/// Runs of readings; each shares one with the next, so that a change between two is in one.
fn runs(raw: &[(f64, f64)]) -> Vec<&[(f64, f64)]> {
    let size = (raw.len() / 20).clamp(RUN.0, RUN.1);
    let (mut out, mut from) = (Vec::new(), 0);
    while from + 1 < raw.len() {
        let mut to = (from + size).min(raw.len() - 1);
        if raw.len() - 1 - to < size / 2 {
            to = raw.len() - 1;
        }
        out.extend(raw.get(from..=to));
        from = to;
    }
    out
}

/// What a run of readings shows.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Kind {
    /// One value.
    Still { y: f64 },
    /// Two neighbouring values in turn: the edge between them, and how many of the upper.
    Flickers { edge: f64, upper: f64 },
    /// Several values by noise.
    Scatters,
    /// It changed once, or moved.
    Crosses,
}

impl Kind {
    fn edge(&self) -> Option<f64> {
        if let Self::Flickers { edge, .. } = self { Some(*edge) } else { None }
    }
}

fn mean(part: &[(f64, f64)], of: fn(&(f64, f64)) -> f64) -> f64 {
    part.iter().map(of).sum::<f64>() / part.len().max(1) as f64
}

fn kind(run: &[(f64, f64)], step: f64) -> Kind {
    let changes = run.windows(2).filter(|w| crossing(w, step).is_some()).count();
    let low = run.iter().map(|r| r.1).fold(f64::INFINITY, f64::min);
    let high = run.iter().map(|r| r.1).fold(f64::NEG_INFINITY, f64::max);
    let (early, late) = run.split_at(run.len() / 2);
    let moved = (mean(late, |r| r.1) - mean(early, |r| r.1)).abs();
    match changes {
        0 => Kind::Still { y: low },
        2.. if high - low < 1.5 * step => {
            let upper = run.iter().filter(|r| r.1 > low + 0.5 * step).count() as f64;
            Kind::Flickers { edge: 0.5 * (low + high), upper }
        }
        2.. if moved < step => Kind::Scatters,
        _ => Kind::Crosses,
    }
}

fn at_edge(t: f64, edge: f64, (place, sd): (f64, f64)) -> Point {
    Point { flicker: Some(place), n: 1.0 / (sd * sd), ..single(t, edge, 0.0) }
}

/// Between two different readings.
fn crossing(w: &[(f64, f64)], step: f64) -> Option<Point> {
    let [a, b] = w else { return None };
    if (b.1 - a.1).abs() < 0.5 * step {
        return None;
    }
    let whole = step * step / 12.0;
    // One step: the edge was crossed between the two. More steps: a rise this fast.
    let fixed = if (b.1 - a.1).abs() < 1.5 * step { whole / 9.0 } else { whole };
    Some(single(0.5 * (a.0 + b.0), 0.5 * (a.1 + b.1), fixed))
}

/// Mean and standard deviation of the place against the edge, in noises, when `upper` of `all`
/// readings showed the upper step and every place from `reach` below the edge on is as likely as
/// any other.
fn place(upper: f64, all: f64, reach: f64) -> (f64, f64) {
    let (mut sum, mut first, mut second) = (0.0, 0.0, 0.0);
    for i in 0..=PLACES {
        let u = -reach + (WIDEST + reach) * f64::from(i) / f64::from(PLACES);
        let p = ODD + (1.0 - 2.0 * ODD) * normal(u);
        let w = exp(upper * ln(p) + (all - upper) * ln(1.0 - p));
        sum += w;
        first += w * u;
        second += w * u * u;
    }
    let mean = first / sum;
    (mean, sqrt((second / sum - mean * mean).max(1e-3)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Half and half is on the edge; one in six is a noise below (the normal distribution's table:
    /// 15.9 % lie below −1).
    #[test]
    fn share_tells_the_place() {
        let (mean, sd) = place(5.0, 10.0, WIDEST);
        assert!(mean.abs() < 1e-9 && sd > 0.3 && sd < 0.5, "{mean} {sd}");
        let (mean, _) = place(159.0, 1000.0, WIDEST);
        assert!((mean + 1.0).abs() < 0.02, "{mean}");
    }

    /// A rise that shows as more and more of the upper step is seen; a still display tells nothing
    /// but its bounds.
    #[test]
    fn flicker_rises() {
        // In ten runs of six the upper step is seen 0 to 5 times.
        let upper = |i: i32| (i % 6 * 5) % 6 < i / 6 * 6 / 10;
        let seen = |i: i32| if upper(i) { 250.0 } else { 200.0 };
        let raw: Vec<(f64, f64)> = (0..60).map(|i| (f64::from(i) * 0.5, seen(i))).collect();
        let p = points(&raw, 50.0, 0.03);
        let flicker: Vec<f64> = p.iter().filter_map(|p| p.flicker).collect();
        assert!(flicker.len() >= 5, "{p:?}");
        let (early, late) = flicker.split_at(flicker.len() / 2);
        let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
        assert!(mean(late) > mean(early) + 0.5, "{flicker:?}");
        let still: Vec<(f64, f64)> = (0..60).map(|i| (f64::from(i), 200.0)).collect();
        assert_eq!(points(&still, 50.0, 0.03).len(), 2);
    }
}
