//! What an ideal judge would make of the physical simulator's holds: one that knows the simulator
//! itself with every spread it draws from, and weighs each truth by integrating over them.
//!
//! A hold's draws are written as standard normals z. For each truth the best z is found (Gauss and
//! Newton), then the likelihood is integrated by importance sampling around it, in three rounds.
//! The likelihood is exact: noise unknown between 1 and 5 %, readings rounded to the step.

use units::math::{exp, ln, sqrt};
use vacuum::{PA_PER_UM, Verdict};

use crate::case::{Case, Tally, physical};
use crate::physics::{Chance, Dice, TRUTHS, Truth, UM, simulate};

/// Most draws that a hold takes; the first is the noise.
const Z: usize = 20;
/// Step of the oracle's simulations, s.
const DT: f64 = 3.0;
/// Samples of each round.
const SAMPLES: usize = 400;
const MINUTES: f64 = 30.0;

type Vector = [f64; Z];
type Matrix = [[f64; Z]; Z];

/// A truth with its discrete choices.
#[derive(Clone, Copy)]
struct Hypothesis {
    truth: Truth,
    kind: usize,
    by_root: bool,
    prior: f64,
}

fn hypotheses() -> Vec<Hypothesis> {
    let mut all = Vec::new();
    for (truth, _) in TRUTHS {
        let of = |kind, by_root, prior| Hypothesis { truth, kind, by_root, prior };
        match truth {
            Truth::WetAndLeaking => all.extend((0..3).map(|k| of(k, false, 1.0 / 3.0))),
            Truth::Outgassing => all.extend([true, false].map(|r| of(0, r, 0.5))),
            _ => all.push(of(0, false, 1.0)),
        }
    }
    all
}

/// Draws that are given.
struct Given<'a> {
    z: &'a Vector,
    at: usize,
    threes: usize,
    h: Hypothesis,
}

impl Chance for Given<'_> {
    fn between(&mut self, a: f64, b: f64) -> f64 {
        a + (b - a) * phi(self.normal())
    }

    fn normal(&mut self) -> f64 {
        let z = self.z.get(self.at).copied().unwrap_or(0.0);
        self.at += 1;
        z
    }

    fn pick(&mut self, n: usize) -> usize {
        if n == 2 {
            return usize::from(!self.h.by_root);
        }
        self.threes += 1;
        // First the kind of water; then the gauge's place, which matters for the first minute only.
        if self.threes == 1 { self.h.kind } else { 1 }
    }
}

/// The normal distribution function (Page, Applied Statistics 26 (1977) 75–76; from memory, good
/// to 2e-4), held away from 0 and 1.
fn phi(x: f64) -> f64 {
    1.0 / (1.0 + exp((-1.5976 * x - 0.070_565_992 * x * x * x).clamp(-40.0, 40.0)))
}

struct Run {
    /// At the readings, µm.
    at: Vec<f64>,
    coldest_c: f64,
    noise: f64,
}

/// One hold as the oracle sees it.
struct View<'a> {
    case: &'a Case,
    t_s: Vec<f64>,
    y: Vec<f64>,
}

