//! The plain curves that texts draw (reference refrigeration-service.md §4.7), read evenly, with
//! Gaussian noise and the display's steps: a second simulator that shares nothing with the first.

use fluids::water::vapour_pressure_pa;
use units::math::{exp, ln, sqrt};
use vacuum::{PA_PER_UM, Verdict};

use crate::case::{Case, Water};
use crate::physics::{Chance, Dice};

/// What is true of a plain curve.
pub const NAMES: [&str; 8] = [
    "dry",
    "wet, liquid",
    "wet, ice",
    "wet, below saturation",
    "leak 1-10 µm/min",
    "leak 10-1000 µm/min",
    "wet and leaking",
    "outgassing",
];

/// One plain hold.
pub fn case(truth: usize, d: &mut Dice) -> Case {
    let kind = d.pick(3);
    let wet = matches!(truth, 1..=3 | 6);
    let ice = truth == 2 || (truth == 6 && kind == 1);
    let bound = truth == 3 || (truth == 6 && kind == 2);
    let coldest_c = if ice { d.between(-25.0, -2.0) } else { d.between(3.0, 30.0) };
    let p_sat = |t: f64| vapour_pressure_pa(t + 273.15).unwrap_or(0.0) / PA_PER_UM;
    let start = d.log_between(50.0, 500.0).min(0.5 * p_sat(coldest_c));
    let most = p_sat(coldest_c) - start;
    let size = match (wet, bound) {
        (false, _) => 0.0,
        (true, true) => d.log_between(100.0, 0.6 * most),
        (true, false) => most,
    };
    let tau_min = d.log_between(1.0, 10.0);
    let rise = match truth {
        4 => d.log_between(1.0, 10.0),
        5 => d.log_between(10.0, 1000.0),
        6 => size / 30.0 * d.log_between(0.3, 3.0),
        _ => d.between(0.0, 0.25),
    };
    let oil = (d.log_between(2.0, 20.0), d.between(0.3, 2.0), d.log_between(1.0, 8.0));
    let drift_k_min = d.between(-1.0, 1.0) / 60.0;
    let curve = |t: f64| {
        let out = match (truth, kind) {
            (7, 0) => oil.0 * ln(1.0 + t / oil.1),
            (7, _) => oil.2 * sqrt(t),
            _ => 0.0,
        };
        let moves = if bound { 1.0 } else { p_sat(coldest_c + drift_k_min * t) / p_sat(coldest_c) };
        (start + rise * t + out) * (1.0 + drift_k_min * t / 293.0)
            + (start + size) * (moves - 1.0) * f64::from(u8::from(wet && !bound))
            + size * (1.0 - exp(-t / tau_min))
    };
    let every_s = [10.0, 15.0, 30.0, 60.0][d.pick(4)];
    let times = (0..=360).map(|i| f64::from(i) * every_s).take_while(|t| *t <= 3600.0);
    let right = match truth {
        0 | 7 => Verdict::DryAndGrossTight,
        4 | 5 => Verdict::Leaking,
        6 => Verdict::WetAndLeaking,
        _ => Verdict::Wet,
    };
    let water = match (wet, bound) {
        (false, _) => Water::None,
        (true, true) => Water::Bound,
        (true, false) => Water::Free,
    };
    let plateau_pa = wet.then_some((start + size) * PA_PER_UM);
    let times: Vec<f64> = times.collect();
    let told = d.pick(10) < 7;
    let coldest_told = told.then(|| coldest_c + 0.4 * d.normal());
    let noise = d.between(0.01, 0.05);
    let mut c = Case::new(right, rise, water, plateau_pa, coldest_told, noise, d);
    c.either = truth == 7;
    c.read(&times, |t_s| curve(t_s / 60.0), d);
    c
}
