//! Checking a whole voyage file against its own hashes.

use std::collections::{BTreeMap, BTreeSet};
use std::ffi::OsString;
use std::fs;
use std::path::Path;

use record::digest::Digest;
use rusqlite::Connection;

use crate::chain::{EntryHash, RowsHash};
use crate::open::traces_of_a_voyage;
use crate::read::{originals_of, unpack};
use crate::schema::{APPLICATION_ID, FORMAT_VERSION, SEAL_TABLE, TABLES};
use crate::seal::{broken_seal, page_of_seal};
use crate::tree::Tree;
use crate::{Journal, JournalError, wal};

/// The outcome of [`Journal::verify`] and [`Journal::verify_file`].
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Verification {
    /// Entries found.
    pub entries: i64,
    /// Merkle root over the entries' stored hashes (RFC 9162).
    pub root: Digest,
    /// The tree over them, for roots and proofs at other sizes.
    pub tree: Tree,
    /// True when the seal covers every byte of the file, false for a file of the first format.
    pub sealed: bool,
    /// What does not hold, first entry first; empty when everything does.
    pub problems: Vec<String>,
}

impl Journal {
    /// Recomputes every hash of an open journal as it stands: seal, rows, originals, entries,
    /// chain.
    ///
    /// # Errors
    /// What the database says when it cannot be read at all.
    pub fn verify(&self) -> Result<Verification, JournalError> {
        // A connection of its own: what this one holds in memory proves nothing.
        let mut fresh = Self::open(&self.path)?;
        let sql = |e| JournalError::from_sql(&self.path, e);
        fresh.conn.execute_batch("BEGIN").map_err(sql)?;
        let image = fresh.conn.serialize("main").map_err(sql)?.to_vec();
        Ok(verify(&fresh.conn, &image))
    }

    /// Checks a file without opening it as a journal: nothing is written beside it, so that a copy
    /// on a read-only stick will do. A file that is plainly a voyage and cannot be read has been
    /// altered.
    ///
    /// # Errors
    /// [`JournalError::Missing`], [`JournalError::NotAVoyage`], what the system says.
    pub fn verify_file(path: &Path) -> Result<Verification, JournalError> {
        let mut log: OsString = path.as_os_str().to_owned();
        log.push("-wal");
        if path.is_dir() {
            return Err(JournalError::NotAVoyage(path.to_path_buf()));
        }
        let log = fs::read(&log).unwrap_or_default();
        if !log.is_empty() {
            // Read before the database opens it: that may write to it.
            let damage = wal::damage(&log);
            if let Ok(journal) = Self::open(path) {
                let mut v = journal.verify()?;
                v.problems.extend(damage);
                return Ok(v);
            }
        }
        let image = fs::read(path).map_err(|e| JournalError::from_io(path, e))?;
        Self::verify_bytes(&image, path)
    }

    /// As [`Journal::verify_file`], of bytes already read; the path is for words only.
    ///
    /// # Errors
    /// [`JournalError::NotAVoyage`].
    pub fn verify_bytes(image: &[u8], path: &Path) -> Result<Verification, JournalError> {
        if !traces_of_a_voyage(image, path) {
            return Err(JournalError::NotAVoyage(path.to_path_buf()));
        }
        let mut v = Verification::default();
        match in_memory(image) {
            Ok(conn) => v = verify(&conn, image),
            Err(e) => v.problems.push(format!("the database cannot be read: {e}")),
        }
        let head = image.get(..16) == Some(b"SQLite format 3\0")
            && image.get(68..72) == Some(&APPLICATION_ID.to_be_bytes());
        if !head {
            v.problems.push("its first bytes are not those of a voyage file".to_owned());
        }
        Ok(v)
    }
}

/// The bytes as a database in memory. What tells the file's kind is put right first, so that a
/// damaged head does not hide which entry is damaged too.
fn in_memory(image: &[u8]) -> rusqlite::Result<Connection> {
    let mut copy = image.to_vec();
    // A database in memory has no write-ahead log: read and write version 1.
    let kind: [(usize, &[u8]); 2] = [(0, b"SQLite format 3\0"), (18, &[1, 1])];
    for (at, bytes) in kind {
        if let Some(part) = copy.get_mut(at..at + bytes.len()) {
            part.copy_from_slice(bytes);
        }
    }
    let mut conn = Connection::open_in_memory()?;
    conn.deserialize_read_exact("main", &copy[..], copy.len(), true)?;
    Ok(conn)
}