impl View<'_> {
    fn run(&self, h: Hypothesis, z: &Vector) -> Run {
        let mut given = Given { z, at: 0, threes: 0, h };
        let noise = given.between(0.01, 0.05);
        let sim = simulate(h.truth, &mut given, MINUTES * 60.0, DT);
        let value = |t: &f64| {
            let (i, part) = ((t / DT) as usize, (t / DT).fract());
            let of = |i: usize| sim.gauge.get(i).or(sim.gauge.last()).copied().unwrap_or(0.0);
            (of(i) * (1.0 - part) + of(i + 1) * part) / UM
        };
        Run { at: self.t_s.iter().map(value).collect(), coldest_c: sim.coldest_c, noise }
    }

    /// ln of the likelihood of the rounded readings and of the temperature told.
    fn ln_likelihood(&self, run: &Run) -> f64 {
        let step = self.case.setup.resolution_um;
        let mut sum = 0.0;
        for (p, y) in run.at.iter().zip(&self.y) {
            let sd = (run.noise * p).max(1e-6);
            let u = (y - p) / sd;
            let half = 0.5 * step / sd;
            sum += if half < 0.2 {
                -0.5 * u * u + ln(2.0 * half * 0.398_942_28)
            } else {
                // Both tails alike, so that no difference of two ones is taken.
                let u = u.abs();
                ln((phi(half - u) - phi(-half - u)).max(1e-30))
            };
        }
        if let Some(told) = self.case.setup.coldest_c {
            let u = (told - run.coldest_c) / 0.4;
            sum -= 0.5 * u * u;
        }
        sum
    }

    /// Residuals over their standard deviations, of readings and temperature told.
    fn residuals(&self, run: &Run, noise: f64) -> Vec<f64> {
        let step = self.case.setup.resolution_um;
        let sd = |y: f64| sqrt((noise * y.max(20.0)) * (noise * y.max(20.0)) + step * step / 12.0);
        let mut r: Vec<f64> = run.at.iter().zip(&self.y).map(|(p, y)| (y - p) / sd(*y)).collect();
        r.push(self.case.setup.coldest_c.map_or(0.0, |t| (t - run.coldest_c) / 0.4));
        r
    }

    /// The best z from a start, with the inverse of its curvature.
    fn best(&self, h: Hypothesis, start: Vector) -> Option<(Vector, Matrix, f64)> {
        let noise = self.case.noise;
        let cost = |z: &Vector, r: &[f64]| {
            0.5 * z.iter().map(|v| v * v).sum::<f64>() + 0.5 * r.iter().map(|v| v * v).sum::<f64>()
        };
        let mut z = start;
        let mut r = self.residuals(&self.run(h, &z), noise);
        let (mut now, mut damp, mut a) = (cost(&z, &r), 1.0, [[0.0; Z]; Z]);
        for _ in 0..14 {
            let mut columns = Vec::with_capacity(Z);
            for i in 0..Z {
                let mut w = z;
                w[i] += 0.02;
                let moved = self.residuals(&self.run(h, &w), noise);
                columns.push(moved.iter().zip(&r).map(|(m, r)| (m - r) / 0.02).collect::<Vec<_>>());
            }
            let dot = |p: &[f64], q: &[f64]| p.iter().zip(q).map(|(p, q)| p * q).sum::<f64>();
            let mut g = [0.0; Z];
            for i in 0..Z {
                for j in 0..Z {
                    a[i][j] = dot(&columns[i], &columns[j]) + f64::from(u8::from(i == j));
                }
                g[i] = -z[i] - dot(&columns[i], &r);
            }
            let mut damped = a;
            for (i, row) in damped.iter_mut().enumerate() {
                row[i] *= 1.0 + damp;
            }
            let l = cholesky(&damped)?;
            let s = solve(&l, &g);
            let mut w = z;
            for i in 0..Z {
                w[i] = (z[i] + s[i]).clamp(-3.5, 3.5);
            }
            let moved = self.residuals(&self.run(h, &w), noise);
            let then = cost(&w, &moved);
            if then < now {
                let gain = now - then;
                (z, r, now) = (w, moved, then);
                damp *= 0.2;
                if gain < 0.02 {
                    break;
                }
            } else {
                damp = damp.max(0.05) * 5.0;
            }
        }
        let l = cholesky(&a)?;
        let mut inverse = [[0.0; Z]; Z];
        for (i, row) in inverse.iter_mut().enumerate() {
            let mut e = [0.0; Z];
            e[i] = 1.0;
            *row = solve(&l, &e);
        }
        Some((z, inverse, now))
    }

    /// ln of the evidence and the effective number of samples.
    fn evidence(&self, h: Hypothesis, z: Vector, cov: Matrix, d: &mut Dice) -> (f64, f64) {
        let (mut mean, mut cov) = (z, cov);
        let mut last = (f64::NEG_INFINITY, 0.0);
        for _ in 0..3 {
            let Some(l) = cholesky(&cov) else { return last };
            let ln_det: f64 = (0..Z).map(|i| ln(l[i][i])).sum();
            let mut samples = Vec::with_capacity(SAMPLES);
            for _ in 0..SAMPLES {
                let e: Vector = std::array::from_fn(|_| d.normal());
                // Student's t with 10 degrees of freedom: tails wider than the target's.
                let chi: f64 = (0..10).map(|_| d.normal()).map(|n| n * n).sum::<f64>() / 10.0;
                let scale = 1.0 / sqrt(chi.max(0.05));
                let mut w = mean;
                for i in 0..Z {
                    w[i] += scale * (0..=i).map(|j| l[i][j] * e[j]).sum::<f64>();
                }
                let q: f64 = e.iter().map(|v| v * v).sum::<f64>() * scale * scale;
                let ln_q = LN_T - ln_det - 0.5 * (10.0 + Z as f64) * ln(1.0 + q / 10.0);
                let prior = -0.5 * w.iter().map(|v| v * v).sum::<f64>() - Z as f64 * 0.918_938_533;
                let ln_w = prior + self.ln_likelihood(&self.run(h, &w)) - ln_q;
                samples.push((w, ln_w));
            }
            let top = samples.iter().map(|s| s.1).fold(f64::NEG_INFINITY, f64::max);
            let weights: Vec<f64> = samples.iter().map(|s| exp(s.1 - top)).collect();
            let (sum, squares) = weights.iter().fold((0.0, 0.0), |(s, q), w| (s + w, q + w * w));
            last = (top + ln(sum / SAMPLES as f64), sum * sum / squares);
            // The next round is drawn from what this one found, tempered while few samples count.
            let power = if last.1 > 40.0 { 1.0 } else { 0.4 };
            (mean, cov) = moments(&samples, top, power, &cov);
        }
        last
    }
}

