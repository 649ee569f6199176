//! A machine that nobody described: directions of the usual symptoms with wide errors, no card.

use units::math::{exp, ln, sqrt};

use crate::derived::Derived;
use crate::diagnose::{Diagnosis, FaultShare};
use crate::evidence::{Noise, SEVERITY_FROM, SEVERITY_TO};
use crate::explain;
use crate::fault::Fault;
use crate::next::{Suggestion, trouble_of};
use crate::reading::{Input, Key, Mode};

/// What is looked at.
const FEATURES: usize = 9;

/// A symptom: what it is called, its usual value in a sound unit, how widely sound units differ.
struct Symptom {
    words: &'static str,
    unit: &'static str,
    usual: f64,
    spread: f64,
}

const fn symptom(words: &'static str, unit: &'static str, usual: f64, spread: f64) -> Symptom {
    Symptom { words, unit, usual, spread }
}

/// Middles and spreads: reference/refrigeration-service.md §2.2 (unverified there), and cycles of
/// the two cards over their envelope; the spreads cover both and are wide on purpose.
const SYMPTOMS: [Symptom; FEATURES] = [
    symptom("return air less evaporating", "K", 12.0, 4.5),
    symptom("superheat at the bulb", "K", 7.5, 2.5),
    symptom("superheat at the compressor", "K", 13.5, 5.0),
    symptom("subcooling at the condenser outlet", "K", 2.5, 3.0),
    symptom("subcooling of the liquid line", "K", 4.0, 2.5),
    symptom("condenser split", "K", 10.5, 4.0),
    symptom("discharge pipe against these pressures", "K", 2.0, 7.0),
    symptom("return less supply air", "K", 6.0, 2.0),
    symptom("pressure drop to the liquid gauge", "% of discharge", 1.5, 2.0),
];
/// The first symptoms hang on the suction gauge.
const SUCTION_SIDE: usize = 3;

type Row = [f64; FEATURES];

/// Directions per fault, in steps, in the order of [`SYMPTOMS`]: reference §2.4 (valve with
/// receiver) for the signs, the cards' cycles for which of them are strong. Where the reference
/// keeps two disagreeing rows, both are here. What shows alike stays alike on purpose.
fn directions(fault: Fault, liquid_gauge: bool) -> &'static [Row] {
    match fault {
        Fault::None => &[[0.0; FEATURES]],
        Fault::Undercharge => &[[0.5, 1.5, 1.0, -0.6, -1.3, -0.4, 0.3, -0.6, 0.5]],
        Fault::Overcharge => &[[0.0, 0.0, 0.0, 2.5, 2.6, 0.8, 0.0, 0.0, 0.0]],
        Fault::NonCondensables => &[[0.0, 0.0, 0.0, 1.2, 1.6, 1.3, 0.0, 0.0, 0.0]],
        Fault::CondenserAirflow => &[[0.0, 0.0, 0.0, -0.2, 0.2, 1.3, 0.0, -0.2, 0.0]],
        Fault::EvaporatorAirflow => &[[0.7, 0.0, 0.0, 0.0, 0.0, -0.3, 0.0, 1.5, 0.0]],
        // Below the drier the liquid flashes: with a gauge there it is just saturated, against
        // the discharge gauge it looks deeply subcooled.
        Fault::LiquidRestriction if liquid_gauge => {
            &[[1.2, 2.5, 1.7, 1.3, -1.2, -0.3, 0.7, -0.6, 3.5]]
        }
        Fault::LiquidRestriction => &[[1.2, 2.5, 1.7, 1.3, 3.0, -0.3, 0.7, -0.6, 3.5]],
        Fault::ExpansionStuckClosed | Fault::SuctionThrottleStuck => {
            &[[1.2, 2.5, 1.7, 0.3, 0.2, -0.4, 0.7, -0.6, 0.0]]
        }
        Fault::ExpansionStuckOpen => &[[-0.4, -2.0, -2.0, -0.2, -0.5, 0.0, -2.3, -0.3, 0.0]],
        Fault::CompressorLeak => &[
            [-0.6, -0.2, 0.0, 0.0, 0.0, -0.4, 2.5, -0.6, 0.0],
            [-0.6, -0.2, 0.0, 0.0, 0.0, -0.4, 0.0, -0.6, 0.0],
        ],
        Fault::HotGasLeak => &[[-0.6, -0.2, 0.0, 0.0, 0.0, -0.4, 0.0, -0.8, 0.0]],
        Fault::WrongRefrigerant | Fault::SensorOffset => &[],
    }
}

