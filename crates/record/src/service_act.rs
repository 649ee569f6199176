//! Service work on a refrigeration circuit: begun, done step by step with what was read, stopped,
//! resumed, handed over, finished. The plant is kept in the words of a state file, so that what
//! was entered can be read without the program that planned from it.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use units::Utc;

use crate::UnitId;
use crate::act::time;
use crate::gas::{Transfer, kg};

/// One entry about a piece of work.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ServiceAct {
    /// Which work: `S1`, `S2` …
    pub work: String,
    /// The box.
    pub unit: UnitId,
    /// When it happened.
    #[serde(with = "time")]
    pub at: Utc,
    /// What.
    #[serde(flatten)]
    pub deed: ServiceDeed,
}

/// What happened.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "of", rename_all = "snake_case")]
pub enum ServiceDeed {
    /// Work began. Who enters it has the work in hand.
    Begun {
        /// Where it is to lead: a goal's name in the contract.
        goal: String,
        /// The goal in words, as told then.
        goal_words: String,
        /// The plant as found, what is at hand, and where.
        plant: PlantWords,
        /// Permit number, why, anything worth keeping.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        remark: String,
    },
    /// A step was done.
    StepDone {
        /// The step's name in the contract.
        action: String,
        /// What was told to be done.
        instruction: String,
        /// What was to be read, the range told, and what was read.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        readings: Vec<StepReading>,
        /// Why it was gone on with although a reading is outside its range or missing; any
        /// other remark.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        remark: String,
        /// The plant afterwards, as the program takes it to be.
        after: PlantWords,
        /// What was weighed in or out at this step, booked into the refrigerant account with it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        booked: Option<Box<Transfer>>,
    },
    /// It stands otherwise than the program took it to: looked at again.
    Corrected {
        /// What stands otherwise; what is not named stays.
        plant: PlantWords,
        /// What was seen.
        why: String,
    },
    /// The work rests.
    Stopped {
        /// Why, and what the next person must know.
        why: String,
    },
    /// Somebody goes on; whoever enters it has the work in hand.
    Resumed {
        /// What was looked at before going on.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        remark: String,
    },
    /// The work goes from one person to another.
    HandedOver {
        /// Who had it.
        from: String,
        /// Who has it now.
        to: String,
        /// What was said.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        remark: String,
    },
    /// The work is over.
    Finished {
        /// Whether the goal was reached by the steps entered.
        reached: bool,
        /// What is left, what was found.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        remark: String,
    },
}

impl ServiceDeed {
    /// What this entry books into the refrigerant account.
    #[must_use]
    pub fn booked(&self) -> Option<&Transfer> {
        match self {
            Self::StepDone { booked, .. } => booked.as_deref(),
            _ => None,
        }
    }
}

/// The plant in the words of a state file: key and value, volume and content.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct PlantWords {
    /// Valves, hoses, machines, what is at hand, gas and ambient: key and value.
    pub keys: BTreeMap<String, String>,
    /// What is inside, by volume. Empty with `fillings`: not known.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub content: BTreeMap<String, String>,
    /// Where what is inside is not known: every way in which it can be filled, one letter a
    /// volume.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub fillings: Vec<String>,
}

impl PlantWords {
    /// Takes over what another names.
    pub fn overlay(&mut self, newer: &Self) {
        self.keys.extend(newer.keys.clone());
        if !newer.fillings.is_empty() || !newer.content.is_empty() {
            self.fillings.clone_from(&newer.fillings);
        }
        if newer.fillings.is_empty() {
            self.content.extend(newer.content.clone());
        } else {
            self.content.clear();
        }
    }
}

/// A reading that belongs to a step.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StepReading {
    /// What was to be read: `low gauge`, `scale`, `wait` …
    pub what: String,
    /// As the person wrote it; empty: not read.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub as_written: String,
    /// In the unit; `None`: not read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<f64>,
    /// Unit: `kpag`, `um`, `min`, `kg`.
    pub unit: String,
    /// The range told then, from …
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<f64>,
    /// … to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<f64>,
}

/// How a reading stands to the range told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum InRange {
    /// Not read.
    NotRead,
    /// Inside, or no range is known.
    Inside,
    /// Below.
    Below,
    /// Above.
    Above,
}

impl StepReading {
    /// How it stands to its range.
    #[must_use]
    pub fn stands(&self) -> InRange {
        match self.value {
            None => InRange::NotRead,
            Some(v) if self.from.is_some_and(|f| v < f) => InRange::Below,
            Some(v) if self.to.is_some_and(|t| v > t) => InRange::Above,
            Some(_) => InRange::Inside,
        }
    }
}

/// One entry with who entered it.
#[derive(Debug, Clone, PartialEq)]
pub struct ServiceEntry {
    /// What.
    pub act: ServiceAct,
    /// Who entered it.
    pub who: String,
}

/// How a piece of work stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WorkStanding {
    /// Somebody is at it.
    UnderWay,
    /// It rests.
    Stopped,
    /// Over, the goal reached.
    Reached,
    /// Over, the goal not reached.
    GivenUp,
}

