//! Why: what speaks for and against each fault, what cannot be told apart, what to be careful of.

use fluids::Refrigerant;
use units::math::sqrt;

use crate::card::Card;
use crate::derived::{DERIVED, KEYS, WORDS, noise, values};
use crate::diagnose::{Diagnosis, FaultShare, scene};
use crate::evidence::{Doubt, HIDDEN, Hidden, Hypothesis, Known, Scene, Seen};
use crate::fault::Fault;
use crate::linear::{Local, climb, local};
use crate::matrix::Cholesky;
use crate::next::Suggestion;
use crate::plant::scatter::THERMAL;
use crate::reading::{Input, Key, Mode, READINGS, Refusal};
use crate::weigh::{Weighed, probabilities};

/// Which sensor, which refrigerant.
pub(crate) fn detail(scene: &Scene<'_>, h: &Hypothesis, severity: Option<f64>) -> Option<String> {
    if let Some((key, sign)) = h.offset {
        let k = scene.card.faults.sensor_offset_k * severity.unwrap_or(0.45);
        let side = if sign > 0.0 { "high" } else { "low" };
        return Some(format!("{} reads some {k:.0} K too {side}", key.words()));
    }
    h.fluid.map(|f| format!("nearest that is known: {f}"))
}

/// Learns a unit's scatter from earlier sound readings.
pub(crate) fn learn(input: &Input, card: &Card, mode: Mode) -> Result<Option<Known>, Refusal> {
    let mut known: Option<Known> = None;
    for (i, b) in input.baseline.iter().enumerate() {
        let extra = (card.scatter.efficiency_fraction.powi(2)
            + card.scatter.voltage_fraction.powi(2))
            / 3.0;
        let n = noise(b, &card.instruments, extra);
        let b_mode = b.mode.unwrap_or_else(|| match b.get(Key::Return) {
            Some(r) if r < card.capacity.frozen_below_c => Mode::Frozen,
            Some(_) => Mode::Chilled,
            None => mode,
        });
        let mut s = scene(b, card, n, b_mode);
        s.known = known.take();
        let h = Hypothesis::of(Fault::None);
        let z: Hidden = [0.0; HIDDEN];
        let fail = |what: &str| Refusal(format!("baseline entry {}: {what}; leave it out", i + 1));
        let run = s.run(&h, &z, None).map_err(|e| fail(&e.to_string()))?;
        let start = local(&s, &h, &z, run).map_err(|e| fail(&e.to_string()))?;
        let used = s.compared();
        let var = s.variances(Doubt { pressure: 0.01, temperature_k: 0.3, current: 0.02 });
        let peak = climb(&s, &h, &start, &used, &var).ok_or_else(|| fail("no fit"))?;
        known = learned(&s, &peak.local, &peak.precision);
    }
    Ok(known)
}

/// The posterior of the scatter as a normal distribution in the same coordinates.
fn learned(s: &Scene<'_>, l: &Local, precision: &Cholesky) -> Option<Known> {
    let old = s.known.clone().unwrap_or_else(|| Known {
        mean: [0.0; THERMAL],
        factor: std::array::from_fn(|i| std::array::from_fn(|j| if i == j { 1.0 } else { 0.0 })),
    });
    let mut mean = old.mean;
    let mut cov = vec![0.0; THERMAL * THERMAL];
    // factor · A⁻¹ · factorᵀ, through one column of A⁻¹·factorᵀ at a time.
    for j in 0..THERMAL {
        let mut column = vec![0.0; HIDDEN];
        for (c, f) in column.iter_mut().zip(old.factor.get(j)?) {
            *c = *f;
        }
        let solved = precision.solve(&column);
        for i in 0..THERMAL {
            let row = old.factor.get(i)?;
            *cov.get_mut(i * THERMAL + j)? = row.iter().zip(&solved).map(|(a, b)| a * b).sum();
        }
    }
    for (m, row) in mean.iter_mut().zip(&old.factor) {
        *m += row.iter().zip(&l.z).map(|(a, b)| a * b).sum::<f64>();
    }
    for i in 0..THERMAL {
        *cov.get_mut(i * THERMAL + i)? += 1e-4;
    }
    let lower = Cholesky::of(&cov, THERMAL)?;
    let factor = std::array::from_fn(|i| std::array::from_fn(|j| lower.entry(i, j)));
    Some(Known { mean, factor })
}

/// A derived value or a plain reading, as the technician knows it.
#[derive(Clone, Copy)]
enum Feature {
    Derived(usize),
    Plain(Key),
}

const PLAIN: [Key; 4] = [Key::Suction, Key::Discharge, Key::DischargeLine, Key::Current];

impl Feature {
    fn all() -> Vec<Self> {
        // Saturation temperatures repeat the pressures; the ratio repeats both.
        let derived = (2..DERIVED).filter(|i| ![6, 8].contains(i)).map(Self::Derived);
        derived.chain(PLAIN.into_iter().map(Self::Plain)).collect()
    }

