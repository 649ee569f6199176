//! A loss under which no plan can be.
//!
//! Each job is given a place of its own in somebody's list (or none) at the least it could lose
//! there: in place i it comes after at least the i - 1 shortest other jobs, each reached by its
//! shortest way. The cheapest such giving (an assignment problem) is no dearer than any real
//! plan. Scarce parts are priced (Lagrangian relaxation; Fisher, Management Science 27, 1981):
//! a price on a part that is short raises the bound and keeps it a bound.
//!
//! A second bound looks at all people together: by the time the k-th job is finished, the work of
//! at least the k shortest has been done by them. It is taken case by case of the drawn
//! durations, which makes it weaker for few people and wide spreads, stronger for several. The
//! larger of the two holds.

use super::prepare::Prepared;
use crate::assign::{FORBIDDEN, cheapest};

/// Rounds of adjusting the prices of scarce parts.
const PRICE_ROUNDS: usize = 30;

/// The bound over `open` jobs; `upper` is the loss of a known plan, to scale the prices.
pub fn least_possible(prep: &Prepared, open: &[usize], upper: f64) -> f64 {
    let open_worst: f64 = open.iter().map(|&j| prep.jobs[j].loss.worst()).sum();
    let outside = prep.total(&[]) - open_worst;
    if open.is_empty() {
        return outside;
    }
    let mut cost: Vec<Vec<f64>> = open.iter().map(|_| Vec::new()).collect();
    for p in 0..prep.people.len() {
        let slots = slot_losses(prep, p, open);
        for (row, mut slot) in cost.iter_mut().zip(slots) {
            row.append(&mut slot);
        }
    }
    let scarce: Vec<usize> = (0..prep.stock.len())
        .filter(|&kind| {
            let need: u32 = open.iter().map(|&j| prep.jobs[j].parts[kind]).sum();
            need > prep.stock[kind]
        })
        .collect();
    let mut price = vec![0.0; scarce.len()];
    let mut best = f64::NEG_INFINITY;
    let rounds = if scarce.is_empty() { 1 } else { PRICE_ROUNDS };
    for round in 0..rounds {
        let (value, over) = priced(prep, open, &cost, &scarce, &price);
        best = best.max(value);
        let norm: f64 = over.iter().map(|v| v * v).sum();
        if norm == 0.0 {
            break;
        }
        let step = 1.5 * (upper - outside - value).max(0.0) / norm / (1.0 + 0.2 * round as f64);
        for (p, o) in price.iter_mut().zip(&over) {
            *p = (*p + step * o).max(0.0);
        }
    }
    outside + best.max(together(prep, open))
}

/// Mean over the drawn cases of the least loss when the k-th finish cannot be before the people
/// have together done the k shortest jobs. Parts and rest times are left out of it.
fn together(prep: &Prepared, open: &[usize]) -> f64 {
    let people = 0..prep.people.len();
    let into: Vec<f64> = open
        .iter()
        .map(|&j| {
            let first = people.clone().map(|p| prep.people[p].first_way_h[j]);
            let from_others = open.iter().filter(|i| **i != j).map(|&i| prep.way_h[i][j]);
            first.chain(from_others).fold(f64::INFINITY, f64::min)
        })
        .collect();
    let mut sum = 0.0;
    for k in 0..prep.scenarios {
        let mut free: Vec<f64> = prep.people.iter().map(|p| p.free_h[k]).collect();
        free.sort_by(f64::total_cmp);
        let first_free = free.first().copied().unwrap_or(0.0);
        let mut effort: Vec<f64> =
            open.iter().zip(&into).map(|(&j, way)| prep.jobs[j].hours[k] + way).collect();
        effort.sort_by(f64::total_cmp);
        let mut work = 0.0;
        let finish: Vec<f64> = effort
            .iter()
            .map(|e| {
                work += e;
                hour_of_work(&free, work)
            })
            .collect();
        let row = |(&j, way): (&usize, &f64)| -> Vec<f64> {
            let job = &prep.jobs[j];
            let own = (first_free + way).max(job.release_h) + job.hours[k];
            let worst = job.loss.worst();
            let at = |t: f64| job.success * job.loss.at(t) + (1.0 - job.success) * worst;
            // Not being done is open to every job: it is no dearer than the last place.
            finish.iter().map(|f| at(f.max(own)).min(worst)).collect()
        };
        let cost: Vec<Vec<f64>> = open.iter().zip(&into).map(row).collect();
        let Some((value, _)) = cheapest(&cost) else { return f64::NEG_INFINITY };
        sum += value;
    }
    sum / prep.scenarios as f64
}

