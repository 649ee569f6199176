//! Whether a unit loses strength before its temperatures show it.
//!
//! Three figures of a unit are compared with its own of days ago, after what ambient and box
//! temperature explain has been taken out:
//!
//! - frozen: return over supply while the compressor runs. All of the cooling crosses that
//!   spread, so it falls with capacity and with charge; it grows when less air passes the coil.
//! - frozen: power beyond the fans, as running time, per kelvin between box and ambient.
//! - chilled: power for the load that return over supply carries.
//!
//! Days are counted back from the latest reading, so that each holds one day and one night.

use units::math;

use crate::estimate::Estimate;
use crate::machine;

/// One judged reading of a running unit, outside defrost and the hour after.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Running {
    /// Hours of the caller's clock.
    pub at_h: f64,
    /// Supply air, °C.
    pub supply_c: f64,
    /// Return air, °C.
    pub return_c: f64,
    /// Ambient air, °C.
    pub ambient_c: f64,
    /// Power drawn, kW.
    pub power_kw: Option<f64>,
}

/// Less spread than this: the compressor of a frozen box rests, K. Our estimate.
const RESTS_K: f64 = 1.5;
/// Readings a day must have.
const LEAST_READINGS: usize = 3;
/// Days a judgement needs: two to compare with, two that differ.
const LEAST_DAYS: usize = 4;
/// What the fans of a frozen and of a chilled box draw, and the controls, kW; only differences
/// between days count. Our estimate.
const FANS_KW: [f64; 2] = [0.4, 1.05];
/// Fans' heat as kelvin of leakage, frozen. Our estimate.
const FANS_AS_K: f64 = 6.0;
/// How much more power a chilled unit draws for more load, both as shares of full. Our estimate.
const PART_LOAD: f64 = 0.9;
/// Days of one unit differ by at least this for reasons of their own. Our estimate.
const LEAST_SD: [f64; 2] = [0.025, 0.012];
/// Loss told from here on: frozen by spread, chilled by power. Our estimate.
const LEAST_LOSS: [f64; 2] = [0.10, 0.045];
/// So many standard deviations of its own days.
const LEAST_SCORE: f64 = 3.5;
/// Running time must have grown by this where power is read, as a logarithm. Our estimate.
const LEAST_DUTY: f64 = 0.03;
/// The normalising by ambient may be wrong by this per kelvin. Our estimate.
const PER_AMBIENT_K: f64 = 0.004;
/// Running this share of the time a unit has nothing left. Our estimate.
const FULL_DUTY: f64 = 0.93;

/// One day of a unit, logarithms normalised.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Day {
    strength: Option<f64>,
    duty_ln: Option<f64>,
    duty: Option<f64>,
    effort: Option<f64>,
    load: Option<f64>,
    ambient_c: Option<f64>,
}

/// By what it shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sign {
    /// Return over supply of a running compressor falls.
    Spread,
    /// More power for the same load.
    Power,
}

/// A unit that loses strength.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SlowLoss {
    /// What shows it.
    pub sign: Sign,
    /// How much the sign has changed against days ago, as a share (0.2: a fifth).
    pub change: f64,
    /// That change over its own day-to-day spread.
    pub score: f64,
    /// Change of strength per day, as a share of what is left (negative).
    pub change_per_d: Estimate,
    /// Share of the time the compressor ran in the last day, frozen boxes with power read.
    pub duty: Option<f64>,
    /// Nothing is left: it runs all the time.
    pub at_full: bool,
    /// Over how many days the comparison goes.
    pub days: usize,
}

/// Weaker or stronger spread of a running frozen unit against days ago.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trace {
    /// Last day less days ago, as a logarithm.
    pub change: f64,
    /// Over its own day-to-day spread.
    pub score: f64,
    /// That spread.
    pub sd: f64,
}

/// What the days of a unit tell.
#[derive(Debug, Clone, PartialEq)]
pub struct Strength {
    days: Vec<Day>,
    frozen: bool,
}

