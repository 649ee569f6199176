//! The forms a hold can take, as columns of a linear fit.
//!
//! Pressure in µmHg, time in minutes since the pump was valved off. Every form is a level, a
//! steady rise, at most one curved part of known shape, and small disturbances whose sizes are
//! guarded by priors.

// Sums over fixed-size matrices read best with their indices.
#![allow(clippy::needless_range_loop)]

use units::math::{exp, ln, sqrt};

use crate::noise::{Point, Points};

/// Columns: level, gas temperature, evening out, slight outgassing, drift of the coldest surface,
/// slow tail; then steady rise and curved part.
pub(crate) const WIDE: usize = 8;
/// Columns that are always integrated in closed form.
pub(crate) const INNER: usize = 6;
/// Place of the steady rise.
pub(crate) const RISE: usize = 6;
/// Place of the curved part.
pub(crate) const CURVE: usize = 7;

/// The curved part of a form.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Form {
    /// None.
    Straight,
    /// −e^(−t/τ): the level is then the plateau.
    Saturating {
        /// τ, min.
        tau: f64,
    },
    /// ln(1 + t/t0)
    Logarithm {
        /// t0, min.
        t0: f64,
    },
    /// √t
    Root,
}

impl Form {
    /// The curved part at a time, min.
    pub fn at(self, t: f64) -> f64 {
        match self {
            Self::Straight => 0.0,
            Self::Saturating { tau } => -exp(-t / tau),
            Self::Logarithm { t0 } => ln(1.0 + t / t0),
            Self::Root => sqrt(t),
        }
    }

    /// The columns of all points: each the mean over the readings that the point averages.
    pub fn rows(self, points: &Points, end: f64) -> Vec<[f64; WIDE]> {
        let mean = |p: &Point| {
            let times = points.times.get(p.at.0..p.at.1).unwrap_or(&[]);
            let mut row = [0.0; WIDE];
            for t in times {
                for (sum, x) in row.iter_mut().zip(self.row(*t, p.level, end)) {
                    *sum += x / times.len() as f64;
                }
            }
            row
        };
        points.points.iter().map(mean).collect()
    }

    /// All columns at a time; `level` is the smoothed pressure there, `end` the last time.
    pub fn row(self, t: f64, level: f64, end: f64) -> [f64; WIDE] {
        let (drift, tail) = match self {
            Self::Saturating { tau } => {
                let gone = exp(-t / tau);
                (t * (1.0 - gone), gone - exp(-t / (3.0 * tau)))
            }
            _ => (0.0, 0.0),
        };
        let (even, slight) = (exp(-t / EVEN_MIN), sqrt(t / end));
        [1.0, level * t, even, slight, drift, tail, t, self.at(t)]
    }

    /// All forms with their prior shares among those of their kind, on coarse ladders.
    pub fn ladder(taus: usize, zeros: usize) -> Vec<(Self, f64)> {
        let mut all = vec![(Self::Straight, 1.0), (Self::Root, 1.0)];
        all.extend(Self::logarithms(ZERO_MIN, zeros));
        all.extend(Self::saturatings(TAU_MIN, taus));
        all
    }

    /// ln(1 + t/t0) for t0 between limits, min; shares of an even spread over ln t0.
    pub fn logarithms(limits: (f64, f64), n: usize) -> Vec<(Self, f64)> {
        let share = ln(limits.1 / limits.0) / ln(ZERO_MIN.1 / ZERO_MIN.0) / n as f64;
        steps(limits, n).map(|t0| (Self::Logarithm { t0 }, share)).collect()
    }

    /// −e^(−t/τ) for τ between limits, min; shares of a normal spread of ln τ.
    pub fn saturatings(limits: (f64, f64), n: usize) -> Vec<(Self, f64)> {
        let width = ln(limits.1 / limits.0) / n as f64;
        let share = |tau: f64| {
            let z = ln(tau / TAU_USUAL.0) / TAU_USUAL.1;
            width / TAU_USUAL.1 * 0.398_942_28 * exp(-0.5 * z * z)
        };
        steps(limits, n).map(|tau| (Self::Saturating { tau }, share(tau))).collect()
    }
}

/// Middles of equal steps of the logarithm.
fn steps(limits: (f64, f64), n: usize) -> impl Iterator<Item = f64> {
    let step = ln(limits.1 / limits.0) / n as f64;
    (0..n).map(move |i| limits.0 * exp(step * (i as f64 + 0.5)))
}

/// Time constant with which hose and gauge even out, min.
pub(crate) const EVEN_MIN: f64 = 0.4;
/// Shortest and longest time constant of moisture, min.
pub(crate) const TAU_MIN: (f64, f64) = (0.4, 240.0);
/// Usual time constant of moisture, min, and the standard deviation of its logarithm.
const TAU_USUAL: (f64, f64) = (5.0, 0.9);
/// Shortest and longest t0 of the logarithm, min.
pub(crate) const ZERO_MIN: (f64, f64) = (0.15, 5.0);

/// Sums of a weighted linear fit.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Gram {
    /// Xᵀ·W·X
    pub a: [[f64; WIDE]; WIDE],
    /// Xᵀ·W·y
    pub b: [f64; WIDE],
    /// yᵀ·W·y
    pub yy: f64,
    /// ½ Σ ln w
    pub half_ln_w: f64,
}

/// Weight of a point, 1/µm², for a relative noise of one reading.
pub(crate) fn weight(p: &Point, noise: f64) -> f64 {
    let own = noise * p.level;
    1.0 / (own * own / p.n + p.fixed).max(1e-12)
}

impl Gram {
    /// Sums the points' rows.
    pub fn new(points: &Points, rows: &[[f64; WIDE]], noise: f64, zero: f64) -> Self {
        let mut g = Self { a: [[0.0; WIDE]; WIDE], b: [0.0; WIDE], yy: 0.0, half_ln_w: 0.0 };
        for (p, row) in points.points.iter().zip(rows) {
            let w = weight(p, noise);
            let y = p.y + p.flicker.unwrap_or(0.0) * noise * p.level - zero;
            // A flickering run tells a place in noises, which is as likely with any noise.
            g.half_ln_w += 0.5 * if p.flicker.is_some() { ln(p.n) } else { ln(w) };
            g.yy += w * y * y;
            for i in 0..WIDE {
                let wx = w * row[i];
                g.b[i] += wx * y;
                for j in 0..=i {
                    g.a[i][j] += wx * row[j];
                }
            }
        }
        for i in 0..WIDE {
            for j in 0..i {
                g.a[j][i] = g.a[i][j];
            }
        }
        g
    }
}
