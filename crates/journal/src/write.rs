//! Appending: one entry, one transaction.

use std::io::Write as _;

use record::digest::Digest;
use rusqlite::{Connection, OptionalExtension, params};
use units::Utc;

use crate::chain::{EntryHash, RowsHash};
use crate::read::{StoredRow, rows_between};
use crate::seal::seal;
use crate::{Journal, JournalError};

/// A file as it came in.
pub struct NewOriginal<'a> {
    /// Its name, without folders.
    pub name: &'a str,
    /// Its bytes.
    pub bytes: &'a [u8],
}

/// The parts of an entry that are known at its end.
pub struct NewEntry<'a> {
    /// Kind, for example `take`.
    pub kind: &'a str,
    /// When it is entered.
    pub at: Utc,
    /// Who enters it.
    pub who: &'a str,
    /// What it says.
    pub body: &'a [u8],
    /// The files it came from.
    pub originals: &'a [NewOriginal<'a>],
}

/// An entry being written. Dropped without [`Writer::commit`], it leaves no trace.
pub struct Writer<'j> {
    conn: &'j mut Connection,
    committed: bool,
    path: &'j std::path::Path,
    seq: i64,
    prev: Digest,
    rows: RowsHash,
    row_count: i64,
    last_key: Option<(String, i64)>,
}

impl Journal {
    /// Begins an entry and keeps other writers out until it is committed or dropped.
    ///
    /// # Errors
    /// [`JournalError::Busy`] when another program is writing for long.
    pub fn begin(&mut self) -> Result<Writer<'_>, JournalError> {
        let path = self.path.as_path();
        let sql = |e| JournalError::from_sql(path, e);
        let conn = &mut self.conn;
        conn.execute_batch("BEGIN IMMEDIATE").map_err(sql)?;
        let rows = RowsHash::new();
        let mut writer = Writer {
            conn,
            committed: false,
            path,
            seq: 1,
            prev: Digest::ZERO,
            rows,
            row_count: 0,
            last_key: None,
        };
        let last: Option<(i64, Vec<u8>)> = writer
            .conn
            .query_row("SELECT seq, sha256 FROM entry ORDER BY seq DESC LIMIT 1", [], |r| {
                Ok((r.get(0)?, r.get(1)?))
            })
            .optional()
            .map_err(sql)?;
        if let Some((seq, sha)) = last {
            let altered = || JournalError::Altered(format!("entry {seq} has no proper hash"));
            writer.seq = seq + 1;
            writer.prev = Digest::from_slice(&sha).ok_or_else(altered)?;
        }
        Ok(writer)
    }
}

impl Writer<'_> {
    /// Rows held of one series between two instants, both included, in order.
    ///
    /// # Errors
    /// What the database says.
    pub fn rows(&self, series: &str, from: Utc, to: Utc) -> Result<Vec<StoredRow>, JournalError> {
        rows_between(self.conn, series, from, to).map_err(|e| JournalError::from_sql(self.path, e))
    }

    /// Files one row. Rows must come ordered by series, then instant.
    ///
    /// # Errors
    /// [`JournalError::Altered`] when they do not (the entry's hash depends on the order), or
    /// what the database says.
    pub fn row(&mut self, series: &str, t: Utc, bytes: &[u8]) -> Result<(), JournalError> {
        let in_order =
            self.last_key.as_ref().is_none_or(|(s, last)| (s.as_str(), *last) <= (series, t.ms()));
        if !in_order {
            return Err(JournalError::Altered("rows filed out of order".into()));
        }
        let n = self.row_count;
        self.conn
            .prepare_cached(
                "INSERT INTO item (series, t_ms, entry, n, bytes) VALUES (?1, ?2, ?3, ?4, ?5)",
            )
            .and_then(|mut s| s.execute(params![series, t.ms(), self.seq, n, bytes]))
            .map_err(|e| JournalError::from_sql(self.path, e))?;
        self.rows.row(series, t.ms(), n, bytes);
        self.row_count += 1;
        match &mut self.last_key {
            Some((s, last)) if s == series => *last = t.ms(),
            other => *other = Some((series.to_owned(), t.ms())),
        }
        Ok(())
    }

    /// How many rows were filed so far.
    #[must_use]
    pub fn row_count(&self) -> i64 {
        self.row_count
    }

    /// Writes the entry and makes everything durable.
    ///
    /// # Errors
    /// [`JournalError::DiskFull`] and others; then nothing was stored.
    pub fn commit(mut self, entry: &NewEntry<'_>) -> Result<(i64, Digest), JournalError> {
        let path = self.path;
        let sql = |e| JournalError::from_sql(path, e);
        let mut originals = Vec::with_capacity(entry.originals.len());
        for (n, o) in entry.originals.iter().enumerate() {
            let sha = Digest::of(o.bytes);
            store_original(self.conn, &sha, o.bytes).map_err(sql)?;
            self.conn
                .execute(
                    "INSERT INTO entry_original (entry, n, name, sha256) VALUES (?1, ?2, ?3, ?4)",
                    params![self.seq, n as i64, o.name, &sha.0[..]],
                )
                .map_err(sql)?;
            originals.push((o.name.to_owned(), sha));
        }
        let rows = std::mem::replace(&mut self.rows, RowsHash::new()).finish();
        let hash = EntryHash {
            seq: self.seq,
            kind: entry.kind,
            at_ms: entry.at.ms(),
            who: entry.who,
            body: entry.body,
            originals: &originals,
            row_count: self.row_count,
            rows,
            prev: self.prev,
        }
        .digest();
        self.conn
            .execute(
                "INSERT INTO entry (seq, kind, at_ms, who, body, row_count, rows_sha256, \
                 prev_sha256, sha256) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
                params![
                    self.seq,
                    entry.kind,
                    entry.at.ms(),
                    entry.who,
                    entry.body,
                    self.row_count,
                    &rows.0[..],
                    &self.prev.0[..],
                    &hash.0[..]
                ],
            )
            .map_err(sql)?;
        seal(self.conn).map_err(sql)?;
        self.conn.execute_batch("COMMIT").map_err(sql)?;
        self.committed = true;
        Ok((self.seq, hash))
    }
}

impl Drop for Writer<'_> {
    fn drop(&mut self) {
        if !self.committed {
            // Some failures have rolled back already; then there is nothing left to do.
            let _ = self.conn.execute_batch("ROLLBACK");
        }
    }
}

/// Keeps the bytes once, whatever the number of entries that name them.
fn store_original(conn: &Connection, sha: &Digest, bytes: &[u8]) -> rusqlite::Result<()> {
    let held: Option<i64> = conn
        .query_row("SELECT 1 FROM original WHERE sha256 = ?1", [&sha.0[..]], |r| r.get(0))
        .optional()?;
    if held.is_some() {
        return Ok(());
    }
    let packed = pack(bytes);
    conn.execute(
        "INSERT INTO original (sha256, size, packed) VALUES (?1, ?2, ?3)",
        params![&sha.0[..], bytes.len() as i64, packed],
    )?;
    Ok(())
}

/// zlib (RFC 1950), quick setting: logger text shrinks about eightfold at little cost in time.
fn pack(bytes: &[u8]) -> Vec<u8> {
    let mut z = flate2::write::ZlibEncoder::new(
        Vec::with_capacity(bytes.len() / 6),
        flate2::Compression::fast(),
    );
    // Writing to memory does not fail; an unfinished stream would not verify.
    let _ = z.write_all(bytes);
    z.finish().unwrap_or_default()
}
