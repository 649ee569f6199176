//! What the watch list is worth, measured on trial ships whose physics are not its own.
//!
//! `cargo run --release -p assess --example scorecard [SHIPS [BOXES [DAYS]]]`, by default two
//! ships of 300 boxes and 14 days. Every box is judged every three hours (faulty) or six hours
//! (sound) by what a ship would know then. Figures seen stand in docs/box-model.md.

#![allow(clippy::expect_used, clippy::unwrap_used, clippy::print_stdout)]

mod score;
mod ship;

use assess::Clock;
use box_model::CargoTable;
use record::BoxFacts;
use seatrial::Trial;

use crate::score::Score;
use crate::ship::{Ship, TrialBox};

fn main() {
    let args: Vec<u64> = std::env::args().skip(1).filter_map(|a| a.parse().ok()).collect();
    let get = |i: usize, default: u64| args.get(i).copied().unwrap_or(default);
    let (ships, boxes, days) = (get(0, 2), get(1, 300) as usize, get(2, 14) as u32);
    let first = get(3, 101);
    let cargoes = CargoTable::embedded();
    let mut score = Score::default();
    let begun = std::time::Instant::now();
    for seed in first..first + ships {
        let ship = ship::sail(&Trial { boxes, days, seed });
        for b in &ship.boxes {
            judge(&ship, b, &cargoes, &mut score);
        }
    }
    println!("{ships} ships x {boxes} boxes x {days} days, seeds {first} on");
    score.print();
    println!("took {:.0} s", begun.elapsed().as_secs_f64());
}

/// Judges one box over its voyage.
fn judge(ship: &Ship, b: &TrialBox, cargoes: &CargoTable, score: &mut Score) {
    let (Some(first), Some(last)) = (b.facts.readings.first(), b.facts.readings.last()) else {
        return;
    };
    let step_h = if b.fault.is_some() { 3.0 } else { 6.0 };
    let hours = last.at.hours_since(first.at);
    let mut lines = Vec::new();
    let mut h = step_h;
    while h <= hours + 1e-6 {
        let as_of = first.at.plus_hours(h);
        // What a ship looks at: the window before the instant.
        let from = as_of.plus_hours(-assess::trend_window_h());
        let all = &b.facts.readings;
        let (i, j) = (all.partition_point(|r| r.at < from), all.partition_point(|r| r.at <= as_of));
        let facts = BoxFacts {
            unit: b.facts.unit.clone(),
            listed: b.facts.listed.clone(),
            readings: all[i..j].to_vec(),
        };
        let clock = Clock { as_of, horizon_h: ship.arrival.hours_since(as_of) };
        lines.push((as_of, assess::box_line(&facts, clock, cargoes)));
        h += step_h;
    }
    score.add(ship, b, &lines, hours / 24.0);
}
