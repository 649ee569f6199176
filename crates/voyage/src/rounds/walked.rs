//! The rounds that were walked, as their readings show.

use std::collections::{BTreeMap, BTreeSet};

use record::{Reading, UnitId, WatchList};
use units::Utc;

use crate::{Problem, Voyage};

/// Readings of rounds further apart than this belong to two rounds. Our estimate: nobody rests
/// for two hours within a round.
const PAUSE_H: f64 = 2.0;

/// One round.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RoundWalked {
    /// First reading.
    pub from: Utc,
    /// Last reading.
    pub to: Utc,
    /// Who walked it, as the readings' source says.
    pub who: Vec<String>,
    /// Boxes of the watch list that were read.
    pub read: usize,
    /// Boxes of the watch list that were not.
    pub missing: Vec<UnitId>,
}

impl Voyage {
    /// The rounds whose readings lie between `from` and `to`, newest first. A reading belongs to
    /// a round when its source begins with `round`.
    ///
    /// # Errors
    /// What the journal says.
    pub fn rounds_walked(
        &self,
        list: &WatchList,
        from: Utc,
        to: Utc,
    ) -> Result<Vec<RoundWalked>, Problem> {
        let mut read: Vec<(Utc, &UnitId, String)> = Vec::new();
        for line in &list.boxes {
            for row in self.journal().rows(line.unit.as_str(), from, to)? {
                let reading: Reading = crate::look::decode(&line.unit, &row)?;
                if let Some(who) = reading.source.strip_prefix("round")
                    && reading.has_observation()
                {
                    let who = who.trim_matches(['-', ' ']).to_owned();
                    read.push((reading.at, &line.unit, who));
                }
            }
        }
        read.sort();
        let apart = |a: &(Utc, &UnitId, String), b: &(Utc, &UnitId, String)| {
            b.0.hours_since(a.0) <= PAUSE_H
        };
        let mut out: Vec<RoundWalked> =
            read.chunk_by(apart).filter_map(|r| walked(r, list)).collect();
        out.reverse();
        Ok(out)
    }
}

fn walked(read: &[(Utc, &UnitId, String)], list: &WatchList) -> Option<RoundWalked> {
    let (first, last) = (read.first()?, read.last()?);
    let units: BTreeSet<&UnitId> = read.iter().map(|r| r.1).collect();
    let mut who: BTreeMap<&str, usize> = BTreeMap::new();
    for (.., name) in read.iter().filter(|r| !r.2.is_empty()) {
        *who.entry(name).or_default() += 1;
    }
    let missing = list.boxes.iter().map(|b| &b.unit).filter(|u| !units.contains(u));
    Some(RoundWalked {
        from: first.0,
        to: last.0,
        who: who.into_keys().map(str::to_owned).collect(),
        read: units.len(),
        missing: missing.cloned().collect(),
    })
}
