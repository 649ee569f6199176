//! Quantities over a unit square in a tree of patches, each a Chebyshev polynomial of both axes.

use std::ops::Range;

/// Coefficients per axis of one patch.
pub const ORDER: usize = 6;

/// Coefficients along the second axis, little-endian. A patch is, for every coefficient of the
/// first axis, one row per quantity: what is summed together lies together.
type Row = [[u8; 4]; ORDER];

/// Cells per axis of the grid that shortens the way down the tree, and 2 to which power they are.
const CELLS: usize = 1 << CELL_BITS;
const CELL_BITS: u32 = 5;

/// Set in a cell that lies in more than one patch: the rest is a node to descend from.
const DIVIDED: u16 = 1 << 15;

/// Deepest splitting on one axis; shifts stay exact far beyond it.
const DEEPEST: u32 = 40;

/// A split of the square, or a patch.
#[derive(Debug, Clone, Copy)]
enum Node {
    /// Below `at` on the axis the next node is `first`, from it on the one after.
    Split {
        second_axis: bool,
        at: f64,
        first: u16,
    },
    Patch(u16),
}

/// From the unit square to −1 to 1 of one patch: `scale` times the place less `shift`.
#[derive(Debug, Clone, Copy)]
struct Frame {
    scale: [f64; 2],
    shift: [f64; 2],
}

/// Quantities over the unit square in a tree of patches.
#[derive(Debug)]
pub struct Block {
    /// Which region of the state plane.
    pub kind: u32,
    quantities: usize,
    nodes: Vec<Node>,
    cells: Vec<u16>,
    frames: Vec<Frame>,
    rows: &'static [Row],
}

/// A patch and the place in it.
#[derive(Debug, Clone, Copy)]
pub struct Place<'a> {
    rows: &'a [Row],
    quantities: usize,
    tu: [f64; ORDER],
    tv: [f64; ORDER],
    /// −1 to 1 inside the patch.
    x: f64,
    y: f64,
    /// d(inside)/d(unit square) on each axis.
    grow: [f64; 2],
}

/// A node of the stored tree, where it lies, and how often each axis was halved on the way.
struct Visit {
    node: usize,
    depth: [u32; 2],
    index: [u64; 2],
}

impl Visit {
    /// 2^(1+depth) and what to take off, so that the patch runs from −1 to 1. All exact.
    fn frame(&self) -> Frame {
        let scale = self.depth.map(|d| (2u64 << d) as f64);
        Frame { scale, shift: self.index.map(|i| (2 * i + 1) as f64) }
    }

    /// The grid's cells it covers on each axis; none when it is less than a cell wide.
    fn cells(&self) -> Option<[Range<usize>; 2]> {
        if self.depth.iter().any(|d| *d > CELL_BITS) {
            return None;
        }
        Some([0, 1].map(|axis| {
            let (wide, i) = (CELLS >> self.depth[axis], self.index[axis] as usize);
            i * wide..(i + 1) * wide
        }))
    }
}

