//! What can be shown of the planner over everything that can be reached: used by the tests and by
//! `examples/proof.rs`, which prints it.

use crate::action::Action;
use crate::belief::{Known, looks_like, resume};
use crate::explore::Explored;
use crate::goal::Goal;
use crate::hazard::Hazards;
use crate::plant::{Rules, State};
use crate::search::Plan;
use crate::step::apply;

/// From how many states a goal can be reached.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reach {
    /// The goal.
    pub goal: Goal,
    /// States that are the goal.
    pub there: usize,
    /// States with a safe path to it, those included.
    pub can: usize,
    /// States without one.
    pub cannot: usize,
}

/// Where each state's steps into it begin, and those steps: from which state, at what cost.
fn backwards(all: &Explored) -> (Vec<u32>, Vec<(u32, u8)>) {
    let n = all.states.len();
    let mut count = vec![0_u32; n + 1];
    for (_, to, _) in &all.steps {
        if let Some(c) = count.get_mut(*to as usize + 1) {
            *c += 1;
        }
    }
    let mut sum = 0;
    for c in &mut count {
        sum += *c;
        *c = sum;
    }
    let (mut slot, mut back) = (count.clone(), vec![(0_u32, 0_u8); all.steps.len()]);
    for from in 0..n {
        for (_, to, cost) in all.steps_from(from) {
            let Some(place) = slot.get_mut(*to as usize) else { continue };
            if let Some(b) = back.get_mut(*place as usize) {
                *b = (u32::try_from(from).unwrap_or(u32::MAX), *cost);
            }
            *place += 1;
        }
    }
    (count, back)
}

/// Least cost to a goal from every state, `u32::MAX` where there is no safe path. Goals that ask
/// for a history (`checked`, `weighed`, `settled`) need it to be in the states.
#[must_use]
pub fn costs_to(all: &Explored, is_goal: impl Fn(&State) -> bool) -> Vec<u32> {
    let n = all.states.len();
    let (count, back) = backwards(all);
    let mut cost = vec![u32::MAX; n];
    // Costs of one step fit in a byte: a ring of 256 buckets is a queue by cost.
    let mut buckets: Vec<Vec<u32>> = vec![Vec::new(); 256];
    let mut waiting = 0_usize;
    for (i, s) in all.states.iter().enumerate() {
        if is_goal(s)
            && let (Some(c), Some(b)) = (cost.get_mut(i), buckets.first_mut())
        {
            *c = 0;
            b.push(u32::try_from(i).unwrap_or(u32::MAX));
            waiting += 1;
        }
    }
    let mut now = 0_u32;
    while waiting > 0 {
        let ring = (now % 256) as usize;
        let batch = buckets.get_mut(ring).map(std::mem::take).unwrap_or_default();
        waiting -= batch.len();
        if batch.is_empty() {
            now += 1;
            continue;
        }
        for v in batch {
            let v = v as usize;
            if cost.get(v) != Some(&now) {
                continue;
            }
            let (a, b) = (count.get(v).copied(), count.get(v + 1).copied());
            let (Some(a), Some(b)) = (a, b) else { continue };
            for (from, step) in back.get(a as usize..b as usize).unwrap_or_default() {
                let next = now + u32::from(*step);
                let Some(c) = cost.get_mut(*from as usize) else { continue };
                if next < *c {
                    *c = next;
                    if let Some(bucket) = buckets.get_mut((next % 256) as usize) {
                        bucket.push(*from);
                        waiting += 1;
                    }
                }
            }
        }
    }
    cost
}

/// Reach of a goal, its history left aside.
#[must_use]
pub fn reach(all: &Explored, goal: Goal, rules: &Rules) -> Reach {
    let bare = |s: &State| {
        // A check, a weighing and a watch are single steps: possible where the rest is reached.
        let mut s = *s;
        s.checked = true;
        s.weighed = true;
        s.settled = true;
        goal.reached(&s, rules)
    };
    let cost = costs_to(all, bare);
    let there = cost.iter().filter(|c| **c == 0).count();
    let can = cost.iter().filter(|c| **c != u32::MAX).count();
    Reach { goal, there, can, cannot: cost.len() - can }
}

