//! A round as it is keyed in: how it began, every figure as written, what was asked about it and
//! kept, and how it ended.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use units::Utc;

use crate::act::time;
use crate::{Channel, UnitId};

/// How keying a round in began. A later one of the same id puts name or time right.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct RoundStart {
    /// Its name in this voyage.
    pub id: String,
    /// When the round was walked: the time it is known by.
    #[serde(with = "time")]
    pub at: Utc,
    /// Who walked it.
    pub walked_by: String,
    /// Wind, sea, deck as written on the sheet. Empty: not written.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub weather: String,
}

impl RoundStart {
    /// In one line.
    #[must_use]
    pub fn title(&self) -> String {
        let (id, at, who) = (&self.id, self.at.to_minute(), &self.walked_by);
        let weather =
            if self.weather.is_empty() { String::new() } else { format!("; {}", self.weather) };
        format!("round {id} of {at} UTC, walked by {who}, begun to be keyed in{weather}")
    }
}

impl RoundClosed {
    /// In one line.
    #[must_use]
    pub fn title(&self) -> String {
        match self.boxes {
            Some(n) => format!("round {} handed in, {n} boxes, as {}", self.id, self.file),
            None => format!("round {} thrown away", self.id),
        }
    }
}

/// One box's line as keyed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct KeyedRow {
    /// The box.
    pub unit: UnitId,
    /// Figures as written, by the channel's stem: `supply`, `return`, …
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub values: BTreeMap<String, String>,
    /// Power seen, where this box is marked by itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on_power: Option<bool>,
    /// The display showed a defrost.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub defrost: bool,
    /// Alarm as written.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub alarm: String,
    /// Remark.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub remark: String,
    /// What was asked about its figures, and how it was answered.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub answered: Vec<Answer>,
}

/// A question about a figure, answered.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Answer {
    /// Channel's stem.
    pub of: String,
    /// What was asked, as a word: see [`QuestionKind::as_str`].
    pub kind: String,
    /// The figure, or figures, that it was about, as written.
    pub about: String,
    /// The question, as it was shown.
    pub asked: String,
    /// What it was changed to; `None`: kept as written.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub changed_to: Option<String>,
}

/// What was said of all boxes of a part of the walk.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct PartSaid {
    /// Which: see [`crate::Part::key`].
    pub part: String,
    /// Time of the readings there, as written: `0815`. Empty: that of the round.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub time: String,
    /// Every box read there and not marked otherwise was seen on power.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub on_power: bool,
    /// Every box read there and not marked otherwise showed the set point on the sheet.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub set_point: bool,
}

/// Some lines of a round, keyed or keyed again.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct RoundKeyed {
    /// Which round.
    pub id: String,
    /// The lines. A line without anything in it takes an earlier one away.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub rows: Vec<KeyedRow>,
    /// Parts of the walk.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub parts: Vec<PartSaid>,
}

/// The end of keying a round in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct RoundClosed {
    /// Which round.
    pub id: String,
    /// Boxes read, as taken in; `None`: it was thrown away.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub boxes: Option<u64>,
    /// The file it was taken in as. Empty when it was thrown away.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub file: String,
}

/// Everything keyed of one round, replayed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RoundFile {
    /// How it began.
    pub start: RoundStart,
    /// Who keys it in.
    pub who: String,
    /// Lines by box.
    pub rows: BTreeMap<UnitId, KeyedRow>,
    /// Parts of the walk by key.
    pub parts: BTreeMap<String, PartSaid>,
    /// When anything of it was stored last.
    pub saved_at: Utc,
    /// Its end.
    pub closed: Option<RoundClosed>,
}

impl RoundFile {
    /// A round just begun.
    #[must_use]
    pub fn new(start: RoundStart, who: &str, at: Utc) -> Self {
        Self {
            start,
            who: who.to_owned(),
            rows: BTreeMap::new(),
            parts: BTreeMap::new(),
            saved_at: at,
            closed: None,
        }
    }

    /// Takes lines over.
    pub fn add(&mut self, keyed: &RoundKeyed, at: Utc) {
        for row in &keyed.rows {
            if row.is_empty() {
                self.rows.remove(&row.unit);
            } else {
                self.rows.insert(row.unit.clone(), row.clone());
            }
        }
        for part in &keyed.parts {
            self.parts.insert(part.part.clone(), part.clone());
        }
        self.saved_at = at;
    }

    /// Boxes with a figure or a mark.
    #[must_use]
    pub fn read(&self) -> usize {
        self.rows.values().filter(|r| r.says_anything()).count()
    }
}

impl KeyedRow {
    /// An empty line.
    #[must_use]
    pub fn new(unit: UnitId) -> Self {
        Self {
            unit,
            values: BTreeMap::new(),
            on_power: None,
            defrost: false,
            alarm: String::new(),
            remark: String::new(),
            answered: Vec::new(),
        }
    }

    /// The figure of a channel as written.
    #[must_use]
    pub fn text(&self, channel: Channel) -> &str {
        self.values.get(channel.stem()).map_or("", String::as_str)
    }

