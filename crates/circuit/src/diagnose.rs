//! Weighs the faults against the readings.

use fluids::Refrigerant;
use units::math::{exp, ln};

use crate::card::{Card, Shedding};
use crate::check;
use crate::derived::{Derived, derive, noise};
use crate::evidence::{Doubt, HIDDEN, Hidden, Hypothesis, Run, SEVERITY, Scene, Seen};
use crate::evidence::{SEVERITY_FROM, SEVERITY_TO};
use crate::explain;
use crate::fault::Fault;
use crate::linear::{Local, Peak, climb, linear_evidence, local};
use crate::next::{self, Suggestion};
use crate::normal::{below, quantile};
use crate::reading::{Input, Key, Mode, Refusal};
use crate::sampling::{Draws, sample};
use crate::{standing, unknown};

/// One fault's share.
#[derive(Debug, Clone, PartialEq)]
pub struct FaultShare {
    /// The fault.
    pub fault: Fault,
    /// Probability, 0 to 1.
    pub probability: f64,
    /// Severity 0 to 1, were it this fault; none for `none` and where severity has no meaning.
    pub severity: Option<f64>,
    /// Its 90 % interval.
    pub severity_p90: Option<[f64; 2]>,
    /// Which sensor, which other refrigerant.
    pub detail: Option<String>,
    /// What speaks for it.
    pub because: Vec<String>,
    /// What speaks against it.
    pub against: Vec<String>,
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Diagnosis {
    /// What the readings say by themselves.
    pub derived: Derived,
    /// Every fault, most probable first; probabilities sum to 1.
    pub faults: Vec<FaultShare>,
    /// What to measure next, most telling first.
    pub next: Vec<Suggestion>,
    /// Before anything else.
    pub cautions: Vec<String>,
    /// Faults that these readings cannot tell apart.
    pub alike: Vec<String>,
    /// Readings to look at again.
    pub questions: Vec<String>,
    /// Mode that was taken, where the compressor runs.
    pub mode: Option<Mode>,
    /// How capacity was taken: full, or throttled by control.
    pub modulated: bool,
    /// Id of the card, where one was used.
    pub machine: Option<String>,
}

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

/// Diagnoses a set of readings. `cards` are looked through for the machine; the embedded ones
/// are [`Card::embedded`].
///
/// # Errors
/// [`Refusal`] when the input cannot be used.
pub fn diagnose(input: &Input, cards: &[&Card]) -> Result<Diagnosis, Refusal> {
    diagnose_with(input, cards, &Effort::default())
}

/// The same with a chosen effort.
///
/// # Errors
/// As [`diagnose`].
pub fn diagnose_with(
    input: &Input,
    cards: &[&Card],
    effort: &Effort,
) -> Result<Diagnosis, Refusal> {
    let fluid = check::usable(input)?;
    let card = find(input, cards)?;
    let default = Card::embedded().first();
    let instruments = card
        .or(default)
        .map(|c| c.instruments)
        .ok_or_else(|| Refusal("the embedded machine cards are damaged".into()))?;
    let extra = card.map_or(0.0, |c| {
        let (m, v) = (c.scatter.efficiency_fraction, c.scatter.voltage_fraction);
        (m * m + v * v) / 3.0
    });
    let noise = noise(input, &instruments, extra);
    let derived = derive(fluid, input, &noise);
    if !input.compressor_on {
        return standing::judge(input, fluid, &noise, derived);
    }
    check::running(input, fluid, &noise)?;
    let mode = mode_of(input, card);
    let mut d = match card {
        None => unknown::judge(input, &noise, derived, mode),
        Some(card) => with_card(input, card, noise, derived, mode, effort)?,
    };
    d.cautions = explain::cautions(input, fluid, &d);
    d.questions.extend(check::doubtful(input, fluid, &noise));
    Ok(d)
}

fn find<'a>(input: &Input, cards: &[&'a Card]) -> Result<Option<&'a Card>, Refusal> {
    let Some(id) = &input.machine else { return Ok(None) };
    cards.iter().find(|c| c.id == *id).copied().map(Some).ok_or_else(|| {
        let known: Vec<&str> = cards.iter().map(|c| c.id.as_str()).collect();
        Refusal(format!(
            "machine: no card \"{id}\"; known are {}; another card is added with --card FILE",
            known.join(" ")
        ))
    })
}

/// Fine print 5: mode, else set point, else return air.
fn mode_of(input: &Input, card: Option<&Card>) -> Mode {
    let limit = card.map_or(-10.0, |c| c.capacity.frozen_below_c);
    let by = |t: f64| if t < limit { Mode::Frozen } else { Mode::Chilled };
    input
        .mode
        .or_else(|| input.set_point_c.map(by))
        .or_else(|| input.get(Key::Return).map(by))
        .or_else(|| input.get(Key::Supply).map(|t| by(t + 3.0)))
        .unwrap_or(Mode::Chilled)
}

