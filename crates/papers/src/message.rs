//! The messages that go ashore twice a day: plain text that fits a bad line and can be read out
//! by radio, and a table of all boxes beside it.
//!
//! Text: 7-bit ASCII, at most [`TEXT_MAX`] bytes, lines of at most [`WIDTH`] characters. What does
//! not fit is counted and named as being in the table. No degree sign: a `C` follows the figure.

pub mod change;
pub mod malfunction;
pub mod table;
mod text;

use record::digest::Digest;
use record::treatment::TreatmentView;
use record::{MissedEntry, NoteEntry, WatchList};
use units::Utc;

use crate::message::change::Change;
use crate::message::table::Row;

/// Most bytes of a text (reference: plain-text mail body of at most 4 kB).
pub const TEXT_MAX: usize = 4000;

/// Most characters of a line.
pub const WIDTH: usize = 76;

/// Most bytes of the packed table (reference: 25 kB for any ship).
pub const TABLE_MAX: usize = 25_000;

/// Which message.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Counts, exceptions, treatments, root.
    TwiceDaily,
    /// Malfunction reports per box.
    Exceptions,
}

impl Kind {
    /// The word on the command line and in the journal.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::TwiceDaily => "twice-daily",
            Self::Exceptions => "exceptions",
        }
    }

    /// From the word.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        [Self::TwiceDaily, Self::Exceptions].into_iter().find(|k| k.as_str() == text)
    }
}

/// The message before, for the delta form.
#[derive(Debug, Clone, PartialEq)]
pub struct Previous {
    /// Its number.
    pub number: u64,
    /// When it was sent.
    pub at: Utc,
    /// Its table, unpacked.
    pub rows: Vec<Row>,
}

/// Everything a message is made from.
pub struct Facts<'a> {
    /// Which message.
    pub kind: Kind,
    /// Its number.
    pub number: u64,
    /// Ship and voyage.
    pub ship: String,
    /// When it is made.
    pub made_at: Utc,
    /// Next port and its expected arrival.
    pub next_port: Option<(String, Option<Utc>)>,
    /// The watch list.
    pub list: &'a WatchList,
    /// Cold treatments, in order of need.
    pub treatments: &'a [TreatmentView],
    /// What people wrote down.
    pub notes: &'a [NoteEntry],
    /// Rounds not walked.
    pub missed: &'a [MissedEntry],
    /// Entries in the journal before this message …
    pub log_entries: i64,
    /// … and the root over them.
    pub root: Digest,
    /// The message of this kind before, where there is one.
    pub previous: Option<Previous>,
    /// Tell only what changed since then.
    pub delta: bool,
}

/// A message, ready to go.
#[derive(Debug, Clone, PartialEq)]
pub struct Message {
    /// The text.
    pub text: String,
    /// Boxes it would tell of.
    pub exceptions: usize,
    /// Boxes it had room for.
    pub told: usize,
    /// Treatments it had room for.
    pub treatments_told: usize,
    /// What changed since the message before; `None` when that was not asked.
    pub changes: Option<Vec<Change>>,
}

/// Composes the text.
#[must_use]
pub fn compose(facts: &Facts<'_>) -> Message {
    text::compose(facts)
}

/// A temperature with its sign as it is read out: `-18.0 C`.
pub(crate) fn celsius(t: f64) -> String {
    let text = format!("{t:.1}");
    let text = if text == "-0.0" { "0.0" } else { text.as_str() };
    format!("{text} C")
}

/// A time of the voyage: month, day and clock; the year stands in the head.
pub(crate) fn clock(at: Utc) -> String {
    let minute = at.to_minute();
    minute.get(5..).unwrap_or(&minute).to_owned()
}
