//! What comes with the paper, how to check it, and the lines to sign on.

use record::digest::Digest;
use record::dossier::Dossier;

use super::Ingredients;
use super::words::{minute, size};
use crate::pdf::Attachment;
use crate::sheet::{Sheet, Table};

/// Files that come with the paper.
pub(super) fn files(
    d: &Dossier,
    made_of: &Ingredients<'_>,
    attachments: &[Attachment],
    s: &mut Sheet<'_>,
) {
    s.heading("Files that come with this paper");
    let mut t = Table::new(&["name", ">size", "SHA-256", "what"]).dense();
    for a in attachments {
        if a.name.starts_with("originals/") {
            continue;
        }
        let hash = Digest::of(&a.bytes).to_string();
        t.row(vec![a.name.clone(), size(a.bytes.len() as u64), hash, a.description.clone()]);
    }
    s.table(&t, "");
    s.subheading("Originals, byte for byte as they came in");
    let mut t = Table::new(&["name", ">size", "SHA-256", "came in UTC", ">entry"]).dense();
    for (o, file) in made_of.originals.iter().zip(&d.originals) {
        t.row(vec![
            o.path.clone(),
            size(file.bytes),
            file.sha256.to_string(),
            minute(file.at),
            file.entry.to_string(),
        ]);
    }
    s.table(&t, "No file came in for this container.");
    if made_of.originals.iter().any(|o| o.bytes.is_none()) {
        s.small(
            "Names that begin with ../originals/ are files with many containers' data: they lie \
             once beside the folders of all containers and are not attached to this paper.",
        );
    }
}

/// How to check it.
pub(super) fn check(d: &Dossier, made_of: &Ingredients<'_>, s: &mut Sheet<'_>) {
    s.heading("How to check this paper");
    s.paragraph(
        "With the program: holdfast verify FILE.pdf, or holdfast verify FOLDER, on any computer \
         and without the voyage file. It names the first thing that is not as it was made.",
    );
    s.paragraph(
        "Without it: the document's keywords hold holdfast-seal: and 256 digits, which are the \
         SHA-256 of this file, a public key and a signature (64, 64 and 128 hexadecimal digits). \
         The hash is over the file with these 256 digits at nought in both places where they \
         stand. The Ed25519 signature (RFC 8032) is over the text holdfast-seal: followed by the \
         hash. manifest.sig is the signature over the bytes of manifest.json, which names the \
         SHA-256 of every file. Each line of entries.jsonl is a journal entry with the path \
         (RFC 9162) from its hash to the root.",
    );
    s.strong(&format!("Journal root over {} entries:", d.entries));
    s.indented(&d.root.to_string());
    s.strong(&format!("Public key (short: {}):", made_of.public_key.short()));
    s.indented(&made_of.public_key.to_string());
    s.space(3.0);
    s.paragraph(
        "What this cannot show: that the journal is the one kept on board from the first day. For \
         that, compare root and number of entries with the messages that the ship sent during the \
         voyage; and compare the public key with the one she gave.",
    );
}

/// Lines to sign on.
pub(super) fn signatures(s: &mut Sheet<'_>) {
    s.heading("Signatures");
    s.small("A signature says only what its line says. Write name, rank and time in full.");
    s.signature_lines(&[
        "Received on board. Container as described on the first page; plug, temperature and seal \
         looked at:",
        "Handed over from board. This paper is what was recorded on board:",
        "Received on shore. Container and this paper received:",
    ]);
}