/// T_0 to T_5 at `x`.
#[inline(always)]
fn basis(x: f64) -> [f64; ORDER] {
    let x2 = 2.0 * x;
    let t2 = x2 * x - 1.0;
    let t3 = x2 * t2 - x;
    let t4 = 2.0 * t2 * t2 - 1.0;
    [1.0, x, t2, t3, t4, 2.0 * t2 * t3 - x]
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

/// Writes one value into an area of the grid.
fn fill(cells: &mut [u16], [us, vs]: [Range<usize>; 2], value: u16) {
    for row in cells.chunks_exact_mut(CELLS).take(us.end).skip(us.start) {
        row.iter_mut().take(vs.end).skip(vs.start).for_each(|c| *c = value);
    }
}

impl Block {
    /// A block from its stored tree (a patch's index with the top bit set, else the first of two
    /// following nodes with the axis in bit 30) and its rows; none if they do not fit together.
    #[must_use]
    pub fn new(kind: u32, quantities: usize, tree: &[u32], rows: &'static [Row]) -> Option<Self> {
        const LEAF: u32 = 1 << 31;
        const AXIS: u32 = 1 << 30;
        let patches = rows.len().checked_div(quantities * ORDER)?;
        if tree.len() >= DIVIDED.into() {
            return None;
        }
        let nothing = Frame { scale: [0.0; 2], shift: [0.0; 2] };
        let mut frames = vec![nothing; patches];
        let mut nodes = vec![Node::Patch(0); tree.len()];
        let mut cells = vec![0; CELLS * CELLS];
        let mut open = vec![Visit { node: 0, depth: [0; 2], index: [0; 2] }];
        while let Some(visit) = open.pop() {
            let stored = *tree.get(visit.node)?;
            let node = nodes.get_mut(visit.node)?;
            let frame = visit.frame();
            if stored & LEAF != 0 {
                let patch = u16::try_from(stored & !LEAF).ok().filter(|p| *p < DIVIDED)?;
                *frames.get_mut(usize::from(patch))? = frame;
                *node = Node::Patch(patch);
                // A smaller one is found from the split that divides the cell.
                visit.cells().into_iter().for_each(|area| fill(&mut cells, area, patch));
                continue;
            }
            let first = u16::try_from(stored & !AXIS).ok()?;
            let axis = usize::from(stored & AXIS != 0);
            // Ever onwards, so that a damaged tree has an end too.
            if usize::from(first) <= visit.node || visit.depth[axis] >= DEEPEST {
                return None;
            }
            let at = frame.shift[axis] / frame.scale[axis];
            *node = Node::Split { second_axis: axis == 1, at, first };
            if visit.depth[axis] == CELL_BITS
                && let Some(area) = visit.cells()
            {
                fill(&mut cells, area, DIVIDED | u16::try_from(visit.node).ok()?);
            }
            for half in [0, 1] {
                let (mut depth, mut index) = (visit.depth, visit.index);
                depth[axis] += 1;
                index[axis] = 2 * index[axis] + half;
                open.push(Visit { node: usize::from(first) + half as usize, depth, index });
            }
        }
        Some(Self { kind, quantities, nodes, cells, frames, rows })
    }

    /// Memory made when the block was read, bytes.
    #[must_use]
    pub fn made_bytes(&self) -> usize {
        size_of_val(&*self.nodes) + size_of_val(&*self.cells) + size_of_val(&*self.frames)
    }

    /// The patch that holds `(u, v)` of the unit square; the caller keeps both within 0 to 1.
    #[inline(always)]
    #[must_use]
    pub fn place(&self, u: f64, v: f64) -> Option<Place<'_>> {
        let cell = |w: f64| (w * CELLS as f64).min((CELLS - 1) as f64) as u32 as usize;
        let mut patch = *self.cells.get(cell(u) * CELLS + cell(v))?;
        if patch & DIVIDED != 0 {
            patch = self.descend(patch & !DIVIDED, u, v)?;
        }
        let frame = self.frames.get(usize::from(patch))?;
        let long = self.quantities * ORDER;
        let rows = self.rows.get(usize::from(patch) * long..)?.get(..long)?;
        let x = u * frame.scale[0] - frame.shift[0];
        let y = v * frame.scale[1] - frame.shift[1];
        let (tu, tv) = (basis(x), basis(y));
        Some(Place { rows, quantities: self.quantities, tu, tv, x, y, grow: frame.scale })
    }

    /// The patch below a node.
    fn descend(&self, mut node: u16, u: f64, v: f64) -> Option<u16> {
        loop {
            match *self.nodes.get(usize::from(node))? {
                Node::Patch(patch) => return Some(patch),
                Node::Split { second_axis, at, first } => {
                    let w = if second_axis { v } else { u };
                    node = first + u16::from(w >= at);
                }
            }
        }
    }
}

/// Sum over the first axis of one quantity.
#[inline]
fn along(rows: &[Row], quantities: usize, quantity: usize, tu: &[f64; ORDER]) -> [f64; ORDER] {
    let mut out = [0.0; ORDER];
    for (row, t) in rows.iter().skip(quantity).step_by(quantities).zip(tu) {
        for (o, c) in out.iter_mut().zip(row) {
            *o += f64::from(f32::from_le_bytes(*c)) * t;
        }
    }
    out
}

/// Sum over the second axis.
#[inline]
fn dot(a: &[f64; ORDER], b: &[f64; ORDER]) -> f64 {
    let [even, odd] = halves(a, b);
    even + odd
}

/// Sums over the first axis of three quantities, which the compiler does two by two.
#[inline(always)]
fn three_along(rows: &[Row; 3 * ORDER], tu: &[f64; ORDER]) -> [[f64; ORDER]; 3] {
    let mut out = [[0.0; ORDER]; 3];
    for i in 0..ORDER {
        for q in 0..3 {
            for j in 0..ORDER {
                out[q][j] += f64::from(f32::from_le_bytes(rows[3 * i + q][j])) * tu[i];
            }
        }
    }
    out
}

/// Even and odd terms of the sum over the second axis.
#[inline(always)]
fn halves(a: &[f64; ORDER], t: &[f64; ORDER]) -> [f64; 2] {
    let mut out = [0.0; 2];
    for k in 0..2 {
        out[k] = a[k] * t[k] + a[2 + k] * t[2 + k] + a[4 + k] * t[4 + k];
    }
    out
}

/// Three quantities as halves. A function of its own: inlined, the compiler no longer sees that
/// the halves go side by side (a quarter slower).
#[inline(never)]
fn three(rows: &[Row; 3 * ORDER], tu: &[f64; ORDER], tv: &[f64; ORDER]) -> [[f64; 2]; 3] {
    let [a, b, c] = three_along(rows, tu);
    [halves(&a, tv), halves(&b, tv), halves(&c, tv)]
}

