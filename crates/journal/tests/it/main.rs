//! The journal through its front door.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

mod trials;

use std::path::PathBuf;

use journal::{Journal, JournalError, NewEntry, NewOriginal};
use rusqlite::Connection;
use units::Utc;

fn folder() -> tempfile::TempDir {
    tempfile::tempdir().unwrap()
}

fn append(j: &mut Journal, n: i64, rows: i64) {
    let mut w = j.begin().unwrap();
    for k in 0..rows {
        let series = format!("QQQU{:07}", k / 3);
        w.row(&series, Utc::from_ms(n * 1000 + k % 3), format!("row {n} {k}").as_bytes()).unwrap();
    }
    let (file, body) = (format!("file {n}"), format!("body {n}"));
    let entry = NewEntry {
        kind: "take",
        at: Utc::from_ms(n),
        who: "AB",
        body: body.as_bytes(),
        originals: &[NewOriginal { name: "a.csv", bytes: file.as_bytes() }],
    };
    w.commit(&entry).unwrap();
}

fn filled(dir: &tempfile::TempDir) -> PathBuf {
    let path = dir.path().join("v.holdfast");
    let mut j = Journal::open_or_create(&path).unwrap();
    for n in 1..=5 {
        append(&mut j, n, 9);
    }
    path
}

#[test]
fn what_goes_in_comes_out() {
    let dir = folder();
    let path = filled(&dir);
    let j = Journal::open(&path).unwrap();
    let entries = j.entries(1).unwrap();
    assert_eq!(entries.len(), 5);
    assert_eq!(entries[4].body, b"body 5");
    assert_eq!(j.newest_entries(2).unwrap()[0].seq, 5);
    let sha = entries[2].originals[0].sha256;
    assert_eq!(j.original(&sha).unwrap(), Some(("a.csv".into(), b"file 3".to_vec())));
    let rows = j.rows("QQQU0000001", Utc::from_ms(2000), Utc::from_ms(3001)).unwrap();
    let texts: Vec<&[u8]> = rows.iter().map(|r| r.bytes.as_slice()).collect();
    assert_eq!(texts, [&b"row 2 3"[..], b"row 2 4", b"row 2 5", b"row 3 3", b"row 3 4"]);
    assert_eq!(j.series().unwrap(), ["QQQU0000000", "QQQU0000001", "QQQU0000002"]);
    assert_eq!(j.last_instant("QQQU0000002").unwrap(), Some(Utc::from_ms(5002)));
    let v = j.verify().unwrap();
    assert_eq!((v.entries, v.problems.len()), (5, 0), "{:?}", v.problems);
}

#[test]
fn a_dropped_entry_leaves_nothing() {
    let dir = folder();
    let path = filled(&dir);
    let mut j = Journal::open(&path).unwrap();
    let before = j.verify().unwrap();
    let mut w = j.begin().unwrap();
    w.row("QQQU0000009", Utc::from_ms(1), b"never").unwrap();
    drop(w);
    assert_eq!(j.verify().unwrap(), before);
}

#[test]
fn stored_text_cannot_be_edited_through_the_database() {
    let dir = folder();
    let path = filled(&dir);
    let conn = Connection::open(&path).unwrap();
    for sql in [
        "UPDATE entry SET who = 'x' WHERE seq = 2",
        "DELETE FROM entry WHERE seq = 5",
        "UPDATE item SET bytes = x'00'",
        "DELETE FROM item",
        "DELETE FROM original",
        "UPDATE entry_original SET name = 'x'",
    ] {
        assert!(conn.execute(sql, []).is_err(), "{sql}");
    }
}

/// Someone who first drops the triggers is found out by the hashes, and the first altered entry is
/// named.
#[test]
fn alterations_are_found_and_named() {
    for (sql, named) in [
        ("UPDATE entry SET who = 'x' WHERE seq = 2", "entry 2"),
        ("UPDATE entry SET at_ms = 7 WHERE seq = 3", "entry 3"),
        ("UPDATE entry SET body = x'00' WHERE seq = 1", "entry 1"),
        ("DELETE FROM entry WHERE seq = 4", "entry 4"),
        ("UPDATE item SET bytes = x'00' WHERE entry = 3 AND n = 1", "entry 3"),
        ("UPDATE item SET t_ms = t_ms + 1 WHERE entry = 5 AND n = 8", "entry 5"),
        ("DELETE FROM item WHERE entry = 2 AND n = 0", "entry 2"),
        ("UPDATE entry_original SET name = 'b.csv' WHERE entry = 4", "entry 4"),
        ("DELETE FROM entry_original WHERE entry = 4", "entry 4"),
        ("UPDATE original SET size = size + 1", "original file"),
        ("DELETE FROM original", "original file"),
        ("UPDATE original SET packed = CAST(packed || x'00' AS BLOB)", "original file"),
        ("INSERT INTO item VALUES ('QQQU0000001', 1, 9, 0, x'00')", "entry 9"),
    ] {
        let dir = folder();
        let path = filled(&dir);
        let conn = Connection::open(&path).unwrap();
        let triggers: Vec<String> = conn
            .prepare("SELECT name FROM sqlite_schema WHERE type = 'trigger'")
            .unwrap()
            .query_map([], |r| r.get(0))
            .unwrap()
            .collect::<Result<_, _>>()
            .unwrap();
        for t in triggers {
            conn.execute(&format!("DROP TRIGGER {t}"), []).unwrap();
        }
        assert!(conn.execute(sql, []).unwrap() > 0, "{sql}");
        drop(conn);
        let v = Journal::open(&path).unwrap().verify().unwrap();
        let first = v.problems.first().unwrap_or_else(|| panic!("not found: {sql}"));
        assert!(first.contains(named), "{sql}: {first}");
    }
}

