//! What all papers of a voyage have in common: their foot, and the seal under them.

use record::digest::Digest;
use record::sign::{PublicKey, Signature};
use units::Utc;

use crate::pdf::{About, Attachment, print};
use crate::seal::{self, Signed};
use crate::sheet::{Fonts, Sheet};

/// The voyage a paper belongs to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Common {
    /// Ship and voyage.
    pub ship_line: String,
    /// When it was made.
    pub made_at: Utc,
    /// Journal entries.
    pub entries: u64,
    /// Their root.
    pub root: Digest,
    /// The key it is signed with.
    pub public_key: PublicKey,
}

/// Signs.
pub type Sign<'a> = &'a dyn Fn(&[u8]) -> Signature;

/// Prints a sheet with the voyage's foot and seals it.
///
/// # Errors
/// In words, when the paper cannot be made.
pub fn sealed(
    sheet: Sheet<'_>,
    (title, subject): (&str, &str),
    common: &Common,
    fonts: &Fonts,
    attached: Vec<Attachment>,
    sign: Sign<'_>,
) -> Result<Vec<u8>, String> {
    let about = About {
        title: title.to_owned(),
        subject: subject.to_owned(),
        id: format!("{}/{title}", common.ship_line),
        made_at: common.made_at,
        foot: format!("{} · {title} · made {} UTC", common.ship_line, common.made_at.to_minute()),
        foot_hash: format!("journal root {} over {} entries", common.root, common.entries),
    };
    let mut pdf = print(sheet, fonts, &about, attached)?;
    let signed = |m: &[u8]| Some(Signed { public_key: common.public_key.0, signature: sign(m).0 });
    seal::place(&mut pdf, signed).map_err(|e| e.to_string())?;
    Ok(pdf)
}
