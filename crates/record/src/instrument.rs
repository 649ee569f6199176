//! The register of instruments with their certificates, and ice-point checks, as entered.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use units::Utc;

use crate::UnitId;
use crate::act::time;

/// What an instrument is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum InstrumentKind {
    /// Pressure gauges with their hoses.
    GaugeSet,
    /// A hand or wall thermometer.
    Thermometer,
    /// A thermometer with a probe to push into cargo or strap on a pipe.
    ProbeThermometer,
    /// A vacuum gauge.
    VacuumGauge,
    /// A scale for cylinders.
    Scale,
    /// A barometer.
    Barometer,
    /// A detector for refrigerant.
    LeakDetector,
    /// A temperature recorder.
    Recorder,
    /// Anything else.
    Other,
}

impl InstrumentKind {
    /// All, in the order of a form.
    pub const ALL: [Self; 9] = [
        Self::GaugeSet,
        Self::Thermometer,
        Self::ProbeThermometer,
        Self::VacuumGauge,
        Self::Scale,
        Self::Barometer,
        Self::LeakDetector,
        Self::Recorder,
        Self::Other,
    ];

    /// The word stored and typed.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::GaugeSet => "gauge_set",
            Self::Thermometer => "thermometer",
            Self::ProbeThermometer => "probe_thermometer",
            Self::VacuumGauge => "vacuum_gauge",
            Self::Scale => "scale",
            Self::Barometer => "barometer",
            Self::LeakDetector => "leak_detector",
            Self::Recorder => "recorder",
            Self::Other => "other",
        }
    }

    /// As a person reads it.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::GaugeSet => "gauge set",
            Self::ProbeThermometer => "probe thermometer",
            Self::VacuumGauge => "vacuum gauge",
            Self::LeakDetector => "leak detector",
            other => other.as_str(),
        }
    }

    /// From the word typed: `gauge_set`, `gauge-set` or `gauge set`.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        let plain = text.trim().to_lowercase().replace([' ', '-'], "_");
        Self::ALL.into_iter().find(|k| k.as_str() == plain)
    }
}

/// A scan or photograph attached to an entry.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Scan {
    /// Name of its file.
    pub name: String,
    /// SHA-256 of its bytes, 64 hexadecimal digits: the original is held under it.
    pub sha256: String,
}

/// An instrument as stated. What nobody stated is empty.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Instrument {
    /// Our name for it, as painted on it.
    pub id: String,
    /// What it is.
    pub kind: InstrumentKind,
    /// In the person's words: span, type.
    #[serde(default)]
    pub what: String,
    /// Serial number.
    #[serde(default)]
    pub serial: String,
    /// Class or accuracy as stated on it or on its paper.
    #[serde(default)]
    pub accuracy: String,
    /// Number of its certificate.
    #[serde(default)]
    pub certificate: String,
    /// Who issued that.
    #[serde(default)]
    pub issuer: String,
    /// Date of the certificate, `2026-03-01`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dated: Option<String>,
    /// Date on which it falls due, where one is stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub due: Option<String>,
    /// Months from the certificate's date to the next, where no date is stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub every_months: Option<u32>,
    /// Days from one ice-point check to the next, where the ship's procedures say.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub check_every_days: Option<u32>,
    /// Where it is kept.
    #[serde(default)]
    pub place: String,
    /// Anything else worth keeping.
    #[serde(default)]
    pub remark: String,
    /// Scans of the certificate.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub scans: Vec<Scan>,
}

/// A sensor of a container's machine that can be held in ice. Pulp probes are read by
/// [`crate::Act::ProbesCalibrated`], all of one session together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum BoxSensor {
    /// Supply air.
    Supply,
    /// Return air.
    Return,
    /// Ambient air.
    Ambient,
}

impl BoxSensor {
    /// All.
    pub const ALL: [Self; 3] = [Self::Supply, Self::Return, Self::Ambient];

    /// The word stored and typed.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Supply => "supply",
            Self::Return => "return",
            Self::Ambient => "ambient",
        }
    }

    /// From the word typed.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        let plain = text.trim().to_lowercase();
        Self::ALL.into_iter().find(|s| s.as_str() == plain)
    }
}

/// What was held in ice.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Checked {
    /// An instrument of the register, by its id.
    Instrument(String),
    /// A sensor of a container.
    Sensor {
        /// The container.
        unit: UnitId,
        /// Which.
        sensor: BoxSensor,
    },
}

/// An ice-point check.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct IceCheck {
    /// What was checked.
    pub of: Checked,
    /// When.
    #[serde(with = "time")]
    pub at: Utc,
    /// What it showed, in the order read: plain decimals as read.
    pub readings: Vec<String>,
    /// Read in °F.
    #[serde(default)]
    pub fahrenheit: bool,
    /// Whether the slurry was stirred; `None`: not written down.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stirred: Option<bool>,
    /// The ice, the water, how long it stood.
    #[serde(default)]
    pub ice: String,
    /// The thermometer the slurry itself was checked with; an id of the register is understood.
    #[serde(default)]
    pub against: String,
    /// Anything else worth keeping.
    #[serde(default)]
    pub remark: String,
}

