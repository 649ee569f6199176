//! Gauges and thermometers of a refrigeration circuit, read by a person, and what was told then.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use units::Utc;

use crate::UnitId;

/// One set of gauge readings with the answer given at the time. A later program may weigh the
/// same readings otherwise; what was told stays as it was told.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GaugesRead {
    /// The box.
    pub unit: UnitId,
    /// When the gauges were read.
    #[serde(with = "crate::act::time")]
    pub at: Utc,
    /// The readings in kPa gauge and °C, as JSON that `holdfast gauge --input` takes.
    pub input: String,
    /// Each field as the person wrote it, by the field's name.
    #[serde(default)]
    pub as_written: BTreeMap<String, String>,
    /// What was told, most probable first; faults below two in a hundred are left out.
    pub told: Vec<ToldFault>,
    /// Values worked out from the readings (superheat and so on, the unit in the name) with the
    /// two ends of their 90 % interval.
    #[serde(default)]
    pub derived: BTreeMap<String, [f64; 3]>,
    /// Times of the earlier readings, judged sound, that the answer rests on, to the minute.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub rests_on: Vec<String>,
    /// Version of the program that told it.
    #[serde(default)]
    pub version: String,
    /// Anything else worth keeping.
    #[serde(default)]
    pub note: String,
}

/// One fault's share as told.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ToldFault {
    /// Its name in the contract.
    pub fault: String,
    /// In the trade's words.
    pub words: String,
    /// Probability, 0 to 1.
    pub probability: f64,
    /// Severity, 0 to 1, where it has a meaning.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub severity: Option<f64>,
    /// Its 90 % interval.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub severity_p90: Option<[f64; 2]>,
}

/// Readings with who entered them and when.
#[derive(Debug, Clone, PartialEq)]
pub struct GaugesEntry {
    /// What.
    pub read: GaugesRead,
    /// Who entered it.
    pub who: String,
    /// When it was entered.
    pub entered_at: Utc,
}

impl GaugesRead {
    /// The two most probable faults in one line: `81 % too much refrigerant, 12 % …`.
    #[must_use]
    pub fn told_line(&self) -> String {
        if self.told.is_empty() {
            return "nothing could be told".to_owned();
        }
        let one = |t: &ToldFault| format!("{} {}", percent(t.probability), t.words);
        self.told.iter().take(2).map(one).collect::<Vec<_>>().join(", ")
    }
}

/// A probability as a person reads it; never a certainty that it is not.
#[must_use]
pub fn percent(probability: f64) -> String {
    match probability * 100.0 {
        p if p < 1.0 => "under 1 %".to_owned(),
        p if p > 99.0 => "over 99 %".to_owned(),
        p => format!("{p:.0} %"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Act;

    /// What is stored today must be read for years: the names of fields stay.
    #[test]
    fn stored_form() {
        let stored = r#"{"act":"gauges_read","unit":"QQQU1000011","at":"2026-03-20T10:00:00Z","input":"{}","as_written":{"suction_kpag":"1.8psig"},"told":[{"fault":"overcharge","words":"too much refrigerant","probability":0.81,"severity":0.4,"severity_p90":[0.3,0.5]},{"fault":"none","words":"no fault found in the circuit","probability":0.125}],"derived":{"superheat_k":[7.1,6.0,8.2]},"version":"0.1.0","note":""}"#;
        let act: Act = serde_json::from_str(stored).unwrap();
        assert_eq!(serde_json::to_string(&act).unwrap(), stored);
        assert_eq!(
            act.title(),
            "gauges of QQQU1000011 read: 81 % too much refrigerant, 12 % no fault found in the \
             circuit"
        );
    }

    #[test]
    fn percentages_never_round_to_certainty() {
        let told: Vec<String> = [0.004, 0.5, 0.9951].into_iter().map(percent).collect();
        assert_eq!(told, ["under 1 %", "50 %", "over 99 %"]);
    }
}
