//! What can stand in the way, in one line each.

use std::fmt;

use intake::Unreadable;
use journal::JournalError;

use crate::TakeOutcome;

/// Why nothing was done. Displays as one line: what, where, what to do.
#[derive(Debug)]
pub enum Problem {
    /// A file cannot be read as its kind; nothing of the command was stored.
    Unreadable(Unreadable),
    /// Every row of every file was refused; nothing was stored.
    AllRefused(Box<TakeOutcome>),
    /// The voyage file.
    Journal(JournalError),
    /// What a person wants to enter makes no sense for this voyage.
    Act(String),
    /// An entry of the journal cannot be understood.
    Entry {
        /// Which.
        seq: i64,
        /// What is wrong with it.
        why: String,
    },
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unreadable(e) => e.fmt(f),
            Self::Journal(e) => e.fmt(f),
            Self::Act(why) => f.write_str(why),
            Self::AllRefused(outcome) => match outcome.refused.first() {
                Some(r) => write!(
                    f,
                    "{}:{}: {}; all {} rows were refused and nothing was stored, correct the file \
                     and take it again",
                    r.file,
                    r.line,
                    r.why,
                    outcome.refused.len()
                ),
                None => f.write_str("nothing could be read and nothing was stored"),
            },
            Self::Entry { seq, why } => write!(
                f,
                "journal entry {seq} cannot be understood ({why}); use the program that wrote it"
            ),
        }
    }
}

impl std::error::Error for Problem {}

impl From<JournalError> for Problem {
    fn from(e: JournalError) -> Self {
        Self::Journal(e)
    }
}

impl From<Unreadable> for Problem {
    fn from(e: Unreadable) -> Self {
        Self::Unreadable(e)
    }
}