fn verify(conn: &Connection, image: &[u8]) -> Verification {
    let mut v = Verification::default();
    let (mut rows, rows_end) = rows_by_entry(conn);
    let mut named = BTreeSet::new();
    let mut hashes: Vec<[u8; 32]> = Vec::new();
    if let Err(e) = check_chain(conn, &mut rows, &mut named, &mut hashes, &mut v.problems) {
        v.problems.push(match hashes.len() {
            // A damaged table of tables: no entry can be told from another.
            0 => format!("the entries cannot be read: {e}"),
            n => format!("entry {} cannot be read: {e}", n + 1),
        });
    }
    for (seq, _) in rows {
        v.problems.push(format!("readings filed under entry {seq}, which is not held"));
    }
    v.problems.extend(rows_end);
    let rest = |outcome: rusqlite::Result<()>, what: &str, problems: &mut Vec<String>| {
        if let Err(e) = outcome {
            problems.push(format!("{what} cannot be read: {e}"));
        }
    };
    let outcome = check_originals(conn, &named, &mut v.problems);
    rest(outcome, "the original files", &mut v.problems);
    let outcome = check_frame(conn, &mut v.problems);
    rest(outcome, "the tables", &mut v.problems);
    match page_of_seal(conn) {
        Ok(Some(page)) => {
            v.sealed = true;
            v.problems.extend(broken_seal(image, page));
        }
        Ok(None) => {}
        Err(e) => v.problems.push(format!("the seal cannot be read: {e}")),
    }
    for problem in &mut v.problems {
        // The database quotes what it stumbled over, line ends included.
        *problem = problem.split_whitespace().collect::<Vec<_>>().join(" ");
    }
    v.tree = Tree::over(&hashes);
    v.root = v.tree.root();
    v.entries = hashes.len() as i64;
    v
}

/// Every entry in order: its rows, its place, its text.
fn check_chain(
    conn: &Connection,
    rows: &mut BTreeMap<i64, (i64, RowsHash)>,
    named: &mut BTreeSet<Digest>,
    hashes: &mut Vec<[u8; 32]>,
    problems: &mut Vec<String>,
) -> rusqlite::Result<()> {
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
    Ok(())
}

/// The tables, triggers and pages are those this program made, and nothing else is in the file.
fn check_frame(conn: &Connection, problems: &mut Vec<String>) -> rusqlite::Result<()> {
    let frame = |c: &Connection| -> rusqlite::Result<Vec<(String, String)>> {
        let mut s = c.prepare("SELECT name, coalesce(sql, '') FROM sqlite_schema ORDER BY name")?;
        s.query_map([], |r| Ok((r.get(0)?, r.get(1)?)))?.collect()
    };
    let version: i32 = conn.pragma_query_value(None, "user_version", |r| r.get(0))?;
    if !(1..=FORMAT_VERSION).contains(&version) {
        problems.push(format!("format {version} is none that this program knows"));
    }
    let pristine = Connection::open_in_memory()?;
    pristine.execute_batch(TABLES)?;
    if version != 1 {
        pristine.execute_batch(SEAL_TABLE)?;
    }
    if frame(conn)? != frame(&pristine)? {
        problems.push("tables or their guards are not those this program made".to_owned());
    }
    let mut s = conn.prepare("PRAGMA integrity_check(3)")?;
    let found: Vec<String> = s.query_map([], |r| r.get(0))?.collect::<rusqlite::Result<_>>()?;
    problems.extend(
        found
            .into_iter()
            .filter(|t| t != "ok")
            .map(|t| format!("database: {}", t.lines().collect::<Vec<_>>().join(", "))),
    );
    Ok(())
}

type RowsByEntry = BTreeMap<i64, (i64, RowsHash)>;

/// One pass over all rows in their stored order, hashing per entry; and where it had to stop.
fn rows_by_entry(conn: &Connection) -> (RowsByEntry, Option<String>) {
    let mut out = RowsByEntry::new();
    let mut last = String::new();
    let mut pass = || -> rusqlite::Result<()> {
        let mut s = conn.prepare(
            "SELECT series, t_ms, entry, n, bytes FROM item ORDER BY series, t_ms, entry, n",
        )?;
        let mut cursor = s.query([])?;
        while let Some(r) = cursor.next()? {
            let series = r.get_ref(0)?.as_str()?;
            let slot = out.entry(r.get(2)?).or_insert_with(|| (0, RowsHash::new()));
            slot.0 += 1;
            slot.1.row(series, r.get(1)?, r.get(3)?, r.get_ref(4)?.as_blob()?);
            if last != series {
                series.clone_into(&mut last);
            }
        }
        Ok(())
    };
    let end = pass().err();
    let end = end.map(|e| match last.as_str() {
        "" => format!("the readings cannot be read: {e}"),
        last => format!("readings from {last} on cannot be read: {e}"),
    });
    (out, end)
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
