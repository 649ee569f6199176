//! Blackouts: what different orders of restart lose. Ships, cargo and values are invented.
//! `cargo run --release -p plans --example restarts [BLACKOUTS [BOXES]]` (500 blackouts of 60 to
//! 400 boxes unless told).
#![allow(missing_docs, clippy::unwrap_used, clippy::print_stdout)]

use std::time::Instant;

use plans::chance::Dice;
use plans::plant::{INRUSH_MAX_A, kva_of};
use plans::restart::{Capacity, Effort, Feeder, RestartBox, RestartTask, in_order, plan};
use plans::{Loss, Mark, Marked, Spread};

const INRUSH: Mark = Mark::Published("ISO 1496-2 limit, as given in the GDV Container Handbook");

/// Kind of cargo: value in thousand USD, hours without power to the limit (median), share of the
/// boxes, running kW, settled share of it, class in the common order.
struct Kind {
    value: f64,
    limit_h: f64,
    share: f64,
    kw: f64,
    settled: f64,
    rank: usize,
}

/// Order of return as it is commonly written down: medicine, chilled with much heat of its own,
/// other chilled, frozen (rank 0 first).
const KINDS: [Kind; 4] = [
    Kind { value: 600.0, limit_h: 3.0, share: 0.03, kw: 6.0, settled: 0.6, rank: 0 },
    Kind { value: 50.0, limit_h: 5.0, share: 0.15, kw: 9.0, settled: 0.6, rank: 1 },
    Kind { value: 45.0, limit_h: 12.0, share: 0.35, kw: 8.0, settled: 0.5, rank: 2 },
    Kind { value: 60.0, limit_h: 24.0, share: 0.47, kw: 6.5, settled: 0.5, rank: 3 },
];

struct Case {
    task: RestartTask,
    rank: Vec<usize>,
    warm_k: Vec<f64>,
    value: f64,
}

fn ship(dice: &mut Dice, fixed: Option<usize>) -> Case {
    let any = 60 + dice.below(341);
    let boxes = fixed.unwrap_or(any);
    let feeders = boxes.div_ceil(20);
    let dark_h = Spread::lognormal(1.5, 0.8).quantile_h(dice.unit());
    let mut case = Case {
        task: RestartTask {
            boxes: Vec::new(),
            feeders: Vec::new(),
            capacity: Vec::new(),
            step_s: 60.0,
            horizon_h: 10.0,
            box_hour_price: 0.01,
            value_unit: "thousand USD".to_owned(),
        },
        rank: Vec::new(),
        warm_k: Vec::new(),
        value: 0.0,
    };
    let mut wanted = 0.0;
    for i in 0..boxes {
        let mut pick = dice.unit();
        let kind = KINDS.iter().find(|k| {
            pick -= k.share;
            pick < 0.0
        });
        let kind = kind.unwrap_or(&KINDS[3]);
        let start_kw = kind.kw * dice.between(0.7, 1.3);
        let settled_kw = start_kw * kind.settled;
        let value = kind.value * dice.between(0.5, 1.6);
        // Warm or thinly loaded boxes are much nearer to their limits than the median.
        let mid = Spread::lognormal(kind.limit_h, 0.7).quantile_h(dice.unit());
        let limit = Spread::lognormal(mid, 0.25);
        let points = [0.05, 0.5, 0.95].map(|p| limit.quantile_h(p) - dark_h);
        let id = format!("QQQU{:07}", 1000 + i);
        case.task.boxes.push(RestartBox {
            loss: Loss::from_limit(&id, value, points).unwrap(),
            id,
            feeder: i * feeders / boxes,
            start_kw,
            start_kva: start_kw / 0.8,
            inrush_kva: Marked { value: kva_of(INRUSH_MAX_A, 440.0), mark: INRUSH },
            pull_down_h: dice.between(0.5, 1.0) * (0.5 + 0.5 * dark_h).min(3.0),
            settled_kw,
            settled_kva: settled_kw / 0.8,
        });
        case.rank.push(kind.rank);
        case.warm_k.push(dark_h * dice.between(0.5, 3.0));
        case.value += value;
        wanted += start_kw;
    }
    add_plant(dice, &mut case.task, feeders, wanted);
    case
}

