//! A restart in times, loads and words.

use super::input::RestartTask;
use super::profile::{Blocked, Load, Profile};
use crate::{Refused, hours_in_words};

/// A restart plan, complete for showing.
#[derive(Debug, Clone, PartialEq)]
pub struct Restart {
    /// Every box, by start; those that cannot be started last.
    pub starts: Vec<Start>,
    /// Load of the plant against its limits: a point for each step in which something changes.
    pub stair: Vec<StairPoint>,
    /// Load of each feeder.
    pub feeders: Vec<FeederStair>,
    /// What is lost, in the task's value unit.
    pub loss: f64,
    /// What would be lost if no box were started within the horizon.
    pub loss_if_none: f64,
    /// What the plan is judged by: `loss` and the price of box-hours.
    pub objective: f64,
    /// No restart on these steps has a smaller objective.
    pub lower_bound: f64,
    /// `objective` less `lower_bound`.
    pub gap: f64,
    /// True when the plan is proved best on these steps.
    pub exact: bool,
    /// Hour at which the last box that starts is on; `None` when none starts.
    pub done_at_h: Option<f64>,
    /// How many boxes stay without power over the horizon.
    pub left_off: usize,
    /// How it stands, in words.
    pub words: String,
    /// What in it is an estimate.
    pub estimates: Vec<String>,
    /// To be shown above the plan.
    pub cautions: Vec<String>,
}

/// What is said before anything is switched on. The stand beside the socket and the interlock are
/// the IMO CSS Code's, Annex 14 §8; the rest is common practice.
const CAUTIONS: [&str; 3] = [
    "The engineer of the watch decides on every step; watch voltage and frequency, wait until they \
     are steady.",
    "Do not stand in front of a socket when it goes live; plug home and dry first, then the \
     interlock to ON.",
    "A unit whose breaker trips stays off until somebody has looked at it.",
];

/// The start of one box.
#[derive(Debug, Clone, PartialEq)]
pub struct Start {
    /// Box number.
    pub id: String,
    /// Its feeder.
    pub feeder: String,
    /// Step, from 0; `None`: not within the horizon.
    pub step: Option<usize>,
    /// Hour of that step.
    pub hour: Option<f64>,
    /// Latest start at which nothing more is lost than now, h; `None` when waiting costs nothing.
    pub safe_until_h: Option<f64>,
    /// What is lost on it.
    pub loss: f64,
    /// Why then, in words.
    pub why: String,
}

/// Load of the plant in one step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StairPoint {
    /// Hours from now.
    pub hour: f64,
    /// Boxes started in this step.
    pub started: usize,
    /// Running power of boxes, kW, and its limit.
    pub kw: f64,
    /// Limit of `kw`.
    pub limit_kw: f64,
    /// Running apparent power of boxes, kVA.
    pub kva: f64,
    /// Limit of `kva`.
    pub limit_kva: f64,
    /// Power added in this step, kW.
    pub step_kw: f64,
    /// Limit of `step_kw`.
    pub limit_step_kw: f64,
    /// Running and inrush for a moment, kVA.
    pub peak_kva: f64,
    /// Limit of `peak_kva`.
    pub limit_peak_kva: f64,
}

/// Load of one feeder.
#[derive(Debug, Clone, PartialEq)]
pub struct FeederStair {
    /// Name.
    pub id: String,
    /// Limit of the running load, kVA.
    pub limit_kva: f64,
    /// (hour, running load kVA) at each step in which it changes.
    pub points: Vec<[f64; 2]>,
}

/// Puts `slots` into words; `lower` bounds the objective of any plan.
pub fn describe(
    task: &RestartTask,
    profile: &Profile,
    slots: &[usize],
    lower: f64,
    exact: bool,
) -> Result<Restart, Refused> {
    let mut load = profile.empty();
    for (i, &k) in slots.iter().enumerate() {
        profile.put(&mut load, i, k, 1.0);
    }
    let mut order: Vec<usize> = (0..slots.len()).collect();
    order.sort_by_key(|&i| (slots[i], i));
    let mut starts = Vec::new();
    for &i in &order {
        starts.push(start(task, profile, &mut load, i, slots[i]));
    }
    let objective = profile.total(slots);
    let left_off = slots.iter().filter(|k| **k >= profile.steps).count();
    let last = slots.iter().filter(|k| **k < profile.steps).max();
    let mut out = Restart {
        stair: stair(task, profile, &load, slots),
        feeders: feeder_stairs(task, profile, &load),
        loss: starts.iter().map(|s| s.loss).sum(),
        loss_if_none: task.boxes.iter().map(|b| b.loss.worst()).sum(),
        starts,
        objective,
        lower_bound: lower,
        gap: (objective - lower).max(0.0),
        exact,
        done_at_h: last.map(|&k| task.hour_of(k)),
        left_off,
        words: String::new(),
        estimates: estimates(task),
        cautions: CAUTIONS.map(str::to_owned).to_vec(),
    };
    out.words = words(task, &out);
    Ok(out)
}