/// The same, and the second with other terms of the second axis.
#[inline(never)]
fn three_and_slope(
    rows: &[Row; 3 * ORDER],
    tu: &[f64; ORDER],
    tv: &[f64; ORDER],
    slope_v: &[f64; ORDER],
) -> [[f64; 2]; 4] {
    let [a, b, c] = three_along(rows, tu);
    [halves(&a, tv), halves(&b, tv), halves(&c, tv), halves(&b, slope_v)]
}

impl Place<'_> {
    /// The three quantities of a block that has three.
    #[inline(always)]
    #[must_use]
    pub fn three(&self) -> Option<[f64; 3]> {
        let [a, b, c] = three(self.rows.try_into().ok()?, &self.tu, &self.tv);
        Some([a[0] + a[1], b[0] + b[1], c[0] + c[1]])
    }

    /// The same, and the derivative of the second along the second axis of the unit square.
    #[inline(always)]
    #[must_use]
    pub fn three_and_slope_v(&self) -> Option<([f64; 3], f64)> {
        let (rows, slope_v) = (self.rows.try_into().ok()?, basis_slope(self.y));
        let [a, b, c, d] = three_and_slope(rows, &self.tu, &self.tv, &slope_v);
        Some(([a[0] + a[1], b[0] + b[1], c[0] + c[1]], (d[0] + d[1]) * self.grow[1]))
    }

    /// One quantity here; NaN for no such quantity.
    #[inline]
    #[must_use]
    pub fn value(&self, quantity: usize) -> f64 {
        if quantity >= self.quantities {
            return f64::NAN;
        }
        dot(&along(self.rows, self.quantities, quantity, &self.tu), &self.tv)
    }

    /// The derivative of one quantity along the first axis of the unit square.
    #[must_use]
    pub fn slope_u(&self, quantity: usize) -> f64 {
        if quantity >= self.quantities {
            return f64::NAN;
        }
        let row = along(self.rows, self.quantities, quantity, &basis_slope(self.x));
        dot(&row, &self.tv) * self.grow[0]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LEAF: u32 = 1 << 31;
    const AXIS: u32 = 1 << 30;

    /// Halves the corner at the origin on each axis in turn, `deep` times: patches from the whole
    /// square down to far below a cell of the grid. The number of a patch is its only coefficient.
    fn corner(deep: u32) -> Block {
        let mut tree = vec![0];
        for k in 0..deep {
            let (at, first) = (tree.len() - if k > 0 { 2 } else { 1 }, tree.len() as u32);
            tree[at] = first | if k % 2 == 1 { AXIS } else { 0 };
            tree.extend([LEAF | deep, LEAF | k]);
        }
        let mut rows = vec![[[0; 4]; ORDER]; (deep as usize + 1) * ORDER];
        for (k, row) in rows.iter_mut().step_by(ORDER).enumerate() {
            row[0] = (k as f32).to_le_bytes();
        }
        Block::new(0, 1, &tree, rows.leak()).unwrap()
    }

    #[test]
    fn the_grid_finds_what_the_tree_holds() {
        let block = corner(24);
        for k in 0..24 {
            // Patch k is the upper half on one axis of what k halvings left.
            let (nu, nv) = (k / 2 + k % 2, k / 2);
            let (wu, wv) = (0.5f64.powi(nu), 0.5f64.powi(nv));
            let inside = |low_u: f64, low_v: f64| {
                let place = block.place(wu * low_u, wv * low_v).unwrap();
                assert_eq!(place.value(0), f64::from(k), "{k}");
                (place.x, place.y)
            };
            let (x, y) = if k % 2 == 0 { inside(0.5, 0.0) } else { inside(0.0, 0.5) };
            assert_eq!((x, y), (-1.0, -1.0));
            inside(0.75, 0.75);
        }
        assert_eq!(block.place(0.0, 0.0).unwrap().value(0), 24.0);
        assert_eq!(block.place(1.0, 1.0).unwrap().x, 1.0);
        for i in 0..=1000 {
            for j in 0..=1000 {
                let (u, v) = (f64::from(i) / 1000.0, f64::from(j) / 1000.0);
                let patch = block.place(u * u * u, v * v * v).unwrap().value(0);
                let by_tree = block.descend(0, u * u * u, v * v * v).unwrap();
                assert_eq!(patch, f64::from(by_tree));
            }
        }
    }

    #[test]
    fn a_damaged_tree_is_refused() {
        let rows: &'static [Row] = vec![[[0; 4]; ORDER]; 2 * ORDER].leak();
        let made = |tree: &[u32]| Block::new(0, 1, tree, rows).is_some();
        assert!(made(&[1, LEAF, LEAF | 1]));
        assert!(!made(&[]) && !made(&[LEAF | 2]) && !made(&[0]));
        assert!(!made(&[1, LEAF]) && !made(&[1, 1, LEAF]) && !made(&[1, LEAF, 7]));
        assert!(Block::new(0, 0, &[LEAF], rows).is_none());
    }
}
