//! The evidence of a hypothesis by sampling around its peak, with the instruments' true errors.

use units::math::{exp, ln};

use crate::cycle::{Cycle, N, Unknowns, evaluate};
use crate::evidence::{HIDDEN, Hidden, Hypothesis, Run, SEVERITY, Scene, Seen};
use crate::linear::{Peak, back, guess};
use crate::normal::{Dice, below, quantile};
use crate::plant::Plant;
use crate::solve::Solved;

/// Standard normal draws, in pairs of opposite sign: a first set that finds where the weight
/// lies, and a second that counts.
#[derive(Debug, Clone)]
pub struct Draws([Vec<Hidden>; 2]);

impl Draws {
    /// `pairs` pairs in the second set; the same every time.
    pub fn new(pairs: usize) -> Self {
        let mut dice = Dice::new(20_261_125);
        Self([pairs * 3 / 5, pairs].map(|n| stratified(&mut dice, n)))
    }
}

/// Each quantity stratified over the pairs, so that few draws cover it evenly.
fn stratified(dice: &mut Dice, pairs: usize) -> Vec<Hidden> {
    let mut out = vec![[0.0; HIDDEN]; pairs];
    for k in 0..HIDDEN {
        let mut order: Vec<usize> = (0..pairs).collect();
        for i in (1..pairs).rev() {
            let j = (dice.uniform() * (i + 1) as f64) as usize;
            order.swap(i, j.min(i));
        }
        for (z, place) in out.iter_mut().zip(order) {
            z[k] = quantile((place as f64 + dice.uniform()) / pairs as f64);
        }
    }
    out.into_iter().flat_map(|z| [z, z.map(|v| -v)]).collect()
}

/// What sampling gives.
#[derive(Debug, Clone)]
pub struct Sampled {
    /// ln of the evidence.
    pub ln_evidence: f64,
    /// Severity latent and weight (weights sum to 1).
    pub severities: Vec<(f64, f64)>,
    /// Number of equally weighted draws that it is worth.
    pub effective: f64,
}

/// ln likelihood of the readings with a gauge's even error and normal thermometers.
pub fn ln_likelihood(scene: &Scene<'_>, seen: &Seen, used: &[usize], var: &Seen) -> f64 {
    let mut sum = 0.0;
    for &k in used {
        let Some(read) = scene.read[k] else { continue };
        let miss = read - seen[k];
        if k < 3 {
            let half = scene.noise.gauge_half_kpa[k];
            // Weather, and what is rounded in reading a dial.
            let blur =
                (scene.noise.weather_kpa * scene.noise.weather_kpa + 4e-4 * half * half + 0.04)
                    .sqrt();
            let share = below((half - miss) / blur) - below((-half - miss) / blur);
            sum += ln(share.max(1e-300)) - ln(2.0 * half) + 0.918_938_533_204_672_7;
        } else {
            sum -= 0.5 * (miss * miss / var[k] + ln(var[k]));
        }
    }
    sum
}

/// Where draws are taken, in the peak's own whitened coordinates.
struct Aim {
    centre: Hidden,
    scale: Hidden,
}

/// A little wider than the target, so that no tail is missed.
const WIDER: f64 = 1.12;

/// Draws with their weights (ln), places and severities.
struct Cloud {
    /// ln weight, whitened place, severity latent.
    points: Vec<(f64, Hidden, f64)>,
    drawn: usize,
}

impl Cloud {
    fn top(&self) -> f64 {
        self.points.iter().fold(f64::NEG_INFINITY, |a, p| a.max(p.0))
    }

    /// Weights relative to the top, and the number of equal draws that they are worth.
    fn weights(&self) -> (Vec<f64>, f64) {
        let top = self.top();
        let w: Vec<f64> = self.points.iter().map(|p| exp(p.0 - top)).collect();
        let sum: f64 = w.iter().sum();
        let squares: f64 = w.iter().map(|v| v * v).sum();
        (w, if squares > 0.0 { sum * sum / squares } else { 0.0 })
    }

    /// A better aim from where the weight lies, trusted as far as the draws are worth.
    fn aim(&self) -> Aim {
        let (w, worth) = self.weights();
        let sum: f64 = w.iter().sum();
        let trust = worth / (worth + 10.0);
        let mut aim = Aim { centre: [0.0; HIDDEN], scale: [1.0; HIDDEN] };
        for k in 0..HIDDEN {
            let mean = self.points.iter().zip(&w).map(|(p, w)| w * p.1[k]).sum::<f64>() / sum;
            let square =
                self.points.iter().zip(&w).map(|(p, w)| w * p.1[k] * p.1[k]).sum::<f64>() / sum;
            let var = trust * (square - mean * mean) + (1.0 - trust);
            aim.centre[k] = trust * mean;
            aim.scale[k] = var.max(0.25).sqrt().min(1.6);
        }
        aim
    }
}

