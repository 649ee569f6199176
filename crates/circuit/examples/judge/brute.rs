//! The false alarms once more, by brute force: units drawn from the prior by the thousand, each
//! solved and weighed by the instruments' true errors. No peak, no normal approximation, no
//! sampling around anything, and nothing of the diagnosis but its list of hypotheses.

use circuit::card::Card;
use circuit::derived::noise;
use circuit::diagnose::diagnose_with;
use circuit::evidence::{Doubt, Hypothesis, Plain, Scene};
use circuit::normal::Dice;
use circuit::plant::{Conditions, Plant, SCATTERS};
use circuit::solve::{Solved, solve, towards};
use circuit::{Effort, Fault, Input, Key, Mode};

use super::{all_sound, case, spread, subset};

/// Faults that the diagnosis gives less are taken as it has them.
const WORTH: f64 = 0.03;
/// Contacts of the clamps and barometers tried with each solved unit.
const CONTACTS: u32 = 8;
const OFFSETS: [Key; 5] =
    [Key::SuctionLine, Key::LiquidLine, Key::DischargeLine, Key::Supply, Key::Return];

/// Weights of draws, as a sum kept in range.
#[derive(Default, Clone, Copy)]
struct Sum {
    top: Option<f64>,
    sum: f64,
    squares: f64,
}

impl Sum {
    fn add(&mut self, ln: f64) {
        if !ln.is_finite() {
            return;
        }
        let top = self.top.map_or(ln, |t| t.max(ln));
        let scale = self.top.map_or(0.0, |t| (t - top).exp());
        let w = (ln - top).exp();
        self.sum = self.sum * scale + w;
        self.squares = self.squares * scale * scale + w * w;
        self.top = Some(top);
    }

    fn ln_mean(&self, n: f64) -> f64 {
        self.top.map_or(f64::NEG_INFINITY, |t| t + (self.sum / n).ln())
    }

    fn worth(&self) -> f64 {
        if self.squares > 0.0 { self.sum * self.sum / self.squares } else { 0.0 }
    }
}

/// ln of what the readings weigh if this is what there was to see: with the instruments as they
/// are, and with the structure in doubt.
fn ln_weight(scene: &Scene<'_>, seen: &[f64], weather: f64) -> [f64; 2] {
    let loose = scene.variances(DOUBT);
    let exact = scene.variances(Doubt::NONE);
    let mut out = [0.0; 2];
    for k in scene.compared() {
        let Some(read) = scene.read[k] else { continue };
        let miss = read - seen[k];
        let normal = |var: f64| -0.5 * (miss * miss / var + var.ln()) - 0.918_938_533_204_672_7;
        out[1] += normal(loose[k]);
        out[0] += if k < 3 {
            // Even error, then rounded to whole kPa.
            let half = scene.noise.gauge_half_kpa[k];
            let inside = (half + 0.5 - (miss + weather).abs()).clamp(0.0, 1.0);
            (inside / (2.0 * half)).ln()
        } else {
            normal(exact[k])
        };
    }
    out
}

const DOUBT: Doubt = Doubt { pressure: 0.03, temperature_k: 1.0, current: 0.04 };

/// Solutions of the middling unit, from which all draws start.
struct Start {
    sound: Solved,
    faulty: Solved,
}

fn start(card: &Card, at: &Conditions, fault: Fault) -> Option<Start> {
    let plant = Plant::sound(card, at, &[0.0; SCATTERS]).ok()?;
    let sound = solve(&plant).ok()?;
    let mut q = plant.clone();
    if fault.changes_machine() {
        fault.put(0.45, &mut q, card, &sound.cycle);
    }
    Some(Start { sound, faulty: towards(&q, &sound).ok()? })
}

/// ln of prior share times evidence, and the number of draws that count.
fn weigh(scene: &Scene<'_>, h: &Hypothesis, draws: usize, dice: &mut Dice) -> Option<(f64, f64)> {
    let card = scene.card;
    let at =
        Conditions { mode: scene.mode, return_c: scene.return_c.0, ambient_c: scene.ambient_c.0 };
    let from = start(card, &at, h.fault)?;
    let mut sums = [Sum::default(); 2];
    for _ in 0..draws {
        let severity = 0.2 + 0.5 * dice.uniform();
        let off = h.offset.map_or(0.0, |(k, sign)| {
            let off = sign * card.faults.sensor_offset_k * severity;
            if k == Key::Return { off } else { 0.0 }
        });
        let at = Conditions {
            mode: scene.mode,
            return_c: scene.return_c.0 + scene.noise.thermometer_k * dice.normal() - off,
            ambient_c: scene.ambient_c.0 + scene.noise.thermometer_k * dice.normal(),
        };
        let unit = std::array::from_fn::<f64, SCATTERS, _>(|_| spread(dice, 1.0));
        let Ok(plant) = Plant::sound(card, &at, &unit) else { continue };
        let Ok(sound) = towards(&plant, &from.sound) else { continue };
        let mut cycle = sound.cycle;
        if h.fault.changes_machine() {
            let mut q = plant.clone();
            h.fault.put(severity, &mut q, card, &sound.cycle);
            let Ok(s) = towards(&q, &from.faulty) else { continue };
            cycle = s.cycle;
        }
        let mut mean = [Sum::default(); 2];
        for i in 0..CONTACTS {
            let contact =
                scene.noise.contact * (f64::from(i) + dice.uniform()) / f64::from(CONTACTS);
            let weather = scene.noise.weather_kpa * dice.normal();
            let plain = Plain { at, unit, contact, severity, second: 0.0, control: 0.0 };
            let seen = scene.seen(h, &plain, &cycle);
            for (sum, w) in mean.iter_mut().zip(ln_weight(scene, &seen, weather)) {
                sum.add(w);
            }
        }
        for (sum, m) in sums.iter_mut().zip(mean) {
            sum.add(m.ln_mean(f64::from(CONTACTS)));
        }
    }
    let n = draws as f64;
    let [sure, doubtful] = sums.map(|s| s.ln_mean(n));
    let top = sure.max(doubtful);
    let whole = top + (0.9 * (sure - top).exp() + 0.1 * (doubtful - top).exp()).ln();
    let prior = h.fault.prior_weight() / if h.offset.is_some() { 10.0 } else { 1.0 };
    Some((prior.ln() + whole, sums[0].worth()))
}

