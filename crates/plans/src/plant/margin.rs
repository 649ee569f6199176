//! What the generators have left, and what would help.

use units::math;

use super::demand::Demand;
use super::input::{BoxLoad, Generator, Plant, Reserve, Weather, check_boxes, check_plant};
use crate::{Marked, Refused};

/// What the plant carries and could carry.
#[derive(Debug, Clone, PartialEq)]
pub struct Margin {
    /// Sets on the board.
    pub sets_online: usize,
    /// Power that may be loaded under the reserve rule, kW.
    pub allowed_kw: f64,
    /// Apparent power that may be loaded, kVA.
    pub allowed_kva: f64,
    /// Expected load, boxes and the rest, kW.
    pub load_kw: f64,
    /// Its 90 % interval, kW.
    pub load_kw_p90: [f64; 2],
    /// Expected apparent power, plain sum, kVA.
    pub load_kva: f64,
    /// Left in the mean, kW; negative: overloaded by the rule.
    pub margin_kw: f64,
    /// Left at the upper end of the 90 % interval, kW. This decides.
    pub margin_high_kw: f64,
    /// Left in the mean, kVA.
    pub margin_kva: f64,
    /// Left when all boxes run at once, as after a blackout, kW.
    pub margin_all_at_once_kw: f64,
    /// Largest load in one step, kW: the step shares of the sets on the board, added.
    pub step_kw: Marked,
    /// In words: how it stands and by which rule.
    pub words: String,
    /// What in it is an estimate.
    pub estimates: Vec<String>,
}

/// One way to get more room.
#[derive(Debug, Clone, PartialEq)]
pub struct Relief {
    /// What to do, in words, with the figure.
    pub what: String,
    /// Gain at the upper end of the 90 % interval, kW.
    pub gain_kw: f64,
    /// Margin at that end afterwards, kW.
    pub margin_high_kw: f64,
}

/// Power and apparent power that `plant` may be loaded with when `sets` are on the board.
fn allowed(plant: &Plant, sets: &[&Generator]) -> (f64, f64) {
    let kw: f64 = sets.iter().map(|g| g.rated_kw).sum();
    let kva: f64 = sets.iter().map(|g| g.rated_kva).sum();
    match plant.reserve {
        Reserve::Share(share) => (share * kw, share * kva),
        Reserve::LargestLost(share) => {
            let largest = sets.iter().max_by(|a, b| a.rated_kw.total_cmp(&b.rated_kw));
            let (lost_kw, lost_kva) = largest.map_or((0.0, 0.0), |g| (g.rated_kw, g.rated_kva));
            (share * (kw - lost_kw), share * (kva - lost_kva))
        }
    }
}

/// Margin of `plant` under the boxes' `demand`.
///
/// # Errors
/// [`Refused`] when the plant's figures are not possible.
pub fn margin(plant: &Plant, demand: &Demand) -> Result<Margin, Refused> {
    check_plant(plant)?;
    let sets: Vec<&Generator> = plant.generators.iter().filter(|g| g.online).collect();
    let (allowed_kw, allowed_kva) = allowed(plant, &sets);
    let other = plant.other_kw.value;
    let load_kw = demand.mean_kw + other;
    // The two errors are independent: their distances from the mean add by squares.
    let side = |end: f64| {
        let boxes = end - demand.mean_kw;
        let rest = 1.644_854 * plant.other_sd_kw;
        math::sqrt(boxes * boxes + rest * rest)
    };
    let high = load_kw + side(demand.kw_p90[1]);
    let low = (load_kw - side(demand.kw_p90[0])).max(0.0);
    let load_kva = demand.mean_kva + other / plant.other_power_factor;
    let step: f64 = sets.iter().map(|g| g.step_share.value * g.rated_kw).sum();
    let mark = sets.iter().find(|g| g.step_share.is_estimate()).or_else(|| sets.first());
    let mut out = Margin {
        sets_online: sets.len(),
        allowed_kw,
        allowed_kva,
        load_kw,
        load_kw_p90: [low, high],
        load_kva,
        margin_kw: allowed_kw - load_kw,
        margin_high_kw: allowed_kw - high,
        margin_kva: allowed_kva - load_kva,
        margin_all_at_once_kw: allowed_kw - other - demand.all_at_once_kw,
        step_kw: Marked {
            value: step,
            mark: mark.map_or(crate::Mark::Estimate, |g| g.step_share.mark),
        },
        words: String::new(),
        estimates: estimates(plant, demand, &sets),
    };
    out.words = words(plant, &out);
    Ok(out)
}

