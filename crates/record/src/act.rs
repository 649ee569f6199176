//! What a person did or decided, as entered: it stands in the journal beside the readings, and a
//! later act supersedes an earlier one; nothing is edited.

use serde::{Deserialize, Serialize};
use units::Utc;

use crate::UnitId;
use crate::chart::ChartAct;
use crate::gas::GasAct;
use crate::gauges::GaugesRead;
use crate::hold::{HoldEnd, HoldReading, HoldStart};
use crate::instrument::InstrumentAct;
use crate::keyed::{RoundClosed, RoundKeyed, RoundStart};
use crate::note::{MessageSent, Note, RoundMissed};
use crate::plan_act::PlanAct;
use crate::pressure::PressureTested;
use crate::service_act::ServiceAct;
use crate::spares::SparesAct;

/// One act of a person. Who entered it and when stand in the journal entry around it; `at` is
/// when it happened.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "act", rename_all = "snake_case")]
pub enum Act {
    /// Boxes are to be treated after a schedule. The schedule's whole text is kept: rules are
    /// editions, and the one agreed at loading stays the one that counts.
    TreatmentAssigned {
        /// The boxes.
        units: Vec<UnitId>,
        /// The schedule's own id.
        schedule_id: String,
        /// The schedule as it was, TOML.
        schedule: String,
        /// When it was ordered: the record counts from here. `None`: from the first reading.
        #[serde(default, with = "optional_time", skip_serializing_if = "Option::is_none")]
        from_at: Option<Utc>,
    },
    /// A treatment is no longer asked for.
    TreatmentWithdrawn {
        /// The box.
        unit: UnitId,
        /// Why.
        why: String,
    },
    /// Pulp probes were held in ice slurry and read.
    ProbesCalibrated {
        /// The box.
        unit: UnitId,
        /// When.
        #[serde(with = "time")]
        at: Utc,
        /// What they read, in the order read.
        readings: Vec<SlurryReading>,
        /// The thermometer the slurry was checked with, or anything else worth keeping.
        #[serde(default)]
        remark: String,
    },
    /// Fruit was sampled by hand before the start.
    PrecoolSampled {
        /// The box.
        unit: UnitId,
        /// When.
        #[serde(with = "time")]
        at: Utc,
        /// Pulp temperatures as read, plain decimals, °C or °F after `fahrenheit`.
        samples: Vec<String>,
        /// The samples are in °F.
        #[serde(default)]
        fahrenheit: bool,
        /// Pallet, place, who was there.
        #[serde(default)]
        remark: String,
    },
    /// An official decided on a breach that waits for one.
    OfficialDecided {
        /// The box.
        unit: UnitId,
        /// When the decision was made.
        #[serde(with = "time")]
        at: Utc,
        /// Breaches from this instant …
        #[serde(with = "time")]
        from_at: Utc,
        /// … to this one are meant …
        #[serde(with = "time")]
        to_at: Utc,
        /// … of this kind (`excursion`, `cold`, `step`, `gap`, `fault`); `None`: of every kind …
        #[serde(default, skip_serializing_if = "Option::is_none")]
        kind: Option<String>,
        /// … and this probe; `None`: of every probe, and gaps.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        probe: Option<u8>,
        /// `true`: pulp was verified to have been at or below the treatment's temperature.
        verified: bool,
        /// Name of the official.
        official: String,
        /// Authority.
        authority: String,
        /// The document it stands in.
        document: String,
    },
    /// An authority released the box: from now on it may be unplugged and opened.
    TreatmentReleased {
        /// The box.
        unit: UnitId,
        /// When.
        #[serde(with = "time")]
        at: Utc,
        /// `true`: the authority accepted the treatment; `false`: it did not.
        accepted: bool,
        /// Name of the official.
        official: String,
        /// Authority.
        authority: String,
        /// The document it stands in.
        document: String,
    },
    /// When the ship is expected at a port.
    ArrivalExpected {
        /// UN/LOCODE of the port.
        port: String,
        /// Estimated arrival.
        #[serde(with = "time")]
        eta: Utc,
    },
    /// A pump was valved off and a vacuum hold began.
    HoldBegun(Box<HoldStart>),
    /// The gauge of a hold was read, or a file of it was.
    HoldRead {
        /// Which hold.
        id: String,
        /// What was read.
        readings: Vec<HoldReading>,
        /// The file; `None`: keyed by hand.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        source: Option<String>,
    },
    /// A reading of a hold was a slip and no longer counts.
    HoldStruck {
        /// Which hold.
        id: String,
        /// Its place among the readings in the order entered, from 1.
        number: u64,
    },
    /// Temperatures of a hold were measured, again or for the first time.
    HoldMeasured {
        /// Which hold.
        id: String,
        /// When.
        #[serde(with = "time")]
        at: Utc,
        /// Coldest surface, °C.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        coldest_c: Option<f64>,
        /// Ambient, °C.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        ambient_c: Option<f64>,
    },
    /// A hold was ended and signed.
    HoldEnded(Box<HoldEnd>),
    /// A nitrogen or standing-pressure test was finished, judged and signed.
    PressureTested(Box<PressureTested>),
    /// Gauges and thermometers of a refrigeration circuit were read.
    GaugesRead(Box<GaugesRead>),
    /// Something was written down.
    Noted(Box<Note>),
    /// A round was not walked.
    RoundMissed(Box<RoundMissed>),
    /// A round walked begins to be keyed in.
    RoundBegun(Box<RoundStart>),
    /// Lines of a round were keyed in.
    RoundKeyed(Box<RoundKeyed>),
    /// A round was handed in or thrown away.
    RoundClosed(Box<RoundClosed>),
    /// A message left the ship.
    MessageSent(Box<MessageSent>),
    /// From now on papers of this voyage are signed with this key.
    KeyAnnounced {
        /// The public key (Ed25519), 64 hexadecimal digits.
        public_key: String,
    },
    /// The ship's plant, weather, crew; a repair begun or ended.
    Plan(Box<PlanAct>),
    /// The register of instruments; an ice-point check.
    Instrument(Box<InstrumentAct>),
    /// A recorder's chart.
    Chart(Box<ChartAct>),
    /// Something entered into the refrigerant account.
    Gas(Box<GasAct>),
    /// Spare parts counted, received, used.
    Spares(Box<SparesAct>),
    /// Service work on a refrigeration circuit.
    Service(Box<ServiceAct>),
}