/// One step of a direction, in spreads, at middle severity.
const STEP: f64 = 1.3;
/// How uncertain the length of a step is on a machine that nobody described.
const VAGUE: f64 = 0.4;

/// ln likelihood of the symptoms under a row at a severity.
fn ln_directed(seen: &[Option<f64>; FEATURES], row: &Row, severity: f64) -> f64 {
    let scale = severity / (0.5 * (SEVERITY_FROM + SEVERITY_TO));
    let mut sum = 0.0;
    for (z, d) in seen.iter().zip(row) {
        let Some(z) = z else { continue };
        let sd = sqrt(1.0 + (VAGUE * STEP * d) * (VAGUE * STEP * d));
        // A bounded tail: nothing is excluded by one figure of an unknown machine.
        let miss = (z - STEP * scale * d) / sd;
        sum += ln(exp(-0.5 * miss * miss) + 1e-4) - ln(sd);
    }
    sum
}

fn ln_fault(seen: &[Option<f64>; FEATURES], fault: Fault, liquid_gauge: bool) -> [f64; NODES] {
    let node =
        |i: usize| SEVERITY_FROM + (SEVERITY_TO - SEVERITY_FROM) * (i as f64 + 0.5) / NODES as f64;
    let rows = directions(fault, liquid_gauge);
    std::array::from_fn(|i| match fault {
        Fault::WrongRefrigerant => ln_wide(seen),
        Fault::SensorOffset => ln_offset(seen, node(i)),
        _ => {
            let sum: f64 = rows.iter().map(|r| exp(ln_directed(seen, r, node(i)))).sum();
            ln((sum / rows.len().max(1) as f64).max(1e-300))
        }
    })
}

const NODES: usize = 9;

/// Another refrigerant: anything may be off.
fn ln_wide(seen: &[Option<f64>; FEATURES]) -> f64 {
    seen.iter().flatten().map(|z| -0.5 * z * z / 6.25 - ln(2.5)).sum()
}

/// One sensor off by 15 K times the severity, either way.
fn ln_offset(seen: &[Option<f64>; FEATURES], severity: f64) -> f64 {
    // Symptoms moved by suction line, liquid line, discharge line, supply, return.
    const MOVED: [&[(usize, f64)]; 5] =
        [&[(1, 1.0)], &[(4, -1.0)], &[(6, 1.0)], &[(7, -1.0)], &[(0, 1.0), (7, 1.0)]];
    let mut sum = 0.0;
    for moved in MOVED {
        for sign in [1.0, -1.0] {
            let mut shifted = *seen;
            for (i, d) in moved {
                if let (Some(Some(z)), Some(u)) = (shifted.get_mut(*i), SYMPTOMS.get(*i)) {
                    *z -= sign * d * 15.0 * severity / u.spread;
                }
            }
            sum += exp(ln_directed(&shifted, &[0.0; FEATURES], 0.45)) / 10.0;
        }
    }
    ln(sum.max(1e-300))
}

/// The symptoms in their own units; the discharge as its difference to what a middling compressor
/// would do between these pressures.
fn symptoms(input: &Input, derived: &Derived) -> [Option<(f64, f64)>; FEATURES] {
    let of = |key: &str| {
        let e = derived.get(key)?;
        Some((e.value, (e.p90[1] - e.p90[0]) / 3.29))
    };
    let at_condenser = derived.get("condensing_bubble_c").zip(input.get(Key::CondenserOut));
    let discharge = of("discharge_superheat_k")
        .zip(expected_discharge_superheat(input, derived))
        .map(|((v, sd), usual)| (v - usual, sd));
    let barometer = input.barometer_kpa.unwrap_or(crate::derived::STANDARD_KPA);
    let drop = of("liquid_drop_kpa").zip(input.get(Key::Discharge)).map(|((v, sd), d)| {
        let whole = (d + barometer) / 100.0;
        (v / whole, sd / whole)
    });
    [
        of("evaporator_td_k"),
        of("superheat_k"),
        of("compressor_superheat_k"),
        at_condenser.map(|(e, t)| (e.value - t, (e.p90[1] - e.p90[0]) / 3.29)),
        of("subcooling_k").filter(|_| input.get(Key::LiquidLine).is_some()),
        of("condenser_split_k"),
        discharge,
        of("air_difference_k"),
        drop,
    ]
}