impl Strength {
    /// Gathers the readings (by time) of a unit that was running all along at one set point.
    #[must_use]
    pub fn of(running: &[Running], frozen: bool, twenty: bool) -> Self {
        let mut days = Vec::new();
        let Some(last) = running.last() else {
            return Self { days, frozen };
        };
        let mut rest = running;
        for back in 1..=10 {
            let from_h = last.at_h - 24.0 * f64::from(back);
            let cut = rest.partition_point(|r| r.at_h <= from_h);
            let (before, day) = rest.split_at(cut);
            days.push(if frozen {
                let older = before.partition_point(|r| r.at_h <= from_h - 24.0);
                let rests_k = rests_k(running.get(older..before.len() + day.len()));
                frozen_day(day, twenty, rests_k)
            } else {
                chilled_day(day, twenty)
            });
            rest = before;
            if rest.is_empty() {
                break;
            }
        }
        // The first day of a box aboard is not like the others: it settles.
        if days.len() > LEAST_DAYS {
            days.pop();
        }
        Self { days, frozen }
    }

    /// Less air over the coil of a frozen unit: the spread of its running compressor grows, and
    /// it runs longer where power is read.
    #[must_use]
    pub fn less_air(&self) -> Option<Trace> {
        let t = self.spread_change()?;
        let duties: Vec<f64> = self.days.iter().filter_map(|d| d.duty_ln).collect();
        let longer = compared(&duties, 2.0 * LEAST_SD[0]).is_none_or(|d| d.change >= LEAST_DUTY);
        (t.change > 0.0 && longer).then_some(t)
    }

    /// How the spread of a running frozen compressor changed: below zero capacity, above zero
    /// air over the coil.
    fn spread_change(&self) -> Option<Trace> {
        let values: Vec<f64> = self.days.iter().filter_map(|d| d.strength).collect();
        if !self.frozen || self.days.first()?.strength.is_none() {
            return None;
        }
        compared(&values, LEAST_SD[0])
    }

    /// The loss, where it can be told from chance.
    #[must_use]
    pub fn loss(&self) -> Option<SlowLoss> {
        if self.frozen { self.frozen_loss() } else { self.chilled_loss() }
    }

    fn frozen_loss(&self) -> Option<SlowLoss> {
        let t = self.spread_change()?;
        let duties: Vec<f64> = self.days.iter().filter_map(|d| d.duty_ln).collect();
        let duty_rise = compared(&duties, 2.0 * LEAST_SD[0]).map(|d| d.change);
        let duty = self.days.first().and_then(|d| d.duty);
        // A spread that falls without more running is no loss; unread power asks for more.
        let enough = match duty_rise {
            Some(rise) => rise >= LEAST_DUTY - 0.4 * t.change,
            None => -t.change >= 1.6 * LEAST_LOSS[0],
        };
        // What another ambient may do to the comparison does not count.
        let sure = -t.change - PER_AMBIENT_K * self.ambient_moved_k();
        if !enough || sure < LEAST_LOSS[0] || sure / t.sd < LEAST_SCORE {
            return None;
        }
        let values: Vec<f64> = self.days.iter().filter_map(|d| d.strength).collect();
        Some(SlowLoss {
            sign: Sign::Spread,
            change: 1.0 - math::exp(t.change),
            score: -t.score,
            change_per_d: rate(&values),
            duty: duty.map(|d| d.min(1.0)),
            at_full: duty.is_some_and(|d| d >= FULL_DUTY),
            days: self.days.len(),
        })
    }

    /// Ambient of the last day against days ago, K.
    fn ambient_moved_k(&self) -> f64 {
        let mut old: Vec<f64> =
            self.days.iter().skip(2.max(self.days.len() / 2)).filter_map(|d| d.ambient_c).collect();
        old.sort_by(f64::total_cmp);
        match (self.days.first().and_then(|d| d.ambient_c), middle(&old)) {
            (Some(a), Some(b)) => (a - b).abs(),
            _ => 0.0,
        }
    }