/// What brute force gives a fault, and the draws that counted.
fn of_fault(scene: &Scene<'_>, fault: Fault, draws: usize, dice: &mut Dice) -> (f64, f64) {
    if fault != Fault::SensorOffset {
        return weigh(scene, &Hypothesis::of(fault), draws, dice)
            .map_or((0.0, 0.0), |(ln, n)| (ln.exp(), n));
    }
    let (mut sum, mut least) = (0.0, f64::INFINITY);
    for key in OFFSETS {
        for sign in [1.0, -1.0] {
            let h = Hypothesis { offset: Some((key, sign)), ..Hypothesis::of(fault) };
            let Some((ln, n)) = weigh(scene, &h, draws / 4, dice) else { continue };
            sum += ln.exp();
            least = least.min(n);
        }
    }
    (sum, least)
}

/// Every false alarm among `cases` sound units, stated and by brute force.
pub fn alarms(
    cards: &[&Card],
    dice: &mut Dice,
    (cases, draws): (usize, usize),
    effort: &Effort,
    keys: &[Key],
) {
    assert!(all_sound(), "--brute needs --sound");
    let mut own = Dice::new(99);
    let (mut done, mut alarms, mut stay) = (0, 0, 0);
    println!(
        "| first | stated | by draws | sound, stated | by draws | draws that count, of first and sound |"
    );
    println!("|---|---|---|---|---|---|");
    while done < cases {
        let card = cards[usize::from(dice.uniform() < 0.5)];
        let Some(c) = case(card, dice, false, 0) else { continue };
        done += 1;
        let input = subset(&c.input, keys);
        let Ok(d) = diagnose_with(&input, cards, effort) else { continue };
        if d.faults[0].fault == Fault::None {
            continue;
        }
        alarms += 1;
        let scene = scene(card, &input, d.mode.unwrap_or(Mode::Chilled));
        let stated =
            |f: Fault| d.faults.iter().find(|s| s.fault == f).map_or(0.0, |s| s.probability);
        let looked: Vec<Fault> = Fault::ALL
            .into_iter()
            .filter(|f| stated(*f) > WORTH && *f != Fault::WrongRefrigerant)
            .collect();
        let rest = 1.0 - looked.iter().map(|f| stated(*f)).sum::<f64>();
        let found: Vec<(Fault, f64, f64)> = looked
            .iter()
            .map(|f| {
                let (w, n) = of_fault(&scene, *f, draws, &mut own);
                (*f, w, n)
            })
            .collect();
        let sum: f64 = found.iter().map(|f| f.1).sum();
        let share =
            |f: Fault| found.iter().find(|x| x.0 == f).map_or(0.0, |x| x.1 / sum * (1.0 - rest));
        let first = d.faults[0].fault;
        let still = found.iter().any(|x| x.0 != Fault::None && share(x.0) > share(Fault::None));
        stay += usize::from(still);
        let count = |f: Fault| found.iter().find(|x| x.0 == f).map_or(0.0, |x| x.2);
        println!(
            "| {} | {:.2} | {:.2} | {:.2} | {:.2} | {:.0}, {:.0} |",
            first.id(),
            stated(first),
            share(first),
            stated(Fault::None),
            share(Fault::None),
            count(first),
            count(Fault::None),
        );
    }
    println!("\n{alarms} of {cases} sound units called faulty, {stay} of them by brute force too");
}

fn scene<'a>(card: &'a Card, input: &Input, mode: Mode) -> Scene<'a> {
    let n = noise(input, &card.instruments, 0.0);
    let t = n.thermometer_k;
    Scene {
        card,
        mode,
        modulated: false,
        return_c: (input.get(Key::Return).unwrap_or(0.0), t),
        ambient_c: (input.get(Key::Ambient).unwrap_or(0.0), t),
        read: input.readings,
        noise: n,
        known: None,
    }
}
