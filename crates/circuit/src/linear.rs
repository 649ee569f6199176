//! A hypothesis close to a point, and the most probable point for the readings.

use crate::cycle::{N, Unknowns, evaluate};
use crate::evidence::{HIDDEN, Hidden, Hypothesis, Run, SEEN, SEVERITY, Scene, Seen, THROTTLE};
use crate::matrix::{Cholesky, solve_square};
use crate::plant::Plant;
use crate::solve::{NoSolution, Solved};
use units::math::ln;

/// Step of the hidden quantities for derivatives.
const STEP: f64 = 1e-3;

/// A solved hypothesis with its derivatives.
#[derive(Debug, Clone)]
pub struct Local {
    /// Where.
    pub z: Hidden,
    /// Solution there.
    pub run: Run,
    /// d(seen)/d(hidden).
    pub slope: [Hidden; SEEN],
    /// d(unknowns of the sound machine)/d(hidden), d(of the faulty)/d(hidden).
    pub moves: [[Unknowns; HIDDEN]; 2],
    /// Inverse Jacobians of the sound and the faulty machine.
    pub inverse: [[[f64; N]; N]; 2],
}

/// Columns of the inverse of the Jacobian, and the cycles beside.
struct Around {
    inverse: [[f64; N]; N],
    steps: Unknowns,
    cycles: Vec<crate::cycle::Cycle>,
}

const DELTA: Unknowns = [1e-5, 1e-5, 1e-5, 1e-5, 1e-4];

fn around(plant: &Plant<'_>, at: &Solved) -> Result<Around, NoSolution> {
    let (r, _) = evaluate(plant, &at.x)?;
    let mut j = [[0.0; N]; N];
    let mut steps = DELTA;
    let mut cycles = Vec::with_capacity(N);
    for k in 0..N {
        if k == 3 && at.x[3] < 0.5 || k == 4 && at.x[4] < 0.0 {
            steps[k] = -steps[k];
        }
        let mut y = at.x;
        y[k] += steps[k];
        let (s, c) = evaluate(plant, &y)?;
        for i in 0..N {
            j[i][k] = (s[i] - r[i]) / steps[k];
        }
        cycles.push(c);
    }
    let unit: Vec<[f64; N]> =
        (0..N).map(|i| std::array::from_fn(|k| if i == k { 1.0 } else { 0.0 })).collect();
    let columns = solve_square(&j, &unit).ok_or(NoSolution::NotClosed { imbalance: f64::NAN })?;
    let mut inverse = [[0.0; N]; N];
    for (k, column) in columns.iter().enumerate() {
        for i in 0..N {
            inverse[i][k] = column[i];
        }
    }
    Ok(Around { inverse, steps, cycles })
}

/// −J⁻¹·r
pub(crate) fn back(inverse: &[[f64; N]; N], r: &Unknowns) -> Unknowns {
    inverse.map(|row| -row.iter().zip(r).map(|(a, b)| a * b).sum::<f64>())
}

/// Derivatives at a solved point, by the implicit function theorem: one or two evaluations per
/// hidden quantity, no solving.
pub fn local(scene: &Scene<'_>, h: &Hypothesis, z: &Hidden, run: Run) -> Result<Local, NoSolution> {
    let p = scene.plain(h, z);
    let sound_plant = scene.sound_plant(h, &p)?;
    let needs = scene.needs_sound(h);
    let mut plant = sound_plant.clone();
    scene.change(h, &p, 1.0, &mut plant, &run.sound.cycle);
    let f = around(&plant, &run.faulty)?;
    let s = if needs {
        around(&sound_plant, &run.sound)?
    } else {
        Around { inverse: f.inverse, steps: f.steps, cycles: Vec::new() }
    };
    // What is seen moves with the unknowns.
    let mut by_unknown = [[0.0; N]; SEEN];
    for (k, c) in f.cycles.iter().enumerate() {
        let y = scene.seen(h, &p, c);
        for i in 0..SEEN {
            by_unknown[i][k] = (y[i] - run.seen[i]) / f.steps[k];
        }
    }
    let mut slope = [[0.0; HIDDEN]; SEEN];
    let mut moves = [[[0.0; N]; HIDDEN]; 2];
    for i in 0..HIDDEN {
        if i == SEVERITY && !h.has_severity()
            || i == THROTTLE && !scene.modulated && h.second.is_none()
        {
            continue;
        }
        let mut y = *z;
        y[i] += STEP;
        let p = scene.plain(h, &y);
        let sound_plant = scene.sound_plant(h, &p)?;
        let mut sound_cycle = run.sound.cycle;
        if needs {
            let (r, _) = evaluate(&sound_plant, &run.sound.x)?;
            let d = back(&s.inverse, &r);
            let mut x = run.sound.x;
            for (x, d) in x.iter_mut().zip(d) {
                *x += d;
            }
            sound_cycle = evaluate(&sound_plant, &x)?.1;
            moves[0][i] = d.map(|v| v / STEP);
        }
        let mut plant = sound_plant;
        scene.change(h, &p, 1.0, &mut plant, &sound_cycle);
        let (r, c) = evaluate(&plant, &run.faulty.x)?;
        let d = back(&f.inverse, &r);
        moves[1][i] = d.map(|v| v / STEP);
        let y = scene.seen(h, &p, &c);
        for k in 0..SEEN {
            let through: f64 = by_unknown[k].iter().zip(&d).map(|(a, b)| a * b).sum();
            slope[k][i] = (y[k] - run.seen[k] + through) / STEP;
        }
    }
    if !needs {
        moves[0] = moves[1];
    }
    Ok(Local { z: *z, run, slope, moves, inverse: [s.inverse, f.inverse] })
}

