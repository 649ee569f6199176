//! Weighs every hypothesis: a look at a few severities, a climb to the most probable point where
//! that is worth it, and sampling around it for those that count.

use fluids::Refrigerant;
use units::math::{exp, ln};

use crate::card::Card;
use crate::evidence::{Doubt, HIDDEN, Hidden, Hypothesis, Run, SEVERITY, Scene, Seen};
use crate::fault::Fault;
use crate::linear::{Local, Peak, climb, linear_evidence, linear_peak, local, step};
use crate::matrix::Cholesky;
use crate::normal::quantile;
use crate::reading::Key;
use crate::sampling::{Draws, sample};

/// How thoroughly to work. The default is what the command uses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effort {
    /// Pairs of draws per hypothesis; 0 stays with the normal approximation.
    pub pairs: usize,
    /// Prior share of machines whose structure is not quite the card's.
    pub doubtful_share: f64,
    /// How far those stand off.
    pub doubt: Doubt,
}

impl Default for Effort {
    fn default() -> Self {
        Self {
            pairs: 100,
            doubtful_share: 0.1,
            doubt: Doubt { pressure: 0.03, temperature_k: 1.0, current: 0.04 },
        }
    }
}

/// A hypothesis weighed.
#[derive(Debug, Clone)]
pub(crate) struct Weighed {
    pub h: Hypothesis,
    /// ln of prior times evidence.
    pub ln_weight: f64,
    /// Peak with the instruments' errors alone.
    pub peak: Peak,
    /// Severity latents with weights that sum to 1.
    pub severities: Vec<(f64, f64)>,
}

/// Every hypothesis with its prior share (they sum to one over all).
pub(crate) fn hypotheses(card: &Card) -> Vec<(Hypothesis, f64)> {
    const OFFSETS: [Key; 5] =
        [Key::SuctionLine, Key::LiquidLine, Key::DischargeLine, Key::Supply, Key::Return];
    const FLUIDS: [&str; 6] = ["R134a", "R404A", "R452A", "R513A", "R1234yf", "R290"];
    let own = Refrigerant::named(&card.fluid).map_or("", Refrigerant::name);
    let total: f64 = Fault::ALL.iter().map(|f| f.prior_weight()).sum();
    let mut all = Vec::new();
    for fault in Fault::ALL {
        let share = fault.prior_weight() / total;
        match fault {
            Fault::SensorOffset => {
                for key in OFFSETS {
                    for sign in [1.0, -1.0] {
                        let offset = Some((key, sign));
                        let h = Hypothesis { offset, ..Hypothesis::of(fault) };
                        all.push((h, share / 10.0));
                    }
                }
            }
            Fault::WrongRefrigerant => {
                for name in FLUIDS.into_iter().filter(|n| *n != own) {
                    let h = Hypothesis { fluid: Some(name), ..Hypothesis::of(fault) };
                    all.push((h, share / 5.0));
                }
            }
            _ => all.push((Hypothesis::of(fault), share)),
        }
    }
    all
}

/// Severities at which a hypothesis is first looked at, as shares of the range.
const NODES: [f64; 5] = [0.1, 0.3, 0.5, 0.7, 0.9];

/// A hypothesis as seen from its best node.
struct Looked {
    h: Hypothesis,
    ln_prior: f64,
    start: Local,
    exact: f64,
    wide: f64,
}

/// The hypothesis at its nodes; the best of them by the linear evidence.
fn look(
    scene: &Scene<'_>,
    h: Hypothesis,
    prior: f64,
    used: &[usize],
    (var, loose): (&Seen, &Seen),
) -> Option<Looked> {
    let nodes: &[f64] = match h.fault {
        Fault::None | Fault::WrongRefrigerant => &[0.5],
        Fault::SensorOffset => &[0.2, 0.8],
        _ => &NODES,
    };
    let mut near: Option<Run> = None;
    let mut best: Option<Looked> = None;
    for share in nodes {
        let mut z: Hidden = [0.0; HIDDEN];
        z[SEVERITY] = quantile(*share);
        let Ok(run) = scene.run(&h, &z, near.as_ref()) else { continue };
        near = Some(run);
        let Ok(start) = local(scene, &h, &z, run) else { continue };
        let Some(exact) = linear_evidence(scene, &start, used, var) else { continue };
        let wide = linear_evidence(scene, &start, used, loose).unwrap_or(exact);
        let better = best.as_ref().is_none_or(|b| exact > b.exact);
        let widest = best.as_ref().map_or(wide, |b| b.wide.max(wide));
        if better {
            best = Some(Looked { h, ln_prior: ln(prior), start, exact, wide: widest });
        } else if let Some(b) = &mut best {
            b.wide = widest;
        }
    }
    best
}

/// Below the best by this much (ln), a hypothesis is not sampled.
const NOT_SAMPLED: f64 = 9.0;
/// By this much, at its best node, it is not even climbed; and with the structure in doubt.
const NOT_CLIMBED: f64 = 30.0;
const NOT_CLIMBED_WIDE: f64 = 12.0;

