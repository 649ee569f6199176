//! Two faults at once: looked for only where no single one explains the readings, and told beside
//! the single faults, whose probabilities stay as they are.

use units::math::{exp, ln};

use crate::evidence::{
    Doubt, HIDDEN, Hidden, Hypothesis, SEVERITY, SEVERITY_FROM, SEVERITY_TO, Scene, Seen, THROTTLE,
};
use crate::fault::Fault;
use crate::linear::{Local, climb, linear_evidence, local};
use crate::misread::{misfit, misfit_of};
use crate::normal::{below, quantile};
use crate::weigh::{Effort, Weighed, add_logs};

/// Two faults at once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// The faults, in the contract's order.
    pub faults: [Fault; 2],
    /// Probability among all single faults and all pairs, 0 to 1.
    pub probability: f64,
    /// Most probable severities, 0 to 1.
    pub severities: [f64; 2],
}

/// Share of units on the gauges that have two faults at once (a judgement, no source).
const SHARE: f64 = 0.1;
/// Squared misfit of the best single fault above which pairs are looked at: two standard
/// deviations of what chance gives with ten readings.
const POOR: f64 = 9.0;
/// Above this, with the best pair, nothing explains the readings.
const NOTHING: f64 = 25.0;
/// Pairs are told when they are together more probable than all single faults.
const TOLD: f64 = 0.5;
/// Pairs that are climbed, and told.
const CLIMBED: usize = 10;
const MOST: usize = 3;
/// Severities at which a pair is first looked at, as shares of the range.
const NODES: [f64; 2] = [0.25, 0.75];

/// Faults that exclude each other.
fn excluded(a: Fault, b: Fault) -> bool {
    matches!(
        (a, b),
        (Fault::Undercharge, Fault::Overcharge)
            | (Fault::ExpansionStuckClosed, Fault::ExpansionStuckOpen)
    )
}

/// Every pair of faults of the machine.
fn all_pairs() -> Vec<[Fault; 2]> {
    let faults: Vec<Fault> = Fault::ALL.into_iter().filter(|f| f.changes_machine()).collect();
    let mut out = Vec::new();
    for (i, a) in faults.iter().enumerate() {
        out.extend(faults.iter().skip(i + 1).filter(|b| !excluded(*a, **b)).map(|b| [*a, *b]));
    }
    out
}

/// The pair from its best node, with the evidence there.
fn start(scene: &Scene<'_>, h: &Hypothesis, used: &[usize], var: &Seen) -> Option<(f64, Local)> {
    let mut best: Option<(f64, Local)> = None;
    let mut near = None;
    for a in NODES {
        for b in NODES {
            let mut z: Hidden = [0.0; HIDDEN];
            z[SEVERITY] = quantile(a);
            z[THROTTLE] = quantile(b);
            let Ok(run) = scene.run(h, &z, near.as_ref()) else { continue };
            near = Some(run);
            let Ok(l) = local(scene, h, &z, run) else { continue };
            let Some(e) = linear_evidence(scene, &l, used, var) else { continue };
            if best.as_ref().is_none_or(|b| e > b.0) {
                best = Some((e, l));
            }
        }
    }
    best
}

/// Pairs that explain what no single fault does, and whether nothing explains the readings.
pub(crate) fn look(scene: &Scene<'_>, all: &[Weighed], effort: &Effort) -> (Vec<Pair>, bool) {
    let single = misfit(scene, all);
    let used = scene.compared();
    // Two severities more: with few readings anything fits.
    if scene.modulated || single < POOR || used.len() < 5 {
        return (Vec::new(), false);
    }
    let var = scene.variances(Doubt::NONE);
    let loose = scene.variances(effort.doubt);
    let pairs = all_pairs();
    let prior = ln(SHARE / pairs.len() as f64);
    let mut starts: Vec<(f64, Hypothesis, Local)> = Vec::new();
    for [a, b] in pairs {
        let h = Hypothesis { second: Some(b), ..Hypothesis::of(a) };
        starts.extend(start(scene, &h, &used, &var).map(|(e, l)| (e, h, l)));
    }
    starts.sort_by(|a, b| b.0.total_cmp(&a.0));
    let (q, sure) = (ln(effort.doubtful_share.max(1e-300)), ln(1.0 - effort.doubtful_share));
    let mut least = single;
    let mut found: Vec<(f64, Pair)> = Vec::new();
    for (_, h, l) in starts.into_iter().take(CLIMBED) {
        let Some(peak) = climb(scene, &h, &l, &used, &var) else { continue };
        let Some(second) = h.second else { continue };
        least = least.min(misfit_of(scene, &peak.local, &used, &var));
        let wide = linear_evidence(scene, &peak.local, &used, &loose).unwrap_or(f64::NEG_INFINITY);
        let weight = prior + add_logs(peak.ln_evidence + sure, wide + q);
        let severity = |i: usize| {
            let latent = peak.local.z.get(i).copied().unwrap_or(0.0);
            SEVERITY_FROM + (SEVERITY_TO - SEVERITY_FROM) * below(latent)
        };
        let severities = [severity(SEVERITY), severity(THROTTLE)];
        found.push((weight, Pair { faults: [h.fault, second], probability: 0.0, severities }));
    }
    (admitted(found, all), least > NOTHING)
}

/// Pairs weighed beside the single faults; none unless together they outweigh those.
fn admitted(mut found: Vec<(f64, Pair)>, all: &[Weighed]) -> Vec<Pair> {
    let singles = all.iter().fold(f64::NEG_INFINITY, |a, w| add_logs(a, w.ln_weight));
    let singles = singles + ln(1.0 - SHARE);
    let whole = found.iter().fold(singles, |a, f| add_logs(a, f.0));
    for (weight, pair) in &mut found {
        pair.probability = exp(*weight - whole);
    }
    if 1.0 - exp(singles - whole) < TOLD {
        return Vec::new();
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    found.into_iter().map(|f| f.1).filter(|p| p.probability > 0.05).take(MOST).collect()
}

/// In words.
pub(crate) fn told(pairs: &[Pair], nothing: bool) -> Option<String> {
    if nothing {
        return Some(
            "no single fault and no two faults at once explain these readings: read them again, see \
             that the unit has run steadily for 15 minutes and that the machine card is this \
             machine's"
                .into(),
        );
    }
    let pair = |p: &Pair| {
        let [a, b] = p.faults;
        format!("{} with {} ({:.0} %)", a.words(), b.words(), 100.0 * p.probability)
    };
    (!pairs.is_empty()).then(|| {
        format!(
            "no single fault explains these readings well; two at once do: {}. Mend one, then \
             read again",
            pairs.iter().map(pair).collect::<Vec<_>>().join(", or ")
        )
    })
}
