//! Plain decimal numbers as people and loggers write them.

use std::fmt;

/// Why a text is not a number we read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotANumber {
    /// Nothing but digits, one decimal mark and a leading sign is a plain decimal.
    NotPlain,
    /// A comma followed by three digits: a decimal comma or a thousands mark, nobody can say.
    AmbiguousComma,
    /// More digits than any instrument writes.
    TooLong,
}

impl fmt::Display for NotANumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::NotPlain => {
                "is not a plain decimal number (digits, one point, a sign in front; no unit)"
            }
            Self::AmbiguousComma => {
                "could be a decimal comma or a thousands mark; write it with a point"
            }
            Self::TooLong => "has more than 24 characters; write it shorter",
        })
    }
}

/// Which mark may stand between whole and fraction.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DecimalMark {
    /// Only a point: `-18.5`.
    Point,
    /// A point or a comma: `-18,5` (semicolon files, quoted cells, EDIFACT).
    PointOrComma,
}

/// Reads a plain decimal: optional sign, digits, optionally one decimal mark with digits.
///
/// # Errors
/// [`NotANumber`] for anything else: exponents, `nan`, `inf`, unit signs, thousands marks, spaces
/// inside. Surrounding white space is allowed.
pub fn parse(text: &str, mark: DecimalMark) -> Result<f64, NotANumber> {
    let t = text.trim();
    if t.len() > 24 {
        return Err(NotANumber::TooLong);
    }
    let body = t.strip_prefix(['-', '+']).unwrap_or(t);
    let comma_allowed = mark == DecimalMark::PointOrComma;
    let is_mark = |b: u8| b == b'.' || (comma_allowed && b == b',');
    let marks = body.bytes().filter(|b| is_mark(*b)).count();
    let digits = body.bytes().filter(u8::is_ascii_digit).count();
    if digits == 0 || marks > 1 || digits + marks != body.len() {
        return Err(NotANumber::NotPlain);
    }
    if let Some((whole, fraction)) = body.split_once(',') {
        let leads_with_zero = whole.is_empty() || whole.starts_with('0');
        if fraction.len() == 3 && !leads_with_zero {
            return Err(NotANumber::AmbiguousComma);
        }
        return t.replace(',', ".").parse().map_err(|_| NotANumber::NotPlain);
    }
    t.parse().map_err(|_| NotANumber::NotPlain)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_what_displays_show() {
        for (text, value) in [
            ("-18.0", -18.0),
            ("+5", 5.0),
            ("00.6", 0.6),
            ("-03.0", -3.0),
            (".5", 0.5),
            ("7.", 7.0),
        ] {
            assert_eq!(parse(text, DecimalMark::Point), Ok(value), "{text}");
        }
        assert_eq!(parse("-18,5", DecimalMark::PointOrComma), Ok(-18.5));
        assert_eq!(parse("0,125", DecimalMark::PointOrComma), Ok(0.125));
    }

    #[test]
    fn refuses_what_could_be_misread() {
        for text in ["", "-", ".", "nan", "inf", "1e3", "-18C", "1.2.3", "1 000", "--5", "−5"] {
            assert_eq!(parse(text, DecimalMark::PointOrComma), Err(NotANumber::NotPlain), "{text}");
        }
        assert_eq!(parse("1,5", DecimalMark::Point), Err(NotANumber::NotPlain));
        assert_eq!(parse("1,234", DecimalMark::PointOrComma), Err(NotANumber::AmbiguousComma));
        assert_eq!(parse("1.234,5", DecimalMark::PointOrComma), Err(NotANumber::NotPlain));
    }
}