/// One reading of one probe in ice slurry.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SlurryReading {
    /// Probe 1 to 4.
    pub probe: u8,
    /// As read: a plain decimal.
    pub reading: String,
    /// Read in °F.
    #[serde(default)]
    pub fahrenheit: bool,
}

impl Act {
    /// The boxes it is about.
    #[must_use]
    pub fn units(&self) -> &[UnitId] {
        match self {
            Self::TreatmentAssigned { units, .. } => units,
            Self::TreatmentWithdrawn { unit, .. }
            | Self::ProbesCalibrated { unit, .. }
            | Self::PrecoolSampled { unit, .. }
            | Self::OfficialDecided { unit, .. }
            | Self::TreatmentReleased { unit, .. } => std::slice::from_ref(unit),
            Self::HoldBegun(start) => start.unit.as_slice(),
            Self::PressureTested(test) => test.unit.as_slice(),
            Self::GaugesRead(read) => std::slice::from_ref(&read.unit),
            Self::Service(work) => std::slice::from_ref(&work.unit),
            Self::Noted(note) => note.unit.as_slice(),
            Self::Plan(plan) => plan.unit().map_or(&[], std::slice::from_ref),
            Self::Instrument(i) => i.unit().map_or(&[], std::slice::from_ref),
            Self::Chart(chart) => std::slice::from_ref(chart.unit()),
            Self::Gas(gas) => gas.unit().map_or(&[], std::slice::from_ref),
            Self::Spares(s) => s.unit().map_or(&[], std::slice::from_ref),
            Self::ArrivalExpected { .. }
            | Self::RoundMissed(_)
            | Self::RoundBegun(_)
            | Self::RoundKeyed(_)
            | Self::RoundClosed(_)
            | Self::MessageSent(_)
            | Self::HoldRead { .. }
            | Self::HoldStruck { .. }
            | Self::HoldMeasured { .. }
            | Self::HoldEnded(_)
            | Self::KeyAnnounced { .. } => &[],
        }
    }

    /// When it happened, where the act tells: the journal knows when it was entered.
    #[must_use]
    pub fn happened_at(&self) -> Option<Utc> {
        match self {
            Self::ProbesCalibrated { at, .. }
            | Self::PrecoolSampled { at, .. }
            | Self::OfficialDecided { at, .. }
            | Self::TreatmentReleased { at, .. }
            | Self::HoldMeasured { at, .. } => Some(*at),
            Self::PressureTested(test) => Some(test.at),
            Self::Noted(n) => Some(n.at),
            Self::RoundMissed(m) => Some(m.to),
            Self::Instrument(i) => i.happened_at(),
            Self::Chart(chart) => chart.happened_at(),
            Self::Gas(gas) => gas.at(),
            Self::Spares(s) => Some(s.at()),
            Self::RoundBegun(r) => Some(r.at),
            Self::Service(work) => Some(work.at),
            _ => None,
        }
    }