/// Every hypothesis that has a steady state, weighed.
pub(crate) fn weigh_all(scene: &Scene<'_>, effort: &Effort) -> Vec<Weighed> {
    let used = scene.compared();
    let var = scene.variances(Doubt::NONE);
    let loose = scene.variances(effort.doubt);
    let looked: Vec<Looked> = hypotheses(scene.card)
        .into_iter()
        .filter_map(|(h, prior)| look(scene, h, prior, &used, (&var, &loose)))
        .collect();
    let most = |of: fn(&Looked) -> f64| {
        looked.iter().fold(f64::NEG_INFINITY, |a, l| a.max(l.ln_prior + of(l)))
    };
    let (exact_top, wide_top) = (most(|l| l.exact), most(|l| l.wide));
    let mut all = Vec::new();
    let mut wides: Vec<Wide> = Vec::new();
    for l in looked {
        let worth = l.ln_prior + l.exact > exact_top - NOT_CLIMBED
            || l.ln_prior + l.wide > wide_top - NOT_CLIMBED_WIDE;
        let climbed = if worth { climb(scene, &l.h, &l.start, &used, &var) } else { None };
        let Some(peak) = climbed.or_else(|| linear_peak(scene, &l.start, &used, &var)) else {
            continue;
        };
        wides.push(wide(scene, &peak, l.wide, &used, &loose));
        all.push(Weighed { h: l.h, ln_weight: l.ln_prior, peak, severities: Vec::new() });
    }
    finish(scene, effort, &used, &var, &mut all, &wides);
    all
}

/// A hypothesis with the structure in doubt: ln evidence, and the severity latent's mean and
/// spread.
struct Wide {
    ln_evidence: f64,
    severity: (f64, f64),
}

fn wide(scene: &Scene<'_>, peak: &Peak, at_node: f64, used: &[usize], loose: &Seen) -> Wide {
    let at_peak = linear_evidence(scene, &peak.local, used, loose).unwrap_or(at_node);
    let severity = step(scene, &peak.local, used, loose).map_or((0.0, 1.0), |(c, d)| {
        (peak.local.z[SEVERITY] + d.get(SEVERITY).copied().unwrap_or(0.0), severity_spread(&c))
    });
    Wide { ln_evidence: at_peak.max(at_node), severity }
}

/// Samples what is worth it and adds the doubtful structure's part.
fn finish(
    scene: &Scene<'_>,
    effort: &Effort,
    used: &[usize],
    var: &Seen,
    all: &mut [Weighed],
    wides: &[Wide],
) {
    let top = all.iter().fold(f64::NEG_INFINITY, |a, w| a.max(w.ln_weight + w.peak.ln_evidence));
    let draws = Draws::new(effort.pairs);
    let (q, sure) = (ln(effort.doubtful_share.max(1e-300)), ln(1.0 - effort.doubtful_share));
    for (w, wide) in all.iter_mut().zip(wides) {
        let mut exact = w.peak.ln_evidence;
        if effort.pairs > 0
            && w.ln_weight + exact > top - NOT_SAMPLED
            && let Some(s) = sample(scene, &w.h, &w.peak, &draws, used, var)
        {
            // Too few draws that count: the peak's own figure is the better one.
            if s.effective > 4.0 {
                exact = s.ln_evidence;
                w.severities = s.severities;
            }
        }
        let (sound, doubtful) = (exact + sure, wide.ln_evidence + q);
        let whole = add_logs(sound, doubtful);
        w.ln_weight += whole;
        if w.severities.is_empty() {
            let (mean, sd) = (w.peak.local.z[SEVERITY], severity_spread(&w.peak.precision));
            w.severities = normal_cloud(mean, sd);
        }
        // Where the structure is in doubt the severity is, too.
        let share = exp(doubtful - whole);
        if share > 0.01 && share.is_finite() {
            for s in &mut w.severities {
                s.1 *= 1.0 - share;
            }
            let (mean, sd) = wide.severity;
            w.severities.extend(normal_cloud(mean, sd).into_iter().map(|(z, p)| (z, p * share)));
        }
    }
}

/// ln(e^a + e^b)
pub(crate) fn add_logs(a: f64, b: f64) -> f64 {
    let top = a.max(b);
    if top.is_finite() { top + ln(exp(a - top) + exp(b - top)) } else { top }
}

/// Standard deviation of the severity latent under a precision.
pub(crate) fn severity_spread(precision: &Cholesky) -> f64 {
    let unit: Hidden = std::array::from_fn(|i| if i == SEVERITY { 1.0 } else { 0.0 });
    precision.solve(&unit).get(SEVERITY).copied().unwrap_or(1.0).max(0.0).sqrt()
}

/// Severity latents of a normal distribution, evenly weighted.
fn normal_cloud(mean: f64, sd: f64) -> Vec<(f64, f64)> {
    (0..21).map(|i| (mean + sd * quantile((f64::from(i) + 0.5) / 21.0), 1.0 / 21.0)).collect()
}

/// Probabilities of the hypotheses.
pub(crate) fn probabilities(all: &[Weighed]) -> Vec<f64> {
    let top = all.iter().fold(f64::NEG_INFINITY, |a, w| a.max(w.ln_weight));
    let raw: Vec<f64> = all.iter().map(|w| exp(w.ln_weight - top)).collect();
    let sum: f64 = raw.iter().sum();
    raw.into_iter().map(|v| v / sum).collect()
}
