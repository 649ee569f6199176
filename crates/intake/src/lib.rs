//! Bytes in, (values, problems) out: EDIFACT lists, CSV lists, CSV readings.
//!
//! Nothing here opens a file. Bad input is refused piece by piece: a field, a row, a unit; a
//! whole file only when it cannot be read as its kind at all ([`Unreadable`]).

mod edifact;
mod fields;
mod groups;
mod list_csv;
mod lists;
mod messages;
pub mod probes;
mod readings;
mod table;
mod text;
mod weather;

pub use lists::read_lists;
pub use readings::{ReadingsFile, Refused, read_readings};
pub use text::Unreadable;
pub use weather::read_weather;

/// Fuzzing and property tests reach the tokenizer here.
#[doc(hidden)]
pub mod raw {
    pub use crate::edifact::tokenize;
}
