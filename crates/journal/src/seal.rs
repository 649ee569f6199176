//! The seal of a voyage file: one hash over every byte of it, the unused ones included.
//!
//! A database page has bytes that belong to nothing: what an earlier split left behind, gaps
//! between cells. The entries' hashes do not cover them. Each commit therefore ends by hashing
//! the whole file as it will lie on the disk and writing the hash into a table of its own, which
//! fills one page of exactly known form. Left out of the hash are that page and the twelve bytes
//! of the file header that the database itself writes at the commit; those are checked by rule.

use record::digest::{Digest, Hasher};
use rusqlite::{Connection, OptionalExtension, params};

use crate::schema::{FORMAT_VERSION, SEAL_TABLE};

/// Length of the sealed bytes: hash, library version, pages.
const SEAL_BYTES: usize = 32 + 4 + 4;

/// The change counter (offset 24) and the pair that repeats it and names the library (92).
const WRITTEN_AT_COMMIT: [(usize, usize); 2] = [(24, 28), (92, 100)];

/// Seals the file as it stands inside the open transaction: the last thing before its commit.
pub(crate) fn seal(conn: &mut Connection) -> rusqlite::Result<()> {
    let version: i64 = conn.pragma_query_value(None, "user_version", |r| r.get(0))?;
    if version < i64::from(FORMAT_VERSION) {
        conn.execute_batch(SEAL_TABLE)?;
    }
    // Writing the version, even the same, makes the database write its header in this commit.
    conn.pragma_update(None, "user_version", FORMAT_VERSION)?;
    let page = page_of_seal(conn)?.unwrap_or(0);
    let sealed = {
        let image = conn.serialize("main")?;
        sealed_bytes(&image, page)
    };
    conn.execute(
        "INSERT INTO seal (id, bytes) VALUES (1, ?1) ON CONFLICT (id) DO UPDATE SET bytes = ?1",
        params![&sealed[..]],
    )?;
    Ok(())
}

/// The page that holds the seal; `None` in a file of the first format.
pub(crate) fn page_of_seal(conn: &Connection) -> rusqlite::Result<Option<usize>> {
    let root: Option<i64> = conn
        .query_row("SELECT rootpage FROM sqlite_schema WHERE name = 'seal'", [], |r| r.get(0))
        .optional()?;
    Ok(root.and_then(|p| usize::try_from(p).ok()))
}

/// What is written into the seal's row.
fn sealed_bytes(image: &[u8], page: usize) -> [u8; SEAL_BYTES] {
    let pages = image.len().checked_div(page_size(image)).unwrap_or(0);
    let parts = [
        &file_hash(image, page).0[..],
        &rusqlite::version_number().to_be_bytes(),
        &u32::try_from(pages).unwrap_or(u32::MAX).to_be_bytes(),
    ];
    let mut out = [0; SEAL_BYTES];
    for (to, from) in out.iter_mut().zip(parts.concat()) {
        *to = from;
    }
    out
}

/// Page size as the header says; 1 stands for 65536.
fn page_size(image: &[u8]) -> usize {
    match u16_at(image, 16) {
        Some(1) => 65536,
        Some(size) => usize::from(size),
        None => 0,
    }
}

fn u16_at(bytes: &[u8], at: usize) -> Option<u16> {
    let pair = bytes.get(at..at.checked_add(2)?)?;
    pair.try_into().ok().map(u16::from_be_bytes)
}

/// Hash over all bytes but those named in the module's head.
fn file_hash(image: &[u8], page: usize) -> Digest {
    let size = page_size(image);
    let at = page.saturating_sub(1).saturating_mul(size).min(image.len());
    let (before, rest) = image.split_at(at);
    let after = rest.get(size..).unwrap_or(&[]);
    let mut head = before.get(..100).unwrap_or(before).to_vec();
    for (from, to) in WRITTEN_AT_COMMIT {
        if let Some(part) = head.get_mut(from..to) {
            part.fill(0);
        }
    }
    let mut h = Hasher::new("holdfast file 1");
    h.piece(&head);
    h.piece(before.get(100..).unwrap_or(&[]));
    h.piece(after);
    h.finish()
}

/// What does not hold of a sealed file's bytes, in words; `None` when all does.
///
/// `page` is where the seal lies according to the file's own schema.
pub(crate) fn broken_seal(image: &[u8], page: usize) -> Option<String> {
    let size = page_size(image);
    if size < 512 || !image.len().is_multiple_of(size) {
        return Some("the file is not made of whole pages".to_owned());
    }
    let part = |from: usize, to: usize| image.get(from..to).unwrap_or(&[]);
    let sealed = sealed_bytes(image, page);
    let at = page.saturating_sub(1).saturating_mul(size);
    let held = part(at, at.saturating_add(size));
    let Some(row) = held.get(held.len().saturating_sub(SEAL_BYTES)..) else {
        return Some("its seal is missing".to_owned());
    };
    if row.get(..32) != sealed.get(..32) || row.get(36..) != sealed.get(36..) {
        return Some(
            "bytes of the file, perhaps outside every entry, are not those it was closed with"
                .to_owned(),
        );
    }
    if held != seal_page(size, row) {
        return Some("the page of its seal holds what does not belong there".to_owned());
    }
    // The library that wrote the seal wrote the header in the same commit.
    if part(24, 28) != part(92, 96) || part(96, 100) != row.get(32..36).unwrap_or(&[]) {
        return Some("its file header is not the one it was closed with".to_owned());
    }
    None
}

/// The one form the seal's page can have (SQLite file format §1.6 and §2.1): a table leaf with one
/// cell at its end - payload length, row 1, record header, the row's bytes - and zeros between.
fn seal_page(size: usize, row: &[u8]) -> Vec<u8> {
    let serial = 12 + 2 * row.len() as u8;
    let record = [&[3, 0, serial], row].concat();
    let cell = [&[record.len() as u8, 1], &record[..]].concat();
    let start = size.saturating_sub(cell.len());
    let place = (start as u16).to_be_bytes();
    let mut page = vec![0x0D, 0, 0, 0, 1];
    page.extend(place);
    page.push(0);
    page.extend(place);
    page.resize(start, 0);
    page.extend(cell);
    page
}