/// Feeders, and one set of several that comes back first, the others hours later.
fn add_plant(dice: &mut Dice, task: &mut RestartTask, feeders: usize, wanted: f64) {
    for f in 0..feeders {
        task.feeders.push(Feeder {
            id: format!("feeder {}", f + 1),
            limit_kva: dice.between(130.0, 230.0),
            inrush_limit_kva: Marked::estimate(600.0),
            from_h: 0.0,
        });
    }
    let first = dice.between(0.15, 0.6) * wanted;
    let mut from_h = 0.0;
    for share in [1.0, 1.5, 2.2] {
        let kw = first * share;
        task.capacity.push(Capacity {
            from_h,
            kw,
            kva: kw / 0.8,
            step_kw: Marked::estimate((0.1 * kw).max(25.0)),
            inrush_kva: Marked::estimate(kw / 0.8 + 800.0),
        });
        from_h += dice.between(1.0, 4.0);
    }
}

fn sorted(n: usize, key: impl Fn(usize) -> f64) -> Vec<usize> {
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|a, b| key(*a).total_cmp(&key(*b)));
    order
}

fn mean_and_half(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let var = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / (n - 1.0);
    (mean, 1.645 * (var / n).sqrt())
}

fn main() {
    let count: usize = std::env::args().nth(1).and_then(|a| a.parse().ok()).unwrap_or(500);
    let boxes = std::env::args().nth(2).and_then(|a| a.parse().ok());
    let names =
        ["planned", "as they stand", "warmest first", "by class of cargo", "soonest limit first"];
    let mut lost = vec![Vec::new(); names.len()];
    let (mut lower, mut none, mut value, mut sizes) = (Vec::new(), 0.0, 0.0, 0);
    let (mut slowest, mut seconds, mut proved) = (0.0f64, 0.0, 0);
    for c in 0..count {
        let case = ship(&mut Dice::new(70_000 + c as u64), boxes);
        let t = &case.task;
        let n = t.boxes.len();
        sizes += n;
        let begin = Instant::now();
        let ours = plan(t, &Effort::default()).unwrap();
        let took = begin.elapsed().as_secs_f64();
        slowest = slowest.max(took);
        seconds += took;
        proved += usize::from(ours.exact);
        // What any plan loses at least, in the same terms as the losses below.
        lower.push(ours.lower_bound);
        none += ours.loss_if_none;
        value += case.value;
        lost[0].push(ours.objective);
        let limit = |i: usize| t.boxes[i].loss.half_lost_h().unwrap_or(f64::INFINITY);
        let orders = [
            (0..n).collect(),
            sorted(n, |i| -case.warm_k[i]),
            sorted(n, |i| case.rank[i] as f64),
            sorted(n, limit),
        ];
        for (k, order) in orders.iter().enumerate() {
            lost[k + 1].push(in_order(t, order).unwrap().objective);
        }
    }
    let per = count as f64;
    println!(
        "{count} blackouts, {:.0} boxes on average; thousand USD, mean and 90 % interval",
        sizes as f64 / per
    );
    println!("| order | lost | planned loses less by |");
    println!("|---|---|---|");
    for (k, name) in names.iter().enumerate() {
        let (mean, half) = mean_and_half(&lost[k]);
        let pairs: Vec<f64> = lost[0].iter().zip(&lost[k]).map(|(a, b)| b - a).collect();
        let (less, less_half) = mean_and_half(&pairs);
        let versus = if k == 0 { String::new() } else { format!("{less:.0} ± {less_half:.0}") };
        println!("| {name} | {mean:.0} ± {half:.0} | {versus} |");
    }
    println!("| (no plan can be below) | {:.0} | |", lower.iter().sum::<f64>() / per);
    println!("| (no box started) | {:.0} | |", none / per);
    println!("| (value on board) | {:.0} | |", value / per);
    println!(
        "{proved} proved; {:.0} ms a plan on average, {:.0} ms the slowest",
        1e3 * seconds / per,
        1e3 * slowest
    );
}
