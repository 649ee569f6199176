//! Container identification after ISO 6346.

use std::fmt;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

/// A container's number as held: upper case, no spaces or hyphens. It need not be a valid
/// ISO 6346 number: the box is physically there whatever its paint says.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct UnitId(Arc<str>);

impl UnitId {
    /// The number in `text` without spaces and hyphens, in upper case; `None` when nothing is
    /// left.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        let kept: String = text
            .chars()
            .filter(|c| !c.is_whitespace() && *c != '-')
            .flat_map(char::to_uppercase)
            .collect();
        (!kept.is_empty()).then(|| Self(kept.into()))
    }

    /// The number as text, for example `QQQU1000011`.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Four letters and seven digits: the form of an ISO 6346 number, right check digit or not.
    #[must_use]
    pub fn has_iso_form(&self) -> bool {
        let b = self.0.as_bytes();
        b.len() == 11
            && b.iter().take(4).all(u8::is_ascii_uppercase)
            && b.iter().skip(4).all(u8::is_ascii_digit)
    }

    /// True when the eleventh character is the check digit of the first ten.
    #[must_use]
    pub fn check_digit_ok(&self) -> bool {
        match (self.0.get(..10), self.0.get(10..)) {
            (Some(body), Some(last)) => {
                check_digit(body).is_some_and(|d| last == d.to_string().as_str())
            }
            _ => false,
        }
    }

    /// The check digit the number should have, where it has the ISO form.
    #[must_use]
    pub fn expected_check_digit(&self) -> Option<u8> {
        self.0.get(..10).and_then(check_digit)
    }
}

impl fmt::Display for UnitId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// ISO 6346 check digit of owner code, category letter and serial (ten characters): letter
/// values from 10 up leaving out multiples of 11, position i weighted by 2^i, the sum modulo 11,
/// remainder 10 written as 0. `None` when the text is not four letters and six digits.
///
/// # Reference
/// ISO 6346:1995, annex A (read in the sources named in the tests).
#[must_use]
pub fn check_digit(body: &str) -> Option<u8> {
    let b = body.as_bytes();
    if b.len() != 10 {
        return None;
    }
    let mut sum = 0u32;
    for (i, c) in b.iter().enumerate() {
        let value = match c {
            b'A'..=b'Z' if i < 4 => letter_value(*c),
            b'0'..=b'9' if i >= 4 => u32::from(c - b'0'),
            _ => return None,
        };
        sum += value << i;
    }
    u8::try_from(sum % 11 % 10).ok()
}

/// A=10, B=12 … Z=38; 11, 22 and 33 are skipped.
fn letter_value(letter: u8) -> u32 {
    let n = u32::from(letter - b'A');
    let plain = n + 10;
    plain + u32::from(n >= 1) + u32::from(n >= 11) + u32::from(n >= 21)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ok(text: &str) -> bool {
        UnitId::from_text(text).unwrap().check_digit_ok()
    }

    /// Worked example printed on a public check-digit page (reference/interchange.md §2.1, source
    /// S11): products of MWCU605978 sum to 7858, remainder 4.
    #[test]
    fn published_worked_example() {
        assert_eq!(check_digit("MWCU605978"), Some(4));
        assert!(ok("MWCU 605978-4"));
    }

    /// Result printed in a function manual (source S12).
    #[test]
    fn published_result() {
        assert!(ok("CSQU3054383"));
    }

    /// Vectors computed in reference/interchange.md §2.1, one with remainder 10 written as 0.
    #[test]
    fn further_vectors() {
        for text in [
            "APZU4812090",
            "CSNU1487660",
            "FBIU5188630",
            "QQQU1000011",
            "QQQU1000027",
            "QQQU1000032",
            "QQQU2000016",
            "QQQU3000010",
            "QQQU1000080",
        ] {
            assert!(ok(text), "{text}");
        }
        assert!(!ok("QQQU1000012"));
    }

    /// Letter values as printed in ISO 6346 (source S10), each end of each skipped multiple.
    #[test]
    fn letter_values() {
        for (l, v) in
            [(b'A', 10), (b'B', 12), (b'K', 21), (b'L', 23), (b'U', 32), (b'V', 34), (b'Z', 38)]
        {
            assert_eq!(letter_value(l), v, "{}", l as char);
        }
    }

    #[test]
    fn forms_that_are_no_number() {
        for text in ["CONTAINER", "QQQU100001", "QQQU10000111", "1QQU1000011", "é"] {
            assert!(!ok(text), "{text}");
        }
        assert_eq!(UnitId::from_text("  - "), None);
    }
}
