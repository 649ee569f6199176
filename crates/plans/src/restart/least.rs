//! A loss under which no restart can be.
//!
//! Whatever the order, the r-th box to start cannot do so before the smallest r boxes fit the
//! limits taken one by one. Giving every box a rank of its own at the least it could lose there
//! (an assignment problem) is no dearer than any real plan. It is done for the plant and for the
//! feeders; the larger bound holds.

use super::profile::Profile;
use crate::assign::cheapest;

/// The bound. Above `sharp_boxes` boxes in a group each box is taken at its own first step, which
/// is weaker and quick.
pub fn least_possible(profile: &Profile, sharp_boxes: usize) -> f64 {
    let all: Vec<usize> = (0..profile.pieces.len()).collect();
    let plant = bound_of(profile, &all, None, sharp_boxes);
    let feeders: f64 = (0..profile.feeders.len())
        .map(|f| {
            let own: Vec<usize> =
                all.iter().copied().filter(|&i| profile.pieces[i].feeder == f).collect();
            bound_of(profile, &own, Some(f), sharp_boxes)
        })
        .sum();
    plant.max(feeders)
}

fn bound_of(profile: &Profile, group: &[usize], feeder: Option<usize>, sharp: usize) -> f64 {
    let empty = profile.empty();
    let alone: Vec<usize> = group.iter().map(|&i| profile.first_fit(&empty, i, 0)).collect();
    let loss = |i: usize, k: usize| profile.pieces[i].loss[k.min(profile.steps)];
    let weak = || group.iter().zip(&alone).map(|(&i, &k)| loss(i, k)).sum();
    if group.len() > sharp {
        return weak();
    }
    let ranks = first_steps(profile, group, feeder);
    // No more than one start must wait: nothing to gain from the assignment.
    if ranks.iter().all(|k| *k == 0) {
        return weak();
    }
    let cost: Vec<Vec<f64>> = group
        .iter()
        .zip(&alone)
        .map(|(&i, &k)| ranks.iter().map(|r| loss(i, k.max(*r))).collect())
        .collect();
    cheapest(&cost).map_or_else(weak, |(sum, _)| sum)
}

/// Running sums of `values`, smallest first: the r-th entry is the least that r + 1 boxes add up
/// to.
fn least_sums(values: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut sorted: Vec<f64> = values.collect();
    sorted.sort_by(f64::total_cmp);
    let mut sum = 0.0;
    sorted
        .iter()
        .map(|v| {
            sum += v;
            sum
        })
        .collect()
}

/// How many of the smallest fit under `limit`.
fn count(sums: &[f64], limit: f64) -> usize {
    sums.partition_point(|s| *s <= limit + 1e-6)
}

/// For each rank the first step by which that many boxes can have started.
fn first_steps(profile: &Profile, group: &[usize], feeder: Option<usize>) -> Vec<usize> {
    let piece = |i: &usize| &profile.pieces[*i];
    let added = least_sums(group.iter().map(|i| piece(i).start[0]));
    let inrush = least_sums(group.iter().map(|i| piece(i).inrush_kva));
    let settled_kw = least_sums(group.iter().map(|i| piece(i).settled[0]));
    let settled_kva = least_sums(group.iter().map(|i| piece(i).settled[1]));
    // Extra load while pulling down, of those started within the shortest pull-down.
    let extra = least_sums(group.iter().map(|i| piece(i).start[0] - piece(i).settled[0]));
    let young = group.iter().map(|i| piece(i).pull_down.max(1)).min().unwrap_or(1);
    let mut ranks = Vec::new();
    let mut by_step: Vec<usize> = Vec::new();
    let mut started = 0;
    for k in 0..profile.steps {
        let limit = &profile.limits[k];
        let mut most = started + count(&added, limit.step_kw).min(count(&inrush, limit.inrush_kva));
        most = most.min(count(&settled_kw, limit.kw)).min(count(&settled_kva, limit.kva));
        if let Some(&(kva, f_inrush, live)) = feeder.and_then(|f| profile.feeders.get(f)) {
            let here = if k < live { 0 } else { started + count(&inrush, f_inrush) };
            most = most.min(here).min(count(&settled_kva, kva));
        }
        // At least `most - old` of those running are young: the least load they can make.
        let old = if k + 1 > young { by_step.get(k - young).copied().unwrap_or(0) } else { 0 };
        let load = |r: usize| {
            let base = r.checked_sub(1).and_then(|i| settled_kw.get(i)).copied().unwrap_or(0.0);
            let fresh = r.saturating_sub(old);
            base + fresh.checked_sub(1).and_then(|i| extra.get(i)).copied().unwrap_or(0.0)
        };
        while most > started && load(most) > limit.kw + 1e-6 {
            most -= 1;
        }
        started = most.max(started).min(group.len());
        by_step.push(started);
        while ranks.len() < started {
            ranks.push(k);
        }
    }
    ranks.resize(group.len(), profile.steps);
    ranks
}
