//! A file that somebody else is writing: which of its bytes can be trusted at this look.

/// Looks in a row that a shorter file is waited for: whoever rewrites it whole is in the middle.
const PATIENCE: u32 = 5;

/// What a look found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Found {
    /// Nothing new.
    Same,
    /// Whole lines that were not there before.
    Grown,
    /// Shorter than before: cut, or being written again; wait for the next look.
    Shorter,
    /// It stays shorter: what it holds now counts.
    Cut,
    /// Other lines than before: what it holds now counts.
    Replaced,
}

/// What is known of the file.
#[derive(Debug, Default)]
pub struct Growing {
    taken: Vec<u8>,
    shorter: u32,
}

/// The bytes up to the end of the last whole line.
pub fn whole_lines(bytes: &[u8]) -> &[u8] {
    let end = bytes.iter().rposition(|b| *b == b'\n').map_or(0, |i| i + 1);
    bytes.get(..end).unwrap_or(bytes)
}

impl Growing {
    /// Whole lines taken so far.
    pub fn taken(&self) -> &[u8] {
        &self.taken
    }

    /// Compares the file as it is now with what was taken, and takes what can be.
    pub fn look(&mut self, bytes: &[u8]) -> Found {
        let whole = whole_lines(bytes);
        if whole == self.taken {
            self.shorter = 0;
            return Found::Same;
        }
        if self.taken.starts_with(whole) {
            self.shorter += 1;
            if self.shorter < PATIENCE {
                return Found::Shorter;
            }
            return self.take(whole, Found::Cut);
        }
        if whole.starts_with(&self.taken) {
            return self.take(whole, Found::Grown);
        }
        self.take(whole, Found::Replaced)
    }

    fn take(&mut self, whole: &[u8], found: Found) -> Found {
        self.taken = whole.to_vec();
        self.shorter = 0;
        found
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_counts_when_it_has_its_end() {
        let mut g = Growing::default();
        assert_eq!(g.look(b""), Found::Same);
        assert_eq!(g.look(b"minutes,pressure_um\n0,3"), Found::Grown);
        assert_eq!(g.taken(), b"minutes,pressure_um\n");
        assert_eq!(g.look(b"minutes,pressure_um\n0,30"), Found::Same);
        assert_eq!(g.look(b"minutes,pressure_um\n0,300\n1,"), Found::Grown);
        assert_eq!(g.taken(), b"minutes,pressure_um\n0,300\n");
    }

    #[test]
    fn written_anew_is_waited_for_and_cut_is_believed_in_the_end() {
        let mut g = Growing::default();
        g.look(b"a\n1\n2\n");
        // Rewritten whole: empty, part, all and one more.
        assert_eq!(g.look(b""), Found::Shorter);
        assert_eq!(g.look(b"a\n1\n"), Found::Shorter);
        assert_eq!(g.look(b"a\n1\n2\n3\n"), Found::Grown);
        for _ in 1..PATIENCE {
            assert_eq!(g.look(b"a\n1\n"), Found::Shorter);
            assert_eq!(g.taken(), b"a\n1\n2\n3\n");
        }
        assert_eq!(g.look(b"a\n1\n"), Found::Cut);
        assert_eq!(g.look(b"a\n7\n"), Found::Replaced);
        assert_eq!(g.taken(), b"a\n7\n");
    }
}