/// ln of the constant of Student's t in Z dimensions with 10 degrees of freedom:
/// Γ((10 + Z)/2)/(Γ(5)·(10π)^(Z/2)), Z = 20: Γ(15) = 14!, Γ(5) = 24.
const LN_T: f64 = 25.191_221_18 - 3.178_053_83 - 10.0 * 3.447_314_98;

fn moments(samples: &[(Vector, f64)], top: f64, power: f64, old: &Matrix) -> (Vector, Matrix) {
    let weights: Vec<f64> = samples.iter().map(|s| exp(power * (s.1 - top))).collect();
    let sum: f64 = weights.iter().sum();
    let mut mean = [0.0; Z];
    for ((z, _), w) in samples.iter().zip(&weights) {
        for i in 0..Z {
            mean[i] += w / sum * z[i];
        }
    }
    let mut cov = [[0.0; Z]; Z];
    for ((z, _), w) in samples.iter().zip(&weights) {
        for i in 0..Z {
            for j in 0..Z {
                cov[i][j] += w / sum * (z[i] - mean[i]) * (z[j] - mean[j]);
            }
        }
    }
    let count = sum * sum / weights.iter().map(|w| w * w).sum::<f64>();
    let trust = count / (count + 40.0);
    for i in 0..Z {
        for j in 0..Z {
            cov[i][j] = trust * cov[i][j] + (1.0 - trust) * old[i][j];
        }
        cov[i][i] += 1e-6;
    }
    (mean, cov)
}

fn cholesky(a: &Matrix) -> Option<Matrix> {
    let mut l = [[0.0; Z]; Z];
    for i in 0..Z {
        for j in 0..=i {
            let s = a[i][j] - (0..j).map(|k| l[i][k] * l[j][k]).sum::<f64>();
            if i == j {
                if s <= 0.0 || s.is_nan() {
                    return None;
                }
                l[i][i] = sqrt(s);
            } else {
                l[i][j] = s / l[j][j];
            }
        }
    }
    Some(l)
}

fn solve(l: &Matrix, b: &Vector) -> Vector {
    let mut x = *b;
    for i in 0..Z {
        x[i] = (x[i] - (0..i).map(|k| l[i][k] * x[k]).sum::<f64>()) / l[i][i];
    }
    for i in (0..Z).rev() {
        x[i] = (x[i] - (i + 1..Z).map(|k| l[k][i] * x[k]).sum::<f64>()) / l[i][i];
    }
    x
}

const VERDICTS: [Verdict; 4] =
    [Verdict::DryAndGrossTight, Verdict::Wet, Verdict::Leaking, Verdict::WetAndLeaking];

