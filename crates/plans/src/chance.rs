//! Chance that is the same on every computer, and the normal distribution.

use units::math;

/// A seeded stream of numbers (`SplitMix64`: Steele, Lea and Flood, "Fast splittable pseudorandom
/// number generators", OOPSLA 2014). Good enough to shuffle and to sample; not for secrets.
#[derive(Debug, Clone)]
pub struct Dice(u64);

impl Dice {
    /// The stream of `seed`.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Evenly from 0 up to, not including, 1.
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Evenly from `low` to `high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// A whole number from 0 to `n` - 1; 0 when `n` is 0.
    pub fn below(&mut self, n: usize) -> usize {
        ((self.unit() * n as f64) as usize).min(n.saturating_sub(1))
    }

    /// True with probability `p`.
    pub fn chance(&mut self, p: f64) -> bool {
        self.unit() < p
    }

    /// Puts `items` in an order in which each is equally likely (Fisher and Yates).
    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for i in (1..items.len()).rev() {
            let j = self.below(i + 1);
            items.swap(i, j);
        }
    }
}

/// `count` probabilities, one from the middle of each of `count` equal shares of 0..1, shuffled
/// by `seed`: one column of a Latin hypercube (`McKay`, Beckman and Conover, Technometrics 21,
/// 1979), whose mean has far less scatter than that of free draws.
#[must_use]
pub fn even_shares(count: usize, seed: u64) -> Vec<f64> {
    let mut shares: Vec<f64> = (0..count).map(|k| (k as f64 + 0.5) / count as f64).collect();
    Dice::new(seed).shuffle(&mut shares);
    shares
}

/// Probability that a standard normal variable is below `z`: Taylor series about 0 (Marsaglia,
/// "Evaluating the normal distribution", J. Statistical Software 11, 2004).
#[must_use]
pub fn normal_below(z: f64) -> f64 {
    if z < -8.0 {
        return 0.0;
    }
    if z > 8.0 {
        return 1.0;
    }
    let (mut term, mut sum, mut k) = (z, z, 1.0);
    while term.abs() > 1e-17 {
        k += 2.0;
        term *= z * z / k;
        sum += term;
    }
    let density = math::exp(-0.5 * z * z) / math::sqrt(2.0 * std::f64::consts::PI);
    (0.5 + density * sum).clamp(0.0, 1.0)
}

/// The `z` below which a standard normal variable lies with probability `p`; ends are held at 8.
#[must_use]
pub fn normal_quantile(p: f64) -> f64 {
    let (mut low, mut high) = (-8.0, 8.0);
    for _ in 0..60 {
        let mid = 0.5 * (low + high);
        if normal_below(mid) < p {
            low = mid;
        } else {
            high = mid;
        }
    }
    0.5 * (low + high)
}

/// The value below which the share `p` of `values` lies, by straight line between neighbours;
/// `None` when there are none.
#[must_use]
pub fn quantile(values: &[f64], p: f64) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let last = sorted.len().checked_sub(1)?;
    let at = p.clamp(0.0, 1.0) * last as f64;
    let low = at as usize;
    let a = *sorted.get(low)?;
    let b = *sorted.get((low + 1).min(last))?;
    // Equal neighbours also when both are "never".
    Some(if a.total_cmp(&b).is_eq() { a } else { a + (b - a) * (at - low as f64) })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Abramowitz and Stegun, Handbook of Mathematical Functions, tables 26.1 and 26.5.
    #[test]
    fn normal_as_tabulated() {
        for (z, p) in
            [(0.0, 0.5), (1.0, 0.841_344_746), (2.0, 0.977_249_868), (-1.0, 0.158_655_254)]
        {
            assert!((normal_below(z) - p).abs() < 1e-9, "{z}");
        }
        for (p, z) in [(0.975, 1.959_964), (0.95, 1.644_854), (0.90, 1.281_552), (0.99, 2.326_348)]
        {
            assert!((normal_quantile(p) - z).abs() < 1e-6, "{p}");
        }
    }

    /// The first outputs of `SplitMix64` from state 1234567, as printed on Rosetta Code
    /// ("Pseudo-random numbers/Splitmix64"); from memory, unverified.
    #[test]
    fn stream_as_published() {
        let mut dice = Dice::new(1_234_567);
        assert_eq!(dice.bits(), 6_457_827_717_110_365_317);
        assert_eq!(dice.bits(), 3_203_168_211_198_807_973);
    }

    #[test]
    fn shares_cover_evenly() {
        let mut shares = even_shares(8, 3);
        shares.sort_by(f64::total_cmp);
        for (k, s) in shares.iter().enumerate() {
            assert!((s - (k as f64 + 0.5) / 8.0).abs() < 1e-12);
        }
    }
}
