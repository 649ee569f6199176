//! The evidence for each form: likelihood integrated over everything that is not known.
//!
//! Level and disturbances are integrated in closed form; the steady rise and the size of the
//! curved part by nodes spread where the likelihood is; the noise and the time constants over
//! ladders. Priors are listed in docs/vacuum.md.

// Sums over fixed-size matrices read best with their indices.
#![allow(clippy::needless_range_loop)]

use units::math::{exp, ln};

use crate::cholesky::Cholesky;
use crate::columns::{CURVE, Form, Gram, INNER, RISE, TAU_MIN, ZERO_MIN};
use crate::hold::normal;
use crate::judge::Setup;
use crate::noise::Points;
use crate::priors::{
    Bell, MOST_RISE, TIGHT_UM_MIN, USUAL_LOG, USUAL_ROOT, leak_bell, tight_density,
};
use crate::sums::{LnSum, Steps};

/// Moisture below this rise is not called wet, µm.
const LEAST_MOISTURE: f64 = 20.0;
/// Largest moisture rise without a coldest temperature: water at 45 °C (a box in the sun), µm.
const MOST_MOISTURE: f64 = 71_950.0;
/// Relative standard deviation of p_sat for the coldest temperature given: about 0.7 K.
const SAT_SD: f64 = 0.05;
/// Standard deviation of the coldest surface's drift, K/h.
const DRIFT_K_H: f64 = 1.3;
/// d ln p_sat/dT, 1/K, at 0 to 20 °C.
const SAT_SLOPE: f64 = 0.07;
/// The same for sorbed moisture, which may or may not follow so steeply, 1/K (estimate).
const SORBED_SLOPE: f64 = 0.04;
/// ln of how much worse than the best a form may be in the coarse look and still be weighed.
const HOPELESS: f64 = 25.0;
/// ln of the range of starting pressures.
const LN_STARTS: f64 = 6.9;

/// What a hold can be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Class {
    Dry,
    Wet,
    Leaking,
    Both,
}

impl Class {
    pub const ALL: [Self; 4] = [Self::Dry, Self::Wet, Self::Leaking, Self::Both];

    pub fn index(self) -> usize {
        match self {
            Self::Dry => 0,
            Self::Wet => 1,
            Self::Leaking => 2,
            Self::Both => 3,
        }
    }
}

/// Where moisture comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Source {
    /// No moisture in this form.
    None,
    /// Held by surfaces or oil: its plateau lies below p_sat(coldest).
    Bound,
    /// Liquid or ice: its plateau is p_sat(coldest), and moves with that temperature.
    Free,
}

/// Prior weights of the classes: dry, wet, leaking, both.
pub(crate) const PRIOR: [f64; 4] = [0.40, 0.27, 0.26, 0.07];

/// A form with its noise: a Gaussian in (steady rise, size of the curved part).
#[derive(Debug, Clone, Copy)]
pub(crate) struct Slice {
    pub form: Form,
    pub source: Source,
    pub noise: f64,
    /// ln of the prior weight, of constants and of the closed-form integral.
    c: f64,
    s: [[f64; 2]; 2],
    g: [f64; 2],
    /// Level given (rise, size): constant, slopes; and its variance.
    pub level: [f64; 3],
    pub level_var: f64,
}

/// A slice under a class, with its evidence.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Part {
    pub class: Class,
    pub slice: Slice,
    pub ln_z: f64,
}

/// One node of the integral.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Node {
    pub rise: f64,
    pub size: f64,
    pub ln_w: f64,
}

/// What all slices of a hold share.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Scene {
    /// First and last level, µm, and largest.
    pub first: f64,
    pub last: f64,
    pub top: f64,
    pub bottom: f64,
    /// Last time, min.
    pub end: f64,
    /// p_sat(coldest), µm.
    pub p_sat: Option<f64>,
    /// Subtracted from readings for the sums' sake, µm.
    pub zero: f64,
}

