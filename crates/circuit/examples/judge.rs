//! How good the diagnosis is: simulated units with known faults, judged with every reading and
//! with a technician's usual subset; the card's own machine and machines whose structure is not
//! the card's. Prints the tables of docs/circuit.md.
//!
//! usage: judge [CASES] [SEED] [--confusion] [--wrong] [--pairs N] [--baseline N] [--only ROW]
//!     [--cases FILE] [--sound] [--unknown | --modulated | --speed]
//!
//! `--cases FILE`: cases that another simulator made, one a line: `FAULT SEVERITY key=value …`
//! with the input's keys. `--sound`: only sound units. `--baseline N`: each unit was read N times
//! before, sound, at other air temperatures.

#![allow(clippy::print_stdout)]

#[path = "judge/cases.rs"]
mod cases;

use circuit::card::Card;
use circuit::derived::noise;
use circuit::diagnose::diagnose_with;
use circuit::evidence::{Doubt, Hypothesis, Noise, Plain, Scene};
use circuit::normal::Dice;
use circuit::plant::{Conditions, Plant, Quirks, SCATTERS};
use circuit::solve::solve;
use circuit::{Effort, Fault, Input, Key, Mode};

/// A unit with its readings and the truth about it.
struct Case {
    input: Input,
    truth: Fault,
    severity: f64,
}

const USUAL: [Key; 7] = [
    Key::Suction,
    Key::Discharge,
    Key::SuctionLine,
    Key::LiquidLine,
    Key::Supply,
    Key::Return,
    Key::Ambient,
];

/// Prior of the contract: 3 for none, 1 for each fault; wrong refrigerant apart.
fn draw_fault(dice: &mut Dice) -> Fault {
    let faults: Vec<Fault> =
        Fault::ALL.into_iter().filter(|f| *f != Fault::WrongRefrigerant).collect();
    let total: f64 = faults.iter().map(|f| f.prior_weight()).sum();
    let mut at = dice.uniform() * total;
    for f in faults {
        at -= f.prior_weight();
        if at < 0.0 {
            return f;
        }
    }
    Fault::None
}

/// `--sound`: only sound units, for the share of false alarms.
fn all_sound() -> bool {
    std::env::args().any(|a| a == "--sound")
}

fn spread(dice: &mut Dice, most: f64) -> f64 {
    most * (2.0 * dice.uniform() - 1.0)
}

/// A machine that the card does not describe: another valve law, pressure drops, air past the
/// coil, warm air coming back, moist air, a discharge pipe that cools.
fn quirks(dice: &mut Dice) -> Quirks {
    Quirks {
        valve_power: spread(dice, 0.35),
        evaporator_drop: 6e6 * dice.uniform(),
        discharge_drop: 0.025 * dice.uniform(),
        bypass: 0.12 * dice.uniform(),
        recirculation: 0.1 * dice.uniform(),
        moisture: 0.2 * dice.uniform(),
        discharge_loss: 0.05 * dice.uniform(),
        liquid_gain_w: spread(dice, 150.0),
    }
}

fn case(card: &Card, dice: &mut Dice, odd: bool, earlier: usize) -> Option<Case> {
    let drawn = draw_fault(dice);
    let truth = if all_sound() { Fault::None } else { drawn };
    let severity = 0.2 + 0.5 * dice.uniform();
    let mode = if dice.uniform() < 0.6 { Mode::Chilled } else { Mode::Frozen };
    let at = air(dice, mode);
    let unit = std::array::from_fn::<f64, SCATTERS, _>(|_| spread(dice, 1.0));
    let mut plant = Plant::sound(card, &at, &unit).ok()?;
    if odd {
        plant.quirks = quirks(dice);
    }
    let own = plant.quirks;
    let sound = solve(&plant).ok()?;
    truth.put(severity, &mut plant, card, &sound.cycle);
    let cycle = circuit::solve::towards(&plant, &sound).ok()?.cycle;
    let trip = card.limits.high_pressure_trip_kpag + 101.325;
    if cycle.pt_pa / 1e3 > trip {
        return None;
    }
    let mut input = Input {
        fluid: card.fluid.clone(),
        machine: Some(card.id.clone()),
        mode: Some(mode),
        ..Input::default()
    };
    let n = noise(&input, &card.instruments, 0.0);
    read(card, dice, &n, (&cycle, &at), &mut input);
    if truth == Fault::SensorOffset {
        let keys =
            [Key::SuctionLine, Key::LiquidLine, Key::DischargeLine, Key::Supply, Key::Return];
        let key = keys[(dice.uniform() * 5.0) as usize];
        let sign = if dice.uniform() < 0.5 { 1.0 } else { -1.0 };
        let off = sign * card.faults.sensor_offset_k * severity;
        input.set(key, input.get(key).map(|v| v + off));
    }
    // Dice of their own: the cases stay the same with and without earlier readings.
    let mut other = Dice::new(severity.to_bits());
    for _ in 0..earlier {
        input.baseline.extend(sound_before(card, &mut other, (&unit, own)));
    }
    Some(Case { input, truth, severity })
}

