//! Quantities along one variable: uniform Chebyshev pieces as stored, and pieces by the bits of a
//! positive number.

use units::math::{cos, ln};

/// Coefficients of one piece of a line.
pub const LINE_ORDER: usize = 8;

/// Coefficients of one piece, little-endian.
type Stored = [[u8; 8]; LINE_ORDER];

/// Quantities along one variable in uniform pieces.
#[derive(Debug)]
pub struct Line {
    /// Lower end of the variable.
    pub lo: f64,
    /// Upper end of the variable.
    pub hi: f64,
    /// 1 / (hi − lo).
    pub per_span: f64,
    count: usize,
    quantities: usize,
    scale: f64,
    data: &'static [Stored],
}

impl Line {
    /// A line from its ends and its pieces: all quantities of the first, of the second, …
    #[must_use]
    pub fn new(lo: f64, hi: f64, quantities: usize, data: &'static [Stored]) -> Option<Self> {
        let count = data.len().checked_div(quantities)?;
        let (scale, per_span) = (count as f64 / (hi - lo), 1.0 / (hi - lo));
        let line = Self { lo, hi, per_span, count, quantities, scale, data };
        (count > 0 && hi > lo).then_some(line)
    }

    #[inline]
    fn piece(&self, v: f64, quantity: usize) -> Option<([f64; LINE_ORDER], f64)> {
        let f = (v - self.lo) * self.scale;
        let i = (f.max(0.0) as usize).min(self.count - 1);
        let coefs = self.data.get(i * self.quantities + quantity)?;
        Some((coefs.map(f64::from_le_bytes), 2.0 * (f - i as f64) - 1.0))
    }

    /// One quantity at `v`. The caller keeps `v` between the ends; NaN for no such quantity.
    #[inline]
    #[must_use]
    pub fn at(&self, v: f64, quantity: usize) -> f64 {
        let Some((c, x)) = self.piece(v, quantity) else { return f64::NAN };
        series(&c, x)
    }

    /// Derivative of one quantity by the variable.
    #[must_use]
    pub fn slope(&self, v: f64, quantity: usize) -> f64 {
        let Some((c, x)) = self.piece(v, quantity) else { return f64::NAN };
        // T_n' = n U_{n-1}
        let (mut before, mut u, mut sum) = (0.0, 1.0, 0.0);
        for (n, &cn) in c.iter().enumerate().skip(1) {
            sum += cn * n as f64 * u;
            (before, u) = (u, 2.0 * x * u - before);
        }
        sum * 2.0 * self.scale
    }
}

/// Clenshaw's recurrence for a series of eight.
#[inline]
fn series(c: &[f64; LINE_ORDER], x: f64) -> f64 {
    let x2 = 2.0 * x;
    let b6 = c[6] + x2 * c[7];
    let b5 = c[5] + x2 * b6 - c[7];
    let b4 = c[4] + x2 * b5 - b6;
    let b3 = c[3] + x2 * b4 - b5;
    let b2 = c[2] + x2 * b3 - b4;
    let b1 = c[1] + x2 * b2 - b3;
    c[0] + x * b1 - b2
}

/// The same series in powers of x; on −1 to 1 and in f64 nothing is lost that matters.
fn powers(c: &[f64; LINE_ORDER]) -> [f64; LINE_ORDER] {
    [
        c[0] - c[2] + c[4] - c[6],
        c[1] - 3.0 * c[3] + 5.0 * c[5] - 7.0 * c[7],
        2.0 * c[2] - 8.0 * c[4] + 18.0 * c[6],
        4.0 * c[3] - 20.0 * c[5] + 56.0 * c[7],
        8.0 * c[4] - 48.0 * c[6],
        16.0 * c[5] - 112.0 * c[7],
        32.0 * c[6],
        64.0 * c[7],
    ]
}

/// What [`Quick`] needs for a piece, the same for every line: made once for all.
#[derive(Debug)]
pub struct Nodes {
    /// Values at the nodes to Chebyshev coefficients.
    fit: [[f64; LINE_ORDER]; LINE_ORDER],
    /// ln at the nodes of the eight pieces of 1 to 2.
    ln_at: [[f64; LINE_ORDER]; 1 << Quick::PER_OCTAVE_BITS],
    /// ln in powers over the same pieces.
    ln_powers: [[f64; LINE_ORDER]; 1 << Quick::PER_OCTAVE_BITS],
}

