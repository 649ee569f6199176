//! Holding a log against a root that left the ship before.

use record::digest::Digest;

use super::found::Found;
use crate::fail::Fail;

/// Fewest digits of a root that are worth comparing: one in 2^64 agrees by chance.
const DIGITS_MIN: usize = 16;

/// A root as typed: its digits, all or the first ones, and the number of entries under it.
pub struct Against {
    digits: String,
    entries: i64,
}

impl Against {
    /// Reads `ROOT@N`; spaces between digits are passed over, as they come by radio.
    pub fn parse(text: &str) -> Result<Self, Fail> {
        let bad = || {
            Fail::refused(format!(
                "--against \"{text}\": write the root and the number of entries as printed, \
                 16 to 64 digits of 0-9 a-f, then @ and the number"
            ))
        };
        let (root, n) = text.split_once('@').ok_or_else(bad)?;
        let digits: String =
            root.chars().filter(|c| !c.is_whitespace()).map(|c| c.to_ascii_lowercase()).collect();
        let fine = (DIGITS_MIN..=64).contains(&digits.len())
            && digits.bytes().all(|b| b.is_ascii_hexdigit());
        let entries = n.trim().parse().ok().filter(|n| *n > 0);
        match (fine, entries) {
            (true, Some(entries)) => Ok(Self { digits, entries }),
            _ => Err(bad()),
        }
    }

    /// Says in `found` whether its log continues this root.
    pub fn judge(&self, found: &mut Found) -> Result<(), Fail> {
        let Some(held) = found.log_entries else {
            return Err(Fail::refused(
                "--against needs a voyage file or a dossier of one; there is no single log here",
            ));
        };
        let n = self.entries;
        let at = match &found.tree {
            Some(_) if n > held => {
                found.continues = Some(false);
                found.problems.push(format!(
                    "entry {} is missing: the root was taken over {n} entries, {held} are held",
                    held + 1
                ));
                return Ok(());
            }
            Some(tree) => usize::try_from(n).ok().and_then(|n| tree.root_at(n)),
            None if n == held => found.root,
            None => {
                return Err(Fail::refused(format!(
                    "--against: this dossier was made at entry {held}; only the voyage file can \
                     show what the log was at entry {n}"
                )));
            }
        };
        let same = at.is_some_and(|r: Digest| r.to_string().starts_with(&self.digits));
        found.continues = Some(same);
        if !same {
            let was = at.map(|r| r.to_string()).unwrap_or_default();
            found.problems.push(format!(
                "the log was rewritten at or before entry {n}: over its first {n} entries the \
                 root is {was}, not {}",
                self.digits
            ));
        }
        Ok(())
    }
}
