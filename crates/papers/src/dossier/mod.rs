//! The dossier of one box: paper, data, originals, manifest.

mod ahead;
mod csvs;
mod first;
mod instruments;
mod manifest;
mod parts;
mod proof;
mod service;
mod words;

pub use manifest::safe_name;

use record::dossier::Dossier;
use record::sign::{PublicKey, Signature};

use crate::pdf::{About, Attachment, Relation, print};
use crate::seal::{self, Signed};
use crate::sheet::{Fonts, Sheet};

/// An original file of a dossier: here, or stored once for many dossiers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Original {
    /// Its path from the dossier's folder: `originals/NAME`, or `../originals/NAME`.
    pub path: String,
    /// Its bytes; `None`: it is stored once beside the folders of all boxes and is not attached.
    pub bytes: Option<Vec<u8>>,
}

/// What a dossier is made of.
pub struct Ingredients<'a> {
    /// The record.
    pub dossier: &'a Dossier,
    /// One for each of its originals, in the same order.
    pub originals: Vec<Original>,
    /// Journal entries with their proofs.
    pub entries_jsonl: String,
    /// The key that `sign` signs with.
    pub public_key: PublicKey,
    /// Signs.
    pub sign: &'a dyn Fn(&[u8]) -> Signature,
}

/// A file of the folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FolderFile {
    /// Path in the folder.
    pub name: String,
    /// Bytes.
    pub bytes: Vec<u8>,
}

/// The folder of one box.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pack {
    /// The paper, sealed.
    pub pdf: Vec<u8>,
    /// Its pages.
    pub pages: usize,
    /// Everything else, `manifest.json` and `manifest.sig` last.
    pub files: Vec<FolderFile>,
}

/// Makes it.
///
/// # Errors
/// In words, when the paper cannot be made.
pub fn pack(ingredients: Ingredients<'_>, fonts: &Fonts) -> Result<Pack, String> {
    let d = ingredients.dossier;
    let data = csvs::all(d);
    let mut attachments: Vec<Attachment> = Vec::new();
    let attach = |name: &str, mime, what: &str, relation, bytes: &[u8]| Attachment {
        name: name.to_owned(),
        mime,
        description: what.to_owned(),
        relation,
        modified_at: d.made_at,
        bytes: bytes.to_vec(),
    };
    let entries = ingredients.entries_jsonl.as_bytes();
    let proofs = "journal entries with their hashes and proofs";
    attachments.push(attach(
        "entries.jsonl",
        "application/x-ndjson",
        proofs,
        Relation::Data,
        entries,
    ));
    for (name, what, bytes) in &data {
        attachments.push(attach(name, "text/csv", what, Relation::Data, bytes));
    }
    for (o, file) in ingredients.originals.iter().zip(&d.originals) {
        if let Some(bytes) = &o.bytes {
            let what = format!("as it came in with entry {}, SHA-256 {}", file.entry, file.sha256);
            let mut a = attach(&o.path, mime_of(&o.path), &what, Relation::Source, bytes);
            a.modified_at = file.at;
            attachments.push(a);
        }
    }
    let manifest = manifest::json(d, &ingredients, &attachments);
    let signature = (ingredients.sign)(&manifest).to_string().into_bytes();
    let mut files: Vec<FolderFile> = attachments
        .iter()
        .map(|a| FolderFile { name: a.name.clone(), bytes: a.bytes.clone() })
        .collect();
    for (name, mime, what, bytes) in [
        ("manifest.json", "application/json", "names and hashes of the files", manifest),
        ("manifest.sig", "text/plain", "Ed25519 signature over manifest.json", signature),
    ] {
        attachments.push(attach(name, mime, what, Relation::Data, &bytes));
        files.push(FolderFile { name: name.to_owned(), bytes });
    }
    let sheet = sheet(d, &ingredients, &attachments, fonts);
    let pages = sheet.pages();
    let mut pdf = print(sheet, fonts, &about(d), attachments)?;
    let signed = |message: &[u8]| {
        let signature = (ingredients.sign)(message);
        Some(Signed { public_key: ingredients.public_key.0, signature: signature.0 })
    };
    seal::place(&mut pdf, signed).map_err(|e| e.to_string())?;
    Ok(Pack { pdf, pages, files })
}

fn about(d: &Dossier) -> About {
    About {
        title: format!("Hand-over dossier {}", d.unit),
        subject: format!("What {} recorded about container {}", d.ship_line(), d.unit),
        id: format!("{}/{}", d.ship_line(), d.unit),
        made_at: d.made_at,
        foot: format!("{} · {} · made {} UTC", d.ship_line(), d.unit, d.made_at.to_minute()),
        foot_hash: format!("journal root {} over {} entries", d.root, d.entries),
    }
}

fn sheet<'f>(
    d: &Dossier,
    ingredients: &Ingredients<'_>,
    attachments: &[Attachment],
    fonts: &'f Fonts,
) -> Sheet<'f> {
    let mut s = Sheet::new(fonts);
    first::write(d, &mut s);
    parts::state(d, &mut s);
    ahead::write(d, &mut s);
    parts::identity(d, &mut s);
    parts::set_points(d, &mut s);
    parts::incidents(d, &mut s);
    parts::alarms(d, &mut s);
    parts::gaps(d, &mut s);
    service::treatment(d, &mut s);
    parts::calibrations(d, &mut s);
    instruments::checks(d, &mut s);
    instruments::charts(d, &mut s);
    service::service(d, &mut s);
    parts::log(d, &mut s);
    proof::files(d, ingredients, attachments, &mut s);
    proof::check(d, ingredients, &mut s);
    proof::signatures(&mut s);
    parts::readings(d, &mut s);
    s
}

fn mime_of(name: &str) -> &'static str {
    let end = name.rsplit('.').next().unwrap_or("").to_ascii_lowercase();
    match end.as_str() {
        "csv" => "text/csv",
        "txt" | "edi" | "toml" => "text/plain",
        "json" => "application/json",
        "pdf" => "application/pdf",
        "png" => "image/png",
        "jpg" | "jpeg" => "image/jpeg",
        _ => "application/octet-stream",
    }
}
