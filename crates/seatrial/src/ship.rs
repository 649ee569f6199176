//! The ship's layout: bays, rows, tiers, and who stands where.

use record::Cell;

use crate::dice::Dice;

/// Deck tiers used for refrigerated boxes, lowest first.
pub const DECK_TIERS: [u8; 4] = [82, 84, 86, 88];
/// Hold tiers, lowest first.
pub const HOLD_TIERS: [u8; 5] = [2, 4, 6, 8, 10];

/// One stack: a column of cells over each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Stack {
    /// Even bay of its 40 ft boxes.
    bay: u16,
    row: u8,
    on_deck: bool,
    height: u8,
}

impl Stack {
    fn limit(self) -> u8 {
        if self.on_deck { 4 } else { 5 }
    }

    fn next_tier(self) -> Option<u8> {
        let tiers: &[u8] = if self.on_deck { &DECK_TIERS } else { &HOLD_TIERS };
        tiers.get(usize::from(self.height)).copied()
    }
}

/// The hull with what has been stowed so far.
#[derive(Debug, Clone)]
pub struct Hull {
    stacks: Vec<Stack>,
    rows: u8,
}

/// Row numbers across, 00 in the middle, odd to starboard, even to port.
fn row_numbers(rows: u8) -> impl Iterator<Item = u8> {
    // An odd number of rows has a centre row.
    0..rows
}

impl Hull {
    /// A hull with room for `boxes` boxes of 40 ft and a good deal to spare: 20 bays and 13 rows,
    /// more of both for many boxes.
    #[must_use]
    pub fn new(boxes: usize) -> Self {
        let (bays, rows) = match boxes {
            0..=1200 => (20u16, 13u8),
            1201..=2200 => (24, 17),
            _ => (26, 21),
        };
        let mut stacks = Vec::new();
        for i in 0..bays {
            for row in row_numbers(rows) {
                for on_deck in [true, false] {
                    // The hull narrows below: the two outer rows of the hold are missing.
                    if on_deck || row < rows - 2 {
                        let bay = 2 + 4 * i;
                        stacks.push(Stack { bay, row, on_deck, height: 0 });
                    }
                }
            }
        }
        Self { stacks, rows }
    }

    /// How many 40 ft boxes still fit.
    #[must_use]
    pub fn room(&self) -> usize {
        self.stacks.iter().map(|s| usize::from(s.limit() - s.height)).sum()
    }

    /// Takes a 40 ft cell; `None` when the ship is full. Boxes gather in some bays, as sockets do.
    pub fn take_forty(&mut self, dice: &mut Dice) -> Option<Cell> {
        let i = self.choose(dice, |_| true)?;
        self.put(i)
    }

    /// Takes the two 20 ft cells in the place of one 40 ft box at the foot of a stack, so that
    /// no long box hangs over one short one.
    pub fn take_two_twenties(&mut self, dice: &mut Dice) -> Option<[Cell; 2]> {
        let i = self.choose(dice, |s| s.height == 0)?;
        let cell = self.put(i)?;
        let at = |bay: u16| Cell { bay, ..cell };
        Some([at(cell.bay - 1), at(cell.bay + 1)])
    }

    /// The outermost row on either side.
    #[must_use]
    pub fn outer_row(&self, row: u8) -> bool {
        row + 2 >= self.rows
    }

    /// True when nothing stands on `cell` of a 40 ft stack.
    #[must_use]
    pub fn top_of_stack(&self, cell: Cell) -> bool {
        let bay = if cell.bay % 2 == 1 { cell.bay / 4 * 4 + 2 } else { cell.bay };
        let stack = self
            .stacks
            .iter()
            .find(|s| s.bay == bay && s.row == cell.row && s.on_deck == cell.on_deck());
        stack.is_none_or(|s| s.next_tier().is_none_or(|t| t == cell.tier + 2))
    }

    /// Gives up the uppermost cell of a stack.
    pub fn leave(&mut self, cell: Cell) {
        let at_top = self.top_of_stack(cell);
        let stack = self
            .stacks
            .iter_mut()
            .find(|s| s.bay == cell.bay && s.row == cell.row && s.on_deck == cell.on_deck());
        if let Some(s) = stack.filter(|_| at_top) {
            s.height = s.height.saturating_sub(1);
        }
    }

    fn put(&mut self, i: usize) -> Option<Cell> {
        let stack = self.stacks.get_mut(i)?;
        let tier = stack.next_tier()?;
        stack.height += 1;
        Some(Cell { bay: stack.bay, row: stack.row, tier })
    }

    /// An open stack that `fits`: a few throws, the lower deck stacks first; then the first open.
    fn choose(&self, dice: &mut Dice, fits: impl Fn(&Stack) -> bool) -> Option<usize> {
        let open = |s: &Stack| s.height < s.limit() && fits(s);
        let mut best: Option<(usize, f64)> = None;
        for _ in 0..12 {
            let i = dice.below(self.stacks.len());
            let Some(s) = self.stacks.get(i).filter(|s| open(s)) else {
                continue;
            };
            // Deck before hold, low before high, with some chance in it.
            let cost = f64::from(s.height) + if s.on_deck { 0.0 } else { 0.9 } + dice.unit() * 2.0;
            if best.is_none_or(|(_, c)| cost < c) {
                best = Some((i, cost));
            }
        }
        best.map(|(i, _)| i).or_else(|| self.stacks.iter().position(open))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dice::Purpose;
    use std::collections::BTreeSet;

    #[test]
    fn every_cell_once_and_no_box_in_the_air() {
        let mut dice = Dice::new(3, Purpose::Stowage, 0);
        let mut hull = Hull::new(3600);
        assert!(hull.room() >= 3700, "{}", hull.room());
        let mut seen = BTreeSet::new();
        for c in hull.take_two_twenties(&mut dice).unwrap() {
            assert!(c.bay % 2 == 1 && seen.insert(c));
        }
        while let Some(c) = hull.take_forty(&mut dice) {
            assert!(c.bay % 4 == 2 && seen.insert(c), "{c}");
            let foot = c.tier == 82 || c.tier == 2;
            let below = |bay| seen.contains(&Cell { tier: c.tier - 2, bay, ..c });
            let carried = foot || below(c.bay) || (below(c.bay - 1) && below(c.bay + 1));
            assert!(carried, "{c}");
        }
        assert_eq!(hull.room(), 0);
    }
}
