//! The load of many boxes, with its 90 % interval.

use std::collections::BTreeMap;

use units::math;

use super::input::{BoxLoad, Mode, Weather, check_boxes};
use crate::Refused;
use crate::chance::normal_below;

/// Step of the table of loads, kW.
const GRID_KW: f64 = 0.25;
/// Loads closer together than this are one, kW.
const CLOSE_KW: f64 = 1e-6;
/// Points of the table at most, where the sum is made many times over.
const GRID_POINTS: f64 = 600.0;

/// Steps from -3 to 3 standard deviations for an error common to all boxes. On an even grid the
/// sum over a normal density is accurate far beyond need; the step, 0.15 of a standard deviation,
/// bounds the error of a quantile.
const COMMON_STEPS: usize = 41;

/// Standard deviations and weights that stand for the common error.
fn common_nodes(common_sd: f64) -> Vec<(f64, f64)> {
    if common_sd <= 0.0 {
        return vec![(0.0, 1.0)];
    }
    let z = |k: usize| -3.0 + 0.15 * k as f64;
    let raw: Vec<(f64, f64)> =
        (0..COMMON_STEPS).map(|k| (z(k), math::exp(-0.5 * z(k) * z(k)))).collect();
    let sum: f64 = raw.iter().map(|n| n.1).sum();
    raw.into_iter().map(|(z, w)| (z, w / sum)).collect()
}

/// The load of a group of boxes.
#[derive(Debug, Clone, PartialEq)]
pub struct Demand {
    /// Boxes that draw power.
    pub boxes: usize,
    /// Expected load, kW.
    pub mean_kw: f64,
    /// 90 % interval, kW.
    pub kw_p90: [f64; 2],
    /// Load exceeded one time in a hundred, kW.
    pub kw_p99: f64,
    /// Expected apparent power, kVA, taken as the plain sum (never below the real one).
    pub mean_kva: f64,
    /// Load when every box runs at once, as after a blackout, kW.
    pub all_at_once_kw: f64,
    /// The same, kVA.
    pub all_at_once_kva: f64,
    /// How many of the boxes rest on an estimate, not on a reading.
    pub estimated_boxes: usize,
}

/// The load of one bay or feeder.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupDemand {
    /// `bay 022`, or the feeder's name.
    pub group: String,
    /// Its load.
    pub demand: Demand,
}

/// The load at an hour to come.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    /// Weather that it is for.
    pub weather: Weather,
    /// The load then.
    pub demand: Demand,
}

/// Load of `boxes` now; `common_sd` is the relative standard deviation of what errs alike for
/// all.
///
/// # Errors
/// [`Refused`] when a box's figures are not possible.
pub fn demand(boxes: &[BoxLoad], common_sd: f64) -> Result<Demand, Refused> {
    check_boxes(boxes)?;
    let factors = vec![1.0; boxes.len()];
    Ok(of_group(&boxes.iter().collect::<Vec<_>>(), &factors, common_sd))
}

/// A bay as it is written; 0: the cell is not known.
#[must_use]
pub fn bay_words(bay: u16) -> String {
    if bay == 0 { "cell unknown".to_owned() } else { format!("bay {bay:03}") }
}

/// Load by bay (`by_feeder` false) or by feeder.
///
/// # Errors
/// [`Refused`] when a box's figures are not possible.
pub fn grouped(
    boxes: &[BoxLoad],
    by_feeder: bool,
    common_sd: f64,
) -> Result<Vec<GroupDemand>, Refused> {
    check_boxes(boxes)?;
    let mut groups: BTreeMap<String, Vec<&BoxLoad>> = BTreeMap::new();
    for b in boxes {
        let key = if by_feeder { b.feeder.clone() } else { bay_words(b.bay) };
        groups.entry(key).or_default().push(b);
    }
    let line = |(group, list): (String, Vec<&BoxLoad>)| {
        let factors = vec![1.0; list.len()];
        GroupDemand { group, demand: of_group(&list, &factors, common_sd) }
    };
    Ok(groups.into_iter().map(line).collect())
}

