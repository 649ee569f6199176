//! From weighed parts to what is said: class probabilities, the steady rise and the moisture
//! limit with their intervals, and how close the plateau is to p_sat.

use units::math::{exp, sqrt};

use crate::columns::Form;
use crate::priors::{leak_bell, leak_density, tight_density};
use crate::sums::LnSum;
use crate::weigh::{Care, Class, Node, PRIOR, Part, Scene};

/// A value with its 90 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// Median.
    pub mid: f64,
    /// 5 % and 95 % quantile.
    pub p90: [f64; 2],
}

/// Where the plateau lies against p_sat(coldest), as shares of the posterior.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct AgainstSat {
    pub near: f64,
    pub below: f64,
}

/// Shares of the four classes; even shares when nothing can be weighed.
pub(crate) fn shares(parts: &[Part]) -> [f64; 4] {
    let mut sums = [LnSum::default(); 4];
    for p in parts {
        sums[p.class.index()].add(p.ln_z);
    }
    let values = sums.map(|s| s.value());
    let top = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if !top.is_finite() {
        return [0.25; 4];
    }
    let weights = values.map(|v| if v.is_finite() { exp(v - top) } else { 0.0 });
    let sum: f64 = weights.iter().sum();
    weights.map(|w| w / sum)
}

/// One value with its weight.
#[derive(Debug, Clone, Copy)]
struct Weighed {
    value: f64,
    weight: f64,
}

/// The posterior of a hold, walked node by node.
pub(crate) struct Posterior {
    /// Rises with the priors of the classes.
    rises: Vec<Weighed>,
    /// Rises when within each kind of curve every rise from 0 on is as likely as any other.
    flat: Vec<Weighed>,
    limits: Vec<(Class, Weighed)>,
}

/// Three places of a Gaussian with the weights of Gauss and Hermite.
const PLACES: [(f64, f64); 3] =
    [(-1.732_050_8, 1.0 / 6.0), (0.0, 2.0 / 3.0), (1.732_050_8, 1.0 / 6.0)];
/// Kinds of curve between which the flat prior does not choose.
const KINDS: usize = 3;

fn kind(f: Form) -> usize {
    match f {
        Form::Straight => 0,
        Form::Logarithm { .. } | Form::Root => 1,
        Form::Saturating { .. } => 2,
    }
}

impl Posterior {
    /// Walks the parts that matter.
    pub fn new(parts: &[Part], scene: &Scene) -> Self {
        let top = parts.iter().map(|p| p.ln_z).fold(f64::NEG_INFINITY, f64::max);
        let mut out = Self { rises: Vec::new(), flat: Vec::new(), limits: Vec::new() };
        let mut flat: [Vec<Weighed>; KINDS] = Default::default();
        let mut known = [0.0; KINDS];
        let mut nodes: Vec<Node> = Vec::new();
        let bell = leak_bell();
        for p in parts {
            known[kind(p.slice.form)] += exp(p.ln_z - top);
        }
        for p in parts.iter().filter(|p| p.ln_z > top - 12.0) {
            let tight = matches!(p.class, Class::Dry | Class::Wet);
            nodes.clear();
            let mut sum = LnSum::default();
            p.slice.nodes(scene, tight, Care::Answer, &mut |n| {
                sum.add(n.ln_w);
                nodes.push(n);
            });
            let shift = p.ln_z - sum.value() - top;
            // A node's weight without its class's prior, per µm/min of rise.
            let bare = 1.0 / PRIOR[p.class.index()];
            let place = &mut flat[kind(p.slice.form)];
            for n in &nodes {
                let weight = exp(n.ln_w + shift);
                let per_rise =
                    if tight { tight_density(n.rise) } else { leak_density(&bell, n.rise) };
                if weight > 1e-5 {
                    out.put(p, *n, weight, scene);
                }
                if weight * bare / per_rise > 1e-5 {
                    place.push(Weighed { value: n.rise, weight: weight * bare / per_rise });
                }
            }
        }
        for (k, list) in flat.iter().enumerate() {
            let all: f64 = list.iter().map(|w| w.weight).sum();
            let scale = if all > 0.0 { known[k] / all } else { 0.0 };
            out.flat.extend(list.iter().map(|w| Weighed { weight: w.weight * scale, ..*w }));
        }
        for list in [&mut out.rises, &mut out.flat] {
            list.sort_unstable_by(|a, b| a.value.total_cmp(&b.value));
        }
        out.limits.sort_unstable_by(|a, b| a.1.value.total_cmp(&b.1.value));
        out
    }

    fn put(&mut self, p: &Part, n: Node, weight: f64, scene: &Scene) {
        self.rises.push(Weighed { value: n.rise, weight });
        let s = &p.slice;
        let sd = sqrt(s.level_var.max(0.0));
        let curved = match p.class {
            Class::Dry | Class::Leaking => n.size * s.form.at(scene.end),
            _ => 0.0,
        };
        let mean = s.level[0] + s.level[1] * n.rise + s.level[2] * n.size + curved;
        for (x, w) in PLACES {
            let value = (mean + x * sd).max(0.0);
            self.limits.push((p.class, Weighed { value, weight: weight * w }));
        }
    }

    /// The steady rise, µm/min; from 0 when it may well be none (`tight`: that probability). The
    /// interval takes every rise to be as likely as any other; the middle does so only when a
    /// leak is likely.
    pub fn rise(&self, tight: f64) -> Option<Estimate> {
        let q = |at: f64| quantile(self.flat.iter().copied(), at);
        let p90 = if tight > 0.2 { [0.0, q(0.9)?] } else { [q(0.05)?, q(0.95)?] };
        let mid = if tight < 0.5 { q(0.5) } else { quantile(self.rises.iter().copied(), 0.5) };
        Some(Estimate { mid: mid?.clamp(p90[0], p90[1]), p90 })
    }

    /// The moisture limit p0 + Δp of a class, µm.
    pub fn limit(&self, class: Class) -> Option<Estimate> {
        let of = || self.limits.iter().filter(|l| l.0 == class).map(|l| l.1);
        let q = |at: f64| quantile(of(), at);
        Some(Estimate { mid: q(0.5)?, p90: [q(0.05)?, q(0.95)?] })
    }

    /// Where the plateau lies against p_sat, µm.
    pub fn against(&self, p_sat: f64) -> AgainstSat {
        let mut a = AgainstSat::default();
        let mut all = 0.0;
        for (_, l) in &self.limits {
            all += l.weight;
            if l.value < 0.9 * p_sat {
                a.below += l.weight;
            } else if l.value <= 1.1 * p_sat {
                a.near += l.weight;
            }
        }
        if all > 0.0 {
            a.near /= all;
            a.below /= all;
        }
        a
    }
}

/// Quantile of sorted weighed values, between neighbours.
fn quantile(values: impl Iterator<Item = Weighed> + Clone, at: f64) -> Option<f64> {
    let all: f64 = values.clone().map(|v| v.weight).sum();
    if all <= 0.0 || all.is_nan() {
        return None;
    }
    let (mut sum, mut last): (f64, Option<(f64, f64)>) = (0.0, None);
    for v in values {
        let middle = (sum + 0.5 * v.weight) / all;
        sum += v.weight;
        if middle >= at {
            return Some(match last {
                Some((value, m)) if middle > m => {
                    value + (v.value - value) * (at - m) / (middle - m)
                }
                _ => v.value,
            });
        }
        last = Some((v.value, middle));
    }
    last.map(|l| l.0)
}