impl Default for Nodes {
    fn default() -> Self {
        let n = LINE_ORDER as f64;
        let angle = |k: usize| std::f64::consts::PI * (k as f64 + 0.5) / n;
        let at: [f64; LINE_ORDER] = std::array::from_fn(|k| cos(angle(k)));
        let mut fit = [[0.0; LINE_ORDER]; LINE_ORDER];
        for (k, &x) in at.iter().enumerate() {
            // T_j at the node by recurrence.
            let (mut t, mut next) = (1.0, x);
            for (j, row) in fit.iter_mut().enumerate() {
                row[k] = if j == 0 { 1.0 / n } else { 2.0 / n * t };
                (t, next) = (next, 2.0 * x * next - t);
            }
        }
        let mut nodes = Self { fit, ln_at: Default::default(), ln_powers: Default::default() };
        for i in 0..nodes.ln_at.len() {
            let width = 1.0 / nodes.ln_at.len() as f64;
            nodes.ln_at[i] = at.map(|x| ln(1.0 + width * (i as f64 + 0.5 + 0.5 * x)));
            nodes.ln_powers[i] = nodes.powers(&nodes.ln_at[i]);
        }
        nodes
    }
}

impl Nodes {
    /// The polynomial through eight values, in powers of the place on −1 to 1.
    fn powers(&self, values: &[f64; LINE_ORDER]) -> [f64; LINE_ORDER] {
        powers(&self.fit.map(|row| row.iter().zip(values).map(|(a, b)| a * b).sum()))
    }
}

/// A line against the pressure, and the pressure's logarithm beside it, with a piece for every
/// eighth of a power of two: the piece and the place in it stand in the bits of the number, so
/// that no logarithm is needed. Made from a slower line when a table is read.
#[derive(Debug)]
pub struct Quick {
    first: u64,
    /// Per power of the place: of the quantity, and of ln p.
    pieces: Vec<[[f64; 2]; LINE_ORDER]>,
}

impl Quick {
    /// 2 to this power: the pieces of a power of two.
    const PER_OCTAVE_BITS: u32 = 3;
    /// Bits of the place inside a piece.
    const INSIDE: u32 = 52 - Self::PER_OCTAVE_BITS;

    /// The pieces that lie wholly between `lo` and `hi` (both positive) of a quantity that `f`
    /// gives for ln p; beyond them there is no answer.
    pub fn new(nodes: &Nodes, lo: f64, hi: f64, f: impl Fn(f64) -> f64) -> Self {
        let first = (lo.to_bits() >> Self::INSIDE) + 1;
        let end = hi.to_bits() >> Self::INSIDE;
        let piece = |i: u64| {
            let octave = (i >> Self::PER_OCTAVE_BITS) as f64 - 1023.0;
            let shift = octave * std::f64::consts::LN_2;
            let eighth = (i % (1 << Self::PER_OCTAVE_BITS)) as usize;
            let quantity = nodes.powers(&nodes.ln_at[eighth].map(|ln_m| f(ln_m + shift)));
            let mut ln_p = nodes.ln_powers[eighth];
            ln_p[0] += shift;
            std::array::from_fn(|k| [quantity[k], ln_p[k]])
        };
        Self { first, pieces: (first..end).map(piece).collect() }
    }

    /// Memory of the pieces, bytes.
    #[must_use]
    pub fn made_bytes(&self) -> usize {
        size_of_val(&*self.pieces)
    }

    #[inline(always)]
    fn piece(&self, p: f64) -> Option<(&[[f64; 2]; LINE_ORDER], f64)> {
        let bits = p.to_bits();
        let i = (bits >> Self::INSIDE).wrapping_sub(self.first);
        let c = self.pieces.get(usize::try_from(i).ok()?)?;
        let inside = (bits & ((1 << Self::INSIDE) - 1)) as i64;
        Some((c, inside as f64 * (2.0 / (1u64 << Self::INSIDE) as f64) - 1.0))
    }

    /// The quantity at `p`, if a piece holds it.
    #[inline]
    #[must_use]
    pub fn at(&self, p: f64) -> Option<f64> {
        let (m, x) = self.piece(p)?;
        let x2 = x * x;
        // Estrin's scheme: the halves side by side, so that nothing waits for one long chain.
        let low = (m[0][0] + m[1][0] * x) + (m[2][0] + m[3][0] * x) * x2;
        let high = (m[4][0] + m[5][0] * x) + (m[6][0] + m[7][0] * x) * x2;
        Some(low + high * (x2 * x2))
    }

    /// The quantity (as [`Self::at`] gives it) and ln p.
    #[inline(always)]
    #[must_use]
    pub fn with_ln(&self, p: f64) -> Option<[f64; 2]> {
        let (m, x) = self.piece(p)?;
        let x2 = x * x;
        let x4 = x2 * x2;
        let mut out = [0.0; 2];
        for k in 0..2 {
            let low = (m[0][k] + m[1][k] * x) + (m[2][k] + m[3][k] * x) * x2;
            let high = (m[4][k] + m[5][k] * x) + (m[6][k] + m[7][k] * x) * x2;
            out[k] = low + high * x4;
        }
        Some(out)
    }
}