/// Air temperatures of a running box.
fn air(dice: &mut Dice, mode: Mode) -> Conditions {
    Conditions {
        mode,
        ambient_c: 12.0 + 33.0 * dice.uniform(),
        return_c: match mode {
            Mode::Chilled => 13.0 * dice.uniform(),
            Mode::Frozen => -22.0 + 8.0 * dice.uniform(),
        },
    }
}

/// Readings of the same unit on another day, when it was sound.
fn sound_before(
    card: &Card,
    dice: &mut Dice,
    (unit, own): (&[f64; SCATTERS], Quirks),
) -> Option<Input> {
    let mode = if dice.uniform() < 0.6 { Mode::Chilled } else { Mode::Frozen };
    let at = air(dice, mode);
    let mut plant = Plant::sound(card, &at, unit).ok()?;
    plant.quirks = own;
    let sound = solve(&plant).ok()?;
    let mut input = Input {
        fluid: card.fluid.clone(),
        machine: Some(card.id.clone()),
        mode: Some(mode),
        ..Input::default()
    };
    let n = noise(&input, &card.instruments, 0.0);
    read(card, dice, &n, (&sound.cycle, &at), &mut input);
    Some(input)
}

/// Reads a cycle with the card's instruments.
fn read(
    card: &Card,
    dice: &mut Dice,
    n: &Noise,
    (cycle, at): (&circuit::cycle::Cycle, &Conditions),
    input: &mut Input,
) {
    let scene = Scene {
        card,
        mode: at.mode,
        modulated: false,
        return_c: (0.0, 0.0),
        ambient_c: (0.0, 0.0),
        read: [None; 12],
        noise: *n,
        known: None,
    };
    let plain = Plain {
        at: *at,
        unit: [0.0; SCATTERS],
        contact: n.contact * dice.uniform(),
        severity: 0.0,
        second: 0.0,
        control: 0.0,
    };
    let seen = scene.seen(&Hypothesis::of(Fault::None), &plain, cycle);
    let weather = n.weather_kpa * dice.normal();
    for k in Key::ALL {
        let v = seen[k.index()];
        let read = if k.is_pressure() {
            (v - weather + spread(dice, n.gauge_half_kpa[k.index()])).round()
        } else if k == Key::Current {
            v * (1.0 + card.instruments.current_fraction * dice.normal())
        } else {
            v + n.thermometer_k * dice.normal()
        };
        input.set(k, Some((read * 10.0).round() / 10.0));
    }
}

#[derive(Default, Clone)]
struct Tally {
    cases: usize,
    top1: usize,
    top3: usize,
    sound: usize,
    alarms: usize,
    bins: [(f64, f64, f64); 10],
    log_loss: f64,
    severity_in: usize,
    severity_of: usize,
    severity_by: [(usize, usize); 14],
    confusion: [[usize; 14]; 14],
    seconds: f64,
}

impl Tally {
    fn add(&mut self, case: &Case, input: &Input, cards: &[&Card], effort: &Effort) {
        let clock = std::time::Instant::now();
        let d = match diagnose_with(input, cards, effort) {
            Ok(d) => d,
            Err(e) => {
                println!("refused: {e} ({:?} {:.2})", case.truth, case.severity);
                self.cases += 1;
                return;
            }
        };
        self.seconds += clock.elapsed().as_secs_f64();
        self.cases += 1;
        let top = &d.faults[0];
        let right = top.fault == case.truth;
        self.top1 += usize::from(right);
        self.top3 += usize::from(d.faults[..3].iter().any(|f| f.fault == case.truth));
        if case.truth == Fault::None {
            self.sound += 1;
            self.alarms += usize::from(!right);
        }
        let bin = &mut self.bins[((top.probability * 10.0) as usize).min(9)];
        bin.0 += 1.0;
        bin.1 += top.probability;
        bin.2 += f64::from(u8::from(right));
        let mine = d.faults.iter().find(|f| f.fault == case.truth);
        if let Some(f) = mine {
            if std::env::args().any(|a| a == "--wrong") && !right {
                println!(
                    "{:?} {:.2} p {:.4} | {:?} {:.2} {:?} | {:?}",
                    case.truth,
                    case.severity,
                    f.probability,
                    top.fault,
                    top.probability,
                    top.detail,
                    input.readings
                );
            }
            self.log_loss -= f.probability.max(1e-9).ln();
            if let (Some([a, b]), true) = (f.severity_p90, case.truth != Fault::None) {
                self.severity_of += 1;
                let inside = case.severity >= a && case.severity <= b;
                self.severity_in += usize::from(inside);
                let slot = &mut self.severity_by[case.truth as usize];
                slot.0 += 1;
                slot.1 += usize::from(inside);
            }
        }
        self.confusion[case.truth as usize][top.fault as usize] += 1;
    }

