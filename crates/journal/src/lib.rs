//! The journal: one SQLite file per voyage, append-only, hash-chained.
//!
//! It knows bytes and order, not meaning. An entry holds a body, the original files it came
//! from (compressed, under their SHA-256) and rows: small byte strings filed under a series name
//! and an instant, so that one box's readings are found at once. Each entry's hash covers all of
//! these and the hash of the entry before.
//!
//! Nothing is ever changed or deleted: a correction is a further entry. What was acknowledged
//! survives a crash (write-ahead log, synced at every commit).

mod chain;
mod error;
mod key_file;
mod open;
mod proof;
mod read;
mod schema;
mod seal;
mod tree;
mod verify;
mod wal;
mod write;

pub use chain::EntryHash;
pub use error::JournalError;
pub use key_file::{key_place, load_or_make_key};
pub use proof::{EntriesCheck, ProofBook, check_entries};
pub use read::{Entry, OriginalRef, StoredRow, gunzip, gzip, inflate};
pub use record::sign;
pub use tree::{Tree, is_continued, is_included, leaf_hash, merkle_root};
pub use verify::Verification;
pub use write::{NewEntry, NewOriginal, Writer};

use std::path::{Path, PathBuf};

use rusqlite::Connection;

/// An open voyage file.
pub struct Journal {
    conn: Connection,
    path: PathBuf,
}

impl Journal {
    /// The file it lives in.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }
}

impl Journal {
    /// Lets a test make the disk look full: no more than `pages` pages of the file.
    #[doc(hidden)]
    pub fn limit_pages_for_test(&self, pages: i64) {
        let _ = self.conn.pragma_update(None, "max_page_count", pages);
    }
}
