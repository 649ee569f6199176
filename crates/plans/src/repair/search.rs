//! A good plan: build one, then take jobs out and put them back better.

use super::prepare::Prepared;
use crate::chance::Dice;

/// Seed of the search; fixed, so that the same task gives the same plan.
const SEARCH_SEED: u64 = 7_021;

/// A plan being built, with the loss of each list kept.
#[derive(Debug, Clone)]
struct Draft {
    lists: Vec<Vec<usize>>,
    losses: Vec<f64>,
    /// Open jobs in no list.
    left: Vec<usize>,
}

impl Draft {
    fn total(&self, prep: &Prepared) -> f64 {
        let left: f64 = self.left.iter().map(|&j| prep.jobs[j].loss.worst()).sum();
        self.losses.iter().sum::<f64>() + left
    }

    fn refresh(&mut self, prep: &Prepared, p: usize) {
        self.losses[p] = prep.list_loss(p, &self.lists[p]);
    }

    /// The cheapest place for `j`: change of total, person, position.
    fn best_place(&self, prep: &Prepared, j: usize) -> Option<(f64, usize, usize)> {
        let mut best: Option<(f64, usize, usize)> = None;
        if !self.has_parts_for(prep, j) {
            return None;
        }
        for p in 0..self.lists.len() {
            if !prep.people[p].can[j] {
                continue;
            }
            let mut list = self.lists[p].clone();
            list.push(j);
            for at in (0..list.len()).rev() {
                let change = prep.list_loss(p, &list) - self.losses[p] - prep.jobs[j].loss.worst();
                if best.is_none_or(|b| change < b.0 - 1e-12) {
                    best = Some((change, p, at));
                }
                if at > 0 {
                    list.swap(at, at - 1);
                }
            }
        }
        best
    }

    fn has_parts_for(&self, prep: &Prepared, j: usize) -> bool {
        prep.stock.iter().enumerate().all(|(kind, &have)| {
            let used: u32 = self.lists.iter().flatten().map(|&i| prep.jobs[i].parts[kind]).sum();
            used + prep.jobs[j].parts[kind] <= have
        })
    }

    /// Puts jobs from `left` where they cost least, the one with the greatest gain first.
    fn fill(&mut self, prep: &Prepared) {
        loop {
            let mut best: Option<(f64, usize, usize, usize)> = None;
            for (k, &j) in self.left.iter().enumerate() {
                if let Some((change, p, at)) = self.best_place(prep, j)
                    && best.is_none_or(|b| change < b.0)
                {
                    best = Some((change, k, p, at));
                }
            }
            let Some((_, k, p, at)) = best else { return };
            let j = self.left.remove(k);
            self.lists[p].insert(at, j);
            self.refresh(prep, p);
        }
    }

    /// Puts the jobs of `order` one after the other where they cost least.
    fn fill_in_order(&mut self, prep: &Prepared, order: &[usize]) {
        for &j in order {
            if let Some((_, p, at)) = self.best_place(prep, j) {
                self.left.retain(|&l| l != j);
                self.lists[p].insert(at, j);
                self.refresh(prep, p);
            }
        }
    }

    fn take_out(&mut self, prep: &Prepared, j: usize) {
        for p in 0..self.lists.len() {
            if self.lists[p].contains(&j) {
                self.lists[p].retain(|&l| l != j);
                self.refresh(prep, p);
                self.left.push(j);
            }
        }
    }

    /// Takes each job out and puts it back, until nothing gets better.
    fn settle(&mut self, prep: &Prepared, open: &[usize]) {
        for _ in 0..20 {
            let before = self.total(prep);
            for &j in open {
                let keep = self.clone();
                self.take_out(prep, j);
                self.fill_in_order(prep, &[j]);
                let others = self.left.clone();
                if others.iter().any(|&l| l != j) {
                    self.fill(prep);
                }
                if self.total(prep) > keep.total(prep) + 1e-12 {
                    *self = keep;
                }
            }
            self.swap_neighbours(prep);
            if self.total(prep) >= before - 1e-9 * before.abs().max(1e-9) {
                return;
            }
        }
    }

    fn swap_neighbours(&mut self, prep: &Prepared) {
        for p in 0..self.lists.len() {
            for at in 1..self.lists[p].len() {
                self.lists[p].swap(at - 1, at);
                let loss = prep.list_loss(p, &self.lists[p]);
                if loss < self.losses[p] - 1e-12 {
                    self.losses[p] = loss;
                } else {
                    self.lists[p].swap(at - 1, at);
                }
            }
        }
    }
}

/// A plan over the `open` jobs: greedy, settled, then `rounds` of taking a few jobs out and
/// putting them back, keeping what is better.
pub fn good_plan(prep: &Prepared, open: &[usize], rounds: usize) -> Vec<Vec<usize>> {
    let people = prep.people.len();
    let mut empty =
        Draft { lists: vec![Vec::new(); people], losses: vec![0.0; people], left: open.to_vec() };
    if open.is_empty() {
        return empty.lists;
    }
    let mut by_need = open.to_vec();
    let half = |j: &usize| prep.jobs[*j].loss.half_lost_h().unwrap_or(f64::INFINITY);
    by_need.sort_by(|a, b| half(a).total_cmp(&half(b)));
    let mut best = empty.clone();
    best.fill_in_order(prep, &by_need);
    best.settle(prep, open);
    // The greedy start looks at every pairing; it is left out where that would take long.
    if open.len() <= 40 {
        empty.fill(prep);
        empty.settle(prep, open);
        if empty.total(prep) < best.total(prep) {
            best = empty;
        }
    }
    let mut dice = Dice::new(SEARCH_SEED);
    for _ in 0..rounds {
        if open.len() < 3 {
            break;
        }
        let mut trial = best.clone();
        let mut out = open.to_vec();
        dice.shuffle(&mut out);
        out.truncate((2 + dice.below(3)).min(open.len()));
        for &j in &out {
            trial.take_out(prep, j);
        }
        let mut order = trial.left.clone();
        dice.shuffle(&mut order);
        trial.fill_in_order(prep, &order);
        if trial.total(prep) < best.total(prep) - 1e-12 {
            best = trial;
        }
    }
    best.settle(prep, open);
    best.lists
}
