//! Fruit under cold treatment on the way: boxes loaded warm, probes that err a little, plugs that
//! trip, to try a forecast against.

use units::Utc;

use crate::cargo::{Cargo, by_id};
use crate::dice::{Dice, Purpose};
use crate::faults::{Fault, FaultKind};
use crate::manifest::Reefer;
use crate::passage::{self, MISSING, Passage, Span};
use crate::route::{BEYOND, DEPARTURE, DESTINATION, Route, Weather, weather};

/// One box under treatment, from plugging in to long after its port.
#[derive(Debug, Clone, PartialEq)]
pub struct Treated {
    /// The box.
    pub reefer: Reefer,
    /// Warmest pulp that counts, thousandths of a degree Celsius.
    pub hold_max_mc: i32,
    /// Days to hold it.
    pub days: u32,
    /// Slurry readings of the three probes, tenths of a degree Celsius.
    pub slurry: [[i16; 3]; 3],
    /// Hourly displays and the truth.
    pub passage: Passage,
    /// Departure.
    pub start: Utc,
    /// Arrival at its port, hours after departure.
    pub eta_h: f64,
}

/// Pairs of limit and days, as such schedules print them (reference/cold-treatment.md §3.1, §3.2).
const PAIRS: [(i32, u32); 6] =
    [(1110, 14), (1670, 16), (2220, 18), (1000, 16), (2000, 18), (3000, 20)];

/// Days of data of a fleet's voyage: long enough for a late start to finish.
const DATA_DAYS: u32 = 34;

/// `count` boxes, each on a voyage with its own weather in groups of ten.
#[must_use]
pub fn fleet(count: usize, seed: u64) -> Vec<Treated> {
    let route = Route::new(DATA_DAYS);
    let mut sky: Vec<Weather> = Vec::new();
    let mut out = Vec::with_capacity(count);
    for i in 0..count {
        if i.is_multiple_of(10) {
            sky = weather(&route, seed.wrapping_add(i as u64 / 10));
        }
        out.push(treated(i, seed, &route, &sky));
    }
    out
}

fn treated(i: usize, seed: u64, route: &Route, sky: &[Weather]) -> Treated {
    let mut dice = Dice::new(seed, Purpose::Quarantine, i);
    let (hold_max_mc, days) = dice.pick(&PAIRS).copied().unwrap_or((1110, 14));
    let limit_c = f64::from(hold_max_mc) / 1000.0;
    let id = dice.pick(&["orange", "grape", "orange", "lemon"]).copied().unwrap_or("orange");
    let mut reefer = fruit_box(i, id, &mut dice);
    let margin_k = dice.between(0.5, 2.0);
    let coldest_c = reefer.cargo.freeze_c + 0.4;
    // The sum takes the sign off a zero.
    reefer.set_c = (10.0 * (limit_c - margin_k).max(coldest_c)).round() / 10.0 + 0.0;
    reefer.warm_by_k = dice.between(0.5, 5.0);
    if dice.chance(0.12) {
        let start_h = dice.between(60.0, 420.0);
        reefer.fault = Some(Fault {
            kind: FaultKind::PlugRestored,
            start_h,
            end_h: Some(start_h + dice.between(0.5, 8.0)),
            severity: 1.0,
            measure: 0.0,
        });
    }
    let data_h = f64::from(route.data_h);
    let span = Span { from_h: 0.0, to_h: data_h, horizon_h: data_h };
    let passage = passage::run(&reefer, sky, span, &[], seed, i);
    let slurry = slurry(passage.probe_errors_k, &mut dice);
    // Voyages are planned with a few days in hand, sometimes none.
    let eta_h = (f64::from(days) + dice.between(0.5, 6.0)) * 24.0;
    Treated { reefer, hold_max_mc, days, slurry, passage, start: route.start, eta_h }
}

