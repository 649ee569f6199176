//! The ship's bays with the boxes in them.
//!
//! A block is the room of one 40 ft box lengthwise: the even bay and the two odd bays it spans.
//! Seen from aft looking forward: port (even rows) to the left, starboard (odd rows) to the
//! right, tiers upward, deck above the hatch line, hold below.

mod profile;
mod section;
mod small;

use std::collections::BTreeMap;

use record::{BoxLine, Cell, State};

pub use profile::profile;
pub use section::section;
pub use small::small;

/// How a box lies in its block.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Lie {
    /// Even bay: the whole length.
    Whole,
    /// The odd bay nearer the bow.
    Fore,
    /// The odd bay nearer the stern.
    Aft,
}

/// A box in its place.
#[derive(Debug, Clone, Copy)]
pub struct Placed<'a> {
    /// Where.
    pub cell: Cell,
    /// Whole, fore or aft half of the block.
    pub lie: Lie,
    /// What is known of it.
    pub line: &'a BoxLine,
}

/// The boxes of one even bay and its two odd bays.
#[derive(Debug, Clone)]
pub struct Block<'a> {
    /// The even bay.
    pub bay: u16,
    /// Its boxes, by row and tier.
    pub boxes: Vec<Placed<'a>>,
}

/// A box the picture cannot show.
#[derive(Debug, Clone)]
pub struct Misplaced<'a> {
    /// The box.
    pub line: &'a BoxLine,
    /// Why, in words.
    pub why: String,
}

/// All blocks from the bow, and what could not be placed.
#[derive(Debug, Clone, Default)]
pub struct Ship<'a> {
    /// Blocks by bay number.
    pub blocks: Vec<Block<'a>>,
    /// Boxes without a readable cell, or in a cell that another box holds.
    pub misplaced: Vec<Misplaced<'a>>,
}

/// The even bay of the block a bay belongs to: bays 1, 2, 3 are block 2; 5, 6, 7 block 6. An even
/// bay that is no block by this count (4, 8, …) stands for itself.
#[must_use]
pub fn block_of(bay: u16) -> u16 {
    match bay % 4 {
        1 => bay.saturating_add(1),
        3 => bay - 1,
        _ => bay,
    }
}

/// Boxes of one block under way, by row and tier.
type Slots<'a> = BTreeMap<(u8, u8), Vec<Placed<'a>>>;

impl<'a> Ship<'a> {
    /// Puts every box in its place.
    #[must_use]
    pub fn new(lines: &'a [BoxLine]) -> Self {
        let mut blocks: BTreeMap<u16, Slots<'a>> = BTreeMap::new();
        let mut misplaced = Vec::new();
        for line in lines {
            let Some(cell) = line.cell else {
                let why = match &line.stow {
                    Some(text) => format!("cell “{text}” is not readable as bay, row, tier"),
                    None => "no cell on any list".to_owned(),
                };
                misplaced.push(Misplaced { line, why });
                continue;
            };
            let bay = block_of(cell.bay);
            let lie = match cell.bay {
                b if b == bay => Lie::Whole,
                b if b < bay => Lie::Fore,
                _ => Lie::Aft,
            };
            let slot = blocks.entry(bay).or_default();
            let here = slot.entry((cell.row, cell.tier)).or_default();
            let meets = |p: &&Placed| p.lie == lie || p.lie == Lie::Whole || lie == Lie::Whole;
            if let Some(other) = here.iter().find(meets) {
                let why = format!("{} is listed in the same place ({cell})", other.line.unit);
                misplaced.push(Misplaced { line, why });
                continue;
            }
            here.push(Placed { cell, lie, line });
        }
        let blocks = blocks
            .into_iter()
            .map(|(bay, slots)| Block { bay, boxes: slots.into_values().flatten().collect() })
            .collect();
        Self { blocks, misplaced }
    }

