//! Reads one property table: constants, lines and patch trees as Chebyshev pieces.
//!
//! The layout is written by `tools/fluid-tables/make_tables.py` (docs/fluids.md). Everything is
//! little-endian. A table that is cut or has another layout is refused, not guessed.

/// First bytes of every table.
const MAGIC: &[u8] = b"HFFLUID1";

/// Coefficients of one piece of a line.
pub const LINE_ORDER: usize = 8;
/// Coefficients per axis of one patch.
pub const ORDER: usize = 6;

/// The constants at the head of a table, in SI units.
#[derive(Debug, Clone, Copy)]
pub struct Constants {
    /// Specific gas constant, J/(kg·K).
    pub r: f64,
    /// Molar mass, kg/mol.
    pub molar_mass: f64,
    /// Critical temperature, K (of a blend: as the literature gives it).
    pub tc: f64,
    /// Critical pressure, Pa.
    pub pc: f64,
    /// Reference of the temperature coordinate sqrt(1 − T/t_ref), K.
    pub t_ref: f64,
    /// Reference of the pressure coordinate sqrt(ln(p_ref/p)), Pa.
    pub p_ref: f64,
    /// Coldest temperature, K.
    pub t_min: f64,
    /// Warmest temperature, K.
    pub t_max: f64,
    /// Highest pressure, Pa.
    pub p_max: f64,
    /// Dew pressure at the coldest temperature, Pa.
    pub p_low: f64,
    /// Warmest temperature of both lines, K.
    pub t_top: f64,
    /// Bubble pressure there, Pa.
    pub p_top_bubble: f64,
    /// Dew pressure there, Pa.
    pub p_top_dew: f64,
    /// Blends: vapour above this is clear of the critical region, K.
    pub t_beside: f64,
    /// Blends: fluid above this is clear of the critical region, Pa.
    pub p_beside: f64,
    /// What to subtract from h for 200 kJ/kg at the bubble point at 0 °C, J/kg.
    pub h_iir: f64,
    /// What to subtract from s for 1 kJ/(kg·K) there, J/(kg·K).
    pub s_iir: f64,
    /// Slope of the melting line from the triple point, K/Pa; 0 where it plays no part.
    pub melt: f64,
    /// Ends of the pressure coordinate of the two-phase block (blends).
    pub z_mixed: [f64; 2],
    /// The box around the critical point that is refused: T from, T to, p from, p to.
    pub refused: [f64; 4],
    /// Whether it is a blend.
    pub blend: bool,
    /// Coldest temperature of the transport models, K; 0 where there is none.
    pub transport_from: f64,
}

/// Quantities along one variable in uniform pieces.
#[derive(Debug)]
pub struct Line {
    /// Lower end of the variable.
    pub lo: f64,
    /// Upper end of the variable.
    pub hi: f64,
    count: usize,
    quantities: usize,
    scale: f64,
    data: Vec<f64>,
}

/// Coefficients of one quantity in one patch: first axis, then second.
type Matrix = [[f32; ORDER]; ORDER];

/// A patch and the place in it.
#[derive(Debug, Clone, Copy)]
pub struct Place<'a> {
    coefs: &'a [Matrix],
    tu: [f64; ORDER],
    tv: [f64; ORDER],
    /// −1 to 1 inside the patch.
    x: f64,
    y: f64,
    /// d(inside)/d(unit square) on each axis.
    grow_u: f64,
    grow_v: f64,
}

/// Quantities over the unit square in a tree of patches.
#[derive(Debug)]
pub struct Block {
    /// Which region of the state plane.
    pub kind: u32,
    quantities: usize,
    tree: Vec<u32>,
    coefs: Vec<Matrix>,
}

/// One fluid's table.
#[derive(Debug)]
pub struct Table {
    /// `key=value` lines: name, source, equations of state.
    pub text: &'static str,
    /// The constants.
    pub constants: Constants,
    /// Bubble line against sqrt(1 − T/t_ref): ln p, ln ρ, h, s.
    pub bubble_of_t: Line,
    /// Dew line against sqrt(1 − T/t_ref): ln p, ln ρ, h, s.
    pub dew_of_t: Line,
    /// Bubble temperature against sqrt(ln(p_ref/p)).
    pub bubble_of_p: Line,
    /// Dew temperature against sqrt(ln(p_ref/p)).
    pub dew_of_p: Line,
    /// The blocks.
    pub blocks: Vec<Block>,
}

