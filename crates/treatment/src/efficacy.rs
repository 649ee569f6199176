//! The arithmetic behind an efficacy claim.

use units::math;

/// Lower bound, %, of the mortality shown by `treated` insects without a survivor at a
/// `confidence` between 0 and 1: 100 · (1 − confidence)^(1/n). `None` without insects.
///
/// # Reference
/// The binomial with no event; it reproduces the published statements named in the tests.
#[must_use]
pub fn mortality_lower_bound_pct(treated: u32, confidence: f64) -> Option<f64> {
    if treated == 0 || !(0.0..1.0).contains(&confidence) {
        return None;
    }
    Some(100.0 * math::pow(1.0 - confidence, 1.0 / f64::from(treated)))
}
