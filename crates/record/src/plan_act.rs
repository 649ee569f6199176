//! What people say and do about the ship's plans: her plant, the weather to come, who is there to
//! repair, which repair began and how it ended.

use serde::{Deserialize, Serialize};
use units::Utc;

use crate::UnitId;
use crate::act::time;

/// One of them. A later word on the same thing takes the place of an earlier one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "of", rename_all = "snake_case")]
pub enum PlanAct {
    /// The generators, feeders and holds, as written: an edition of the ship's plant file.
    Plant {
        /// The file's whole text, TOML.
        file: String,
    },
    /// The weather expected on the route.
    Weather {
        /// Points by time.
        points: Vec<WeatherPoint>,
        /// Where it comes from: a forecast by mail, a pilot chart.
        #[serde(default)]
        source: String,
    },
    /// Who repairs, what they may do, what lies on the shelf: an edition of the crew file.
    Crew {
        /// The file's whole text, TOML.
        file: String,
    },
    /// A repair began.
    RepairBegun {
        /// The box.
        unit: UnitId,
        /// Who works on it.
        person: String,
        /// When.
        #[serde(with = "time")]
        at: Utc,
    },
    /// A repair ended.
    RepairEnded {
        /// The box.
        unit: UnitId,
        /// When.
        #[serde(with = "time")]
        at: Utc,
        /// How.
        outcome: RepairOutcome,
        /// What was done or found.
        #[serde(default)]
        remark: String,
    },
}

/// How a repair ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RepairOutcome {
    /// Done; the next reading shows whether it helped.
    Done,
    /// Broken off: the box still needs hands.
    Stopped,
    /// Cannot be helped with what is on board.
    BeyondUs,
}

impl RepairOutcome {
    /// As a person reads it.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Done => "done",
            Self::Stopped => "broken off",
            Self::BeyondUs => "cannot be helped with what is on board",
        }
    }

    /// From the word stored and typed: `done`, `stopped`, `beyond_us`.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        match text {
            "done" => Some(Self::Done),
            "stopped" => Some(Self::Stopped),
            "beyond_us" => Some(Self::BeyondUs),
            _ => None,
        }
    }
}

/// Weather expected at an instant.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct WeatherPoint {
    /// When.
    #[serde(with = "time")]
    pub at: Utc,
    /// Outside air, °C.
    pub ambient_c: f64,
    /// Sun, 0 (night, overcast) to 1 (full); `None` where nobody said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sun: Option<f64>,
}

/// A repair under way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RepairUnderWay {
    /// The box.
    pub unit: UnitId,
    /// Who works on it.
    pub person: String,
    /// Since when.
    pub since: Utc,
}

/// A repair that ended, the last of its box.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RepairOver {
    /// The box.
    pub unit: UnitId,
    /// When.
    pub at: Utc,
    /// How.
    pub outcome: RepairOutcome,
}

/// What stands after all acts about plans.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PlanFile {
    /// The plant file in force.
    pub plant: Option<String>,
    /// The weather expected, by time, with its source.
    pub weather: Option<(Vec<WeatherPoint>, String)>,
    /// The crew file in force.
    pub crew: Option<String>,
    /// Repairs under way, in the order begun.
    pub under_way: Vec<RepairUnderWay>,
    /// The last end of a repair of each box, in the order of the boxes' first ends.
    pub over: Vec<RepairOver>,
}

impl PlanFile {
    /// Files one act more.
    pub fn add(&mut self, act: &PlanAct) {
        match act {
            PlanAct::Plant { file } => self.plant = Some(file.clone()),
            PlanAct::Weather { points, source } => {
                let mut points = points.clone();
                points.sort_by_key(|p| p.at);
                self.weather = Some((points, source.clone()));
            }
            PlanAct::Crew { file } => self.crew = Some(file.clone()),
            PlanAct::RepairBegun { unit, person, at } => {
                // One person is in one place, one box has one repair.
                self.under_way.retain(|u| u.unit != *unit && u.person != *person);
                self.over.retain(|o| o.unit != *unit);
                let (unit, person) = (unit.clone(), person.clone());
                self.under_way.push(RepairUnderWay { unit, person, since: *at });
            }
            PlanAct::RepairEnded { unit, at, outcome, .. } => {
                self.under_way.retain(|u| u.unit != *unit);
                self.over.retain(|o| o.unit != *unit);
                self.over.push(RepairOver { unit: unit.clone(), at: *at, outcome: *outcome });
            }
        }
    }
}

impl PlanAct {
    /// The box it is about.
    #[must_use]
    pub fn unit(&self) -> Option<&UnitId> {
        match self {
            Self::RepairBegun { unit, .. } | Self::RepairEnded { unit, .. } => Some(unit),
            Self::Plant { .. } | Self::Weather { .. } | Self::Crew { .. } => None,
        }
    }

    /// What was said or done, in one line.
    #[must_use]
    pub fn title(&self) -> String {
        match self {
            Self::Plant { .. } => "the ship's generators and feeders stated".to_owned(),
            Self::Weather { points, source } if source.is_empty() => {
                format!("weather expected: {} points", points.len())
            }
            Self::Weather { points, source } => {
                format!("weather expected: {} points from {source}", points.len())
            }
            Self::Crew { .. } => "people, skills and parts for repairs stated".to_owned(),
            Self::RepairBegun { unit, person, .. } => {
                format!("repair of {unit} begun by {person}")
            }
            Self::RepairEnded { unit, outcome, remark, .. } if remark.is_empty() => {
                format!("repair of {unit} {}", outcome.words())
            }
            Self::RepairEnded { unit, outcome, remark, .. } => {
                format!("repair of {unit} {}: {remark}", outcome.words())
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Act;

    /// What is stored today must be read for years.
    #[test]
    fn plan_acts_keep_their_stored_form() {
        let stored = [
            r#"{"act":"plan","of":"plant","file":"other_kw = 900\n"}"#,
            r#"{"act":"plan","of":"weather","points":[{"at":"2026-03-16T12:00:00Z","ambient_c":31.5,"sun":0.8}],"source":"mail"}"#,
            r#"{"act":"plan","of":"crew","file":""}"#,
            r#"{"act":"plan","of":"repair_begun","unit":"QQQU1000011","person":"Ann","at":"2026-03-16T12:00:00Z"}"#,
            r#"{"act":"plan","of":"repair_ended","unit":"QQQU1000011","at":"2026-03-16T14:00:00Z","outcome":"beyond_us","remark":"no spare"}"#,
        ];
        for text in stored {
            let act: Act = serde_json::from_str(text).unwrap();
            assert_eq!(serde_json::to_string(&act).unwrap(), text);
        }
    }

    #[test]
    fn a_person_works_on_one_box_and_an_end_frees_both() {
        let unit = |t: &str| UnitId::from_text(t).unwrap();
        let at = Utc::from_ms(1_773_000_000_000);
        let begun =
            |u: &str, who: &str| PlanAct::RepairBegun { unit: unit(u), person: who.into(), at };
        let mut file = PlanFile::default();
        file.add(&begun("QQQU1000011", "Ann"));
        file.add(&begun("QQQU1000027", "Ann"));
        assert_eq!(file.under_way.len(), 1);
        file.add(&PlanAct::RepairEnded {
            unit: unit("QQQU1000027"),
            at,
            outcome: RepairOutcome::Done,
            remark: String::new(),
        });
        assert!(file.under_way.is_empty());
        assert_eq!(file.over.len(), 1);
        file.add(&begun("QQQU1000027", "Bo"));
        assert!(file.over.is_empty());
    }
}