fn start(task: &RestartTask, profile: &Profile, load: &mut Load, i: usize, slot: usize) -> Start {
    let b = &task.boxes[i];
    let hour = (slot < profile.steps).then(|| task.hour_of(slot));
    // Hours before the blackout are nobody's to use.
    let safe_until_h = b.loss.safe_until_h().map(|h| h.max(0.0));
    let loss = hour.map_or(b.loss.worst(), |h| b.loss.at(h));
    let mut why = match safe_until_h {
        Some(h) if h > 0.0 => format!("nothing lost if on within {}", hours_in_words(h)),
        Some(_) => "every hour without power costs".to_owned(),
        None => "waiting costs nothing".to_owned(),
    };
    if slot > 0 {
        // What stood in the way one step earlier, everything else as planned.
        profile.put(load, i, slot, -1.0);
        let earlier = profile.fits(load, i, slot - 1);
        profile.put(load, i, slot, 1.0);
        let reason = match earlier {
            Err((blocked, _)) => blocked_words(blocked, &task.feeders[b.feeder].id),
            Ok(()) => "others come first".to_owned(),
        };
        why.push_str(&match hour {
            Some(_) => format!("; not earlier: {reason}"),
            None => format!(
                "; no start within {}: {reason}; bring another set on the board or take other \
                 boxes off",
                hours_in_words(task.horizon_h)
            ),
        });
    }
    if loss > b.loss.least() + 1e-9 {
        why.push_str(&format!(
            "; {:.1} {} expected lost by waiting",
            loss - b.loss.least(),
            task.value_unit
        ));
    }
    Start {
        id: b.id.clone(),
        feeder: task.feeders[b.feeder].id.clone(),
        step: hour.map(|_| slot),
        hour,
        safe_until_h,
        loss,
        why,
    }
}

fn blocked_words(blocked: Blocked, feeder: &str) -> String {
    match blocked {
        Blocked::Plant => "the generators are full".to_owned(),
        Blocked::Feeder => format!("{feeder} is full"),
        Blocked::Step => "the step before takes all the load that one step may add".to_owned(),
        Blocked::Inrush => "the inrush would be too much at once".to_owned(),
        Blocked::NotLive => format!("{feeder} is not live before"),
    }
}

fn stair(task: &RestartTask, profile: &Profile, load: &Load, slots: &[usize]) -> Vec<StairPoint> {
    let mut out: Vec<StairPoint> = Vec::new();
    for (k, limit) in profile.limits.iter().enumerate() {
        let started = slots.iter().filter(|s| **s == k).count();
        let point = StairPoint {
            hour: task.hour_of(k),
            started,
            kw: load.kw_at(k),
            limit_kw: limit.kw,
            kva: load.kva_at(k),
            limit_kva: limit.kva,
            step_kw: load.step_kw_at(k),
            limit_step_kw: limit.step_kw,
            peak_kva: load.peak_kva_at(k),
            limit_peak_kva: limit.inrush_kva,
        };
        let same = out.last().is_some_and(|p| {
            started == 0
                && p.started == 0
                && (p.kw - point.kw).abs() < 1e-6
                && (p.kva - point.kva).abs() < 1e-6
                && p.limit_kw == point.limit_kw
        });
        if !same {
            out.push(point);
        }
    }
    out
}

fn feeder_stairs(task: &RestartTask, profile: &Profile, load: &Load) -> Vec<FeederStair> {
    let line = |(f, feeder): (usize, &super::input::Feeder)| {
        let mut points: Vec<[f64; 2]> = Vec::new();
        for k in 0..profile.steps {
            let kva = load.feeder_kva_at(f, k);
            if points.last().is_none_or(|p| (p[1] - kva).abs() > 1e-6) {
                points.push([task.hour_of(k), kva]);
            }
        }
        FeederStair { id: feeder.id.clone(), limit_kva: feeder.limit_kva, points }
    };
    task.feeders.iter().enumerate().map(line).collect()
}

fn words(task: &RestartTask, r: &Restart) -> String {
    let on = task.boxes.len() - r.left_off;
    let mut text = match r.done_at_h {
        Some(h) => format!(
            "{on} of {} boxes on within {}; {:.1} {} expected lost",
            task.boxes.len(),
            hours_in_words(h),
            r.loss,
            task.value_unit
        ),
        None => "no box can be started: there is no room under the limits".to_owned(),
    };
    if r.left_off > 0 {
        text.push_str(&format!("; {} stay without power: see their reasons", r.left_off));
    }
    text.push_str(&if r.exact {
        ". Proved: no other order of these steps loses less.".to_owned()
    } else {
        format!(
            ". Searched, not proved: the best may be up to {:.1} {} better.",
            r.gap, task.value_unit
        )
    });
    text
}

fn estimates(task: &RestartTask) -> Vec<String> {
    let mut out = Vec::new();
    let guessed = task.boxes.iter().filter(|b| b.inrush_kva.is_estimate()).count();
    if guessed > 0 {
        out.push(format!("inrush of {guessed} of {} boxes: estimate", task.boxes.len()));
    }
    for f in task.feeders.iter().filter(|f| f.inrush_limit_kva.is_estimate()) {
        out.push(format!("{}: inrush limit {:.0} kVA: estimate", f.id, f.inrush_limit_kva.value));
    }
    for c in &task.capacity {
        if c.step_kw.is_estimate() {
            out.push(format!(
                "load step of {:.0} kW from {}: estimate",
                c.step_kw.value,
                hours_in_words(c.from_h)
            ));
        }
        if c.inrush_kva.is_estimate() {
            out.push(format!(
                "inrush limit of {:.0} kVA from {}: estimate",
                c.inrush_kva.value,
                hours_in_words(c.from_h)
            ));
        }
    }
    out
}
