//! Checking a whole voyage file against its own hashes.

use std::collections::{BTreeMap, BTreeSet};

use record::digest::Digest;
use rusqlite::Connection;

use crate::chain::{EntryHash, RowsHash, merkle_root};
use crate::read::{originals_of, unpack};
use crate::{Journal, JournalError};

/// The outcome of [`Journal::verify`].
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Verification {
    /// Entries found.
    pub entries: i64,
    /// Merkle root over the entries' stored hashes (RFC 9162).
    pub root: Digest,
    /// What does not hold, first entry first; empty when everything does.
    pub problems: Vec<String>,
}

impl Journal {
    /// Recomputes every hash: rows, originals, entries, chain.
    ///
    /// # Errors
    /// What the database says when it cannot be read at all.
    pub fn verify(&self) -> Result<Verification, JournalError> {
        let mut v = verify(&self.conn).map_err(|e| JournalError::from_sql(&self.path, e))?;
        v.problems.extend(self.odd_length());
        Ok(v)
    }

    /// A file that is longer or shorter than its pages.
    fn odd_length(&self) -> Option<String> {
        let pragma = |name| self.conn.pragma_query_value(None, name, |r| r.get::<_, i64>(0)).ok();
        // With a write-ahead log beside it the file itself may lag behind.
        let mut log = self.path.clone().into_os_string();
        log.push("-wal");
        if std::fs::metadata(&log).is_ok_and(|m| m.len() > 0) {
            return None;
        }
        let want = pragma("page_count")?.checked_mul(pragma("page_size")?)?;
        let have = i64::try_from(std::fs::metadata(&self.path).ok()?.len()).ok()?;
        (want != have).then(|| format!("the file has {have} bytes, its pages {want}"))
    }
}

fn verify(conn: &Connection) -> rusqlite::Result<Verification> {
    let mut problems = Vec::new();
    let mut rows = rows_by_entry(conn)?;
    let mut named = BTreeSet::new();
    let mut hashes: Vec<[u8; 32]> = Vec::new();
    let mut prev = Digest::ZERO;
    let mut s = conn.prepare(
        "SELECT seq, kind, at_ms, who, body, row_count, rows_sha256, prev_sha256, sha256 \
         FROM entry ORDER BY seq",
    )?;
    let mut cursor = s.query([])?;
    while let Some(r) = cursor.next()? {
        let seq: i64 = r.get(0)?;
        let expected = hashes.len() as i64 + 1;
        let (kind, who): (String, String) = (r.get(1)?, r.get(3)?);
        let body: Vec<u8> = r.get(4)?;
        let digest = |i| r.get::<_, Vec<u8>>(i).map(|b| Digest::from_slice(&b));
        let (stored_rows, stored_prev, stored) = (digest(6)?, digest(7)?, digest(8)?);
        let originals: Vec<(String, Digest)> =
            originals_of(conn, seq)?.into_iter().map(|o| (o.name, o.sha256)).collect();
        named.extend(originals.iter().map(|(_, sha)| *sha));
        let (row_count, rows_digest) = match rows.remove(&seq) {
            Some((n, h)) => (n, h.finish()),
            None => (0, RowsHash::new().finish()),
        };
        let computed = EntryHash {
            seq,
            kind: &kind,
            at_ms: r.get(2)?,
            who: &who,
            body: &body,
            originals: &originals,
            row_count,
            rows: rows_digest,
            prev,
        }
        .digest();
        if seq != expected {
            problems.push(format!("entry {expected} is missing: the next one held is {seq}"));
        }
        if r.get::<_, i64>(5)? != row_count || stored_rows != Some(rows_digest) {
            problems.push(format!("entry {seq}: its readings are not those it was signed over"));
        } else if stored_prev != Some(prev) {
            problems.push(format!("entry {seq}: it does not follow the entry before it"));
        } else if stored != Some(computed) {
            problems.push(format!("entry {seq}: its text is not what was entered"));
        }
        prev = stored.unwrap_or(computed);
        hashes.push(prev.0);
    }
    for (seq, _) in rows {
        problems.push(format!("readings filed under entry {seq}, which is not held"));
    }
    check_originals(conn, &named, &mut problems)?;
    check_frame(conn, &mut problems)?;
    let root = merkle_root(&hashes);
    Ok(Verification { entries: hashes.len() as i64, root, problems })
}

/// The tables, triggers and pages are those this program made, and nothing else is in the file.
fn check_frame(conn: &Connection, problems: &mut Vec<String>) -> rusqlite::Result<()> {
    let frame = |c: &Connection| -> rusqlite::Result<Vec<(String, String)>> {
        let mut s = c.prepare("SELECT name, coalesce(sql, '') FROM sqlite_schema ORDER BY name")?;
        s.query_map([], |r| Ok((r.get(0)?, r.get(1)?)))?.collect()
    };
    let pristine = Connection::open_in_memory()?;
    pristine.execute_batch(crate::schema::TABLES)?;
    if frame(conn)? != frame(&pristine)? {
        problems.push("tables or their guards are not those this program made".to_owned());
    }
    let mut s = conn.prepare("PRAGMA integrity_check")?;
    let found: Vec<String> = s.query_map([], |r| r.get(0))?.collect::<rusqlite::Result<_>>()?;
    problems.extend(found.into_iter().filter(|t| t != "ok").map(|t| format!("database: {t}")));
    Ok(())
}

/// One pass over all rows in their stored order, hashing per entry.
fn rows_by_entry(conn: &Connection) -> rusqlite::Result<BTreeMap<i64, (i64, RowsHash)>> {
    let mut out: BTreeMap<i64, (i64, RowsHash)> = BTreeMap::new();
    let mut s = conn.prepare(
        "SELECT series, t_ms, entry, n, bytes FROM item ORDER BY series, t_ms, entry, n",
    )?;
    let mut cursor = s.query([])?;
    while let Some(r) = cursor.next()? {
        let series = r.get_ref(0)?.as_str()?;
        let slot = out.entry(r.get(2)?).or_insert_with(|| (0, RowsHash::new()));
        slot.0 += 1;
        slot.1.row(series, r.get(1)?, r.get(3)?, r.get_ref(4)?.as_blob()?);
    }
    Ok(out)
}

/// Every original has its hash, every named one is held, none is held that no entry names.
fn check_originals(
    conn: &Connection,
    named: &BTreeSet<Digest>,
    problems: &mut Vec<String>,
) -> rusqlite::Result<()> {
    let mut held = BTreeSet::new();
    let mut s = conn.prepare("SELECT sha256, size, packed FROM original ORDER BY sha256")?;
    let mut cursor = s.query([])?;
    while let Some(r) = cursor.next()? {
        let sha = Digest::from_slice(r.get_ref(0)?.as_blob()?).unwrap_or(Digest::ZERO);
        let bytes = unpack(r.get_ref(2)?.as_blob()?, r.get(1)?);
        if bytes.is_none_or(|b| Digest::of(&b) != sha) {
            problems.push(format!("original file {sha}: its bytes are not those that came in"));
        }
        if !named.contains(&sha) {
            problems.push(format!("original file {sha} belongs to no entry"));
        }
        held.insert(sha);
    }
    for sha in named.difference(&held) {
        problems.push(format!("original file {sha} is missing"));
    }
    Ok(())
}
