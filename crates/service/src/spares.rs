//! What the ship will be short of: parts used so far, and what that says of the days ahead.
//!
//! Use is taken for a Poisson process with a rate that nobody knew beforehand (Jeffreys' prior,
//! a gamma distribution of shape 1/2): after `n` parts in `T` days the number in the next `H`
//! days is negative-binomial with shape n + 1/2 and odds T : H (Gelman et al., Bayesian Data
//! Analysis, 3rd ed., §2.6). It widens by itself where little was seen.

use record::spares::{SparesAct, SparesFile, part_key};
use units::Utc;
use units::math::pow;

/// Days looked ahead where no arrival is known.
pub const USUAL_DAYS: f64 = 30.0;
/// Shortest time watched that says anything of a rate, days.
const SHORTEST_DAYS: f64 = 1.0;
/// Chance of running out from which a part is called short.
pub const SHORT_CHANCE: f64 = 0.2;

/// A part.
#[derive(Debug, Clone, PartialEq)]
pub struct PartLine {
    /// Its name as last written.
    pub part: String,
    /// On board; none: never counted nor received.
    pub on_board: Option<u32>,
    /// Fewest wanted, where somebody said.
    pub least: Option<u32>,
    /// Used since the account began.
    pub used: u32,
    /// Days watched.
    pub days: f64,
    /// What the days ahead will take: 5 %, 50 %, 95 %; none: watched for less than a day.
    pub ahead: Option<[u32; 3]>,
    /// Chance that it runs out; none where either is not known.
    pub runs_out: Option<f64>,
}

impl PartLine {
    /// Below the fewest wanted, or likely to run out.
    #[must_use]
    pub fn short(&self) -> bool {
        let below = self.on_board.zip(self.least).is_some_and(|(n, least)| n < least);
        below || self.runs_out.is_some_and(|p| p >= SHORT_CHANCE)
    }
}

/// The shelf at an instant, short parts first, then by name; `days_ahead` to the next stores.
#[must_use]
pub fn shelf(file: &SparesFile, at: Utc, days_ahead: f64) -> Vec<PartLine> {
    // The whole account's beginning: a part nobody used since then was watched as long.
    let begun = file.entries.iter().map(|e| e.act.at()).min();
    let days = begun.map_or(0.0, |b| (at.hours_since(b) / 24.0).max(0.0));
    let mut keys: Vec<String> = file.entries.iter().map(|e| part_key(e.act.part())).collect();
    keys.sort_unstable();
    keys.dedup();
    let mut out: Vec<PartLine> =
        keys.iter().map(|key| part_line(file, key, days, days_ahead)).collect();
    out.sort_by_key(|l| (!l.short(), part_key(&l.part)));
    out
}

fn part_line(file: &SparesFile, key: &str, days: f64, days_ahead: f64) -> PartLine {
    let mut line = PartLine {
        part: key.to_owned(),
        on_board: file.on_board(key),
        least: None,
        used: 0,
        days,
        ahead: None,
        runs_out: None,
    };
    for act in file.entries.iter().map(|e| &e.act).filter(|a| part_key(a.part()) == key) {
        line.part = act.part().to_owned();
        match act {
            SparesAct::Counted { least, .. } => line.least = least.or(line.least),
            SparesAct::Used { count, .. } => line.used = line.used.saturating_add(*count),
            SparesAct::Received { .. } => {}
        }
    }
    if days >= SHORTEST_DAYS {
        line.ahead = Some([0.05, 0.5, 0.95].map(|p| quantile(line.used, days, days_ahead, p)));
        line.runs_out = line.on_board.map(|n| more_than(line.used, days, days_ahead, n));
    }
    line
}

/// Chance that more than `n` are taken in `ahead` days after `used` in `days`.
#[must_use]
pub fn more_than(used: u32, days: f64, ahead: f64, n: u32) -> f64 {
    let within: f64 = chances(used, days, ahead).take(n as usize + 1).sum();
    (1.0 - within).clamp(0.0, 1.0)
}

/// Smallest number that the days ahead stay within with a chance of `p`.
#[must_use]
pub fn quantile(used: u32, days: f64, ahead: f64, p: f64) -> u32 {
    let mut sum = 0.0;
    for (n, chance) in (0..100_000).zip(chances(used, days, ahead)) {
        sum += chance;
        if sum >= p {
            return n;
        }
    }
    100_000
}

/// Chances of 0, 1, 2 … parts.
fn chances(used: u32, days: f64, ahead: f64) -> impl Iterator<Item = f64> {
    let shape = f64::from(used) + 0.5;
    let ahead = ahead.max(0.0);
    let step = ahead / (days + ahead);
    let mut chance = pow(days / (days + ahead), shape);
    let mut n = 0.0;
    std::iter::from_fn(move || {
        let now = chance;
        chance *= (shape + n) / (n + 1.0) * step;
        n += 1.0;
        Some(now)
    })
}
