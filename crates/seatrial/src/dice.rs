//! Chance with a stable stream: the same seed gives the same ship on every computer.

use chacha20::ChaCha8Rng;
use chacha20::rand_core::{Rng, SeedableRng};
use units::math;

/// What a stream of chance is for. Each purpose and each box has a stream of its own, so that a
/// change in one place leaves the others as they were.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// Stowage.
    Stowage = 1,
    /// Cargo and box.
    Cargo = 2,
    /// Weather.
    Weather = 3,
    /// Which box gets which fault.
    Faults = 4,
    /// Sensors and machine of one box.
    Machine = 5,
    /// Rounds and slips.
    Crew = 6,
    /// Boxes under cold treatment.
    Quarantine = 7,
    /// Defrosts of one box, and how its display words them.
    Defrost = 8,
}

/// One stream of chance (ChaCha with 8 rounds).
#[derive(Debug)]
pub struct Dice(ChaCha8Rng);

impl Dice {
    /// The stream of `purpose` for number `index` (a box, a round) under `seed`.
    #[must_use]
    pub fn new(seed: u64, purpose: Purpose, index: usize) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream((purpose as u64) << 40 | index as u64);
        Self(rng)
    }

    /// Evenly from 0 up to, not including, 1.
    pub fn unit(&mut self) -> f64 {
        // 53 bits: the mantissa of a double.
        (self.0.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Evenly from `low` to `high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// True with probability `p`.
    pub fn chance(&mut self, p: f64) -> bool {
        self.unit() < p
    }

    /// A whole number from 0 to `n` − 1; 0 when `n` is 0.
    pub fn below(&mut self, n: usize) -> usize {
        ((self.unit() * n as f64) as usize).min(n.saturating_sub(1))
    }

    /// One of `items`.
    pub fn pick<'a, T>(&mut self, items: &'a [T]) -> Option<&'a T> {
        let i = self.below(items.len());
        items.get(i)
    }

    /// Normal with mean 0 and standard deviation 1 (Box and Muller's transform).
    pub fn normal(&mut self) -> f64 {
        let u = 1.0 - self.unit();
        let v = self.unit();
        math::sqrt(-2.0 * math::ln(u)) * math::cos(std::f64::consts::TAU * v)
    }

    /// Puts `items` into random order.
    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for i in (1..items.len()).rev() {
            let j = self.below(i + 1);
            items.swap(i, j);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The keystream of ChaCha with 8 rounds for a key and nonce of zeros begins
    /// 3e 00 ef 2f 89 5f 40 d6 (draft-strombergson-chacha-test-vectors, TC1; from memory,
    /// unverified): the stream is the published cipher's, so it will not change under us.
    #[test]
    fn the_stream_is_the_published_one() {
        let mut rng = ChaCha8Rng::from_seed([0; 32]);
        assert_eq!(rng.next_u64().to_le_bytes(), [0x3e, 0x00, 0xef, 0x2f, 0x89, 0x5f, 0x40, 0xd6]);
    }

    #[test]
    fn streams_differ_and_numbers_are_in_range() {
        let mut a = Dice::new(1, Purpose::Cargo, 0);
        let mut b = Dice::new(1, Purpose::Cargo, 1);
        let mut c = Dice::new(1, Purpose::Crew, 0);
        assert!(a.unit() != b.unit() && a.unit() != c.unit());
        let n = 20_000;
        let (mut sum, mut squares) = (0.0, 0.0);
        for _ in 0..n {
            assert!((0.0..1.0).contains(&a.unit()) && a.below(7) < 7);
            let x = a.normal();
            sum += x;
            squares += x * x;
        }
        // Mean 0 and variance 1 within five standard errors.
        assert!((sum / f64::from(n)).abs() < 0.036, "{sum}");
        assert!((squares / f64::from(n) - 1.0).abs() < 0.05, "{squares}");
        assert_eq!(a.below(0), 0);
    }
}
