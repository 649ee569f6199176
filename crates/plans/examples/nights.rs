//! Bad nights: what different orders of repair save. All cargo, values and faults are invented.
//! `cargo run --release -p plans --example nights [NIGHTS]` (600 unless told).
#![allow(missing_docs, clippy::unwrap_used, clippy::print_stdout)]

use std::time::Instant;

use plans::chance::Dice;
use plans::repair::{
    Effort, Job, PartNeed, Person, Place, RepairTask, ShipGrid, Stock, UnderWay, Walk, plan,
};
use plans::{Loss, Spread};

const PARTS: [&str; 3] = ["contactor", "fan motor", "drier"];

/// One box in trouble, with what the crew cannot know.
struct Trouble {
    job: Job,
    alarm_h: f64,
    above_set_k: f64,
    value: f64,
    limit_mid_h: f64,
    true_limit_h: f64,
    true_hours: f64,
    helps: bool,
}

#[derive(Clone, Copy, PartialEq)]
enum Rule {
    Planned,
    FirstCome,
    NearestFirst,
    HottestFirst,
    SoonestLimit,
}

/// Kind of cargo: value in thousand USD, margin to the limit K, warming K/h, share of boxes.
const KINDS: [(&str, f64, f64, f64, f64); 4] = [
    ("frozen", 60.0, 6.0, 0.35, 0.45),
    ("chilled fruit", 45.0, 4.0, 0.6, 0.35),
    ("chilled meat or fish", 120.0, 2.5, 0.4, 0.15),
    ("medicine", 600.0, 3.0, 0.5, 0.05),
];

fn trouble(dice: &mut Dice, number: usize, grid: &ShipGrid) -> Trouble {
    let mut pick = dice.unit();
    let kind = KINDS.iter().find(|k| {
        pick -= k.4;
        pick < 0.0
    });
    let (name, value, margin_k, rate, _) = *kind.unwrap_or(&KINDS[0]);
    let value = value * dice.between(0.5, 1.6);
    let rate = rate * dice.between(0.4, 2.0);
    // Air runs ahead of the cargo, most in frozen boxes.
    let cargo_above = margin_k * dice.between(0.0, 0.8);
    let above_set_k =
        cargo_above * if name == "frozen" { 2.5 } else { 1.2 } + dice.between(0.0, 3.0);
    let mid = (margin_k - cargo_above) / rate;
    let limits = Spread::lognormal(mid, dice.between(0.15, 0.45));
    let alarm_h = if dice.chance(0.5) { 0.0 } else { dice.between(0.0, 6.0) };
    let q = [0.05, 0.5, 0.95].map(|p| limits.quantile_h(p) + alarm_h);
    let (median, sigma, skill, part) = match dice.below(5) {
        0 => (0.25, 0.5, None, None),
        1 => (0.6, 0.5, Some("electrical"), Some(PARTS[0])),
        2 => (1.2, 0.4, Some("electrical"), Some(PARTS[1])),
        3 => (2.5, 0.4, Some("brazing"), Some(PARTS[2])),
        _ => (0.8, 0.7, Some("electrical"), None),
    };
    let duration = Spread::lognormal(median, sigma);
    let success = dice.between(0.7, 1.0);
    let bay = 2 + 4 * dice.below(18) as u16;
    let tier = if dice.chance(0.7) { 82 } else { 4 } + 2 * dice.below(2) as u8;
    let row = dice.below(12) as u8;
    let id = format!("QQQU{:07}", 1000 + number);
    let job = Job {
        at: format!("bay {bay:03} row {row:02} tier {tier:02}"),
        place: Place::of_cell(bay, row, tier, grid),
        loss: Loss::from_limit(&id, value, q).unwrap(),
        duration,
        success,
        skills: skill.iter().map(|s| (*s).to_owned()).collect(),
        parts: part.iter().map(|p| PartNeed { part: (*p).to_owned(), count: 1 }).collect(),
        release_h: alarm_h,
        id,
    };
    Trouble {
        job,
        alarm_h,
        above_set_k,
        value,
        limit_mid_h: q[1],
        true_limit_h: alarm_h + limits.quantile_h(dice.unit()),
        true_hours: duration.quantile_h(dice.unit()),
        helps: dice.chance(success),
    }
}