/// Shares of the four verdicts when every truth is as frequent as in the tables, and the smallest
/// effective number of samples among the hypotheses that matter.
fn shares(case: &Case, d: &mut Dice) -> ([f64; 4], f64) {
    let seen: Vec<(f64, f64)> = case
        .readings
        .iter()
        .filter(|r| r.t_s >= 60.0 && r.t_s <= MINUTES * 60.0)
        .map(|r| (r.t_s, r.pressure_pa / PA_PER_UM))
        .collect();
    let view = View {
        case,
        t_s: seen.iter().map(|s| s.0).collect(),
        y: seen.iter().map(|s| s.1).collect(),
    };
    let mut bests = Vec::new();
    for h in hypotheses() {
        // The best of some blind draws, twice.
        let starts = (0..2).map(|_| {
            let draw = |_| {
                let z: Vector = std::array::from_fn(|_| d.normal());
                let r = view.residuals(&view.run(h, &z), 0.1);
                (z, r.iter().map(|v| v * v).sum::<f64>())
            };
            (0..40).map(draw).min_by(|a, b| a.1.total_cmp(&b.1)).map_or([0.0; Z], |s| s.0)
        });
        let starts: Vec<Vector> = starts.collect();
        let best = starts.into_iter().filter_map(|s| view.best(h, s));
        bests.push((h, best.min_by(|a, b| a.2.total_cmp(&b.2))));
    }
    let least = bests.iter().filter_map(|b| Some(b.1.as_ref()?.2)).fold(f64::INFINITY, f64::min);
    let mut found = Vec::new();
    for (h, best) in bests {
        let Some((z, cov, cost)) = best else { continue };
        if cost > least + 18.0 {
            continue;
        }
        let (ln_z, count) = view.evidence(h, z, cov, d);
        found.push((h, ln_z + ln(h.prior), count));
    }
    let top = found.iter().map(|f| f.1).fold(f64::NEG_INFINITY, f64::max);
    let mut shares = [0.0; 4];
    for (h, ln_z, _) in &found {
        let class = match h.truth {
            Truth::Dry | Truth::Outgassing => 0,
            Truth::WetLiquid | Truth::WetIce | Truth::WetSorbed => 1,
            Truth::LeakSmall | Truth::LeakLarge => 2,
            Truth::WetAndLeaking => 3,
        };
        shares[class] += exp(ln_z - top);
    }
    let sum: f64 = shares.iter().sum();
    let counts = found.iter().filter(|f| f.1 > top - 5.0).map(|f| f.2);
    (shares.map(|s| s / sum.max(1e-300)), counts.fold(f64::INFINITY, f64::min))
}

/// The oracle and the judge side by side on the same holds.
pub fn table(n: u64, seed: u64) {
    const SURE: [f64; 4] = [0.8, 0.9, 0.95, 0.98];
    let mut tallies = vec![[Tally::default(); 8]; SURE.len() + 1];
    let mut counts = Vec::new();
    for (k, (truth, _)) in TRUTHS.iter().enumerate() {
        for i in 0..n {
            let mut d = Dice::new(1_000_003 * (k as u64 + 1) + 7_919_000_017 * seed + i);
            let c = physical(*truth, &mut d);
            let (shares, count) = shares(&c, &mut d);
            counts.push(count);
            let best = (0..4).max_by(|a, b| shares[*a].total_cmp(&shares[*b])).unwrap_or(0);
            for (s, sure) in SURE.iter().enumerate() {
                let v = if shares[best] > *sure { VERDICTS[best] } else { Verdict::Undecided };
                tallies[s][k].count(c.right, v);
            }
            let j = c.until(MINUTES);
            tallies[SURE.len()][k].count(c.right, j.verdict);
            println!(
                "# {k} {i} {:?} {:.3?} {count:.0} judge {:?} rise {:.1} {:?}",
                c.right, shares, j.verdict, c.rise, c.setup
            );
        }
    }
    for (s, rows) in tallies.iter().enumerate() {
        println!("\n{}", SURE.get(s).map_or("judge".to_owned(), |v| format!("oracle above {v}")));
        for (row, (_, name)) in rows.iter().zip(TRUTHS) {
            row.print(name);
        }
        Tally::join(&rows[..7]).print("all but outgassing");
        Tally::join(rows).print("all");
    }
    counts.sort_by(f64::total_cmp);
    let at = |p: f64| counts.get((counts.len() as f64 * p) as usize).copied().unwrap_or(0.0);
    println!("effective samples of {SAMPLES}: median {:.0}, tenth {:.0}", at(0.5), at(0.1));
}
