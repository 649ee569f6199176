//! A machine that nobody described: directions of the usual symptoms with wide errors, no card.

use units::math::{exp, ln, sqrt};

use crate::derived::{Derived, KEYS, WORDS};
use crate::diagnose::{Diagnosis, FaultShare};
use crate::evidence::{Noise, SEVERITY_FROM, SEVERITY_TO};
use crate::explain;
use crate::fault::Fault;
use crate::next::{Suggestion, trouble_of};
use crate::reading::{Input, Key, Mode};

/// What is looked at.
const FEATURES: usize = 8;

/// Key of the derived value, usual value of a sound unit and how widely sound units differ.
/// Middles from reference/refrigeration-service.md §2.2 (unverified there) and from cycles of the
/// two cards; the spread covers both.
const USUAL: [(&str, f64, f64); FEATURES] = [
    ("evaporator_td_k", 11.0, 5.0),
    ("superheat_k", 7.0, 3.0),
    ("compressor_superheat_k", 12.0, 6.0),
    ("subcooling_k", 4.0, 3.0),
    ("condenser_split_k", 11.5, 4.0),
    ("discharge_superheat_k", 30.0, 11.0),
    ("air_difference_k", 5.5, 2.5),
    ("liquid_drop_kpa", 25.0, 25.0),
];

/// Directions per fault, −2 to 2, in the order of [`USUAL`]: reference §2.4, the table for a
/// thermostatic valve with receiver. Rows that are alike stay alike on purpose.
fn directions(fault: Fault) -> Option<[f64; FEATURES]> {
    Some(match fault {
        Fault::None => [0.0; FEATURES],
        Fault::Undercharge => [1.0, 2.0, 2.0, -2.0, -1.0, 1.0, -1.0, 1.0],
        Fault::Overcharge => [0.0, 0.0, 0.0, 2.0, 1.0, 0.0, 0.0, 0.0],
        Fault::NonCondensables => [0.0, 0.0, 0.0, 1.0, 2.0, 0.0, 0.0, 0.0],
        Fault::CondenserAirflow => [0.0, 0.0, 0.0, 0.0, 2.0, 0.0, 0.0, 0.0],
        Fault::EvaporatorAirflow => [1.0, 0.0, 0.0, 0.0, -1.0, 0.0, 2.0, 0.0],
        Fault::LiquidRestriction => [2.0, 2.0, 2.0, 1.0, -1.0, 1.0, -1.0, 2.0],
        Fault::ExpansionStuckClosed => [2.0, 2.0, 2.0, 1.0, -1.0, 1.0, -1.0, 0.0],
        Fault::ExpansionStuckOpen => [-1.0, -2.0, -2.0, -1.0, 0.0, -2.0, -1.0, 0.0],
        Fault::CompressorLeak => [-2.0, 0.0, 0.0, 0.0, -1.0, 1.0, -1.0, 0.0],
        Fault::HotGasLeak => [-2.0, 1.0, 1.0, 0.0, -1.0, 0.0, -2.0, 0.0],
        Fault::SuctionThrottleStuck => [2.0, 2.0, 2.0, 0.0, -1.0, 1.0, -1.0, 0.0],
        Fault::WrongRefrigerant | Fault::SensorOffset => return None,
    })
}

/// One step of a direction, in spreads, at middle severity.
const STEP: f64 = 1.3;

/// ln likelihood of the features under a fault at a severity.
fn ln_directed(seen: &[Option<f64>; FEATURES], rows: &[f64; FEATURES], severity: f64) -> f64 {
    let scale = severity / (0.5 * (SEVERITY_FROM + SEVERITY_TO));
    let mut sum = 0.0;
    for (z, d) in seen.iter().zip(rows) {
        let Some(z) = z else { continue };
        let sd = sqrt(1.0 + 0.4 * d * d * STEP * STEP * 0.5);
        // A bounded tail: nothing is excluded by one figure of an unknown machine.
        let miss = (z - STEP * scale * d) / sd;
        sum += ln(exp(-0.5 * miss * miss) + 1e-4) - ln(sd);
    }
    sum
}

fn ln_fault(seen: &[Option<f64>; FEATURES], fault: Fault) -> [f64; NODES] {
    let node =
        |i: usize| SEVERITY_FROM + (SEVERITY_TO - SEVERITY_FROM) * (i as f64 + 0.5) / NODES as f64;
    std::array::from_fn(|i| match directions(fault) {
        Some(rows) => ln_directed(seen, &rows, node(i)),
        None if fault == Fault::WrongRefrigerant => ln_wide(seen),
        None => ln_offset(seen, node(i)),
    })
}

