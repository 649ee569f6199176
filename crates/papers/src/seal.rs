//! The seal of a PDF that travels alone: a line of fixed width in the document's metadata with
//! the hash of all other bytes, the ship's public key and its signature over that hash.
//!
//! The line stands twice, in the document information and in the XMP packet, both stored without
//! compression: `holdfast-seal:` and 256 hexadecimal digits (SHA-256, public key, signature). The
//! file is hashed with all those digits at nought, so any byte changed, cut or added is seen.

use std::fmt;
use std::ops::Range;

use record::digest::Digest;
use record::hex;

/// What a seal begins with.
pub const MARK: &str = "holdfast-seal:";
/// Hexadecimal digits after the mark: SHA-256 (64), public key (64), signature (128).
const DIGITS: usize = 256;
/// Times the seal stands in a file.
const COPIES: usize = 2;

/// The seal before it is placed: to be written into the metadata of the document.
#[must_use]
pub fn blank() -> String {
    format!("{MARK}{}", "0".repeat(DIGITS))
}

/// A public key and a signature.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Signed {
    /// Ed25519 public key.
    pub public_key: [u8; 32],
    /// Ed25519 signature over [`Seal::message`].
    pub signature: [u8; 64],
}

/// A seal that holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Seal {
    /// SHA-256 of the file with the digits of its seal at nought.
    pub sha256: Digest,
    /// Who signed it; `None`: it was hashed only, so anybody may have made it.
    pub signed: Option<Signed>,
}

impl Seal {
    /// The exact bytes that are signed: the mark and the hash, as ASCII text.
    #[must_use]
    pub fn message(sha256: &Digest) -> Vec<u8> {
        format!("{MARK}{sha256}").into_bytes()
    }
}

/// Why a seal does not hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Broken {
    /// No seal is in the file, or not twice.
    Missing,
    /// The two copies differ or are not hexadecimal digits.
    Garbled,
    /// The bytes are not those that were hashed.
    Altered,
    /// The signature was not made over this hash by this key.
    NotSigned,
}

impl fmt::Display for Broken {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Missing => "it bears no seal, or the seal was damaged",
            Self::Garbled => "its seal was damaged",
            Self::Altered => "its bytes are not those that were sealed",
            Self::NotSigned => "its signature does not belong to its hash and key",
        })
    }
}

/// Places the seal of a file that holds [`blank`] twice, without changing its length. `sign` is
/// given the bytes of [`Seal::message`]; with `None` the file is hashed only.
///
/// # Errors
/// [`Broken::Missing`] when the blank seal does not stand in it twice.
pub fn place(pdf: &mut [u8], sign: impl FnOnce(&[u8]) -> Option<Signed>) -> Result<Seal, Broken> {
    let places = places(pdf).ok_or(Broken::Missing)?;
    let blank_digits = |place: &Range<usize>| {
        pdf.get(place.clone()).is_some_and(|digits| digits.iter().all(|b| *b == b'0'))
    };
    if !places.iter().all(blank_digits) {
        return Err(Broken::Missing);
    }
    let sha256 = Digest::of(pdf);
    let signed = sign(&Seal::message(&sha256));
    let digits = digits_of(&sha256, signed.as_ref());
    for place in places {
        if let Some(slot) = pdf.get_mut(place) {
            slot.copy_from_slice(digits.as_bytes());
        }
    }
    Ok(Seal { sha256, signed })
}

/// Checks a file against its own seal. `holds` tells whether a signature belongs to the message
/// and the key in it.
///
/// # Errors
/// [`Broken`] when any byte of the file is not as it was sealed.
pub fn check(pdf: &[u8], holds: impl FnOnce(&[u8], &Signed) -> bool) -> Result<Seal, Broken> {
    let places = places(pdf).ok_or(Broken::Missing)?;
    let [first, second] = &places;
    let digits = pdf.get(first.clone()).ok_or(Broken::Missing)?;
    if pdf.get(second.clone()) != Some(digits) {
        return Err(Broken::Garbled);
    }
    let text = std::str::from_utf8(digits).map_err(|_| Broken::Garbled)?;
    let (hash, rest) = text.split_at_checked(64).ok_or(Broken::Garbled)?;
    let (key, signature) = rest.split_at_checked(64).ok_or(Broken::Garbled)?;
    let sha256 = hex::array(hash).map(Digest).ok_or(Broken::Garbled)?;
    let public_key = hex::array(key).ok_or(Broken::Garbled)?;
    let signature = hex::array(signature).ok_or(Broken::Garbled)?;

    let mut bare = pdf.to_vec();
    for place in places {
        if let Some(slot) = bare.get_mut(place) {
            slot.fill(b'0');
        }
    }
    if Digest::of(&bare) != sha256 {
        return Err(Broken::Altered);
    }
    let signed = Signed { public_key, signature };
    if signed == (Signed { public_key: [0; 32], signature: [0; 64] }) {
        return Ok(Seal { sha256, signed: None });
    }
    if !holds(&Seal::message(&sha256), &signed) {
        return Err(Broken::NotSigned);
    }
    Ok(Seal { sha256, signed: Some(signed) })
}