struct Bytes<'a>(&'a [u8]);

impl<'a> Bytes<'a> {
    fn take(&mut self, n: usize) -> Option<&'a [u8]> {
        let (head, tail) = self.0.split_at_checked(n)?;
        self.0 = tail;
        Some(head)
    }

    fn u32(&mut self) -> Option<u32> {
        Some(u32::from_le_bytes(self.take(4)?.try_into().ok()?))
    }

    fn len(&mut self) -> Option<usize> {
        usize::try_from(self.u32()?).ok()
    }

    fn f64s(&mut self, n: usize) -> Option<Vec<f64>> {
        let raw = self.take(n.checked_mul(8)?)?;
        Some(raw.as_chunks::<8>().0.iter().map(|c| f64::from_le_bytes(*c)).collect())
    }

    fn u32s(&mut self, n: usize) -> Option<Vec<u32>> {
        let raw = self.take(n.checked_mul(4)?)?;
        Some(raw.as_chunks::<4>().0.iter().map(|c| u32::from_le_bytes(*c)).collect())
    }
}

fn constants(v: &[f64]) -> Option<Constants> {
    let &[
        r,
        molar_mass,
        tc,
        pc,
        t_ref,
        p_ref,
        t_min,
        t_max,
        p_max,
        p_low,
        t_top,
        p_top_bubble,
        p_top_dew,
        t_beside,
        p_beside,
        h_iir,
        s_iir,
        melt,
        z0,
        z1,
        r0,
        r1,
        r2,
        r3,
        blend,
        transport_from,
    ] = v
    else {
        return None;
    };
    Some(Constants {
        r,
        molar_mass,
        tc,
        pc,
        t_ref,
        p_ref,
        t_min,
        t_max,
        p_max,
        p_low,
        t_top,
        p_top_bubble,
        p_top_dew,
        t_beside,
        p_beside,
        h_iir,
        s_iir,
        melt,
        z_mixed: [z0, z1],
        refused: [r0, r1, r2, r3],
        blend: blend > 0.5,
        transport_from,
    })
}

/// Reads a table; `None` when it is cut or of another layout.
#[must_use]
pub fn read(bytes: &'static [u8]) -> Option<Table> {
    let mut b = Bytes(bytes);
    if b.take(8)? != MAGIC {
        return None;
    }
    let n = b.len()?;
    let text = std::str::from_utf8(b.take(n)?).ok()?;
    let n = b.len()?;
    let constants = constants(&b.f64s(n)?)?;
    let bubble_of_t = line(&mut b, 4)?;
    let dew_of_t = line(&mut b, 4)?;
    let bubble_of_p = line(&mut b, 1)?;
    let dew_of_p = line(&mut b, 1)?;
    let count = b.len()?;
    let mut blocks = Vec::new();
    for _ in 0..count {
        blocks.push(block(&mut b)?);
    }
    b.0.is_empty().then_some(Table {
        text,
        constants,
        bubble_of_t,
        dew_of_t,
        bubble_of_p,
        dew_of_p,
        blocks,
    })
}

fn line(b: &mut Bytes<'_>, want: usize) -> Option<Line> {
    let ends = b.f64s(2)?;
    let (&lo, &hi) = (ends.first()?, ends.get(1)?);
    let (count, quantities, order) = (b.len()?, b.len()?, b.len()?);
    if order != LINE_ORDER || quantities != want || count == 0 {
        return None;
    }
    let data = b.f64s(count.checked_mul(quantities)?.checked_mul(order)?)?;
    let scale = count as f64 / (hi - lo);
    Some(Line { lo, hi, count, quantities, scale, data })
}