impl Scene {
    pub fn new(points: &Points, setup: &Setup) -> Self {
        let of = |p: Option<&crate::noise::Point>| p.map_or(1.0, |p| p.level);
        let (first, last) = (of(points.points.first()), of(points.points.last()));
        let levels = || points.points.iter().map(|p| p.level);
        Self {
            first: first.max(5.0),
            last,
            top: levels().fold(first, f64::max),
            bottom: levels().fold(first, f64::min),
            end: points.points.last().map_or(1.0, |p| p.t).max(1.0),
            p_sat: setup.p_sat_pa().map(|p| p / crate::PA_PER_UM),
            zero: first,
        }
    }

    /// Prior precision of the inner columns; the level's is 0 unless free water fixes it.
    pub fn ridge(&self, source: Source) -> [f64; INNER] {
        let precise = |sd: f64| 1.0 / (sd * sd);
        let range = self.top - self.bottom;
        let gas = 0.0034 * DRIFT_K_H / 60.0;
        let drift = match source {
            Source::Free => self.p_sat.unwrap_or(self.last) * SAT_SLOPE * DRIFT_K_H / 60.0,
            Source::Bound => SORBED_SLOPE * self.last * DRIFT_K_H / 60.0,
            Source::None => 1.0,
        };
        let level = match (source, self.p_sat) {
            (Source::Free, Some(p)) => precise(SAT_SD * p),
            _ => 0.0,
        };
        // Free water cools as it evaporates and warms again slowly; sorbed water hardly does.
        let tail = if source == Source::Free { 0.1 } else { 0.03 };
        [
            level,
            precise(gas),
            precise(0.3 * self.first),
            precise(2.0 + 0.004 * range),
            precise(drift),
            precise(tail * range + 1.0),
        ]
    }

    /// A flat level above what pumps leave behind speaks against a dry circuit.
    fn start_doubt(&self, form: Form) -> f64 {
        let doubt =
            if self.first <= 1500.0 { 1.0 } else { (1500.0 / self.first) * (1500.0 / self.first) };
        match form {
            Form::Saturating { tau } => {
                let seen = exp(-1.0 / tau);
                seen * doubt + 1.0 - seen
            }
            _ => doubt,
        }
    }
}

impl Slice {
    /// Integrates level and disturbances.
    pub fn new(
        scene: &Scene,
        gram: &Gram,
        form: Form,
        source: Source,
        noise: f64,
        ln_prior: f64,
    ) -> Option<Self> {
        let ridge = scene.ridge(source);
        let mut a = [[0.0; INNER]; INNER];
        let mut b = [0.0; INNER];
        for i in 0..INNER {
            for j in 0..INNER {
                a[i][j] = gram.a[i][j];
            }
            a[i][i] += ridge[i];
            b[i] = gram.b[i];
        }
        // Free water: the level is p_sat give or take.
        let mean = scene.p_sat.unwrap_or(scene.zero) - scene.zero;
        b[0] += ridge[0] * mean;
        let l = Cholesky::new(&a)?;
        let mut cross = [[0.0; INNER]; 2];
        for i in 0..INNER {
            cross[0][i] = gram.a[i][RISE];
            cross[1][i] = gram.a[i][CURVE];
        }
        let (x, u) = (l.solve(&b), [l.solve(&cross[0]), l.solve(&cross[1])]);
        let dot =
            |p: &[f64; INNER], q: &[f64; INNER]| p.iter().zip(q).map(|(a, b)| a * b).sum::<f64>();
        let outer = [
            [gram.a[RISE][RISE], gram.a[RISE][CURVE]],
            [gram.a[CURVE][RISE], gram.a[CURVE][CURVE]],
        ];
        let mut s = [[0.0; 2]; 2];
        for i in 0..2 {
            for j in 0..2 {
                s[i][j] = outer[i][j] - dot(&cross[i], &u[j]);
            }
        }
        let g = [gram.b[RISE] - dot(&cross[0], &x), gram.b[CURVE] - dot(&cross[1], &x)];
        let proper = 0.5 * ridge.iter().skip(1).map(|r| ln(*r)).sum::<f64>();
        let level = if ridge[0] > 0.0 {
            0.5 * ln(ridge[0]) - 0.5 * ridge[0] * mean * mean
        } else {
            // Starting pressures spread evenly over their logarithm.
            0.918_938_533 - ln(LN_STARTS * scene.first) + ln(scene.start_doubt(form))
        };
        let c = gram.half_ln_w - 0.5 * gram.yy + 0.5 * dot(&b, &x) - 0.5 * l.ln_det()
            + proper
            + level
            + ln_prior;
        let mut e0 = [0.0; INNER];
        e0[0] = 1.0;
        let first = l.solve(&e0);
        let level = [x[0] + scene.zero, -dot(&first, &cross[0]), -dot(&first, &cross[1])];
        Some(Self { form, source, noise, c, s, g, level, level_var: first[0] })
    }