    fn line(&self, name: &str) {
        let n = self.cases as f64;
        let error: f64 = self.bins.iter().map(|b| (b.1 - b.2).abs()).sum::<f64>() / n;
        println!(
            "| {name} | {} | {:.1} | {:.1} | {:.1} | {:.3} | {:.3} | {:.0} | {:.0} |",
            self.cases,
            100.0 * self.top1 as f64 / n,
            100.0 * self.top3 as f64 / n,
            100.0 * self.alarms as f64 / self.sound.max(1) as f64,
            error,
            self.log_loss / n,
            100.0 * self.severity_in as f64 / self.severity_of.max(1) as f64,
            1e3 * self.seconds / n,
        );
    }

    fn confusion(&self, name: &str) {
        for f in Fault::ALL {
            let (n, inside) = self.severity_by[f as usize];
            println!("severity of {}: {inside} of {n} inside", f.id());
        }
        println!("\n{name}: rows the truth, columns the first answer\n");
        print!("| |");
        for f in Fault::ALL {
            print!(" {} |", short(f));
        }
        println!("\n|---|{}", "---|".repeat(14));
        for f in Fault::ALL.into_iter().filter(|f| *f != Fault::WrongRefrigerant) {
            print!("| {} |", f.id());
            for v in self.confusion[f as usize] {
                if v == 0 { print!(" |") } else { print!(" {v} |") }
            }
            println!();
        }
    }
}

fn short(f: Fault) -> String {
    f.id().split('_').map(|w| w.chars().take(3).collect::<String>()).collect::<Vec<_>>().join("·")
}

fn subset(input: &Input, keep: &[Key]) -> Input {
    let mut out = input.clone();
    for k in Key::ALL {
        if !keep.contains(&k) {
            out.set(k, None);
        }
    }
    out.baseline = input.baseline.iter().map(|b| subset(b, keep)).collect();
    out
}

/// Time of one solution without a hint.
fn speed(cards: &[&Card]) {
    for card in cards {
        let at = Conditions { mode: Mode::Chilled, return_c: 8.0, ambient_c: 38.0 };
        let Ok(plant) = Plant::sound(card, &at, &[0.0; SCATTERS]) else { continue };
        let clock = std::time::Instant::now();
        let closed = (0..2000).filter(|_| solve(std::hint::black_box(&plant)).is_ok()).count();
        let each = clock.elapsed().as_secs_f64() * 1e6 / 2000.0;
        println!("{}: {closed} of 2000 solved, {each:.0} us each", card.id);
    }
}

/// The same units, but nobody names the machine.
fn unknown(cards: &[&Card], dice: &mut Dice, cases: usize, effort: &Effort) {
    let mut t = Tally::default();
    while t.cases < cases {
        let card = cards[usize::from(dice.uniform() < 0.5)];
        let Some(mut c) = case(card, dice, true, 0) else { continue };
        c.input.machine = None;
        t.add(&c, &c.input, cards, effort);
    }
    t.line("machine unknown, every reading");
    t.confusion("machine unknown, every reading");
}

/// Sound units near set point whose control has closed the throttle.
fn modulated(cards: &[&Card], dice: &mut Dice, cases: usize, effort: &Effort) {
    let mut t = Tally::default();
    while t.cases < cases {
        let card = cards[usize::from(dice.uniform() < 0.5)];
        let set_point_c = 12.0 * dice.uniform();
        let at = Conditions {
            mode: Mode::Chilled,
            ambient_c: 12.0 + 33.0 * dice.uniform(),
            return_c: set_point_c + 1.2 * dice.uniform(),
        };
        let unit = std::array::from_fn::<f64, SCATTERS, _>(|_| spread(dice, 1.0));
        let Ok(mut plant) = Plant::sound(card, &at, &unit) else { continue };
        let Ok(sound) = solve(&plant) else { continue };
        plant.close_throttle(0.9 * dice.uniform(), &sound.cycle);
        let Ok(s) = circuit::solve::towards(&plant, &sound) else { continue };
        let mut input = Input {
            fluid: card.fluid.clone(),
            machine: Some(card.id.clone()),
            set_point_c: Some(set_point_c),
            ..Input::default()
        };
        let n = noise(&input, &card.instruments, 0.0);
        read(card, dice, &n, (&s.cycle, &at), &mut input);
        let c = Case { input, truth: Fault::None, severity: 0.0 };
        t.add(&c, &subset(&c.input, &USUAL), cards, effort);
    }
    t.line("sound, throttled by control, usual seven");
    t.confusion("sound, throttled by control, usual seven");
}

