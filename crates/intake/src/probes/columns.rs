//! Probe readings of many boxes held at once in little memory: two bytes a reading, and the times
//! as runs of equal steps. Nothing is rounded: what two bytes cannot hold is kept beside them.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

use units::Utc;

use super::{ProbeCell, ProbeRow, UnitKey};

/// Stands for an empty cell.
const EMPTY: i16 = i16::MIN;

/// Stands for a reading kept in [`BoxColumns::rare`].
const RARE: i16 = i16::MIN + 1;

/// Most decimals held in two bytes.
const PLACES_MAX: u8 = 3;

/// Every box of a set of files, in the order in which they first appear.
#[derive(Debug, Clone, Default)]
pub struct Columns {
    boxes: Vec<BoxColumns>,
    places: HashMap<u64, u32, BuildHasherDefault<KeyHasher>>,
    last: usize,
}

/// Spreads the bits of a key: container numbers are all alike in their high bits.
#[derive(Debug, Clone, Copy, Default)]
pub struct KeyHasher(u64);

impl Hasher for KeyHasher {
    fn write(&mut self, bytes: &[u8]) {
        for b in bytes {
            self.write_u64(u64::from(*b));
        }
    }

    fn write_u64(&mut self, n: u64) {
        let mixed = (self.0.rotate_left(5) ^ n).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        self.0 = mixed ^ (mixed >> 32);
    }

    fn finish(&self) -> u64 {
        self.0
    }
}

impl Columns {
    /// Adds a row to its box.
    #[inline]
    pub fn push(&mut self, row: &ProbeRow) {
        // Files are grouped by box, or name the boxes in the same order hour by hour.
        let here = self.boxes.get(self.last).is_some_and(|b| b.unit == row.unit);
        if !here {
            self.last = self.find(row.unit);
        }
        if let Some(b) = self.boxes.get_mut(self.last) {
            b.push(row);
        }
    }

    fn find(&mut self, unit: UnitKey) -> usize {
        for next in [self.last + 1, 0] {
            if self.boxes.get(next).is_some_and(|b| b.unit == unit) {
                return next;
            }
        }
        let new = self.boxes.len();
        let place = *self.places.entry(unit.bits()).or_insert(new as u32) as usize;
        if place == new {
            self.boxes.push(BoxColumns::new(unit));
        }
        place
    }

    /// The boxes, in the order in which they first appear.
    #[must_use]
    pub fn boxes(&self) -> &[BoxColumns] {
        &self.boxes
    }

    /// Gives the boxes up one by one, so that each can be let go when it is done with.
    #[must_use]
    pub fn into_boxes(self) -> Vec<BoxColumns> {
        self.boxes
    }
}

/// Readings at equal steps of time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Run {
    start_ms: i64,
    step_ms: u32,
    count: u32,
}

impl Run {
    fn at(self, i: u32) -> i64 {
        self.start_ms + i64::from(self.step_ms) * i64::from(i)
    }

    /// Takes one reading time more, where it is one step on.
    #[inline]
    fn extend(&mut self, at: i64) -> bool {
        if self.count == 1 {
            let step = at.saturating_sub(self.start_ms);
            match u32::try_from(step) {
                Ok(step) if step > 0 => self.step_ms = step,
                _ => return false,
            }
        } else if at != self.at(self.count) {
            return false;
        }
        self.count += 1;
        true
    }
}

/// A reading that two bytes cannot hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Rare {
    place: u32,
    cell: ProbeCell,
}

/// One box: its rows in the order of the files.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BoxColumns {
    unit: UnitKey,
    run: Run,
    runs: Vec<Run>,
    /// Row by row, the fitted probes of each.
    values: Vec<i16>,
    rare: Vec<Rare>,
    /// Probes with a value so far.
    fitted: [bool; 4],
    /// Decimals of `values`.
    scale: u8,
    rows: u32,
}

