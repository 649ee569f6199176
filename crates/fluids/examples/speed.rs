//! Prints nanoseconds per call of the tables, and the start-up of all of them:
//! `cargo run --release -p fluids --example speed`. `bench/fluids` runs it beside CoolProp.
#![allow(missing_docs, clippy::unwrap_used, clippy::print_stdout)]

use std::hint::black_box;
use std::time::Instant;

use fluids::{Refrigerant, Side};

/// The same states for everybody: a fixed linear congruential sequence over the ranges.
fn states(count: usize, from_pa: f64) -> Vec<(f64, f64)> {
    let mut x: u64 = 20_260_105;
    let mut next = || {
        x = x.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (x >> 11) as f64 / (1u64 << 53) as f64
    };
    // Up to 3000 kPa by the logarithm; 5 to 60 K above the dew point.
    let ratio = 3e6 / from_pa;
    (0..count).map(|_| (from_pa * ratio.powf(next()), 5.0 + 55.0 * next())).collect()
}

fn best(mut f: impl FnMut(), calls: usize) -> f64 {
    let mut least = f64::INFINITY;
    // Short passes, so that some are not interrupted by the machine's other work.
    for _ in 0..60 {
        let start = Instant::now();
        f();
        least = least.min(start.elapsed().as_secs_f64() * 1e9 / calls as f64);
    }
    least
}

fn main() {
    let start = Instant::now();
    let all = Refrigerant::all().unwrap();
    println!("start_up_ms,{:.3}", start.elapsed().as_secs_f64() * 1e3);
    println!("table_bytes_largest,{}", all.iter().map(|f| f.table_bytes()).max().unwrap());
    for f in all {
        let name = f.name();
        // From 100 kPa; carbon dioxide has no liquid below 518 kPa.
        let from_pa = (f.pressure_range_pa(Side::Dew).0 * 1.01).max(100e3);
        println!("{name},from_pa,{from_pa}");
        let states = states(4000, from_pa);
        let n = states.len();
        let t_sat = best(
            || {
                for (p, _) in &states {
                    black_box(f.t_sat_k(black_box(*p), Side::Dew).unwrap());
                }
            },
            n,
        );
        let points: Vec<(f64, f64)> =
            states.iter().map(|(p, dt)| (*p, f.t_sat_k(*p, Side::Dew).unwrap() + dt)).collect();
        let state = best(
            || {
                for (p, t) in &points {
                    let s = f.state_pt(black_box(*p), black_box(*t)).unwrap();
                    black_box((s.h_j_kg, s.s_j_kgk, s.rho_kg_m3));
                }
            },
            n,
        );
        let lean = best(
            || {
                for (p, t) in &points {
                    black_box(f.h_s_rho(black_box(*p), black_box(*t)).unwrap());
                }
            },
            n,
        );
        let back: Vec<(f64, f64)> =
            points.iter().map(|(p, t)| (*p, f.state_pt(*p, *t).unwrap().h_j_kg)).collect();
        let inverse = best(
            || {
                for (p, h) in &back {
                    black_box(f.state_ph(black_box(*p), black_box(*h)).unwrap().t_k);
                }
            },
            n,
        );
        println!("{name},t_sat_ns,{t_sat:.1}\n{name},state_ns,{state:.1}");
        println!("{name},from_ph_ns,{inverse:.1}\n{name},h_s_rho_ns,{lean:.1}");
    }
}
