//! Placing boxes one after the other, and the search for a better order.

use super::profile::Profile;
use crate::chance::Dice;

/// Box-steps that a search may go through: some tenths of a second on a small computer.
const WORK_MAX: usize = 50_000_000;

/// Starts each box of `order` at the first step at which it fits beside those before it.
pub fn place_all(profile: &Profile, order: &[usize]) -> Vec<usize> {
    let known = vec![profile.steps; profile.pieces.len()];
    place_from(profile, order, &known, 0, f64::INFINITY).unwrap_or(known)
}

/// The same where the first `same` boxes of `order` are known to start at `known`; `None` as soon
/// as the loss must pass `limit`.
fn place_from(
    profile: &Profile,
    order: &[usize],
    known: &[usize],
    same: usize,
    limit: f64,
) -> Option<Vec<usize>> {
    let mut load = profile.empty();
    let mut slots = vec![profile.steps; profile.pieces.len()];
    // Least loss of all: what is not placed yet is taken as started at once.
    let mut least: f64 = profile.pieces.iter().map(|p| p.loss[0]).sum();
    for (at, &i) in order.iter().enumerate() {
        let k = if at < same { known[i] } else { profile.first_fit(&load, i, 0) };
        profile.put(&mut load, i, k, 1.0);
        slots[i] = k;
        least += profile.pieces[i].loss[k] - profile.pieces[i].loss[0];
        if least > limit + 1e-9 * limit.abs() {
            return None;
        }
    }
    Some(slots)
}

/// Orders that suggest themselves; the search starts from the best of them.
fn first_orders(profile: &Profile) -> Vec<Vec<usize>> {
    let all: Vec<usize> = (0..profile.pieces.len()).collect();
    let by = |key: &dyn Fn(usize) -> f64| {
        let mut order = all.clone();
        order.sort_by(|a, b| key(*a).total_cmp(&key(*b)).then(a.cmp(b)));
        order
    };
    let never = profile.steps;
    let stake = |i: usize| profile.pieces[i].loss[never] - profile.pieces[i].loss[0];
    // First step at which half of what is at stake is lost.
    let half = |i: usize| {
        let loss = &profile.pieces[i].loss;
        let goal = loss[0] + 0.5 * stake(i);
        loss.iter().position(|l| *l >= goal).unwrap_or(never) as f64
    };
    let size = |i: usize| profile.pieces[i].start[0].max(1e-6);
    let slope = |i: usize| stake(i) / (1.0 + half(i));
    vec![
        by(&half),
        by(&|i| -slope(i)),
        by(&|i| -slope(i) / size(i)),
        by(&|i| -stake(i) / size(i)),
        by(&|i| -stake(i)),
    ]
}

/// The best order found: from those that suggest themselves, then `rounds` changes, most of them
/// moving a box that still loses forward, keeping what is no worse.
pub fn good_order(profile: &Profile, rounds: usize, dice: &mut Dice) -> Vec<usize> {
    let mut best_order = Vec::new();
    let mut best_slots = vec![profile.steps; profile.pieces.len()];
    let mut best = f64::INFINITY;
    for order in first_orders(profile) {
        let slots = place_all(profile, &order);
        let loss = profile.total(&slots);
        if loss < best {
            (best, best_slots, best_order) = (loss, slots, order);
        }
    }
    let n = best_order.len();
    if n < 2 {
        return best_slots;
    }
    let rounds = rounds.min(WORK_MAX / (n * profile.steps));
    for _ in 0..rounds {
        let mut order: Vec<usize> = best_order.clone();
        let from = pick_loser(profile, &order, &best_slots, dice);
        let to = if dice.chance(0.8) { dice.below(from + 1) } else { dice.below(n) };
        let moved = order.remove(from);
        order.insert(to, moved);
        let same = from.min(to);
        let Some(slots) = place_from(profile, &order, &best_slots, same, best) else { continue };
        let loss = profile.total(&slots);
        if loss <= best {
            (best, best_slots, best_order) = (loss, slots, order);
        }
    }
    best_slots
}

/// A place in the order, with a chance that grows with what the box there loses by waiting.
fn pick_loser(profile: &Profile, order: &[usize], slots: &[usize], dice: &mut Dice) -> usize {
    let lost = |i: usize| profile.pieces[i].loss[slots[i]] - profile.pieces[i].loss[0];
    let sum: f64 = order.iter().map(|&i| lost(i)).sum();
    if sum <= 0.0 || dice.chance(0.2) {
        return dice.below(order.len());
    }
    let mut at = sum * dice.unit();
    for (k, &i) in order.iter().enumerate() {
        at -= lost(i);
        if at <= 0.0 {
            return k;
        }
    }
    order.len() - 1
}