impl WorkStanding {
    /// As a person reads it.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::UnderWay => "under way",
            Self::Stopped => "stopped",
            Self::Reached => "finished",
            Self::GivenUp => "ended before its goal",
        }
    }

    /// Nothing more is entered.
    #[must_use]
    pub fn is_over(self) -> bool {
        matches!(self, Self::Reached | Self::GivenUp)
    }
}

/// A piece of work, replayed.
#[derive(Debug, Clone, PartialEq)]
pub struct WorkFile {
    /// `S1`, `S2` …
    pub id: String,
    /// The box.
    pub unit: UnitId,
    /// Where it is to lead.
    pub goal: String,
    /// In words.
    pub goal_words: String,
    /// Who has it in hand.
    pub person: String,
    /// How it stands.
    pub standing: WorkStanding,
    /// The plant as it is taken to stand.
    pub plant: PlantWords,
    /// Everything entered, in order.
    pub entries: Vec<ServiceEntry>,
}

impl WorkFile {
    /// The work that an entry begins; `None` for one that begins none.
    #[must_use]
    pub fn begun(act: &ServiceAct, who: &str) -> Option<Self> {
        let ServiceDeed::Begun { goal, goal_words, plant, .. } = &act.deed else { return None };
        Some(Self {
            id: act.work.clone(),
            unit: act.unit.clone(),
            goal: goal.clone(),
            goal_words: goal_words.clone(),
            person: who.to_owned(),
            standing: WorkStanding::UnderWay,
            plant: plant.clone(),
            entries: vec![ServiceEntry { act: act.clone(), who: who.to_owned() }],
        })
    }

    /// Files one entry more.
    pub fn add(&mut self, act: &ServiceAct, who: &str) {
        match &act.deed {
            ServiceDeed::Begun { .. } => return,
            ServiceDeed::StepDone { after, .. } => self.plant.overlay(after),
            ServiceDeed::Corrected { plant, .. } => self.plant.overlay(plant),
            ServiceDeed::Stopped { .. } => self.standing = WorkStanding::Stopped,
            ServiceDeed::Resumed { .. } => {
                self.standing = WorkStanding::UnderWay;
                who.clone_into(&mut self.person);
            }
            ServiceDeed::HandedOver { to, .. } => self.person.clone_from(to),
            ServiceDeed::Finished { reached, .. } => {
                self.standing =
                    if *reached { WorkStanding::Reached } else { WorkStanding::GivenUp };
            }
        }
        self.entries.push(ServiceEntry { act: act.clone(), who: who.to_owned() });
    }

    /// Steps done so far.
    #[must_use]
    pub fn steps(&self) -> usize {
        let step = |e: &&ServiceEntry| matches!(e.act.deed, ServiceDeed::StepDone { .. });
        self.entries.iter().filter(step).count()
    }

    /// When it began.
    #[must_use]
    pub fn since(&self) -> Utc {
        self.entries.first().map_or(Utc::from_ms(0), |e| e.act.at)
    }

    /// When something was last entered.
    #[must_use]
    pub fn last_at(&self) -> Utc {
        self.entries.last().map_or(Utc::from_ms(0), |e| e.act.at)
    }
}

impl ServiceAct {
    /// What was done, in one line.
    #[must_use]
    pub fn title(&self) -> String {
        let Self { work, unit, deed, .. } = self;
        let with = |head: String, text: &str| {
            if text.is_empty() { head } else { format!("{head}: {text}") }
        };
        match deed {
            ServiceDeed::Begun { goal_words, .. } => {
                format!("service work {work} on {unit} begun: {goal_words}")
            }
            ServiceDeed::StepDone { instruction, readings, remark, booked, .. } => {
                let read: Vec<String> = readings
                    .iter()
                    .filter(|r| r.value.is_some())
                    .map(|r| format!("{} {}", r.what, r.as_written))
                    .collect();
                let mut text = format!("service work {work}: {instruction}");
                if !read.is_empty() {
                    text += &format!(" Read: {}.", read.join(", "));
                }
                if let Some(t) = booked {
                    let g = kg(t.g.into());
                    let (from, to) = (t.from.words(), t.to.words());
                    text += &format!(" Booked: {g} {} from {from} to {to}.", t.gas);
                }
                if !remark.is_empty() {
                    text += &format!(" ({remark})");
                }
                text
            }
            ServiceDeed::Corrected { why, .. } => {
                format!("service work {work}: it stands otherwise: {why}")
            }
            ServiceDeed::Stopped { why } => with(format!("service work {work} stopped"), why),
            ServiceDeed::Resumed { remark } => with(format!("service work {work} resumed"), remark),
            ServiceDeed::HandedOver { from, to, remark } => {
                with(format!("service work {work} handed over from {from} to {to}"), remark)
            }
            ServiceDeed::Finished { reached, remark } => {
                let how = if *reached { "finished" } else { "ended before its goal" };
                with(format!("service work {work} on {unit} {how}"), remark)
            }
        }
    }
}

