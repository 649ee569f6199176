//! Reading the journal back.

use std::collections::BTreeMap;
use std::io::Read as _;

use record::digest::Digest;
use rusqlite::{Connection, OptionalExtension, params};
use units::Utc;

use crate::{Journal, JournalError};

/// A row as stored.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredRow {
    /// Series it is filed under.
    pub series: String,
    /// Instant it is filed under.
    pub t: Utc,
    /// Entry that brought it.
    pub entry: i64,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// An original file as named by an entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OriginalRef {
    /// Name it came with.
    pub name: String,
    /// SHA-256 of its bytes.
    pub sha256: Digest,
    /// Its size in bytes.
    pub size: u64,
}

/// An entry as stored, without its rows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// Position, from 1.
    pub seq: i64,
    /// Kind.
    pub kind: String,
    /// When it was entered.
    pub at: Utc,
    /// Who entered it.
    pub who: String,
    /// What it says.
    pub body: Vec<u8>,
    /// The files it came from.
    pub originals: Vec<OriginalRef>,
    /// How many rows it brought.
    pub row_count: i64,
    /// Its hash.
    pub sha256: Digest,
}

const ENTRY_COLUMNS: &str = "seq, kind, at_ms, who, body, row_count, sha256";

impl Journal {
    /// Entries in order, `from_seq` the first.
    ///
    /// # Errors
    /// What the database says.
    pub fn entries(&self, from_seq: i64) -> Result<Vec<Entry>, JournalError> {
        self.entries_where("seq >= ?1 ORDER BY seq", from_seq)
    }

    /// One entry; `None` when there is no such number.
    ///
    /// # Errors
    /// What the database says.
    pub fn entry(&self, seq: i64) -> Result<Option<Entry>, JournalError> {
        Ok(self.entries_where("seq = ?1", seq)?.pop())
    }

    /// The newest entries, newest first.
    ///
    /// # Errors
    /// What the database says.
    pub fn newest_entries(&self, limit: usize) -> Result<Vec<Entry>, JournalError> {
        let limit = i64::try_from(limit).unwrap_or(i64::MAX);
        self.entries_where("1 ORDER BY seq DESC LIMIT ?1", limit)
    }

    /// The hashes of all entries, in order.
    pub(crate) fn hashes(&self) -> Result<Vec<[u8; 32]>, JournalError> {
        let read = || -> rusqlite::Result<Vec<[u8; 32]>> {
            let mut s = self.conn.prepare_cached("SELECT sha256 FROM entry ORDER BY seq")?;
            let hash = |bytes: Vec<u8>| Digest::from_slice(&bytes).unwrap_or(Digest::ZERO).0;
            s.query_map([], |r| Ok(hash(r.get(0)?)))?.collect()
        };
        read().map_err(|e| JournalError::from_sql(&self.path, e))
    }

    /// Hash over the rows and hash of the entry before, of every entry.
    pub(crate) fn chain_fields(&self) -> Result<BTreeMap<i64, (Digest, Digest)>, JournalError> {
        let read = || -> rusqlite::Result<BTreeMap<i64, (Digest, Digest)>> {
            let mut s =
                self.conn.prepare_cached("SELECT seq, rows_sha256, prev_sha256 FROM entry")?;
            let digest = |bytes: Vec<u8>| Digest::from_slice(&bytes).unwrap_or(Digest::ZERO);
            let rows =
                s.query_map([], |r| Ok((r.get(0)?, (digest(r.get(1)?), digest(r.get(2)?)))))?;
            rows.collect()
        };
        read().map_err(|e| JournalError::from_sql(&self.path, e))
    }

    fn entries_where(&self, clause: &str, param: i64) -> Result<Vec<Entry>, JournalError> {
        let sql = |e| JournalError::from_sql(&self.path, e);
        let query = format!("SELECT {ENTRY_COLUMNS} FROM entry WHERE {clause}");
        let mut statement = self.conn.prepare_cached(&query).map_err(sql)?;
        let entries = statement.query_map([param], entry_of_row).map_err(sql)?;
        let mut out: Vec<Entry> = entries.collect::<Result<_, _>>().map_err(sql)?;
        for e in &mut out {
            e.originals = originals_of(&self.conn, e.seq).map_err(sql)?;
        }
        Ok(out)
    }

    /// Number of the newest entry, 0 when there is none.
    ///
    /// # Errors
    /// What the database says.
    pub fn last_seq(&self) -> Result<i64, JournalError> {
        self.conn
            .query_row("SELECT coalesce(max(seq), 0) FROM entry", [], |r| r.get(0))
            .map_err(|e| JournalError::from_sql(&self.path, e))
    }

