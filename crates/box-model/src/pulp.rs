//! Pulp temperatures ahead: each probe runs toward where its air leaves it, and what its past
//! does not tell stays wide.
//!
//! Fruit in moving air of steady temperature comes to its own steady temperature by one
//! exponential once the first hours are over (Newton's law of cooling for a lump; ASHRAE Handbook
//! Refrigeration, chapter on cooling times, calls it the single-term solution: from memory,
//! unverified). The steady temperature, the time constant and the size of the slow wandering are
//! taken from the probe's own readings over a few days, held to a prior where those are few.

use chacha20::ChaCha8Rng;
use chacha20::rand_core::{Rng, SeedableRng};
use units::math;

/// Time constants tried, h.
const TAUS_H: [f64; 9] = [7.0, 10.0, 14.0, 20.0, 28.0, 40.0, 56.0, 80.0, 115.0];
/// Middle of the prior of the time constant, h, and its spread as a factor's logarithm: cartons
/// on pallets in a box take about a day and a half (estimate).
const TAU_PRIOR: (f64, f64) = (24.0, 0.3);
/// Steady pulp over the set point, K, and its spread: air warms on its way through the stow
/// (estimate).
const OVER_SET_PRIOR: (f64, f64) = (0.6, 0.45);
/// Spread of the first distance from the steady temperature, K: fruit comes at any temperature.
const FIRST_DISTANCE_K: f64 = 12.0;
/// Readings this many hours apart say as much as independent ones (estimate).
const MEMORY_H: f64 = 1.5;
/// Least spread of a reading round the smooth course, K: tenths of a degree.
const LEAST_NOISE_K: f64 = 0.04;
/// A reading this old counts a third: fruit cools by more than one exponential, and the last one is
/// what lies ahead, h (estimate, held by the sea-trial study).
const RECENT_H: f64 = 18.0;
/// Variance of rounding to tenths: 0.1²/12, K².
const ROUNDING_K2: f64 = 0.01 / 12.0;
/// Wandering with the weather along the route: its lasting spread, K, and the time over which it
/// is forgotten, h (estimate, held by the sea-trial study).
const WANDER_K: f64 = 0.05;
const WANDER_H: f64 = 72.0;

/// One probe's past, fitted.
#[derive(Debug, Clone, PartialEq)]
pub struct ProbeCourse {
    /// One candidate per time constant, with its weight.
    fits: Vec<(f64, Fit)>,
    /// Spread of single readings before they are rounded, K.
    fresh_noise_k: f64,
    /// Where the last readings stand over the smooth course, K.
    last_off_k: f64,
    /// Hours of past behind it.
    pub past_h: f64,
}

/// Mean and covariance of steady temperature and present distance from it, given a time constant.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Fit {
    tau_h: f64,
    steady_c: f64,
    distance_k: f64,
    var_steady: f64,
    var_distance: f64,
    covariance: f64,
}

impl ProbeCourse {
    /// Fits readings `(hours before now, °C)`, hours counted negative, oldest first. `set_c` is
    /// the set point now. `None` with fewer than three readings.
    #[must_use]
    pub fn fit(readings: &[(f64, f64)], set_c: f64) -> Option<Self> {
        let (first, last) = (readings.first()?, readings.last()?);
        if readings.len() < 3 {
            return None;
        }
        let noise_k = noise_of(readings);
        let step_h = ((last.0 - first.0) / (readings.len() - 1) as f64).max(1e-3);
        // Neighbouring readings err together.
        let weight = (step_h / MEMORY_H).min(1.0) / (noise_k * noise_k);
        let mut fits: Vec<(f64, Fit)> = Vec::with_capacity(TAUS_H.len());
        for tau_h in TAUS_H {
            let (fit, log_evidence) = fit_given_tau(readings, set_c, tau_h, weight);
            let z = math::ln(tau_h / TAU_PRIOR.0) / TAU_PRIOR.1;
            fits.push((log_evidence - 0.5 * z * z, fit));
        }
        let best = fits.iter().map(|f| f.0).fold(f64::MIN, f64::max);
        let sum: f64 = fits.iter().map(|f| math::exp(f.0 - best)).sum();
        for f in &mut fits {
            f.0 = math::exp(f.0 - best) / sum;
        }
        let mean = |t: f64| -> f64 { fits.iter().map(|(w, f)| w * f.at(t)).sum() };
        let recent = readings.iter().rev().take_while(|r| r.0 > last.0 - MEMORY_H);
        let (mut off, mut n) = (0.0, 0.0);
        for (t, c) in recent {
            off += c - mean(*t);
            n += 1.0;
        }
        let last_off_k = if n > 0.0 { off / n } else { 0.0 };
        // A reading is rounded again when it is drawn: what rounding adds is taken off first.
        let fresh_noise_k = math::sqrt((noise_k * noise_k - ROUNDING_K2).max(4e-4));
        Some(Self { fits, fresh_noise_k, last_off_k, past_h: -first.0 })
    }

