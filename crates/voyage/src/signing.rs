//! Signing what leaves the ship.

use journal::sign::SigningKey;
use journal::{ProofBook, key_place, load_or_make_key};
use record::Act;
use units::Utc;

use crate::{Problem, Voyage};

impl Voyage {
    /// The ship's signing key (made when there is none yet), announced in the journal by an entry
    /// when this voyage does not know it. Call it before the root is taken that will be signed.
    ///
    /// # Errors
    /// The key's file cannot be read or made; what the journal says.
    pub fn ready_to_sign(&mut self, who: &str, now: Utc) -> Result<SigningKey, Problem> {
        let place = key_place().ok_or_else(|| {
            Problem::Act("no place for the signing key; name a file with HOLDFAST_KEY".to_owned())
        })?;
        let key = load_or_make_key(&place)?;
        self.announce_key(&key, who, now)?;
        Ok(key)
    }

    /// Enters the public key unless it stands there already.
    ///
    /// # Errors
    /// What the journal says.
    pub fn announce_key(&mut self, key: &SigningKey, who: &str, now: Utc) -> Result<(), Problem> {
        self.refresh()?;
        let public_key = key.public().to_string();
        if !self.acts().keys.contains(&public_key) {
            self.enter(&Act::KeyAnnounced { public_key }, &[], who, now)?;
        }
        Ok(())
    }

    /// Every entry with its proof to the present root.
    ///
    /// # Errors
    /// What the journal says.
    pub fn proof_book(&self) -> Result<ProofBook, Problem> {
        Ok(self.journal().proof_book()?)
    }
}