fn fruit_box(i: usize, id: &str, dice: &mut Dice) -> Reefer {
    let cargo: &'static Cargo = by_id(id).unwrap_or(&crate::cargo::CARGOES[0]);
    let [low, high] = cargo.mass_40_t;
    let body = format!("QQQU{:06}", 700_000 + i % 100_000);
    let digit = record::unit_id::check_digit(&body).unwrap_or(0);
    Reefer {
        unit: format!("{body}{digit}"),
        forty: true,
        size_type: "45R1",
        age_years: dice.between(0.5, 14.0),
        cargo,
        mass_kg: 1000.0 * dice.between(low, high),
        set_c: 0.0,
        set_as_sent: String::new(),
        range_c: None,
        warm_by_k: 0.0,
        load_port: DEPARTURE,
        discharge_port: DESTINATION,
        load_h: 0.0,
        leave_h: None,
        cell_first: None,
        cell_second: None,
        top: dice.chance(0.2),
        outer: dice.chance(0.3),
        logger: true,
        probes: 3,
        booking: String::new(),
        fault: None,
    }
}

/// Three readings of each probe in ice slurry: what the probe errs, a little noise, tenths.
fn slurry(errors_k: [f64; 3], dice: &mut Dice) -> [[i16; 3]; 3] {
    errors_k.map(|k| {
        let mut read = || (10.0 * (k + 0.02 * dice.normal())).round() as i16;
        [read(), read(), read()]
    })
}

/// Makes some boxes of grapes of a ship's manifest boxes under treatment: probes fitted, loggers
/// read, fruit loaded a little too warm. Returns their places in `reefers`.
#[must_use]
pub fn mark(reefers: &mut [Reefer], seed: u64) -> Vec<usize> {
    let most = reefers.len().div_ceil(35).min(8);
    let mut dice = Dice::new(seed, Purpose::Quarantine, usize::MAX >> 24);
    let mut out = Vec::new();
    for (i, r) in reefers.iter_mut().enumerate() {
        let stays = r.load_h == 0.0 && r.leave_h.is_none() && r.discharge_port != BEYOND;
        if out.len() < most && stays && r.fault.is_none() && r.cargo.id == "grape" {
            r.probes = 3;
            r.logger = true;
            r.warm_by_k = dice.between(1.0, 4.0);
            r.set_c = if dice.chance(0.25) { 0.2 } else { -0.5 };
            r.set_as_sent = format!("{:.1}:CEL", r.set_c);
            r.range_c = None;
            out.push(i);
        }
    }
    out
}

/// The schedule of the demonstration: invented, and said to be so.
pub const DEMO_SCHEDULE_ID: &str = "demo-grapes-16d";

/// Its text.
pub const DEMO_SCHEDULE: &str = r#"# Invented for the demonstration. It is no country's rule.
id = "demo-grapes-16d"
title = "Demonstration: grapes, 16 days at or below 1.00 °C"
source = "invented for the demonstration ship, 2026"
evidence = "unverified"
unit = "c"
hold_max = 1.00
hold_min = -1.5
days = 16
pulp_probes_min = 3
extra_probes_must_comply = true
step_max = 0.39
gap_max_minutes = 60
gap_jitter_s = 300
calibration_limit = 0.3
calibration_correction = true
on_excursion = "invalid_unless_verified"
on_step = "warn"
on_gap = "invalid_unless_verified"
on_fault = "invalid_unless_verified"
fault_hours = 0
"#;

/// calibration file of one box: `probe,reading_c`.
#[must_use]
pub fn calibration_csv(slurry: &[[i16; 3]; 3]) -> String {
    let mut out = String::from("probe,reading_c\n");
    for (n, readings) in slurry.iter().enumerate() {
        for r in readings.iter().filter(|r| **r != MISSING) {
            out.push_str(&format!("probe{},{:.1}\n", n + 1, f64::from(*r) / 10.0));
        }
    }
    out
}

/// Slurry readings of a box of the manifest, from what its probes err.
#[must_use]
pub fn slurry_of(passage: &Passage, seed: u64, index: usize) -> [[i16; 3]; 3] {
    slurry(passage.probe_errors_k, &mut Dice::new(seed, Purpose::Quarantine, index))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fleet_is_the_same_for_a_seed_and_cools_down() {
        let (a, b) = (fleet(12, 5), fleet(12, 5));
        assert_eq!(a, b);
        for t in &a {
            let warmest = |h: usize| t.passage.hours[h].probes.iter().copied().max().unwrap();
            assert!(
                warmest(0) >= warmest(200),
                "{}: {} {}",
                t.reefer.unit,
                warmest(0),
                warmest(200)
            );
            assert!(t.slurry.iter().flatten().all(|r| r.abs() <= 5));
        }
    }
}
