//! The cheapest safe path from a state to a goal, or the proof that there is none.

use std::cmp::Reverse;
use std::collections::{BinaryHeap, HashMap};
use std::hash::{BuildHasherDefault, Hasher};

use crate::action::{self, Action};
use crate::estimate::at_least;
use crate::goal::Goal;
use crate::hazard::Hazards;
use crate::plant::{Rules, State};
use crate::step::Here;

/// Spreads the bits of a packed state; the standard hasher is five times slower here.
#[derive(Default)]
pub struct Mix(u64);

impl Hasher for Mix {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, bytes: &[u8]) {
        for b in bytes {
            self.write_u64(u64::from(*b));
        }
    }

    fn write_u64(&mut self, v: u64) {
        let x = (self.0 ^ v).wrapping_mul(0x9e37_79b9_7f4a_7c15);
        self.0 = x ^ (x >> 29);
    }
}

/// Numbers of states by their packed form.
pub type Index = HashMap<u64, u32, BuildHasherDefault<Mix>>;

/// One step of a plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Step {
    /// The plant before.
    pub before: State,
    /// What to do.
    pub action: Action,
    /// The plant afterwards.
    pub after: State,
    /// Refrigerant lost by it, g.
    pub lost_g: u32,
    /// Trouble of it.
    pub effort: u32,
}

/// A path.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Plan {
    /// In order.
    pub steps: Vec<Step>,
    /// States the search settled before it was sure.
    pub looked_at: usize,
}

/// A node of the search: how it was reached.
struct Node {
    state: State,
    from: u32,
    action: Action,
    cost: u32,
    done: bool,
}

/// The search ended without a path: so many states can be reached, and none is the goal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NoPath {
    /// States that can be reached safely.
    pub reached: usize,
    /// Hazards for which steps were refused on the way.
    pub refused: Hazards,
}

/// States looked at for each hazard that might be what stands in the way.
pub const STATES_FOR_WHY: usize = 200_000;

/// Cheapest path that touches no hazard outside `allowed`.
///
/// # Errors
/// [`NoPath`]: every state that can be reached was looked at.
pub fn plan(start: &State, goal: Goal, rules: &Rules, allowed: Hazards) -> Result<Plan, NoPath> {
    plan_within(start, goal, rules, allowed, usize::MAX)
}

/// As [`plan`], giving up after `most` states.
///
/// # Errors
/// [`NoPath`]: none found among so many.
pub fn plan_within(
    start: &State,
    goal: Goal,
    rules: &Rules,
    allowed: Hazards,
    most: usize,
) -> Result<Plan, NoPath> {
    let mut refused = Hazards::NONE;
    let mut first = *start;
    goal.forget(&mut first);
    let mut nodes =
        vec![Node { state: first, from: 0, action: Action::Lock, cost: 0, done: false }];
    let mut index = Index::default();
    index.insert(first.packed(), 0);
    let mut open = BinaryHeap::from([Reverse((0_u32, 0_u32))]);
    let mut looked_at = 0;
    while let Some(Reverse((_, number))) = open.pop() {
        let Some(node) = nodes.get_mut(number as usize) else { continue };
        if node.done {
            continue;
        }
        node.done = true;
        let (state, cost) = (node.state, node.cost);
        looked_at += 1;
        if looked_at > most {
            break;
        }
        if goal.reached(&state, rules) {
            return Ok(Plan { steps: trace(&nodes, number, rules), looked_at });
        }
        let here = Here::new(&state, rules);
        for action in action::all() {
            let Ok(out) = here.apply(action) else { continue };
            let bad = out.hazards.without(allowed);
            refused = refused.with(bad);
            if !bad.is_empty() || out.after == state {
                continue;
            }
            let mut out = out;
            goal.forget(&mut out.after);
            let next = cost + out.cost();
            let fresh = u32::try_from(nodes.len()).unwrap_or(u32::MAX);
            let n = *index.entry(out.after.packed()).or_insert(fresh);
            let made = Node { state: out.after, from: number, action, cost: next, done: false };
            match nodes.get_mut(n as usize) {
                None => nodes.push(made),
                Some(old) if next < old.cost => *old = made,
                Some(_) => continue,
            }
            open.push(Reverse((next + at_least(goal, &out.after, rules), n)));
        }
    }
    Err(NoPath { reached: looked_at, refused })
}

fn trace(nodes: &[Node], end: u32, rules: &Rules) -> Vec<Step> {
    let mut steps = Vec::new();
    let mut n = end;
    while n != 0 {
        let Some(node) = nodes.get(n as usize) else { break };
        let Some(from) = nodes.get(node.from as usize) else { break };
        if let Ok(out) = Here::new(&from.state, rules).apply(node.action) {
            steps.push(Step {
                before: from.state,
                action: node.action,
                after: out.after,
                lost_g: out.lost_g,
                effort: out.effort,
            });
        }
        n = node.from;
    }
    steps.reverse();
    steps
}