    fn chilled_loss(&self) -> Option<SlowLoss> {
        let base = self.days.iter().rev().find_map(|d| d.load)?;
        // Power at the load of the first day.
        let level = |d: &Day| Some(math::ln((d.effort? - PART_LOAD * (d.load? - base)).max(0.02)));
        let values: Vec<f64> = self.days.iter().filter_map(level).collect();
        level(self.days.first()?)?;
        let t = compared(&values, LEAST_SD[1])?;
        if t.change < LEAST_LOSS[1] || t.score < LEAST_SCORE {
            return None;
        }
        // Power grows with the inverse of strength, and only its part over idling does.
        let lost: Vec<f64> = values.iter().map(|v| -2.0 * v).collect();
        Some(SlowLoss {
            sign: Sign::Power,
            change: math::exp(t.change) - 1.0,
            score: t.score,
            change_per_d: rate(&lost),
            duty: None,
            at_full: false,
            days: self.days.len(),
        })
    }
}

/// The last day against the days from the third on: change, and change over their spread. The
/// day before must have gone half the way too.
fn compared(values: &[f64], least_sd: f64) -> Option<Trace> {
    if values.len() < LEAST_DAYS {
        return None;
    }
    let (now, before) = (*values.first()?, *values.get(1)?);
    let mut old: Vec<f64> = values.iter().skip(2.max(values.len() / 2)).copied().collect();
    old.sort_by(f64::total_cmp);
    let base = middle(&old)?;
    let mut steps: Vec<f64> = values
        .windows(2)
        .skip(2)
        .filter_map(|w| match w {
            [a, b] => Some((a - b).abs()),
            _ => None,
        })
        .collect();
    steps.sort_by(f64::total_cmp);
    // Median step over 0.95: a standard deviation of one day, were they independent.
    let sd = (middle(&steps).unwrap_or(0.0) / 0.95).max(least_sd);
    let change = now - base;
    let kept = (before - base) / change > 0.35 && (now - before) / change > -0.2;
    if !kept {
        return Some(Trace { change: 0.0, score: 0.0, sd });
    }
    Some(Trace { change, score: change / sd, sd })
}

fn middle(sorted: &[f64]) -> Option<f64> {
    sorted.get(sorted.len() / 2).copied()
}

/// Change per day now, from the last three days.
fn rate(values: &[f64]) -> Estimate {
    let at = |i: usize| values.get(i).copied().unwrap_or(0.0);
    let two_days = 0.5 * (at(0) - at(2));
    let one_day = at(0) - at(1);
    let seen = (0.6 * two_days + 0.4 * one_day).clamp(-0.6, -0.02);
    // Seen as the middle of two days, a day and a quarter ago; what falls steadily is a larger
    // share of what is left now.
    let best = seen / (1.0 + 1.25 * seen);
    Estimate::new(1.7 * best - 0.02, best, 0.4 * best)
}

/// Less spread than this, and the compressor of a frozen box rests or has just started: half of
/// what it makes when it runs well on that day and the one before, K.
fn rests_k(two_days: Option<&[Running]>) -> f64 {
    let spread = |r: &Running| r.return_c - r.supply_c;
    let mut all: Vec<f64> =
        two_days.unwrap_or(&[]).iter().map(spread).filter(|k| *k > RESTS_K).collect();
    all.sort_by(f64::total_cmp);
    all.get(all.len() * 9 / 10).map_or(RESTS_K, |top| RESTS_K.max(0.5 * top))
}

fn frozen_day(day: &[Running], twenty: bool, rests_k: f64) -> Day {
    let full = |r: &Running| machine::full_cooling_w(twenty, r.return_c, r.ambient_c).best;
    let mut spreads: Vec<f64> = day
        .iter()
        .filter(|r| r.return_c - r.supply_c > rests_k)
        .map(|r| math::ln((r.return_c - r.supply_c) * 1000.0 / full(r)))
        .collect();
    spreads.sort_by(f64::total_cmp);
    let mut out = Day { ambient_c: mean(day, |r| Some(r.ambient_c)), ..Day::default() };
    if spreads.len() >= LEAST_READINGS {
        // Near the top: readings just after a start are weaker, and some days have most of them.
        let i = 17 * (spreads.len() - 1) / 20;
        out.strength = spreads.get(i).copied();
    }
    let duty = mean(day, |r| {
        let kw = (r.power_kw? - FANS_KW[0]).max(0.0);
        Some(1000.0 * kw / machine::full_power_w(twenty, r.return_c, r.ambient_c))
    });
    let gap_k = mean(day, |r| Some(r.ambient_c - r.return_c));
    let cooling = mean(day, |r| Some(full(r)));
    if let (Some(duty), Some(gap_k), Some(cooling)) = (duty, gap_k, cooling) {
        out.duty = Some(duty);
        let load = (gap_k + FANS_AS_K).max(5.0);
        out.duty_ln = Some(math::ln((duty * cooling / load).max(1e-3)));
    }
    out
}

