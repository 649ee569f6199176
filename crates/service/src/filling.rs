//! What is inside all seven volumes as one short word, for keeping many of them.

use crate::plant::{Content, State, Volume};

/// The letter of a content. Kept in voyage files: never change one.
#[must_use]
pub const fn letter(c: Content) -> char {
    match c {
        Content::Refrigerant => 'r',
        Content::Liquid => 'l',
        Content::RefrigerantLow => 's',
        Content::Recovered => 'e',
        Content::Vacuum => 'v',
        Content::VacuumHeld => 'h',
        Content::NitrogenPressure => 'n',
        Content::NitrogenLow => 'b',
        Content::Air => 'a',
        Content::Mixture => 'm',
    }
}

/// The seven letters of a state, in the order of [`Volume::ALL`].
#[must_use]
pub fn letters(s: &State) -> String {
    s.content.iter().map(|c| letter(*c)).collect()
}

/// The state filled as seven letters say; `None` where they do not.
#[must_use]
pub fn filled(s: &State, word: &str) -> Option<State> {
    let mut out = *s;
    let mut given = word.chars();
    for v in Volume::ALL {
        let given = given.next()?;
        out = out.with(v, Content::ALL.into_iter().find(|c| letter(*c) == given)?);
    }
    given.next().is_none().then_some(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_there_and_back() {
        let s = State::default();
        assert_eq!(letters(&s), "rrrraaa");
        for c in Content::ALL {
            let t = s.with(Volume::Centre, c);
            assert_eq!(filled(&s, &letters(&t)), Some(t));
        }
        for bad in ["", "rrrraa", "rrrraaaa", "rrrraax"] {
            assert_eq!(filled(&s, bad), None);
        }
    }
}
