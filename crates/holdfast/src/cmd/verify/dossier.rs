//! A dossier's folder: the signed list of its files, the files, the entries with their proofs.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Component, Path};

use record::digest::Digest;
use record::sign::{PublicKey, Signature};
use serde::Deserialize;
use voyage::check_entries;

use super::found::{Found, Kind};
use super::{items, pdf, unreadable};
use crate::fail::Fail;

const LIST: &str = "manifest.json";
const SIGNATURE: &str = "manifest.sig";
pub const ENTRIES: &str = "entries.jsonl";
const PAPER: &str = "dossier.pdf";

/// The signed list.
#[derive(Deserialize)]
pub struct Manifest {
    /// What it is.
    pub kind: String,
    /// The box.
    pub unit: String,
    /// Entries that the root is over.
    pub entries: i64,
    /// The root.
    pub root: String,
    /// Who signed.
    pub public_key: String,
    /// Every file.
    pub files: Vec<Listed>,
}

/// One file of it. The name may lead to the folder beside that several dossiers share.
#[derive(Deserialize)]
pub struct Listed {
    /// Name.
    pub name: String,
    /// Length.
    pub bytes: u64,
    /// Hash.
    pub sha256: String,
}

/// True when a folder is, or was, a dossier.
pub fn is_one(dir: &Path) -> bool {
    [LIST, SIGNATURE, ENTRIES, PAPER].iter().filter(|n| dir.join(n).exists()).count() >= 2
        || dir.join(LIST).exists()
}

/// Names of shared files that its list tells of.
pub fn shared_names(dir: &Path) -> Vec<String> {
    let list = fs::read(dir.join(LIST)).ok();
    let list: Option<Manifest> = list.and_then(|b| serde_json::from_slice(&b).ok());
    let names = list.into_iter().flat_map(|m| m.files).map(|f| f.name);
    names.filter(|n| n.starts_with("../")).collect()
}

/// Checks everything in the folder.
pub fn check(dir: &Path) -> Result<Found, Fail> {
    let mut found = Found { kind: Kind::Dossier, ..Found::default() };
    let list = match fs::read(dir.join(LIST)) {
        Ok(bytes) => bytes,
        Err(_) => {
            found.problems.push(format!("{LIST} is missing"));
            return Ok(found);
        }
    };
    let Ok(manifest) = serde_json::from_slice::<Manifest>(&list) else {
        found.problems.push(format!("{LIST} cannot be read: it was altered"));
        return Ok(found);
    };
    found.log_entries = Some(manifest.entries);
    found.root = Digest::from_hex(&manifest.root);
    found.public_key = PublicKey::from_hex(&manifest.public_key);
    if let Some(problem) = signature_problem(dir, &list, found.public_key) {
        found.problems.push(problem);
    }
    if manifest.kind != "holdfast dossier 1" {
        found.problems.push(format!("{LIST}: \"{}\" is no dossier known here", manifest.kind));
    }
    check_files(dir, &manifest, &mut found);
    check_log(dir, &manifest, &mut found);
    check_paper(dir, &manifest, &mut found);
    check_nothing_else(dir, &manifest, &mut found)?;
    Ok(found)
}

fn signature_problem(dir: &Path, list: &[u8], key: Option<PublicKey>) -> Option<String> {
    let Ok(text) = fs::read(dir.join(SIGNATURE)) else {
        return Some(format!("{SIGNATURE} is missing"));
    };
    let signature = std::str::from_utf8(&text).ok().and_then(Signature::from_hex);
    let Some(signature) = signature else {
        return Some(format!("{SIGNATURE} is damaged: it holds no signature"));
    };
    let signed = key.is_some_and(|k| k.signed(list, &signature));
    (!signed).then(|| format!("{LIST} is not what was signed, or {SIGNATURE} is not its signature"))
}

/// Every listed file is there, of its length and hash.
fn check_files(dir: &Path, manifest: &Manifest, found: &mut Found) {
    for file in &manifest.files {
        let name = &file.name;
        if !stays_near(name) {
            found.problems.push(format!("{name}: leads out of the dossier"));
            continue;
        }
        found.checked += 1;
        let Ok(bytes) = fs::read(dir.join(name)) else {
            found.problems.push(format!("{name} is missing"));
            continue;
        };
        if bytes.len() as u64 != file.bytes || Digest::of(&bytes).to_string() != file.sha256 {
            found.problems.push(format!("{name}: its bytes are not those that were signed"));
        }
    }
}

/// Inside the folder, or in the folder beside it that dossiers share.
fn stays_near(name: &str) -> bool {
    let inside = name.strip_prefix("../originals/").unwrap_or(name);
    !inside.is_empty()
        && !inside.contains('\\')
        && Path::new(inside).components().all(|c| matches!(c, Component::Normal(_)))
}

/// The entries prove themselves against the root.
fn check_log(dir: &Path, manifest: &Manifest, found: &mut Found) {
    let text = fs::read(dir.join(ENTRIES)).ok().and_then(|b| String::from_utf8(b).ok());
    let size = u64::try_from(manifest.entries).ok();
    let (Some(text), Some(size), Some(root)) = (text, size, found.root) else {
        found.problems.push(format!("{ENTRIES} cannot be read against the root"));
        return;
    };
    let log = check_entries(&text, size, &root);
    found.entries = Some(log.entries);
    // The entry is worth more to a reader than the name of the file it stands in.
    let rest = std::mem::take(&mut found.problems);
    found.problems = log.problems.into_iter().chain(rest).collect();
    if !manifest.files.iter().any(|f| f.name == ENTRIES) {
        found.problems.push(format!("{ENTRIES} is not on the signed list"));
    }
}

/// The PDF is whole, of the same box and signed with the same key.
fn check_paper(dir: &Path, manifest: &Manifest, found: &mut Found) {
    let Ok(bytes) = fs::read(dir.join(PAPER)) else {
        found.problems.push(format!("{PAPER} is missing"));
        return;
    };
    found.checked += 1;
    let paper = pdf::sealed(&bytes);
    found.problems.extend(paper.problems.iter().map(|p| format!("{PAPER}: {p}")));
    if paper.problems.is_empty() && paper.public_key != found.public_key {
        found.problems.push(format!("{PAPER} is signed with another key than {LIST}"));
    }
    let unit = manifest.unit.as_bytes();
    if unit.is_empty() || !bytes.windows(unit.len()).any(|w| w == unit) {
        found.problems.push(format!("{PAPER} is not about {}", manifest.unit));
    }
}

/// A file that nobody signed does not belong to the dossier.
fn check_nothing_else(dir: &Path, manifest: &Manifest, found: &mut Found) -> Result<(), Fail> {
    let known: BTreeSet<&str> =
        manifest.files.iter().map(|f| f.name.as_str()).chain([LIST, SIGNATURE, PAPER]).collect();
    let mut folders = vec![(dir.to_path_buf(), String::new())];
    while let Some((folder, prefix)) = folders.pop() {
        for path in items(&folder)? {
            let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
            let name = format!("{prefix}{name}");
            if fs::symlink_metadata(&path).map_err(|e| unreadable(&path, &e))?.is_dir() {
                folders.push((path, format!("{name}/")));
            } else if !known.contains(name.as_str()) {
                found.problems.push(format!("{name} is not on the signed list"));
            }
        }
    }
    Ok(())
}
