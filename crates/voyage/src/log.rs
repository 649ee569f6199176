//! The log of the watch: who did what and when, in plain words, and the rounds nobody walked.

use std::collections::BTreeSet;

use record::digest::Digest;
use record::note::late_h;
use record::{Act, MissedEntry, UnitId};
use units::Utc;

use crate::bodies::{ACT, LOAD, TAKE};
use crate::look::{ROUND_H, title};
use crate::{Problem, Voyage};

/// Gaps of several boxes that begin and end within this many hours are one missed round.
const SAME_GAP_H: f64 = 3.0;

/// What of the log is asked for.
#[derive(Debug, Clone, Default)]
pub struct LogAsked {
    /// About one box only.
    pub unit: Option<UnitId>,
    /// From this instant.
    pub from: Option<Utc>,
    /// To this instant.
    pub to: Option<Utc>,
    /// Lines that hold all of these words, whatever their case.
    pub search: String,
}

/// One line of the log.
#[derive(Debug, Clone, PartialEq)]
pub struct LogLine {
    /// Its entry; `None` for a gap that nobody entered.
    pub seq: Option<i64>,
    /// `load`, `take`, the name of an act, or `gap`.
    pub kind: String,
    /// When it happened, as far as that is told; else when it was entered.
    pub at: Utc,
    /// When it was entered.
    pub entered_at: Option<Utc>,
    /// Entered so many hours after it happened.
    pub late_h: Option<f64>,
    /// Who entered it; empty for a gap.
    pub who: String,
    /// What, in words.
    pub words: String,
    /// The files that came with it, and their hashes.
    pub files: Vec<(String, Digest)>,
    /// Its hash.
    pub sha256: Option<Digest>,
}

impl Voyage {
    /// The log, oldest first.
    ///
    /// # Errors
    /// What the journal says.
    pub fn log(&self, asked: &LogAsked) -> Result<Vec<LogLine>, Problem> {
        let read_by: Option<BTreeSet<i64>> = match &asked.unit {
            Some(unit) => {
                Some(self.journal().entries_of_series(unit.as_str())?.into_iter().collect())
            }
            None => None,
        };
        let mut out = Vec::new();
        for e in self.journal().entries(1)? {
            let act: Option<Act> =
                (e.kind == ACT).then(|| serde_json::from_slice(&e.body).ok()).flatten();
            // A round is told when it begins and when it is handed in, not line by line.
            if matches!(act, Some(Act::RoundKeyed(_))) {
                continue;
            }
            if let Some(unit) = &asked.unit {
                let about = match (&act, e.kind.as_str()) {
                    (Some(act), _) => self.is_about(act, unit),
                    (None, TAKE) => read_by.as_ref().is_some_and(|r| r.contains(&e.seq)),
                    (None, LOAD) => holds(&e.body, unit.as_str().as_bytes()),
                    _ => false,
                };
                if !about {
                    continue;
                }
            }
            let happened = act.as_ref().and_then(Act::happened_at);
            let words = match &act {
                Some(act) => told(act),
                None => title(&e.kind, &e.body),
            };
            out.push(LogLine {
                seq: Some(e.seq),
                kind: act.as_ref().map_or(e.kind, |a| name_of(a).to_owned()),
                at: happened.unwrap_or(e.at),
                entered_at: Some(e.at),
                late_h: happened.and_then(|h| late_h(h, e.at)),
                who: e.who,
                words,
                files: e.originals.into_iter().map(|o| (o.name, o.sha256)).collect(),
                sha256: Some(e.sha256),
            });
        }
        out.extend(self.gaps(asked.unit.as_ref())?);
        out.retain(|l| wanted(l, asked));
        out.sort_by_key(|l| (l.at, l.seq));
        Ok(out)
    }

    /// An act about a box; what follows a hold's beginning names the hold, not the box.
    fn is_about(&self, act: &Act, unit: &UnitId) -> bool {
        let id = match act {
            Act::HoldRead { id, .. }
            | Act::HoldStruck { id, .. }
            | Act::HoldMeasured { id, .. } => id,
            Act::HoldEnded(end) => &end.id,
            _ => return act.units().contains(unit),
        };
        self.holds_of(unit).any(|h| h.start.id == *id)
    }

    /// Rounds that left no reading: more than 12 h between two readings of a box, or since its
    /// last one while it is still aboard.
    fn gaps(&self, only: Option<&UnitId>) -> Result<Vec<LogLine>, Problem> {
        let Some(latest) = self.instant(crate::AsOf::Latest)? else { return Ok(Vec::new()) };
        let mut found: Vec<(Utc, Utc, UnitId)> = Vec::new();
        for series in self.journal().series()? {
            let Some(unit) = UnitId::from_text(&series) else { continue };
            if only.is_some_and(|u| *u != unit) {
                continue;
            }
            let mut instants = self.journal().instants(&series)?;
            if !self.held().gone.contains(&unit) {
                instants.push(latest);
            }
            for pair in instants.windows(2) {
                if let [a, b] = pair
                    && b.hours_since(*a) > ROUND_H
                {
                    found.push((*a, *b, unit.clone()));
                }
            }
        }
        found.sort();
        Ok(merged(found).iter().map(|g| gap_line(g, &self.acts().missed)).collect())
    }
}