/// Load at each hour of a weather forecast; the first entry is the weather now, for which the
/// boxes' figures hold. The weather is taken as it is given: its own error belongs in
/// `common_sd`.
///
/// # Errors
/// [`Refused`] when a box's figures are not possible or there is no weather.
pub fn outlook(
    boxes: &[BoxLoad],
    weather: &[Weather],
    common_sd: f64,
) -> Result<Vec<Outlook>, Refused> {
    check_boxes(boxes)?;
    let now = weather.first().ok_or_else(|| {
        Refused("the outlook needs the weather now and at least one hour to come".to_owned())
    })?;
    let all: Vec<&BoxLoad> = boxes.iter().collect();
    let at = |then: &Weather| {
        let factors: Vec<f64> = boxes.iter().map(|b| b.weather_factor(now, then)).collect();
        Outlook { weather: *then, demand: of_group(&all, &factors, common_sd) }
    };
    Ok(weather.iter().map(at).collect())
}

/// Load of a group; `factor` scales each box's mean load.
fn of_group(boxes: &[&BoxLoad], factor: &[f64], common_sd: f64) -> Demand {
    let mut tables = Vec::new();
    let (mut mean_kw, mut mean_kva) = (0.0, 0.0);
    let all_on: f64 = boxes.iter().map(|b| b.running_kw.value).sum();
    let grid_kw = if common_sd > 0.0 { GRID_KW.max(all_on / GRID_POINTS) } else { GRID_KW };
    for (z, weight) in &common_nodes(common_sd) {
        let common = (1.0 + common_sd * z).max(0.0);
        let loads: Vec<Load> =
            boxes.iter().zip(factor).map(|(b, f)| Load::of(b, f * common)).collect();
        for (l, b) in loads.iter().zip(boxes) {
            mean_kw += weight * l.mean();
            mean_kva += weight * l.mean() / b.power_factor;
        }
        tables.push((*weight, Table::of(&loads, grid_kw)));
    }
    let running = boxes.iter().filter(|b| b.mode != Mode::Off);
    let point = |p: f64| quantile(&tables, p);
    Demand {
        boxes: running.clone().count(),
        mean_kw,
        kw_p90: [point(0.05), point(0.95)],
        kw_p99: point(0.99),
        mean_kva,
        all_at_once_kw: running.clone().map(|b| b.running_kw.value).sum(),
        all_at_once_kva: running.clone().map(|b| b.running_kw.value / b.power_factor).sum(),
        estimated_boxes: running
            .filter(|b| {
                b.running_kw.is_estimate() || (b.mode == Mode::Frozen && b.duty.is_estimate())
            })
            .count(),
    }
}

/// One box as a load that is there with a chance.
struct Load {
    kw: f64,
    sd_kw: f64,
    chance: f64,
}

impl Load {
    fn of(b: &BoxLoad, factor: f64) -> Self {
        let kw = b.running_kw.value;
        match b.mode {
            // More heat makes a frozen box run longer, until it never stops.
            Mode::Frozen => {
                let chance = (b.duty.value * factor).min(1.0);
                Self { kw, sd_kw: b.running_sd_kw, chance }
            }
            Mode::Chilled => Self { kw: kw * factor, sd_kw: b.running_sd_kw, chance: 1.0 },
            Mode::Off => Self { kw: 0.0, sd_kw: 0.0, chance: 0.0 },
        }
    }

    fn mean(&self) -> f64 {
        self.kw * self.chance
    }
}

/// Chances of the sum of blocks on a grid, and a normal error from the running powers.
struct Table {
    steady_kw: f64,
    sd_kw: f64,
    grid_kw: f64,
    chance: Vec<f64>,
    /// Running sums of `chance`, a zero first.
    upto: Vec<f64>,
}

