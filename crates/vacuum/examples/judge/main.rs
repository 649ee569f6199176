//! How often the judge of a hold errs: simulated holds of known truth.
//!
//! cargo run --release -p vacuum --example judge [-- --short | --bench]

#![allow(clippy::print_stdout)]

mod physics;

use std::time::Instant;

use physics::{Dice, Sim, TRUTHS, Truth, simulate};
use vacuum::{FreeWater, Judgement, PA_PER_UM, Reading, Setup, Verdict, judge};

const MINUTES: [f64; 4] = [10.0, 20.0, 30.0, 60.0];
const STEPS_UM: [f64; 3] = [1.0, 10.0, 50.0];

/// One simulated hold as a person would have it.
struct Case {
    truth: Truth,
    sim: Sim,
    readings: Vec<Reading>,
    setup: Setup,
    noise: f64,
}

fn case(truth: Truth, d: &mut Dice) -> Case {
    let sim = simulate(truth, d);
    let noise = d.between(0.01, 0.05);
    let step = STEPS_UM[d.pick(3)];
    let usual_s = d.between(8.0, 40.0);
    let mut readings = Vec::new();
    let mut t = 0.0_f64;
    while t <= 3600.0 {
        let p = sim.gauge.get(t as usize).copied().unwrap_or(0.0) / PA_PER_UM;
        let seen = (p * (1.0 + noise * d.normal()) / step).round().max(0.0) * step;
        readings.push(Reading { t_s: t.floor(), pressure_pa: seen * PA_PER_UM });
        // Now and then nobody reads for a while.
        let gap = if d.pick(25) == 0 { 4.0 } else { 1.0 };
        t += gap * usual_s * d.between(0.4, 1.6);
    }
    let told = d.pick(10) < 7;
    let setup = Setup {
        volume_m3: Some(0.015),
        coldest_c: told.then(|| sim.coldest_c + 0.4 * d.normal()),
        fluid: None,
        resolution_um: step,
    };
    Case { truth, sim, readings, setup, noise }
}

fn until(c: &Case, minutes: f64) -> Judgement {
    let readings: Vec<Reading> =
        c.readings.iter().copied().filter(|r| r.t_s <= minutes * 60.0).collect();
    judge(&readings, &c.setup)
}

#[derive(Clone, Copy, Default)]
struct Tally {
    n: u32,
    right: u32,
    undecided: u32,
    wrong: u32,
    rises: u32,
    covered: u32,
    water_wrong: u32,
    decided_as: [u32; 4],
}

fn right(t: Truth) -> Verdict {
    match t {
        Truth::Dry | Truth::Outgassing => Verdict::DryAndGrossTight,
        Truth::WetLiquid | Truth::WetIce | Truth::WetSorbed => Verdict::Wet,
        Truth::LeakSmall | Truth::LeakLarge => Verdict::Leaking,
        Truth::WetAndLeaking => Verdict::WetAndLeaking,
    }
}

impl Tally {
    fn add(&mut self, c: &Case, j: &Judgement) {
        self.n += 1;
        match j.verdict {
            Verdict::Undecided => self.undecided += 1,
            v if v == right(c.truth) => self.right += 1,
            _ => self.wrong += 1,
        }
        match j.verdict {
            Verdict::DryAndGrossTight => self.decided_as[0] += 1,
            Verdict::Wet => self.decided_as[1] += 1,
            Verdict::Leaking => self.decided_as[2] += 1,
            Verdict::WetAndLeaking => self.decided_as[3] += 1,
            Verdict::Undecided => {}
        }
        if let Some(r) = j.rise_um_min {
            self.rises += 1;
            self.covered += u32::from(r.p90[0] <= c.sim.rise && c.sim.rise <= r.p90[1]);
        }
        let free = matches!(c.truth, Truth::WetLiquid | Truth::WetIce);
        let dry = c.sim.plateau_pa.is_none() || c.truth == Truth::WetSorbed;
        let bad =
            (free && j.free_water == FreeWater::No) || (dry && j.free_water == FreeWater::Yes);
        self.water_wrong += u32::from(bad);
    }

    fn print(&self, name: &str) {
        let pct = |k: u32| 100.0 * f64::from(k) / f64::from(self.n.max(1));
        println!(
            "| {name} | {} | {:.1} | {:.1} | {:.1} | {:.1} | {:.1} | {:?} |",
            self.n,
            pct(self.right),
            pct(self.undecided),
            pct(self.wrong),
            100.0 * f64::from(self.covered) / f64::from(self.rises.max(1)),
            pct(self.water_wrong),
            self.decided_as,
        );
    }

    fn join(tallies: &[Self]) -> Self {
        let mut all = Self::default();
        for t in tallies {
            all.n += t.n;
            all.right += t.right;
            all.undecided += t.undecided;
            all.wrong += t.wrong;
            all.rises += t.rises;
            all.covered += t.covered;
            all.water_wrong += t.water_wrong;
        }
        all
    }
}

