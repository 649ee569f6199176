//! The two tests with a pressure gauge beside a vacuum hold: nitrogen under pressure, and a
//! standing charge against saturation. What was read, what was told then, and who signs for it.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use units::Utc;

use crate::UnitId;

/// Which of the two.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PressureKind {
    /// Nitrogen under pressure, corrected for temperature.
    Nitrogen,
    /// Standing pressure of a charge, for non-condensable gas.
    Standing,
}

impl PressureKind {
    /// What it is called, as a heading.
    #[must_use]
    pub fn heading(self) -> &'static str {
        match self {
            Self::Nitrogen => "Nitrogen pressure test",
            Self::Standing => "Standing-pressure test",
        }
    }

    /// What it is called in a sentence.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Nitrogen => "nitrogen pressure test",
            Self::Standing => "standing-pressure test",
        }
    }
}

/// One test, finished and judged. A later program may weigh the same readings otherwise; what was
/// told stays as it was told.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PressureTested {
    /// Which test.
    pub kind: PressureKind,
    /// The container, when it is one's circuit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<UnitId>,
    /// What was tested, in the person's words.
    #[serde(default)]
    pub place: String,
    /// When the last reading of it was taken.
    #[serde(with = "crate::act::time")]
    pub at: Utc,
    /// The gauge: what and which.
    pub gauge: String,
    /// Date on its calibration paper; empty when there is none.
    #[serde(default)]
    pub calibrated_on: String,
    /// Ambient, °C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ambient_c: Option<f64>,
    /// The refrigerant on the plate, for a standing charge.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fluid: Option<String>,
    /// The readings and what is known of the instruments; the unit in the name, pressures absolute.
    pub read: BTreeMap<String, f64>,
    /// The same as the person wrote it: what and text, in the order asked.
    #[serde(default)]
    pub as_written: Vec<[String; 2]>,
    /// The verdict's word.
    pub verdict: String,
    /// What was told, sentence by sentence, the verdict first.
    pub told: Vec<String>,
    /// What the person added.
    #[serde(default)]
    pub remark: String,
    /// Version of the program that told it.
    #[serde(default)]
    pub version: String,
}

/// A test with who signed it and when.
#[derive(Debug, Clone, PartialEq)]
pub struct PressureEntry {
    /// Its entry in the journal.
    pub seq: i64,
    /// What.
    pub test: PressureTested,
    /// Who signed it.
    pub who: String,
    /// When it was entered.
    pub entered_at: Utc,
}

impl PressureTested {
    /// What was tested: the container, or the place.
    #[must_use]
    pub fn subject(&self) -> String {
        match &self.unit {
            Some(unit) if self.place.is_empty() => unit.to_string(),
            Some(unit) => format!("{unit}, {}", self.place),
            None => self.place.clone(),
        }
    }

    /// In one line.
    #[must_use]
    pub fn title(&self) -> String {
        let first = self.told.first().map_or(self.verdict.as_str(), String::as_str);
        format!("{} of {}: {first}", self.kind.words(), self.subject())
    }
}

#[cfg(test)]
mod tests {
    use crate::Act;

    /// What is stored today must be read for years: the names of fields stay.
    #[test]
    fn stored_form() {
        let stored = r#"{"act":"pressure_tested","kind":"nitrogen","unit":"QQQU1000011","place":"high side","at":"2026-03-20T10:00:00Z","gauge":"test gauge no. 2","calibrated_on":"2026-01-10","ambient_c":24.0,"read":{"end_kpa":2081.3,"start_kpa":2101.3},"as_written":[["pressure at the start","20barg"],["pressure at the end","19.8barg"]],"verdict":"leaking","told":["It fell by more than the instruments' own error: a leak."],"remark":"","version":"0.1.0"}"#;
        let act: Act = serde_json::from_str(stored).unwrap();
        assert_eq!(serde_json::to_string(&act).unwrap(), stored);
        assert_eq!(
            act.title(),
            "nitrogen pressure test of QQQU1000011, high side: It fell by more than the \
             instruments' own error: a leak."
        );
        assert_eq!(act.units().len(), 1);
        // The least that may stand there.
        let least = r#"{"act":"pressure_tested","kind":"standing","at":"2026-03-20T10:00:00Z","gauge":"g","read":{},"verdict":"consistent","told":[]}"#;
        assert!(serde_json::from_str::<Act>(least).is_ok());
    }
}
