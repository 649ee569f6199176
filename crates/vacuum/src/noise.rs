//! From readings to points to fit: what is left out, how noisy the readings are, and what a
//! coarse display hides.

use units::math::{exp, ln, sqrt};

use crate::judge::Reading;

/// The first minute is not fitted: hoses and gauge are still evening out.
pub(crate) const NOT_FITTED_MIN: f64 = 1.0;
/// More points than this are averaged in neighbouring groups.
const MOST_POINTS: usize = 64;
/// Relative noise is never taken to be less.
const LEAST_NOISE: f64 = 0.003;
/// Relative noise assumed where a coarse display hides it.
const HIDDEN_NOISE: f64 = 0.03;

/// Noise in steps, below which a coarse display does not show how large it is.
const VAGUE: f64 = 0.25;
/// Noises that it may then be, against the usual one, with their shares.
const VAGUELY: [(f64, f64); 3] = [(0.4, 0.25), (1.0, 0.5), (1.8, 0.25)];

/// One point to fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Point {
    /// Minutes since the pump was valved off.
    pub t: f64,
    /// µmHg.
    pub y: f64,
    /// How many readings it averages.
    pub n: f64,
    /// Variance that does not come from relative noise, µm² (of the point, not of one reading).
    pub fixed: f64,
    /// Smoothed pressure for the noise, µm.
    pub level: f64,
    /// How far above `y` the pressure stands, in noises of one reading: a display that flickers.
    pub flicker: Option<f64>,
    /// First and last-but-one place of its readings' times in [`Points::times`].
    pub at: (usize, usize),
}

/// Points with what is known of their noise.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Points {
    /// By time.
    pub points: Vec<Point>,
    /// Times of single readings, min.
    pub times: Vec<f64>,
    /// Relative noise of one reading, from neighbours' differences.
    pub noise: f64,
    /// Degrees of freedom behind `noise` that the fit does not use again.
    pub outside_dof: f64,
    /// Degrees of freedom behind `noise`.
    pub dof: f64,
    /// Readings offered, after the first minute.
    pub fitted: usize,
    /// Readings left out as wild.
    pub wild: usize,
    /// Step of the display, µm.
    pub resolution_um: f64,
    /// Whether the display's steps hide the noise.
    pub coarse: bool,
    /// Whether it flickers, and does not show how large the noise is.
    pub vague: bool,
}

/// Sorts, leaves out the first minute and wild readings, estimates the noise, thins.
pub(crate) fn prepare(readings: &[Reading], resolution_um: f64) -> Points {
    let mut raw: Vec<(f64, f64)> = readings
        .iter()
        .map(|r| (r.t_s / 60.0, r.pressure_pa / crate::PA_PER_UM))
        .filter(|(t, p)| *t >= NOT_FITTED_MIN - 1e-9 && p.is_finite())
        .collect();
    raw.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let offered = raw.len();
    drop_wild(&mut raw, resolution_um);
    let wild = offered - raw.len();
    let (scatter, level) = scatter(&raw);
    let step = resolution_um * resolution_um / 12.0;
    let coarse = sqrt(scatter) < 0.5 * resolution_um && in_steps(&raw, resolution_um);
    let own = sqrt((scatter - step).max(0.0)) / level.max(1e-9);
    // Noise of much more than a third of a step would show.
    let hidden = HIDDEN_NOISE.min(0.3 * resolution_um / level.max(1e-9)).max(LEAST_NOISE);
    let noise = if coarse { own.max(hidden) } else { own.max(LEAST_NOISE) };
    // Nothing but the steps' own scatter: the noise may be anything usual.
    let vague = coarse && own * level < VAGUE * resolution_um;
    let noise = if vague { hidden } else { noise };
    let mut points = if coarse && raw.len() > 3 {
        crate::coarse::points(&raw, resolution_um, noise)
    } else {
        raw.iter().map(|&(t, y)| single(t, y, step)).collect()
    };
    if points.len() > MOST_POINTS {
        // So many crossings tell the rise; averaging needs points of one kind.
        points.retain(|p| p.flicker.is_none());
    }
    let flickers = points.iter().any(|p| p.flicker.is_some());
    let before = points.len();
    let times = points.iter().map(|p| p.t).collect();
    points = groups(points);
    smooth(&mut points);
    let outside_dof = if coarse { 0.0 } else { 0.6 * (before - points.len()) as f64 };
    let dof = (0.6 * raw.len() as f64).max(2.0);
    let fitted = raw.len();
    let vague = vague && flickers;
    Points { points, times, noise, outside_dof, dof, fitted, wild, resolution_um, coarse, vague }
}

pub(crate) fn single(t: f64, y: f64, fixed: f64) -> Point {
    Point { t, y, n: 1.0, fixed, level: y, flicker: None, at: (0, 0) }
}