/// One missed round: the boxes nobody read, between the last reading before and the first after.
struct Gap {
    from: Utc,
    to: Utc,
    units: Vec<UnitId>,
}

fn merged(found: Vec<(Utc, Utc, UnitId)>) -> Vec<Gap> {
    let mut out: Vec<Gap> = Vec::new();
    for (from, to, unit) in found {
        let same = out.iter_mut().rev().find(|g| {
            from.hours_since(g.from) <= SAME_GAP_H && to.hours_since(g.to).abs() <= SAME_GAP_H
        });
        match same {
            Some(gap) => gap.units.push(unit),
            None => out.push(Gap { from, to, units: vec![unit] }),
        }
    }
    out
}

fn gap_line(gap: &Gap, missed: &[MissedEntry]) -> LogLine {
    let boxes = match gap.units.as_slice() {
        [one] => one.to_string(),
        [first, ..] => format!("{} boxes, {first} among them", gap.units.len()),
        [] => "no box".to_owned(),
    };
    let why: Vec<String> = missed
        .iter()
        .filter(|m| m.missed.from <= gap.to && m.missed.to >= gap.from)
        .map(|m| format!("{} (entered by {})", m.missed.words(), m.who))
        .collect();
    let why = if why.is_empty() { "no reason written down".to_owned() } else { why.join("; ") };
    LogLine {
        seq: None,
        kind: "gap".to_owned(),
        at: gap.from,
        entered_at: None,
        late_h: None,
        who: String::new(),
        words: format!(
            "nothing read of {boxes} from {} to {} UTC, {:.0} h: {why}",
            gap.from.to_minute(),
            gap.to.to_minute(),
            gap.to.hours_since(gap.from)
        ),
        files: Vec::new(),
        sha256: None,
    }
}

fn wanted(l: &LogLine, asked: &LogAsked) -> bool {
    let text = format!("{} {} {}", l.kind, l.who, l.words).to_lowercase();
    let names = l.files.iter().map(|(name, _)| name.to_lowercase());
    let all = names.fold(text, |all, name| format!("{all} {name}"));
    asked.from.is_none_or(|t| l.at >= t)
        && asked.to.is_none_or(|t| l.at <= t)
        && asked.search.to_lowercase().split_whitespace().all(|word| all.contains(word))
}

fn holds(body: &[u8], what: &[u8]) -> bool {
    body.windows(what.len().max(1)).any(|w| w == what)
}

/// The act's title and what its form leaves room for beside it.
fn told(act: &Act) -> String {
    let mut s = act.title();
    let beside = match act {
        Act::ProbesCalibrated { readings, remark, .. } => {
            let read: Vec<String> = readings
                .iter()
                .map(|r| {
                    let degree = if r.fahrenheit { "°F" } else { "°C" };
                    format!("probe {} {} {degree}", r.probe, r.reading)
                })
                .collect();
            format!("{}; {remark}", read.join(", "))
        }
        Act::PrecoolSampled { remark, .. } => remark.clone(),
        Act::OfficialDecided { document, from_at, to_at, .. } => format!(
            "breach of {} to {} UTC, document {document}",
            from_at.to_minute(),
            to_at.to_minute()
        ),
        Act::TreatmentReleased { document, .. } => format!("document {document}"),
        _ => String::new(),
    };
    let beside = beside.trim_matches([' ', ';']);
    if !beside.is_empty() {
        s += &format!(" ({beside})");
    }
    s
}

fn name_of(act: &Act) -> &'static str {
    match act {
        Act::TreatmentAssigned { .. }
        | Act::TreatmentWithdrawn { .. }
        | Act::ProbesCalibrated { .. }
        | Act::PrecoolSampled { .. }
        | Act::OfficialDecided { .. }
        | Act::TreatmentReleased { .. } => "treatment",
        Act::ArrivalExpected { .. } => "arrival",
        Act::HoldBegun(_)
        | Act::HoldRead { .. }
        | Act::HoldStruck { .. }
        | Act::HoldMeasured { .. }
        | Act::HoldEnded(_) => "vacuum",
        Act::PressureTested(_) => "pressure test",
        Act::GaugesRead(_) => "gauges",
        Act::Noted(n) => n.kind.as_str(),
        Act::RoundMissed(_) => "no round",
        Act::RoundBegun(_) | Act::RoundKeyed(_) | Act::RoundClosed(_) => "round",
        Act::MessageSent(_) => "message",
        Act::KeyAnnounced { .. } => "key",
        Act::Instrument(_) => "instrument",
        Act::Chart(_) => "chart",
        Act::Service(_) => "service",
        Act::Plan(plan) => match **plan {
            record::PlanAct::RepairBegun { .. } | record::PlanAct::RepairEnded { .. } => "repair",
            record::PlanAct::Plant { .. } => "plant",
            record::PlanAct::Weather { .. } => "weather",
            record::PlanAct::Crew { .. } => "crew",
        },
        Act::Gas(_) => "refrigerant",
        Act::Spares(_) => "spares",
    }
}
