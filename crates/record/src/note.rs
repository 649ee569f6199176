//! What people write down: what they noticed, did, saw restored; a round that could not be walked
//! and the weather that kept them; a message that left the ship.

use serde::{Deserialize, Serialize};
use units::Utc;

use crate::UnitId;
use crate::act::time;

/// A note entered this many hours after what it tells of is marked late: longer than a round of a
/// large ship takes (a choice of ours).
pub const LATE_H: f64 = 3.0;

/// What a note tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum NoteKind {
    /// Something was noticed.
    Noticed,
    /// Something was done about it.
    Done,
    /// It works as it should again.
    Restored,
    /// Anything else worth keeping.
    Remark,
}

impl NoteKind {
    /// All, in the order of a malfunction.
    pub const ALL: [Self; 4] = [Self::Noticed, Self::Done, Self::Restored, Self::Remark];

    /// The word.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Noticed => "noticed",
            Self::Done => "done",
            Self::Restored => "restored",
            Self::Remark => "remark",
        }
    }

    /// From the word.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|k| k.as_str() == text.trim().to_ascii_lowercase())
    }
}

/// One thing written down.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Note {
    /// The box; `None`: the ship.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<UnitId>,
    /// What it tells.
    pub kind: NoteKind,
    /// When that was.
    #[serde(with = "time")]
    pub at: Utc,
    /// In the person's words.
    pub text: String,
}

/// A note with who entered it and when.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NoteEntry {
    /// The note.
    pub note: Note,
    /// Who entered it.
    pub who: String,
    /// When.
    pub entered_at: Utc,
}

/// A round that was not walked.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct RoundMissed {
    /// From when …
    #[serde(with = "time")]
    pub from: Utc,
    /// … until when nobody could go round.
    #[serde(with = "time")]
    pub to: Utc,
    /// Why.
    pub why: String,
    /// Wind as the bridge logs it: direction and force or knots. Empty: not written.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub wind: String,
    /// Sea and swell. Empty: not written.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub sea: String,
}

impl RoundMissed {
    /// Why, with the weather, in one line.
    #[must_use]
    pub fn words(&self) -> String {
        let mut s = self.why.clone();
        for (name, text) in [("wind", &self.wind), ("sea", &self.sea)] {
            if !text.is_empty() {
                s += &format!("; {name} {text}");
            }
        }
        s
    }
}

/// A missed round with who entered it and when.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MissedEntry {
    /// What was entered.
    pub missed: RoundMissed,
    /// By whom.
    pub who: String,
    /// When.
    pub entered_at: Utc,
}

/// A message that left the ship. Its attachment is the entry's document.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct MessageSent {
    /// `twice-daily` or `exceptions`.
    pub kind: String,
    /// Its number, from 1, without a gap.
    pub number: u64,
    /// It told changes since the message before only.
    #[serde(default)]
    pub delta: bool,
    /// Entries in the journal before this one …
    pub log_entries: i64,
    /// … and the root over them, as told in the message.
    pub root: String,
    /// SHA-256 of the text.
    pub text_sha256: String,
    /// The text, as sent.
    pub text: String,
}

/// A message sent, with who entered it, when, and the hash of its attachment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SentEntry {
    /// Its entry.
    pub seq: i64,
    /// The message.
    pub message: MessageSent,
    /// Who sent it.
    pub who: String,
    /// When.
    pub at: Utc,
}

/// How late an entry came, in hours; `None` when it came in time.
#[must_use]
pub fn late_h(at: Utc, entered_at: Utc) -> Option<f64> {
    let hours = entered_at.hours_since(at);
    (hours > LATE_H).then_some(hours)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Act;

    /// What is stored today must be read for years: the names of acts and fields stay.
    #[test]
    fn notes_keep_their_stored_form() {
        let at = Utc::parse("2026-03-05T08:12:00Z").unwrap();
        let stored = [
            r#"{"act":"noted","unit":"QQQU1000011","kind":"noticed","at":"2026-03-05T08:12:00Z","text":"ice on coil"}"#,
            r#"{"act":"noted","kind":"remark","at":"2026-03-05T08:12:00Z","text":"clocks back 1 h"}"#,
            r#"{"act":"round_missed","from":"2026-03-05T08:12:00Z","to":"2026-03-05T08:12:00Z","why":"heavy sea","wind":"NW 9"}"#,
            r#"{"act":"message_sent","kind":"exceptions","number":3,"delta":false,"log_entries":9,"root":"ab","text_sha256":"cd","text":"x"}"#,
            r#"{"act":"key_announced","public_key":"ab"}"#,
        ];
        let note = |unit: Option<&str>, kind, text: &str| {
            let unit = unit.and_then(UnitId::from_text);
            Act::Noted(Box::new(Note { unit, kind, at, text: text.into() }))
        };
        let missed = RoundMissed {
            from: at,
            to: at,
            why: "heavy sea".into(),
            wind: "NW 9".into(),
            sea: String::new(),
        };
        assert_eq!(missed.words(), "heavy sea; wind NW 9");
        let sent = MessageSent {
            kind: "exceptions".into(),
            number: 3,
            delta: false,
            log_entries: 9,
            root: "ab".into(),
            text_sha256: "cd".into(),
            text: "x".into(),
        };
        let acts = [
            note(Some("QQQU1000011"), NoteKind::Noticed, "ice on coil"),
            note(None, NoteKind::Remark, "clocks back 1 h"),
            Act::RoundMissed(Box::new(missed)),
            Act::MessageSent(Box::new(sent)),
            Act::KeyAnnounced { public_key: "ab".into() },
        ];
        for (stored, act) in stored.into_iter().zip(acts) {
            assert_eq!(serde_json::from_str::<Act>(stored).unwrap(), act);
            assert_eq!(serde_json::to_string(&act).unwrap(), stored);
        }
    }

    #[test]
    fn late_is_marked() {
        let at = Utc::parse("2026-03-05T08:00:00Z").unwrap();
        assert_eq!(late_h(at, at.plus_hours(2.9)), None);
        assert_eq!(late_h(at, at.plus_hours(5.0)), Some(5.0));
        assert_eq!(NoteKind::from_text(" Done "), Some(NoteKind::Done));
    }
}