    /// True when the box was looked at: a figure, power, defrost, an alarm.
    #[must_use]
    pub fn says_anything(&self) -> bool {
        self.values.values().any(|v| !v.is_empty())
            || self.on_power.is_some()
            || self.defrost
            || !self.alarm.is_empty()
    }

    /// True when nothing is written in it.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        !self.says_anything() && self.remark.is_empty()
    }
}

/// Why a figure is questioned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum QuestionKind {
    /// Supply and return stand in each other's place.
    Exchanged,
    /// The sign is missing, or one too many.
    Sign,
    /// The decimal point is missing or in the wrong place.
    Point,
    /// Sign and point.
    SignAndPoint,
    /// A figure in °F.
    Fahrenheit,
    /// Two digits stand in each other's place.
    Digits,
    /// Far from what was read before, and nothing explains it.
    Far,
    /// Nothing that such a sensor can show.
    Impossible,
}

impl QuestionKind {
    /// All.
    pub const ALL: [Self; 8] = [
        Self::Exchanged,
        Self::Sign,
        Self::Point,
        Self::SignAndPoint,
        Self::Fahrenheit,
        Self::Digits,
        Self::Far,
        Self::Impossible,
    ];

    /// The word under which it is stored.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Exchanged => "exchanged",
            Self::Sign => "sign",
            Self::Point => "point",
            Self::SignAndPoint => "sign_and_point",
            Self::Fahrenheit => "fahrenheit",
            Self::Digits => "digits",
            Self::Far => "far",
            Self::Impossible => "impossible",
        }
    }
}

/// A question about a figure.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// The figure.
    pub channel: Channel,
    /// Why.
    pub kind: QuestionKind,
    /// The question in words.
    pub words: String,
    /// What it would be otherwise: figures made of the digits that were written, never a value
    /// read before.
    pub instead: Vec<(Channel, f64)>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Act;

    /// What is stored today must be read for years: the names of acts and fields stay.
    #[test]
    fn rounds_keep_their_stored_form() {
        let at = Utc::parse("2026-03-05T08:00:00Z").unwrap();
        let unit = UnitId::from_text("QQQU1000011").unwrap();
        let mut row = KeyedRow::new(unit);
        row.values.insert("supply".into(), "18.2".into());
        row.on_power = Some(false);
        row.answered.push(Answer {
            of: "supply".into(),
            kind: "sign".into(),
            about: "18.2".into(),
            asked: "minus?".into(),
            changed_to: None,
        });
        let acts = [
            Act::RoundBegun(Box::new(RoundStart {
                id: "R1".into(),
                at,
                walked_by: "J. Ruiz".into(),
                weather: "NW 5".into(),
            })),
            Act::RoundKeyed(Box::new(RoundKeyed {
                id: "R1".into(),
                rows: vec![row.clone()],
                parts: vec![PartSaid {
                    part: "22".into(),
                    time: "0815".into(),
                    on_power: true,
                    set_point: false,
                }],
            })),
            Act::RoundClosed(Box::new(RoundClosed {
                id: "R1".into(),
                boxes: Some(1),
                file: "round.csv".into(),
            })),
        ];
        let stored = [
            r#"{"act":"round_begun","id":"R1","at":"2026-03-05T08:00:00Z","walked_by":"J. Ruiz","weather":"NW 5"}"#,
            r#"{"act":"round_keyed","id":"R1","rows":[{"unit":"QQQU1000011","values":{"supply":"18.2"},"on_power":false,"answered":[{"of":"supply","kind":"sign","about":"18.2","asked":"minus?"}]}],"parts":[{"part":"22","time":"0815","on_power":true}]}"#,
            r#"{"act":"round_closed","id":"R1","boxes":1,"file":"round.csv"}"#,
        ];
        for (stored, act) in stored.into_iter().zip(acts) {
            assert_eq!(serde_json::from_str::<Act>(stored).unwrap(), act);
            assert_eq!(serde_json::to_string(&act).unwrap(), stored);
        }
    }

    #[test]
    fn a_line_keyed_again_takes_the_place_of_the_first() {
        let at = Utc::from_ms(0);
        let start =
            RoundStart { id: "R1".into(), at, walked_by: "J. Ruiz".into(), weather: String::new() };
        let mut file = RoundFile::new(start, "J. Ruiz", at);
        let unit = UnitId::from_text("QQQU1000011").unwrap();
        let mut row = KeyedRow::new(unit.clone());
        row.values.insert("supply".into(), "1.0".into());
        let keyed = |row| RoundKeyed { id: "R1".into(), rows: vec![row], parts: Vec::new() };
        file.add(&keyed(row.clone()), at);
        assert_eq!(file.read(), 1);
        row.values.insert("supply".into(), "2.0".into());
        file.add(&keyed(row), at);
        assert_eq!(file.rows[&unit].text(Channel::Supply), "2.0");
        file.add(&keyed(KeyedRow::new(unit)), at);
        assert_eq!(file.rows.len(), 0);
    }
}
