//! The files attached to a PDF of ours, and what they prove by themselves.

use std::collections::BTreeMap;

use record::digest::Digest;
use record::sign::{PublicKey, Signature};
use voyage::{check_entries, inflate};

use super::dossier::{ENTRIES, Manifest};
use super::found::Found;

/// Most bytes that one attachment unpacks to, and all of them together.
const FILE_MAX: u64 = 256 << 20;
const ALL_MAX: usize = 512 << 20;

const MARK: &[u8] = b"/Type/EmbeddedFile";

/// Every attached file that can be unpacked, by hash.
fn attached(pdf: &[u8]) -> BTreeMap<Digest, Vec<u8>> {
    let mut out = BTreeMap::new();
    let (mut from, mut total) = (0, 0);
    while let Some(at) = find(pdf, MARK, from) {
        from = at + MARK.len();
        let Some(bytes) = stream_after(pdf, at) else { continue };
        total += bytes.len();
        if total > ALL_MAX {
            break;
        }
        out.insert(Digest::of(&bytes), bytes);
    }
    out
}

/// The stream of the object whose dictionary holds the mark.
fn stream_after(pdf: &[u8], mark: usize) -> Option<Vec<u8>> {
    let start = find(pdf, b"stream", mark)?;
    let object = pdf.get(..mark)?.windows(4).rposition(|w| w == b" obj")?;
    let head = pdf.get(object..start)?;
    let length_at = find(head, b"/Length ", 0)? + 8;
    let digits: String = head
        .get(length_at..)?
        .iter()
        .take_while(|b| b.is_ascii_digit())
        .map(|b| char::from(*b))
        .collect();
    let rest = pdf.get(start + 6..)?;
    let body = rest.strip_prefix(b"\r\n").or_else(|| rest.strip_prefix(b"\n"))?;
    let packed = body.get(..digits.parse().ok()?)?;
    if find(head, b"/FlateDecode", 0).is_some() {
        return inflate(packed, FILE_MAX);
    }
    Some(packed.to_vec())
}

fn find(bytes: &[u8], what: &[u8], from: usize) -> Option<usize> {
    let rest = bytes.get(from..)?;
    rest.windows(what.len()).position(|w| w == what).map(|i| i + from)
}

/// Checks the attached list, its signature, the files it names and the entries, and says so in
/// `found`. A PDF without a list (a sheet for a port) has nothing of the kind.
pub fn check(pdf: &[u8], found: &mut Found) {
    let files = attached(pdf);
    let list = files.values().find_map(|b| {
        let list: Manifest = serde_json::from_slice(b).ok()?;
        (list.kind == "holdfast dossier 1").then_some((b, list))
    });
    let Some((bytes, list)) = list else { return };
    let key = PublicKey::from_hex(&list.public_key);
    found.root = Digest::from_hex(&list.root);
    found.log_entries = Some(list.entries);
    found.checked = files.len();
    let mut problems = Vec::new();
    let entries = files.values().find(|b| b.starts_with(b"{\"seq\":"));
    let text = entries.and_then(|b| std::str::from_utf8(b).ok());
    if let (Some(text), Some(root), Ok(size)) = (text, found.root, u64::try_from(list.entries)) {
        let log = check_entries(text, size, &root);
        found.entries = Some(log.entries);
        problems.extend(log.problems);
    } else {
        problems.push(format!("attached {ENTRIES} cannot be read against the root"));
    }
    let signed = files.values().any(|b| {
        let signature = std::str::from_utf8(b).ok().and_then(Signature::from_hex);
        signature.is_some_and(|s| key.is_some_and(|k| k.signed(bytes, &s)))
    });
    if !signed {
        problems.push("the attached list of files is not what was signed".to_owned());
    }
    if found.public_key.is_some() && found.public_key != key {
        problems.push("the attached list is signed with another key than the PDF".to_owned());
    }
    // Files that many dossiers share are named in the list and lie beside it.
    for f in list.files.iter().filter(|f| !f.name.starts_with("../")) {
        let held = Digest::from_hex(&f.sha256).is_some_and(|sha| files.contains_key(&sha));
        if !held {
            problems.push(format!("attached {}: its bytes are not those that were signed", f.name));
        }
    }
    problems.append(&mut found.problems);
    found.problems = problems;
}
