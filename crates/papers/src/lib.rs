//! What leaves the ship or hangs on a board: messages, dossiers, plans. Record in, paper out; nothing is
//! worked out here that was not recorded or assessed before.

pub mod ascii;
pub mod books;
pub mod common;
pub mod csv_file;
pub mod dossier;
pub mod handover;
pub mod message;
pub mod night;
pub mod pdf;
pub mod plant;
pub mod port;
pub mod round;
pub mod seal;
pub mod sheet;
pub mod watch;
pub mod work;
