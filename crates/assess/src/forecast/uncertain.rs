//! How unsure a time is.

use units::math;

/// Times are compared in the logarithm of the time plus this much, so that "now" does not weigh
/// without bounds, h.
const OFFSET_H: f64 = 1.0;

/// What one lump, one ambient and a steady course leave out, as factors on the time. Our
/// estimate.
const MODEL: [f64; 2] = [0.87, 1.25];

/// Spread of a time: what each unknown does alone, added as squares in the logarithm.
pub struct Spread {
    best: f64,
    horizon_h: f64,
    down: f64,
    up: f64,
}

impl Spread {
    /// Around a best estimate.
    pub fn new(best: f64, horizon_h: f64) -> Self {
        let mut out = Self { best, horizon_h, down: 0.0, up: 0.0 };
        out.add(Some(MODEL[0] * best), Some(MODEL[1] * best));
        out
    }

    /// Both ends of one unknown; `None` is a limit never reached within the horizon.
    pub fn add(&mut self, one: Option<f64>, other: Option<f64>) {
        let log = |h: Option<f64>| {
            let h = h.unwrap_or(self.horizon_h).min(self.horizon_h);
            math::ln((h + OFFSET_H) / (self.best + OFFSET_H))
        };
        let (a, b) = (log(one), log(other));
        let (low, high) = (a.min(b).min(0.0), a.max(b).max(0.0));
        self.down += low * low;
        self.up += high * high;
    }

    /// The 90 % interval, capped at the horizon.
    pub fn p90(&self) -> [f64; 2] {
        let back = |log: f64| (self.best + OFFSET_H) * math::exp(log) - OFFSET_H;
        let low = back(-math::sqrt(self.down)).max(0.0);
        let high = back(math::sqrt(self.up)).min(self.horizon_h);
        [low.min(self.best), high.max(self.best)]
    }
}