    /// Where it is heading: steady temperature and its standard deviation, °C and K.
    #[must_use]
    pub fn steady(&self) -> (f64, f64) {
        let mean: f64 = self.fits.iter().map(|(w, f)| w * f.steady_c).sum();
        let var = |f: &Fit| f.var_steady + (f.steady_c - mean) * (f.steady_c - mean);
        (mean, math::sqrt(self.fits.iter().map(|(w, f)| w * var(f)).sum()))
    }

    /// The expected smooth course `hours` from now, °C.
    #[must_use]
    pub fn at(&self, hours: f64) -> f64 {
        self.fits.iter().map(|(w, f)| w * f.at(hours)).sum::<f64>()
            + self.last_off_k * math::exp(-hours.max(0.0) / (6.0 * MEMORY_H))
    }
}

impl Fit {
    /// Course at `t` hours from now.
    fn at(&self, t: f64) -> f64 {
        self.steady_c + self.distance_k * math::exp(-t / self.tau_h)
    }
}

/// Spread of single readings from second differences, which a smooth course leaves near zero. The
/// middle one of their sizes is taken, so that a step or a stuck stretch does not rule it.
fn noise_of(readings: &[(f64, f64)]) -> f64 {
    let mut sizes: Vec<f64> = readings
        .windows(3)
        .filter_map(|w| match w {
            [a, b, c] => Some((a.1 - 2.0 * b.1 + c.1).abs()),
            _ => None,
        })
        .collect();
    sizes.sort_by(f64::total_cmp);
    let middle = sizes.get(sizes.len() / 2).copied().unwrap_or(0.0);
    // Median size of a normal is 0.6745 of its spread; a second difference has √6 of it.
    (middle / (0.6745 * 2.449)).clamp(LEAST_NOISE_K, 0.3)
}

/// Normal equations of `y = steady + distance·exp(−t/τ)` with priors, and the evidence for `τ`.
fn fit_given_tau(readings: &[(f64, f64)], set_c: f64, tau_h: f64, weight: f64) -> (Fit, f64) {
    let first_h = readings.first().map_or(0.0, |r| r.0);
    // Distance is counted at the oldest reading, where the prior speaks, to stay well scaled.
    let g = |t: f64| math::exp(-(t - first_h) / tau_h);
    let (p_s, p_d) =
        (1.0 / (OVER_SET_PRIOR.1 * OVER_SET_PRIOR.1), 1.0 / (FIRST_DISTANCE_K * FIRST_DISTANCE_K));
    let prior_c = set_c + OVER_SET_PRIOR.0;
    let (mut a11, mut a12, mut a22) = (p_s, 0.0, p_d);
    // Counted from the prior's mean.
    let (mut b1, mut b2, mut yy) = (0.0, 0.0, 0.0);
    for (t, c) in readings {
        let (g, y) = (g(*t), c - prior_c);
        let weight = weight * math::exp(t / RECENT_H);
        a11 += weight;
        a12 += weight * g;
        a22 += weight * g * g;
        b1 += weight * y;
        b2 += weight * g * y;
        yy += weight * y * y;
    }
    let det = (a11 * a22 - a12 * a12).max(1e-300);
    let steady = (a22 * b1 - a12 * b2) / det;
    let first = (a11 * b2 - a12 * b1) / det;
    let fitted = b1 * steady + b2 * first;
    let log_evidence = 0.5 * (fitted - yy) - 0.5 * math::ln(det);
    // From the oldest reading to now.
    let shrink = math::exp(first_h / tau_h);
    let fit = Fit {
        tau_h,
        steady_c: prior_c + steady,
        distance_k: first * shrink,
        var_steady: a22 / det,
        var_distance: a11 / det * shrink * shrink,
        covariance: -a12 / det * shrink,
    };
    (fit, log_evidence)
}

