//! Finds the steady cycle: damped Newton, and where that fails a path from an easier machine.

use std::fmt;

use fluids::FluidError;
use units::math::ln;

use crate::card::Card;
use crate::cycle::{Cycle, N, Unknowns, evaluate};
use crate::fault::Fault;
use crate::matrix::solve_square;
use crate::plant::{Conditions, Plant, Scatter};
use crate::props::Sat;

/// Balances close to this (relative): well below the tables' own 0.01 %.
const CLOSED: f64 = 1e-7;
const STEPS: usize = 40;

/// Why there is no steady state.
#[derive(Debug, Clone, PartialEq)]
pub enum NoSolution {
    /// A state would leave the property tables.
    Fluid(FluidError),
    /// The balances do not close.
    NotClosed {
        /// The largest imbalance left.
        imbalance: f64,
    },
}

impl fmt::Display for NoSolution {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Fluid(e) => write!(f, "no steady running found: {e}"),
            Self::NotClosed { imbalance } => write!(
                f,
                "no steady running found at these conditions (imbalance {:.3} %)",
                imbalance * 100.0
            ),
        }
    }
}

impl std::error::Error for NoSolution {}

impl From<FluidError> for NoSolution {
    fn from(e: FluidError) -> Self {
        Self::Fluid(e)
    }
}

/// A steady state with the unknowns that give it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Solved {
    /// The unknowns.
    pub x: Unknowns,
    /// The cycle.
    pub cycle: Cycle,
}

fn size(r: &Unknowns) -> f64 {
    r.iter().fold(0.0, |a: f64, v| if v.is_nan() { f64::INFINITY } else { a.max(v.abs()) })
}

fn square(r: &Unknowns) -> f64 {
    let sum: f64 = r.iter().map(|v| v * v).sum();
    if sum.is_nan() { f64::INFINITY } else { sum }
}

/// Finite steps for the derivatives, and the longest step taken at once.
const DELTA: Unknowns = [1e-5, 1e-5, 1e-5, 1e-5, 1e-4];
const LONGEST: Unknowns = [0.15, 0.12, 0.3, 0.35, 4.0];

/// Rows: imbalances; columns: unknowns.
pub(crate) fn jacobian(
    plant: &Plant<'_>,
    x: &Unknowns,
    r: &Unknowns,
) -> Result<[[f64; N]; N], FluidError> {
    let mut j = [[0.0; N]; N];
    for k in 0..N {
        let mut y = *x;
        // Away from the kinks at z = 0 and 1 and at the wet outlet, towards where we stand.
        let step = if k == 3 && x[3] < 0.5 || k == 4 && x[4] < 0.0 { -DELTA[k] } else { DELTA[k] };
        y[k] += step;
        let (s, _) = evaluate(plant, &y)?;
        for i in 0..N {
            j[i][k] = (s[i] - r[i]) / step;
        }
    }
    Ok(j)
}

/// Newton from a guess.
pub(crate) fn newton(plant: &Plant<'_>, start: &Unknowns) -> Result<Solved, NoSolution> {
    let mut x = *start;
    let (mut r, mut cycle) = evaluate(plant, &x)?;
    for _ in 0..STEPS {
        if size(&r) < CLOSED {
            return Ok(Solved { x, cycle });
        }
        let j = jacobian(plant, &x, &r)?;
        let Some(d) = solve_square(&j, &[r.map(|v| -v)]).and_then(|d| d.first().copied()) else {
            break;
        };
        let longest = d.iter().zip(LONGEST).fold(1.0, |a: f64, (d, l)| a.max(d.abs() / l));
        let mut part = 1.0 / longest;
        let mut better = None;
        for _ in 0..8 {
            let mut y = x;
            for (y, d) in y.iter_mut().zip(d) {
                *y += part * d;
            }
            if let Ok((s, c)) = evaluate(plant, &y)
                && square(&s) < square(&r) * (1.0 - 0.1 * part)
            {
                better = Some((y, s, c));
                break;
            }
            part *= 0.4;
        }
        let Some((y, s, c)) = better else { break };
        (x, r, cycle) = (y, s, c);
    }
    if size(&r) < 1e-6 {
        Ok(Solved { x, cycle })
    } else {
        Err(NoSolution::NotClosed { imbalance: size(&r) })
    }
}