fn chilled_day(day: &[Running], twenty: bool) -> Day {
    let effort = mean(day, |r| {
        let kw = (r.power_kw? - FANS_KW[1]).max(0.0);
        Some(1000.0 * kw / machine::full_power_w(twenty, r.return_c, r.ambient_c))
    });
    // A 40 ft stream carries about 1.7 kW/K at high fans.
    let w_per_k = if twenty { 750.0 } else { 1700.0 };
    let load = mean(day, |r| {
        let full = machine::full_cooling_w(twenty, r.return_c, r.ambient_c).best;
        Some(w_per_k * (r.return_c - r.supply_c) / full)
    });
    Day { effort, load, ambient_c: mean(day, |r| Some(r.ambient_c)), ..Day::default() }
}

fn mean(day: &[Running], get: impl Fn(&Running) -> Option<f64>) -> Option<f64> {
    let all: Vec<f64> = day.iter().filter_map(get).collect();
    let enough = all.len() >= 2 * LEAST_READINGS;
    enough.then(|| all.iter().sum::<f64>() / all.len() as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A frozen unit whose spread and running time are made from a strength by hand: 5 K and a
    /// third of the time at full strength. (Invented figures; what is tested is the comparison.)
    fn frozen(days: usize, strength: impl Fn(f64) -> f64) -> Vec<Running> {
        (0..24 * days)
            .map(|h| {
                let s = strength(h as f64 / 24.0);
                let duty = (0.33 / s).min(1.0);
                let on = (h * 7 % 24) as f64 / 24.0 < duty;
                let noise = ((h * 5 + h * h) % 7) as f64 * 0.02 - 0.06;
                Running {
                    at_h: h as f64,
                    supply_c: -18.0 - if on { 5.0 * s + noise } else { 0.1 },
                    return_c: -18.0,
                    ambient_c: 28.0,
                    power_kw: Some(0.4 + 5.7 * duty),
                }
            })
            .collect()
    }

    #[test]
    fn a_sound_unit_is_left_alone() {
        for days in 4..12 {
            let s = Strength::of(&frozen(days, |_| 1.0), true, false);
            assert_eq!(s.loss(), None, "{days}");
        }
    }

    #[test]
    fn ten_per_cent_a_day_shows_within_three_days() {
        let fading = |d: f64| if d < 5.0 { 1.0 } else { 1.0 - 0.1 * (d - 5.0) };
        let s = Strength::of(&frozen(8, fading), true, false);
        let loss = s.loss().expect("told");
        assert!(loss.change > 0.15 && loss.change < 0.35, "{loss:?}");
        let per_d = loss.change_per_d;
        assert!(per_d.low < -0.12 && per_d.high > -0.12, "{loss:?}");
        assert!(!loss.at_full && loss.sign == Sign::Spread);
    }

    #[test]
    fn more_spread_is_less_air_and_no_loss() {
        let rising = |d: f64| if d < 5.0 { 1.0 } else { 1.0 + 0.12 * (d - 5.0) };
        let s = Strength::of(&frozen(8, rising), true, false);
        assert_eq!(s.loss(), None);
        assert!(s.less_air().is_none() && s.spread_change().expect("compared").change > 0.15);
    }

    #[test]
    fn little_data_tells_nothing() {
        assert_eq!(Strength::of(&[], true, false).loss(), None);
        let two_a_day: Vec<Running> =
            frozen(10, |d| 1.0 - 0.05 * d).into_iter().step_by(12).collect();
        assert_eq!(Strength::of(&two_a_day, true, false).loss(), None);
    }
}