    fn ln_at(&self, r: f64, a: f64) -> f64 {
        self.c + self.g[0] * r + self.g[1] * a
            - 0.5 * (self.s[0][0] * r * r + 2.0 * self.s[0][1] * r * a + self.s[1][1] * a * a)
    }

    /// Mean and standard deviation of the size given a rise.
    fn size_given(&self, r: f64) -> (f64, f64) {
        let s = self.s[1][1].max(1e-300);
        ((self.g[1] - self.s[0][1] * r) / s, 1.0 / units::math::sqrt(s))
    }

    /// Mean and standard deviation of the rise, whatever the size.
    fn rise_overall(&self) -> (f64, f64) {
        if matches!(self.form, Form::Straight) {
            let s = self.s[0][0].max(1e-300);
            return (self.g[0] / s, 1.0 / units::math::sqrt(s));
        }
        let s = (self.s[0][0] - self.s[0][1] * self.s[0][1] / self.s[1][1].max(1e-300))
            .max(1e-12 * self.s[0][0])
            .max(1e-300);
        let g = self.g[0] - self.s[0][1] * self.g[1] / self.s[1][1].max(1e-300);
        (g / s, 1.0 / units::math::sqrt(s))
    }

    /// Probability that the rise is below a limit, µm/min, when every rise from 0 on is taken to be
    /// as likely as any other.
    pub fn slower_than(&self, limit: f64) -> f64 {
        let (mean, sd) = self.rise_overall();
        let below = |x: f64| normal((x - mean) / sd);
        let rising = 1.0 - below(0.0);
        if rising < 1e-6 { 1.0 } else { (below(limit) - below(0.0)) / rising }
    }

    /// Walks the nodes of the integral under tight (true) or leaking (false).
    pub fn nodes(&self, scene: &Scene, tight: bool, care: Care, sink: &mut dyn FnMut(Node)) {
        let sizes = if care == Care::Light { 9 } else { 14 };
        if tight && care == Care::Answer {
            let n = 12;
            for i in 0..n {
                let r = TIGHT_UM_MIN * (f64::from(i) + 0.5) / f64::from(n);
                let share = tight_density(r) * TIGHT_UM_MIN / f64::from(n);
                self.sizes(scene, r, ln(share), sizes, sink);
            }
            return;
        }
        if tight {
            // Gauss and Jacobi with three points for the weight 3·(1 − x)² on 0 to 1.
            for (x, w) in [
                (0.072_994_024, 0.471_409_083),
                (0.347_003_766, 0.438_738_808),
                (0.705_002_210, 0.089_852_109),
            ] {
                self.sizes(scene, x * TIGHT_UM_MIN, ln(w), sizes, sink);
            }
            return;
        }
        let (mean, sd) = self.rise_overall();
        let rises = if care == Care::Light { 12 } else { 20 };
        let reach = (mean - 4.5 * sd, mean + 4.5 * sd);
        if let Some(steps) = Steps::new(reach, (TIGHT_UM_MIN, MOST_RISE), rises) {
            let bell = leak_bell();
            steps.walk(|r| self.sizes(scene, r, steps.ln_share + bell.ln(r), sizes, sink));
        }
    }

