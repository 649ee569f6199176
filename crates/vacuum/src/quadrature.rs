//! Adaptive Gauss–Kronrod quadrature.
//!
//! The pump-down equation is separable, so its time is one integral; an ODE solver would have to
//! search for the instant at which the target is met and would bring a matrix library with it.

/// Kronrod nodes of the 15-point rule on [−1, 1], the positive ones (Piessens et al., QUADPACK,
/// 1983, table of `qk15`).
const NODES: [f64; 8] = [
    0.991_455_371_120_812_6,
    0.949_107_912_342_758_5,
    0.864_864_423_359_769_1,
    0.741_531_185_599_394_4,
    0.586_087_235_467_691_1,
    0.405_845_151_377_397_2,
    0.207_784_955_007_898_47,
    0.0,
];
const KRONROD: [f64; 8] = [
    0.022_935_322_010_529_224,
    0.063_092_092_629_978_55,
    0.104_790_010_322_250_18,
    0.140_653_259_715_525_92,
    0.169_004_726_639_267_9,
    0.190_350_578_064_785_4,
    0.204_432_940_075_298_9,
    0.209_482_141_084_727_82,
];
/// Weights of the embedded 7-point Gauss rule, at every second node.
const GAUSS: [f64; 4] = [
    0.129_484_966_168_869_7,
    0.279_705_391_489_276_64,
    0.381_830_050_505_118_9,
    0.417_959_183_673_469_4,
];

/// Integral of `f` from `a` to `b` to a relative tolerance. Halves intervals at most 40 deep.
pub(crate) fn integral(f: &dyn Fn(f64) -> f64, a: f64, b: f64, tolerance: f64) -> f64 {
    let whole = rule(f, a, b);
    halves(f, a, b, whole, tolerance * whole.0.abs(), 40)
}

fn halves(
    f: &dyn Fn(f64) -> f64,
    a: f64,
    b: f64,
    (value, error): (f64, f64),
    allowed: f64,
    depth: u8,
) -> f64 {
    if error <= allowed || depth == 0 {
        return value;
    }
    let m = 0.5 * (a + b);
    let (left, right) = (rule(f, a, m), rule(f, m, b));
    halves(f, a, m, left, 0.5 * allowed, depth - 1)
        + halves(f, m, b, right, 0.5 * allowed, depth - 1)
}

/// Kronrod's value and its difference from Gauss's.
fn rule(f: &dyn Fn(f64) -> f64, a: f64, b: f64) -> (f64, f64) {
    let (mid, half) = (0.5 * (a + b), 0.5 * (b - a));
    let (mut kronrod, mut gauss) = (0.0, 0.0);
    for (i, (x, w)) in NODES.iter().zip(KRONROD).enumerate() {
        let sum = if *x == 0.0 { f(mid) } else { f(mid - half * x) + f(mid + half * x) };
        kronrod += w * sum;
        if i % 2 == 1 {
            gauss += GAUSS.get(i / 2).unwrap_or(&0.0) * sum;
        }
    }
    (half * kronrod, (half * (kronrod - gauss)).abs())
}

#[cfg(test)]
mod tests {
    use super::*;
    use units::math::{exp, sqrt};

    /// Closed forms: ∫eˣ, ∫√x (a root at the end), ∫1/x.
    #[test]
    fn closed_forms() {
        let e = integral(&exp, 0.0, 1.0, 1e-12);
        assert!((e - (std::f64::consts::E - 1.0)).abs() < 1e-13, "{e}");
        let r = integral(&sqrt, 0.0, 1.0, 1e-10);
        assert!((r - 2.0 / 3.0).abs() < 1e-9, "{r}");
        let l = integral(&|x| 1.0 / x, 1.0, 1e4, 1e-12);
        assert!((l - 4.0 * std::f64::consts::LN_10).abs() < 1e-9, "{l}");
    }
}
