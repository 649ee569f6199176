//! A figure with its 90 % interval.

/// A best value with the 5 % and 95 % ends of what it may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// Most likely value.
    pub best: f64,
    /// Lower end of the 90 % interval.
    pub low: f64,
    /// Upper end of the 90 % interval.
    pub high: f64,
}

impl Estimate {
    /// From its three figures, put in order.
    #[must_use]
    pub fn new(low: f64, best: f64, high: f64) -> Self {
        Self { best, low: low.min(best), high: high.max(best) }
    }

    /// `best` give or take `half`.
    #[must_use]
    pub fn plus_minus(best: f64, half: f64) -> Self {
        Self::new(best - half.abs(), best, best + half.abs())
    }

    /// All three figures times a positive `factor`.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        Self::new(self.low * factor, self.best * factor, self.high * factor)
    }

    /// Best, low and high, in that order.
    #[must_use]
    pub fn ends(self) -> [f64; 3] {
        [self.best, self.low, self.high]
    }
}