/// Files one entry among all works.
pub fn add(works: &mut Vec<WorkFile>, act: &ServiceAct, who: &str) {
    match works.iter_mut().find(|w| w.id == act.work) {
        Some(work) => work.add(act, who),
        None => works.extend(WorkFile::begun(act, who)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Act;

    /// What is stored today must be read for years.
    #[test]
    fn service_acts_keep_their_stored_form() {
        let head =
            r#"{"act":"service","work":"S1","unit":"QQQU1000011","at":"2026-03-16T12:00:00Z","#;
        let tails = [
            r#""of":"begun","goal":"gauges-on","goal_words":"gauges on","plant":{"keys":{"ambient_c":"31","suction_valve":"back-seated"},"content":{"compressor":"refrigerant under pressure"}},"remark":"permit 12"}"#,
            r#""of":"begun","goal":"gauges-on","goal_words":"gauges on","plant":{"keys":{},"fillings":["rrrraaa","rrrlaaa"]}}"#,
            r#""of":"step_done","action":"pull_down","instruction":"Watch.","readings":[{"what":"low gauge","as_written":"2.2 psig","value":15.2,"unit":"kpag","from":10.0,"to":20.0},{"what":"wait","unit":"min","from":10.0}],"remark":"no watch","after":{"keys":{}}}"#,
            r#""of":"step_done","action":"recover","instruction":"Recover.","after":{"keys":{}},"booked":{"at":"2026-03-16T12:00:00Z","person":"Ann","gas":"R134a","g":4500,"from":"unit:QQQU1000011","to":"cylinder:C12","reason":"recovery"}}"#,
            r#""of":"corrected","plant":{"keys":{"king_valve":"mid"}},"why":"found so"}"#,
            r#""of":"stopped","why":"meal"}"#,
            r#""of":"resumed"}"#,
            r#""of":"handed_over","from":"Ann","to":"Bo","remark":"pump is hot"}"#,
            r#""of":"finished","reached":true}"#,
        ];
        for tail in tails {
            let text = format!("{head}{tail}");
            let act: Act = serde_json::from_str(&text).unwrap();
            assert_eq!(serde_json::to_string(&act).unwrap(), text);
            assert_eq!(act.units().len(), 1);
            assert!(act.title().starts_with("service work S1"), "{}", act.title());
        }
    }

    #[test]
    fn a_range_has_two_ends_or_fewer() {
        let mut r = StepReading {
            what: "low gauge".into(),
            as_written: "9".into(),
            value: Some(9.0),
            unit: "kpag".into(),
            from: Some(10.0),
            to: Some(20.0),
        };
        assert_eq!(r.stands(), InRange::Below);
        r.value = Some(10.0);
        assert_eq!(r.stands(), InRange::Inside);
        r.value = Some(20.1);
        assert_eq!(r.stands(), InRange::Above);
        (r.from, r.to) = (None, None);
        assert_eq!(r.stands(), InRange::Inside);
        r.value = None;
        assert_eq!(r.stands(), InRange::NotRead);
    }

    #[test]
    fn work_goes_from_hand_to_hand_and_the_plant_follows() {
        let unit = UnitId::from_text("QQQU1000011").unwrap();
        let words = |pairs: &[(&str, &str)]| PlantWords {
            keys: pairs.iter().map(|(k, v)| ((*k).into(), (*v).into())).collect(),
            ..PlantWords::default()
        };
        let act = |deed| ServiceAct {
            work: "S1".into(),
            unit: unit.clone(),
            at: Utc::from_ms(1_773_000_000_000),
            deed,
        };
        let begun = act(ServiceDeed::Begun {
            goal: "gauges-on".into(),
            goal_words: "gauges on".into(),
            plant: words(&[("low_hose", "off"), ("king_valve", "mid")]),
            remark: String::new(),
        });
        let mut file = WorkFile::begun(&begun, "Ann").unwrap();
        file.add(
            &act(ServiceDeed::StepDone {
                action: "fit_low_hose".into(),
                instruction: "Fit.".into(),
                readings: Vec::new(),
                remark: String::new(),
                after: words(&[("low_hose", "on suction port")]),
                booked: None,
            }),
            "Ann",
        );
        assert_eq!(file.plant.keys["low_hose"], "on suction port");
        assert_eq!(file.plant.keys["king_valve"], "mid");
        file.add(&act(ServiceDeed::Stopped { why: "watch over".into() }), "Ann");
        assert_eq!(file.standing, WorkStanding::Stopped);
        file.add(&act(ServiceDeed::Resumed { remark: String::new() }), "Bo");
        assert_eq!((file.person.as_str(), file.standing), ("Bo", WorkStanding::UnderWay));
        let over =
            ServiceDeed::HandedOver { from: "Bo".into(), to: "Cy".into(), remark: String::new() };
        file.add(&act(over), "Bo");
        assert_eq!((file.person.as_str(), file.steps()), ("Cy", 1));
        file.add(&act(ServiceDeed::Finished { reached: false, remark: String::new() }), "Cy");
        assert!(file.standing.is_over());
    }
}