fn block(b: &mut Bytes<'_>) -> Option<Block> {
    let (kind, quantities, order) = (b.u32()?, b.len()?, b.len()?);
    let (nodes, leaves) = (b.len()?, b.len()?);
    if order != ORDER {
        return None;
    }
    let tree = b.u32s(nodes)?;
    // Stored row by row of the second axis; kept the other way, so that the sum over the first
    // axis runs over six coefficients side by side.
    let turn = |m: &[[u8; 4 * ORDER]; ORDER]| -> Matrix {
        let mut out = [[0.0; ORDER]; ORDER];
        for (j, row) in m.iter().enumerate() {
            for (i, c) in row.as_chunks::<4>().0.iter().enumerate() {
                out[i][j] = f32::from_le_bytes(*c);
            }
        }
        out
    };
    let count = leaves.checked_mul(quantities)?;
    let raw = b.take(count.checked_mul(4 * ORDER * ORDER)?)?;
    let rows = raw.as_chunks::<{ 4 * ORDER }>().0;
    let coefs = rows.as_chunks::<ORDER>().0.iter().map(turn).collect();
    Some(Block { kind, quantities, tree, coefs })
}

impl Line {
    #[inline]
    fn piece(&self, v: f64, quantity: usize) -> Option<(&[f64; LINE_ORDER], f64)> {
        let f = (v - self.lo) * self.scale;
        let i = (f.max(0.0) as usize).min(self.count - 1);
        let at = (i * self.quantities + quantity) * LINE_ORDER;
        let coefs = self.data.get(at..at + LINE_ORDER)?.try_into().ok()?;
        Some((coefs, 2.0 * (f - i as f64) - 1.0))
    }