/// What a person did to the register.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "of", rename_all = "snake_case")]
pub enum InstrumentAct {
    /// A new instrument.
    Entered(Instrument),
    /// The whole of it stated again: a new certificate, another place.
    Changed(Instrument),
    /// No longer used.
    Withdrawn {
        /// Which.
        id: String,
        /// Since when.
        #[serde(with = "time")]
        at: Utc,
        /// Why.
        why: String,
    },
    /// Held in ice and read.
    IceChecked {
        /// How.
        check: IceCheck,
    },
}

impl InstrumentAct {
    /// The container it is about.
    #[must_use]
    pub fn unit(&self) -> Option<&UnitId> {
        match self {
            Self::IceChecked { check } => match &check.of {
                Checked::Sensor { unit, .. } => Some(unit),
                Checked::Instrument(_) => None,
            },
            _ => None,
        }
    }

    /// The instrument it is about.
    #[must_use]
    pub fn instrument(&self) -> Option<&str> {
        match self {
            Self::Entered(i) | Self::Changed(i) => Some(&i.id),
            Self::Withdrawn { id, .. } => Some(id),
            Self::IceChecked { check } => match &check.of {
                Checked::Instrument(id) => Some(id),
                Checked::Sensor { .. } => None,
            },
        }
    }

    /// When it happened, where it tells.
    #[must_use]
    pub fn happened_at(&self) -> Option<Utc> {
        match self {
            Self::Withdrawn { at, .. } => Some(*at),
            Self::IceChecked { check } => Some(check.at),
            Self::Entered(_) | Self::Changed(_) => None,
        }
    }

    /// What was done, in one line.
    #[must_use]
    pub fn title(&self) -> String {
        match self {
            Self::Entered(i) => format!("instrument {} entered: {}", i.id, i.line()),
            Self::Changed(i) => format!("instrument {} stated again: {}", i.id, i.line()),
            Self::Withdrawn { id, why, .. } => format!("instrument {id} withdrawn: {why}"),
            Self::IceChecked { check } => {
                let degree = if check.fahrenheit { "°F" } else { "°C" };
                let read = check.readings.join(", ");
                format!("{} in ice slurry: {read} {degree}", check.of.label())
            }
        }
    }
}

impl Checked {
    /// `TH-1`, or `supply air sensor of QQQU1000011`.
    #[must_use]
    pub fn label(&self) -> String {
        match self {
            Self::Instrument(id) => id.clone(),
            Self::Sensor { unit, sensor } => format!("{} air sensor of {unit}", sensor.as_str()),
        }
    }
}

impl Instrument {
    /// Kind and certificate in one line.
    #[must_use]
    pub fn line(&self) -> String {
        let mut s = self.kind.words().to_owned();
        if !self.serial.is_empty() {
            s += &format!(" no. {}", self.serial);
        }
        match (self.certificate.as_str(), self.dated.as_deref()) {
            ("", None) => s += ", no certificate stated",
            ("", Some(day)) => s += &format!(", certificate of {day}"),
            (number, None) => s += &format!(", certificate {number}"),
            (number, Some(day)) => s += &format!(", certificate {number} of {day}"),
        }
        if let Some(due) = &self.due {
            s += &format!(", due {due}");
        }
        s
    }
}

/// An instrument as it was stated, and by whom.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stated {
    /// How.
    pub instrument: Instrument,
    /// Who entered it.
    pub who: String,
    /// When.
    pub entered_at: Utc,
    /// Journal entry.
    pub entry: i64,
}

/// A check, and who entered it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CheckEntry {
    /// What was done.
    pub check: IceCheck,
    /// Who entered it.
    pub who: String,
    /// When.
    pub entered_at: Utc,
}

/// One session of pulp probes in slurry ([`crate::Act::ProbesCalibrated`]).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SlurryEntry {
    /// The container.
    pub unit: UnitId,
    /// When.
    pub at: Utc,
    /// What they read.
    pub readings: Vec<crate::SlurryReading>,
    /// Remark.
    pub remark: String,
    /// Who entered it.
    pub who: String,
}

/// Everything entered about one instrument.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct InstrumentFile {
    /// As stated, first to last; the last counts.
    pub stated: Vec<Stated>,
    /// Since when it is no longer used, and why.
    pub withdrawn: Option<(Utc, String)>,
    /// Ice-point checks in the order entered.
    pub checks: Vec<CheckEntry>,
}

/// Every instrument, and the checks of containers' sensors.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Register {
    /// By id.
    pub instruments: BTreeMap<String, InstrumentFile>,
    /// Checks of sensors of containers, in the order entered.
    pub sensors: Vec<CheckEntry>,
}