/// The posterior as a normal distribution.
#[derive(Debug, Clone)]
pub struct Peak {
    /// The point it is written around.
    pub local: Local,
    /// Its precision, factored.
    pub precision: Cholesky,
    /// ln of the evidence by Laplace's approximation (normal instruments).
    pub ln_evidence: f64,
}

/// Half the squared distance of prior and readings; and the readings' part.
fn energy(scene: &Scene<'_>, z: &Hidden, seen: &Seen, used: &[usize], var: &Seen) -> f64 {
    let prior: f64 = z.iter().map(|v| v * v).sum();
    let data: f64 = used
        .iter()
        .filter_map(|i| scene.read[*i].map(|d| (d - seen[*i]) * (d - seen[*i]) / var[*i]))
        .sum();
    0.5 * (prior + data)
}

/// I + JᵀR⁻¹J factored, and its product with the gradient's negative.
pub(crate) fn step(
    scene: &Scene<'_>,
    l: &Local,
    used: &[usize],
    var: &Seen,
) -> Option<(Cholesky, Vec<f64>)> {
    let mut a = vec![0.0; HIDDEN * HIDDEN];
    let mut g: Vec<f64> = l.z.iter().map(|v| -v).collect();
    for i in 0..HIDDEN {
        a[i * HIDDEN + i] = 1.0;
    }
    for &k in used {
        let row = &l.slope[k];
        let miss = scene.read[k]? - l.run.seen[k];
        for i in 0..HIDDEN {
            g[i] += row[i] * miss / var[k];
            for j in 0..HIDDEN {
                a[i * HIDDEN + j] += row[i] * row[j] / var[k];
            }
        }
    }
    let c = Cholesky::of(&a, HIDDEN)?;
    let d = c.solve(&g);
    Some((c, d))
}

/// ln of the evidence of a normal model linear around `l`.
pub fn linear_evidence(scene: &Scene<'_>, l: &Local, used: &[usize], var: &Seen) -> Option<f64> {
    let (c, d) = step(scene, l, used, var)?;
    // At the linear model's own peak.
    let z: Hidden = std::array::from_fn(|i| l.z[i] + d[i]);
    let mut seen = l.run.seen;
    for &k in used {
        seen[k] += l.slope[k].iter().zip(&d).map(|(a, b)| a * b).sum::<f64>();
    }
    let norm: f64 = used.iter().map(|k| 0.5 * ln(var[*k])).sum();
    Some(-energy(scene, &z, &seen, used, var) - 0.5 * c.ln_det() - norm)
}

/// The peak without climbing: the normal distribution linear around a solved point.
pub fn linear_peak(scene: &Scene<'_>, l: &Local, used: &[usize], var: &Seen) -> Option<Peak> {
    let ln_evidence = linear_evidence(scene, l, used, var)?;
    let (precision, _) = step(scene, l, used, var)?;
    Some(Peak { local: l.clone(), precision, ln_evidence })
}

/// Climbs from a solved point to the most probable one.
pub fn climb(
    scene: &Scene<'_>,
    h: &Hypothesis,
    start: &Local,
    used: &[usize],
    var: &Seen,
) -> Option<Peak> {
    let mut l = start.clone();
    let mut e = energy(scene, &l.z, &l.run.seen, used, var);
    for _ in 0..12 {
        let (_, d) = step(scene, &l, used, var)?;
        let longest = d.iter().fold(1.0, |a: f64, v| a.max(v.abs() / 1.5));
        let mut part = 1.0 / longest;
        let mut better = None;
        for _ in 0..5 {
            let z: Hidden = std::array::from_fn(|i| l.z[i] + part * d[i]);
            let guess = guess(&l, &z);
            if let Ok(run) = scene.run(h, &z, Some(&guess)) {
                let now = energy(scene, &z, &run.seen, used, var);
                if now < e + 1e-9 {
                    better = Some((z, run, now));
                    break;
                }
            }
            part *= 0.4;
        }
        let Some((z, run, now)) = better else { break };
        let gain = e - now;
        e = now;
        l = local(scene, h, &z, run).ok()?;
        if gain < 0.02 {
            break;
        }
    }
    let (c, _) = step(scene, &l, used, var)?;
    let norm: f64 = used.iter().map(|k| 0.5 * ln(var[*k])).sum();
    let ln_evidence = -e - 0.5 * c.ln_det() - norm;
    Some(Peak { local: l, precision: c, ln_evidence })
}

/// Where the unknowns will be at `z`, to first order.
pub fn guess(l: &Local, z: &Hidden) -> Run {
    let mut run = l.run;
    for (i, (to, from)) in z.iter().zip(&l.z).enumerate() {
        let d = to - from;
        for k in 0..N {
            run.sound.x[k] += l.moves[0][i][k] * d;
            run.faulty.x[k] += l.moves[1][i][k] * d;
        }
    }
    run
}