/// What became of plans with one slip in them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Slips {
    /// Plans tried with this slip.
    pub tried: usize,
    /// A later step was refused for the hazard it would have touched.
    pub refused: usize,
    /// A later step could not be done, and said why; nothing had happened.
    pub stopped: usize,
    /// Ran to its end and reached the goal all the same.
    pub reached: usize,
    /// Ran to its end without hazard but is not at the goal: ask again from there.
    pub short: usize,
}

/// Kinds of slip.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Slip {
    /// One step left out.
    Omitted,
    /// One step done twice.
    Doubled,
    /// Two neighbouring steps changed about.
    Swapped,
}

/// Tries a slip at every place of a plan.
#[must_use]
pub fn slips(start: &State, plan: &Plan, goal: Goal, rules: &Rules, slip: Slip) -> Slips {
    let order: Vec<Action> = plan.steps.iter().map(|s| s.action).collect();
    let mut out = Slips::default();
    for i in 0..order.len() {
        let mut changed = order.clone();
        match slip {
            Slip::Omitted => {
                changed.remove(i);
            }
            Slip::Doubled => changed.insert(i, order.get(i).copied().unwrap_or(Action::Stop)),
            Slip::Swapped if i + 1 < order.len() => changed.swap(i, i + 1),
            Slip::Swapped => continue,
        }
        out.tried += 1;
        match follow(start, &changed, rules) {
            End::Refused => out.refused += 1,
            End::Stopped => out.stopped += 1,
            End::Done(s) if goal.reached(&s, rules) => out.reached += 1,
            End::Done(_) => out.short += 1,
        }
    }
    out
}

enum End {
    Refused,
    Stopped,
    Done(State),
}

/// Follows an order of steps as a person would: what is so already is passed over.
fn follow(start: &State, order: &[Action], rules: &Rules) -> End {
    let mut s = *start;
    for action in order {
        match apply(&s, *action, rules) {
            Err(why) if why.contains("already") || why.contains("stands") => {}
            Err(_) => return End::Stopped,
            Ok(out) if !out.hazards.is_empty() => return End::Refused,
            Ok(out) => s = out.after,
        }
    }
    End::Done(s)
}

/// What somebody else can do who finds a plan broken off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Interruptions {
    /// Places where it was broken off.
    pub places: usize,
    /// Of them, where no reading is needed at all.
    pub blind: usize,
    /// Places where every filling that fits what is seen has a safe way on.
    pub all_solved: usize,
    /// Places where the filling that is really there has one.
    pub true_solved: usize,
    /// Fillings over all places.
    pub fillings: usize,
    /// Of them, with a safe way on.
    pub solved: usize,
}

/// Breaks a plan off after every step; the next person sees the valves only.
#[must_use]
pub fn interruptions(
    plan: &Plan,
    goal: Goal,
    rules: &Rules,
    all: &Explored,
    known: &mut Known,
) -> Interruptions {
    let mut out = Interruptions::default();
    for step in &plan.steps {
        let set = looks_like(&step.after, all);
        let s = resume(&set, goal, rules, known);
        out.places += 1;
        out.blind += usize::from(s.readings.is_empty());
        out.all_solved += usize::from(s.solved == s.fillings);
        let truth = [crate::belief::unproved(step.after)];
        out.true_solved += resume(&truth, goal, rules, known).solved;
        out.fillings += s.fillings;
        out.solved += s.solved;
    }
    out
}

/// Replays a plan by itself: every step safe, every state as said, the goal reached.
#[must_use]
pub fn holds(start: &State, plan: &Plan, goal: Goal, rules: &Rules) -> bool {
    let mut s = *start;
    for step in &plan.steps {
        match apply(&s, step.action, rules) {
            Ok(out) if out.hazards == Hazards::NONE => s = out.after,
            _ => return false,
        }
    }
    goal.reached(&s, rules)
}