/// What a reading differs from the line between its neighbours by, with its share of variance.
fn off_line(w: &[(f64, f64)]) -> Option<f64> {
    let [a, b, c] = w else { return None };
    let span = c.0 - a.0;
    if span <= 0.0 {
        return None;
    }
    let (wa, wc) = ((c.0 - b.0) / span, (b.0 - a.0) / span);
    let e = b.1 - wa * a.1 - wc * c.1;
    Some(e / sqrt(1.0 + wa * wa + wc * wc))
}

/// Variance of one reading, µm², about its neighbours, and the mean level.
fn scatter(raw: &[(f64, f64)]) -> (f64, f64) {
    let level = raw.iter().map(|r| r.1).sum::<f64>() / raw.len().max(1) as f64;
    // Relative to the local level, so that a rising curve does not weigh its end most.
    let relative: Vec<f64> = raw
        .windows(3)
        .filter_map(|w| Some(off_line(w)? / w.iter().map(|r| r.1).sum::<f64>().max(1e-9) * 3.0))
        .collect();
    if relative.is_empty() {
        return (0.0, level);
    }
    let mean = relative.iter().map(|e| e * e).sum::<f64>() / relative.len() as f64;
    (mean * level * level, level)
}

/// Whether all readings are multiples of the step; else it is somebody's estimate of an error.
fn in_steps(raw: &[(f64, f64)], step: f64) -> bool {
    let off = |p: f64| (p / step - (p / step).round()).abs();
    step > 0.0 && raw.iter().all(|r| off(r.1) < 1e-3)
}

/// Removes single readings far off both neighbours (a knock, a slip of the pen).
fn drop_wild(raw: &mut Vec<(f64, f64)>, resolution_um: f64) {
    if raw.len() < 8 {
        return;
    }
    let mut sizes: Vec<f64> =
        raw.windows(3).filter_map(|w| Some((off_line(w)? / w.get(1)?.1.max(1e-9)).abs())).collect();
    sizes.sort_by(f64::total_cmp);
    let Some(median) = sizes.get(sizes.len() / 2) else { return };
    let typical = (median / 0.6745).max(0.02);
    let keep: Vec<bool> = raw
        .windows(3)
        .map(|w| {
            let [a, b, c] = w else { return true };
            let e = off_line(w).unwrap_or(0.0);
            let outside = (b.1 > a.1.max(c.1)) || (b.1 < a.1.min(c.1));
            !(outside && e.abs() > 7.0 * typical * b.1.max(1e-9) + 1.5 * resolution_um)
        })
        .collect();
    let mut i = 0;
    raw.retain(|_| {
        let kept = i == 0 || keep.get(i - 1).copied().unwrap_or(true);
        i += 1;
        kept
    });
}

/// Averages neighbours so that at most [`MOST_POINTS`] are left.
fn groups(points: Vec<Point>) -> Vec<Point> {
    let size = points.len().div_ceil(MOST_POINTS).max(1);
    let mean = |(i, g): (usize, &[Point])| {
        let k = g.len() as f64;
        let sum = |f: fn(&Point) -> f64| g.iter().map(f).sum::<f64>() / k;
        Point {
            t: sum(|p| p.t),
            y: sum(|p| p.y),
            n: g.iter().map(|p| p.n).sum(),
            fixed: sum(|p| p.fixed) / k,
            level: 0.0,
            flicker: g.first().and_then(|p| p.flicker),
            at: (i * size, i * size + g.len()),
        }
    };
    points.chunks(size).enumerate().map(mean).collect()
}

fn smooth(points: &mut [Point]) {
    let y: Vec<f64> = points.iter().map(|p| p.y).collect();
    for (i, p) in points.iter_mut().enumerate() {
        let near = y.get(i.saturating_sub(2)..(i + 3).min(y.len())).unwrap_or(&[]);
        p.level = (near.iter().sum::<f64>() / near.len().max(1) as f64).max(1.0);
    }
}

impl Points {
    /// Noise levels to weigh, with the logarithm of each one's prior weight.
    pub fn noise_levels(&self, most: usize) -> Vec<(f64, f64)> {
        let k = most.max(1);
        if self.vague && k >= VAGUELY.len() {
            return VAGUELY.iter().map(|(by, share)| (by * self.noise, ln(*share))).collect();
        }
        let reach = 2.2 / sqrt(2.0 * self.dof);
        let at = |i: usize| {
            let place = if k == 1 { 0.0 } else { 2.0 * i as f64 / (k - 1) as f64 - 1.0 };
            let s = (self.noise * exp(reach * place)).max(LEAST_NOISE);
            let ratio = self.noise / s;
            // Scatter inside the groups, which the fit does not see.
            let told = self.outside_dof * (ln(ratio) - 0.5 * (ratio * ratio - 1.0));
            (s, told - ln(k as f64))
        };
        (0..k).map(at).collect()
    }
}
