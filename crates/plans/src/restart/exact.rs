//! The best starts, proved, for few boxes.
//!
//! One box after the other is given each step in which it fits beside those placed. Whatever is
//! placed later only takes room away, so the first step in which each remaining box fits now is
//! the least it can lose: when that does not beat the best known plan, the branch is left.

use super::profile::{Load, Profile};

struct Search<'a> {
    profile: &'a Profile,
    order: Vec<usize>,
    best: f64,
    found: Option<Vec<usize>>,
    nodes: usize,
}

/// The best plan below `upper`, `Some(None)` when there is none, `None` when `nodes` ran out.
pub fn best(profile: &Profile, upper: f64, nodes: &mut usize) -> Option<Option<Vec<usize>>> {
    let mut order: Vec<usize> = (0..profile.pieces.len()).collect();
    // Those with most to lose first: wrong branches show early.
    let stake = |i: usize| profile.pieces[i].loss[profile.steps] - profile.pieces[i].loss[0];
    order.sort_by(|a, b| stake(*b).total_cmp(&stake(*a)).then(a.cmp(b)));
    let mut search =
        Search { profile, order, best: upper - 1e-9 * upper.abs(), found: None, nodes: *nodes };
    let mut slots = vec![profile.steps; profile.pieces.len()];
    let done = search.go(&mut profile.empty(), &mut slots, 0, 0.0);
    *nodes = search.nodes;
    done.then_some(search.found)
}

impl Search<'_> {
    /// False when the nodes ran out.
    fn go(&mut self, load: &mut Load, slots: &mut Vec<usize>, at: usize, so_far: f64) -> bool {
        let Some(&i) = self.order.get(at) else {
            if so_far < self.best {
                self.best = so_far;
                self.found = Some(slots.clone());
            }
            return true;
        };
        if self.nodes == 0 {
            return false;
        }
        self.nodes -= 1;
        let mut rest = 0.0;
        for &j in self.order.iter().skip(at + 1) {
            rest += self.profile.pieces[j].loss[self.profile.first_fit(load, j, 0)];
        }
        let mut k = 0;
        loop {
            k = self.profile.first_fit(load, i, k);
            let loss = so_far + self.profile.pieces[i].loss[k];
            if loss + rest >= self.best {
                return true;
            }
            self.profile.put(load, i, k, 1.0);
            slots[i] = k;
            let finished = self.go(load, slots, at + 1, loss);
            self.profile.put(load, i, k, -1.0);
            slots[i] = self.profile.steps;
            if !finished {
                return false;
            }
            if k >= self.profile.steps {
                return true;
            }
            k += 1;
        }
    }
}
