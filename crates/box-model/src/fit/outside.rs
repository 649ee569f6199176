//! Ambient air: now, on a daily mean, and where it is heading.

use crate::estimate::Estimate;

/// A reading of the ambient stands for this long, h.
const FRESH_H: f64 = 3.0;
/// Time constants of the two means, h.
const FAST_H: f64 = 24.0;
const SLOW_H: f64 = 60.0;
/// A trend is believed in full once it was watched for this long, h. Our estimate.
const WATCHED_H: f64 = 96.0;
/// No ocean changes its air faster than this by the day, K/d. Our estimate.
const FASTEST_K_PER_D: f64 = 4.0;

/// Where the ambient is heading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outlook {
    /// Mean over the day, now, °C, with its 90 % interval.
    pub mean_c: Estimate,
    /// Change of that mean, K per day.
    pub trend_k_per_d: f64,
    /// What is not known of the change, K per day (half of the 90 % interval).
    pub trend_half_k_per_d: f64,
}

/// Readings of the ambient, condensed.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Outside {
    assumed_c: Estimate,
    last: Option<(f64, f64)>,
    first_h: f64,
    fast_c: f64,
    slow_c: f64,
    now_h: f64,
}

impl Outside {
    pub fn new(assumed_c: Estimate) -> Self {
        Self { assumed_c, last: None, first_h: 0.0, fast_c: 0.0, slow_c: 0.0, now_h: 0.0 }
    }

    pub fn read(&mut self, at_h: f64, ambient_c: Option<f64>) {
        self.now_h = at_h;
        let Some(c) = ambient_c else { return };
        match self.last {
            None => {
                (self.first_h, self.fast_c, self.slow_c) = (at_h, c, c);
            }
            Some((was_h, _)) => {
                let gap_h = (at_h - was_h).max(0.0);
                // A running mean at first, then one that forgets.
                let seen_h = (at_h - self.first_h).max(gap_h);
                let part = |tau_h: f64| gap_h / (gap_h + tau_h.min(seen_h));
                if gap_h > 0.0 {
                    self.fast_c += part(FAST_H) * (c - self.fast_c);
                    self.slow_c += part(SLOW_H) * (c - self.slow_c);
                }
            }
        }
        self.last = Some((at_h, c));
    }

    pub fn was_read(&self) -> bool {
        self.last.is_some()
    }

    /// For what happens now: a fresh reading, else the mean.
    pub fn now_c(&self) -> f64 {
        match self.last {
            Some((h, c)) if self.now_h - h <= FRESH_H => c,
            Some(_) => self.outlook().mean_c.best,
            None => self.assumed_c.best,
        }
    }

    pub fn outlook(&self) -> Outlook {
        let Some((last_h, _)) = self.last else {
            return Outlook { mean_c: self.assumed_c, trend_k_per_d: 0.0, trend_half_k_per_d: 2.0 };
        };
        let seen_h = last_h - self.first_h;
        let believed = (seen_h / WATCHED_H).clamp(0.0, 1.0);
        let raw = 24.0 * (self.fast_c - self.slow_c) / (SLOW_H - FAST_H);
        let trend = (believed * raw).clamp(-FASTEST_K_PER_D, FASTEST_K_PER_D);
        let mean = self.fast_c + trend;
        // A day unread, and the ambient may be another.
        let stale_k = 2.0 * ((self.now_h - last_h) / 24.0).clamp(0.0, 4.0);
        let short_k = if seen_h < 20.0 { 2.0 } else { 0.0 };
        Outlook {
            mean_c: Estimate::plus_minus(mean, 3.0 + stale_k + short_k),
            trend_k_per_d: trend,
            trend_half_k_per_d: 2.0,
        }
    }
}
