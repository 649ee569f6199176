//! What is thought of sizes before the readings are seen: estimates of ours, told in
//! docs/vacuum.md.

use units::math::{exp, ln};

use crate::hold::normal;

/// Steady rise below which a circuit is called gross tight, µm/min.
pub(crate) const TIGHT_UM_MIN: f64 = 0.5;
/// Largest steady rise weighed, µm/min.
pub(crate) const MOST_RISE: f64 = 2e4;
/// Usual size of a leak, µm/min, and the standard deviation of its logarithm (estimate).
const USUAL_LEAK: (f64, f64) = (10.0, 2.2);
/// Usual size of outgassing by the logarithm, µm, likewise.
pub(crate) const USUAL_LOG: (f64, f64) = (10.0, 1.1);
/// Usual size of outgassing by the root, µm/√min, likewise.
pub(crate) const USUAL_ROOT: (f64, f64) = (5.0, 1.1);
/// A bell over the logarithm of a size, cut off at limits.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Bell {
    usual: f64,
    sd: f64,
    /// ln of the height against an even spread over the logarithm between the limits.
    ln_top: f64,
}

impl Bell {
    /// Of a usual size and the standard deviation of its logarithm.
    pub fn new((usual, sd): (f64, f64), (lo, hi): (f64, f64)) -> Self {
        let inside = normal(ln(hi / usual) / sd) - normal(ln(lo / usual) / sd);
        Self { usual, sd, ln_top: ln(ln(hi / lo) * 0.398_942_28 / (sd * inside)) }
    }

    /// ln of how much likelier a size is than when spread evenly over the logarithm.
    pub fn ln(&self, size: f64) -> f64 {
        let z = ln(size / self.usual) / self.sd;
        self.ln_top - 0.5 * z * z
    }
}

/// Prior density of a tight circuit's steady rise, 1/(µm/min): small ones are likelier.
pub(crate) fn tight_density(rise: f64) -> f64 {
    let left = 1.0 - rise / TIGHT_UM_MIN;
    3.0 * left * left / TIGHT_UM_MIN
}

/// The bell of a leak's steady rise, µm/min.
pub(crate) fn leak_bell() -> Bell {
    Bell::new(USUAL_LEAK, (TIGHT_UM_MIN, MOST_RISE))
}

/// Prior density of a leak's steady rise, 1/(µm/min).
pub(crate) fn leak_density(bell: &Bell, rise: f64) -> f64 {
    exp(bell.ln(rise)) / (rise * ln(MOST_RISE / TIGHT_UM_MIN))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each density's integral is 1 (middles of 4,000 equal steps, of the logarithm for leaks).
    #[test]
    fn densities_sum_to_one() {
        let n = 4000;
        let step = TIGHT_UM_MIN / f64::from(n);
        let tight: f64 = (0..n).map(|i| step * tight_density(step * (f64::from(i) + 0.5))).sum();
        assert!((tight - 1.0).abs() < 1e-5, "{tight}");
        let step = ln(MOST_RISE / TIGHT_UM_MIN) / f64::from(n);
        let at = |i: i32| TIGHT_UM_MIN * exp(step * (f64::from(i) + 0.5));
        let leak: f64 = (0..n).map(|i| step * at(i) * leak_density(&leak_bell(), at(i))).sum();
        assert!((leak - 1.0).abs() < 1e-3, "{leak}");
    }
}
