//! What to measure next: expected information about the fault, less its trouble.

use units::math::{exp, ln, sqrt};

use crate::evidence::{DRIER, Doubt, STANDING, Scene};
use crate::reading::{Key, READINGS};
use crate::weigh::{Weighed, probabilities};

/// A measurement worth making.
#[derive(Debug, Clone, PartialEq)]
pub struct Suggestion {
    /// The input key, or `drier_in_out_k`, `standing_excess_kpa`.
    pub measure: &'static str,
    /// Expected information about which fault it is, bits.
    pub gain_bits: f64,
    /// The same, discounted by trouble and risk: what the list is sorted by.
    pub worth_bits: f64,
    /// Share left after the discount, and why.
    pub trouble: &'static str,
    /// How to take it.
    pub how: &'static str,
}

/// Trouble of a measurement.
pub(crate) struct Trouble {
    keep: f64,
    why: &'static str,
    how: &'static str,
}

impl Suggestion {
    pub(crate) fn new(measure: &'static str, bits: f64, t: &Trouble) -> Self {
        Self { measure, gain_bits: bits, worth_bits: bits * t.keep, trouble: t.why, how: t.how }
    }
}

/// How much of a gain is left after trouble and risk, with the reason (judgement, no source), and
/// how the reading is taken.
pub(crate) fn trouble_of(key: Option<Key>) -> Trouble {
    let (keep, why, how) = match key {
        Some(Key::Supply) => (1.0, "on the display", "read the supply air on the unit's display"),
        Some(Key::Return) => (1.0, "on the display", "read the return air on the unit's display"),
        Some(Key::Ambient) => (
            1.0,
            "a thermometer in the open",
            "shaded thermometer in the air that enters the condenser, not in its exhaust",
        ),
        Some(Key::LiquidLine) => (
            0.95,
            "a clamp on a warm pipe",
            "clean the pipe after the drier, clamp, insulate, wait 5 minutes; keep clear of fans",
        ),
        Some(Key::SuctionLine) => (
            0.85,
            "a clamp inside the evaporator section",
            "clamp beside the valve's bulb, clean and insulated, wait 5 minutes; panel back on",
        ),
        Some(Key::CompressorIn) => (
            0.95,
            "a clamp on a cold pipe",
            "clamp on the suction pipe a hand's breadth before the compressor, insulated",
        ),
        Some(Key::CondenserOut) => (
            0.9,
            "a clamp close to the condenser fan",
            "clamp at the condenser's outlet before the receiver; stop the fan to place it",
        ),
        Some(Key::DischargeLine) => (
            0.8,
            "the pipe burns",
            "clamp on the discharge pipe a hand's breadth after the compressor; it burns: gloves",
        ),
        Some(Key::Current) => (
            0.7,
            "440 V",
            "current clamp round one phase at the contactor: 440 V, only who may work on it",
        ),
        Some(Key::Suction) => (
            0.75,
            "hose on: a little gas is lost",
            "gauge on the suction service valve; purge the hose, goggles and gloves",
        ),
        Some(Key::Discharge) => (
            0.65,
            "high pressure, hot hose",
            "gauge on the discharge service valve; goggles and gloves, purge the hose",
        ),
        Some(Key::Liquid) => (
            0.55,
            "liquid under pressure: cold burns when the hose comes off",
            "gauge on the liquid line's service valve after the drier; liquid in the hose: gloves",
        ),
        None => (0.9, "two clamps", ""),
    };
    Trouble { keep, why, how }
}

const DRIER_TROUBLE: Trouble = Trouble {
    keep: 0.95,
    why: "two readings with one clamp",
    how: "same thermometer on the pipe before and after the drier: the step between them",
};
const STANDING_TROUBLE: Trouble = Trouble {
    keep: 0.35,
    why: "half an hour without cooling",
    how: "stop the compressor, run the condenser fan until the pressure is steady, then gauge and \
          liquid_line_c with compressor_on false",
};

/// A clamp's step over the drier: two readings of one thermometer, K.
fn drier_variance(scene: &Scene<'_>) -> f64 {
    2.0 * scene.noise.thermometer_k * scene.noise.thermometer_k
}

/// What could still be measured, best first.
pub(crate) fn suggest(scene: &Scene<'_>, all: &[Weighed]) -> Vec<Suggestion> {
    let p = probabilities(all);
    let mut var = scene.variances(Doubt::NONE);
    var[DRIER] = drier_variance(scene);
    let mut out = Vec::new();
    for (k, var) in var.into_iter().enumerate() {
        if k < READINGS && scene.read[k].is_some() {
            continue;
        }
        let (name, trouble) = match k {
            DRIER => ("drier_in_out_k", DRIER_TROUBLE),
            STANDING => ("standing_excess_kpa", STANDING_TROUBLE),
            _ => match Key::ALL.get(k) {
                Some(key) => (key.id(), trouble_of(Some(*key))),
                None => continue,
            },
        };
        let bits = gain_bits(all, &p, k, var);
        if bits > 0.002 {
            out.push(Suggestion::new(name, bits, &trouble));
        }
    }
    sort(&mut out);
    out
}

pub(crate) fn sort(list: &mut [Suggestion]) {
    list.sort_by(|a, b| b.worth_bits.total_cmp(&a.worth_bits));
}

/// Mutual information of fault and reading, bits: the reading is a mixture of normals.
fn gain_bits(all: &[Weighed], p: &[f64], k: usize, var: f64) -> f64 {
    // One normal per hypothesis.
    let mut parts: Vec<(crate::Fault, f64, f64, f64)> = Vec::new();
    for (w, p) in all.iter().zip(p) {
        if *p < 1e-4 {
            continue;
        }
        let l = &w.peak.local;
        let Some(row) = l.slope.get(k) else { continue };
        let spread: f64 = w.peak.precision.forward(row).iter().map(|v| v * v).sum();
        let mean = l.run.seen.get(k).copied().unwrap_or(0.0);
        parts.push((w.h.fault, *p, mean, sqrt(spread + var)));
    }
    let (lo, hi) = parts.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), q| {
        (a.min(q.2 - 4.0 * q.3), b.max(q.2 + 4.0 * q.3))
    });
    if hi.is_nan() || hi <= lo {
        return 0.0;
    }
    let narrow = parts.iter().fold(f64::INFINITY, |a, q| a.min(q.3));
    let n = (((hi - lo) / (0.5 * narrow)) as usize).clamp(40, 600);
    let d = (hi - lo) / n as f64;
    let total: f64 = parts.iter().map(|q| q.1).sum();
    let mut info = 0.0;
    for i in 0..n {
        let y = lo + d * (i as f64 + 0.5);
        let mut by_fault = [0.0; crate::Fault::ALL.len()];
        for (f, p, m, s) in &parts {
            let z = (y - m) / s;
            if let Some(slot) = by_fault.get_mut(*f as usize) {
                *slot += p / total * 0.398_942_280_401_432_7 * exp(-0.5 * z * z) / s;
            }
        }
        let whole: f64 = by_fault.iter().sum();
        if whole < 1e-300 {
            continue;
        }
        for (f, slot) in crate::Fault::ALL.iter().zip(by_fault) {
            let prior: f64 = parts.iter().filter(|q| q.0 == *f).map(|q| q.1).sum::<f64>() / total;
            if slot > 1e-300 && prior > 0.0 {
                info += d * slot * ln(slot / (whole * prior));
            }
        }
    }
    (info / ln(2.0)).max(0.0)
}