const NODES: usize = 9;

/// Another refrigerant: anything may be off.
fn ln_wide(seen: &[Option<f64>; FEATURES]) -> f64 {
    seen.iter().flatten().map(|z| -0.5 * z * z / 6.25 - ln(2.5)).sum()
}

/// One sensor off by 15 K times the severity, either way.
fn ln_offset(seen: &[Option<f64>; FEATURES], severity: f64) -> f64 {
    // Features moved by suction line, liquid line, discharge line, supply, return.
    const MOVED: [&[(usize, f64)]; 5] =
        [&[(1, 1.0)], &[(3, -1.0)], &[(5, 1.0)], &[(6, -1.0)], &[(0, 1.0), (6, 1.0)]];
    let mut sum = 0.0;
    for moved in MOVED {
        for sign in [1.0, -1.0] {
            let mut shifted = *seen;
            for (i, d) in moved {
                if let (Some(Some(z)), Some(u)) = (shifted.get_mut(*i), USUAL.get(*i)) {
                    *z -= sign * d * 15.0 * severity / u.2;
                }
            }
            sum += exp(ln_directed(&shifted, &[0.0; FEATURES], 0.45)) / 10.0;
        }
    }
    ln(sum.max(1e-300))
}

/// Features in spreads from the usual; the discharge's usual value follows the pressure ratio.
fn features(input: &Input, derived: &Derived, modulated: bool) -> [Option<f64>; FEATURES] {
    let mut out = [None; FEATURES];
    for ((slot, (key, usual, spread)), i) in out.iter_mut().zip(USUAL).zip(0..) {
        let Some(v) = derived.get(key) else { continue };
        // A throttle that control has closed lowers the suction gauge: what hangs on it says
        // nothing then.
        if modulated && i < 3 {
            continue;
        }
        let usual = if key == "discharge_superheat_k" {
            expected_discharge_superheat(input, derived).unwrap_or(usual)
        } else {
            usual
        };
        let reading = (v.p90[1] - v.p90[0]) / 3.29;
        *slot = Some((v.value - usual) / sqrt(spread * spread + reading * reading));
    }
    out
}

/// Discharge superheat of a compressor of middling efficiency between the pressures read.
fn expected_discharge_superheat(input: &Input, derived: &Derived) -> Option<f64> {
    let fluid = fluids::Refrigerant::named(&input.fluid).ok()?;
    let barometer = input.barometer_kpa.unwrap_or(crate::derived::STANDARD_KPA);
    let p1 = (input.get(Key::Suction)? + barometer) * 1e3;
    let p2 = (input.get(Key::Discharge)? + barometer) * 1e3;
    let superheat =
        derived.get("compressor_superheat_k").map_or(10.0, |e| e.value.clamp(0.0, 60.0));
    let td = fluid.t_sat_k(p1, fluids::Side::Dew).ok()?;
    let inlet = fluid.state_pt(p1, td + superheat.max(0.1)).ok()?;
    let ideal = fluid.state_ps(p2, inlet.s_j_kgk).ok()?;
    let out =
        fluid.state_ph(p2, inlet.h_j_kg + (ideal.h_j_kg - inlet.h_j_kg) * 0.92 / 0.64).ok()?;
    Some(out.t_k - fluid.t_sat_k(p2, fluids::Side::Dew).ok()?)
}

/// Judges readings of an unknown machine (contract §4, fine print 4).
pub fn judge(input: &Input, noise: &Noise, derived: Derived, mode: Mode) -> Diagnosis {
    let near = input
        .set_point_c
        .zip(input.get(Key::Return).or(input.get(Key::Supply)))
        .is_some_and(|(s, r)| r < s + 2.0);
    let modulated = near && mode == Mode::Chilled;
    let seen = features(input, &derived, modulated);
    let mut raw = Vec::new();
    for fault in Fault::ALL {
        let logs = ln_fault(&seen, fault);
        let mean = logs.iter().map(|l| exp(*l)).sum::<f64>() / NODES as f64;
        raw.push((fault, fault.prior_weight() * mean, logs));
    }
    let sum: f64 = raw.iter().map(|r| r.1).sum();
    let mut faults: Vec<FaultShare> =
        raw.iter().map(|(fault, w, logs)| share(*fault, w / sum, logs, &seen, &derived)).collect();
    faults.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    let next = suggest(input, &seen, &faults, noise);
    Diagnosis {
        derived,
        alike: explain::alike(&faults, &next),
        faults,
        next,
        cautions: Vec::new(),
        questions: Vec::new(),
        mode: Some(mode),
        modulated,
        machine: None,
    }
}