/// Somebody on watch.
struct Hand {
    skills: Vec<String>,
    place: Place,
    busy: Option<(usize, f64, f64)>,
}

struct Night<'a> {
    troubles: &'a [Trouble],
    hands: Vec<Hand>,
    stock: Vec<u32>,
    open: Vec<bool>,
    walk: Walk,
    plans: usize,
    planning_s: f64,
}

impl Night<'_> {
    fn can(&self, h: usize, i: usize) -> bool {
        let job = &self.troubles[i].job;
        let parts = job.parts.iter().all(|p| {
            let kind = PARTS.iter().position(|q| *q == p.part).unwrap();
            self.stock[kind] >= p.count
        });
        parts && job.skills.iter().all(|s| self.hands[h].skills.contains(s))
    }

    fn way(&self, h: usize, i: usize) -> f64 {
        let job = &self.troubles[i].job;
        self.walk.hours_to_job(&self.hands[h].place, &job.place, !job.parts.is_empty())
    }

    fn pick(&mut self, rule: Rule, h: usize, now: f64) -> Option<usize> {
        if rule == Rule::Planned {
            return self.pick_planned(h, now);
        }
        let key = |i: usize| match rule {
            Rule::FirstCome => self.troubles[i].alarm_h,
            Rule::NearestFirst => self.way(h, i),
            Rule::HottestFirst => -self.troubles[i].above_set_k,
            _ => self.troubles[i].limit_mid_h,
        };
        let known =
            |i: &usize| self.open[*i] && self.troubles[*i].alarm_h <= now && self.can(h, *i);
        (0..self.troubles.len()).filter(known).min_by(|a, b| key(*a).total_cmp(&key(*b)))
    }

    fn pick_planned(&mut self, h: usize, now: f64) -> Option<usize> {
        let mut jobs = Vec::new();
        let mut under_way = Vec::new();
        let seen = |i: usize| {
            let mut job = self.troubles[i].job.clone();
            job.loss = job.loss.seen_later(now);
            job.release_h = 0.0;
            job
        };
        for i in 0..self.troubles.len() {
            if self.open[i] && self.troubles[i].alarm_h <= now {
                jobs.push(seen(i));
            }
        }
        if jobs.is_empty() {
            return None;
        }
        let mut people = Vec::new();
        for (k, hand) in self.hands.iter().enumerate() {
            let mut from_h = 0.0;
            if let Some((i, start, _)) = hand.busy {
                jobs.push(seen(i));
                if start <= now {
                    under_way.push(UnderWay {
                        job: self.troubles[i].job.id.clone(),
                        person: format!("hand {k}"),
                        started_h: start - now,
                    });
                } else {
                    // On the way there: free when it is done, by its median.
                    jobs.pop();
                    from_h = start - now + self.troubles[i].job.duration.p50_h;
                }
            }
            people.push(Person {
                name: format!("hand {k}"),
                skills: hand.skills.clone(),
                place: hand.place,
                from_h,
                breaks: Vec::new(),
            });
        }
        let stock = PARTS.iter().zip(&self.stock);
        let stock = stock.map(|(p, c)| Stock { part: (*p).to_owned(), count: *c }).collect();
        let value_unit = "thousand USD".to_owned();
        let task = RepairTask { jobs, people, stock, under_way, walk: self.walk, value_unit };
        let begin = Instant::now();
        let plan = plan(&task, &Effort { rounds: 40, ..Effort::default() }).unwrap();
        self.planning_s += begin.elapsed().as_secs_f64();
        self.plans += 1;
        let step = plan.lanes[h].steps.first()?;
        (0..self.troubles.len()).find(|&i| self.troubles[i].job.id == step.job)
    }

    /// Value saved, thousand USD.
    fn run(&mut self, rule: Rule) -> f64 {
        let mut saved = 0.0;
        let mut now = 0.0;
        loop {
            for h in 0..self.hands.len() {
                if self.hands[h].busy.is_some() {
                    continue;
                }
                if let Some(i) = self.pick(rule, h, now) {
                    let t = &self.troubles[i];
                    let start = now + self.way(h, i);
                    let end = start + t.true_hours;
                    if t.helps && end <= t.true_limit_h {
                        saved += t.value;
                    }
                    self.open[i] = false;
                    for p in &t.job.parts {
                        self.stock[PARTS.iter().position(|q| *q == p.part).unwrap()] -= p.count;
                    }
                    self.hands[h].place = t.job.place;
                    self.hands[h].busy = Some((i, start, end));
                }
            }
            let alarms = self.troubles.iter().map(|t| t.alarm_h);
            let ends = self.hands.iter().filter_map(|h| h.busy.map(|b| b.2));
            let next = alarms.chain(ends).filter(|t| *t > now).fold(f64::INFINITY, f64::min);
            if !next.is_finite() {
                return saved;
            }
            now = next;
            for hand in &mut self.hands {
                if hand.busy.is_some_and(|b| b.2 <= now) {
                    hand.busy = None;
                }
            }
        }
    }
}