/// Judges somebody else's cases with every reading and with the usual ones.
fn elsewhere(text: &str, cards: &[&Card], effort: &Effort, confusion: bool) {
    let eight: Vec<Key> = USUAL.into_iter().chain([Key::DischargeLine]).collect();
    let sets: [(&str, &[Key]); 3] =
        [("every reading", &Key::ALL), ("usual seven", &USUAL), ("usual eight", &eight)];
    for (name, keys) in sets {
        let mut t = Tally::default();
        for c in cases::cases_of(text) {
            t.add(&c, &subset(&c.input, keys), cards, effort);
        }
        t.line(name);
        if confusion {
            t.confusion(name);
        }
    }
}

const NAMES: [&str; 6] = [
    "card's machine, every reading",
    "card's machine, usual seven",
    "card's machine, usual seven and discharge pipe",
    "other structure, every reading",
    "other structure, usual seven",
    "other structure, usual seven and discharge pipe",
];

/// Every set of readings on the same units.
fn whole(
    cards: &[&Card],
    dice: &mut Dice,
    cases: usize,
    effort: &Effort,
    (only, earlier): (Option<usize>, usize),
) -> Vec<Tally> {
    let eight: Vec<Key> = USUAL.into_iter().chain([Key::DischargeLine]).collect();
    let mut tallies = vec![Tally::default(); NAMES.len()];
    for odd in [false, true] {
        let mut done = 0;
        while done < cases {
            let card = cards[usize::from(dice.uniform() < 0.5)];
            let Some(c) = case(card, dice, odd, earlier) else { continue };
            done += 1;
            let first = if odd { 3 } else { 0 };
            let wanted = |i: usize| only.is_none_or(|o| o == first + i);
            if wanted(0) {
                tallies[first].add(&c, &c.input, cards, effort);
            }
            if wanted(1) {
                tallies[first + 1].add(&c, &subset(&c.input, &USUAL), cards, effort);
            }
            if wanted(2) {
                tallies[first + 2].add(&c, &subset(&c.input, &eight), cards, effort);
            }
        }
    }
    tallies
}

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let numbers: Vec<u64> = args.iter().filter_map(|a| a.parse().ok()).collect();
    let after = |name: &str| {
        let i = args.iter().position(|a| a == name)?;
        args.get(i + 1)?.parse::<f64>().ok()
    };
    let cases = numbers.first().copied().unwrap_or(200) as usize;
    let mut dice = Dice::new(numbers.get(1).copied().unwrap_or(1));
    let mut effort = Effort::default();
    if let Some(p) = after("--pairs") {
        effort.pairs = p as usize;
    }
    if let Some(p) = after("--doubt") {
        effort.doubtful_share = p;
    }
    if let Some(f) = after("--off") {
        let d = effort.doubt;
        effort.doubt = Doubt {
            pressure: d.pressure * f,
            temperature_k: d.temperature_k * f,
            current: d.current * f,
        };
    }
    let cards: Vec<&Card> = Card::embedded().iter().collect();
    if args.iter().any(|a| a == "--speed") {
        speed(&cards);
        return;
    }
    if args.iter().any(|a| a == "--unknown") {
        unknown(&cards, &mut dice, cases, &effort);
        return;
    }
    if args.iter().any(|a| a == "--modulated") {
        modulated(&cards, &mut dice, cases, &effort);
        return;
    }
    let file = args.iter().position(|a| a == "--cases").and_then(|i| args.get(i + 1));
    if let Some(file) = file {
        match std::fs::read_to_string(file) {
            Ok(text) => elsewhere(&text, &cards, &effort, args.iter().any(|a| a == "--confusion")),
            Err(e) => println!("{file}: {e}"),
        }
        return;
    }
    let only = after("--only").map(|v| v as usize);
    let earlier = after("--baseline").map_or(0, |v| v as usize);
    let tallies = whole(&cards, &mut dice, cases, &effort, (only, earlier));
    println!(
        "| readings | cases | right first % | in first three % | false alarms % | calibration error \
         | log loss | severity in its 90 % | ms each |\n|---|---|---|---|---|---|---|---|---|"
    );
    for (t, name) in tallies.iter().zip(NAMES) {
        t.line(name);
    }
    if args.iter().any(|a| a == "--confusion") {
        for (t, name) in tallies.iter().zip(NAMES) {
            t.confusion(name);
        }
    }
}
