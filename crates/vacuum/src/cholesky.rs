//! Cholesky's decomposition of small matrices of fixed size.

// Sums over fixed-size matrices read best with their indices.
#![allow(clippy::needless_range_loop)]

use units::math::{ln, sqrt};

/// Lower triangle L of A = L·Lᵀ.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Cholesky<const N: usize> {
    l: [[f64; N]; N],
}

impl<const N: usize> Cholesky<N> {
    /// None unless A is positive definite.
    pub fn new(a: &[[f64; N]; N]) -> Option<Self> {
        let mut l = [[0.0; N]; N];
        for i in 0..N {
            for j in 0..=i {
                let mut sum = a[i][j];
                for k in 0..j {
                    sum -= l[i][k] * l[j][k];
                }
                if i == j {
                    if sum <= 0.0 || sum.is_nan() {
                        return None;
                    }
                    l[i][i] = sqrt(sum);
                } else {
                    l[i][j] = sum / l[j][j];
                }
            }
        }
        Some(Self { l })
    }

    /// A⁻¹·b
    pub fn solve(&self, b: &[f64; N]) -> [f64; N] {
        let mut x = *b;
        for i in 0..N {
            for k in 0..i {
                x[i] -= self.l[i][k] * x[k];
            }
            x[i] /= self.l[i][i];
        }
        for i in (0..N).rev() {
            for k in i + 1..N {
                x[i] -= self.l[k][i] * x[k];
            }
            x[i] /= self.l[i][i];
        }
        x
    }

    /// ln det A
    pub fn ln_det(&self) -> f64 {
        let mut sum = 0.0;
        for i in 0..N {
            sum += ln(self.l[i][i]);
        }
        2.0 * sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Wikipedia, "Cholesky decomposition", example: L = [[2,0,0],[6,1,0],[-8,5,3]].
    #[test]
    fn published_example() {
        let a = [[4.0, 12.0, -16.0], [12.0, 37.0, -43.0], [-16.0, -43.0, 98.0]];
        let c = Cholesky::new(&a).unwrap();
        assert_eq!(c.l, [[2.0, 0.0, 0.0], [6.0, 1.0, 0.0], [-8.0, 5.0, 3.0]]);
        assert!((c.ln_det() - ln(36.0)).abs() < 1e-12);
        let x = c.solve(&[0.0, 6.0, 39.0]);
        assert!(x.iter().all(|v| (v - 1.0).abs() < 1e-9), "{x:?}");
        assert!(Cholesky::new(&[[1.0, 2.0], [2.0, 1.0]]).is_none());
    }
}
