//! What leaves the ship: messages, and later round sheets and dossiers. Record in, paper out;
//! nothing is worked out here that was not recorded or assessed before.

pub mod ascii;
pub mod seal;
