//! The best plan, proved.
//!
//! For one person: partial lists are built up by number of jobs. Of two partial lists over the
//! same jobs with the same last one, the second can be dropped when the first has lost no more
//! and is free no later in every drawn case: whatever follows, it stays ahead, because starts and
//! losses never fall with time. A partial list is also dropped when the least that the remaining
//! jobs must lose brings it above a plan already known. What is left gives the least loss for
//! every set of jobs; the sets are then shared out among the people in the best way.
//! (Held and Karp, J. SIAM 10, 1962, for the sets; dominance as in Ibaraki, J. ACM 24, 1977.)

use std::collections::BTreeMap;

use super::prepare::Prepared;

/// No label.
const NONE: u32 = u32::MAX;

/// A partial list of one person.
struct Partial {
    set: u32,
    last: Option<usize>,
    loss: f64,
    times: Vec<f64>,
    label: u32,
}

/// Least loss of one person for each set of jobs, and how.
struct BySet {
    loss: Vec<f64>,
    label: Vec<u32>,
    /// (label before, job) of each label.
    steps: Vec<(u32, usize)>,
}

impl BySet {
    fn list(&self, set: usize) -> Vec<usize> {
        let mut out = Vec::new();
        let mut at = self.label[set];
        while let Some(&(before, job)) = self.steps.get(at as usize) {
            out.push(job);
            at = before;
        }
        out.reverse();
        out
    }
}

/// The best lists over `open` (at most 20), or `None` when more than `labels` partial lists would
/// have to be kept. `upper` is the loss of a plan already known.
pub fn best_plan(
    prep: &Prepared,
    open: &[usize],
    upper: f64,
    labels: usize,
) -> Option<Vec<Vec<usize>>> {
    if open.len() > 20 {
        return None;
    }
    let open_worst: f64 = open.iter().map(|&j| prep.jobs[j].loss.worst()).sum();
    // What is lost outside the open jobs in any plan.
    let outside = prep.total(&[]) - open_worst;
    let limit = upper - outside + 1e-9 * upper.abs().clamp(1e-9, 1e12);
    let mut room = labels;
    let mut tables = Vec::new();
    for p in 0..prep.people.len() {
        let others: Vec<f64> = open
            .iter()
            .map(|&j| {
                let by_others = (0..prep.people.len()).filter(|&q| q != p);
                let best = by_others.map(|q| prep.at_once(q, j));
                best.fold(prep.jobs[j].loss.worst(), f64::min)
            })
            .collect();
        tables.push(by_set(prep, p, open, &others, limit, &mut room)?);
    }
    Some(share_out(prep, open, &tables))
}

fn by_set(
    prep: &Prepared,
    p: usize,
    open: &[usize],
    others: &[f64],
    limit: f64,
    room: &mut usize,
) -> Option<BySet> {
    let sets = 1usize << open.len();
    let mut out =
        BySet { loss: vec![f64::INFINITY; sets], label: vec![NONE; sets], steps: Vec::new() };
    out.loss[0] = 0.0;
    let times = prep.people[p].free_h.clone();
    let mut layer = vec![Partial { set: 0, last: None, loss: 0.0, times, label: NONE }];
    while !layer.is_empty() {
        let mut next: BTreeMap<(u32, usize), Vec<Partial>> = BTreeMap::new();
        for partial in &layer {
            for child in children(prep, p, open, others, limit, partial) {
                let key = (child.set, child.last.unwrap_or(0));
                keep(next.entry(key).or_default(), child);
            }
        }
        layer = Vec::new();
        for mut child in next.into_values().flatten() {
            *room = room.checked_sub(1)?;
            let set = child.set as usize;
            let id = u32::try_from(out.steps.len()).ok()?;
            out.steps.push((child.label, child.last.unwrap_or(0)));
            child.label = id;
            if child.loss < out.loss[set] {
                out.loss[set] = child.loss;
                out.label[set] = id;
            }
            layer.push(child);
        }
    }
    Some(out)
}

/// Every way of going on from `partial` that may still beat `limit`.
fn children(
    prep: &Prepared,
    p: usize,
    open: &[usize],
    others: &[f64],
    limit: f64,
    partial: &Partial,
) -> Vec<Partial> {
    let mut least = partial.loss;
    let mut found = Vec::new();
    for (k, &j) in open.iter().enumerate() {
        let bit = 1u32 << k;
        if partial.set & bit != 0 {
            continue;
        }
        if !prep.people[p].can[j] {
            least += others[k];
            continue;
        }
        let mut times = partial.times.clone();
        let loss = prep.advance(p, partial.last, j, &mut times);
        // Nobody who gets to `j` later on loses less on it: this person not before now, by the
        // straight way or round about; the others not before they could at once.
        least += others[k].min(loss_at_best(prep, p, j, partial, loss));
        found.push(Partial {
            set: partial.set | bit,
            last: Some(j),
            loss: partial.loss + loss,
            times,
            label: partial.label,
        });
    }
    if least > limit { Vec::new() } else { found }
}

