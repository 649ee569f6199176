//! What journal entries say, as stored. Fields are only ever added.

use record::{Changes, ListedUnit, Scope, VoyageHead};
use serde::{Deserialize, Serialize};

/// Kind of an entry that brings a list.
pub(crate) const LOAD: &str = "load";

/// Kind of an entry that brings readings.
pub(crate) const TAKE: &str = "take";

/// Kind of an entry that tells what a person did: its body is a [`record::Act`].
pub(crate) const ACT: &str = "act";

/// Body of a [`LOAD`] entry: the list as it was understood, so that replay needs no parser.
#[derive(Debug, Serialize, Deserialize)]
pub(crate) struct LoadBody {
    pub(crate) scope: Scope,
    pub(crate) head: VoyageHead,
    pub(crate) messages: usize,
    pub(crate) units: Vec<ListedUnit>,
    pub(crate) warnings: Vec<String>,
    pub(crate) changes: Changes,
}

/// Body of a [`TAKE`] entry. The readings themselves are the entry's rows.
#[derive(Debug, Serialize, Deserialize)]
pub(crate) struct TakeBody {
    pub(crate) rows: u64,
    pub(crate) stored: u64,
    pub(crate) already_held: u64,
    pub(crate) conflicts: u64,
    pub(crate) refused: Vec<RefusedRow>,
    pub(crate) warnings: Vec<String>,
}

/// A refused row, as stored.
#[derive(Debug, Serialize, Deserialize)]
pub(crate) struct RefusedRow {
    pub(crate) file: String,
    pub(crate) line: u32,
    pub(crate) why: String,
}