    /// One quantity at `v`. The caller keeps `v` between the ends; NaN for no such quantity.
    #[inline]
    #[must_use]
    pub fn at(&self, v: f64, quantity: usize) -> f64 {
        let Some((c, x)) = self.piece(v, quantity) else { return f64::NAN };
        series(c, x)
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

/// Estrin's scheme: the halves side by side, so that nothing waits for one long chain.
#[inline]
fn in_powers(m: &[f64; LINE_ORDER], x: f64) -> f64 {
    let x2 = x * x;
    let low = (m[0] + m[1] * x) + (m[2] + m[3] * x) * x2;
    let high = (m[4] + m[5] * x) + (m[6] + m[7] * x) * x2;
    low + high * (x2 * x2)
}

/// A line against a positive number, with a piece for every eighth of a power of two: the piece
/// and the place in it stand in the bits of the number, so that no logarithm is needed. Made from
/// a slower line when a table is read.
#[derive(Debug)]
pub struct Quick {
    first: u64,
    pieces: Vec<[f64; LINE_ORDER]>,
}

impl Quick {
    /// Bits of the place inside a piece.
    const INSIDE: u32 = 49;

    /// The pieces that lie wholly between `lo` and `hi` (both positive); beyond them
    /// [`Self::at`] has no answer.
    pub fn new(lo: f64, hi: f64, f: impl Fn(f64) -> f64) -> Self {
        let first = (lo.to_bits() >> Self::INSIDE) + 1;
        let end = hi.to_bits() >> Self::INSIDE;
        let start = |i: u64| f64::from_bits(i << Self::INSIDE);
        let n = LINE_ORDER as f64;
        let angle = |k: usize| std::f64::consts::PI * (k as f64 + 0.5) / n;
        let pieces = (first..end).map(|i| {
            let (a, b) = (start(i), start(i + 1));
            let mut c = [0.0; LINE_ORDER];
            for k in 0..LINE_ORDER {
                let at = units::math::cos(angle(k));
                let value = f(0.5 * (a + b) + 0.5 * (b - a) * at);
                // T_j at the node by recurrence.
                let (mut t, mut next) = (1.0, at);
                for cj in &mut c {
                    *cj += 2.0 / n * value * t;
                    (t, next) = (next, 2.0 * at * next - t);
                }
            }
            c[0] *= 0.5;
            powers(&c)
        });
        Self { first, pieces: pieces.collect() }
    }

    /// The value at `x`, if a piece holds it.
    #[inline]
    #[must_use]
    pub fn at(&self, x: f64) -> Option<f64> {
        let bits = x.to_bits();
        let i = (bits >> Self::INSIDE).wrapping_sub(self.first);
        let c = self.pieces.get(usize::try_from(i).ok()?)?;
        let inside = bits & ((1 << Self::INSIDE) - 1);
        Some(in_powers(c, inside as f64 * (2.0 / (1u64 << Self::INSIDE) as f64) - 1.0))
    }
}

/// T_0 to T_5 at `x`.
#[inline]
fn basis(x: f64) -> [f64; ORDER] {
    let x2 = 2.0 * x;
    let t2 = x2 * x - 1.0;
    let t3 = x2 * t2 - x;
    let t4 = x2 * t3 - t2;
    [1.0, x, t2, t3, t4, x2 * t4 - t3]
}

/// Derivatives of T_0 to T_5 at `x`.
#[inline]
fn basis_slope(x: f64) -> [f64; ORDER] {
    // T_n' = n U_{n-1}
    let x2 = 2.0 * x;
    let u2 = x2 * x2 - 1.0;
    let u3 = x2 * u2 - x2;
    let u4 = x2 * u3 - u2;
    [0.0, 1.0, 2.0 * x2, 3.0 * u2, 4.0 * u3, 5.0 * u4]
}

impl Block {
    /// The patch that holds `(u, v)` of the unit square; the caller keeps both within 0 to 1.
    #[inline(always)]
    #[must_use]
    pub fn place(&self, mut u: f64, mut v: f64) -> Option<Place<'_>> {
        const LEAF: u32 = 1 << 31;
        const AXIS: u32 = 1 << 30;
        let (mut grow_u, mut grow_v) = (2.0, 2.0);
        let mut node = *self.tree.first()?;
        while node & LEAF == 0 {
            let mut next = (node & !AXIS) as usize;
            // The half is found and stretched to the whole; doubling is exact.
            let w = if node & AXIS != 0 {
                grow_v *= 2.0;
                &mut v
            } else {
                grow_u *= 2.0;
                &mut u
            };
            *w *= 2.0;
            if *w >= 1.0 {
                *w -= 1.0;
                next += 1;
            }
            node = *self.tree.get(next)?;
        }
        let at = (node & !LEAF) as usize * self.quantities;
        let coefs = self.coefs.get(at..at + self.quantities)?;
        let (x, y) = (2.0 * u - 1.0, 2.0 * v - 1.0);
        Some(Place { coefs, tu: basis(x), tv: basis(y), x, y, grow_u, grow_v })
    }
}

/// Sum over the first axis.
#[inline(always)]
fn along(m: &Matrix, tu: &[f64; ORDER]) -> [f64; ORDER] {
    let mut out = [0.0; ORDER];
    for i in 0..ORDER {
        for j in 0..ORDER {
            out[j] += f64::from(m[i][j]) * tu[i];
        }
    }
    out
}

#[inline]
fn dot(a: &[f64; ORDER], b: &[f64; ORDER]) -> f64 {
    (a[0] * b[0] + a[1] * b[1] + a[2] * b[2]) + (a[3] * b[3] + a[4] * b[4] + a[5] * b[5])
}

impl Place<'_> {
    /// The first three quantities at once.
    #[inline(always)]
    #[must_use]
    pub fn three(&self) -> Option<[f64; 3]> {
        let m: &[Matrix; 3] = self.coefs.first_chunk()?;
        Some([0, 1, 2].map(|q| dot(&along(&m[q], &self.tu), &self.tv)))
    }

    /// One quantity here; NaN for no such quantity.
    #[inline]
    #[must_use]
    pub fn value(&self, quantity: usize) -> f64 {
        self.coefs.get(quantity).map_or(f64::NAN, |m| dot(&along(m, &self.tu), &self.tv))
    }

    /// One quantity and its derivative along the second axis of the unit square.
    #[inline]
    #[must_use]
    pub fn value_and_slope_v(&self, quantity: usize) -> (f64, f64) {
        let Some(m) = self.coefs.get(quantity) else { return (f64::NAN, f64::NAN) };
        let row = along(m, &self.tu);
        (dot(&row, &self.tv), dot(&row, &basis_slope(self.y)) * self.grow_v)
    }

    /// Its derivative along the first axis of the unit square.
    #[must_use]
    pub fn slope_u(&self, quantity: usize) -> f64 {
        let m = self.coefs.get(quantity);
        let slope = m.map_or(f64::NAN, |m| dot(&along(m, &basis_slope(self.x)), &self.tv));
        slope * self.grow_u
    }
}