/// Futures of several probes of one box, drawn from their fits: the same seed, the same futures.
pub struct Futures<'a> {
    courses: &'a [ProbeCourse],
    rng: ChaCha8Rng,
    quantiles: Vec<f64>,
}

/// One drawn future of one probe.
#[derive(Debug, Clone, Copy)]
struct Drawn {
    fit: Fit,
    off_k: f64,
    /// Share of the distance left now, and what an hour leaves of it.
    left: f64,
    hourly: f64,
}

/// One drawn future of all probes, walked forward in time.
pub struct Future<'f, 'a> {
    of: &'f mut Futures<'a>,
    drawn: Vec<Drawn>,
    wander_k: f64,
    at_h: f64,
}

impl<'a> Futures<'a> {
    /// Futures of these probes.
    #[must_use]
    pub fn new(courses: &'a [ProbeCourse], seed: u64) -> Self {
        // Enough steps of the normal distribution that its tails are there.
        let n = 2048;
        let quantiles = (0..n).map(|i| normal_quantile((f64::from(i) + 0.5) / f64::from(n)));
        Self { courses, rng: ChaCha8Rng::seed_from_u64(seed), quantiles: quantiles.collect() }
    }

    fn normal(&mut self) -> f64 {
        let i = self.rng.next_u32() as usize % self.quantiles.len().max(1);
        self.quantiles.get(i).copied().unwrap_or(0.0)
    }

    fn unit(&mut self) -> f64 {
        f64::from(self.rng.next_u32()) / (f64::from(u32::MAX) + 1.0)
    }

    /// Draws one future.
    pub fn draw(&mut self) -> Future<'_, 'a> {
        let mut drawn = Vec::with_capacity(self.courses.len());
        for course in self.courses {
            let mut left = self.unit();
            let picked = course.fits.iter().find(|(w, _)| {
                left -= w;
                left <= 0.0
            });
            let Some((_, fit)) = picked.or(course.fits.last()) else { continue };
            let sd_s = math::sqrt(fit.var_steady);
            let z = self.normal();
            let steady_k = sd_s * z;
            let slope = fit.covariance / fit.var_steady.max(1e-12);
            let rest = (fit.var_distance - slope * fit.covariance).max(0.0);
            let distance_k = slope * steady_k + math::sqrt(rest) * self.normal();
            let fit = Fit {
                steady_c: fit.steady_c + steady_k,
                distance_k: fit.distance_k + distance_k,
                ..*fit
            };
            // What the last readings stand off the drawn course now is not forgotten at once.
            let off_k = course.at(0.0) - fit.at(0.0);
            drawn.push(Drawn { fit, off_k, left: 1.0, hourly: math::exp(-1.0 / fit.tau_h) });
        }
        Future { of: self, drawn, wander_k: 0.0, at_h: 0.0 }
    }
}

impl Future<'_, '_> {
    /// Evenly from 0 up to, not including, 1: chance for what is not the probes' own.
    pub fn chance(&mut self) -> f64 {
        self.of.unit()
    }

