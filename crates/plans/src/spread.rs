//! A duration that is not known exactly.

use units::math;

use crate::Refused;
use crate::chance::{normal_below, normal_quantile};

/// z of the 90 % point of the normal distribution (Abramowitz and Stegun, table 26.5).
const Z90: f64 = 1.281_551_565_5;

/// A duration in hours by its 10, 50 and 90 % points. Between and beyond them each half follows a
/// lognormal, so a duration is never negative and a long tail stays long.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// One in ten is shorter, h.
    pub p10_h: f64,
    /// Half are shorter, h.
    pub p50_h: f64,
    /// One in ten is longer, h.
    pub p90_h: f64,
}

impl Spread {
    /// A duration known exactly.
    #[must_use]
    pub fn exactly(hours: f64) -> Self {
        Self { p10_h: hours, p50_h: hours, p90_h: hours }
    }

    /// A lognormal with this median and this standard deviation of its logarithm.
    #[must_use]
    pub fn lognormal(median_h: f64, sigma_ln: f64) -> Self {
        let factor = math::exp(Z90 * sigma_ln);
        Self { p10_h: median_h / factor, p50_h: median_h, p90_h: median_h * factor }
    }

    /// Checks that the points are positive, finite and in order; zero only when all are zero.
    ///
    /// # Errors
    /// [`Refused`] naming `what`.
    pub fn check(&self, what: &str) -> Result<(), Refused> {
        let Self { p10_h: a, p50_h: b, p90_h: c } = *self;
        let none = a == 0.0 && b == 0.0 && c == 0.0;
        if none || (a > 0.0 && a <= b && b <= c && c.is_finite()) {
            return Ok(());
        }
        Err(Refused(format!(
            "{what}: duration {a} / {b} / {c} h is not in order; give 10, 50 and 90 % points, each \
             at least the one before and above 0"
        )))
    }

    fn sigma(&self, upper: bool) -> f64 {
        let (top, bottom) = if upper { (self.p90_h, self.p50_h) } else { (self.p50_h, self.p10_h) };
        if bottom > 0.0 && top > bottom { math::ln(top / bottom) / Z90 } else { 0.0 }
    }

    /// The duration below which the share `p` lies, h.
    #[must_use]
    pub fn quantile_h(&self, p: f64) -> f64 {
        let z = normal_quantile(p);
        self.p50_h * math::exp(z * self.sigma(z > 0.0))
    }

    /// Probability that the duration is at most `hours`.
    #[must_use]
    pub fn share_done_by(&self, hours: f64) -> f64 {
        if hours <= 0.0 || self.p50_h <= 0.0 {
            return if hours >= self.p50_h { 1.0 } else { 0.0 };
        }
        let sigma = self.sigma(hours > self.p50_h);
        if sigma == 0.0 {
            return if hours >= self.p50_h { 1.0 } else { 0.0 };
        }
        normal_below(math::ln(hours / self.p50_h) / sigma)
    }

    /// Share `p` point of what is still to come when `elapsed_h` have passed and the work is not
    /// done, h. Work that should long be done gets at least a twentieth of its median more.
    #[must_use]
    pub fn remaining_quantile_h(&self, elapsed_h: f64, p: f64) -> f64 {
        if elapsed_h <= 0.0 {
            return self.quantile_h(p);
        }
        let gone = self.share_done_by(elapsed_h).min(0.999);
        let total = self.quantile_h(gone + (1.0 - gone) * p);
        (total - elapsed_h).max(0.05 * self.p50_h)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_come_back() {
        let s = Spread { p10_h: 0.5, p50_h: 1.0, p90_h: 3.0 };
        for (p, h) in [(0.1, 0.5), (0.5, 1.0), (0.9, 3.0)] {
            assert!((s.quantile_h(p) - h).abs() < 1e-6);
            assert!((s.share_done_by(h) - p).abs() < 1e-6);
        }
        assert!(s.check("x").is_ok());
        assert!(Spread { p10_h: 2.0, p50_h: 1.0, p90_h: 3.0 }.check("x").is_err());
        assert!(Spread { p10_h: f64::NAN, p50_h: 1.0, p90_h: 3.0 }.check("x").is_err());
    }

    /// Mean of a lognormal is median·exp(σ²/2) (Johnson, Kotz and Balakrishnan, Continuous
    /// Univariate Distributions 1, ch. 14).
    #[test]
    fn lognormal_mean() {
        let s = Spread::lognormal(2.0, 0.5);
        let n = 4000;
        let mean =
            (0..n).map(|k| s.quantile_h((k as f64 + 0.5) / n as f64)).sum::<f64>() / n as f64;
        assert!((mean - 2.0 * math::exp(0.125)).abs() < 2e-3, "{mean}");
    }

    /// What remains after an hour is what the whole law says of durations over an hour.
    #[test]
    fn remaining_is_the_conditional_law() {
        let s = Spread::lognormal(1.0, 0.4);
        let median_left = s.remaining_quantile_h(1.0, 0.5);
        // Half of all are over 1 h; half of those are over the 75 % point.
        assert!((median_left - (s.quantile_h(0.75) - 1.0)).abs() < 1e-9);
        assert_eq!(Spread::exactly(1.0).remaining_quantile_h(3.0, 0.5), 0.05);
    }
}
