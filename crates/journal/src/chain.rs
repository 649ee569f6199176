//! Hashes of entries.

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
