//! The evidence of a hypothesis by sampling around its peak, with the instruments' true errors.

use units::math::{exp, ln};

use crate::cycle::{Cycle, N, Unknowns, evaluate};
use crate::evidence::{HIDDEN, Hidden, Hypothesis, Run, SEVERITY, Scene, Seen};
use crate::linear::{Peak, back, guess};
use crate::normal::{Dice, below, quantile};
use crate::plant::Plant;
use crate::solve::Solved;

/// Standard normal draws, in pairs of opposite sign.
#[derive(Debug, Clone)]
pub struct Draws(Vec<Hidden>);

impl Draws {
    /// `pairs` pairs; the same every time.
    pub fn new(pairs: usize) -> Self {
        let mut dice = Dice::new(20_261_125);
        let mut all = Vec::with_capacity(2 * pairs);
        // Each quantity stratified over the pairs, so that few draws cover it evenly.
        let mut columns: Vec<Vec<f64>> = Vec::new();
        for _ in 0..HIDDEN {
            let mut order: Vec<usize> = (0..pairs).collect();
            for i in (1..pairs).rev() {
                let j = (dice.uniform() * (i + 1) as f64) as usize;
                order.swap(i, j.min(i));
            }
            let at = |k: usize, u: f64| quantile((k as f64 + u) / pairs as f64);
            columns.push(order.into_iter().map(|k| at(k, dice.uniform())).collect());
        }
        for i in 0..pairs {
            let z: Hidden = std::array::from_fn(|k| columns[k][i]);
            all.push(z);
            all.push(z.map(|v| -v));
        }
        Self(all)
    }
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

/// A little wider than the peak, so that no tail is missed.
const WIDER: f64 = 1.12;

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

/// Samples a hypothesis around its peak.
pub fn sample(
    scene: &Scene<'_>,
    h: &Hypothesis,
    peak: &Peak,
    draws: &Draws,
    used: &[usize],
    var: &Seen,
) -> Option<Sampled> {
    let half_det = 0.5 * peak.precision.ln_det() - HIDDEN as f64 * ln(WIDER);
    let mut logs = Vec::with_capacity(draws.0.len());
    for u in &draws.0 {
        let d = peak.precision.backward(&u.map(|v| v * WIDER));
        let z: Hidden = std::array::from_fn(|i| peak.local.z[i] + d[i]);
        let Some(run) = quick_run(scene, h, peak, &z) else { continue };
        let prior: f64 = z.iter().map(|v| v * v).sum();
        let drawn: f64 = u.iter().map(|v| v * v).sum();
        let log = ln_likelihood(scene, &run.seen, used, var) - 0.5 * prior + 0.5 * drawn - half_det;
        if log.is_finite() {
            logs.push((log, z[SEVERITY]));
        }
    }
    let top = logs.iter().fold(f64::NEG_INFINITY, |a, (l, _)| a.max(*l));
    if !top.is_finite() {
        return None;
    }
    let (mut sum, mut squares) = (0.0, 0.0);
    let mut severities: Vec<(f64, f64)> = Vec::with_capacity(logs.len());
    for (l, s) in &logs {
        let w = exp(l - top);
        sum += w;
        squares += w * w;
        severities.push((*s, w));
    }
    for s in &mut severities {
        s.1 /= sum;
    }
    let ln_evidence = top + ln(sum / draws.0.len() as f64);
    Some(Sampled { ln_evidence, severities, effective: sum * sum / squares })
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
            if !(worst < 1.0) {
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
