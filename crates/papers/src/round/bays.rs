//! A part of the ship, by bays.

use record::RoundLine;
use record::round::walked_bay;

/// Bays asked for; none: the whole ship.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Bays(Vec<[u16; 2]>);

impl Bays {
    /// Reads `2-30,42`; an empty text is the whole ship.
    ///
    /// # Errors
    /// In words, when it is none of that.
    pub fn parse(text: &str) -> Result<Self, String> {
        let bad = || format!("\"{text}\": write bays as 2-30,42");
        let number = |t: &str| t.trim().parse::<u16>().map_err(|_| bad());
        if text.trim().is_empty() {
            return Ok(Self::default());
        }
        let one = |piece: &str| {
            let (a, b) = piece.split_once('-').unwrap_or((piece, piece));
            let (a, b) = (number(a)?, number(b)?);
            if a > b { Err(bad()) } else { Ok([a, b]) }
        };
        text.split(',').map(one).collect::<Result<_, _>>().map(Self)
    }

    /// True where a line's bay, or the 40 ft bay that it is walked with, is asked for.
    #[must_use]
    pub fn hold(&self, l: &RoundLine) -> bool {
        let within = |b: u16| self.0.iter().any(|[from, to]| (*from..=*to).contains(&b));
        let asked = l.line.cell.is_some_and(|c| within(c.bay) || within(walked_bay(c.bay)));
        self.0.is_empty() || asked
    }

    /// `bays 002 to 030, 042`; empty for the whole ship.
    #[must_use]
    pub fn title(&self) -> String {
        let one = |[a, b]: &[u16; 2]| {
            if a == b { format!("{a:03}") } else { format!("{a:03} to {b:03}") }
        };
        match self.0.as_slice() {
            [] => String::new(),
            all => format!("bays {}", all.iter().map(one).collect::<Vec<_>>().join(", ")),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bays_are_read_as_people_write_them() {
        assert_eq!(Bays::parse("2-30, 42").unwrap().title(), "bays 002 to 030, 042");
        assert_eq!(Bays::parse(" ").unwrap().title(), "");
        for bad in ["x", "9-2", "2-", "-3", "2;3", "70000"] {
            assert!(Bays::parse(bad).is_err(), "{bad}");
        }
    }
}