    /// What was done, in one line.
    #[must_use]
    pub fn title(&self) -> String {
        match self {
            Self::TreatmentAssigned { units, schedule_id, .. } => {
                format!("cold treatment {schedule_id} ordered for {}", listed(units))
            }
            Self::TreatmentWithdrawn { unit, why } => {
                format!("cold treatment of {unit} no longer asked for: {why}")
            }
            Self::ProbesCalibrated { unit, readings, .. } => {
                format!("probes of {unit} read in ice slurry: {} readings", readings.len())
            }
            Self::PrecoolSampled { unit, samples, fahrenheit, .. } => {
                let degree = if *fahrenheit { "°F" } else { "°C" };
                format!("fruit of {unit} sampled: {} {degree}", samples.join(", "))
            }
            Self::OfficialDecided { unit, verified, official, authority, .. } => {
                let what = if *verified { "verified" } else { "not verified" };
                format!("breach of {unit} {what} by {official}, {authority}")
            }
            Self::TreatmentReleased { unit, accepted, official, authority, .. } => {
                let what = if *accepted { "accepted" } else { "not accepted" };
                format!(
                    "treatment of {unit} {what} and the box released by {official}, {authority}"
                )
            }
            Self::ArrivalExpected { port, eta } => {
                format!("arrival at {port} expected {} UTC", eta.to_minute())
            }
            Self::HoldBegun(s) => format!("vacuum hold {} of {} begun", s.id, held(s)),
            Self::HoldRead { id, readings, source } => hold_read(id, readings, source.as_deref()),
            Self::HoldStruck { id, number } => {
                format!("vacuum hold {id}: reading {number} struck out")
            }
            Self::HoldMeasured { id, .. } => format!("vacuum hold {id}: temperatures measured"),
            Self::HoldEnded(e) => format!("vacuum hold {} ended: {}", e.id, e.words),
            Self::Noted(n) => {
                let about = n.unit.as_ref().map_or("the ship", UnitId::as_str);
                format!("{} on {about}: {}", n.kind.as_str(), n.text)
            }
            Self::RoundMissed(m) => {
                let (from, to) = (m.from.to_minute(), m.to.to_minute());
                format!("no round from {from} to {to} UTC: {}", m.words())
            }
            Self::RoundBegun(r) => r.title(),
            Self::RoundKeyed(r) => format!("round {}: {} boxes keyed", r.id, r.rows.len()),
            Self::RoundClosed(r) => r.title(),
            Self::MessageSent(m) => {
                let form = if m.delta { ", changes only" } else { "" };
                format!("{} message no. {} sent{form}", m.kind, m.number)
            }
            Self::KeyAnnounced { public_key } => {
                format!("papers are signed from now on; public key {public_key}")
            }
            Self::Plan(plan) => plan.title(),
            Self::PressureTested(test) => test.title(),
            Self::Instrument(i) => i.title(),
            Self::Chart(chart) => chart.title(),
            Self::Gas(gas) => gas.title(),
            Self::Spares(s) => s.title(),
            Self::Service(work) => work.title(),
            Self::GaugesRead(r) => format!("gauges of {} read: {}", r.unit, r.told_line()),
        }
    }
}

fn hold_read(id: &str, readings: &[HoldReading], file: Option<&str>) -> String {
    match (readings, file) {
        ([one], None) => format!("vacuum hold {id}: {} read", one.pressure),
        ([], Some(file)) => format!("vacuum hold {id}: the file {file} kept, whole as it is now"),
        (all, Some(file)) => format!("vacuum hold {id}: {} readings of {file}", all.len()),
        (all, None) => format!("vacuum hold {id}: {} readings", all.len()),
    }
}

fn held(start: &HoldStart) -> String {
    match &start.unit {
        Some(unit) => unit.to_string(),
        None => start.place.clone(),
    }
}

fn listed(units: &[UnitId]) -> String {
    match units {
        [] => "no box".to_owned(),
        [one] => one.to_string(),
        [one, two] => format!("{one} and {two}"),
        [first, .., last] => format!("{} boxes, {first} to {last}", units.len()),
    }
}

/// An instant as RFC 3339 text.
pub(crate) mod time {
    use serde::{Deserialize, Deserializer, Serializer, de};
    use units::Utc;

