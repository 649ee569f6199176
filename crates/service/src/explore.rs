//! Every state that can be reached safely, with every safe step between them.

use crate::action::{self, Action};
use crate::goal::Goal;
use crate::plant::{Rules, State};
use crate::search::Index;
use crate::step::Here;

/// The whole of what can be reached.
pub struct Explored {
    /// States, the start first.
    pub states: Vec<State>,
    /// Where each state's safe steps begin in [`Self::steps`]; one more at the end.
    pub first: Vec<u32>,
    /// Safe steps: action by its place in [`action::all`], the state it leads to, its cost.
    pub steps: Vec<(u8, u32, u8)>,
    /// Steps refused for a hazard.
    pub refused: u64,
    /// Steps that are not possible where they were tried.
    pub impossible: u64,
}

impl Explored {
    /// Safe steps from a state, by its number.
    #[must_use]
    pub fn steps_from(&self, state: usize) -> &[(u8, u32, u8)] {
        let at = |i: usize| self.first.get(i).copied().unwrap_or(0) as usize;
        self.steps.get(at(state)..at(state + 1)).unwrap_or_default()
    }
}

/// Forgets the history that no hazard asks for.
#[must_use]
pub fn physical(mut s: State) -> State {
    Goal::GaugesOn.forget(&mut s);
    s
}

/// Looks at every safe step from every state reached; stops at `most` states.
#[must_use]
pub fn explore(start: &[State], rules: &Rules, most: usize) -> Explored {
    let mut e = Explored {
        states: Vec::new(),
        first: Vec::new(),
        steps: Vec::new(),
        refused: 0,
        impossible: 0,
    };
    let mut index = Index::default();
    let actions: Vec<Action> = action::ALL.to_vec();
    for s in start {
        let s = physical(*s);
        index.entry(s.packed()).or_insert_with(|| {
            e.states.push(s);
            u32::try_from(e.states.len() - 1).unwrap_or(u32::MAX)
        });
    }
    let mut at = 0;
    while let Some(s) = e.states.get(at).copied() {
        at += 1;
        e.first.push(u32::try_from(e.steps.len()).unwrap_or(u32::MAX));
        let here = Here::new(&s, rules);
        for (n, action) in actions.iter().enumerate() {
            let Ok(out) = here.apply(*action) else {
                e.impossible += 1;
                continue;
            };
            if !out.hazards.is_empty() {
                e.refused += 1;
                continue;
            }
            let after = physical(out.after);
            if after == s {
                continue;
            }
            let fresh = u32::try_from(e.states.len()).unwrap_or(u32::MAX);
            let to = *index.entry(after.packed()).or_insert(fresh);
            if to == fresh {
                e.states.push(after);
            }
            let cost = u8::try_from(out.cost()).unwrap_or(u8::MAX);
            e.steps.push((u8::try_from(n).unwrap_or(u8::MAX), to, cost));
        }
        if e.states.len() > most {
            break;
        }
    }
    e.first.push(u32::try_from(e.steps.len()).unwrap_or(u32::MAX));
    e
}
