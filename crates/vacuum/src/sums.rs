//! Sums of exponentials kept in range, and where to put the nodes of an integral.

use units::math::{exp, ln};

/// Middles of equal steps of the logarithm between limits, where the likelihood reaches.
pub(crate) struct Steps {
    first: f64,
    ratio: f64,
    n: usize,
    /// ln of a step's share of an even spread over the logarithm between the limits.
    pub ln_share: f64,
}

impl Steps {
    /// None when the likelihood reaches nowhere between the limits.
    pub fn new(reach: (f64, f64), (lo, hi): (f64, f64), n: usize) -> Option<Self> {
        let (a, b) = (reach.0.max(lo), reach.1.min(hi));
        if b <= a || b.is_nan() || a.is_nan() {
            return None;
        }
        let step = ln(b / a) / n as f64;
        let half = exp(0.5 * step);
        let ln_share = ln(step / ln(hi / lo));
        Some(Self { first: a * half, ratio: half * half, n, ln_share })
    }

    /// Every middle in turn.
    pub fn walk(&self, mut put: impl FnMut(f64)) {
        let mut value = self.first;
        for _ in 0..self.n {
            put(value);
            value *= self.ratio;
        }
    }
}

/// ln Σ exp, kept in range.
#[derive(Debug, Clone, Copy)]
pub(crate) struct LnSum {
    top: f64,
    sum: f64,
}

impl Default for LnSum {
    fn default() -> Self {
        Self { top: f64::NEG_INFINITY, sum: 0.0 }
    }
}

impl LnSum {
    pub fn add(&mut self, x: f64) {
        if x <= self.top {
            if x > self.top - 25.0 {
                self.sum += exp(x - self.top);
            }
        } else if x.is_finite() {
            self.sum = self.sum * exp(self.top - x) + 1.0;
            self.top = x;
        }
    }

    pub fn value(&self) -> f64 {
        if self.sum > 0.0 { self.top + ln(self.sum) } else { f64::NEG_INFINITY }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ∫ dx/x from 1 to e² is 2; the shares of all steps sum to 1.
    #[test]
    fn shares_sum_to_one() {
        let steps = Steps::new((-1.0, 1e9), (1.0, exp(2.0)), 10).unwrap();
        let mut sum = LnSum::default();
        let mut last = 0.0;
        steps.walk(|x| {
            assert!(x > last && x < exp(2.0));
            last = x;
            sum.add(steps.ln_share);
        });
        assert!(sum.value().abs() < 1e-12);
        assert!(Steps::new((5.0, 4.0), (1.0, 2.0), 3).is_none());
    }

    #[test]
    fn sums_far_apart_stay_in_range() {
        let mut sum = LnSum::default();
        for x in [-1000.0, -1000.0, f64::NEG_INFINITY] {
            sum.add(x);
        }
        assert!((sum.value() + 1000.0 - ln(2.0)).abs() < 1e-12);
        sum.add(5000.0);
        assert_eq!(sum.value(), 5000.0);
        assert_eq!(LnSum::default().value(), f64::NEG_INFINITY);
    }
}
