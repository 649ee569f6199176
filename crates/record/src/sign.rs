//! Ed25519 signatures (RFC 8032): who holds the ship's key says so of exactly these bytes.

use std::fmt;

use ed25519_dalek::{Signer as _, SigningKey as Inner, VerifyingKey};

use crate::hex;

/// A signing key. Its text is never printed.
#[derive(Clone)]
pub struct SigningKey(Inner);

impl SigningKey {
    /// The key that grows from 32 random bytes.
    #[must_use]
    pub fn from_seed(seed: &[u8; 32]) -> Self {
        Self(Inner::from_bytes(seed))
    }

    /// The half that may be known to all.
    #[must_use]
    pub fn public(&self) -> PublicKey {
        PublicKey(self.0.verifying_key().to_bytes())
    }

    /// Signs exactly these bytes.
    #[must_use]
    pub fn sign(&self, bytes: &[u8]) -> Signature {
        Signature(self.0.sign(bytes).to_bytes())
    }
}

impl fmt::Debug for SigningKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "signing key of {}", self.public())
    }
}

/// The public half of a signing key.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct PublicKey(pub [u8; 32]);

impl PublicKey {
    /// From 64 hexadecimal digits.
    #[must_use]
    pub fn from_hex(text: &str) -> Option<Self> {
        hex::array(text).map(Self)
    }

    /// True when the signature was made over exactly these bytes with this key's other half.
    #[must_use]
    pub fn signed(&self, bytes: &[u8], signature: &Signature) -> bool {
        // The strict rule: no second signature or key that would pass for the same bytes.
        VerifyingKey::from_bytes(&self.0)
            .is_ok_and(|key| key.verify_strict(bytes, &(&signature.0).into()).is_ok())
    }

    /// Its first 16 hexadecimal digits in fours: short enough to read out by radio.
    #[must_use]
    pub fn short(&self) -> String {
        let digits = self.to_string();
        let fours: Vec<&str> = (0..4).filter_map(|i| digits.get(4 * i..4 * i + 4)).collect();
        fours.join(" ")
    }
}

/// A signature.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Signature(pub [u8; 64]);

impl Signature {
    /// From 128 hexadecimal digits.
    #[must_use]
    pub fn from_hex(text: &str) -> Option<Self> {
        hex::array(text).map(Self)
    }
}

impl fmt::Display for PublicKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&hex::text(&self.0))
    }
}

impl fmt::Debug for PublicKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&hex::text(&self.0))
    }
}

impl fmt::Display for Signature {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&hex::text(&self.0))
    }
}

impl fmt::Debug for Signature {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&hex::text(&self.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 8032 §7.1, tests 1, 2 and 3: secret, public, message, signature.
    const RFC_8032: [[&str; 4]; 3] = [
        [
            "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
            "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
            "",
            "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
        ],
        [
            "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
            "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
            "72",
            "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
        ],
        [
            "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
            "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
            "af82",
            "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
        ],
    ];

    #[test]
    fn published_vectors() {
        for [secret, public, message, signature] in RFC_8032 {
            let key = SigningKey::from_seed(&hex::array(secret).unwrap());
            let message: Vec<u8> = (0..message.len() / 2)
                .map(|i| u8::from_str_radix(&message[2 * i..2 * i + 2], 16).unwrap())
                .collect();
            assert_eq!(key.public().to_string(), public);
            assert_eq!(key.sign(&message).to_string(), signature);
            let (public, signature) =
                (PublicKey::from_hex(public).unwrap(), Signature::from_hex(signature).unwrap());
            assert!(public.signed(&message, &signature));
            assert!(!public.signed(b"another", &signature));
        }
    }

    #[test]
    fn every_flipped_bit_is_seen() {
        let key = SigningKey::from_seed(&[7; 32]);
        let (message, signature) = (b"holdfast".to_vec(), key.sign(b"holdfast"));
        for bit in 0..512 {
            let mut bad = signature;
            bad.0[bit / 8] ^= 1 << (bit % 8);
            assert!(!key.public().signed(&message, &bad), "bit {bit} of the signature");
        }
        for bit in 0..256 {
            let mut bad = key.public();
            bad.0[bit / 8] ^= 1 << (bit % 8);
            assert!(!bad.signed(&message, &signature), "bit {bit} of the key");
        }
    }

    #[test]
    fn hexadecimal_text_has_one_form() {
        assert_eq!(PublicKey::from_hex(&"AB".repeat(32)), None);
        assert_eq!(PublicKey::from_hex(&"+1".repeat(32)), None);
        assert_eq!(PublicKey::from_hex("ab"), None);
        let key = PublicKey([0xab; 32]);
        assert_eq!(PublicKey::from_hex(&key.to_string()), Some(key));
        assert_eq!(key.short(), "abab abab abab abab");
    }
}
