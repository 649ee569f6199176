//! When the cargo passes a limit.

use crate::ahead::{Ahead, Run, past};
use crate::fit::BoxFit;
use crate::limits::Side;

/// Steps, h: short at first, longer as time goes on.
const FIRST_STEP_H: f64 = 0.25;
const STEP_GROWS: f64 = 1.06;
const LONGEST_STEP_H: f64 = 3.0;

/// Hours from now until the cargo passes a limit: the middle draw and all draws, earliest first.
#[derive(Debug, Clone, PartialEq)]
pub struct Crossing {
    /// With everything at its best estimate; `None` when not within the horizon.
    middle_h: Option<f64>,
    /// Draws that pass it within the horizon, earliest first.
    hours: Vec<f64>,
    /// How many draws there were.
    draws: usize,
    horizon_h: f64,
}

impl Crossing {
    /// Hours with everything at its best estimate; `None` when not within the horizon.
    #[must_use]
    pub fn middle_h(&self) -> Option<f64> {
        self.middle_h
    }

    /// Probability that the limit is passed within `hours` from now.
    #[must_use]
    pub fn probability_by(&self, hours: f64) -> f64 {
        let n = self.hours.partition_point(|h| *h <= hours);
        n as f64 / self.draws.max(1) as f64
    }

    /// The hours by which it is passed with probability `p`; `None` beyond the horizon.
    #[must_use]
    pub fn quantile_h(&self, p: f64) -> Option<f64> {
        let at = p * self.draws as f64 - 0.5;
        if at <= 0.0 {
            return self.hours.first().copied();
        }
        let i = at.floor() as usize;
        let (a, b) = (self.hours.get(i)?, self.hours.get(i + 1));
        let part = at - i as f64;
        Some(a + (b.unwrap_or(a) - a) * part)
    }

    /// The 90 % interval, capped at the horizon.
    #[must_use]
    pub fn p90_h(&self) -> [f64; 2] {
        let end = |p| self.quantile_h(p).unwrap_or(self.horizon_h).min(self.horizon_h);
        [end(0.05), end(0.95)]
    }

    /// How far ahead was looked, h.
    #[must_use]
    pub fn horizon_h(&self) -> f64 {
        self.horizon_h
    }
}

impl BoxFit {
    /// When the cargo passes `limit_c`: its mean on the warm side, its shell on the cold side.
    #[must_use]
    pub fn limit_crossing(&self, ahead: &Ahead, side: Side, limit_c: f64) -> Crossing {
        let horizon_h = ahead.horizon_h.max(0.0);
        let draws = self.draws();
        let mut middle_h = None;
        let mut hours = Vec::with_capacity(draws.len());
        for (i, d) in draws.iter().enumerate() {
            let run = Run::new(self, ahead, *d);
            let h = crossed(run, side, limit_c, ahead.age_h + horizon_h)
                .map(|h| (h - ahead.age_h).max(0.0));
            if i == 0 {
                middle_h = h;
            } else {
                hours.extend(h);
            }
        }
        hours.sort_by(f64::total_cmp);
        Crossing { middle_h, hours, draws: draws.len() - 1, horizon_h }
    }
}

fn told(run: &Run<'_>, side: Side) -> f64 {
    match side {
        Side::Warm => run.mean_c(),
        Side::Cold => run.temps().shell_c.min(run.mean_c()),
    }
}

fn crossed(mut run: Run<'_>, side: Side, limit_c: f64, until_h: f64) -> Option<f64> {
    let mut before = told(&run, side);
    if past(side, limit_c, before) {
        return Some(0.0);
    }
    let mut dt_h = FIRST_STEP_H;
    while run.at_h() < until_h {
        let from_h = run.at_h();
        run.step(dt_h);
        let now = told(&run, side);
        if past(side, limit_c, now) {
            let hours = from_h + dt_h * (limit_c - before) / (now - before);
            return (hours <= until_h).then_some(hours);
        }
        before = now;
        dt_h = (dt_h * STEP_GROWS).min(LONGEST_STEP_H);
    }
    None
}
