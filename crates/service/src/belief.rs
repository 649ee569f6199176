//! Going on where nobody knows what is inside: a set of fillings that fit what is seen.
//!
//! Whoever comes later sees valves, hoses and machines. What was proved (a hold, a test) counts as
//! not proved. A step is taken only where it is safe for every filling of the set; reading the
//! gauges (pressure, vacuum gauge, gas detector and oxygen meter at the manifold) splits the set.

use std::collections::{BTreeMap, VecDeque};

use crate::action::{self, Action};
use crate::explore::Explored;
use crate::flow::{component, members};
use crate::goal::Goal;
use crate::hazard::Hazards;
use crate::plant::{CIRCUIT, Content, Rules, State, Volume};
use crate::search::{Index, plan};
use crate::step::Here;

/// Sets looked at before the search for one more splitting reading is given up.
const SETS_MOST: usize = 4000;

/// What to do next, and after each reading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Strategy {
    /// Steps that are safe whatever is inside.
    pub steps: Vec<Action>,
    /// Then read, and go on by what is read; empty when the steps end the matter.
    pub readings: Vec<Reading>,
    /// Fillings that this deals with.
    pub fillings: usize,
    /// Of them, those from which the goal is reached.
    pub solved: usize,
}

/// One outcome of reading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reading {
    /// Contents of low hose, high hose and centre as read.
    pub shows: [Content; 3],
    /// What then.
    pub then: Strategy,
}

/// A state as somebody knows it who was not there: nothing proved.
#[must_use]
pub fn unproved(mut s: State) -> State {
    s.settled = false;
    s.tested = false;
    s.weighed = false;
    s.checked = false;
    for c in &mut s.content {
        if *c == Content::VacuumHeld {
            *c = Content::Vacuum;
        }
    }
    s
}

/// All fillings that can have come about safely and look like this state.
#[must_use]
pub fn looks_like(seen: &State, all: &Explored) -> Vec<State> {
    let key = seen.seen();
    let mut found: BTreeMap<u64, State> = BTreeMap::new();
    for s in all.states.iter().filter(|s| s.seen() == key && s.joint == seen.joint) {
        let s = unproved(*s);
        found.insert(s.packed(), s);
    }
    found.into_values().collect()
}

/// What gauges, detector and oxygen meter show at the manifold.
#[must_use]
pub fn shown(s: &State, rules: &Rules) -> [Content; 3] {
    [Volume::LowHose, Volume::HighHose, Volume::Centre].map(|hose| {
        let circuit = members(component(s, rules, hose) & CIRCUIT).next();
        s.of(circuit.unwrap_or(hose))
    })
}

/// Remembers what single states lead to.
#[derive(Default)]
pub struct Known(BTreeMap<(Goal, u64), bool>);

/// Finds what to do for a set of fillings.
#[must_use]
pub fn resume(set: &[State], goal: Goal, rules: &Rules, known: &mut Known) -> Strategy {
    if let [one] = set {
        let solved = known
            .0
            .get(&(goal, one.packed()))
            .copied()
            .unwrap_or_else(|| plan(one, goal, rules, Hazards::NONE).is_ok());
        known.0.insert((goal, one.packed()), solved);
        return Strategy {
            steps: Vec::new(),
            readings: Vec::new(),
            fillings: 1,
            solved: usize::from(solved),
        };
    }
    search(set, goal, rules, known)
}

struct Node {
    set: Vec<State>,
    from: usize,
    action: Option<Action>,
}

fn search(start: &[State], goal: Goal, rules: &Rules, known: &mut Known) -> Strategy {
    let mut nodes = vec![Node { set: start.to_vec(), from: 0, action: None }];
    let mut index = Index::default();
    index.insert(key(start), 0);
    let mut open = VecDeque::from([0_usize]);
    let none =
        Strategy { steps: Vec::new(), readings: Vec::new(), fillings: start.len(), solved: 0 };
    let mut best = none;
    while let Some(at) = open.pop_front() {
        let Some(node) = nodes.get(at) else { break };
        let set = node.set.clone();
        if let Some(found) = judge(&set, start.len(), goal, rules, known) {
            if found.solved > best.solved {
                best = Strategy { steps: trace(&nodes, at), ..found };
            }
            if best.solved == start.len() {
                return best;
            }
            if !best.readings.is_empty() {
                // Reading tells more than another blind step would.
                return best;
            }
        }
        if nodes.len() > SETS_MOST {
            continue;
        }
        for action in action::all() {
            let Some(after) = step_all(&set, action, rules) else { continue };
            let fresh = u32::try_from(nodes.len()).unwrap_or(u32::MAX);
            if *index.entry(key(&after)).or_insert(fresh) == fresh {
                nodes.push(Node { set: after, from: at, action: Some(action) });
                open.push_back(nodes.len() - 1);
            }
        }
    }
    best
}

/// The goal for all, one filling left, or a reading that splits the set.
fn judge(
    set: &[State],
    fillings: usize,
    goal: Goal,
    rules: &Rules,
    known: &mut Known,
) -> Option<Strategy> {
    let done = Strategy { steps: Vec::new(), readings: Vec::new(), fillings, solved: fillings };
    if set.iter().all(|s| goal.reached(s, rules)) {
        return Some(done);
    }
    if set.len() == 1 {
        let then = resume(set, goal, rules, known);
        return Some(Strategy { solved: then.solved * fillings, ..done });
    }
    let mut parts: BTreeMap<[Content; 3], Vec<State>> = BTreeMap::new();
    for s in set {
        parts.entry(shown(s, rules)).or_default().push(*s);
    }
    if parts.len() < 2 {
        return None;
    }
    let readings: Vec<Reading> = parts
        .into_iter()
        .map(|(shows, part)| Reading { shows, then: resume(&part, goal, rules, known) })
        .collect();
    let solved = readings.iter().map(|r| r.then.solved).sum();
    let kept: usize = readings.iter().map(|r| r.then.fillings).sum();
    // Steps may have made fillings alike; all that were alike share their fate.
    let solved = if solved == kept { fillings } else { solved };
    Some(Strategy { readings, solved, ..done })
}

/// The set after a step that is possible and safe for every filling.
fn step_all(set: &[State], action: Action, rules: &Rules) -> Option<Vec<State>> {
    let mut after: BTreeMap<u64, State> = BTreeMap::new();
    for s in set {
        let out = Here::new(s, rules).apply(action).ok()?;
        if !out.hazards.is_empty() {
            return None;
        }
        after.insert(out.after.packed(), out.after);
    }
    Some(after.into_values().collect())
}

fn key(set: &[State]) -> u64 {
    // Sets are sorted; an unlucky equal key only loses a path, never makes one unsafe.
    set.iter().fold(0xcbf2_9ce4_8422_2325, |h, s| {
        (h ^ s.packed()).wrapping_mul(0x0000_0100_0000_01b3).rotate_left(17)
    })
}

fn trace(nodes: &[Node], end: usize) -> Vec<Action> {
    let mut steps = Vec::new();
    let mut at = end;
    while let Some(node) = nodes.get(at) {
        let Some(action) = node.action else { break };
        steps.push(action);
        at = node.from;
    }
    steps.reverse();
    steps
}
