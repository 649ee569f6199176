//! What `vacuum watch` says: lines for a person, or one JSON document a line.

use std::fmt::Write as _;
use std::io::Write as _;
use std::path::Path;

use serde_json::{Value, json};
use units::math::round_to;
use vacuum::Verdict;
use voyage::holds::{HoldView, Watch, verdict_words};

use super::growing::Found;
use super::hold::{judgement_json, judgement_text, probabilities_text};
use super::{cautions, hold};
use crate::fail::Fail;
use crate::out;

/// Why a watch ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// Wet or leaking.
    Failed,
    /// Dry and gross tight over the whole time.
    Done,
    /// The time is over and the readings do not tell.
    TimeOver,
    /// No new row for too long.
    Idle,
    /// One look was asked for.
    Once,
    /// Ended by hand.
    Stopped,
}

impl End {
    fn as_str(self) -> &'static str {
        match self {
            Self::Failed => "failed",
            Self::Done => "done",
            Self::TimeOver => "time_over",
            Self::Idle => "idle",
            Self::Once => "once",
            Self::Stopped => "stopped",
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::Failed => {
                "longer watching changes nothing: do what stands under Next, then pull again"
            }
            Self::Done => "the time is over",
            Self::TimeOver => {
                "the time is over, but the readings do not tell; keep the valve closed and go on \
                 with --for-min, or call it not decided"
            }
            Self::Idle => "no new row came; is the logger still writing?",
            Self::Once => "one look was asked for",
            Self::Stopped => "ended by hand",
        }
    }
}

/// Says it, each thing once.
pub struct Told {
    json: bool,
    waiting: String,
    differing: usize,
    verdict: Option<Verdict>,
    decided: bool,
}

impl Told {
    pub fn new(json: bool) -> Self {
        Self { json, waiting: String::new(), differing: 0, verdict: None, decided: false }
    }

    fn say(&self, json: &Value, text: impl FnOnce() -> String) -> Result<(), Fail> {
        if self.json { out::print_json(json) } else { out::print(text()) }
    }

    pub fn begin(&self, file: &Path, hold: Option<&str>, wrong: &[String]) -> Result<(), Fail> {
        let name = file.display().to_string();
        let json = json!({
            "event": "begin",
            "file": name,
            "hold": hold,
            "cautions": cautions(),
            "instruments": wrong,
        });
        self.say(&json, || {
            let mut t = String::from("Mind:\n");
            for c in cautions() {
                let _ = writeln!(t, "  - {c}");
            }
            let _ = write!(t, "\n{}Watching {name}", out::instruments_wrong(wrong));
            if let Some(id) = hold {
                let _ = write!(t, "; its rows go into hold {id}");
            }
            t + ". Ctrl-C ends it."
        })
    }

    /// Why nothing is taken just now; said when it changes.
    pub fn waiting(&mut self, why: &str) -> Result<(), Fail> {
        if self.waiting == why {
            return Ok(());
        }
        why.clone_into(&mut self.waiting);
        self.say(&json!({"event": "waiting", "why": why}), || format!("the file {why}"))
    }

    pub fn arrived(&mut self) {
        self.waiting.clear();
    }

    pub fn anew(&mut self, found: &Found, kept: bool) -> Result<(), Fail> {
        self.waiting.clear();
        self.differing = 0;
        let event = if *found == Found::Cut { "cut" } else { "replaced" };
        let what = if kept {
            "the hold keeps its readings, new rows are added"
        } else {
            "judged anew from what it holds now"
        };
        self.say(&json!({"event": event, "what": what}), || format!("the file was {event}: {what}"))
    }

    /// The hold was signed before the file could go into the journal.
    pub fn not_kept(&self, file: &Path) -> Result<(), Fail> {
        let name = file.display().to_string();
        self.say(&json!({"event": "not_kept", "file": name}), || {
            format!(
                "{name}: the hold is signed, so the file as it is now does not go into the \
                 journal; keep it aside"
            )
        })
    }

    pub fn refused(&self, lines: &[String]) -> Result<(), Fail> {
        for line in lines {
            let json = json!({"event": "refused", "why": line});
            self.say(&json, || format!("not read: {line}"))?;
        }
        Ok(())
    }

    pub fn differing(&mut self, rows: usize) -> Result<(), Fail> {
        if rows <= self.differing {
            return Ok(());
        }
        self.differing = rows;
        self.say(&json!({"event": "differing", "rows": rows}), || {
            format!("{rows} rows differ from what is held of the same minute; the first one stays")
        })
    }

    pub fn reading(&mut self, v: &HoldView, new: usize) -> Result<(), Fail> {
        let j = &v.judgement;
        let last = v.points.last();
        let json = json!({
            "event": "reading",
            "minutes": last.map(|p| round_to(p.minutes, 3)),
            "pressure_um": last.map(|p| round_to(p.um, 3)),
            "new": new,
            "readings": v.points.len(),
            "verdict": j.verdict.as_str(),
            "probabilities": hold::probabilities(j),
            "watch": v.watch.as_str(),
            "watch_longer_min": hold::whole(j.watch_longer_min),
            "criterion_words": v.standing.words,
        });
        let changed = self.verdict.is_some_and(|was| was != j.verdict);
        let decided = v.watch == Watch::Decided && !self.decided;
        self.decided = v.watch == Watch::Decided;
        self.verdict = Some(j.verdict);
        self.say(&json, || {
            let (minutes, um) = last.map_or((0.0, 0.0), |p| (p.minutes, p.um));
            let mut t = format!("{minutes:6.1} min {um:7.0} µm  ");
            if changed {
                t += "now: ";
            }
            let _ = write!(t, "{} {}", verdict_words(j.verdict), probabilities_text(j));
            if j.watch_longer_min > 0.0 {
                let _ = write!(t, "; watch {} min longer", hold::whole(j.watch_longer_min));
            }
            if decided {
                let _ = write!(t, "\n           the readings have decided; {}", v.standing.words);
            }
            t
        })
    }

    /// The last word, and a bell on standard error.
    pub fn end(&self, end: End, v: &HoldView) -> Result<(), Fail> {
        let bell = std::io::stderr().write_all(b"\x07");
        drop(bell);
        let mut json = judgement_json(&v.judgement);
        if let Value::Object(map) = &mut json {
            map.insert("event".into(), json!("end"));
            map.insert("why".into(), json!(end.as_str()));
            map.insert("readings".into(), json!(v.points.len()));
            map.insert("criterion".into(), json!(v.criterion.id));
            map.insert("criterion_mark".into(), json!(v.criterion.mark()));
            map.insert("criterion_met".into(), json!(v.standing.met));
            map.insert("criterion_words".into(), json!(v.standing.words));
        }
        self.say(&json, || {
            format!(
                "\nEnd of the watch: {}.\nCriterion {} ({}): {}\n\n{}",
                end.words(),
                v.criterion.name,
                v.criterion.mark(),
                v.standing.words,
                judgement_text(&v.judgement).trim_end()
            )
        })
    }
}