impl Register {
    /// Files one act more.
    pub fn add(&mut self, act: &InstrumentAct, entry: i64, who: &str, entered_at: Utc) {
        match act {
            InstrumentAct::Entered(i) | InstrumentAct::Changed(i) => {
                let who = who.to_owned();
                let stated = Stated { instrument: i.clone(), who, entered_at, entry };
                self.instruments.entry(i.id.clone()).or_default().stated.push(stated);
            }
            InstrumentAct::Withdrawn { id, at, why } => {
                if let Some(file) = self.instruments.get_mut(id) {
                    file.withdrawn = Some((*at, why.clone()));
                }
            }
            InstrumentAct::IceChecked { check } => {
                let made = CheckEntry { check: check.clone(), who: who.to_owned(), entered_at };
                match &check.of {
                    Checked::Instrument(id) => {
                        if let Some(file) = self.instruments.get_mut(id) {
                            file.checks.push(made);
                        }
                    }
                    Checked::Sensor { .. } => self.sensors.push(made),
                }
            }
        }
    }

    /// Ids that a person's text names as whole words, whatever their case: `VG-1, 100 um`.
    #[must_use]
    pub fn named_in(&self, text: &str) -> Vec<&str> {
        let words: Vec<String> = text
            .split(|c: char| !(c.is_ascii_alphanumeric() || "-_.".contains(c)))
            .map(|w| w.trim_matches(['-', '_', '.']).to_uppercase())
            .collect();
        let named = |id: &&String| words.contains(&id.to_uppercase());
        self.instruments.keys().filter(named).map(String::as_str).collect()
    }
}

/// An id that can be told from words in a text: 2 to 16 letters, digits, `-`, `_`, `.`, with a
/// digit among them, letter or digit at either end. It is kept in capitals.
#[must_use]
pub fn id_from_text(text: &str) -> Option<String> {
    let id = text.trim().to_uppercase();
    let plain = id.chars().all(|c| c.is_ascii_alphanumeric() || "-_.".contains(c));
    let ends = id.starts_with(|c: char| c.is_ascii_alphanumeric())
        && id.ends_with(|c: char| c.is_ascii_alphanumeric());
    let digit = id.contains(|c: char| c.is_ascii_digit());
    let letter = id.contains(|c: char| c.is_ascii_alphabetic());
    ((2..=16).contains(&id.len()) && plain && ends && digit && letter).then_some(id)
}

/// The midnight UTC with which a day `2026-03-01` begins.
#[must_use]
pub fn day(text: &str) -> Option<Utc> {
    let text = text.trim();
    (text.len() == 10).then(|| Utc::parse(&format!("{text} 00:00")).ok()).flatten()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Act;

    /// What is stored today must be read for years: the names of acts and fields stay.
    #[test]
    fn stored_form() {
        let stored = [
            r#"{"act":"instrument","of":"entered","id":"VG-1","kind":"vacuum_gauge","what":"0 to 20000 um","serial":"S9","accuracy":"10 %","certificate":"C-77","issuer":"Lab","dated":"2026-01-10","due":"2027-01-10","every_months":12,"check_every_days":30,"place":"workshop","remark":"","scans":[{"name":"c.pdf","sha256":"00"}]}"#,
            r#"{"act":"instrument","of":"changed","id":"TH-1","kind":"thermometer","what":"","serial":"","accuracy":"","certificate":"","issuer":"","place":"","remark":""}"#,
            r#"{"act":"instrument","of":"withdrawn","id":"TH-1","at":"2026-03-20T10:00:00Z","why":"broken"}"#,
            r#"{"act":"instrument","of":"ice_checked","check":{"of":{"instrument":"TH-1"},"at":"2026-03-20T10:00:00Z","readings":["0.1","0.0"],"fahrenheit":false,"stirred":true,"ice":"","against":"","remark":""}}"#,
            r#"{"act":"instrument","of":"ice_checked","check":{"of":{"sensor":{"unit":"QQQU1000011","sensor":"supply"}},"at":"2026-03-20T10:00:00Z","readings":["32.1"],"fahrenheit":true,"ice":"fresh water","against":"TH-1","remark":"x"}}"#,
        ];
        for text in stored {
            let act: Act = serde_json::from_str(text).unwrap();
            assert_eq!(serde_json::to_string(&act).unwrap(), text);
        }
    }

    #[test]
    fn ids_are_found_in_a_persons_words() {
        let mut r = Register::default();
        for id in ["VG-1", "VG-10", "TH1"] {
            r.instruments.insert(id.to_owned(), InstrumentFile::default());
        }
        assert_eq!(r.named_in("vacuum gauge vg-1, at far end."), ["VG-1"]);
        assert_eq!(r.named_in("th1/VG-10"), ["TH1", "VG-10"]);
        assert!(r.named_in("VG-1X and VG").is_empty());
        let ids = ["vg-1", "VG", "11", "-a1", "a 1", "x"].map(id_from_text);
        assert_eq!(ids, [Some("VG-1".to_owned()), None, None, None, None, None]);
    }
}
