//! What a loading list says of each container.

use serde::{Deserialize, Serialize};

use crate::{Cell, UnitId};

/// One container of a loading list. What the list does not say, or says unreadably, is `None`;
/// the unreadable is named in `warnings` and stands in `text`.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct ListedUnit {
    /// Number without spaces; `None` for a slot reserved without a number.
    pub unit: Option<UnitId>,
    /// Whether the number passes ISO 6346; `None` without a number.
    pub check_digit_ok: Option<bool>,
    /// Size-type code as sent, for example `45R1`.
    pub size_type: Option<String>,
    /// Thermal by size-type code, or because a transport temperature was sent.
    pub thermal: bool,
    /// Stowage cell as sent, for example `0220382`.
    pub stow: Option<String>,
    /// The cell, where it can be read.
    pub cell: Option<Cell>,
    /// UN/LOCODE of the port of loading.
    pub load_port: Option<String>,
    /// UN/LOCODE of the port of discharge.
    pub discharge_port: Option<String>,
    /// Full (`true`) or empty (`false`).
    pub full: Option<bool>,
    /// Gross weight; verified gross mass where sent.
    pub weight_kg: Option<f64>,
    /// Transport temperature ordered.
    pub set_point_c: Option<f64>,
    /// The text the set point was read from: evidence.
    pub set_point_as_sent: Option<String>,
    /// Temperature range allowed by the list, coldest and warmest.
    pub range_c: Option<[f64; 2]>,
    /// Relative humidity ordered.
    pub humidity_pct: Option<f64>,
    /// Fresh air ordered; 0 means closed.
    pub vent_m3_h: Option<f64>,
    /// Cargo and instructions in the sender's free text, one piece each.
    pub remarks: Vec<String>,
    /// What was odd about this unit, in words.
    pub warnings: Vec<String>,
    /// The unit's own segments or line, as sent.
    pub text: String,
}

/// What a list says of the voyage itself.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct VoyageHead {
    /// Ship's name as sent.
    pub ship: Option<String>,
    /// Voyage number as sent.
    pub voyage: Option<String>,
    /// Port the list was made for.
    pub departure_port: Option<String>,
    /// Next port of call.
    pub next_port: Option<String>,
    /// Estimated arrival there, milliseconds UTC. EDIFACT sends it without a zone; it is taken
    /// as UTC, so it may be off by the port's offset.
    pub next_port_eta_ms: Option<i64>,
}

/// How far a list speaks for the whole ship.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Scope {
    /// A bayplan or a list in CSV: who is not on it is not aboard.
    #[default]
    WholeShip,
    /// A load or discharge order, a terminal's report or a part of a bayplan: it speaks only of
    /// the boxes it names and of those that an earlier list of its kind named.
    Part,
    /// A file that was cut short: the absence of a unit proves nothing.
    Cut,
}

/// What reading one command's list files gave.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ListReport {
    /// How far it speaks for the whole ship.
    pub scope: Scope,
    /// What it says of the voyage.
    pub head: VoyageHead,
    /// Files read.
    pub files: usize,
    /// EDIFACT messages read (a CSV list has none).
    pub messages: usize,
    /// Every container, in the order of the files.
    pub units: Vec<ListedUnit>,
    /// Warnings on the files as a whole.
    pub warnings: Vec<String>,
}

/// A new list against the one held.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Changes {
    /// Units that were not held.
    pub added: usize,
    /// Units held that the new list no longer names.
    pub removed: usize,
    /// Units in another cell.
    pub moved: usize,
    /// Units whose ordered temperature changed.
    pub set_point_changed: usize,
}
