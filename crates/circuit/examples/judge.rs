//! How good the diagnosis is: simulated units with known faults, judged with every reading and
//! with a technician's usual subset; the card's own machine and machines whose structure is not
//! the card's. Prints the tables of docs/circuit.md.
//!
//! usage: judge [CASES] [SEED] [--confusion] [--wrong] [--pairs N] [--baseline N] [--only ROW]
//!     [--cases FILE] [--sound] [--unknown | --modulated | --two | --speed]
//!
//! `--cases FILE`: cases that another simulator made, one a line: `FAULT SEVERITY key=value …`
//! with the input's keys. `--sound`: only sound units. `--baseline N`: each unit was read N times
//! before, sound, at other air temperatures. `--brute DRAWS` (with `--sound`): every false alarm
//! from the usual eight (`--only 0`: from every reading) once more by brute force.

#![allow(clippy::print_stdout)]

#[path = "judge/brute.rs"]
mod brute;
#[path = "judge/cases.rs"]
mod cases;
#[path = "judge/tally.rs"]
mod tally;

use circuit::card::Card;
use circuit::derived::noise;
use circuit::diagnose::diagnose_with;
use circuit::evidence::{Doubt, Hypothesis, Noise, Plain, Scene};
use circuit::normal::Dice;
use circuit::plant::{Conditions, Plant, Quirks, SCATTERS};
use circuit::solve::solve;
use circuit::{Effort, Fault, Input, Key, Mode};

use tally::Tally;

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
    case_of(card, dice, (odd, earlier), &[(truth, severity)])
}

/// A unit with these faults; the first is the truth.
fn case_of(
    card: &Card,
    dice: &mut Dice,
    (odd, earlier): (bool, usize),
    faults: &[(Fault, f64)],
) -> Option<Case> {
    let (truth, severity) = *faults.first()?;
    let mode = if dice.uniform() < 0.6 { Mode::Chilled } else { Mode::Frozen };
    let at = air(dice, mode);
    let unit = std::array::from_fn::<f64, SCATTERS, _>(|_| spread(dice, 1.0));
    let mut plant = Plant::sound(card, &at, &unit).ok()?;
    if odd {
        plant.quirks = quirks(dice);
    }
    let own = plant.quirks;
    let sound = solve(&plant).ok()?;
    for (fault, severity) in faults {
        fault.put(*severity, &mut plant, card, &sound.cycle);
    }
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

/// Units with two faults at once: is the pair told, and is it the right one?
fn two(cards: &[&Card], dice: &mut Dice, cases: usize, effort: &Effort) {
    let eight: Vec<Key> = USUAL.into_iter().chain([Key::DischargeLine]).collect();
    let faults: Vec<Fault> = Fault::ALL.into_iter().filter(|f| f.changes_machine()).collect();
    let excluded = [
        (Fault::Undercharge, Fault::Overcharge),
        (Fault::ExpansionStuckClosed, Fault::ExpansionStuckOpen),
    ];
    println!("| readings | cases | one of the two first % | pair told % | told and right % |");
    println!("|---|---|---|---|---|");
    let mut tallies = [[0_usize; 3]; 2];
    let mut done = 0;
    while done < cases {
        let card = cards[usize::from(dice.uniform() < 0.5)];
        let [i, j] = [0, 1].map(|_| (dice.uniform() * faults.len() as f64) as usize);
        let (a, b) = (faults[i.min(j)], faults[i.max(j)]);
        let both = [a, b].map(|f| (f, 0.2 + 0.5 * dice.uniform()));
        if a == b || excluded.contains(&(a, b)) {
            continue;
        }
        let Some(c) = case_of(card, dice, (false, 0), &both) else { continue };
        done += 1;
        for (t, keys) in tallies.iter_mut().zip([&Key::ALL[..], &eight]) {
            let Ok(d) = diagnose_with(&subset(&c.input, keys), cards, effort) else { continue };
            t[0] += usize::from([a, b].contains(&d.faults[0].fault));
            t[1] += usize::from(!d.pairs.is_empty());
            t[2] += usize::from(d.pairs.first().is_some_and(|p| p.faults == [a, b]));
        }
    }
    let share = |n: usize| 100.0 * n as f64 / cases as f64;
    for (t, name) in tallies.iter().zip(["every reading", "usual eight"]) {
        let [one, told, right] = t.map(share);
        println!("| {name} | {cases} | {one:.0} | {told:.0} | {right:.0} |");
    }
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
    if args.iter().any(|a| a == "--two") {
        two(&cards, &mut dice, cases, &effort);
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
    if let Some(draws) = after("--brute") {
        let eight: Vec<Key> = USUAL.into_iter().chain([Key::DischargeLine]).collect();
        let keys: &[Key] = if only == Some(0) { &Key::ALL } else { &eight };
        brute::alarms(&cards, &mut dice, (cases, draws as usize), &effort, keys);
        return;
    }
    let earlier = after("--baseline").map_or(0, |v| v as usize);
    let tallies = whole(&cards, &mut dice, cases, &effort, (only, earlier));
    report(&tallies, args.iter().any(|a| a == "--confusion"));
}

/// The tables of what was judged.
fn report(tallies: &[Tally], confusion: bool) {
    println!(
        "| readings | cases | right first % | in first three % | false alarms % | of these \
         without \"or sound\" % | calibration error | log loss | severity in its 90 % | two faults \
         told % | ms each |\n\
         |---|---|---|---|---|---|---|---|---|---|---|"
    );
    let judged = || tallies.iter().zip(NAMES).filter(|(t, _)| t.cases > 0);
    for (t, name) in judged() {
        t.line(name);
    }
    for (t, name) in judged().filter(|_| confusion) {
        t.confusion(name);
    }
}