/// True when the file bears the mark of a seal at all.
#[must_use]
pub fn bears_mark(pdf: &[u8]) -> bool {
    marks_from_the_end(pdf).next().is_some()
}

/// Where the digits of the two copies stand. Metadata stand behind every attachment, so the last
/// two are meant: an attached file may hold a seal of its own.
fn places(pdf: &[u8]) -> Option<[Range<usize>; COPIES]> {
    let mut found = marks_from_the_end(pdf).map(|mark| {
        let from = mark + MARK.len();
        from..from + DIGITS
    });
    let (last, first) = (found.next()?, found.next()?);
    let apart = first.end <= last.start.checked_sub(MARK.len())?;
    (apart && last.end <= pdf.len()).then_some([first, last])
}

fn marks_from_the_end(pdf: &[u8]) -> impl Iterator<Item = usize> + '_ {
    memchr::memmem::rfind_iter(pdf, MARK.as_bytes())
}

fn digits_of(sha256: &Digest, signed: Option<&Signed>) -> String {
    let (key, signature) = signed.map_or(([0; 32], [0; 64]), |s| (s.public_key, s.signature));
    format!("{sha256}{}{}", hex::text(&key), hex::text(&signature))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Stands for a signature: enough to show that what is signed is what is checked.
    fn sign(message: &[u8]) -> Signed {
        let h = Digest::of(message).0;
        let mut signature = [0; 64];
        signature[..32].copy_from_slice(&h);
        signature[32..].copy_from_slice(&Digest::of(&h).0);
        Signed { public_key: [7; 32], signature }
    }

    fn holds(message: &[u8], s: &Signed) -> bool {
        sign(message) == *s
    }

    fn file() -> Vec<u8> {
        let (b, noise) = (blank(), "stream of whatever bytes ".repeat(40));
        format!("%PDF-1.7 {noise} /Keywords ({b}) {noise} <k>{b}</k> %%EOF").into_bytes()
    }

    fn sealed() -> Vec<u8> {
        let mut pdf = file();
        place(&mut pdf, |m| Some(sign(m))).unwrap();
        pdf
    }

    #[test]
    fn what_is_placed_is_found() {
        let mut pdf = file();
        let n = pdf.len();
        let seal = place(&mut pdf, |m| Some(sign(m))).unwrap();
        assert_eq!(pdf.len(), n);
        assert_eq!(check(&pdf, holds), Ok(seal));
        // The hash can be had without this program: all digits at nought, then SHA-256.
        assert_eq!(check(&pdf, holds).unwrap().sha256, Digest::of(&file()));
        assert_eq!(place(&mut pdf, |_| None), Err(Broken::Missing), "sealed already");
    }

    #[test]
    fn a_seal_without_a_signature_says_so() {
        let mut pdf = file();
        place(&mut pdf, |_| None).unwrap();
        assert_eq!(check(&pdf, holds).unwrap().signed, None);
        assert_eq!(check(b"%PDF-1.7 nothing", holds), Err(Broken::Missing));
        assert_eq!(check(b"", holds), Err(Broken::Missing));
    }

    #[test]
    fn a_sealed_file_attached_does_not_disturb() {
        let inner = sealed();
        let outer = [b"%PDF-1.7 ".to_vec(), inner, file()].concat();
        let mut pdf = outer;
        let seal = place(&mut pdf, |m| Some(sign(m))).unwrap();
        assert_eq!(check(&pdf, holds), Ok(seal));
    }

    /// Every bit of a file, with and without a signature.
    #[test]
    fn every_flipped_bit_is_seen() {
        let mut bare = file();
        place(&mut bare, |_| None).unwrap();
        for mut pdf in [sealed(), bare] {
            for bit in 0..pdf.len() * 8 {
                pdf[bit / 8] ^= 1 << (bit % 8);
                assert!(check(&pdf, holds).is_err(), "bit {bit}");
                pdf[bit / 8] ^= 1 << (bit % 8);
            }
            assert!(check(&pdf, holds).is_ok());
        }
    }

    #[test]
    fn every_truncation_and_appended_byte_is_seen() {
        let pdf = sealed();
        for n in 0..pdf.len() {
            assert!(check(&pdf[..n], holds).is_err(), "cut at {n}");
            assert!(check(&pdf[pdf.len() - n..], holds).is_err(), "beginning cut, {n} left");
        }
        for byte in 0..=255 {
            assert!(check(&[&pdf[..], &[byte]].concat(), holds).is_err(), "{byte} added");
        }
        assert!(check(&[&pdf[..], &pdf].concat(), holds).is_err());
    }

    proptest! {
        #[test]
        fn no_bytes_panic(bytes in proptest::collection::vec(any::<u8>(), 0..300), cut in 0usize..300) {
            let mut all = bytes.clone();
            all.extend_from_slice(blank().as_bytes());
            all.extend_from_slice(&blank().as_bytes()[..cut.min(270)]);
            let _ = check(&all, holds);
            let _ = place(&mut all, |_| None);
            let _ = check(&bytes, holds);
        }
    }
}
