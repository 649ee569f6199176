//! SHA-256 (FIPS 180-4), the one hash of the house.

use std::fmt;

use sha2::{Digest as _, Sha256};

/// A SHA-256 value.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Digest(pub [u8; 32]);

impl Digest {
    /// The hash of nothing has its place: it stands before the first entry.
    pub const ZERO: Self = Self([0; 32]);

    /// SHA-256 of `bytes`.
    #[must_use]
    pub fn of(bytes: &[u8]) -> Self {
        Self(Sha256::digest(bytes).into())
    }

    /// From 32 bytes as stored.
    #[must_use]
    pub fn from_slice(bytes: &[u8]) -> Option<Self> {
        bytes.try_into().ok().map(Self)
    }

    /// From 64 hexadecimal digits.
    #[must_use]
    pub fn from_hex(text: &str) -> Option<Self> {
        let mut out = [0u8; 32];
        if text.len() != 64 || !text.is_ascii() {
            return None;
        }
        for (i, byte) in out.iter_mut().enumerate() {
            *byte = u8::from_str_radix(text.get(2 * i..2 * i + 2)?, 16).ok()?;
        }
        Some(Self(out))
    }
}

impl fmt::Display for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|b| write!(f, "{b:02x}"))
    }
}

impl fmt::Debug for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

/// A running SHA-256 over pieces whose lengths are hashed too, so that no two different
/// sequences of pieces have the same bytes.
#[derive(Clone, Default)]
pub struct Hasher(Sha256);

impl Hasher {
    /// Starts with a name for what is hashed, so that hashes of different things never meet.
    #[must_use]
    pub fn new(domain: &str) -> Self {
        let mut h = Self(Sha256::new());
        h.piece(domain.as_bytes());
        h
    }

    /// Adds one piece: its length as 8 bytes little-endian, then its bytes.
    pub fn piece(&mut self, bytes: &[u8]) {
        self.0.update((bytes.len() as u64).to_le_bytes());
        self.0.update(bytes);
    }

    /// Adds a whole number as 8 bytes little-endian.
    pub fn number(&mut self, n: i64) {
        self.0.update(n.to_le_bytes());
    }

    /// The hash of all pieces.
    #[must_use]
    pub fn finish(self) -> Digest {
        Digest(self.0.finalize().into())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// FIPS 180-4 example: SHA-256 of "abc".
    #[test]
    fn published_vector() {
        let want = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(Digest::of(b"abc").to_string(), want);
        assert_eq!(Digest::from_hex(want), Some(Digest::of(b"abc")));
    }
}
