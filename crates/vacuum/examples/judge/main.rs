//! How often the judge of a hold errs: simulated holds of known truth.
//!
//! cargo run --release -p vacuum --example judge [-- OPTIONS]
//! --plain            the second simulator (curves.rs) instead of the first (physics.rs)
//! --holds N          of each truth (1000; --short: 150)
//! --seed N           other holds
//! --thirty           only after 30 min
//! --wrong --undecided  list those, after 30 min
//! --bench            speed instead
//! --oracle N         N holds of each truth as an ideal judge would have them (oracle.rs)

#![allow(clippy::print_stdout)]

mod case;
mod curves;
mod oracle;
mod physics;

use std::time::Instant;

use case::{Case, STEPS_UM, Tally, physical};
use physics::{Dice, TRUTHS};
use vacuum::{Judgement, Verdict};

const MINUTES: [f64; 4] = [10.0, 20.0, 30.0, 60.0];
const KINDS: usize = TRUTHS.len();

/// The place of the moist leak among the truths of both simulators.
const BOTH: usize = 6;

/// What the command line asks.
struct Asked {
    plain: bool,
    seed: u64,
    holds: u64,
}

impl Asked {
    fn name(&self, kind: usize) -> &'static str {
        if self.plain { curves::NAMES[kind] } else { TRUTHS[kind].1 }
    }

    fn case(&self, kind: usize, i: u64) -> Case {
        let mut d = Dice::new(1_000_003 * (kind as u64 + 1) + 7_919_000_017 * self.seed + i);
        if self.plain { curves::case(kind, &mut d) } else { physical(TRUTHS[kind].0, &mut d) }
    }
}

#[derive(Default)]
struct Tallies {
    by_time: [[Tally; KINDS]; MINUTES.len()],
    /// Leaks beside moisture: seen apart from a drifting plateau, or not.
    beside: [[Tally; 2]; MINUTES.len()],
    by_step: [Tally; 3],
    by_noise: [Tally; 4],
}

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let has = |name: &str| args.iter().any(|a| a == name);
    let number = |name: &str| {
        let at = args.iter().position(|a| a == name)?;
        args.get(at + 1)?.parse::<u64>().ok()
    };
    if has("--bench") {
        return bench();
    }
    let seed = number("--seed").unwrap_or(0);
    let holds = number("--holds").unwrap_or(if has("--short") { 150 } else { 1000 });
    let asked = Asked { plain: has("--plain"), seed, holds };
    if let Some(n) = number("--oracle") {
        return oracle::table(n, seed);
    }
    let mut all = Tallies::default();
    for kind in 0..KINDS {
        for i in 0..asked.holds {
            let c = asked.case(kind, i);
            for (m, minutes) in MINUTES.iter().enumerate() {
                if has("--thirty") && *minutes != 30.0 {
                    continue;
                }
                let j = c.until(*minutes);
                all.add(m, kind, &c, &j);
                let undecided = j.verdict == Verdict::Undecided;
                let shown = if undecided { has("--undecided") } else { has("--wrong") };
                if j.verdict != c.right && shown && *minutes == 30.0 {
                    tell(asked.name(kind), &c, i, *minutes, &j);
                }
            }
        }
    }
    all.report(&asked);
}

impl Tallies {
    fn add(&mut self, m: usize, kind: usize, c: &Case, j: &Judgement) {
        self.by_time[m][kind].add(c, j);
        if kind == BOTH {
            self.beside[m][usize::from(c.hidden())].add(c, j);
        }
        if MINUTES[m] == 30.0 && !c.either {
            let step = STEPS_UM.iter().position(|s| *s == c.setup.resolution_um);
            self.by_step[step.unwrap_or(0)].add(c, j);
            self.by_noise[((c.noise - 0.01) * 100.0) as usize % 4].add(c, j);
        }
    }

    fn report(&self, asked: &Asked) {
        for (m, minutes) in MINUTES.iter().enumerate() {
            if self.by_time[m][0].n == 0 {
                continue;
            }
            head(&format!("{minutes:.0} min"));
            for (k, tally) in self.by_time[m].iter().enumerate() {
                tally.print(asked.name(k));
                if k == BOTH {
                    self.beside[m][0].print("- of these, leak in 30 min over 20 % of the plateau");
                    self.beside[m][1].print("- of these, under 20 %");
                }
            }
            Tally::join(&self.by_time[m][..KINDS - 1]).print("all but outgassing");
            Tally::join(&self.by_time[m]).print("all");
        }
        head("30 min, display step, all but outgassing");
        for (s, t) in STEPS_UM.iter().zip(&self.by_step) {
            t.print(&format!("{s:.0} µm"));
        }
        head("30 min, noise, all but outgassing");
        for (i, t) in self.by_noise.iter().enumerate() {
            t.print(&format!("{}-{} %", i + 1, i + 2));
        }
    }
}

fn head(what: &str) {
    println!(
        "\n| {what} | holds | right % | undecided % | wrong % | rise covered % | free water wrong % \
         | dry, wet, leaking, both |"
    );
    println!("|---|---|---|---|---|---|---|---|");
}

/// One wrong or undecided verdict.
fn tell(name: &str, c: &Case, i: u64, minutes: f64, j: &Judgement) {
    println!(
        "{name} {i} at {minutes} min: {:?} {:.2?}; rise {:.1} {:.1?}, plateau {:.0?} Pa, step {} \
         noise {:.3}",
        j.verdict,
        j.probabilities,
        c.rise,
        j.rise_um_min.map(|r| r.p90),
        c.plateau_pa,
        c.setup.resolution_um,
        c.noise
    );
}

/// Judgements per minute on one core.
fn bench() {
    let mut cases = Vec::new();
    for (k, (truth, _)) in TRUTHS.iter().enumerate() {
        for i in 0..40 {
            cases.push(physical(*truth, &mut Dice::new(77 * (k as u64 + 1) + i)));
        }
    }
    let begin = Instant::now();
    let mut n = 0_u32;
    let mut undecided = (0_u32, 0.0);
    for c in &cases {
        for m in MINUTES {
            let own = Instant::now();
            let j = std::hint::black_box(c.until(m));
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
        1e3 * undecided.1 / f64::from(undecided.0.max(1))
    );
    let s = begin.elapsed().as_secs_f64();
    println!(
        "{n} holds in {s:.2} s: {:.2} ms each, {:.0} a minute on one core",
        1e3 * s / f64::from(n),
        60.0 * f64::from(n) / s
    );
}
