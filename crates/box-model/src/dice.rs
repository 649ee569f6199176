//! Fixed standard normal numbers: the same on every machine and in every run.

use units::math;

/// The 5 % point of the standard normal distribution, turned positive.
pub const Z90: f64 = 1.645;

/// A stream of standard normal numbers from a fixed seed (splitmix64, Box and Muller).
pub struct Normals {
    state: u64,
    spare: Option<f64>,
}

impl Normals {
    /// The stream number `seed`.
    pub fn new(seed: u64) -> Self {
        Self { state: seed ^ 0x9E37_79B9_7F4A_7C15, spare: None }
    }

    fn unit(&mut self) -> f64 {
        self.state = self.state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^= z >> 31;
        // 53 bits, never 0.
        ((z >> 11) as f64 + 0.5) / 9_007_199_254_740_992.0
    }

    /// The next number.
    pub fn draw(&mut self) -> f64 {
        if let Some(z) = self.spare.take() {
            return z;
        }
        let r = math::sqrt(-2.0 * math::ln(self.unit()));
        let turn = std::f64::consts::TAU * self.unit();
        self.spare = Some(r * math::sin(turn));
        r * math::cos(turn)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn mean_and_spread() {
        let mut n = Normals::new(1);
        let all: Vec<f64> = (0..20_000).map(|_| n.draw()).collect();
        let mean = all.iter().sum::<f64>() / 20_000.0;
        let var = all.iter().map(|z| z * z).sum::<f64>() / 20_000.0;
        assert!(mean.abs() < 0.03 && (var - 1.0).abs() < 0.05, "{mean} {var}");
        let tail = all.iter().filter(|z| **z > Z90).count();
        assert!((800..1200).contains(&tail), "{tail}");
    }
}