    /// Rows of one series between two instants, both included, oldest first.
    ///
    /// # Errors
    /// What the database says.
    pub fn rows(&self, series: &str, from: Utc, to: Utc) -> Result<Vec<StoredRow>, JournalError> {
        rows_between(&self.conn, series, from, to)
            .map_err(|e| JournalError::from_sql(&self.path, e))
    }

    /// The newest `count` rows of one series up to an instant, oldest first.
    ///
    /// # Errors
    /// What the database says.
    pub fn last_rows(
        &self,
        series: &str,
        to: Utc,
        count: usize,
    ) -> Result<Vec<StoredRow>, JournalError> {
        let read = || -> rusqlite::Result<Vec<StoredRow>> {
            let mut s = self.conn.prepare_cached(
                "SELECT t_ms, entry, bytes FROM item WHERE series = ?1 AND t_ms <= ?2 \
                 ORDER BY t_ms DESC, entry DESC, n DESC LIMIT ?3",
            )?;
            let limit = i64::try_from(count).unwrap_or(i64::MAX);
            let rows = s.query_map(params![series, to.ms(), limit], |r| row_of(series, r))?;
            rows.collect()
        };
        let mut rows = read().map_err(|e| JournalError::from_sql(&self.path, e))?;
        rows.reverse();
        Ok(rows)
    }

    /// All series names, in order. Skips from name to name, so the cost is per series.
    ///
    /// # Errors
    /// What the database says.
    pub fn series(&self) -> Result<Vec<String>, JournalError> {
        let sql = |e| JournalError::from_sql(&self.path, e);
        let mut next = self
            .conn
            .prepare_cached("SELECT series FROM item WHERE series > ?1 ORDER BY series LIMIT 1")
            .map_err(sql)?;
        let mut out: Vec<String> = Vec::new();
        loop {
            let after = out.last().map_or("", String::as_str);
            let name: Option<String> =
                next.query_row([after], |r| r.get(0)).optional().map_err(sql)?;
            match name {
                Some(name) => out.push(name),
                None => return Ok(out),
            }
        }
    }

    /// The latest instant of one series.
    ///
    /// # Errors
    /// What the database says.
    pub fn last_instant(&self, series: &str) -> Result<Option<Utc>, JournalError> {
        self.conn
            .prepare_cached("SELECT max(t_ms) FROM item WHERE series = ?1")
            .and_then(|mut s| s.query_row([series], |r| r.get::<_, Option<i64>>(0)))
            .map(|t| t.map(Utc::from_ms))
            .map_err(|e| JournalError::from_sql(&self.path, e))
    }

    /// The entries that brought rows of one series, in order.
    ///
    /// # Errors
    /// What the database says.
    pub fn entries_of_series(&self, series: &str) -> Result<Vec<i64>, JournalError> {
        self.numbers("SELECT DISTINCT entry FROM item WHERE series = ?1 ORDER BY entry", series)
    }

    /// Every instant of one series, in order.
    ///
    /// # Errors
    /// What the database says.
    pub fn instants(&self, series: &str) -> Result<Vec<Utc>, JournalError> {
        let query = "SELECT DISTINCT t_ms FROM item WHERE series = ?1 ORDER BY t_ms";
        Ok(self.numbers(query, series)?.into_iter().map(Utc::from_ms).collect())
    }

    fn numbers(&self, query: &str, param: &str) -> Result<Vec<i64>, JournalError> {
        let read = || -> rusqlite::Result<Vec<i64>> {
            self.conn.prepare_cached(query)?.query_map([param], |r| r.get(0))?.collect()
        };
        read().map_err(|e| JournalError::from_sql(&self.path, e))
    }

    /// True when an original with this hash is held.
    ///
    /// # Errors
    /// What the database says.
    pub fn holds_original(&self, sha: &Digest) -> Result<bool, JournalError> {
        self.conn
            .prepare_cached("SELECT 1 FROM original WHERE sha256 = ?1")
            .and_then(|mut s| s.exists([&sha.0[..]]))
            .map_err(|e| JournalError::from_sql(&self.path, e))
    }

