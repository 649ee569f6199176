//! Bytes as hexadecimal digits. Only lower-case digits are read, so that one value has one text
//! and nothing can be rewritten unseen.

use std::fmt::Write as _;

/// Two lower-case digits a byte.
#[must_use]
pub fn text(bytes: &[u8]) -> String {
    let mut out = String::with_capacity(2 * bytes.len());
    for b in bytes {
        // Writing into memory does not fail.
        let _ = write!(out, "{b:02x}");
    }
    out
}

/// The bytes of a text that [`text`] made; `None` of any other.
#[must_use]
pub fn bytes(text: &str) -> Option<Vec<u8>> {
    let digits = text.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'));
    if !digits || !text.len().is_multiple_of(2) {
        return None;
    }
    (0..text.len() / 2).map(|i| u8::from_str_radix(text.get(2 * i..2 * i + 2)?, 16).ok()).collect()
}

/// As [`bytes`], of exactly `N` bytes.
#[must_use]
pub fn array<const N: usize>(text: &str) -> Option<[u8; N]> {
    bytes(text)?.try_into().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4648 §10, base 16 of "foobar", in the lower case that this project writes.
    #[test]
    fn one_value_has_one_text() {
        assert_eq!(text(b"foobar"), "666f6f626172");
        assert_eq!(bytes("666f6f626172").as_deref(), Some(&b"foobar"[..]));
        assert_eq!(array::<3>("666f6f"), Some(*b"foo"));
        for bad in ["666F6f", "666f6", "+f", "6 ", "zz", "é"] {
            assert_eq!(bytes(bad), None, "{bad}");
        }
        assert_eq!(array::<3>("666f"), None);
    }
}