fn words(plant: &Plant, m: &Margin) -> String {
    let rule = match plant.reserve {
        Reserve::Share(s) => format!("at most {:.0} % of what is on the board", 100.0 * s),
        Reserve::LargestLost(s) => {
            format!("the rest at {:.0} % must carry all when the largest set is lost", 100.0 * s)
        }
    };
    let state = if m.margin_high_kw >= 0.0 && m.margin_kva >= 0.0 {
        format!("room for {:.0} kW more", m.margin_high_kw)
    } else if m.margin_high_kw < 0.0 {
        format!("short by {:.0} kW: start a set or shed load", -m.margin_high_kw)
    } else {
        format!("short by {:.0} kVA: start a set or shed load", -m.margin_kva)
    };
    let again = if m.margin_all_at_once_kw >= 0.0 {
        "After a blackout all boxes may run at once.".to_owned()
    } else {
        format!(
            "After a blackout all boxes at once would be {:.0} kW too much: bring them back in \
             steps.",
            -m.margin_all_at_once_kw
        )
    };
    format!("{} set(s) on the board, {rule}: {state}. {again}", m.sets_online)
}

fn estimates(plant: &Plant, demand: &Demand, sets: &[&Generator]) -> Vec<String> {
    let mut out = Vec::new();
    if demand.estimated_boxes > 0 {
        out.push(format!(
            "power or duty of {} of {} boxes: estimate",
            demand.estimated_boxes, demand.boxes
        ));
    }
    if plant.other_kw.is_estimate() {
        out.push(format!("load beside the boxes {:.0} kW: estimate", plant.other_kw.value));
    }
    if plant.common_sd.is_estimate() {
        out.push(format!(
            "error that all boxes share, {:.0} % (one standard deviation): estimate",
            100.0 * plant.common_sd.value
        ));
    }
    for g in sets.iter().filter(|g| g.step_share.is_estimate()) {
        out.push(format!(
            "{}: step of {:.0} % of rated power: estimate",
            g.name,
            100.0 * g.step_share.value
        ));
    }
    out
}

/// What each further set and shade for the sun-heated boxes would bring, greatest gain first.
///
/// # Errors
/// [`Refused`] when figures are not possible.
pub fn reliefs(plant: &Plant, boxes: &[BoxLoad], now: &Weather) -> Result<Vec<Relief>, Refused> {
    check_boxes(boxes)?;
    let base = margin(plant, &super::demand(boxes, plant.common_sd.value)?)?;
    let mut out = Vec::new();
    for (i, g) in plant.generators.iter().enumerate().filter(|(_, g)| !g.online) {
        let mut more = plant.clone();
        if let Some(set) = more.generators.get_mut(i) {
            set.online = true;
        }
        let m = margin(&more, &super::demand(boxes, plant.common_sd.value)?)?;
        let gain_kw = m.margin_high_kw - base.margin_high_kw;
        let what = format!("Start {}: {gain_kw:.0} kW more room.", g.name);
        out.push(Relief { what, gain_kw, margin_high_kw: m.margin_high_kw });
    }
    let shade = Weather { sun: 0.0, ..*now };
    let heated = boxes.iter().filter(|b| b.sun_k > 0.0 && b.mean_kw() > 0.0).count();
    if heated > 0 && now.sun > 0.0 {
        let cooler = super::outlook(boxes, &[*now, shade], plant.common_sd.value)?;
        if let Some(then) = cooler.get(1) {
            let m = margin(plant, &then.demand)?;
            let gain_kw = m.margin_high_kw - base.margin_high_kw;
            let each = (base.load_kw - m.load_kw) / heated as f64;
            let what = format!(
                "Shade or sunset for the {heated} sun-heated boxes: {gain_kw:.0} kW more room, \
                 {each:.2} kW for each box (estimate, from the heat leak)."
            );
            out.push(Relief { what, gain_kw, margin_high_kw: m.margin_high_kw });
        }
    }
    out.sort_by(|a, b| b.gain_kw.total_cmp(&a.gain_kw));
    Ok(out)
}
