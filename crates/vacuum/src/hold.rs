//! A hold as it goes on, and the curves that a page can draw.

// Sums over fixed-size matrices read best with their indices.
#![allow(clippy::needless_range_loop)]

use units::math::{exp, sqrt};

use crate::cholesky::Cholesky;
use crate::columns::{CURVE, Form, Gram, INNER, RISE, WIDE};
use crate::judge::{Judgement, Reading, Setup, judge};
use crate::noise::Points;
use crate::weigh::{Care, Class, Part, Scene, Source};

/// Readings taken one at a time.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Hold {
    /// What is known beside the readings.
    pub setup: Setup,
    readings: Vec<Reading>,
}

impl Hold {
    /// An empty hold.
    #[must_use]
    pub fn new(setup: Setup) -> Self {
        Self { setup, readings: Vec::new() }
    }

    /// Takes one more reading, in any order.
    pub fn push(&mut self, reading: Reading) {
        self.readings.push(reading);
    }

    /// All readings taken.
    #[must_use]
    pub fn readings(&self) -> &[Reading] {
        &self.readings
    }

    /// What they say now; the same as judging them all at once.
    #[must_use]
    pub fn judgement(&self) -> Judgement {
        judge(&self.readings, &self.setup)
    }
}

/// What a curve stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FitForm {
    /// Level, no steady rise of 0.5 µm/min.
    Flat,
    /// Oil or surfaces giving off gas, no steady rise.
    Outgassing,
    /// Moisture that levels off, no steady rise.
    Moisture,
    /// A steady rise.
    Leak,
    /// A steady rise and outgassing.
    LeakAndOutgassing,
    /// A steady rise and moisture.
    LeakAndMoisture,
}

impl FitForm {
    const ALL: [Self; 6] = [
        Self::Flat,
        Self::Outgassing,
        Self::Moisture,
        Self::Leak,
        Self::LeakAndOutgassing,
        Self::LeakAndMoisture,
    ];

    /// In the trade's words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Flat => "level",
            Self::Outgassing => "outgassing",
            Self::Moisture => "moisture",
            Self::Leak => "leak",
            Self::LeakAndOutgassing => "leak and outgassing",
            Self::LeakAndMoisture => "leak and moisture",
        }
    }

    pub(crate) fn class(self) -> Class {
        match self {
            Self::Flat | Self::Outgassing => Class::Dry,
            Self::Moisture => Class::Wet,
            Self::Leak | Self::LeakAndOutgassing => Class::Leaking,
            Self::LeakAndMoisture => Class::Both,
        }
    }

    fn of(p: &Part) -> Self {
        match (p.class, p.slice.form) {
            (Class::Dry, Form::Straight) => Self::Flat,
            (Class::Dry, _) => Self::Outgassing,
            (Class::Wet, _) => Self::Moisture,
            (Class::Leaking, Form::Straight) => Self::Leak,
            (Class::Leaking, _) => Self::LeakAndOutgassing,
            (Class::Both, _) => Self::LeakAndMoisture,
        }
    }
}

/// One fitted curve.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// What it stands for.
    pub form: FitForm,
    /// Its share of the probability, before the rules of the trade.
    pub probability: f64,
    /// Pressure at valve-off, Pa.
    pub p0_pa: f64,
    /// Steady rise, Pa/s.
    pub rise_pa_s: f64,
    /// Moisture rise Δp, Pa; 0 without moisture.
    pub moisture_pa: f64,
    /// Time constant of the moisture, s.
    pub tau_s: Option<f64>,
    shape: Form,
    theta: [f64; WIDE],
    covariance: [[f64; WIDE]; WIDE],
    noise: f64,
    fixed_var: f64,
    zero: f64,
    end: f64,
}

/// Where a reading will lie.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// 5 % quantile, Pa.
    pub low_pa: f64,
    /// Median, Pa.
    pub mid_pa: f64,
    /// 95 % quantile, Pa.
    pub high_pa: f64,
}

