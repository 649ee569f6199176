//! Stowage cells after ISO 9711: bay, row, tier.

use std::fmt;

use serde::{Deserialize, Serialize};

/// Tiers from here up are on deck. Decks start at 82 on most ships, at 80 or 72 on some; hold
/// tiers do not reach 70 (ISO 9711 practice, reference/interchange.md §2.3).
pub const DECK_TIER_MIN: u8 = 70;

/// A place in the ship. Odd bays hold 20 ft boxes, the even bay between two of them a 40 ft box.
/// Row 00 is on the centre line, odd rows to starboard, even rows to port. Tiers count upward.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Cell {
    /// Bay from the bow.
    pub bay: u16,
    /// Row across the ship.
    pub row: u8,
    /// Tier upward.
    pub tier: u8,
}

impl Cell {
    /// Reads `BBBRRTT`, or `BBRRTT` as some senders write it.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        if !text.bytes().all(|b| b.is_ascii_digit()) {
            return None;
        }
        let split = match text.len() {
            7 => 3,
            6 => 2,
            _ => return None,
        };
        Some(Self {
            bay: text.get(..split)?.parse().ok()?,
            row: text.get(split..split + 2)?.parse().ok()?,
            tier: text.get(split + 2..)?.parse().ok()?,
        })
    }

    /// True on deck, false in the hold.
    #[must_use]
    pub fn on_deck(self) -> bool {
        self.tier >= DECK_TIER_MIN
    }

    /// Rows from the centre line: negative to port, positive to starboard, row 00 in the middle.
    #[must_use]
    pub fn rows_from_centre(self) -> i16 {
        let half = i16::from(self.row.div_ceil(2));
        if self.row % 2 == 1 { half } else { -half }
    }
}

impl fmt::Display for Cell {
    /// `bay 022 row 03 tier 82`, as it is said over the radio.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "bay {:03} row {:02} tier {:02}", self.bay, self.row, self.tier)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `0780690` = bay 078, row 06, tier 90 and `380886` = bay 38, row 08, tier 86
    /// (reference/interchange.md §1.4, §2.3, sources S5, S16).
    #[test]
    fn reads_both_lengths() {
        assert_eq!(Cell::parse("0780690"), Some(Cell { bay: 78, row: 6, tier: 90 }));
        assert_eq!(Cell::parse("380886"), Some(Cell { bay: 38, row: 8, tier: 86 }));
        for text in ["", "07806", "07806901", "0A80690", " 780690"] {
            assert_eq!(Cell::parse(text), None, "{text}");
        }
    }

    #[test]
    fn deck_and_side() {
        let cell = |text| Cell::parse(text).unwrap();
        assert!(cell("0220382").on_deck() && cell("0220372").on_deck());
        assert!(!cell("0220306").on_deck());
        assert_eq!(cell("0220082").rows_from_centre(), 0);
        assert_eq!(cell("0220182").rows_from_centre(), 1);
        assert_eq!(cell("0220382").rows_from_centre(), 2);
        assert_eq!(cell("0220282").rows_from_centre(), -1);
        assert_eq!(cell("0220482").rows_from_centre(), -2);
    }
}
