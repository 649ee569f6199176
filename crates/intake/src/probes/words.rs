//! Eight bytes at a time: digits told from other bytes and turned into numbers.
//!
//! A word holds eight bytes of text, the first in its lowest byte.

/// Repeats a byte through a word.
const fn each(byte: u8) -> u64 {
    u64::from_le_bytes([byte; 8])
}

/// The eight bytes at `at`.
pub(super) fn load(bytes: &[u8], at: usize) -> Option<u64> {
    bytes.get(at..)?.first_chunk::<8>().map(|b| u64::from_le_bytes(*b))
}

/// The top bit of every byte that is no digit. `values` is a word XOR "00000000".
pub(super) fn not_digits(values: u64) -> u64 {
    ((values & each(0x7F)).wrapping_add(each(0x76)) | values) & each(0x80)
}

/// The number of eight digits given as values 0 to 9, the highest in the lowest byte.
pub(super) fn number(values: u64) -> u64 {
    let pairs = values.wrapping_mul(10).wrapping_add(values >> 8) & 0x00FF_00FF_00FF_00FF;
    let fours = pairs.wrapping_mul(100).wrapping_add(pairs >> 16) & 0x0000_FFFF_0000_FFFF;
    fours.wrapping_mul(10_000).wrapping_add(fours >> 32) & 0xFFFF_FFFF
}

/// A plain decimal at the beginning of a cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Short {
    /// Its digits as a number, with the sign.
    pub(super) mantissa: i32,
    /// Digits behind the mark.
    pub(super) scale: u8,
    /// Bytes it takes; 0 for an empty cell.
    pub(super) length: usize,
}

/// Reads a number of up to seven characters behind its sign; what follows it is for the caller
/// to look at. `comma`: a decimal comma is a mark too. `None` for whatever is longer or unusual.
#[inline(always)]
pub(super) fn short_decimal(bytes: &[u8], at: usize, comma: bool) -> Option<Short> {
    let word = load(bytes, at)?;
    let negative = word & 0xFF == u64::from(b'-');
    let values = (word >> (u32::from(negative) * 8)) ^ each(b'0');
    let others = not_digits(values);
    let first = others.trailing_zeros() / 8;
    if first == 8 {
        return None;
    }
    let mark = ((values >> (first * 8)) & 0xFF) as u8 ^ b'0';
    let below = (1u64 << (first * 8)) - 1;
    let (digits, count, scale, used);
    if mark == b'.' || (comma && mark == b',') {
        let second = (others & others.wrapping_sub(1)).trailing_zeros() / 8;
        if second == 8 {
            return None;
        }
        // The mark is taken out from between the digits.
        digits = (values & below) | ((values >> 8) & !below);
        (count, scale, used) = (second - 1, second - first - 1, second);
        // "1,234" may be a thousand.
        if mark == b',' && scale == 3 {
            return None;
        }
    } else {
        (digits, count, scale, used) = (values, first, 0, first);
    }
    if count == 0 {
        let empty = used == 0 && !negative;
        return empty.then_some(Short { mantissa: 0, scale: 0, length: 0 });
    }
    let magnitude = number(digits << ((8 - count) * 8)) as i32;
    Some(Short {
        mantissa: if negative { -magnitude } else { magnitude },
        scale: scale as u8,
        length: used as usize + usize::from(negative),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use units::decimal::{DecimalMark, parse};

    fn short(text: &str, comma: bool) -> Option<Short> {
        short_decimal(format!("{text},more than eight").as_bytes(), 0, comma)
    }

    #[test]
    fn numbers_of_eight_digits() {
        for n in [0u64, 1, 9, 10, 12_345_678, 99_999_999, 10_000_000, 90_909_090] {
            let text = format!("{n:08}");
            let word = load(text.as_bytes(), 0).unwrap();
            assert_eq!(number(word ^ each(b'0')), n);
            assert_eq!(not_digits(word ^ each(b'0')), 0);
        }
        for b in 0..=255u8 {
            let is = not_digits(each(b) ^ each(b'0')) == 0;
            assert_eq!(is, b.is_ascii_digit(), "{b}");
        }
    }

    #[test]
    fn short_decimals() {
        let ok = |mantissa, scale, length| Some(Short { mantissa, scale, length });
        for (text, want) in [
            ("0.52", ok(52, 2, 4)),
            ("-0.52", ok(-52, 2, 5)),
            ("1", ok(1, 0, 1)),
            ("-18.5", ok(-185, 1, 5)),
            (".5", ok(5, 1, 2)),
            ("7.", ok(7, 0, 2)),
            ("-0.0", ok(0, 1, 4)),
            ("999.9", ok(9999, 1, 5)),
            ("0000007", ok(7, 0, 7)),
            ("-123.456", ok(-123_456, 3, 8)),
            ("", ok(0, 0, 0)),
            ("-", None),
            (".", None),
            ("-.", None),
            ("12345678", None),
            ("1.234567", None),
        ] {
            assert_eq!(short(text, false), want, "{text}");
        }
        let with = |text: &str| short_decimal(format!("{text};and more").as_bytes(), 0, true);
        assert_eq!(with("1,5"), ok(15, 1, 3));
        assert_eq!(with("1,234"), None);
        assert_eq!(with("1.234"), ok(1234, 3, 5));
    }

    proptest::proptest! {
        /// Whatever is read at all is read as the complete reader of numbers reads it.
        #[test]
        fn agrees_with_the_complete_reader(text in "-?[0-9]{0,5}[.]?[0-9]{0,4}") {
            match short(&text, false) {
                Some(s) if s.length == text.len() && s.length > 0 => {
                    let value = f64::from(s.mantissa) / 10f64.powi(i32::from(s.scale));
                    proptest::prop_assert_eq!(parse(&text, DecimalMark::Point), Ok(value));
                }
                // What was left is no end of a cell: the caller sees it.
                Some(s) => proptest::prop_assert!(s.length == 0 || s.length < text.len()),
                None => {}
            }
        }
    }
}
