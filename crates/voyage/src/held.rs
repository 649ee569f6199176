//! The list in force: what all lists loaded so far leave standing.

use std::collections::{BTreeMap, BTreeSet};

use journal::Journal;
use record::{Changes, ListReport, ListedUnit, Scope, UnitId, VoyageHead};

use crate::Problem;
use crate::bodies::{LOAD, LoadBody};

/// A unit that is held, and the scope of the list that named it last.
#[derive(Debug, Clone, PartialEq)]
pub struct Held {
    /// What the list says.
    pub listed: ListedUnit,
    /// How far that list spoke for the whole ship.
    pub scope: Scope,
}

/// The list in force.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct HeldList {
    /// Units by number.
    pub units: BTreeMap<UnitId, Held>,
    /// Units that a list removed and no later one named again: they left the ship.
    pub gone: BTreeSet<UnitId>,
    /// Ship, voyage, next port: the latest word on each.
    pub head: VoyageHead,
}

impl HeldList {
    /// Replays every list entry of a journal, in order.
    pub(crate) fn replay(journal: &Journal) -> Result<Self, Problem> {
        let mut held = Self::default();
        for entry in journal.entries(1)?.iter().filter(|e| e.kind == LOAD) {
            let body: LoadBody = serde_json::from_slice(&entry.body)
                .map_err(|e| Problem::Entry { seq: entry.seq, why: e.to_string() })?;
            let report = ListReport {
                scope: body.scope,
                head: body.head,
                units: body.units,
                ..ListReport::default()
            };
            held.apply(&report);
        }
        Ok(held)
    }

    /// What a new list would change.
    ///
    /// A list of the whole ship removes whom it does not name. A load or discharge order removes
    /// only those that an order named last; a cut file removes nobody.
    #[must_use]
    pub fn changes(&self, report: &ListReport) -> Changes {
        let new = by_number(report);
        let mut out = Changes { removed: self.absent(report, &new).len(), ..Changes::default() };
        for (unit, listed) in &new {
            let Some(held) = self.units.get(unit) else {
                out.added += 1;
                continue;
            };
            let listed = merged(&held.listed, listed, report.scope);
            let (was, is) = (&held.listed, &listed);
            let same_cell = match (was.cell, is.cell) {
                (Some(a), Some(b)) => a == b,
                _ => was.stow == is.stow,
            };
            out.moved += usize::from(!same_cell);
            out.set_point_changed += usize::from(was.set_point_c != is.set_point_c);
        }
        out
    }

    /// Makes a new list the one in force.
    pub(crate) fn apply(&mut self, report: &ListReport) {
        let new = by_number(report);
        for unit in self.absent(report, &new) {
            self.units.remove(&unit);
            self.gone.insert(unit);
        }
        for (unit, listed) in new {
            let listed = match self.units.get(&unit) {
                Some(held) => merged(&held.listed, listed, report.scope),
                None => listed.clone(),
            };
            self.gone.remove(&unit);
            self.units.insert(unit, Held { listed, scope: report.scope });
        }
        let from = &report.head;
        let newer = |new: &Option<String>, old: &mut Option<String>| {
            if new.is_some() {
                old.clone_from(new);
            }
        };
        newer(&from.ship, &mut self.head.ship);
        newer(&from.voyage, &mut self.head.voyage);
        newer(&from.departure_port, &mut self.head.departure_port);
        if from.next_port.is_some() {
            self.head.next_port.clone_from(&from.next_port);
            self.head.next_port_eta_ms = from.next_port_eta_ms;
        }
    }

    /// Units held that the new list removes.
    fn absent(&self, report: &ListReport, new: &BTreeMap<UnitId, &ListedUnit>) -> Vec<UnitId> {
        let leaves = |held: &Held| match report.scope {
            Scope::WholeShip => true,
            Scope::Part => held.scope == Scope::Part,
            Scope::Cut => false,
        };
        let gone = self.units.iter().filter(|(unit, held)| leaves(held) && !new.contains_key(unit));
        gone.map(|(unit, _)| unit.clone()).collect()
    }
}

/// Units of a report by number; of a number listed twice, the first entry.
fn by_number(report: &ListReport) -> BTreeMap<UnitId, &ListedUnit> {
    let mut out = BTreeMap::new();
    for listed in &report.units {
        if let Some(unit) = &listed.unit {
            out.entry(unit.clone()).or_insert(listed);
        }
    }
    out
}

/// The new word on a unit. A list that speaks for the whole ship replaces the old word; an order
/// or a cut file leaves standing what it does not say.
fn merged(old: &ListedUnit, new: &ListedUnit, scope: Scope) -> ListedUnit {
    let mut out = new.clone();
    if scope == Scope::WholeShip {
        return out;
    }
    if out.stow.is_none() {
        out.stow.clone_from(&old.stow);
        out.cell = old.cell;
    }
    if out.set_point_as_sent.is_none() {
        out.set_point_as_sent.clone_from(&old.set_point_as_sent);
        out.set_point_c = old.set_point_c;
        out.range_c = out.range_c.or(old.range_c);
    }
    out.thermal |= old.thermal;
    out.size_type = out.size_type.or_else(|| old.size_type.clone());
    out.load_port = out.load_port.or_else(|| old.load_port.clone());
    out.discharge_port = out.discharge_port.or_else(|| old.discharge_port.clone());
    out.full = out.full.or(old.full);
    out.weight_kg = out.weight_kg.or(old.weight_kg);
    out.humidity_pct = out.humidity_pct.or(old.humidity_pct);
    out.vent_m3_h = out.vent_m3_h.or(old.vent_m3_h);
    if out.remarks.is_empty() {
        out.remarks.clone_from(&old.remarks);
    }
    out
}