impl Table {
    /// Exact up to the grid: each block is split between two neighbouring grid loads so that its
    /// mean is kept.
    fn of(loads: &[Load], grid_kw: f64) -> Self {
        let steady_kw = loads.iter().filter(|l| l.chance >= 1.0).map(|l| l.kw).sum();
        let var: f64 = loads.iter().map(|l| l.chance * l.sd_kw * l.sd_kw).sum();
        let mut chance = vec![1.0];
        for l in loads.iter().filter(|l| l.chance > 0.0 && l.chance < 1.0 && l.kw > 0.0) {
            let steps = l.kw / grid_kw;
            let low = steps as usize;
            let upper = l.chance * (steps - low as f64);
            let lower = l.chance - upper;
            let mut next = vec![0.0; chance.len() + low + 1];
            for (i, c) in chance.iter().enumerate() {
                next[i] += c * (1.0 - l.chance);
                next[i + low] += c * lower;
                next[i + low + 1] += c * upper;
            }
            // Chances too small to count would only cost time.
            while next.last().is_some_and(|c| *c < 1e-14) {
                next.pop();
            }
            chance = next;
        }
        let mut upto = vec![0.0];
        let mut sum = 0.0;
        for c in &chance {
            sum += c;
            upto.push(sum);
        }
        Self { steady_kw, sd_kw: math::sqrt(var), grid_kw, chance, upto }
    }

    /// Probability that the load is at most `kw`.
    fn below(&self, kw: f64) -> f64 {
        // Eight standard deviations away nothing is left to work out: grid loads further below
        // count whole, further above not at all.
        let reach = (8.0 * self.sd_kw).max(1e-9);
        let at = |edge_kw: f64| {
            let points = ((edge_kw - self.steady_kw) / self.grid_kw).ceil().max(0.0) as usize;
            points.min(self.chance.len())
        };
        let (whole, end) = (at(kw - reach), at(kw + reach));
        let step = |i: usize| {
            let gap = kw - self.steady_kw - i as f64 * self.grid_kw;
            if self.sd_kw > 1e-9 {
                normal_below(gap / self.sd_kw)
            } else if gap >= -1e-9 {
                1.0
            } else {
                0.0
            }
        };
        let near = self.chance.iter().enumerate().take(end).skip(whole);
        self.upto.get(whole).copied().unwrap_or(0.0) + near.map(|(i, c)| c * step(i)).sum::<f64>()
    }

    fn top_kw(&self) -> f64 {
        self.steady_kw + self.chance.len() as f64 * self.grid_kw + 8.0 * self.sd_kw
    }
}

/// Load below which the mixture of `tables` lies with probability `p`, never under 0.
fn quantile(tables: &[(f64, Table)], p: f64) -> f64 {
    let total: f64 = tables.iter().map(|t| t.0).sum();
    // Probability still missing below a load.
    let missing = |kw: f64| {
        let below: f64 = tables.iter().map(|(w, t)| w * t.below(kw)).sum();
        p * total - 1e-12 - below
    };
    let top_kw = tables.iter().map(|t| t.1.top_kw()).fold(0.0, f64::max);
    let (mut low, mut at_low) = (0.0, missing(0.0));
    let (mut high, mut at_high) = (top_kw, missing(top_kw));
    if at_low <= 0.0 {
        return 0.0;
    }
    for turn in 0..80 {
        if high - low < CLOSE_KW {
            break;
        }
        // A straight line between both ends, every third time the middle: the curve may have steps.
        let part = if turn % 3 == 2 { 0.5 } else { at_low / (at_low - at_high) };
        let mid = low + (high - low) * part.clamp(0.01, 0.99);
        let at_mid = missing(mid);
        if at_mid > 0.0 {
            (low, at_low) = (mid, at_mid);
        } else {
            (high, at_high) = (mid, at_mid);
        }
    }
    high
}