impl BoxColumns {
    fn new(unit: UnitKey) -> Self {
        Self {
            unit,
            run: Run { start_ms: 0, step_ms: 0, count: 0 },
            runs: Vec::new(),
            values: Vec::new(),
            rare: Vec::new(),
            fitted: [false; 4],
            scale: 0,
            rows: 0,
        }
    }

    /// The box.
    #[must_use]
    pub fn unit(&self) -> UnitKey {
        self.unit
    }

    /// Rows held.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.rows as usize
    }

    /// Probes with a value anywhere.
    #[must_use]
    pub fn fitted(&self) -> [bool; 4] {
        self.fitted
    }

    #[inline]
    fn push(&mut self, row: &ProbeRow) {
        let at = row.at.ms();
        if self.run.count == 0 || !self.run.extend(at) {
            if self.run.count > 0 {
                self.runs.push(self.run);
            }
            self.run = Run { start_ms: at, step_ms: 0, count: 1 };
        }
        if self.values.capacity() - self.values.len() < 4 {
            // A quarter at a time: doubling would leave half of the memory unused.
            self.values.reserve_exact((self.values.len() / 4).max(96));
        }
        for probe in 0..4 {
            let cell = row.cells.get(probe).copied().unwrap_or(ProbeCell::EMPTY);
            let known = self.fitted.get(probe) == Some(&true);
            match cell.get() {
                None if known => self.values.push(EMPTY),
                None => {}
                Some((mantissa, scale)) => {
                    if !known {
                        self.fit(probe, scale);
                    }
                    let value = self.small(mantissa, scale, cell);
                    self.values.push(value);
                }
            }
        }
        self.rows += 1;
    }

    /// Begins a column: the rows before had nothing in it. The row in hand holds the probes
    /// before this one already.
    #[cold]
    fn fit(&mut self, probe: usize, scale: u8) {
        let before = self.fitted.iter().filter(|f| **f).count();
        let left = self.fitted.iter().take(probe).filter(|f| **f).count();
        if before == 0 {
            self.scale = scale.min(PLACES_MAX);
        }
        let old = std::mem::take(&mut self.values);
        self.values.reserve_exact(old.len() / before.max(1) * (before + 1) + 96);
        let place = |i: usize, with: usize| i / before.max(1) * with + i % before.max(1);
        for i in 0..self.rows as usize {
            let row = old.get(i * before..(i + 1) * before).unwrap_or(&[]);
            let (low, high) = row.split_at_checked(left).unwrap_or((row, &[]));
            self.values.extend_from_slice(low);
            self.values.push(EMPTY);
            self.values.extend_from_slice(high);
        }
        self.values.extend_from_slice(old.get(self.rows as usize * before..).unwrap_or(&[]));
        for r in &mut self.rare {
            let i = r.place as usize;
            let shift = usize::from(before > 0 && i % before >= left);
            r.place = (place(i, before + 1) + shift) as u32;
        }
        if let Some(f) = self.fitted.get_mut(probe) {
            *f = true;
        }
    }

    /// A reading as two bytes.
    #[inline]
    fn small(&mut self, mantissa: i64, scale: u8, cell: ProbeCell) -> i16 {
        if scale == self.scale
            && let Ok(v) = i16::try_from(mantissa)
            && v > RARE
        {
            return v;
        }
        self.unlike(mantissa, scale, cell)
    }

    #[cold]
    fn unlike(&mut self, mantissa: i64, scale: u8, cell: ProbeCell) -> i16 {
        if scale > self.scale && scale <= PLACES_MAX {
            self.rescale(scale);
        }
        let lift = |by: u8| mantissa.checked_mul(10i64.checked_pow(u32::from(by))?);
        let lifted = self.scale.checked_sub(scale).and_then(lift);
        match lifted.and_then(|v| i16::try_from(v).ok()) {
            Some(v) if v > RARE => v,
            _ => {
                self.rare.push(Rare { place: self.values.len() as u32, cell });
                RARE
            }
        }
    }

    /// Gives every reading held so far more decimals.
    fn rescale(&mut self, scale: u8) {
        let by = 10i64.pow(u32::from(scale - self.scale));
        let mut rare = Vec::new();
        for (place, v) in self.values.iter_mut().enumerate().filter(|(_, v)| **v > RARE) {
            match i16::try_from(i64::from(*v) * by) {
                Ok(more) if more > RARE => *v = more,
                _ => {
                    let cell = ProbeCell { mantissa: i64::from(*v), scale: self.scale };
                    rare.push(Rare { place: place as u32, cell });
                    *v = RARE;
                }
            }
        }
        self.rare.extend(rare);
        self.rare.sort_by_key(|r| r.place);
        self.scale = scale;
    }

    /// Hands over every row, in the order of the files.
    pub fn each_row(&self, mut row: impl FnMut(Utc, [ProbeCell; 4])) {
        let width = self.fitted.iter().filter(|f| **f).count();
        let mut rare = self.rare.iter().peekable();
        let times = self.all_runs().flat_map(|r| (0..r.count).map(move |i| r.at(i)));
        for (i, at) in times.enumerate() {
            let held = self.values.get(i * width..(i + 1) * width).unwrap_or(&[]);
            let mut held = held.iter().enumerate();
            let mut cells = [ProbeCell::EMPTY; 4];
            for (cell, _) in cells.iter_mut().zip(self.fitted).filter(|(_, fitted)| *fitted) {
                let Some((k, v)) = held.next() else { continue };
                let place = (i * width + k) as u32;
                *cell = match *v {
                    EMPTY => ProbeCell::EMPTY,
                    RARE => rare.next_if(|r| r.place == place).map_or(ProbeCell::EMPTY, |r| r.cell),
                    v => ProbeCell { mantissa: i64::from(v), scale: self.scale },
                };
            }
            row(Utc::from_ms(at), cells);
        }
    }

    fn all_runs(&self) -> impl Iterator<Item = Run> + '_ {
        let last = (self.run.count > 0).then_some(self.run);
        self.runs.iter().copied().chain(last)
    }

    /// Adds the times of the rows to `times`, milliseconds since 1970.
    pub fn times(&self, times: &mut Vec<i64>) {
        for r in self.all_runs() {
            times.extend((0..r.count).map(|i| r.at(i)));
        }
    }

    /// First time and step, milliseconds, where all rows lie at equal steps forward.
    #[must_use]
    pub fn steady_ms(&self) -> Option<(i64, i64)> {
        let steady = self.runs.is_empty() && self.run.count > 1;
        steady.then(|| (self.run.start_ms, i64::from(self.run.step_ms)))
    }

    /// The readings as plain columns, where every one of them fits two bytes and the times rise
    /// from row to row: fills one column for each fitted probe and gives the decimals of the
    /// values. [`Self::NOT_READ`] stands for an empty cell. `None` where the rows must be looked
    /// at one by one ([`Self::each_row`]).
    pub fn plain(&self, probes: &mut [Vec<i16>; 4]) -> Option<u8> {
        let mut end = i64::MIN;
        let mut rises = self.rare.is_empty();
        for r in self.all_runs() {
            rises &= r.start_ms > end;
            end = r.at(r.count.saturating_sub(1));
        }
        if !rises {
            return None;
        }
        let width = self.fitted.iter().filter(|f| **f).count();
        let mut column = 0;
        for (probe, fitted) in probes.iter_mut().zip(self.fitted) {
            probe.clear();
            if !fitted {
                continue;
            }
            probe.resize(self.rows(), EMPTY);
            for (slot, row) in probe.iter_mut().zip(self.values.chunks_exact(width)) {
                *slot = row.get(column).copied().unwrap_or(EMPTY);
            }
            column += 1;
        }
        Some(self.scale)
    }

    /// An empty cell in the columns of [`Self::plain`].
    pub const NOT_READ: i16 = EMPTY;

    /// Bytes held.
    #[must_use]
    pub fn memory(&self) -> usize {
        size_of::<Self>()
            + self.runs.capacity() * size_of::<Run>()
            + self.values.capacity() * size_of::<i16>()
            + self.rare.capacity() * size_of::<Rare>()
    }
}
