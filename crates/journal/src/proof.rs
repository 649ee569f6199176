//! Entries that leave the ship with their proof: one line each, checked anywhere without the
//! voyage file.

use std::collections::BTreeMap;

use record::digest::Digest;
use record::hex;
use serde::{Deserialize, Serialize};
use units::Utc;

use crate::chain::EntryHash;
use crate::tree::{Tree, is_included, leaf_hash};
use crate::{Journal, JournalError};

/// Every entry's line with its proof to one root.
#[derive(Debug, Clone)]
pub struct ProofBook {
    tree: Tree,
    lines: BTreeMap<i64, String>,
}

/// One entry as it leaves the ship. Text that is not UTF-8 has its bytes in hexadecimal.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Line {
    seq: i64,
    kind: String,
    at: String,
    at_ms: i64,
    who: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    body: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    body_hex: Option<String>,
    originals: Vec<LineOriginal>,
    row_count: i64,
    rows_sha256: String,
    prev_sha256: String,
    sha256: String,
    /// Inclusion proof (RFC 9162) to the root at the number of entries that the manifest names.
    proof: Vec<String>,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct LineOriginal {
    name: String,
    sha256: String,
}

impl Journal {
    /// The Merkle tree over the entries' hashes as stored.
    ///
    /// # Errors
    /// What the database says.
    pub fn tree(&self) -> Result<Tree, JournalError> {
        Ok(Tree::over(&self.hashes()?))
    }

    /// All entries with their proofs to the present root.
    ///
    /// # Errors
    /// What the database says.
    pub fn proof_book(&self) -> Result<ProofBook, JournalError> {
        let chain = self.chain_fields()?;
        let entries = self.entries(1)?;
        let hashes: Vec<[u8; 32]> = entries.iter().map(|e| e.sha256.0).collect();
        let tree = Tree::over(&hashes);
        let size = tree.size();
        let mut lines = BTreeMap::new();
        for (i, e) in entries.into_iter().enumerate() {
            let (rows, prev) = chain.get(&e.seq).copied().unwrap_or_default();
            let proof = tree.inclusion(i, size).unwrap_or_default();
            let (body, body_hex) = match String::from_utf8(e.body) {
                Ok(text) => (Some(text), None),
                Err(bytes) => (None, Some(hex::text(bytes.as_bytes()))),
            };
            let line = Line {
                seq: e.seq,
                kind: e.kind,
                at: e.at.to_string(),
                at_ms: e.at.ms(),
                who: e.who,
                body,
                body_hex,
                originals: e
                    .originals
                    .into_iter()
                    .map(|o| LineOriginal { name: o.name, sha256: o.sha256.to_string() })
                    .collect(),
                row_count: e.row_count,
                rows_sha256: rows.to_string(),
                prev_sha256: prev.to_string(),
                sha256: e.sha256.to_string(),
                proof: proof.iter().map(Digest::to_string).collect(),
            };
            let text = serde_json::to_string(&line)
                .map_err(|x| JournalError::Altered(format!("entry {}: {x}", line.seq)))?;
            lines.insert(line.seq, text);
        }
        Ok(ProofBook { tree, lines })
    }
}

impl ProofBook {
    /// How many entries the root is over.
    #[must_use]
    pub fn size(&self) -> usize {
        self.tree.size()
    }

    /// The root.
    #[must_use]
    pub fn root(&self) -> Digest {
        self.tree.root()
    }

    /// The tree itself.
    #[must_use]
    pub fn tree(&self) -> &Tree {
        &self.tree
    }

    /// The text of `entries.jsonl` for these entries, in their order; unknown numbers are left
    /// out.
    #[must_use]
    pub fn entries_jsonl(&self, seqs: &[i64]) -> String {
        let mut wanted = seqs.to_vec();
        wanted.sort_unstable();
        wanted.dedup();
        let mut out = String::new();
        for line in wanted.iter().filter_map(|seq| self.lines.get(seq)) {
            out.push_str(line);
            out.push('\n');
        }
        out
    }
}

/// The outcome of [`check_entries`].
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct EntriesCheck {
    /// Lines read.
    pub entries: i64,
    /// Numbers and hashes of the original files that the sound entries name.
    pub originals: Vec<(i64, String, Digest)>,
    /// What does not hold, first entry first.
    pub problems: Vec<String>,
}

/// Checks the text of an `entries.jsonl` against the root over `size` entries: every hash anew,
/// every proof walked, the chain between neighbours, and that no byte is there that should not be.
#[must_use]
pub fn check_entries(text: &str, size: u64, root: &Digest) -> EntriesCheck {
    let mut out = EntriesCheck::default();
    let mut last: Option<(i64, Digest)> = None;
    if !text.is_empty() && !text.ends_with('\n') {
        out.problems.push("entries.jsonl is cut short".to_owned());
    }
    // Not `lines()`: that would pass over a carriage return.
    for (i, text) in text.split_terminator('\n').enumerate() {
        out.entries += 1;
        match check_line(text, size, root, last) {
            Ok((seq, sha, originals)) => {
                last = Some((seq, sha));
                out.originals.extend(originals.into_iter().map(|(name, o)| (seq, name, o)));
            }
            Err(why) => {
                out.problems.push(format!("entries.jsonl line {}: {why}", i + 1));
                last = None;
            }
        }
    }
    out
}

type Sound = (i64, Digest, Vec<(String, Digest)>);

fn check_line(
    text: &str,
    size: u64,
    root: &Digest,
    last: Option<(i64, Digest)>,
) -> Result<Sound, String> {
    let line: Line =
        serde_json::from_str(text).map_err(|_| "cannot be read as an entry".to_owned())?;
    let seq = line.seq;
    let said = |what: &str| format!("entry {seq} {what}");
    if serde_json::to_string(&line).ok().as_deref() != Some(text) {
        return Err(said("is not written as this program writes it"));
    }
    let digest = |digits: &str| hex::array(digits).map(Digest).ok_or(said("has a damaged hash"));
    let originals: Vec<(String, Digest)> = line
        .originals
        .iter()
        .map(|o| Ok((o.name.clone(), digest(&o.sha256)?)))
        .collect::<Result<_, String>>()?;
    let body = match (&line.body, &line.body_hex) {
        (Some(text), None) => text.as_bytes().to_vec(),
        (None, Some(digits)) => hex::bytes(digits).ok_or(said("has a damaged body"))?,
        _ => return Err(said("has no body, or two")),
    };
    let (prev, stored) = (digest(&line.prev_sha256)?, digest(&line.sha256)?);
    let computed = EntryHash {
        seq,
        kind: &line.kind,
        at_ms: line.at_ms,
        who: &line.who,
        body: &body,
        originals: &originals,
        row_count: line.row_count,
        rows: digest(&line.rows_sha256)?,
        prev,
    }
    .digest();
    if computed != stored || Utc::from_ms(line.at_ms).to_string() != line.at {
        return Err(said("is not what was entered: its text has another hash"));
    }
    match last {
        Some((before, _)) if before >= seq => return Err(said("stands out of order")),
        Some((before, sha)) if before + 1 == seq && sha != prev => {
            return Err(said("does not follow the entry before it"));
        }
        _ => {}
    }
    let proof: Vec<Digest> = line.proof.iter().map(|p| digest(p)).collect::<Result<_, _>>()?;
    let index = u64::try_from(seq).ok().and_then(|s| s.checked_sub(1));
    let included = index.is_some_and(|i| is_included(&leaf_hash(&stored.0), i, size, &proof, root));
    if !included {
        return Err(said("is not in the log that has this root"));
    }
    Ok((seq, stored, originals))
}
