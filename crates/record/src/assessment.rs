//! What reasoning says of a box: an assessment refers to readings and is never edited.

use units::Utc;

use crate::{Cell, UnitId};

/// How much a box needs a person. Ordered: the later, the more urgent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum State {
    /// Nothing to do beyond the rounds.
    Ok,
    /// Look at it on the next round.
    Watch,
    /// Somebody has to do something today.
    Act,
    /// The cargo's limit is within 6 h, or living cargo is without power.
    Urgent,
}

impl State {
    /// The word in JSON and on pages.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Ok => "ok",
            Self::Watch => "watch",
            Self::Act => "act",
            Self::Urgent => "urgent",
        }
    }
}

/// What kind of thing was found. One box can have several.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FindingKind {
    /// The plug is dead or the unit is switched off.
    PowerLost,
    /// Air is off the set point, outside defrost and the hour after it.
    OffSetPoint,
    /// Air is drifting away from where it was held.
    Drift,
    /// The unit loses strength: it works harder for the same load than it did days ago.
    SlowLoss,
    /// A set point that looks like °F, has lost its sign, or lies outside the cargo's band.
    OddSetPoint,
    /// The display's set point differs from the list's.
    WrongSetPoint,
    /// Supply air or set point at or under the cargo's freezing point plus margin.
    FreezingRisk,
    /// Supply air or set point under the published lowest safe temperature of the cargo.
    ChillingRisk,
    /// Return air much warmer than supply for long: cargo loaded warm, weak air, ice on the coil.
    WideSpread,
    /// In defrost for longer than any defrost takes, or again and again.
    LongDefrost,
    /// Nothing read for 12 h, or no temperature.
    MissedRound,
    /// Listed as thermal and full, and no temperature ordered.
    NoSetPoint,
    /// Never read since it was listed.
    NeverRead,
    /// A value no sensor can measure, or sensors contradicting each other.
    ProbeFault,
    /// Two sources, or one source twice, gave different values for the same instant.
    Conflict,
    /// The unit's controller shows an alarm.
    Alarm,
    /// The box was read but stands on no list.
    NotListed,
    /// Its cold treatment asks for something.
    Treatment,
}

/// One thing found about a box, in words a person can act on.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Kind.
    pub kind: FindingKind,
    /// How urgent by itself.
    pub state: State,
    /// What was seen, with figures, units and times.
    pub what: String,
    /// What to do first.
    pub action: String,
    /// Since when, where it can be told.
    pub since: Option<Utc>,
}

/// One line of the watch list.
#[derive(Debug, Clone, PartialEq)]
pub struct BoxLine {
    /// The box.
    pub unit: UnitId,
    /// Cell as sent.
    pub stow: Option<String>,
    /// Cell, where readable.
    pub cell: Option<Cell>,
    /// Size-type code as sent.
    pub size_type: Option<String>,
    /// Cargo as recognised from the list's text, in the trade's words; `None` when it is not known.
    pub cargo: Option<String>,
    /// Port of discharge.
    pub discharge_port: Option<String>,
    /// Full or empty.
    pub full: Option<bool>,
    /// The most urgent of the findings' states.
    pub state: State,
    /// Why, in one sentence; for a box that is fine, what was seen.
    pub reason: String,
    /// Hours from `as_of` until the cargo reaches `limit` on the present course; `None` when no
    /// limit is in sight within the voyage.
    pub hours_to_limit: Option<f64>,
    /// 90 % interval of that; the upper end is capped at the voyage's horizon.
    pub hours_to_limit_p90: Option<[f64; 2]>,
    /// The limit, in words with its figure and source.
    pub limit: Option<String>,
    /// What to do first.
    pub action: String,
    /// Everything found, most urgent first.
    pub findings: Vec<Finding>,
    /// Set point that the box should hold: the list's, else the display's.
    pub set_point_c: Option<f64>,
    /// Latest supply air outside defrost.
    pub supply_c: Option<f64>,
    /// Latest return air outside defrost.
    pub return_c: Option<f64>,
    /// Estimated mean cargo temperature, with a 90 % interval.
    pub cargo_c: Option<f64>,
    /// Its interval.
    pub cargo_c_p90: Option<[f64; 2]>,
    /// Plug energised at the latest reading that says so.
    pub on_power: Option<bool>,
    /// When it was last read.
    pub last_read_at: Option<Utc>,
}

/// The watch list: what needs a person, most urgent first.
#[derive(Debug, Clone, PartialEq)]
pub struct WatchList {
    /// The instant the list speaks of.
    pub as_of: Option<Utc>,
    /// Every box; those not `ok` first, by hours to limit.
    pub boxes: Vec<BoxLine>,
}

impl WatchList {
    /// How many boxes are in `state`.
    #[must_use]
    pub fn count(&self, state: State) -> usize {
        self.boxes.iter().filter(|b| b.state == state).count()
    }
}