    fn sizes(&self, scene: &Scene, r: f64, ln_w: f64, n: usize, sink: &mut dyn FnMut(Node)) {
        let (mean, sd) = self.size_given(r);
        let (from, to) = (mean - 4.5 * sd, mean + 4.5 * sd);
        let mut put = |size: f64, ln_share: f64| {
            sink(Node { rise: r, size, ln_w: self.ln_at(r, size) + ln_w + ln_share });
        };
        // Beside a leak only a little outgassing is weighed: much of it is moisture's to explain.
        let (limits, usual) = match (self.form, self.source, scene.p_sat) {
            (Form::Straight, ..) => return put(0.0, 0.0),
            (Form::Logarithm { .. }, ..) if r > TIGHT_UM_MIN => ((2.0, 100.0), Some(USUAL_LOG)),
            (Form::Logarithm { .. }, ..) => ((2.0, 1000.0), Some(USUAL_LOG)),
            (Form::Root, ..) if r > TIGHT_UM_MIN => ((1.0, 30.0), Some(USUAL_ROOT)),
            (Form::Root, ..) => ((1.0, 400.0), Some(USUAL_ROOT)),
            (Form::Saturating { .. }, Source::Free, Some(p)) => {
                // The start p_sat − size spreads evenly over its logarithm.
                if let Some(steps) = Steps::new((p - to, p - from), (5.0, p - 1.0), n) {
                    steps.walk(|start| put(p - start, steps.ln_share));
                }
                return;
            }
            (Form::Saturating { .. }, _, p_sat) => {
                let most = |p: f64| (1.3 * p).max(2.0 * LEAST_MOISTURE);
                ((LEAST_MOISTURE, p_sat.map_or(MOST_MOISTURE, most)), None)
            }
        };
        if let Some(steps) = Steps::new((from, to), limits, n) {
            let bell = usual.map(|u| Bell::new(u, limits));
            let likelier = |size: f64| bell.map_or(0.0, |b| b.ln(size));
            steps.walk(|size| put(size, steps.ln_share + likelier(size)));
        }
    }
}

/// How thoroughly to weigh.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Care {
    /// For the evidence.
    Full,
    /// For an interval that is shown.
    Answer,
    /// For looking ahead.
    Light,
}

/// Weighs every form under every class.
pub(crate) fn weigh(points: &Points, scene: &Scene, care: Care) -> Vec<Part> {
    let one = points.noise_levels(1);
    if care == Care::Light {
        let mut parts = Vec::new();
        for (form, share) in Form::ladder(8, 3) {
            weigh_form(points, scene, (form, share), &one, Care::Light, &[true; 4], &mut parts);
        }
        return parts;
    }
    // A coarse look for where the time constants lie, then ladders there.
    let mut coarse = Vec::new();
    for (form, share) in Form::ladder(24, 6) {
        weigh_form(points, scene, (form, share), &one, Care::Light, &[true; 4], &mut coarse);
    }
    let tau = |f: Form| if let Form::Saturating { tau } = f { Some(tau) } else { None };
    let zero = |f: Form| if let Form::Logarithm { t0 } = f { Some(t0) } else { None };
    let mut taus = likely(&coarse, TAU_MIN, 24, &tau);
    let mut closer = Vec::new();
    for (form, share) in Form::saturatings(taus, 12) {
        weigh_form(points, scene, (form, share), &one, Care::Light, &[true; 4], &mut closer);
    }
    taus = likely(&closer, taus, 12, &tau);
    let mut forms = vec![(Form::Straight, 1.0), (Form::Root, 1.0)];
    forms.extend(Form::saturatings(taus, 16));
    forms.extend(Form::logarithms(likely(&coarse, ZERO_MIN, 6, &zero), 5));
    coarse.extend(closer);
    let top = coarse.iter().map(|p| p.ln_z).fold(f64::NEG_INFINITY, f64::max);
    let levels = points.noise_levels(3);
    let mut parts = Vec::new();
    for (form, share) in forms {
        let kind = std::mem::discriminant(&form);
        let hopeful = |c: Class| {
            coarse.iter().any(|p| {
                p.class == c
                    && std::mem::discriminant(&p.slice.form) == kind
                    && p.ln_z > top - HOPELESS
            })
        };
        let classes = Class::ALL.map(hopeful);
        weigh_form(points, scene, (form, share), &levels, Care::Full, &classes, &mut parts);
    }
    parts
}

