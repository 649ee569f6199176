//! What is different from the message before.

use std::collections::BTreeMap;

use record::UnitId;

use super::table::Row;

/// Air that moved less than this is not told again, kelvin: the reading error of a display and a
/// probe together (a choice of ours).
const AIR_MOVED_K: f64 = 0.5;

/// One box that is not as it was told.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// The box.
    pub unit: UnitId,
    /// What, in words.
    pub what: Vec<String>,
    /// It has left the list.
    pub gone: bool,
}

/// Every box that is not as it was told, in the order of the rows; those gone last.
#[must_use]
pub fn changes(before: &[Row], now: &[Row]) -> Vec<Change> {
    let old: BTreeMap<&UnitId, &Row> = before.iter().map(|r| (&r.unit, r)).collect();
    let mut out = Vec::new();
    for r in now {
        let what = match old.get(&r.unit) {
            None => vec!["new on the list".to_owned()],
            Some(was) => differences(was, r),
        };
        if !what.is_empty() {
            out.push(Change { unit: r.unit.clone(), what, gone: false });
        }
    }
    let held: BTreeMap<&UnitId, ()> = now.iter().map(|r| (&r.unit, ())).collect();
    for r in before.iter().filter(|r| !held.contains_key(&r.unit)) {
        let what = vec!["no longer on the list".to_owned()];
        out.push(Change { unit: r.unit.clone(), what, gone: true });
    }
    out
}

fn differences(was: &Row, is: &Row) -> Vec<String> {
    let mut out = Vec::new();
    if was.state != is.state {
        out.push(format!("was {}", was.state.to_uppercase()));
    }
    if was.stow != is.stow {
        out.push(format!("was in cell {}", was.stow));
    }
    for ((name, a), b) in ["set point", "supply", "return"].iter().zip(was.air_c).zip(is.air_c) {
        match (a, b) {
            (Some(a), Some(b)) if (a - b).abs() < AIR_MOVED_K => {}
            (Some(a), Some(b)) => {
                out.push(format!("{name} was {}, is {}", super::celsius(a), super::celsius(b)));
            }
            (None, Some(b)) => out.push(format!("{name} now read: {}", super::celsius(b))),
            (Some(_), None) => out.push(format!("{name} no longer read")),
            (None, None) => {}
        }
    }
    if was.treatment != is.treatment {
        out.push("treatment stands otherwise".to_owned());
    }
    out
}
