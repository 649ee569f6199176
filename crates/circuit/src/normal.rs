//! The normal distribution.

use units::math::{exp, ln, sqrt};

/// Standard normal density at `x`.
#[must_use]
pub fn density(x: f64) -> f64 {
    0.398_942_280_401_432_7 * exp(-0.5 * x * x)
}

/// Share of a standard normal below `x`: a series near the middle, a continued fraction in the
/// tails (Abramowitz & Stegun, Handbook of Mathematical Functions, 26.2.10 and 26.2.14).
#[must_use]
pub fn below(x: f64) -> f64 {
    let a = x.abs();
    if a < 3.0 {
        let (mut term, mut sum) = (x, x);
        for n in 1..60 {
            term *= -x * x * (2.0 * f64::from(n) - 1.0)
                / (2.0 * f64::from(n) * (2.0 * f64::from(n) + 1.0));
            sum += term;
            if term.abs() < 1e-17 {
                break;
            }
        }
        return 0.5 + 0.398_942_280_401_432_7 * sum;
    }
    let mut f = a;
    for n in (1..=40).rev() {
        f = a + f64::from(n) / f;
    }
    let tail = density(a) / f;
    if x < 0.0 { tail } else { 1.0 - tail }
}

/// The value below which a share `p` of a standard normal lies: bisection-safe Newton.
#[must_use]
pub fn quantile(p: f64) -> f64 {
    let p = p.clamp(1e-12, 1.0 - 1e-12);
    // A&S 26.2.23 as the start, then Newton.
    let q = p.min(1.0 - p);
    let t = sqrt(-2.0 * ln(q));
    let top = 2.515_517 + t * (0.802_853 + t * 0.010_328);
    let bottom = 1.0 + t * (1.432_788 + t * (0.189_269 + t * 0.001_308));
    let mut x = t - top / bottom;
    if p < 0.5 {
        x = -x;
    }
    for _ in 0..4 {
        let d = density(x);
        if d < 1e-300 {
            break;
        }
        let step = (below(x) - p) / d;
        x -= step;
        if step.abs() < 1e-9 {
            break;
        }
    }
    x
}

/// A plain generator of uniform numbers (SplitMix64): the same on every machine.
#[derive(Debug, Clone)]
pub struct Dice(u64);

impl Dice {
    /// From a seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// 0 to 1, both excluded.
    pub fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^= z >> 31;
        ((z >> 11) as f64 + 0.5) / 9_007_199_254_740_992.0
    }

    /// Standard normal.
    pub fn normal(&mut self) -> f64 {
        quantile(self.uniform())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Abramowitz & Stegun, table 26.1.
    #[test]
    fn printed_values() {
        for (x, p) in [(0.0, 0.5), (1.0, 0.841_344_746), (2.0, 0.977_249_868), (3.5, 0.999_767_371)]
        {
            assert!((below(x) - p).abs() < 2e-9, "{x}");
            assert!((below(-x) - (1.0 - p)).abs() < 2e-9, "{x}");
        }
        for (p, x) in [(0.95, 1.644_853_627), (0.975, 1.959_963_985), (0.001, -3.090_232_306)] {
            assert!((quantile(p) - x).abs() < 1e-8, "{p}");
        }
    }
}
