//! The little linear algebra that is needed: small dense systems.

use units::math::{ln, sqrt};

/// Solves `a·x = b` for several right-hand sides by elimination with row exchange; `None` when
/// singular.
pub fn solve_square<const N: usize>(a: &[[f64; N]; N], b: &[[f64; N]]) -> Option<Vec<[f64; N]>> {
    let mut a = *a;
    let mut b = b.to_vec();
    for k in 0..N {
        let best = (k..N).max_by(|i, j| a[*i][k].abs().total_cmp(&a[*j][k].abs()))?;
        let pivot = a[best][k].abs();
        if pivot.is_nan() || pivot < 1e-14 {
            return None;
        }
        a.swap(k, best);
        for v in &mut b {
            v.swap(k, best);
        }
        for i in k + 1..N {
            let f = a[i][k] / a[k][k];
            let row = a[k];
            for (to, from) in a[i].iter_mut().zip(row).skip(k) {
                *to -= f * from;
            }
            for v in &mut b {
                v[i] -= f * v[k];
            }
        }
    }
    for v in &mut b {
        for k in (0..N).rev() {
            let below: f64 = (k + 1..N).map(|j| a[k][j] * v[j]).sum();
            v[k] = (v[k] - below) / a[k][k];
        }
    }
    Some(b)
}

/// A symmetric positive matrix by its lower Cholesky factor.
#[derive(Debug, Clone)]
pub struct Cholesky {
    n: usize,
    l: Vec<f64>,
}

impl Cholesky {
    /// Factors a row-major `n`×`n` matrix; `None` when it is not positive.
    pub fn of(a: &[f64], n: usize) -> Option<Self> {
        let mut l = vec![0.0; n * n];
        for i in 0..n {
            for j in 0..=i {
                let mut sum = *a.get(i * n + j)?;
                for k in 0..j {
                    sum -= l[i * n + k] * l[j * n + k];
                }
                if i == j {
                    if sum.is_nan() || sum <= 0.0 {
                        return None;
                    }
                    l[i * n + i] = sqrt(sum);
                } else {
                    l[i * n + j] = sum / l[j * n + j];
                }
            }
        }
        Some(Self { n, l })
    }

    /// An entry of the lower factor; 0 beyond.
    pub fn entry(&self, i: usize, j: usize) -> f64 {
        if i < self.n && j <= i { self.l[i * self.n + j] } else { 0.0 }
    }

    /// ln of the determinant.
    pub fn ln_det(&self) -> f64 {
        (0..self.n).map(|i| 2.0 * ln(self.l[i * self.n + i])).sum()
    }

    /// L⁻¹·v.
    pub fn forward(&self, v: &[f64]) -> Vec<f64> {
        let mut out = v.to_vec();
        for i in 0..self.n {
            let below: f64 = (0..i).map(|k| self.l[i * self.n + k] * out[k]).sum();
            out[i] = (out[i] - below) / self.l[i * self.n + i];
        }
        out
    }

    /// L⁻ᵀ·v.
    pub fn backward(&self, v: &[f64]) -> Vec<f64> {
        let mut out = v.to_vec();
        for i in (0..self.n).rev() {
            let above: f64 = (i + 1..self.n).map(|k| self.l[k * self.n + i] * out[k]).sum();
            out[i] = (out[i] - above) / self.l[i * self.n + i];
        }
        out
    }

    /// A⁻¹·v.
    pub fn solve(&self, v: &[f64]) -> Vec<f64> {
        self.backward(&self.forward(v))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 2x + y = 5, x + 3y = 10: x = 1, y = 3.
    #[test]
    fn two_equations() {
        let a = [[2.0, 1.0], [1.0, 3.0]];
        let x = solve_square(&a, &[[5.0, 10.0]]).unwrap();
        assert!((x[0][0] - 1.0).abs() < 1e-12 && (x[0][1] - 3.0).abs() < 1e-12);
        let c = Cholesky::of(&[2.0, 1.0, 1.0, 3.0], 2).unwrap();
        let y = c.solve(&[5.0, 10.0]);
        assert!((y[0] - 1.0).abs() < 1e-12 && (y[1] - 3.0).abs() < 1e-12);
        assert!((c.ln_det() - ln(5.0)).abs() < 1e-12);
        assert!(Cholesky::of(&[1.0, 2.0, 2.0, 1.0], 2).is_none());
    }
}