    fn of(
        self,
        scene: &Scene<'_>,
        fluid: &Refrigerant,
        y: &[Option<f64>; READINGS],
    ) -> Option<f64> {
        let get = |k: Key| y.get(k.index()).copied().flatten();
        match self {
            Self::Plain(k) => get(k),
            Self::Derived(i) => {
                values(fluid, scene.noise.barometer_kpa, get).get(i).copied().flatten()
            }
        }
    }

    fn text(self, value: f64) -> String {
        match self {
            Self::Plain(k) => {
                let places = usize::from(!k.is_pressure());
                format!("{} {value:.places$} {}", k.words(), k.unit())
            }
            Self::Derived(i) => {
                let key = KEYS.get(i).copied().unwrap_or("");
                let unit = if key.ends_with("_kpa") { "kPa" } else { "K" };
                format!("{} {value:.1} {unit}", WORDS.get(i).copied().unwrap_or(key))
            }
        }
    }

    fn number(self, value: f64) -> String {
        match self {
            Self::Plain(k) if k.is_pressure() => format!("{value:.0}"),
            _ => format!("{value:.1}"),
        }
    }
}

/// The readings given, from what would be seen.
fn only_given(scene: &Scene<'_>, seen: &Seen) -> [Option<f64>; READINGS] {
    std::array::from_fn(|i| scene.read[i].map(|_| seen[i]))
}

/// A feature with how widely it is spread, through derivatives.
fn spread(
    scene: &Scene<'_>,
    fluid: &Refrigerant,
    f: Feature,
    l: &Local,
    var: &Seen,
    scatter: bool,
) -> Option<(f64, f64)> {
    let base = only_given(scene, &l.run.seen);
    let at = f.of(scene, fluid, &base)?;
    let mut own = 0.0;
    let mut by_hidden = [0.0; HIDDEN];
    for k in 0..READINGS {
        let Some(v) = base[k] else { continue };
        let step = if k < 3 { 1.0 } else { 0.1 };
        let mut y = base;
        y[k] = Some(v + step);
        let g = (f.of(scene, fluid, &y)? - at) / step;
        own += g * g * var[k];
        for (b, s) in by_hidden.iter_mut().zip(&l.slope[k]) {
            *b += g * s;
        }
    }
    let unit: f64 = if scatter { by_hidden.iter().map(|b| b * b).sum() } else { 0.0 };
    Some((at, sqrt(own + unit)))
}

/// Fills in what speaks for and against each fault.
pub(crate) fn reasons(scene: &Scene<'_>, all: &[Weighed], faults: &mut [FaultShare]) {
    let Ok(fluid) = Refrigerant::named(&scene.card.fluid) else { return };
    let sound = Hypothesis::of(Fault::None);
    let z: Hidden = [0.0; HIDDEN];
    let Ok(run) = scene.run(&sound, &z, None) else { return };
    let Ok(sound) = local(scene, &sound, &z, run) else { return };
    let var = scene.variances(Doubt::NONE);
    for share in faults {
        let mine = all
            .iter()
            .filter(|w| w.h.fault == share.fault)
            .max_by(|a, b| a.ln_weight.total_cmp(&b.ln_weight));
        let Some(mine) = mine else {
            share.against.push("no steady running with it at these conditions".into());
            continue;
        };
        let mut notes: Vec<(f64, bool, String)> = Vec::new();
        for f in Feature::all() {
            let Some(read) = f.of(scene, fluid, &scene.read) else { continue };
            let Some((usual, sd)) = spread(scene, fluid, f, &sound, &var, true) else { continue };
            let Some((fit, err)) = spread(scene, fluid, f, &mine.peak.local, &var, false) else {
                continue;
            };
            notes.extend(note(f, share.fault, read, (usual, sd), (fit, err)));
        }
        notes.sort_by(|a, b| b.0.total_cmp(&a.0));
        for (_, for_it, text) in notes {
            let list = if for_it { &mut share.because } else { &mut share.against };
            if list.len() < 4 {
                list.push(text);
            }
        }
        if share.fault == Fault::None && share.because.is_empty() && share.against.is_empty() {
            share.because.push("every reading is within what a sound unit shows here".into());
        }
    }
}

fn note(
    f: Feature,
    fault: Fault,
    read: f64,
    (usual, sd): (f64, f64),
    (fit, err): (f64, f64),
) -> Option<(f64, bool, String)> {
    let off = (read - usual) / sd;
    let miss = (read - fit) / err;
    let band = format!("a sound unit here shows {} ± {}", f.number(usual), f.number(1.645 * sd));
    if fault == Fault::None {
        return (off.abs() > 1.8).then(|| (off.abs(), false, format!("{}: {band}", f.text(read))));
    }
    if miss.abs() > 2.3 && miss.abs() > 0.7 * off.abs() {
        let text = format!("{}: with this fault it would be {}", f.text(read), f.number(fit));
        return Some((miss.abs(), false, text));
    }
    let explained = (fit - usual) / sd;
    let helps = off.abs() > 1.0 && explained * off > 0.0 && miss.abs() < 2.0;
    if helps && explained.abs() > 0.4 * off.abs() {
        return Some((off.abs(), true, format!("{}: {band}", f.text(read))));
    }
    None
}