fn mean_and_half(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let var = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / (n - 1.0);
    (mean, 1.645 * (var / n).sqrt())
}

fn main() {
    let nights: usize = std::env::args().nth(1).and_then(|a| a.parse().ok()).unwrap_or(600);
    let rules = [
        ("planned", Rule::Planned),
        ("first come", Rule::FirstCome),
        ("nearest first", Rule::NearestFirst),
        ("hottest first", Rule::HottestFirst),
        ("soonest limit first", Rule::SoonestLimit),
    ];
    let grid = ShipGrid::default();
    println!(
        "{nights} nights each, 5 to 14 boxes in trouble; thousand USD; mean and 90 % interval"
    );
    println!("| people | order | saved | planned saves more by | ms per plan |");
    println!("|---|---|---|---|---|");
    for people in 1..=3 {
        let mut saved = vec![Vec::new(); rules.len()];
        let mut stake = Vec::new();
        let (mut count, mut seconds) = (0, 0.0);
        for night in 0..nights {
            let mut dice = Dice::new(9000 + night as u64);
            let n = 5 + dice.below(10);
            let troubles: Vec<Trouble> = (0..n).map(|i| trouble(&mut dice, i, &grid)).collect();
            stake.push(troubles.iter().map(|t| t.value).sum::<f64>());
            for (r, (_, rule)) in rules.iter().enumerate() {
                let store = Place::of_cell(74, 0, 82, &grid);
                let hands = (0..people).map(|k| Hand {
                    skills: ["electrical", "brazing"][..if k == 1 { 1 } else { 2 }]
                        .iter()
                        .map(|s| (*s).to_owned())
                        .collect(),
                    place: store,
                    busy: None,
                });
                let mut run = Night {
                    troubles: &troubles,
                    hands: hands.collect(),
                    stock: vec![2; 3],
                    open: vec![true; n],
                    walk: Walk { store: Some(store), ..Walk::default() },
                    plans: 0,
                    planning_s: 0.0,
                };
                saved[r].push(run.run(*rule));
                count += run.plans;
                seconds += run.planning_s;
            }
        }
        for (r, (name, _)) in rules.iter().enumerate() {
            let (mean, half) = mean_and_half(&saved[r]);
            let pairs: Vec<f64> = saved[0].iter().zip(&saved[r]).map(|(a, b)| a - b).collect();
            let (more, more_half) = mean_and_half(&pairs);
            let versus =
                if r == 0 { String::new() } else { format!("{more:.0} ± {more_half:.0}") };
            let time =
                if r == 0 { format!("{:.1}", 1e3 * seconds / count as f64) } else { String::new() };
            println!("| {people} | {name} | {mean:.0} ± {half:.0} | {versus} | {time} |");
        }
        let (mean, _) = mean_and_half(&stake);
        println!("| {people} | (at stake) | {mean:.0} | | |");
    }
}
