//! What has to be shown and handed over at a port, derived from what the voyage holds. A page or
//! a paper prints it and works out nothing.

use units::Utc;

use crate::digest::Digest;

/// Something that has to be shown, and where that stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Must {
    /// What.
    pub what: &'static str,
    /// Where it stands.
    pub source: &'static str,
    /// How far that can be trusted: `read` in the source, `read second-hand`, `from memory,
    /// unverified`, `judgement of ours`.
    pub trust: &'static str,
}

/// A column: its key in JSON and CSV, and its head as a person reads it.
pub type Column = (&'static str, &'static str);

/// One part of the list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Part {
    /// Its name in JSON.
    pub key: &'static str,
    /// Its heading.
    pub title: &'static str,
    /// What has to be shown, and why.
    pub musts: &'static [Must],
    /// Columns; a head that begins with `>` is one of figures.
    pub columns: &'static [Column],
    /// Rows; blank where nobody entered it.
    pub rows: Vec<Vec<String>>,
    /// What stands there when there is no row.
    pub empty: &'static str,
}

/// The list of one port.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Handover {
    /// The port.
    pub port: String,
    /// Ship and voyage.
    pub ship_line: String,
    /// Expected arrival, where known.
    pub eta: Option<Utc>,
    /// Readings up to this instant were looked at.
    pub as_of: Option<Utc>,
    /// When it was made.
    pub made_at: Utc,
    /// Containers to discharge there.
    pub boxes: usize,
    /// What is still open, most urgent first: one sentence each.
    pub open: Vec<String>,
    /// The parts.
    pub parts: Vec<Part>,
    /// Journal entries when it was made.
    pub entries: u64,
    /// Their root.
    pub root: Digest,
}