/// Faults that these readings cannot tell apart.
pub(crate) fn alike(faults: &[FaultShare], next: &[Suggestion]) -> Vec<String> {
    let Some(top) = faults.first() else { return Vec::new() };
    let rivals: Vec<&FaultShare> = faults
        .iter()
        .skip(1)
        .take(4)
        .filter(|f| f.probability > 0.15 && f.probability > 0.35 * top.probability)
        .collect();
    if rivals.is_empty() {
        return Vec::new();
    }
    let mut words = vec![top.fault.words()];
    words.extend(rivals.iter().map(|f| f.fault.words()));
    let help = next.first().map_or_else(
        || "no further reading of this list would settle it".to_owned(),
        |n| format!("{} would tell most", n.measure),
    );
    vec![format!("cannot tell these apart with what is given: {}; {help}", words.join(" / "))]
}

/// Readings that no hypothesis explains.
pub(crate) fn contradictions(scene: &Scene<'_>, all: &[Weighed]) -> Vec<String> {
    let p = probabilities(all);
    let var = scene.variances(Doubt::NONE);
    let mut out = Vec::new();
    for k in scene.compared() {
        let (Some(read), Some(key)) = (scene.read[k], Key::ALL.get(k)) else { continue };
        let mut least = f64::INFINITY;
        let mut there = 0.0;
        for (w, p) in all.iter().zip(&p) {
            if *p < 0.03 {
                continue;
            }
            let seen = w.peak.local.run.seen[k];
            let miss = (read - seen).abs() / sqrt(var[k]);
            if miss < least {
                (least, there) = (miss, seen);
            }
        }
        if least > 3.5 && least.is_finite() {
            let places = usize::from(!key.is_pressure());
            out.push(format!(
                "{} {read} contradicts the others (they fit about {there:.places$}): read it again",
                key.id()
            ));
        }
    }
    out
}

/// What comes before any answer.
pub(crate) fn cautions(input: &Input, fluid: &Refrigerant, d: &Diagnosis) -> Vec<String> {
    let mut out: Vec<&str> = Vec::new();
    let p =
        |fault: Fault| d.faults.iter().find(|f| f.fault == fault).map_or(0.0, |f| f.probability);
    if p(Fault::WrongRefrigerant) > 0.3 {
        out.push(COUNTERFEIT);
    }
    out.push(IDENTITY);
    out.push(if input.compressor_on { RUNNING } else { STANDING });
    if p(Fault::LiquidRestriction) + p(Fault::ExpansionStuckClosed) > 0.3 {
        out.push(TRAPPED);
    }
    match fluid.name() {
        "R290" => out.push(FLAMMABLE_R290),
        "R1234yf" => out.push(FLAMMABLE_R1234YF),
        "R744" => out.push("R744: high pressures; in a closed space it suffocates"),
        _ => {}
    }
    if input.barometer_kpa.is_none() {
        out.push(NO_BAROMETER);
    }
    if d.modulated {
        out.push(THROTTLED);
    }
    if input.compressor_on && d.machine.is_none() {
        out.push(NO_CARD);
    }
    if input.compressor_on {
        out.push("readings count after 15 minutes of steady running, not in or after defrost");
    }
    out.push(ADVICE);
    out.into_iter().map(str::to_owned).collect()
}

const COUNTERFEIT: &str = "stop: the refrigerant may not be what the plate says. Do not open, \
    charge, recover or vent; mark the unit and have the gas analysed. Counterfeit gas with methyl \
    chloride has exploded circuits and killed people";
const IDENTITY: &str = "pressure and temperature alone never prove which refrigerant is inside: a \
    match does not prove identity, and mixtures have been made to match. Only an analyser or a \
    laboratory settles it";
const RUNNING: &str = "440 V and rotating fans: panels on while it runs; isolate and lock out \
    before reaching in. Discharge pipe and compressor burn; hoses spray when they come off";
const STANDING: &str = "a standing circuit is under pressure: goggles and gloves, isolate and lock \
    out the 440 V; it may start by itself";
const TRAPPED: &str = "liquid shut in between two closed valves bursts a pipe when it warms: never \
    close both ends of the liquid line at the drier";
const FLAMMABLE_R290: &str =
    "R290 burns: no flame, no spark, ventilate; only who is trained for flammable gas";
const FLAMMABLE_R1234YF: &str =
    "R1234yf burns: no flame, no spark, ventilate; only who is trained for flammable gas";
const NO_BAROMETER: &str = "no barometer given: 101.325 kPa taken; weather makes it ±3 kPa, 0.6 K \
    of superheat at -25 °C with R134a";
const THROTTLED: &str = "return air is near set point in chilled mode: control may have closed the \
    suction throttle, then low suction pressure is no fault. For a sharper answer force full \
    capacity as the maker allows, run 15 minutes, read again; mind the cargo";
const NO_CARD: &str = "no machine card named: usual directions with wide errors only; with machine \
    the answer is far sharper";
const ADVICE: &str = "advice only: maker's instructions, the ship's procedures, local law and \
    licensed practice come first";
