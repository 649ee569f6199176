//! Spare parts: what lies on the shelf, what came, what a job took.

use serde::{Deserialize, Serialize};
use units::Utc;

use crate::UnitId;
use crate::act::time;

/// One word about spares. Parts are told apart by name, letters large or small alike.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "of", rename_all = "snake_case")]
pub enum SparesAct {
    /// The shelf was counted: from here the count is right, whatever it was before.
    Counted {
        /// The part.
        part: String,
        /// How many there are.
        count: u32,
        /// Fewest the ship wants to have; `None`: nobody said.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        least: Option<u32>,
        /// When.
        #[serde(with = "time")]
        at: Utc,
    },
    /// Parts came on board.
    Received {
        /// The part.
        part: String,
        /// How many.
        count: u32,
        /// When.
        #[serde(with = "time")]
        at: Utc,
        /// From whom, which order.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        remark: String,
    },
    /// A job took parts.
    Used {
        /// The part.
        part: String,
        /// How many.
        count: u32,
        /// The box it went into; `None`: none in particular.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        unit: Option<UnitId>,
        /// What for.
        job: String,
        /// When.
        #[serde(with = "time")]
        at: Utc,
    },
}

impl SparesAct {
    /// The part.
    #[must_use]
    pub fn part(&self) -> &str {
        match self {
            Self::Counted { part, .. } | Self::Received { part, .. } | Self::Used { part, .. } => {
                part
            }
        }
    }

    /// When.
    #[must_use]
    pub fn at(&self) -> Utc {
        match self {
            Self::Counted { at, .. } | Self::Received { at, .. } | Self::Used { at, .. } => *at,
        }
    }

    /// The box it is about.
    #[must_use]
    pub fn unit(&self) -> Option<&UnitId> {
        match self {
            Self::Used { unit, .. } => unit.as_ref(),
            Self::Counted { .. } | Self::Received { .. } => None,
        }
    }

    /// In one line.
    #[must_use]
    pub fn title(&self) -> String {
        match self {
            Self::Counted { part, count, .. } => format!("{part}: {count} counted on the shelf"),
            Self::Received { part, count, .. } => format!("{part}: {count} came on board"),
            Self::Used { part, count, unit, job, .. } => {
                let into = unit.as_ref().map_or_else(String::new, |u| format!(" for {u}"));
                format!("{part}: {count} used{into}, {job}")
            }
        }
    }
}

/// An entry, with who entered it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SparesEntry {
    /// Number in the journal.
    pub seq: i64,
    /// What.
    pub act: SparesAct,
    /// Who entered it.
    pub who: String,
}

/// Everything entered about spares, in order.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SparesFile {
    /// The entries.
    pub entries: Vec<SparesEntry>,
}

/// The name under which a part is found: small letters, single blanks.
#[must_use]
pub fn part_key(name: &str) -> String {
    name.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
}

impl SparesFile {
    /// Files one more.
    pub fn add(&mut self, act: &SparesAct, seq: i64, who: &str) {
        self.entries.push(SparesEntry { seq, act: act.clone(), who: who.to_owned() });
    }

    /// How many of a part there are now; none where it was never counted nor received. Never
    /// below 0: more used than was there means that the count was wrong.
    #[must_use]
    pub fn on_board(&self, name: &str) -> Option<u32> {
        let key = part_key(name);
        self.entries.iter().map(|e| &e.act).filter(|a| part_key(a.part()) == key).fold(
            None,
            |held: Option<u32>, act| match act {
                SparesAct::Counted { count, .. } => Some(*count),
                SparesAct::Received { count, .. } => Some(held.unwrap_or(0).saturating_add(*count)),
                SparesAct::Used { count, .. } => held.map(|h| h.saturating_sub(*count)),
            },
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Act;

    /// What is stored today must be read for years.
    #[test]
    fn spares_keep_their_stored_form() {
        let stored = [
            r#"{"act":"spares","of":"counted","part":"fan motor","count":2,"least":1,"at":"2026-03-16T12:00:00Z"}"#,
            r#"{"act":"spares","of":"received","part":"fan motor","count":2,"at":"2026-03-16T12:00:00Z","remark":"order 7"}"#,
            r#"{"act":"spares","of":"used","part":"fan motor","count":1,"unit":"QQQU1000011","job":"fan changed","at":"2026-03-16T12:00:00Z"}"#,
        ];
        for text in stored {
            let act: Act = serde_json::from_str(text).unwrap();
            assert_eq!(serde_json::to_string(&act).unwrap(), text);
        }
    }

    #[test]
    fn the_shelf_after_each_word() {
        let at = Utc::from_ms(1_773_000_000_000);
        let mut f = SparesFile::default();
        let job = || "fan changed".to_owned();
        f.add(
            &SparesAct::Used { part: "Drier".into(), count: 1, unit: None, job: job(), at },
            1,
            "A",
        );
        assert_eq!(f.on_board("drier"), None);
        f.add(&SparesAct::Counted { part: "drier".into(), count: 3, least: None, at }, 2, "A");
        f.add(
            &SparesAct::Used { part: "DRIER ".into(), count: 2, unit: None, job: job(), at },
            3,
            "A",
        );
        assert_eq!(f.on_board("Drier"), Some(1));
        f.add(
            &SparesAct::Used { part: "drier".into(), count: 9, unit: None, job: job(), at },
            4,
            "A",
        );
        assert_eq!(f.on_board("drier"), Some(0));
        let remark = String::new();
        f.add(&SparesAct::Received { part: "drier".into(), count: 4, at, remark }, 5, "A");
        assert_eq!(f.on_board("drier"), Some(4));
    }
}
