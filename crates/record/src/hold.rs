//! A vacuum hold as entered: how it began, every reading as keyed, what was signed at its end.

use serde::{Deserialize, Serialize};
use units::Utc;

use crate::UnitId;
use crate::act::time;

/// How a hold began.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HoldStart {
    /// Its name in this voyage.
    pub id: String,
    /// When the pump was valved off.
    #[serde(with = "time")]
    pub at: Utc,
    /// The container, when it is one's circuit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<UnitId>,
    /// What is held, in the person's words.
    pub place: String,
    /// Volume of what is held, l.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub volume_l: Option<f64>,
    /// Coldest surface, °C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub coldest_c: Option<f64>,
    /// Ambient, °C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ambient_c: Option<f64>,
    /// The refrigerant it is meant for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fluid: Option<String>,
    /// The gauge: what and which.
    pub gauge: String,
    /// Step of its display, in `pressure_unit`; 0 when not known.
    pub gauge_step: f64,
    /// The unit it shows: `um`, `pa` or `mbar`, absolute.
    pub pressure_unit: String,
    /// Date on its calibration paper; empty when there is none.
    pub calibrated_on: String,
    /// Id of the criterion chosen.
    pub criterion: String,
    /// Rise that is accepted over the criterion's time, µm, where the person sets one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rise_um: Option<f64>,
}

/// One reading.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct HoldReading {
    /// When it was read.
    #[serde(with = "time")]
    pub at: Utc,
    /// Absolute pressure as keyed: a plain decimal in the hold's unit.
    pub pressure: String,
}

/// How a hold was ended and judged.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HoldEnd {
    /// Which hold.
    pub id: String,
    /// When.
    #[serde(with = "time")]
    pub at: Utc,
    /// The verdict's word.
    pub verdict: String,
    /// The verdict, and what the criterion says, as they were shown.
    pub words: String,
    /// Probabilities: dry and gross tight, wet, leaking, both.
    pub probabilities: [f64; 4],
    /// Readings judged.
    pub readings: u64,
    /// What the person added.
    #[serde(default)]
    pub remark: String,
}

/// A reading as held.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HeldReading {
    /// What was read.
    pub reading: HoldReading,
    /// The file it came from; `None`: keyed.
    pub source: Option<String>,
    /// Struck out by a person.
    pub struck: bool,
}

/// Everything entered about one hold, replayed.
#[derive(Debug, Clone, PartialEq)]
pub struct HoldFile {
    /// How it began.
    pub start: HoldStart,
    /// Who began it.
    pub who: String,
    /// Readings in the order entered.
    pub readings: Vec<HeldReading>,
    /// Coldest surface as measured last, °C.
    pub coldest_c: Option<f64>,
    /// Ambient as measured last, °C.
    pub ambient_c: Option<f64>,
    /// Its end, and who signed.
    pub end: Option<(HoldEnd, String)>,
}

impl HoldFile {
    /// A hold just begun.
    #[must_use]
    pub fn new(start: HoldStart, who: &str) -> Self {
        Self {
            coldest_c: start.coldest_c,
            ambient_c: start.ambient_c,
            start,
            who: who.to_owned(),
            readings: Vec::new(),
            end: None,
        }
    }

    /// The readings that count, by time.
    #[must_use]
    pub fn counted(&self) -> Vec<&HoldReading> {
        let mut all: Vec<&HoldReading> =
            self.readings.iter().filter(|r| !r.struck).map(|r| &r.reading).collect();
        all.sort_by_key(|r| r.at);
        all
    }

    /// What it is called: the container, or the place.
    #[must_use]
    pub fn title(&self) -> String {
        match &self.start.unit {
            Some(unit) if self.start.place.is_empty() => unit.to_string(),
            Some(unit) => format!("{unit}, {}", self.start.place),
            None => self.start.place.clone(),
        }
    }
}