    pub fn serialize<S: Serializer>(at: &Utc, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(at)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(d: D) -> Result<Utc, D::Error> {
        let text = String::deserialize(d)?;
        Utc::parse(&text).map_err(|e| de::Error::custom(format!("\"{text}\" {e}")))
    }
}

/// An instant as RFC 3339 text, or nothing.
mod optional_time {
    use serde::{Deserialize, Deserializer, Serializer, de};
    use units::Utc;

    #[allow(clippy::ref_option)] // the form that serde calls
    pub fn serialize<S: Serializer>(at: &Option<Utc>, s: S) -> Result<S::Ok, S::Error> {
        match at {
            Some(at) => s.collect_str(at),
            None => s.serialize_none(),
        }
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(d: D) -> Result<Option<Utc>, D::Error> {
        let Some(text) = Option::<String>::deserialize(d)? else {
            return Ok(None);
        };
        let at = Utc::parse(&text).map_err(|e| de::Error::custom(format!("\"{text}\" {e}")))?;
        Ok(Some(at))
    }
}

/// Everything people ordered and did about one box's cold treatment, replayed.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TreatmentFile {
    /// The schedule ordered last: id and text.
    pub schedule: Option<(String, String)>,
    /// The record counts from here; `None`: from the first reading.
    pub from_at: Option<Utc>,
    /// Every act about it, in the order entered.
    pub acts: Vec<EnteredAct>,
    /// Released by an authority.
    pub released_at: Option<Utc>,
}

/// An act with who entered it and when.
#[derive(Debug, Clone, PartialEq)]
pub struct EnteredAct {
    /// What.
    pub act: Act,
    /// Who entered it.
    pub who: String,
    /// When it was entered.
    pub entered_at: Utc,
}

impl TreatmentFile {
    /// Files one act more.
    pub fn add(&mut self, act: &Act, who: &str, entered_at: Utc) {
        match act {
            Act::TreatmentAssigned { schedule_id, schedule, from_at, .. } => {
                self.schedule = Some((schedule_id.clone(), schedule.clone()));
                self.from_at = *from_at;
                self.released_at = None;
            }
            Act::TreatmentReleased { at, .. } => self.released_at = Some(*at),
            _ => {}
        }
        self.acts.push(EnteredAct { act: act.clone(), who: who.to_owned(), entered_at });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn unit(text: &str) -> UnitId {
        UnitId::from_text(text).unwrap()
    }

    /// What is stored today must be read for years: the names of acts and fields stay.
    #[test]
    fn acts_keep_their_stored_form() {
        let stored = r#"{"act":"official_decided","unit":"QQQU1000011","at":"2026-03-20T10:00:00Z","from_at":"2026-03-10T04:00:00Z","to_at":"2026-03-10T05:00:00Z","kind":"step","probe":2,"verified":true,"official":"A. Person","authority":"XX plant health","document":"XX-12"}"#;
        let act = Act::OfficialDecided {
            unit: unit("QQQU1000011"),
            at: Utc::parse("2026-03-20T10:00:00Z").unwrap(),
            from_at: Utc::parse("2026-03-10T04:00:00Z").unwrap(),
            to_at: Utc::parse("2026-03-10T05:00:00Z").unwrap(),
            kind: Some("step".into()),
            probe: Some(2),
            verified: true,
            official: "A. Person".into(),
            authority: "XX plant health".into(),
            document: "XX-12".into(),
        };
        let json: Act = serde_json::from_str(stored).unwrap();
        assert_eq!(json, act);
        assert_eq!(serde_json::to_string(&act).unwrap(), stored);
    }

    #[test]
    fn a_new_order_takes_the_place_of_the_old_and_a_release_ends_it() {
        let order = |id: &str| Act::TreatmentAssigned {
            units: vec![unit("QQQU1000011")],
            schedule_id: id.into(),
            schedule: String::new(),
            from_at: None,
        };
        let at = Utc::from_ms(1_773_000_000_000);
        let mut file = TreatmentFile::default();
        file.add(&order("a"), "mate", at);
        let release = Act::TreatmentReleased {
            unit: unit("QQQU1000011"),
            at,
            accepted: true,
            official: "A. Person".into(),
            authority: "XX".into(),
            document: "1".into(),
        };
        file.add(&release, "mate", at);
        assert_eq!(file.released_at, Some(at));
        file.add(&order("b"), "mate", at);
        assert_eq!(file.schedule.as_ref().map(|(id, _)| id.as_str()), Some("b"));
        assert_eq!((file.released_at, file.acts.len()), (None, 3));
    }
}