/// Symptoms in spreads from the usual.
fn features(input: &Input, derived: &Derived, modulated: bool) -> [Option<f64>; FEATURES] {
    let raw = symptoms(input, derived);
    std::array::from_fn(|i| {
        let ((v, reading), s) = raw.get(i).copied().flatten().zip(SYMPTOMS.get(i))?;
        // A throttle that control has closed lowers the suction gauge: what hangs on it says
        // nothing then.
        if modulated && i < SUCTION_SIDE {
            return None;
        }
        let z = (v - s.usual) / sqrt(s.spread * s.spread + reading * reading);
        Some(z.clamp(-6.0, 6.0))
    })
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
        let logs = ln_fault(&seen, fault, input.get(Key::Liquid).is_some());
        let mean = logs.iter().map(|l| exp(*l)).sum::<f64>() / NODES as f64;
        raw.push((fault, fault.prior_weight() * mean, logs));
    }
    let sum: f64 = raw.iter().map(|r| r.1).sum();
    let mut faults: Vec<FaultShare> = raw
        .iter()
        .map(|(fault, w, logs)| share(*fault, w / sum, logs, &seen, (input, &derived)))
        .collect();
    faults.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    let next = suggest(input, &seen, &faults, noise);
    Diagnosis {
        derived,
        pairs: Vec::new(),
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
    (input, derived): (&Input, &Derived),
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
    let (because, against) = spoken(fault, seen, (input, derived));
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

/// What speaks for and against a fault, symptom by symptom.
fn spoken(
    fault: Fault,
    seen: &[Option<f64>; FEATURES],
    (input, derived): (&Input, &Derived),
) -> (Vec<String>, Vec<String>) {
    let (mut because, mut against) = (Vec::new(), Vec::new());
    let raw = symptoms(input, derived);
    let row = directions(fault, input.get(Key::Liquid).is_some()).first().copied();
    let row = row.unwrap_or([0.0; FEATURES]);
    for (((z, v), s), d) in seen.iter().zip(raw).zip(&SYMPTOMS).zip(row) {
        let (Some(z), Some((v, _))) = (z, v) else { continue };
        let what = format!("{} {v:.1} {}", s.words, s.unit);
        let side = if *z > 0.0 { "high" } else { "low" };
        let usual = format!("{what}: {side} (usual is some {:.0})", s.usual);
        if z.abs() > 1.0 && z * d > 0.0 {
            because.push(usual);
        } else if z.abs() > 1.2 && d == 0.0 && fault != Fault::SensorOffset {
            against.push(usual);
        } else if z * d < -0.8 || (z.abs() < 0.6 && d.abs() >= 1.5) {
            let wanted = if d > 0.0 { "high" } else { "low" };
            against.push(format!("{what}: not {wanted} as with this fault"));
        }
    }
    (because, against)
}

/// Readings that would add a symptom, by how much the faults differ in it.
fn suggest(
    input: &Input,
    seen: &[Option<f64>; FEATURES],
    faults: &[FaultShare],
    noise: &Noise,
) -> Vec<Suggestion> {
    let gain = |i: usize| {
        let moments = faults.iter().fold((0.0, 0.0), |(m, s), f| {
            let rows = directions(f.fault, input.get(Key::Liquid).is_some());
            let d = STEP * rows.first().and_then(|r| r.get(i).copied()).unwrap_or(0.0);
            (m + f.probability * d, s + f.probability * d * d)
        });
        0.5 * ln(1.0 + (moments.1 - moments.0 * moments.0).max(0.0)) / ln(2.0)
    };
    let now: Vec<bool> = seen.iter().map(Option::is_some).collect();
    let mut out = Vec::new();
    for key in Key::ALL.into_iter().filter(|k| input.get(*k).is_none()) {
        let mut probe = input.clone();
        // Any value will do: what counts is which symptoms it completes.
        probe.set(key, Some(if key.is_pressure() { 300.0 } else { 20.0 }));
        let Ok(fluid) = fluids::Refrigerant::named(&input.fluid) else { continue };
        let then = symptoms(&probe, &crate::derived::derive(fluid, &probe, noise));
        let bits: f64 = (0..FEATURES)
            .filter(|i| now.get(*i) == Some(&false) && then.get(*i).is_some_and(Option::is_some))
            .map(gain)
            .sum();
        if bits > 0.005 {
            out.push(Suggestion::new(key.id(), bits, &trouble_of(Some(key))));
        }
    }
    crate::next::sort(&mut out);
    out
}
