//! Malfunctions: what was noticed, done and restored on a box, as people wrote it down.

use std::collections::BTreeMap;

use record::{NoteEntry, NoteKind, UnitId};

/// The notes of one malfunction of one box, in the order of their times.
#[derive(Debug, Clone, PartialEq)]
pub struct Malfunction<'a> {
    /// The box.
    pub unit: &'a UnitId,
    /// What was written down.
    pub notes: Vec<&'a NoteEntry>,
}

impl Malfunction<'_> {
    /// True when somebody wrote that it works again.
    #[must_use]
    pub fn restored(&self) -> bool {
        self.notes.last().is_some_and(|n| n.note.kind == NoteKind::Restored)
    }
}

/// All malfunctions, by box and time. One begins with what was noticed, or whatever was written
/// first, and ends with `restored`; remarks stand where they fall and open nothing.
#[must_use]
pub fn malfunctions(notes: &[NoteEntry]) -> Vec<Malfunction<'_>> {
    let mut by_unit: BTreeMap<&UnitId, Vec<&NoteEntry>> = BTreeMap::new();
    for n in notes {
        if let Some(unit) = &n.note.unit {
            by_unit.entry(unit).or_default().push(n);
        }
    }
    let mut out: Vec<Malfunction<'_>> = Vec::new();
    for (unit, mut notes) in by_unit {
        notes.sort_by_key(|n| (n.note.at, n.entered_at));
        let mut open = false;
        for n in notes {
            match out.last_mut() {
                Some(m) if open => m.notes.push(n),
                _ if n.note.kind == NoteKind::Remark => continue,
                _ => out.push(Malfunction { unit, notes: vec![n] }),
            }
            open = n.note.kind != NoteKind::Restored;
        }
    }
    out
}
