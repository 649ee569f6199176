//! The planner's whole answer: a plan with words and readings, or why there is none.

use fluids::FluidError;

use crate::action::Action;
use crate::expect::{Expect, Site, expected};
use crate::goal::Goal;
use crate::hazard::{Hazard, Hazards};
use crate::plant::{Rules, State};
use crate::search::{Plan, Step, plan};
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
        Err(none) => Ok(Answer::Impossible(why_not(start, goal, rules, none.reached))),
    }
}

fn tell(p: &Plan, rules: &Rules, site: &Site) -> Result<Vec<ToldStep>, FluidError> {
    let mut out = Vec::new();
    for (i, step) in p.steps.iter().enumerate() {
        out.push(ToldStep {
            n: i + 1,
            step: *step,
            cautions: cautions(step.action),
            instruction: instruction(step.action),
            expect: expected(step.action, &step.before, rules, site)?,
            guards: guarded(p, i, rules),
        });
    }
    Ok(out)
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

/// Things that could be brought, by what the plan could do with them.
fn could_be_brought(rules: &Rules) -> Vec<(Rules, &'static str)> {
    let r = *rules;
    let all = [
        (r.has_pump, Rules { has_pump: true, ..r }, "a vacuum pump with a vacuum gauge"),
        (r.has_recovery, Rules { has_recovery: true, ..r }, "a recovery unit"),
        (
            r.cylinder_room,
            Rules { cylinder_room: true, ..r },
            "an evacuated recovery cylinder with room for the charge, by mass",
        ),
        (
            r.has_nitrogen,
            Rules { has_nitrogen: true, ..r },
            "dry oxygen-free nitrogen with a regulator",
        ),
        (
            r.has_charge,
            Rules { has_charge: true, ..r },
            "gas of proved identity for the whole charge, and a scale",
        ),
        (
            r.receiver_room,
            Rules { receiver_room: true, ..r },
            "less charge in the unit: recover part of it by weight before pumping down",
        ),
        (
            !r.gas_suspect,
            Rules { gas_suspect: false, ..r },
            "proof of what gas it is: analyser or laboratory sample; ask ashore",
        ),
        (
            r.test_with_charge_held,
            Rules { test_with_charge_held: true, ..r },
            "maker's instruction and a local rule that let the low side be tested with the \
             charge held in the receiver",
        ),
    ];
    all.into_iter().filter(|(at_hand, ..)| !at_hand).map(|(_, r, what)| (r, what)).collect()
}

fn why_not(start: &State, goal: Goal, rules: &Rules, reached: usize) -> WhyNot {
    let mut why = WhyNot { reached, ..WhyNot::default() };
    for (richer, what) in could_be_brought(rules) {
        if plan(start, goal, &richer, Hazards::NONE).is_ok() {
            why.would_help.push(what);
        }
    }
    for h in Hazard::ALL {
        if stands_in_the_way(start, goal, rules, h) {
            why.hazards.push(h);
            if !why.would_help.contains(&h.would_help()) && why.would_help.is_empty() {
                why.would_help.push(h.would_help());
            }
        }
    }
    why
}

/// Whether a path would open if this hazard were none.
fn stands_in_the_way(start: &State, goal: Goal, rules: &Rules, h: Hazard) -> bool {
    plan(start, goal, rules, Hazards::one(h)).is_ok()
}

/// A step's key, for those who only want the order.
#[must_use]
pub fn order(steps: &[ToldStep]) -> Vec<&'static str> {
    steps.iter().map(|s| Action::id(s.step.action)).collect()
}