    /// An original file, byte for byte, with the name it first came with.
    ///
    /// # Errors
    /// [`JournalError::Altered`] when the stored bytes no longer have that hash.
    pub fn original(&self, sha: &Digest) -> Result<Option<(String, Vec<u8>)>, JournalError> {
        let sql = |e| JournalError::from_sql(&self.path, e);
        let found: Option<(String, i64, Vec<u8>)> = self
            .conn
            .query_row(
                "SELECT name, size, packed FROM original JOIN entry_original USING (sha256) \
                 WHERE sha256 = ?1 ORDER BY entry LIMIT 1",
                params![&sha.0[..]],
                |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)),
            )
            .optional()
            .map_err(sql)?;
        let Some((name, size, packed)) = found else {
            return Ok(None);
        };
        match unpack(&packed, size) {
            Some(bytes) if Digest::of(&bytes) == *sha => Ok(Some((name, bytes))),
            _ => Err(JournalError::Altered(format!("original {name} ({sha}) is damaged"))),
        }
    }
}

/// Unpacks at most `size` bytes; `None` when the stream is damaged or longer.
pub(crate) fn unpack(packed: &[u8], size: i64) -> Option<Vec<u8>> {
    let size = u64::try_from(size).ok()?;
    let mut out = Vec::new();
    let mut z = flate2::read::ZlibDecoder::new(packed).take(size.checked_add(1)?);
    z.read_to_end(&mut out).ok()?;
    // Every stored byte belongs to the stream: nothing may be appended unseen.
    let decoder = z.into_inner();
    (out.len() as u64 == size && decoder.total_in() == packed.len() as u64).then_some(out)
}

fn entry_of_row(r: &rusqlite::Row<'_>) -> rusqlite::Result<Entry> {
    let sha: Vec<u8> = r.get(6)?;
    Ok(Entry {
        seq: r.get(0)?,
        kind: r.get(1)?,
        at: Utc::from_ms(r.get(2)?),
        who: r.get(3)?,
        body: r.get(4)?,
        originals: Vec::new(),
        row_count: r.get(5)?,
        sha256: Digest::from_slice(&sha).unwrap_or(Digest::ZERO),
    })
}

pub(crate) fn originals_of(conn: &Connection, entry: i64) -> rusqlite::Result<Vec<OriginalRef>> {
    let mut s = conn.prepare_cached(
        "SELECT name, sha256, coalesce(size, -1) FROM entry_original LEFT JOIN original \
         USING (sha256) WHERE entry = ?1 ORDER BY n",
    )?;
    let found = s.query_map([entry], |r| {
        let sha: Vec<u8> = r.get(1)?;
        let size: i64 = r.get(2)?;
        Ok(OriginalRef {
            name: r.get(0)?,
            sha256: Digest::from_slice(&sha).unwrap_or(Digest::ZERO),
            size: u64::try_from(size).unwrap_or(0),
        })
    })?;
    found.collect()
}

pub(crate) fn rows_between(
    conn: &Connection,
    series: &str,
    from: Utc,
    to: Utc,
) -> rusqlite::Result<Vec<StoredRow>> {
    let mut s = conn.prepare_cached(
        "SELECT t_ms, entry, bytes FROM item WHERE series = ?1 AND t_ms BETWEEN ?2 AND ?3 \
         ORDER BY t_ms, entry, n",
    )?;
    let rows = s.query_map(params![series, from.ms(), to.ms()], |r| row_of(series, r))?;
    rows.collect()
}

fn row_of(series: &str, r: &rusqlite::Row<'_>) -> rusqlite::Result<StoredRow> {
    Ok(StoredRow {
        series: series.to_owned(),
        t: Utc::from_ms(r.get(0)?),
        entry: r.get(1)?,
        bytes: r.get(2)?,
    })
}

/// Unpacks a zlib stream (RFC 1950) of up to `most` bytes; `None` when it is damaged or longer.
#[must_use]
pub fn inflate(packed: &[u8], most: u64) -> Option<Vec<u8>> {
    let mut out = Vec::new();
    flate2::read::ZlibDecoder::new(packed).take(most + 1).read_to_end(&mut out).ok()?;
    (out.len() as u64 <= most).then_some(out)
}

/// Packs text for a bad line (gzip, RFC 1952), without a time in it: the same bytes each time.
#[must_use]
pub fn gzip(bytes: &[u8]) -> Vec<u8> {
    use std::io::Write as _;
    let mut z = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
    // Writing to memory does not fail; an unfinished stream would not unpack.
    let _ = z.write_all(bytes);
    z.finish().unwrap_or_default()
}

/// Unpacks what [`gzip`] packed, up to `most` bytes; `None` when it is damaged or longer.
#[must_use]
pub fn gunzip(packed: &[u8], most: u64) -> Option<Vec<u8>> {
    let mut out = Vec::new();
    flate2::read::GzDecoder::new(packed).take(most + 1).read_to_end(&mut out).ok()?;
    (out.len() as u64 <= most).then_some(out)
}
