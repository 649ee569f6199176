//! Loading lists.

use journal::{NewEntry, NewOriginal};
use record::{Changes, ListReport};
use units::Utc;

use crate::bodies::{LOAD, LoadBody};
use crate::held::HeldList;
use crate::{NamedBytes, Problem, Voyage};

/// What loading a list gave.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadOutcome {
    /// Every container with its warnings, and warnings on the files.
    pub report: ListReport,
    /// The list against the one held before.
    pub changes: Changes,
}

/// Reads lists without a voyage: everything in them counts as added.
///
/// # Errors
/// [`Problem::Unreadable`] for the first file that is no list.
pub fn read_only(files: &[NamedBytes]) -> Result<LoadOutcome, Problem> {
    compare(&HeldList::default(), files)
}

fn compare(held: &HeldList, files: &[NamedBytes]) -> Result<LoadOutcome, Problem> {
    let pairs: Vec<(&str, &[u8])> =
        files.iter().map(|f| (f.name.as_str(), f.bytes.as_slice())).collect();
    let report = intake::read_lists(&pairs)?;
    let changes = held.changes(&report);
    Ok(LoadOutcome { report, changes })
}

impl Voyage {
    /// Shows what loading these lists would change, and stores nothing.
    ///
    /// # Errors
    /// [`Problem::Unreadable`] for the first file that is no list.
    pub fn load_dry(&self, files: &[NamedBytes]) -> Result<LoadOutcome, Problem> {
        compare(&self.held, files)
    }

    /// Loads lists: all files of one call together are one list.
    ///
    /// # Errors
    /// [`Problem`]; then nothing was stored.
    pub fn load(
        &mut self,
        files: &[NamedBytes],
        who: &str,
        now: Utc,
    ) -> Result<LoadOutcome, Problem> {
        self.refresh()?;
        let outcome = compare(&self.held, files)?;
        let report = &outcome.report;
        let body = LoadBody {
            scope: report.scope,
            head: report.head.clone(),
            messages: report.messages,
            units: report.units.clone(),
            warnings: report.warnings.clone(),
            changes: outcome.changes,
        };
        let body =
            serde_json::to_vec(&body).map_err(|e| Problem::Entry { seq: 0, why: e.to_string() })?;
        let originals = originals(files);
        let entry = NewEntry { kind: LOAD, at: now, who, body: &body, originals: &originals };
        let (seq, _) = self.journal.begin()?.commit(&entry)?;
        self.replayed_to = seq;
        self.held.apply(report);
        Ok(outcome)
    }
}

/// The files as the journal keeps them, without folders.
pub(crate) fn originals(files: &[NamedBytes]) -> Vec<NewOriginal<'_>> {
    files
        .iter()
        .map(|f| NewOriginal {
            name: f.name.rsplit(['/', '\\']).next().unwrap_or(&f.name),
            bytes: &f.bytes,
        })
        .collect()
}