impl Fit {
    /// The curve, Pa, at a time (s) since the pump was valved off.
    #[must_use]
    pub fn at_pa(&self, t_s: f64) -> f64 {
        self.at_um(t_s / 60.0) * crate::PA_PER_UM
    }

    pub(crate) fn at_um(&self, t: f64) -> f64 {
        let row = self.row(t);
        self.zero + row.iter().zip(self.theta).map(|(x, c)| x * c).sum::<f64>()
    }

    fn row(&self, t: f64) -> [f64; WIDE] {
        let main =
            self.zero + self.theta[0] + self.theta[RISE] * t + self.theta[CURVE] * self.shape.at(t);
        self.shape.row(t, main, self.end)
    }

    /// Mean and standard deviation of a reading, µm.
    fn reading(&self, t: f64) -> (f64, f64) {
        let (row, mean) = (self.row(t), self.at_um(t));
        let mut var = 0.0;
        for i in 0..WIDE {
            for j in 0..WIDE {
                var += row[i] * self.covariance[i][j] * row[j];
            }
        }
        let own = self.noise * mean;
        (mean, sqrt(var.max(0.0) + own * own + self.fixed_var))
    }
}

impl Judgement {
    /// Where a reading at a time (s) since valve-off would lie, over all curves that matter.
    #[must_use]
    pub fn band(&self, t_s: f64) -> Option<Band> {
        let parts: Vec<(f64, f64, f64)> = self
            .fits
            .iter()
            .map(|f| {
                let (mean, sd) = f.reading(t_s / 60.0);
                (f.probability, mean, sd.max(1e-6))
            })
            .collect();
        let all: f64 = parts.iter().map(|p| p.0).sum();
        if all <= 0.0 {
            return None;
        }
        let below =
            |x: f64| parts.iter().map(|(w, m, s)| w * normal((x - m) / s)).sum::<f64>() / all;
        let from = parts.iter().map(|p| p.1 - 6.0 * p.2).fold(f64::INFINITY, f64::min);
        let to = parts.iter().map(|p| p.1 + 6.0 * p.2).fold(f64::NEG_INFINITY, f64::max);
        let quantile = |at: f64| {
            let (mut lo, mut hi) = (from, to);
            for _ in 0..50 {
                let m = 0.5 * (lo + hi);
                if below(m) < at { lo = m } else { hi = m }
            }
            (0.5 * (lo + hi)).max(0.0) * crate::PA_PER_UM
        };
        Some(Band { low_pa: quantile(0.05), mid_pa: quantile(0.5), high_pa: quantile(0.95) })
    }
}

/// The normal distribution function, to 2e-4 (Page, Applied Statistics 26 (1977) 75–76; from
/// memory, unverified; checked below against tabled values).
pub(crate) fn normal(x: f64) -> f64 {
    1.0 / (1.0 + exp(-1.5976 * x - 0.070_565_992 * x * x * x))
}

/// The best curve of each form that matters.
pub(crate) fn fits(points: &Points, scene: &Scene, parts: &[Part]) -> Vec<Fit> {
    let top = parts.iter().map(|p| p.ln_z).fold(f64::NEG_INFINITY, f64::max);
    let all: f64 = parts.iter().map(|p| exp(p.ln_z - top)).sum();
    let mut fits: Vec<Fit> = FitForm::ALL
        .iter()
        .filter_map(|form| {
            let of = || parts.iter().filter(|p| FitForm::of(p) == *form);
            let probability = of().map(|p| exp(p.ln_z - top)).sum::<f64>() / all;
            let best = of().max_by(|a, b| a.ln_z.total_cmp(&b.ln_z))?;
            if probability <= 1e-4 || probability.is_nan() {
                return None;
            }
            fit(points, scene, best, *form, probability)
        })
        .collect();
    fits.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    fits
}