fn head(what: &str) {
    println!(
        "\n| {what} | holds | right % | undecided % | wrong % | rise covered % | free water wrong % | dry, wet, leaking, both |"
    );
    println!("|---|---|---|---|---|---|---|---|");
}

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let has = |name: &str| args.iter().any(|a| a == name);
    if has("--bench") {
        return bench();
    }
    let n = if has("--short") { 150 } else { 1000 };
    let mut by_time = [[Tally::default(); TRUTHS.len()]; MINUTES.len()];
    // Leaks beside moisture: seen apart from a drifting plateau, or not.
    let mut beside = [[Tally::default(); 2]; MINUTES.len()];
    let mut by_step = [Tally::default(); 3];
    let mut by_noise = [Tally::default(); 4];
    for (k, (truth, _)) in TRUTHS.iter().enumerate() {
        for i in 0..n {
            let mut d = Dice::new(1_000_003 * (k as u64 + 1) + i);
            let c = case(*truth, &mut d);
            for (m, minutes) in MINUTES.iter().enumerate() {
                let j = until(&c, *minutes);
                by_time[m][k].add(&c, &j);
                if let (Truth::WetAndLeaking, Some(p)) = (c.truth, c.sim.plateau_pa) {
                    let large = c.sim.rise * 30.0 * PA_PER_UM > 0.2 * p;
                    beside[m][usize::from(!large)].add(&c, &j);
                }
                if *minutes == 30.0 {
                    let step = STEPS_UM.iter().position(|s| *s == c.setup.resolution_um);
                    by_step[step.unwrap_or(0)].add(&c, &j);
                    by_noise[((c.noise - 0.01) * 100.0) as usize % 4].add(&c, &j);
                }
                let failed = j.verdict != Verdict::Undecided && j.verdict != right(*truth);
                if has("--wrong") && failed && *minutes >= 30.0 {
                    tell(&c, i, *minutes, &j);
                }
            }
        }
    }
    report(&by_time, &beside, &by_step, &by_noise);
}

fn report(
    by_time: &[[Tally; TRUTHS.len()]; MINUTES.len()],
    beside: &[[Tally; 2]; MINUTES.len()],
    by_step: &[Tally; 3],
    by_noise: &[Tally; 4],
) {
    for (m, minutes) in MINUTES.iter().enumerate() {
        head(&format!("{minutes:.0} min"));
        for (k, (_, name)) in TRUTHS.iter().enumerate() {
            by_time[m][k].print(name);
        }
        beside[m][0].print("- of these, leak in 30 min over 20 % of the plateau");
        beside[m][1].print("- of these, under 20 %");
        Tally::join(&by_time[m]).print("all");
    }
    head("30 min, display step");
    for (s, t) in STEPS_UM.iter().zip(by_step) {
        t.print(&format!("{s:.0} µm"));
    }
    head("30 min, noise");
    for (i, t) in by_noise.iter().enumerate() {
        t.print(&format!("{}-{} %", i + 1, i + 2));
    }
}

/// One wrong verdict.
fn tell(c: &Case, i: u64, minutes: f64, j: &Judgement) {
    println!(
        "{:?} {i} at {minutes} min: {:?}; rise {:.1} {:?}, plateau {:?} Pa, step {} noise {:.3}",
        c.truth,
        j.verdict,
        c.sim.rise,
        j.rise_um_min.map(|r| r.p90),
        c.sim.plateau_pa,
        c.setup.resolution_um,
        c.noise
    );
}

/// Judgements per minute on one core.
fn bench() {
    let mut cases = Vec::new();
    for (k, (truth, _)) in TRUTHS.iter().enumerate() {
        for i in 0..40 {
            cases.push(case(*truth, &mut Dice::new(77 * (k as u64 + 1) + i)));
        }
    }
    let begin = Instant::now();
    let mut n = 0_u32;
    let mut undecided = (0_u32, 0.0);
    for c in &cases {
        for m in MINUTES {
            let own = Instant::now();
            let j = std::hint::black_box(until(c, m));
            n += 1;
            if j.verdict == Verdict::Undecided {
                undecided.0 += 1;
                undecided.1 += own.elapsed().as_secs_f64();
            }
        }
    }
    println!(
        "{} undecided, which are looked ahead from: {:.2} ms each",
        undecided.0,
        1e3 * undecided.1 / f64::from(undecided.0)
    );
    let s = begin.elapsed().as_secs_f64();
    println!(
        "{n} holds in {s:.2} s: {:.2} ms each, {:.0} a minute on one core",
        1e3 * s / f64::from(n),
        60.0 * f64::from(n) / s
    );
}
