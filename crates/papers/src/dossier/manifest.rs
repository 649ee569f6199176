//! The manifest: every file of the folder with its hash, and the root it is proved by.

use record::digest::Digest;
use record::dossier::Dossier;
use serde_json::json;

use super::Ingredients;
use crate::pdf::Attachment;

/// Kind and version of the manifest.
const KIND: &str = "holdfast dossier 1";
const NAME_MOST: usize = 80;

/// The exact bytes that are signed.
pub(super) fn json(d: &Dossier, made_of: &Ingredients<'_>, files: &[Attachment]) -> Vec<u8> {
    let mut listed: Vec<serde_json::Value> = files
        .iter()
        .map(|f| {
            json!({
                "name": f.name,
                "bytes": f.bytes.len(),
                "sha256": Digest::of(&f.bytes).to_string(),
            })
        })
        .collect();
    for (o, file) in made_of.originals.iter().zip(&d.originals) {
        if o.bytes.is_none() {
            listed.push(json!({
                "name": o.path,
                "bytes": file.bytes,
                "sha256": file.sha256.to_string(),
            }));
        }
    }
    let manifest = json!({
        "kind": KIND,
        "unit": d.unit.as_str(),
        "ship": d.ship,
        "voyage": d.voyage,
        "made_at": d.made_at.to_string(),
        "entries": d.entries,
        "root": d.root.to_string(),
        "public_key": made_of.public_key.to_string(),
        "files": listed,
    });
    let mut text = format!("{manifest:#}");
    text.push('\n');
    text.into_bytes()
}

/// A name that every file system takes: letters, digits, dot, hyphen and underline, not too long,
/// no folders.
#[must_use]
pub fn safe_name(name: &str) -> String {
    let base = name.rsplit(['/', '\\']).next().unwrap_or("");
    let safe: String = base
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() || matches!(c, '.' | '-' | '_') { c } else { '_' })
        .collect();
    let safe = safe.trim_start_matches('.');
    let cut = safe.len().saturating_sub(NAME_MOST);
    let safe = safe.get(cut..).unwrap_or(safe);
    if safe.is_empty() { "file".to_owned() } else { safe.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_tame() {
        assert_eq!(safe_name("../../etc/passwd"), "passwd");
        assert_eq!(safe_name("C:\\x\\Rundgang früh.csv"), "Rundgang_fr_h.csv");
        assert_eq!((safe_name(".."), safe_name("")), ("file".into(), "file".into()));
        assert_eq!(safe_name(&"x".repeat(300)).len(), 80);
        assert!(safe_name(&format!("{}.csv", "x".repeat(300))).ends_with(".csv"));
    }
}
