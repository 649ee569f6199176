//! What can go wrong with a voyage file, in words a person can act on.

use std::fmt;
use std::path::{Path, PathBuf};

use rusqlite::ErrorCode;

/// Why the journal could not do what was asked.
#[derive(Debug)]
pub enum JournalError {
    /// The file exists and is no voyage; it was left untouched.
    NotAVoyage(PathBuf),
    /// There is no such file.
    Missing(PathBuf),
    /// Written by a newer program.
    TooNew {
        /// The file.
        path: PathBuf,
        /// Its format version.
        version: i64,
    },
    /// The disk is full; nothing of the command was stored.
    DiskFull(PathBuf),
    /// Another program holds the file.
    Busy(PathBuf),
    /// What is stored contradicts itself.
    Altered(String),
    /// The signing key cannot be read or made.
    Key {
        /// The key's file.
        path: PathBuf,
        /// Why, and what to do.
        why: String,
    },
    /// The operating system refused.
    Io {
        /// The file.
        path: PathBuf,
        /// The system's words.
        source: std::io::Error,
    },
    /// Any other complaint of the database.
    Database {
        /// The file.
        path: PathBuf,
        /// The database's words.
        source: rusqlite::Error,
    },
}

impl fmt::Display for JournalError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotAVoyage(p) => write!(
                f,
                "{}: not a voyage file, left untouched; name another file with --voyage",
                p.display()
            ),
            Self::Missing(p) => write!(
                f,
                "{}: no such voyage file; load a list first, or name the file with --voyage",
                p.display()
            ),
            Self::TooNew { path, version } => write!(
                f,
                "{}: written by a newer Holdfast (format {version}); use that one",
                path.display()
            ),
            Self::DiskFull(p) => write!(
                f,
                "{}: no room left on the disk; nothing of this command was stored; make room and \
                 give it again",
                p.display()
            ),
            Self::Busy(p) => write!(
                f,
                "{}: another program is writing to it; wait until it is done and try again",
                p.display()
            ),
            Self::Altered(what) => write!(f, "the voyage file has been altered: {what}"),
            Self::Key { path, why } => write!(f, "signing key {}: {why}", path.display()),
            Self::Io { path, source } => write!(
                f,
                "{}: {source}; check the path and whether you may write there",
                path.display()
            ),
            Self::Database { path, source } => write!(
                f,
                "{}: the database says: {source}; copy the file before trying again",
                path.display()
            ),
        }
    }
}

impl std::error::Error for JournalError {}

impl JournalError {
    /// Gives a database complaint its file and its plain meaning.
    pub(crate) fn from_sql(path: &Path, source: rusqlite::Error) -> Self {
        let path = path.to_path_buf();
        match source.sqlite_error_code() {
            Some(ErrorCode::DiskFull) => Self::DiskFull(path),
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Busy(path),
            Some(ErrorCode::NotADatabase) => Self::NotAVoyage(path),
            Some(ErrorCode::DatabaseCorrupt) => {
                Self::Altered(format!("{}: the database is damaged ({source})", path.display()))
            }
            _ => Self::Database { path, source },
        }
    }

    pub(crate) fn from_io(path: &Path, source: std::io::Error) -> Self {
        let path = path.to_path_buf();
        match source.kind() {
            std::io::ErrorKind::NotFound => Self::Missing(path),
            std::io::ErrorKind::StorageFull => Self::DiskFull(path),
            _ => Self::Io { path, source },
        }
    }
}