fn fit(points: &Points, scene: &Scene, p: &Part, form: FitForm, probability: f64) -> Option<Fit> {
    let s = &p.slice;
    let (mut w, mut rise, mut size) = (0.0, 0.0, 0.0);
    let tight = matches!(p.class, Class::Dry | Class::Wet);
    let mut top = f64::NEG_INFINITY;
    s.nodes(scene, tight, Care::Full, &mut |n| top = top.max(n.ln_w));
    let (mut rise2, mut size2) = (0.0, 0.0);
    s.nodes(scene, tight, Care::Full, &mut |n| {
        let weight = exp(n.ln_w - top);
        w += weight;
        rise += weight * n.rise;
        size += weight * n.size;
        rise2 += weight * n.rise * n.rise;
        size2 += weight * n.size * n.size;
    });
    if w <= 0.0 || w.is_nan() {
        return None;
    }
    let (rise, size) = (rise / w, size / w);
    let spread = [rise2 / w - rise * rise, size2 / w - size * size].map(|v| v.max(1e-9));
    let rows = s.form.rows(points, scene.end);
    let gram = Gram::new(points, &rows, s.noise, scene.zero);
    let (theta, covariance) = coefficients(scene, &gram, s.source, rise, size, spread)?;
    let at = |t: f64| scene.zero + theta[0] + size * s.form.at(t) + rise * t;
    let saturating = matches!(s.form, Form::Saturating { .. });
    Some(Fit {
        form,
        probability,
        p0_pa: at(0.0) * crate::PA_PER_UM,
        rise_pa_s: rise * crate::PA_PER_UM / 60.0,
        moisture_pa: if saturating { size * crate::PA_PER_UM } else { 0.0 },
        tau_s: if let Form::Saturating { tau } = s.form { Some(tau * 60.0) } else { None },
        shape: s.form,
        theta,
        covariance,
        noise: s.noise,
        fixed_var: points.resolution_um * points.resolution_um / 12.0,
        zero: scene.zero,
        end: scene.end,
    })
}

/// All coefficients given the outer two, with their covariance.
fn coefficients(
    scene: &Scene,
    gram: &Gram,
    source: Source,
    rise: f64,
    size: f64,
    spread: [f64; 2],
) -> Option<([f64; WIDE], [[f64; WIDE]; WIDE])> {
    let ridge = scene.ridge(source);
    let mut a = gram.a;
    let mut b = gram.b;
    for (i, r) in ridge.iter().enumerate() {
        a[i][i] += r;
    }
    b[0] += ridge[0] * (scene.p_sat.unwrap_or(scene.zero) - scene.zero);
    // The outer two are held where their own posterior has them.
    a[RISE][RISE] += 1.0 / spread[0];
    a[CURVE][CURVE] += 1.0 / spread[1];
    let inner = inner(&a, &b, rise, size)?;
    let full = Cholesky::new(&a)?;
    let mut covariance = [[0.0; WIDE]; WIDE];
    for (i, column) in covariance.iter_mut().enumerate() {
        let mut e = [0.0; WIDE];
        e[i] = 1.0;
        *column = full.solve(&e);
    }
    Some((inner, covariance))
}

/// The inner columns' coefficients when the outer two are given.
fn inner(a: &[[f64; WIDE]; WIDE], b: &[f64; WIDE], rise: f64, size: f64) -> Option<[f64; WIDE]> {
    let mut small = [[0.0; INNER]; INNER];
    let mut right = [0.0; INNER];
    for i in 0..INNER {
        for j in 0..INNER {
            small[i][j] = a[i][j];
        }
        right[i] = b[i] - a[i][RISE] * rise - a[i][CURVE] * size;
    }
    let x = Cholesky::new(&small)?.solve(&right);
    let mut theta = [0.0; WIDE];
    for (t, x) in theta.iter_mut().zip(x) {
        *t = x;
    }
    theta[RISE] = rise;
    theta[CURVE] = size;
    Some(theta)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Φ(1) = 0.8413, Φ(1.6449) = 0.95, Φ(−2) = 0.0228 (any table of the normal distribution).
    #[test]
    fn normal_table() {
        for (x, p) in [(0.0, 0.5), (1.0, 0.8413), (1.6449, 0.95), (-2.0, 0.0228)] {
            assert!((normal(x) - p).abs() < 3e-4, "{x}: {}", normal(x));
        }
    }
}
