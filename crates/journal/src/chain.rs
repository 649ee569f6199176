//! Hashes of entries and of the whole log.

use record::digest::{Digest, Hasher};

/// Everything an entry's hash covers.
pub struct EntryHash<'a> {
    /// Position, from 1.
    pub seq: i64,
    /// Kind, for example `take`.
    pub kind: &'a str,
    /// When it was entered, milliseconds UTC.
    pub at_ms: i64,
    /// Who entered it.
    pub who: &'a str,
    /// Body.
    pub body: &'a [u8],
    /// Names and hashes of the original files.
    pub originals: &'a [(String, Digest)],
    /// How many rows.
    pub row_count: i64,
    /// Hash over the rows.
    pub rows: Digest,
    /// Hash of the entry before.
    pub prev: Digest,
}

impl EntryHash<'_> {
    /// SHA-256 over all parts, each with its length.
    #[must_use]
    pub fn digest(&self) -> Digest {
        let mut h = Hasher::new("holdfast entry 1");
        h.number(self.seq);
        h.piece(self.kind.as_bytes());
        h.number(self.at_ms);
        h.piece(self.who.as_bytes());
        h.piece(self.body);
        h.number(self.originals.len() as i64);
        for (name, sha) in self.originals {
            h.piece(name.as_bytes());
            h.piece(&sha.0);
        }
        h.number(self.row_count);
        h.piece(&self.rows.0);
        h.piece(&self.prev.0);
        h.finish()
    }
}

/// A running hash over an entry's rows in the order (series, instant, number).
pub(crate) struct RowsHash(Hasher);

impl RowsHash {
    pub(crate) fn new() -> Self {
        Self(Hasher::new("holdfast rows 1"))
    }

    pub(crate) fn row(&mut self, series: &str, t_ms: i64, n: i64, bytes: &[u8]) {
        self.0.piece(series.as_bytes());
        self.0.number(t_ms);
        self.0.number(n);
        self.0.piece(bytes);
    }

    pub(crate) fn finish(self) -> Digest {
        self.0.finish()
    }
}

/// Merkle tree hash of the entries' hashes after RFC 9162 §2.1.1: leaf = SHA-256(0x00 ‖ entry),
/// node = SHA-256(0x01 ‖ left ‖ right), split at the largest power of two below n; the root of
/// nothing is SHA-256 of nothing.
#[must_use]
pub fn merkle_root<T: AsRef<[u8]>>(entries: &[T]) -> Digest {
    match entries {
        [] => Digest::of(b""),
        [one] => Digest::of(&[&[0u8], one.as_ref()].concat()),
        many => {
            let split = (many.len() - 1).checked_ilog2().map_or(1, |p| 1usize << p);
            let (left, right) = many.split_at(split.min(many.len() - 1));
            let (l, r) = (merkle_root(left), merkle_root(right));
            Digest::of(&[&[1u8][..], &l.0, &r.0].concat())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The usual eight leaves of Certificate Transparency's reference vectors (RFC 6962/9162);
    /// roots as printed in reference/interchange.md §6.1.
    #[test]
    fn rfc_9162_vectors() {
        let leaves: [&[u8]; 8] = [
            b"",
            b"\x00",
            b"\x10",
            b"\x20\x21",
            b"\x30\x31",
            b"\x40\x41\x42\x43",
            b"\x50\x51\x52\x53\x54\x55\x56\x57",
            b"\x60\x61\x62\x63\x64\x65\x66\x67\x68\x69\x6a\x6b\x6c\x6d\x6e\x6f",
        ];
        let root = |n: usize| merkle_root(&leaves[..n]).to_string();
        assert!(root(0).starts_with("e3b0c442") && root(0).ends_with("b855"));
        assert!(root(1).starts_with("6e340b9c") && root(1).ends_with("a01d"));
        assert!(root(2).starts_with("fac54203") && root(2).ends_with("c125"));
        assert!(root(3).starts_with("aeb6bcfe") && root(3).ends_with("6e77"));
        assert!(root(7).starts_with("ddb89be4") && root(7).ends_with("4c8c"));
        assert_eq!(root(8), "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328");
    }
}
