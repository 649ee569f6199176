//! Reads one property table: constants, lines and patch trees as Chebyshev pieces.
//!
//! The layout is written by `tools/fluid-tables/make_tables.py` (docs/fluids.md). Everything is
//! little-endian. A table that is cut or has another layout is refused, not guessed. Coefficients
//! stay where they are in the program and become numbers when they are used, so that reading all
//! tables costs next to nothing.

use crate::line::{LINE_ORDER, Line};
use crate::patches::{Block, ORDER};

/// First bytes of every table.
const MAGIC: &[u8] = b"HFFLUID2";

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

struct Bytes(&'static [u8]);

impl Bytes {
    fn take(&mut self, n: usize) -> Option<&'static [u8]> {
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

fn line(b: &mut Bytes, want: usize) -> Option<Line> {
    let ends = b.f64s(2)?;
    let (&lo, &hi) = (ends.first()?, ends.get(1)?);
    let (count, quantities, order) = (b.len()?, b.len()?, b.len()?);
    if order != LINE_ORDER || quantities != want {
        return None;
    }
    let raw = b.take(count.checked_mul(quantities)?.checked_mul(8 * LINE_ORDER)?)?;
    Line::new(lo, hi, quantities, raw.as_chunks::<8>().0.as_chunks::<LINE_ORDER>().0)
}

fn block(b: &mut Bytes) -> Option<Block> {
    let (kind, quantities, order) = (b.u32()?, b.len()?, b.len()?);
    let (nodes, leaves) = (b.len()?, b.len()?);
    if order != ORDER {
        return None;
    }
    let tree = b.u32s(nodes)?;
    let count = leaves.checked_mul(quantities)?.checked_mul(ORDER)?;
    let raw = b.take(count.checked_mul(4 * ORDER)?)?;
    Block::new(kind, quantities, &tree, raw.as_chunks::<4>().0.as_chunks::<ORDER>().0)
}
