//! Weighs the faults against the readings.

use fluids::Refrigerant;

use crate::card::{Card, Shedding};
use crate::check;
use crate::derived::{Derived, derive, noise};
use crate::evidence::{SEVERITY_FROM, SEVERITY_TO, Scene};
use crate::explain;
use crate::fault::Fault;
use crate::next::{self, Suggestion};
use crate::normal::below;
use crate::pairs::{self, Pair};
use crate::reading::{Input, Key, Mode, Refusal};
use crate::weigh::{Effort, Weighed, probabilities, weigh_all};
use crate::{misread, standing, unknown};

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
    /// Two faults at once that explain what no single one does; most probable first.
    pub pairs: Vec<Pair>,
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
    misread::suspect(input, &scene, &all, |changed| Scene {
        known: scene.known.clone(),
        ..self::scene(changed, card, noise, mode)
    })?;
    let faults = shares(&scene, &all);
    let (pairs, nothing) = pairs::look(&scene, &all, effort);
    let mut questions = explain::contradictions(&scene, &all);
    questions.extend(misread::fahrenheit(&scene, &all));
    questions.extend(pairs::told(&pairs, nothing));
    let next = next::suggest(&scene, &all);
    Ok(Diagnosis {
        derived,
        alike: explain::alike(&faults, &next),
        pairs,
        questions,
        faults,
        next,
        cautions: Vec::new(),
        mode: Some(mode),
        modulated: scene.modulated,
        machine: Some(card.id.clone()),
    })
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