/// Hour by which people who are free from `free` (in order) can have done `work` hours between
/// them.
fn hour_of_work(free: &[f64], work: f64) -> f64 {
    let mut sum = 0.0;
    let mut hour = f64::INFINITY;
    for (count, from) in free.iter().enumerate() {
        // With those before alone it would be done by `hour`; a later one is of no help then.
        if *from >= hour {
            break;
        }
        sum += from;
        hour = (work + sum) / (count + 1) as f64;
    }
    hour
}

/// Value of the assignment under `price`, and by how much each scarce part is overdrawn.
fn priced(
    prep: &Prepared,
    open: &[usize],
    cost: &[Vec<f64>],
    scarce: &[usize],
    price: &[f64],
) -> (f64, Vec<f64>) {
    let slots = cost.first().map_or(0, Vec::len);
    let mut rows = Vec::new();
    for (row, &j) in cost.iter().zip(open) {
        let parts: f64 =
            scarce.iter().zip(price).map(|(&k, p)| p * f64::from(prep.jobs[j].parts[k])).sum();
        let mut line: Vec<f64> = row.iter().map(|c| c + parts).collect();
        line.extend(std::iter::repeat_n(prep.jobs[j].loss.worst(), open.len()));
        rows.push(line);
    }
    let Some((sum, columns)) = cheapest(&rows) else { return (0.0, vec![0.0; scarce.len()]) };
    let mut value = sum;
    let mut over = Vec::new();
    for (&kind, p) in scarce.iter().zip(price) {
        let have = f64::from(prep.stock[kind]);
        let done = open.iter().zip(&columns).filter(|(_, c)| **c < slots);
        let used: f64 = done.map(|(&j, _)| f64::from(prep.jobs[j].parts[kind])).sum();
        value -= p * have;
        // A price that is already 0 cannot fall further.
        over.push(if used < have && *p == 0.0 { 0.0 } else { used - have });
    }
    (value, over)
}

/// For each open job the least loss in place 1, 2, ... of the list of `p`.
fn slot_losses(prep: &Prepared, p: usize, open: &[usize]) -> Vec<Vec<f64>> {
    let n = open.len();
    let person = &prep.people[p];
    let mine: Vec<usize> = open.iter().copied().filter(|&j| person.can[j]).collect();
    let into: Vec<f64> = open
        .iter()
        .map(|&j| {
            let others = open.iter().filter(|i| **i != j).map(|&i| prep.way_h[i][j]);
            others.fold(person.first_way_h[j], f64::min)
        })
        .collect();
    let way_of = |j: usize| open.iter().position(|&o| o == j).map_or(0.0, |k| into[k]);
    // For each drawn case: shortest first, running sums of way and work.
    let mut sums: Vec<Vec<f64>> = Vec::new();
    let mut rank: Vec<Vec<usize>> = vec![vec![0; prep.jobs.len()]; prep.scenarios];
    for (k, ranks) in rank.iter_mut().enumerate() {
        let mut effort: Vec<(f64, usize)> =
            mine.iter().map(|&j| (prep.jobs[j].hours[k] + way_of(j), j)).collect();
        effort.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let mut line = vec![0.0];
        for (r, (hours, j)) in effort.iter().enumerate() {
            ranks[*j] = r;
            line.push(line[r] + hours);
        }
        sums.push(line);
    }
    let mut out = Vec::new();
    for (row, &j) in open.iter().enumerate() {
        if !person.can[j] {
            out.push(vec![FORBIDDEN; n]);
            continue;
        }
        let mut line = vec![FORBIDDEN; n];
        for (before, slot) in line.iter_mut().enumerate().take(mine.len()) {
            let way = if before == 0 { person.first_way_h[j] } else { into[row] };
            let times: Vec<f64> = (0..prep.scenarios)
                .map(|k| {
                    let own = prep.jobs[j].hours[k];
                    let others = if rank[k][j] < before {
                        sums[k][before + 1] - (own + into[row])
                    } else {
                        sums[k][before]
                    };
                    prep.start_h(p, j, person.free_h[k] + others + way) + own
                })
                .collect();
            *slot = prep.loss_at(j, &times);
        }
        out.push(line);
    }
    out
}
