//! Signing and proving.

use journal::check_entries;
use journal::sign::SigningKey;

use super::{filled, now};

#[test]
fn a_key_is_announced_once_and_every_entry_proved() {
    let dir = tempfile::tempdir().unwrap();
    let mut v = filled(&dir);
    let before = v.proof_book().unwrap().size();
    assert!(v.acts().keys.is_empty());
    let key = SigningKey::from_seed(&[5; 32]);
    for _ in 0..2 {
        v.announce_key(&key, "AB", now()).unwrap();
    }
    let book = v.proof_book().unwrap();
    assert_eq!((book.size(), v.acts().keys.len()), (before + 1, 1));
    let all: Vec<i64> = (1..=book.size() as i64).collect();
    let text = book.entries_jsonl(&all);
    assert!(text.contains(&key.public().to_string()));
    let found = check_entries(&text, book.size() as u64, &book.root());
    assert_eq!((found.entries, found.problems.len()), (all.len() as i64, 0));
}
