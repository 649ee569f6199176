//! Opening and creating a voyage file.

use std::fs::{self, File};
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, OpenFlags};

use crate::schema::{APPLICATION_ID, FORMAT_VERSION, TABLES};
use crate::seal::seal;
use crate::{Journal, JournalError};

/// How long to wait for another program that is writing.
const BUSY_WAIT: Duration = Duration::from_secs(10);

impl Journal {
    /// Opens an existing voyage file.
    ///
    /// # Errors
    /// [`JournalError::Missing`], [`JournalError::NotAVoyage`] (the file is left untouched),
    /// [`JournalError::TooNew`], or what the system says.
    pub fn open(path: &Path) -> Result<Self, JournalError> {
        check_header(path)?;
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let sql = |e| JournalError::from_sql(path, e);
        let conn = Connection::open_with_flags(path, flags).map_err(sql)?;
        settle(&conn).map_err(sql)?;
        let version: i64 =
            conn.pragma_query_value(None, "user_version", |r| r.get(0)).map_err(sql)?;
        if version > i64::from(FORMAT_VERSION) {
            return Err(JournalError::TooNew { path: path.to_path_buf(), version });
        }
        Ok(Self { conn, path: path.to_path_buf() })
    }

    /// True when the file begins as a voyage file does.
    #[must_use]
    pub fn is_voyage(path: &Path) -> bool {
        check_header(path).is_ok()
    }

    /// Opens a voyage file, creating it when there is none. A new file appears whole or not at
    /// all: it is made beside its place and moved there.
    ///
    /// # Errors
    /// As [`Journal::open`]; also when the folder cannot be written.
    pub fn open_or_create(path: &Path) -> Result<Self, JournalError> {
        match Self::open(path) {
            Err(JournalError::Missing(_)) => {}
            other => return other,
        }
        let beside = beside(path);
        let made = create_at(&beside).and_then(|()| put_in_place(&beside, path));
        let _ = fs::remove_file(&beside);
        made?;
        Self::open(path)
    }
}

/// A name next to the voyage file, one per process.
fn beside(path: &Path) -> PathBuf {
    let mut name = path.file_name().unwrap_or_default().to_os_string();
    name.push(format!(".new-{}", std::process::id()));
    path.with_file_name(name)
}

fn create_at(path: &Path) -> Result<(), JournalError> {
    let _ = fs::remove_file(path);
    let sql = |e| JournalError::from_sql(path, e);
    let folder_ok = path.parent().is_none_or(|p| p.as_os_str().is_empty() || p.is_dir());
    if !folder_ok {
        let source = std::io::Error::other("its folder does not exist");
        return Err(JournalError::Io { path: path.to_path_buf(), source });
    }
    let mut conn = Connection::open(path).map_err(sql)?;
    conn.pragma_update(None, "application_id", APPLICATION_ID).map_err(sql)?;
    conn.execute_batch(TABLES).map_err(sql)?;
    settle(&conn).map_err(sql)?;
    conn.execute_batch("BEGIN IMMEDIATE").map_err(sql)?;
    seal(&mut conn).map_err(sql)?;
    conn.execute_batch("COMMIT").map_err(sql)?;
    conn.close().map_err(|(_, e)| sql(e))?;
    File::open(path).and_then(|f| f.sync_all()).map_err(|e| JournalError::from_io(path, e))
}

/// Gives the new file its name without ever overwriting another.
fn put_in_place(from: &Path, to: &Path) -> Result<(), JournalError> {
    match fs::hard_link(from, to) {
        Ok(()) => {}
        // Somebody else was quicker: theirs stands.
        Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => return Ok(()),
        // File systems without hard links (memory sticks).
        Err(_) if !to.exists() => {
            fs::rename(from, to).map_err(|e| JournalError::from_io(to, e))?;
        }
        Err(e) => return Err(JournalError::from_io(to, e)),
    }
    let folder = to.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    // Not every system lets a folder be synced; the file itself has been.
    let _ = File::open(folder).and_then(|f| f.sync_all());
    Ok(())
}

/// Settings of every connection: write-ahead log, synced at each commit.
fn settle(conn: &Connection) -> rusqlite::Result<()> {
    conn.busy_timeout(BUSY_WAIT)?;
    conn.pragma_update(None, "journal_mode", "WAL")?;
    conn.pragma_update(None, "synchronous", "FULL")?;
    conn.pragma_update(None, "foreign_keys", "ON")?;
    conn.pragma_update(None, "temp_store", "MEMORY")?;
    conn.pragma_update(None, "cache_size", -64_000)?;
    Ok(())
}

/// Looks at the first bytes only, so that a file that is not ours is never written to.
fn check_header(path: &Path) -> Result<(), JournalError> {
    let io = |e| JournalError::from_io(path, e);
    let mut head = [0u8; 100];
    if fs::metadata(path).map_err(io)?.is_dir() {
        return Err(JournalError::NotAVoyage(path.to_path_buf()));
    }
    let read = File::open(path).map_err(io)?.read_exact(&mut head);
    let id = head.get(68..72).and_then(|b| b.try_into().ok()).map(i32::from_be_bytes);
    let ours = read.is_ok() && head.starts_with(b"SQLite format 3\0") && id == Some(APPLICATION_ID);
    if ours { Ok(()) } else { Err(JournalError::NotAVoyage(path.to_path_buf())) }
}

/// True when bytes are plainly a voyage file, or were one before something happened to them: any
/// one of its marks is enough.
pub(crate) fn traces_of_a_voyage(bytes: &[u8], path: &Path) -> bool {
    const MAGIC: &[u8] = b"SQLite format 3\0";
    let named_so = path.extension().is_some_and(|e| e == "holdfast");
    if bytes.len() < 100 {
        let of_magic = bytes.iter().zip(MAGIC).filter(|(a, b)| a == b).count();
        return named_so || (of_magic > 0 && of_magic == bytes.len().min(MAGIC.len()));
    }
    let id = bytes.get(68..72) == Some(&APPLICATION_ID.to_be_bytes());
    let magic = bytes.get(..MAGIC.len()) == Some(MAGIC);
    let table: &[u8] = b"CREATE TABLE entry_original";
    let ours = || bytes.windows(table.len()).any(|w| w == table);
    (id && magic) || named_so || ours()
}
