//! The planner's whole answer: a plan with words and readings, or why there is none.

use fluids::FluidError;

use crate::action::Action;
use crate::expect::{Expect, Site, expected, left_by_recovery_g};
use crate::flow::{component, members};
use crate::goal::Goal;
use crate::hazard::{Hazard, Hazards};
use crate::plant::{CIRCUIT, Content, Rules, State, Volume};
use crate::search::{NoPath, Plan, STATES_FOR_WHY, Step, plan, plan_within};
use crate::words::{cautions, instruction};

/// A step with all a person needs for it.
#[derive(Debug, Clone, PartialEq)]
pub struct ToldStep {
    /// 1, 2, 3 …
    pub n: usize,
    /// The step itself.
    pub step: Step,
    /// What to be told first.
    pub cautions: &'static [&'static str],
    /// What to do.
    pub instruction: &'static str,
    /// What the gauges should show.
    pub expect: Vec<Expect>,
    /// Refrigerant that a recovery left and that goes out at this step, g; an estimate.
    pub left_g: f64,
    /// What would happen if it were taken one step too early or left out: hazards that the next
    /// steps would touch without it.
    pub guards: Hazards,
}

/// Why there is no path, and what stands in the way.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct WhyNot {
    /// States that can be reached safely from here; all were looked at.
    pub reached: usize,
    /// One hazard which, were it not there, would open a path.
    pub hazards: Vec<Hazard>,
    /// One thing which would open a path.
    pub would_help: Vec<&'static str>,
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub enum Answer {
    /// A path.
    Possible(Vec<ToldStep>),
    /// None.
    Impossible(WhyNot),
}

/// Answers from a state.
///
/// # Errors
/// The refrigerant is unknown or the ambient is outside its tables.
pub fn answer(start: &State, goal: Goal, rules: &Rules, site: &Site) -> Result<Answer, FluidError> {
    match plan(start, goal, rules, Hazards::NONE) {
        Ok(p) => Ok(Answer::Possible(tell(&p, rules, site)?)),
        Err(none) => Ok(Answer::Impossible(why_not(start, goal, rules, none))),
    }
}

fn tell(p: &Plan, rules: &Rules, site: &Site) -> Result<Vec<ToldStep>, FluidError> {
    let mut out = Vec::new();
    for (i, step) in p.steps.iter().enumerate() {
        out.push(ToldStep {
            n: i + 1,
            step: *step,
            cautions: cautions(step.action, reaches_circuit(&step.before, rules)),
            instruction: instruction(step.action),
            expect: expected(step.action, &step.before, rules, site)?,
            left_g: left(step, rules, site)?,
            guards: guarded(p, i, rules),
        });
    }
    Ok(out)
}

/// What a recovery left in the volumes that are now pumped out or filled with nitrogen.
fn left(step: &Step, rules: &Rules, site: &Site) -> Result<f64, FluidError> {
    let lets_out = matches!(
        step.action,
        Action::Evacuate | Action::BreakWithNitrogen | Action::TestWithNitrogen
    );
    let set = component(&step.before, rules, Volume::Centre) & CIRCUIT;
    let has = |v: Volume| set & v.bit() != 0 && step.before.of(v) == Content::Recovered;
    if !lets_out || !members(set).any(has) {
        return Ok(0.0);
    }
    left_by_recovery_g(site, has(Volume::HighSide))
}

fn reaches_circuit(s: &State, rules: &Rules) -> bool {
    component(s, rules, Volume::Centre) & CIRCUIT != 0
}

/// The hazard that the rest of the plan would run into if this step were left out.
fn guarded(p: &Plan, left_out: usize, rules: &Rules) -> Hazards {
    let Some(skipped) = p.steps.get(left_out) else { return Hazards::NONE };
    let mut s = skipped.before;
    for step in p.steps.iter().skip(left_out + 1) {
        let Ok(out) = crate::step::apply(&s, step.action, rules) else { continue };
        if !out.hazards.is_empty() {
            return out.hazards;
        }
        s = out.after;
    }
    Hazards::NONE
}

/// One thing that is not at hand, what is like with it, and the hazard that it takes away.
struct Missing {
    with: Rules,
    what: &'static str,
    hazard: Option<Hazard>,
}

/// Things that could be brought.
fn missing(rules: &Rules) -> Vec<Missing> {
    let r = *rules;
    let mut out = Vec::new();
    let mut add = |at_hand: bool, with: Rules, what: &'static str, hazard: Option<Hazard>| {
        if !at_hand {
            out.push(Missing { with, what, hazard });
        }
    };
    let pump = Rules { has_pump: true, ..r };
    add(r.has_pump, pump, "a vacuum pump with a vacuum gauge", None);
    let recovery = Rules { has_recovery: true, ..r };
    add(r.has_recovery, recovery, "a recovery unit with its cylinder", None);
    let room = Rules { cylinder_room: true, ..r };
    let what = "an evacuated recovery cylinder with room for the charge, by mass";
    add(r.cylinder_room, room, what, Some(Hazard::CylinderOverfilled));
    let nitrogen = Rules { has_nitrogen: true, ..r };
    add(r.has_nitrogen, nitrogen, "dry oxygen-free nitrogen with a regulator", None);
    let charge = Rules { has_charge: true, ..r };
    let what = "gas of proved identity for the whole charge, and a scale";
    add(r.has_charge, charge, what, None);
    let receiver = Rules { receiver_room: true, ..r };
    let what = "less charge in the unit: recover part of it by weight before pumping down";
    add(r.receiver_room, receiver, what, Some(Hazard::ReceiverOverfull));
    let known = Rules { gas_suspect: false, ..r };
    let what = "proof of what gas it is: analyser or laboratory sample; ask ashore";
    add(!r.gas_suspect, known, what, Some(Hazard::SuspectGas));
    let held = Rules { test_with_charge_held: true, ..r };
    let what = "maker's instruction and a local rule that let the low side be tested with the \
                charge held in the receiver";
    add(r.test_with_charge_held, held, what, Some(Hazard::TestWithChargeIn));
    out
}

fn why_not(start: &State, goal: Goal, rules: &Rules, none: NoPath) -> WhyNot {
    let mut why = WhyNot { reached: none.reached, ..WhyNot::default() };
    for m in missing(rules) {
        if plan(start, goal, &m.with, Hazards::NONE).is_ok() {
            why.would_help.push(m.what);
            why.hazards.extend(m.hazard);
        }
    }
    // Nothing that could be brought: then which danger is it that stands in the way?
    if why.would_help.is_empty() {
        let hit: Vec<Hazard> =
            none.refused.iter().filter(|h| stands_in_the_way(start, goal, rules, *h)).collect();
        why.would_help.extend(hit.first().map(|h| h.would_help()));
        why.hazards = hit;
    }
    why
}

/// Whether a path would open if this hazard were none.
fn stands_in_the_way(start: &State, goal: Goal, rules: &Rules, h: Hazard) -> bool {
    plan_within(start, goal, rules, Hazards::one(h), STATES_FOR_WHY).is_ok()
}

/// A step's key, for those who only want the order.
#[must_use]
pub fn order(steps: &[ToldStep]) -> Vec<&'static str> {
    steps.iter().map(|s| Action::id(s.step.action)).collect()
}