/// Samples a hypothesis around its peak.
pub fn sample(
    scene: &Scene<'_>,
    h: &Hypothesis,
    peak: &Peak,
    draws: &Draws,
    used: &[usize],
    var: &Seen,
) -> Option<Sampled> {
    let [first, second] = &draws.0;
    let start = Aim { centre: [0.0; HIDDEN], scale: [1.0; HIDDEN] };
    let scout = cloud(scene, h, peak, (first, &start), used, var);
    if !scout.top().is_finite() {
        return None;
    }
    let main = cloud(scene, h, peak, (second, &scout.aim()), used, var);
    let mut out = Sampled { ln_evidence: 0.0, severities: Vec::new(), effective: 0.0 };
    let (mut evidence, top) = (0.0, scout.top().max(main.top()));
    // Both sets count, each by what it is worth.
    let mut parts = Vec::new();
    for c in [scout, main] {
        let (w, worth) = c.weights();
        let sum: f64 = w.iter().sum();
        if worth > 0.0 {
            evidence += worth * exp(c.top() - top) * sum / c.drawn as f64;
            out.effective += worth;
            parts.push((c, w, sum, worth));
        }
    }
    out.ln_evidence = top + ln(evidence / out.effective);
    for (c, w, sum, worth) in parts {
        let share = worth / out.effective / sum;
        out.severities.extend(c.points.iter().zip(w).map(|(p, w)| (p.2, w * share)));
    }
    smooth(&mut out);
    Some(out)
}

/// Few draws make a ragged distribution: spread each over its neighbourhood.
fn smooth(s: &mut Sampled) {
    let mean: f64 = s.severities.iter().map(|(z, w)| z * w).sum();
    let var: f64 = s.severities.iter().map(|(z, w)| w * (z - mean) * (z - mean)).sum();
    let reach = 1.2 * var.sqrt() * units::math::pow(s.effective.max(2.0), -0.2);
    s.severities = s
        .severities
        .iter()
        .flat_map(|(z, w)| [(z - reach, 0.25 * w), (*z, 0.5 * w), (z + reach, 0.25 * w)])
        .collect();
}

fn cloud(
    scene: &Scene<'_>,
    h: &Hypothesis,
    peak: &Peak,
    (draws, aim): (&[Hidden], &Aim),
    used: &[usize],
    var: &Seen,
) -> Cloud {
    let stretch: f64 = aim.scale.iter().map(|s| ln(WIDER * s)).sum();
    let half_det = 0.5 * peak.precision.ln_det() - stretch;
    let mut points = Vec::with_capacity(draws.len());
    for u in draws {
        let e: Hidden = std::array::from_fn(|k| aim.centre[k] + WIDER * aim.scale[k] * u[k]);
        let d = peak.precision.backward(&e);
        let z: Hidden = std::array::from_fn(|i| peak.local.z[i] + d[i]);
        let Some(run) = quick_run(scene, h, peak, &z) else { continue };
        let prior: f64 = z.iter().map(|v| v * v).sum();
        let drawn: f64 = u.iter().map(|v| v * v).sum();
        let log = ln_likelihood(scene, &run.seen, used, var) - 0.5 * prior + 0.5 * drawn - half_det;
        if log.is_finite() {
            points.push((log, e, z[SEVERITY]));
        }
    }
    Cloud { points, drawn: draws.len() }
}

/// Solves close to a peak with the peak's own Jacobian; the long way where that does not do.
fn quick_run(scene: &Scene<'_>, h: &Hypothesis, peak: &Peak, z: &Hidden) -> Option<Run> {
    let l = &peak.local;
    let p = scene.plain(h, z);
    let start = guess(l, z);
    let plant = scene.sound_plant(h, &p).ok()?;
    let needs = scene.needs_sound(h);
    let chord = |plant: &Plant<'_>, from: &Unknowns, inverse: &[[f64; N]; N]| {
        let mut x = *from;
        for _ in 0..7 {
            let (r, cycle) = evaluate(plant, &x).ok()?;
            let worst = r.iter().fold(0.0, |a: f64, v| a.max(v.abs()));
            // 1e-4 of any balance: some 0.01 K.
            if worst < 1e-4 {
                return Some(Solved { x, cycle });
            }
            if worst.is_nan() || worst > 1.0 {
                return None;
            }
            for (x, d) in x.iter_mut().zip(back(inverse, &r)) {
                *x += d;
            }
        }
        None
    };
    let sound =
        if needs { chord(&plant, &start.sound.x, &l.inverse[0]) } else { Some(start.sound) };
    if let Some(sound) = sound {
        let faulty: Cycle;
        let mut changed = plant.clone();
        scene.change(h, &p, 1.0, &mut changed, &sound.cycle);
        if let Some(s) = chord(&changed, &start.faulty.x, &l.inverse[1]) {
            faulty = s.cycle;
            return Some(Run { sound, faulty: s, seen: scene.seen(h, &p, &faulty) });
        }
    }
    scene.run(h, z, Some(&start)).ok()
}
