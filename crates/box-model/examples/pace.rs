//! How long one reading takes: `cargo run --release -p box-model --example pace`.
//!
//! 2,000 boxes read every minute may take 3 s of each minute on one core: 1.5 ms a reading.

#![allow(clippy::print_stdout)]

use box_model::prior::Size;
use box_model::respiration::Curve;
use box_model::{
    Ahead, BoxFit, CargoTable, Contents, Course, Estimate, FitPrior, Look, Side, food,
};
use std::hint::black_box;
use std::time::Instant;

fn priors() -> [(&'static str, FitPrior); 2] {
    let size = Size { twenty: false, high_cube: true };
    let mass = Estimate::plus_minus(20_000.0, 500.0);
    let table = CargoTable::embedded();
    let curve = table.by_id("banana").and_then(Curve::of);
    let kj_per_kg_k = food::chilled_kj_per_kg_k(table.by_id("banana"));
    let banana = Contents::Chilled { kj_per_kg_k, freeze_c: Some(-0.8), curve };
    [
        ("bananas", FitPrior::new(size, None, mass, &banana, Some(25.0), 13.3)),
        ("beef", FitPrior::new(size, None, mass, &Contents::Frozen(food::BEEF), None, -18.0)),
    ]
}

fn look(i: usize, gap_h: f64, set_c: f64) -> Look {
    let at_h = gap_h * i as f64;
    let wave = ((i * 7 + i * i) % 11) as f64 * 0.02;
    Look {
        at_h,
        gap_h,
        supply_c: Some(set_c + wave),
        return_c: Some(set_c + 1.2 - wave),
        ambient_c: Some(28.0 + wave),
        probes_c: [Some(set_c + 0.5), Some(set_c + 0.8), None, None],
        powered: Some(true),
    }
}

fn main() {
    println!("| box | readings every | one reading, µs | 2,000 boxes a minute, s |");
    println!("|---|---|---|---|");
    for (name, prior) in priors() {
        for (gap, gap_h) in [("minute", 1.0 / 60.0), ("hour", 1.0), ("12 h", 12.0)] {
            let n = 20_000;
            let mut fit = BoxFit::new(prior.clone());
            let begun = Instant::now();
            for i in 0..n {
                fit.update(&look(i, gap_h, prior.cargo_c));
            }
            let us = begun.elapsed().as_secs_f64() * 1e6 / n as f64;
            black_box(&fit);
            println!("| {name} | {gap} | {us:.2} | {:.4} |", 2000.0 * us * 1e-6);
        }
        let mut fit = BoxFit::new(prior.clone());
        for i in 0..240 {
            fit.update(&look(i, 1.0, prior.cargo_c));
        }
        let ahead = Ahead::on(Course::NoPower, 0.0, 300.0);
        let begun = Instant::now();
        let crossing = fit.limit_crossing(&ahead, Side::Warm, prior.cargo_c + 4.0);
        let ms = begun.elapsed().as_secs_f64() * 1e3;
        let hours = crossing.middle_h().unwrap_or(f64::NAN);
        let [low, high] = crossing.p90_h();
        println!("{name}: hours to limit {hours:.1} ({low:.1} to {high:.1}) in {ms:.2} ms");
        let begun = Instant::now();
        black_box(fit.predict(&ahead, 336));
        println!(
            "{name}: 336 h ahead, every part, in {:.2} ms",
            begun.elapsed().as_secs_f64() * 1e3
        );
        println!(
            "{name}: UA {:.1?} stream {:.0?} breath {:.2?} cargo {:.2?}",
            fit.ua_w_per_k(),
            fit.stream_w_per_k(),
            fit.respiration_factor(),
            fit.cargo_c()
        );
    }
}