    /// The block that a bay belongs to.
    #[must_use]
    pub fn block(&self, bay: u16) -> Option<&Block<'a>> {
        let key = block_of(bay);
        self.blocks.iter().find(|b| b.bay == key)
    }

    /// The rows and tiers any block needs, so that all small pictures share one grid.
    fn grid(&self) -> Grid {
        Grid::of(self.blocks.iter().flat_map(|b| &b.boxes))
    }
}

impl Block<'_> {
    /// `bays 21 22 23`: the bay numbers in use.
    #[must_use]
    pub fn name(&self) -> String {
        let mut bays: Vec<u16> = self.boxes.iter().map(|p| p.cell.bay).collect();
        bays.sort_unstable();
        bays.dedup();
        let list: Vec<String> = bays.iter().map(|b| format!("{b:02}")).collect();
        let word = if list.len() > 1 { "bays" } else { "bay" };
        format!("{word} {}", list.join(" "))
    }

    /// How many boxes are in a state.
    #[must_use]
    pub fn count(&self, state: State) -> usize {
        self.boxes.iter().filter(|p| p.line.state == state).count()
    }

    /// The most urgent state in the block.
    #[must_use]
    pub fn worst(&self) -> State {
        let states = self.boxes.iter().map(|p| p.line.state);
        states.max().unwrap_or(State::Ok)
    }
}

/// Which rows and tiers a picture must have room for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Grid {
    /// Outermost row on either side.
    side: i16,
    /// True when a box stands on the centre line.
    centre: bool,
    deck: Option<(u8, u8)>,
    hold: Option<(u8, u8)>,
}

impl Grid {
    fn of<'a>(boxes: impl Iterator<Item = &'a Placed<'a>>) -> Self {
        let mut g = Self { side: 1, centre: false, deck: None, hold: None };
        for p in boxes {
            let from_centre = p.cell.rows_from_centre();
            g.side = g.side.max(from_centre.abs());
            g.centre |= from_centre == 0;
            let part = if p.cell.on_deck() { &mut g.deck } else { &mut g.hold };
            let tier = p.cell.tier;
            *part = Some(part.map_or((tier, tier), |(a, b)| (a.min(tier), b.max(tier))));
        }
        g
    }

    /// Columns from port to starboard.
    fn columns(self) -> i16 {
        self.side * 2 + i16::from(self.centre)
    }

    /// Column of a row, from 0 at the outermost port row.
    fn column(self, rows_from_centre: i16) -> i16 {
        let skip = i16::from(!self.centre && rows_from_centre > 0);
        rows_from_centre + self.side - skip
    }

    /// Levels of a part: tiers two apart.
    fn levels(part: Option<(u8, u8)>) -> u8 {
        part.map_or(0, |(low, high)| (high - low).div_ceil(2) + 1)
    }

    /// Level of a tier counted from the top of its part, odd tiers half way.
    fn level(part: Option<(u8, u8)>, tier: u8) -> f64 {
        part.map_or(0.0, |(_, high)| f64::from(high - tier) / 2.0)
    }

    /// Row numbers as painted, by column.
    fn row_names(self) -> Vec<String> {
        let mut names = Vec::new();
        for n in -self.side..=self.side {
            match n {
                0 if self.centre => names.push("00".to_owned()),
                0 => {}
                n if n < 0 => names.push(format!("{:02}", n.unsigned_abs() * 2)),
                n => names.push(format!("{:02}", n.unsigned_abs() * 2 - 1)),
            }
        }
        names
    }
}

/// What a box is, in one line: read aloud and shown under the pointer.
fn title(p: &Placed) -> String {
    let l = p.line;
    let mut text = format!("{}, {}, {}", l.unit, p.cell, l.state.as_str());
    if let Some(c) = l.set_point_c {
        text.push_str(&format!(", set {}", crate::words::temp(c)));
    }
    if l.state != State::Ok {
        text.push_str(": ");
        text.push_str(&l.reason);
    }
    text
}

#[cfg(test)]
mod tests;