/// The limits between which a form's constant is likely: all that no other beats by e¹⁰, and one
/// step of the coarse ladder either way.
fn likely(
    coarse: &[Part],
    all: (f64, f64),
    steps: usize,
    constant: &dyn Fn(Form) -> Option<f64>,
) -> (f64, f64) {
    let mut range = (f64::INFINITY, 0.0_f64);
    for class in Class::ALL {
        let of = || {
            coarse
                .iter()
                .filter(|p| p.class == class)
                .filter_map(|p| Some((constant(p.slice.form)?, p.ln_z)))
        };
        let top = of().map(|c| c.1).fold(f64::NEG_INFINITY, f64::max);
        for (c, _) in of().filter(|c| c.1 > top - 10.0) {
            range = (range.0.min(c), range.1.max(c));
        }
    }
    if range.0 > range.1 {
        return all;
    }
    let step = exp(ln(all.1 / all.0) / steps as f64);
    ((range.0 / step).max(all.0), (range.1 * step).min(all.1))
}

fn weigh_form(
    points: &Points,
    scene: &Scene,
    (form, share): (Form, f64),
    levels: &[(f64, f64)],
    care: Care,
    hopeful: &[bool; 4],
    parts: &mut Vec<Part>,
) {
    let classes = || classes(form).into_iter().filter(|c| hopeful[c.0.index()]);
    if classes().next().is_none() {
        return;
    }
    let rows = form.rows(points, scene.end);
    for (noise, ln_noise) in levels {
        let gram = Gram::new(points, &rows, *noise, scene.zero);
        for (source, part) in sources(form, scene) {
            let ln_prior = ln_noise + ln(part * share);
            let slice = Slice::new(scene, &gram, form, source, *noise, ln_prior);
            let Some(slice) = slice else { continue };
            for (class, weight) in classes() {
                let tight = matches!(class, Class::Dry | Class::Wet);
                let mut sum = LnSum::default();
                slice.nodes(scene, tight, care, &mut |n| sum.add(n.ln_w));
                parts.push(Part { class, slice, ln_z: sum.value() + ln(weight) });
            }
        }
    }
}

/// Sources of a form's curve with their prior shares.
fn sources(form: Form, scene: &Scene) -> Vec<(Source, f64)> {
    match form {
        Form::Saturating { .. } => {
            let free = if scene.p_sat.is_some() { 0.5 } else { 0.3 };
            vec![(Source::Bound, 1.0 - free), (Source::Free, free)]
        }
        _ => vec![(Source::None, 1.0)],
    }
}

/// Classes to which a form can belong, with the prior weight of the form in the class.
fn classes(form: Form) -> [(Class, f64); 2] {
    let prior = |c: Class, share: f64| (c, PRIOR[c.index()] * share);
    match form {
        Form::Straight => [prior(Class::Dry, 0.65), prior(Class::Leaking, 0.8)],
        Form::Logarithm { .. } => [prior(Class::Dry, 0.2), prior(Class::Leaking, 0.1)],
        Form::Root => [prior(Class::Dry, 0.15), prior(Class::Leaking, 0.1)],
        Form::Saturating { .. } => [prior(Class::Wet, 1.0), prior(Class::Both, 1.0)],
    }
}