/// Whether control may have closed the throttle.
fn modulated(input: &Input, card: &Card, mode: Mode) -> bool {
    let near = match (input.set_point_c, input.get(Key::Return)) {
        (Some(set), Some(back)) => back < set + card.capacity.pull_down_k,
        (Some(set), None) => {
            input.get(Key::Supply).is_some_and(|s| s < set + card.capacity.pull_down_k)
        }
        _ => false,
    };
    near && mode == Mode::Chilled && card.capacity.chilled == Shedding::SuctionThrottle
}

/// The scene of a set of readings.
pub(crate) fn scene<'a>(
    input: &Input,
    card: &'a Card,
    noise: crate::evidence::Noise,
    mode: Mode,
) -> Scene<'a> {
    let t = noise.thermometer_k;
    let return_c = match (input.get(Key::Return), input.get(Key::Supply), mode) {
        (Some(r), ..) => (r, t),
        (None, Some(s), Mode::Chilled) => (s + 6.0, 3.0),
        (None, Some(s), Mode::Frozen) => (s + 5.0, 3.0),
        (None, None, m) => {
            let usual = if m == Mode::Chilled { 6.0 } else { -17.0 };
            (input.set_point_c.map_or(usual, |s| s + 1.5), 5.0)
        }
    };
    let ambient_c = input.get(Key::Ambient).map_or((29.0, 8.0), |a| (a, t));
    Scene {
        card,
        mode,
        modulated: modulated(input, card, mode),
        return_c,
        ambient_c,
        read: input.readings,
        noise,
        known: None,
    }
}