fn share(
    fault: Fault,
    probability: f64,
    logs: &[f64; NODES],
    seen: &[Option<f64>; FEATURES],
    derived: &Derived,
) -> FaultShare {
    let top = logs.iter().fold(f64::NEG_INFINITY, |a, l| a.max(*l));
    let weights = logs.map(|l| exp(l - top));
    let sum: f64 = weights.iter().sum();
    let at = |share: f64| {
        let mut below = 0.0;
        for (i, w) in weights.iter().enumerate() {
            if below + w >= share * sum {
                let inside = (share * sum - below) / w;
                let width = (SEVERITY_TO - SEVERITY_FROM) / NODES as f64;
                return SEVERITY_FROM + width * (i as f64 + inside);
            }
            below += w;
        }
        SEVERITY_TO
    };
    let has = fault.changes_machine();
    let (mut because, mut against) = (Vec::new(), Vec::new());
    let rows = directions(fault).unwrap_or([0.0; FEATURES]);
    for (i, z) in seen.iter().enumerate() {
        let (Some(z), Some((key, usual, _)), Some(d)) = (z, USUAL.get(i), rows.get(i)) else {
            continue;
        };
        let Some(v) = derived.get(key) else { continue };
        let words = KEYS.iter().position(|k| k == key).and_then(|p| WORDS.get(p)).unwrap_or(key);
        let side = if *z > 0.0 { "high" } else { "low" };
        let unit = if key.ends_with("_kpa") { "kPa" } else { "K" };
        let text = if *key == "discharge_superheat_k" {
            format!("{words} {:.1} K: {side} for these pressures", v.value)
        } else {
            format!("{words} {:.1} {unit}: {side} (usual is some {usual:.0} {unit})", v.value)
        };
        if z.abs() > 1.0 && z * d > 0.0 {
            because.push(text);
        } else if z.abs() > 1.2 && *d == 0.0 && fault != Fault::SensorOffset {
            against.push(text);
        } else if z * d < -0.8 || (z.abs() < 0.6 && d.abs() >= 2.0) {
            against.push(format!(
                "{words} {:.1} {unit}: not {} as with this fault",
                v.value,
                if *d > 0.0 { "high" } else { "low" }
            ));
        }
    }
    FaultShare {
        fault,
        probability,
        severity: has.then(|| at(0.5)),
        severity_p90: has.then(|| [at(0.05), at(0.95)]),
        detail: None,
        because,
        against,
    }
}

/// Readings that would add a feature, by how much the faults differ in it.
fn suggest(
    input: &Input,
    seen: &[Option<f64>; FEATURES],
    faults: &[FaultShare],
    noise: &Noise,
) -> Vec<Suggestion> {
    let gain = |i: usize| {
        if seen.get(i).is_none_or(Option::is_some) {
            return 0.0;
        }
        let moments = faults.iter().fold((0.0, 0.0), |(m, s), f| {
            let d = STEP * directions(f.fault).and_then(|r| r.get(i).copied()).unwrap_or(0.0);
            (m + f.probability * d, s + f.probability * d * d)
        });
        0.5 * ln(1.0 + (moments.1 - moments.0 * moments.0).max(0.0)) / ln(2.0)
    };
    // The features that each reading completes, as far as the others are there.
    let mut out = Vec::new();
    for key in Key::ALL {
        if input.get(key).is_some() {
            continue;
        }
        let mut probe = input.clone();
        probe.set(key, Some(20.0));
        if key.is_pressure() {
            probe.set(key, Some(300.0));
        }
        let fluid = fluids::Refrigerant::named(&input.fluid);
        let bits = fluid.map_or(0.0, |f| {
            let now = crate::derived::values(f, noise.barometer_kpa, |k| input.get(k));
            let then = crate::derived::values(f, noise.barometer_kpa, |k| probe.get(k));
            let mut sum = 0.0;
            for (i, (name, ..)) in USUAL.iter().enumerate() {
                let at = KEYS.iter().position(|k| k == name).unwrap_or(0);
                if now.get(at).is_some_and(Option::is_none)
                    && then.get(at).is_some_and(Option::is_some)
                {
                    sum += gain(i);
                }
            }
            sum
        });
        if bits > 0.005 {
            out.push(Suggestion::new(key.id(), bits, &trouble_of(Some(key))));
        }
    }
    crate::next::sort(&mut out);
    out
}