/// Least loss of `j` if `p` does it after `partial`, whatever lies between: the straight way
/// unless the way by other jobs is shorter, which the table of ways may allow.
fn loss_at_best(prep: &Prepared, p: usize, j: usize, partial: &Partial, straight: f64) -> f64 {
    let into = prep.way_h.iter().enumerate().filter(|(i, _)| *i != j);
    let shortest = into.map(|(_, row)| row[j]).fold(f64::INFINITY, f64::min);
    if prep.way(p, partial.last, j) <= shortest {
        return straight;
    }
    let mut times = partial.times.clone();
    for (t, work) in times.iter_mut().zip(&prep.jobs[j].hours) {
        *t = prep.start_h(p, j, *t + shortest) + work;
    }
    prep.loss_at(j, &times)
}

/// Adds `new` unless one of `kept` is at least as good in every drawn case; drops those it beats.
fn keep(kept: &mut Vec<Partial>, new: Partial) {
    let beats = |a: &Partial, b: &Partial| {
        a.loss <= b.loss + 1e-12 && a.times.iter().zip(&b.times).all(|(x, y)| *x <= y + 1e-12)
    };
    if kept.iter().any(|k| beats(k, &new)) {
        return;
    }
    kept.retain(|k| !beats(&new, k));
    kept.push(new);
}

/// Shares the sets out among the people so that the sum is least.
fn share_out(prep: &Prepared, open: &[usize], tables: &[BySet]) -> Vec<Vec<usize>> {
    let sets = 1usize << open.len();
    let mut sum: Vec<f64> = tables.first().map_or_else(Vec::new, |t| t.loss.clone());
    // For each further person the part of each set that they take.
    let mut takes: Vec<Vec<u32>> = Vec::new();
    for table in tables.iter().skip(1) {
        let mut better = sum.clone();
        let mut take = vec![0u32; sets];
        for set in 0..sets {
            let mut part = set;
            while part > 0 {
                let loss = table.loss[part] + sum[set & !part];
                if loss < better[set] {
                    better[set] = loss;
                    take[set] = part as u32;
                }
                part = (part - 1) & set;
            }
        }
        sum = better;
        takes.push(take);
    }
    let mut best = (f64::INFINITY, 0usize);
    for (set, &loss) in sum.iter().enumerate() {
        let members = |inside: bool| {
            open.iter().enumerate().filter(move |(k, _)| (set >> k & 1 == 1) == inside)
        };
        let left: f64 = members(false).map(|(_, &j)| prep.jobs[j].loss.worst()).sum();
        let done: Vec<usize> = members(true).map(|(_, &j)| j).collect();
        if loss + left < best.0 - 1e-12 && prep.parts_suffice(&[done]) {
            best = (loss + left, set);
        }
    }
    let mut lists = vec![Vec::new(); tables.len()];
    let mut set = best.1;
    for p in (1..tables.len()).rev() {
        let part = takes[p - 1][set] as usize;
        lists[p] = tables[p].list(part);
        set &= !part;
    }
    if let (Some(first), Some(table)) = (lists.first_mut(), tables.first()) {
        *first = table.list(set);
    }
    lists
}

#[cfg(test)]
mod tests {
    use super::super::input::{Job, Person, RepairTask};
    use super::super::place::{Place, Walk};
    use super::super::search::good_plan;
    use super::*;
    use crate::chance::Dice;
    use crate::{Loss, Spread};

    fn task(dice: &mut Dice, people: usize) -> RepairTask {
        let place = |dice: &mut Dice| Place { x_m: 4000.0 * dice.unit(), y_m: 0.0, z_m: 0.0 };
        let mut jobs = Vec::new();
        for i in 0..7 {
            let mid = dice.between(0.5, 7.0);
            let limit = [0.8 * mid, mid, 1.5 * mid];
            jobs.push(Job {
                id: format!("j{i}"),
                at: String::new(),
                place: place(dice),
                loss: Loss::from_limit("x", dice.between(5.0, 100.0), limit).unwrap(),
                duration: Spread::lognormal(dice.between(0.2, 1.5), 0.4),
                success: 1.0,
                skills: Vec::new(),
                parts: Vec::new(),
                release_h: if dice.chance(0.4) { dice.between(0.0, 4.0) } else { 0.0 },
            });
        }
        let mut person = |k: usize| Person {
            name: format!("p{k}"),
            skills: Vec::new(),
            place: place(dice),
            from_h: 0.0,
            breaks: vec![[2.0, 2.5]],
        };
        let people = (0..people).map(&mut person).collect();
        let value_unit = "USD".to_owned();
        let (stock, under_way, walk) = (Vec::new(), Vec::new(), Walk::default());
        RepairTask { jobs, people, stock, under_way, walk, value_unit }
    }

    /// Without a known plan to lean on the proof still finds what a long search finds, or better.
    #[test]
    fn stands_alone() {
        let mut dice = Dice::new(2);
        for case in 0..300 {
            let prep = Prepared::new(&task(&mut dice, 1 + case % 2), 6, 1).unwrap();
            let open = prep.worth_doing();
            let searched = prep.total(&good_plan(&prep, &open, 200));
            let lists = best_plan(&prep, &open, f64::INFINITY, 4_000_000).unwrap();
            assert!(prep.total(&lists) <= searched + 1e-9, "{case}");
        }
    }
}