#[test]
fn files_that_are_no_voyage_are_left_untouched() {
    let dir = folder();
    let other_db = dir.path().join("other.db");
    Connection::open(&other_db).unwrap().execute_batch("CREATE TABLE t (x)").unwrap();
    let text = dir.path().join("notes.txt");
    std::fs::write(&text, "not a voyage, but long enough to be read as a header. ".repeat(4))
        .unwrap();
    let empty = dir.path().join("empty");
    std::fs::write(&empty, "").unwrap();
    for path in [other_db, text, empty] {
        let before = std::fs::read(&path).unwrap();
        for result in [Journal::open(&path), Journal::open_or_create(&path)] {
            assert!(matches!(result, Err(JournalError::NotAVoyage(_))), "{}", path.display());
        }
        assert_eq!(std::fs::read(&path).unwrap(), before);
    }
    let missing = dir.path().join("none.holdfast");
    assert!(matches!(Journal::open(&missing), Err(JournalError::Missing(_))));
    let no_folder = dir.path().join("no/such/folder/v.holdfast");
    assert!(matches!(Journal::open_or_create(&no_folder), Err(JournalError::Io { .. })));
    assert!(matches!(Journal::open(dir.path()), Err(JournalError::NotAVoyage(_))));
}

/// The database is told that no further page may be had: the same error a full disk gives.
#[test]
fn a_full_disk_is_said_in_one_line_and_loses_nothing() {
    let dir = folder();
    let path = filled(&dir);
    let mut j = Journal::open(&path).unwrap();
    let before = j.verify().unwrap();
    j.limit_pages_for_test(64);
    let mut w = j.begin().unwrap();
    let mut result = Ok(());
    for k in 0..20_000 {
        result = w.row("QQQU0000009", Utc::from_ms(k), &[7; 200]);
        if result.is_err() {
            break;
        }
    }
    let message = result.unwrap_err().to_string();
    assert!(message.contains("no room left on the disk"), "{message}");
    assert_eq!(message.lines().count(), 1);
    drop(w);
    assert_eq!(j.verify().unwrap(), before);
}

/// Entries that left the ship are checked without the voyage file: every flipped bit of the
/// text is seen, and the entry is named.
#[test]
fn proved_entries_stand_alone() {
    let dir = folder();
    let path = filled(&dir);
    let mut j = Journal::open(&path).unwrap();
    let odd = NewEntry {
        kind: "note",
        at: Utc::from_ms(1_773_000_000_123),
        who: "J. Ruiz",
        body: b"\xff\x00 not UTF-8",
        originals: &[],
    };
    j.begin().unwrap().commit(&odd).unwrap();
    let book = j.proof_book().unwrap();
    assert_eq!((book.size(), book.root()), (6, j.verify().unwrap().root));
    let text = book.entries_jsonl(&[6, 2, 3, 3, 99]);
    let good = journal::check_entries(&text, 6, &book.root());
    assert_eq!((good.entries, good.problems.len()), (3, 0), "{:?}", good.problems);
    assert_eq!(good.originals.len(), 2);
    assert!(!journal::check_entries(&text, 7, &book.root()).problems.is_empty());
    let mut bytes = text.clone().into_bytes();
    // Every fifth bit comes by each place in a byte.
    for bit in (0..bytes.len() * 8).step_by(5) {
        bytes[bit / 8] ^= 1 << (bit % 8);
        // What is no longer UTF-8 cannot even be handed over.
        if let Ok(bad) = std::str::from_utf8(&bytes) {
            let found = journal::check_entries(bad, 6, &book.root());
            assert!(!found.problems.is_empty(), "bit {bit} went unseen");
        }
        bytes[bit / 8] ^= 1 << (bit % 8);
    }
    let lines: Vec<&str> = text.lines().collect();
    let swapped = format!("{}\n{}\n{}\n", lines[1], lines[0], lines[2]);
    let found = journal::check_entries(&swapped, 6, &book.root());
    assert!(found.problems[0].contains("entry 2 stands out of order"), "{:?}", found.problems);
    let edited = text.replace("J. Ruiz", "J. Rues");
    let found = journal::check_entries(&edited, 6, &book.root());
    assert!(found.problems[0].contains("entry 6 is not what was entered"));
}

/// A later root continues an earlier one; a log with an entry replaced does not.
#[test]
fn roots_continue_each_other() {
    let dir = folder();
    let path = filled(&dir);
    let mut j = Journal::open(&path).unwrap();
    let old = j.tree().unwrap().root();
    append(&mut j, 6, 3);
    let tree = j.tree().unwrap();
    let proof = tree.consistency(5, 6).unwrap();
    assert!(journal::is_continued(5, &old, 6, &tree.root(), &proof));
    assert_eq!(tree.root_at(5), Some(old));
}
