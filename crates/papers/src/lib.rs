//! What leaves the ship: messages, round sheets and dossiers. Record in, paper out; nothing is
//! worked out here that was not recorded or assessed before.

pub mod ascii;
pub mod csv_file;
pub mod dossier;
pub mod message;
pub mod pdf;
pub mod port;
pub mod round;
pub mod seal;
pub mod sheet;