fn with_card(
    input: &Input,
    card: &Card,
    noise: crate::evidence::Noise,
    derived: Derived,
    mode: Mode,
    effort: &Effort,
) -> Result<Diagnosis, Refusal> {
    // Another refrigerant may have been filled on purpose: the plate of the unit counts.
    let own;
    let card = if Refrigerant::named(&card.fluid).map(Refrigerant::name).ok()
        == Refrigerant::named(&input.fluid).map(Refrigerant::name).ok()
    {
        card
    } else {
        own = Card { fluid: input.fluid.clone(), ..card.clone() };
        &own
    };
    let mut scene = scene(input, card, noise, mode);
    scene.known = explain::learn(input, card, mode)?;
    let all = weigh_all(&scene, effort);
    if all.is_empty() {
        return Err(Refusal(format!(
            "machine: card {} finds no steady running with {} at these air temperatures; check \
             fluid, return_c and ambient_c",
            card.id, input.fluid
        )));
    }
    let faults = shares(&scene, &all);
    let next = next::suggest(&scene, &all);
    Ok(Diagnosis {
        derived,
        alike: explain::alike(&faults, &next),
        questions: explain::contradictions(&scene, &all),
        faults,
        next,
        cautions: Vec::new(),
        mode: Some(mode),
        modulated: scene.modulated,
        machine: Some(card.id.clone()),
    })
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

/// The hypothesis at its nodes; the best of them by the linear evidence.
fn best_node(scene: &Scene<'_>, h: &Hypothesis, used: &[usize], var: &Seen) -> Option<Local> {
    let nodes: &[f64] = match h.fault {
        Fault::None | Fault::WrongRefrigerant => &[0.5],
        Fault::SensorOffset => &[0.2, 0.8],
        _ => &NODES,
    };
    let mut near: Option<Run> = None;
    let mut best: Option<(f64, Local)> = None;
    for share in nodes {
        let mut z: Hidden = [0.0; HIDDEN];
        z[SEVERITY] = quantile(*share);
        let Ok(run) = scene.run(h, &z, near.as_ref()) else { continue };
        near = Some(run);
        let Ok(l) = local(scene, h, &z, run) else { continue };
        let Some(e) = linear_evidence(scene, &l, used, var) else { continue };
        if best.as_ref().is_none_or(|(b, _)| e > *b) {
            best = Some((e, l));
        }
    }
    best.map(|(_, l)| l)
}

/// Below the best by this much (ln), a hypothesis is not sampled.
const NOT_WORTH: f64 = 9.0;

/// Every hypothesis that has a steady state, weighed.
pub(crate) fn weigh_all(scene: &Scene<'_>, effort: &Effort) -> Vec<Weighed> {
    let used = scene.compared();
    let var = scene.variances(Doubt::NONE);
    let loose = scene.variances(effort.doubt);
    let mut all = Vec::new();
    let mut doubted = Vec::new();
    for (h, prior) in hypotheses(scene.card) {
        let Some(start) = best_node(scene, &h, &used, &var) else { continue };
        let Some(peak) = climb(scene, &h, &start, &used, &var) else { continue };
        let wide = climb(scene, &h, &start, &used, &loose);
        doubted.push(wide.map_or(f64::NEG_INFINITY, |w| w.ln_evidence));
        all.push(Weighed { h, ln_weight: ln(prior), peak, severities: Vec::new() });
    }
    let top = all.iter().fold(f64::NEG_INFINITY, |a, w| a.max(w.ln_weight + w.peak.ln_evidence));
    let draws = Draws::new(effort.pairs);
    let (q, sure) = (ln(effort.doubtful_share.max(1e-300)), ln(1.0 - effort.doubtful_share));
    for (w, wide) in all.iter_mut().zip(doubted) {
        let mut exact = w.peak.ln_evidence;
        if effort.pairs > 0 && w.ln_weight + exact > top - NOT_WORTH {
            if let Some(s) = sample(scene, &w.h, &w.peak, &draws, &used, &var) {
                // Too few draws that count: the peak's own figure is the better one.
                if s.effective > 4.0 {
                    exact = s.ln_evidence;
                    w.severities = s.severities;
                }
            }
        }
        w.ln_weight += add_logs(exact + sure, wide + q);
        if w.severities.is_empty() {
            w.severities = peak_severities(&w.peak);
        }
    }
    all
}

/// ln(e^a + e^b)
fn add_logs(a: f64, b: f64) -> f64 {
    let top = a.max(b);
    if top.is_finite() { top + ln(exp(a - top) + exp(b - top)) } else { top }
}

/// Severity latents of the normal approximation.
fn peak_severities(peak: &Peak) -> Vec<(f64, f64)> {
    let mut unit = vec![0.0; HIDDEN];
    if let Some(u) = unit.get_mut(SEVERITY) {
        *u = 1.0;
    }
    let var = peak.precision.solve(&unit).get(SEVERITY).copied().unwrap_or(1.0);
    (0..21)
        .map(|i| {
            let q = quantile((f64::from(i) + 0.5) / 21.0);
            (peak.local.z[SEVERITY] + q * var.sqrt(), 1.0 / 21.0)
        })
        .collect()
}

/// Probabilities of the hypotheses.
pub(crate) fn probabilities(all: &[Weighed]) -> Vec<f64> {
    let top = all.iter().fold(f64::NEG_INFINITY, |a, w| a.max(w.ln_weight));
    let raw: Vec<f64> = all.iter().map(|w| exp(w.ln_weight - top)).collect();
    let sum: f64 = raw.iter().sum();
    raw.into_iter().map(|v| v / sum).collect()
}

/// Hypotheses gathered into faults.
fn shares(scene: &Scene<'_>, all: &[Weighed]) -> Vec<FaultShare> {
    let p = probabilities(all);
    let mut out: Vec<FaultShare> = Fault::ALL
        .into_iter()
        .map(|fault| {
            let mine: Vec<(&Weighed, f64)> = all
                .iter()
                .zip(&p)
                .filter(|(w, _)| w.h.fault == fault)
                .map(|(w, p)| (w, *p))
                .collect();
            share_of(scene, fault, &mine)
        })
        .collect();
    let sum: f64 = out.iter().map(|f| f.probability).sum();
    for f in &mut out {
        f.probability /= sum;
    }
    out.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    explain::reasons(scene, all, &mut out);
    out
}

fn share_of(scene: &Scene<'_>, fault: Fault, mine: &[(&Weighed, f64)]) -> FaultShare {
    let probability: f64 = mine.iter().map(|(_, p)| p).sum();
    let mut cloud: Vec<(f64, f64)> = Vec::new();
    for (w, p) in mine {
        let share = if probability > 0.0 { p / probability } else { 1.0 / mine.len() as f64 };
        cloud.extend(w.severities.iter().map(|(z, weight)| {
            (SEVERITY_FROM + (SEVERITY_TO - SEVERITY_FROM) * below(*z), weight * share)
        }));
    }
    cloud.sort_by(|a, b| a.0.total_cmp(&b.0));
    let at = |share: f64| {
        let mut sum = 0.0;
        for (s, w) in &cloud {
            sum += w;
            if sum >= share {
                return Some(*s);
            }
        }
        cloud.last().map(|c| c.0)
    };
    let has = fault.changes_machine() || fault == Fault::SensorOffset;
    let best = mine.iter().max_by(|a, b| a.1.total_cmp(&b.1)).map(|(w, _)| w.h);
    let severity = if has { at(0.5) } else { None };
    let p90 = if has { at(0.05).zip(at(0.95)).map(|(a, b)| [a, b]) } else { None };
    FaultShare {
        fault,
        probability,
        severity,
        severity_p90: p90,
        detail: best.and_then(|h| explain::detail(scene, &h, severity)),
        because: Vec::new(),
        against: Vec::new(),
    }
}