/// A guess from ambient and return air.
fn first_guess(
    plant: &Plant<'_>,
    split_k: f64,
    td_k: f64,
    fill: f64,
) -> Result<Unknowns, FluidError> {
    let fluid = plant.props.fluid;
    let pe = fluid.p_sat_pa(plant.t_return_k - td_k, fluids::Side::Dew)?;
    let (_, top) = fluid.saturation_range_k();
    let tc = (plant.t_ambient_k + split_k).min(top - 3.0);
    let pc = fluid.p_sat_pa(tc, fluids::Side::Bubble)?;
    let suction = Sat::at(plant.props, pe * 0.95)?;
    let m = 0.78 * plant.card.compressor.swept_m3_s * suction.rd * 0.97;
    Ok([ln(pe), ln(pc), ln(m), fill, plant.static_superheat_k + 2.0])
}

/// Solves a machine without a hint.
///
/// # Errors
/// [`NoSolution`].
pub fn solve(plant: &Plant<'_>) -> Result<Solved, NoSolution> {
    let mut last = NoSolution::NotClosed { imbalance: f64::INFINITY };
    for (split, td, fill) in [
        (13.0, 14.0, 0.5),
        (8.0, 10.0, 0.5),
        (20.0, 20.0, -0.1),
        (16.0, 14.0, 1.1),
        (30.0, 9.0, 0.2),
    ] {
        match first_guess(plant, split, td, fill)
            .map_err(NoSolution::from)
            .and_then(|x| newton(plant, &x))
        {
            Ok(s) => return Ok(s),
            Err(e) => last = e,
        }
    }
    Err(last)
}

/// A unit with a fault, with the sound unit it was worked out from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// The unit without the fault.
    pub sound: Solved,
    /// The unit with it.
    pub faulty: Solved,
}

/// Solves a unit with a fault of severity `s` at these conditions.
///
/// # Errors
/// [`NoSolution`] for the sound or the faulty unit.
pub fn solve_fault(
    card: &Card,
    at: &Conditions,
    unit: &Scatter,
    fault: Fault,
    s: f64,
) -> Result<Pair, NoSolution> {
    let plant = Plant::sound(card, at, unit)?;
    let sound = solve(&plant)?;
    let faulty = from_sound(&plant, &sound, |part, p| {
        fault.put(s * part, p, card, &sound.cycle);
    })?;
    Ok(Pair { sound, faulty })
}

/// Solves a changed machine from the sound one's solution.
///
/// # Errors
/// [`NoSolution`].
pub fn towards(goal: &Plant<'_>, sound: &Solved) -> Result<Solved, NoSolution> {
    newton(goal, &sound.x).or_else(|_| solve(goal))
}

/// From a solved machine to a changed one: at once, else in steps (`change` takes the part of the
/// way, 0 to 1).
pub(crate) fn from_sound(
    plant: &Plant<'_>,
    sound: &Solved,
    change: impl Fn(f64, &mut Plant<'_>),
) -> Result<Solved, NoSolution> {
    let at = |part: f64| {
        let mut p = plant.clone();
        change(part, &mut p);
        p
    };
    let goal = at(1.0);
    if let Ok(s) = newton(&goal, &sound.x) {
        return Ok(s);
    }
    let mut here = *sound;
    let (mut part, mut step): (f64, f64) = (0.0, 0.25);
    let mut last = NoSolution::NotClosed { imbalance: f64::INFINITY };
    while step > 0.01 {
        let next: f64 = (part + step).min(1.0);
        match newton(&at(next), &here.x) {
            Ok(s) if next >= 1.0 => return Ok(s),
            Ok(s) => {
                here = s;
                part = next;
                step *= 1.5;
            }
            Err(e) => {
                last = e;
                step *= 0.4;
            }
        }
    }
    Err(last)
}
