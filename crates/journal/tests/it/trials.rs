//! Random damage to a voyage file's bytes: every flip, deletion, swap and truncation is seen.

use std::path::Path;

use journal::{Journal, NewEntry, NewOriginal};
use units::Utc;

use super::folder;

/// How many; `HOLDFAST_TRIALS=10000` for the long form.
fn trials() -> u64 {
    std::env::var("HOLDFAST_TRIALS").ok().and_then(|n| n.parse().ok()).unwrap_or(400)
}

struct Dice(u64);

impl Dice {
    fn below(&mut self, n: usize) -> usize {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) % (n as u64).max(1)) as usize
    }
}

/// Rows come in an order that splits pages, so that the file has unused bytes with old text in
/// them.
fn voyage() -> Vec<u8> {
    let dir = folder();
    let path = dir.path().join("v.holdfast");
    let mut j = Journal::open_or_create(&path).unwrap();
    for n in 0..12i64 {
        let mut w = j.begin().unwrap();
        for unit in 0..40 {
            for k in 0..3 {
                let t = Utc::from_ms(1_773_000_000_000 + n * 3_600_000 + k * 600_000);
                w.row(&format!("QQQU{unit:07}"), t, format!("{n} {unit} {k} reading").as_bytes())
                    .unwrap();
            }
        }
        let bytes = format!("time_utc,unit\n{n}\n").repeat(20 + 300 * usize::from(n == 3));
        let body = format!("{{\"rows\":{n}}}").repeat(1 + 60 * n as usize);
        let entry = NewEntry {
            kind: "take",
            at: Utc::from_ms(1_773_000_000_000 + n),
            who: "AB",
            body: body.as_bytes(),
            originals: &[NewOriginal { name: "round.csv", bytes: bytes.as_bytes() }],
        };
        w.commit(&entry).unwrap();
    }
    drop(j);
    std::fs::read(&path).unwrap()
}

/// One change of the bytes, said in words; `None` when it changed nothing.
fn damage(bytes: &mut Vec<u8>, dice: &mut Dice) -> Option<String> {
    let before = bytes.clone();
    let len = bytes.len();
    let said = match dice.below(4) {
        0 => {
            let bit = dice.below(len * 8);
            bytes[bit / 8] ^= 1 << (bit % 8);
            format!("bit {} of byte {} flipped", bit % 8, bit / 8)
        }
        1 => {
            let (at, n) = (dice.below(len), 1 + dice.below(5000));
            bytes.drain(at..(at + n).min(len));
            format!("{n} bytes from {at} deleted")
        }
        2 => {
            let n = 1 + dice.below(4096);
            let (a, b) = (dice.below(len - n), dice.below(len - n));
            let (first, second) = (before[a..a + n].to_vec(), before[b..b + n].to_vec());
            bytes[a..a + n].copy_from_slice(&second);
            bytes[b..b + n].copy_from_slice(&first);
            format!("{n} bytes at {a} and {b} swapped")
        }
        _ => {
            let n = dice.below(len);
            bytes.truncate(n);
            format!("cut to {n} bytes")
        }
    };
    (*bytes != before).then_some(said)
}

#[test]
fn all_damage_is_seen() {
    let whole = voyage();
    let path = Path::new("v.holdfast");
    let good = Journal::verify_bytes(&whole, path).unwrap();
    assert!(good.problems.is_empty() && good.sealed && good.entries == 12, "{:?}", good.problems);
    let seed = 20_261_125;
    let mut dice = Dice(seed);
    let mut done = 0;
    while done < trials() {
        let mut bytes = whole.clone();
        let Some(said) = damage(&mut bytes, &mut dice) else { continue };
        done += 1;
        let found = Journal::verify_bytes(&bytes, path).unwrap();
        assert!(!found.problems.is_empty(), "seed {seed}, trial {done}: {said} went unseen");
        assert!(found.problems.iter().all(|p| p.lines().count() == 1), "{:?}", found.problems);
    }
}

/// Not a sample: every bit of the first page's head and of the seal's page, and one bit of every
/// byte elsewhere.
#[test]
fn every_byte_is_covered() {
    let whole = voyage();
    let path = Path::new("v.holdfast");
    let step = if trials() >= 10_000 { 1 } else { 241 };
    let bits = (0..100 * 8).chain((100..whole.len()).step_by(step).map(|b| b * 8 + b % 8));
    for bit in bits {
        let mut bytes = whole.clone();
        bytes[bit / 8] ^= 1 << (bit % 8);
        let found = Journal::verify_bytes(&bytes, path).unwrap();
        assert!(!found.problems.is_empty(), "bit {} of byte {} went unseen", bit % 8, bit / 8);
    }
}

/// A voyage file of the first format has no seal; it is checked as far as its entries go, and
/// sealed by the next entry.
#[test]
fn an_old_file_is_sealed_by_its_next_entry() {
    let dir = folder();
    let path = super::filled(&dir);
    let conn = rusqlite::Connection::open(&path).unwrap();
    conn.execute_batch("DROP TABLE seal; PRAGMA user_version = 1;").unwrap();
    drop(conn);
    let old = Journal::verify_file(&path).unwrap();
    assert_eq!((old.sealed, old.problems.len()), (false, 0), "{:?}", old.problems);
    super::append(&mut Journal::open(&path).unwrap(), 6, 3);
    let new = Journal::verify_file(&path).unwrap();
    assert_eq!((new.sealed, new.entries, new.problems.len()), (true, 6, 0), "{:?}", new.problems);
}

/// A voyage that is open has its newest entries in a log beside it. Every flipped bit there is
/// seen, but for the last write, which may have been cut off by a loss of power.
#[test]
fn damage_beside_an_open_voyage_is_seen() {
    let dir = folder();
    let path = super::filled(&dir);
    let mut open = Journal::open(&path).unwrap();
    for n in 6..9 {
        super::append(&mut open, n, 9);
    }
    let log_path = dir.path().join("v.holdfast-wal");
    let (file, log) = (std::fs::read(&path).unwrap(), std::fs::read(log_path).unwrap());
    let copy = folder();
    let place = copy.path().join("v.holdfast");
    let look = |log: &[u8]| {
        std::fs::write(&place, &file).unwrap();
        std::fs::write(copy.path().join("v.holdfast-wal"), log).unwrap();
        let _ = std::fs::remove_file(copy.path().join("v.holdfast-shm"));
        let found = Journal::verify_file(&place);
        found.unwrap()
    };
    let good = look(&log);
    assert_eq!((good.entries, good.problems.len()), (8, 0), "{:?}", good.problems);
    let frame = 24 + 4096;
    assert_eq!((log.len() - 32) % frame, 0);
    let last = log.len() - frame;
    let mut dice = Dice(5);
    for _ in 0..trials() / 4 {
        let (at, bit) = (dice.below(last), dice.below(8));
        let mut bytes = log.clone();
        bytes[at] ^= 1 << bit;
        assert!(!look(&bytes).problems.is_empty(), "bit {bit} of byte {at} went unseen");
    }
}
