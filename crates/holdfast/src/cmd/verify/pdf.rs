//! A PDF by itself.

use std::path::Path;

use papers::seal::{Seal, Signed, bears_mark, check as check_seal};
use record::sign::{PublicKey, Signature};

use super::found::{Found, Kind};
use crate::fail::Fail;

/// True for what begins as a PDF does, or is named like one.
pub fn looks_like_one(path: &Path, start: &[u8]) -> bool {
    start.starts_with(b"%PDF-") || path.extension().is_some_and(|e| e.eq_ignore_ascii_case("pdf"))
}

/// Checks the seal of a PDF that may be ours.
pub fn check(path: &Path, bytes: &[u8]) -> Result<Found, Fail> {
    let ours = bears_mark(bytes) || bytes.windows(8).any(|w| w.eq_ignore_ascii_case(b"holdfast"));
    let pdf_still = bytes.starts_with(b"%PDF-") && bytes.trim_ascii_end().ends_with(b"%%EOF");
    if pdf_still && !ours {
        return Err(Fail::refused(format!(
            "{}: a PDF of another program, without a seal; there is nothing to check it against",
            path.display()
        )));
    }
    let mut found = sealed(bytes);
    super::attached::check(bytes, &mut found);
    Ok(found)
}

/// Checks the seal of a PDF that must be ours.
pub fn sealed(bytes: &[u8]) -> Found {
    let mut found = Found { kind: Kind::Pdf, ..Found::default() };
    match check_seal(bytes, holds) {
        Ok(Seal { signed: Some(s), .. }) => found.public_key = Some(PublicKey(s.public_key)),
        Ok(Seal { signed: None, .. }) => found
            .problems
            .push("it is sealed without a signature, so anybody may have made it".to_owned()),
        Err(broken) => found.problems.push(broken.to_string()),
    }
    found
}

fn holds(message: &[u8], s: &Signed) -> bool {
    PublicKey(s.public_key).signed(message, &Signature(s.signature))
}
