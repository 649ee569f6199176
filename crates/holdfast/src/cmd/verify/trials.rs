//! `holdfast verify --try N`: damage at random, and how often it is seen.

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::json;

use super::{items, look, unreadable};
use crate::fail::Fail;
use crate::out;
use crate::progress::Bar;

/// A small generator; its seed stands in the answer, so that a trial can be done again.
struct Dice(u64);

const SEED: u64 = 9;

impl Dice {
    fn below(&mut self, n: usize) -> usize {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from((self.0 >> 33) % (n as u64).max(1)).unwrap_or(0)
    }
}

/// What one trial does to one file.
#[derive(Clone, Copy)]
enum Damage {
    Flip,
    Delete,
    Swap,
    Cut,
}

const DAMAGES: [(Damage, &str); 4] = [
    (Damage::Flip, "bits flipped"),
    (Damage::Delete, "runs of bytes deleted"),
    (Damage::Swap, "runs of bytes swapped"),
    (Damage::Cut, "files cut short"),
];

/// Tries `n` times on a copy; the original is only read.
pub fn run(path: &Path, n: u64, json: bool) -> Result<u8, Fail> {
    let whole = look(path)?;
    if let Some(first) = whole.problems.first() {
        return Err(Fail::refused(format!("{}: altered already: {first}", path.display())));
    }
    let place = std::env::temp_dir().join(format!("holdfast-try-{}", std::process::id()));
    let copy = place.join(path.file_name().unwrap_or_else(|| "it".as_ref()));
    let outcome = copy_all(path, &copy).and_then(|()| all(&copy, n));
    let _ = fs::remove_dir_all(&place);
    let (seen, unseen) = outcome?;
    let done: u64 = seen.iter().sum();
    if json {
        out::print_json(&json!({
            "tried": n, "seen": done, "unseen": unseen, "seed": SEED,
            "flips": seen[0], "deletions": seen[1], "swaps": seen[2], "cuts": seen[3],
        }))?;
    } else {
        let kinds: Vec<String> =
            seen.iter().zip(DAMAGES).map(|(n, (_, what))| format!("{n} {what}")).collect();
        let tail = unseen.first().map_or_else(String::new, |u| format!("\nUNSEEN: {u}"));
        out::print(format!("{done} of {n} alterations were seen: {}{tail}", kinds.join(", ")))?;
    }
    Ok(if unseen.is_empty() { 0 } else { 3 })
}

fn all(copy: &Path, n: u64) -> Result<([u64; 4], Vec<String>), Fail> {
    let files = files_under(copy)?;
    let mut sizes = Vec::new();
    for file in &files {
        let bytes = fs::metadata(file).map_err(|e| unreadable(file, &e))?.len();
        sizes.push(usize::try_from(bytes).unwrap_or(0));
    }
    let total: usize = sizes.iter().sum();
    if total == 0 {
        return Err(Fail::refused(format!("{}: nothing in it to alter", copy.display())));
    }
    let mut dice = Dice(SEED);
    let (mut seen, mut unseen, mut done) = ([0; 4], Vec::new(), 0);
    let progress = Bar::start("alterations tried");
    while done < n {
        let pick = dice.below(DAMAGES.len());
        // A file is hit as often as it is large; a thing of one file is that file.
        let mut at = dice.below(total);
        let hit = sizes.iter().position(|s| {
            let here = at < *s;
            at = at.saturating_sub(if here { 0 } else { *s });
            here
        });
        let (Some(file), Some((damage, what))) =
            (hit.and_then(|i| files.get(i)), DAMAGES.get(pick))
        else {
            continue;
        };
        let before = fs::read(file).map_err(|e| unreadable(file, &e))?;
        let after = damaged(&before, *damage, &mut dice);
        if after == before {
            continue;
        }
        fs::write(file, &after).map_err(|e| unreadable(file, &e))?;
        // Refused as unreadable is seen too: nobody takes it for sound.
        let found = look(copy);
        fs::write(file, &before).map_err(|e| unreadable(file, &e))?;
        done += 1;
        progress.at(done, n);
        match found {
            Ok(f) if f.problems.is_empty() => {
                unseen.push(format!("{}: {what}, trial {done}", file.display()));
            }
            _ => seen.get_mut(pick).into_iter().for_each(|s| *s += 1),
        }
    }
    Ok((seen, unseen))
}

fn damaged(before: &[u8], damage: Damage, dice: &mut Dice) -> Vec<u8> {
    let mut bytes = before.to_vec();
    let len = bytes.len();
    let run = |dice: &mut Dice| 1 + dice.below(4096.min(len / 2 + 1));
    match damage {
        Damage::Flip => {
            let (at, bit) = (dice.below(len), dice.below(8));
            if let Some(b) = bytes.get_mut(at) {
                *b ^= 1 << bit;
            }
        }
        Damage::Delete => {
            let (at, n) = (dice.below(len), run(dice));
            bytes.drain(at..(at + n).min(len));
        }
        Damage::Swap => {
            let n = run(dice);
            let (a, b) = (dice.below(len.saturating_sub(n)), dice.below(len.saturating_sub(n)));
            for i in 0..n.min(len.saturating_sub(a.max(b))) {
                bytes.swap(a + i, b + i);
            }
        }
        Damage::Cut => bytes.truncate(dice.below(len)),
    }
    bytes
}

fn copy_all(from: &Path, to: &Path) -> Result<(), Fail> {
    let io = |e: std::io::Error| unreadable(to, &e);
    if from.is_dir() {
        fs::create_dir_all(to).map_err(io)?;
        for item in items(from)? {
            copy_all(&item, &to.join(item.file_name().unwrap_or_default()))?;
        }
        return Ok(());
    }
    if let Some(folder) = to.parent() {
        fs::create_dir_all(folder).map_err(io)?;
    }
    fs::copy(from, to).map(|_| ()).map_err(io)
}

fn files_under(path: &Path) -> Result<Vec<PathBuf>, Fail> {
    if !path.is_dir() {
        return Ok(vec![path.to_path_buf()]);
    }
    let mut out = Vec::new();
    for item in items(path)? {
        out.extend(files_under(&item)?);
    }
    Ok(out)
}
