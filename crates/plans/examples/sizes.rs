//! How long plans take and how far from the best they may be, by size. Invented tasks.
//! `cargo run --release -p plans --example sizes`; with `show` one plan in words.
#![allow(missing_docs, clippy::unwrap_used, clippy::print_stdout)]

use std::time::Instant;

use plans::chance::Dice;
use plans::repair::{Effort, Job, Person, Place, RepairTask, ShipGrid, Walk, plan};
use plans::{Loss, Spread};

fn task(dice: &mut Dice, jobs: usize, people: usize) -> RepairTask {
    let grid = ShipGrid::default();
    let list = (0..jobs).map(|i| {
        let mid = dice.between(1.0, 4.0 + 0.6 * jobs as f64 / people as f64);
        let limit = Spread::lognormal(mid, 0.3);
        let (bay, row) = (2 + 4 * dice.below(18) as u16, dice.below(12) as u8);
        Job {
            id: format!("QQQU{i:07}"),
            at: format!("bay {bay:03} row {row:02} tier 82"),
            place: Place::of_cell(bay, row, 82, &grid),
            loss: Loss::from_limit(
                "x",
                dice.between(20.0, 150.0),
                [0.05, 0.5, 0.95].map(|p| limit.quantile_h(p)),
            )
            .unwrap(),
            duration: Spread::lognormal(dice.between(0.2, 2.0), 0.4),
            success: dice.between(0.7, 1.0),
            skills: Vec::new(),
            parts: Vec::new(),
            release_h: 0.0,
        }
    });
    let jobs = list.collect();
    let place = Place::of_cell(74, 0, 82, &grid);
    let person = |k: usize| Person {
        name: format!("hand {k}"),
        skills: Vec::new(),
        place,
        from_h: 0.0,
        breaks: Vec::new(),
    };
    RepairTask {
        jobs,
        people: (0..people).map(person).collect(),
        stock: Vec::new(),
        under_way: Vec::new(),
        walk: Walk::default(),
        value_unit: "thousand USD".to_owned(),
    }
}

/// One plan in words.
fn show(t: &RepairTask) {
    let p = plan(t, &Effort::default()).unwrap();
    println!("{:.0} {:?} {}", p.expected_loss, p.expected_loss_p90, p.quality);
    for lane in &p.lanes {
        println!("{}:", lane.person);
        for s in &lane.steps {
            let [a, b, c] = s.finish_h;
            println!("  {} {}: done {b:.1} h ({a:.1} to {c:.1}). {}", s.job, s.at, s.why);
        }
    }
    for n in &p.not_done {
        println!("  {} {}: {}", n.job, n.at, n.why);
    }
}

fn main() {
    if std::env::args().nth(1).as_deref() == Some("show") {
        return show(&task(&mut Dice::new(7), 8, 2));
    }
    println!("| jobs | people | proved | gap, % of the saving | search above the proof, % | s |");
    println!("|---|---|---|---|---|---|");
    for (jobs, people) in
        [(6, 1), (6, 2), (9, 2), (12, 1), (12, 2), (12, 3), (20, 2), (40, 2), (80, 3)]
    {
        let cases = if jobs > 12 { 3 } else { 6 };
        let (mut proved, mut gap, mut above, mut seconds) = (0, 0.0, 0.0, 0.0);
        for c in 0..cases {
            let t = task(&mut Dice::new(100 * jobs as u64 + c), jobs, people);
            let begin = Instant::now();
            let p = plan(&t, &Effort::default()).unwrap();
            seconds += begin.elapsed().as_secs_f64() / cases as f64;
            let saving = p.loss_if_idle - p.planning_loss;
            gap += 100.0 * p.gap / saving / cases as f64;
            if p.exact {
                proved += 1;
                let quick = plan(&t, &Effort { exact_jobs: 0, ..Effort::default() }).unwrap();
                above += 100.0 * (quick.planning_loss - p.planning_loss) / saving;
            }
        }
        let search =
            if proved == 0 { String::new() } else { format!("{:.2}", above / proved as f64) };
        println!(
            "| {jobs} | {people} | {proved} of {cases} | {gap:.1} | {search} | {seconds:.2} |"
        );
    }
}