    /// What the probes show `hours` from now (later at every call), °C. `shift_k` moves the
    /// steady temperature: a set point lower by 0.5 K is −0.5.
    pub fn at(&mut self, hours: f64, shift_k: f64, out: &mut [f64]) {
        let step_h = (hours - self.at_h).max(0.0);
        self.at_h = hours;
        let kept = (1.0 - step_h / WANDER_H).max(0.0);
        let fresh_k = WANDER_K * math::sqrt(1.0 - kept * kept);
        self.wander_k = kept * self.wander_k + fresh_k * self.of.normal();
        let forgetting = math::exp(-hours / (6.0 * MEMORY_H));
        for (i, slot) in out.iter_mut().enumerate() {
            let (Some(d), Some(course)) = (self.drawn.get_mut(i), self.of.courses.get(i)) else {
                continue;
            };
            d.left *= if step_h == 1.0 { d.hourly } else { math::exp(-step_h / d.fit.tau_h) };
            let moved = shift_k * (1.0 - d.left);
            let smooth = d.fit.steady_c + d.fit.distance_k * d.left + moved;
            let noise = course.fresh_noise_k * self.of.normal();
            *slot = smooth + d.off_k * forgetting + self.wander_k + noise;
        }
    }
}

/// Quantile of the standard normal, by Newton's method on the error function's series.
fn normal_quantile(p: f64) -> f64 {
    let (mut low, mut high) = (-6.0, 6.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if normal_cdf(middle) < p { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// Probability that a standard normal is at most `x`.
///
/// # Reference
/// Abramowitz and Stegun, Handbook of Mathematical Functions, 26.2.17 (|error| < 7.5e-8).
#[must_use]
pub fn normal_cdf(x: f64) -> f64 {
    let t = 1.0 / (1.0 + 0.231_641_9 * x.abs());
    let poly = t
        * (0.319_381_530
            + t * (-0.356_563_782
                + t * (1.781_477_937 + t * (-1.821_255_978 + t * 1.330_274_429))));
    let upper = math::exp(-0.5 * x * x) / math::sqrt(std::f64::consts::TAU) * poly;
    if x < 0.0 { upper } else { 1.0 - upper }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Newton's law of cooling in closed form: 4 °C fruit toward 0.8 °C with a time constant of
    /// 24 h is at 0.8 + 3.2·e^(−2) after 48 h.
    #[test]
    fn a_clean_exponential_is_found() {
        let course = |t: f64| 0.8 + 3.2 * math::exp(-t / 24.0);
        let readings: Vec<(f64, f64)> =
            (0..48).map(|h| (f64::from(h) - 47.0, course(f64::from(h)))).collect();
        let fit = ProbeCourse::fit(&readings, 0.3).unwrap();
        let (steady, sd) = fit.steady();
        assert!((steady - 0.8).abs() < 0.2 && sd < 0.5, "{steady} {sd}");
        let ahead = fit.at(24.0);
        assert!((ahead - course(71.0)).abs() < 0.1, "{ahead} {}", course(71.0));
    }

    /// Abramowitz and Stegun, table 26.1: Φ(1) = 0.841344746, Φ(1.96) = 0.975002105.
    #[test]
    fn normal_distribution_points() {
        assert!((normal_cdf(1.0) - 0.841_344_746).abs() < 1e-7);
        assert!((normal_cdf(1.96) - 0.975_002_105).abs() < 1e-7);
        assert!((normal_quantile(0.95) - 1.644_853_6).abs() < 1e-5);
    }

    #[test]
    fn the_same_seed_draws_the_same_future() {
        let readings: Vec<(f64, f64)> = (0..30).map(|h| (f64::from(h) - 29.0, 1.0)).collect();
        let courses = vec![ProbeCourse::fit(&readings, 0.5).unwrap(); 3];
        let walk = || {
            let mut futures = Futures::new(&courses, 7);
            let mut future = futures.draw();
            let mut out = [0.0; 3];
            future.at(5.0, 0.0, &mut out);
            out
        };
        assert_eq!(walk(), walk());
        assert_ne!(walk()[0], walk()[1]);
    }

    #[test]
    fn two_readings_are_no_course() {
        assert!(ProbeCourse::fit(&[(-1.0, 1.0), (0.0, 1.0)], 0.5).is_none());
        assert!(ProbeCourse::fit(&[], 0.5).is_none());
    }
}
