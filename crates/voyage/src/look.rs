//! Looking: watch list, one box, its past, the journal.

use std::collections::BTreeSet;

use assess::{Clock, Depth};
use journal::{OriginalRef, StoredRow};
use record::digest::Digest;
use record::treatment::TreatmentView;
use record::{Act, BoxFacts, BoxHistory, BoxView, Reading, Span, UnitId, WatchList};
use units::Utc;

use crate::bodies::{ACT, LOAD, LoadBody, TAKE, TakeBody};
use crate::treatments::in_order;
use crate::{Problem, Voyage};

/// Hours ahead that are looked at when the port of a box has no known arrival: three weeks, the
/// middle of the two to five weeks such voyages take (estimate of ours).
const HORIZON_UNKNOWN_H: f64 = 21.0 * 24.0;

/// A reading this much later than every other box's is taken for a clock that runs wrong.
const LONE_CLOCK_H: f64 = 36.0;

pub(crate) use record::round::ROUND_H;

/// For a box silent for longer than the trend window, this many of its last rows still tell what
/// it was doing.
const LAST_ROWS: usize = 48;

/// How the body of an entry begins that brings lines of a round.
const KEYED: &[u8] = br#"{"act":"round_keyed""#;

/// The instant a question is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AsOf {
    /// The latest reading held.
    Latest,
    /// This instant; later readings are not looked at.
    At(Utc),
}

/// A journal entry in words.
#[derive(Debug, Clone, PartialEq)]
pub struct EntryLine {
    /// Position, from 1.
    pub seq: i64,
    /// Kind.
    pub kind: String,
    /// When it was entered.
    pub at: Utc,
    /// Who entered it.
    pub who: String,
    /// What it brought, in words.
    pub title: String,
    /// The files it came from.
    pub originals: Vec<OriginalRef>,
    /// Its hash.
    pub hash: Digest,
}

impl Voyage {
    /// The instant that `as_of` means; `None` for a voyage in which nothing was read yet.
    ///
    /// # Errors
    /// What the journal says.
    pub fn instant(&self, as_of: AsOf) -> Result<Option<Utc>, Problem> {
        if let AsOf::At(t) = as_of {
            return Ok(Some(t));
        }
        let entry = self.journal.last_seq()?;
        if let Some((known_at, latest)) = self.latest.get()
            && known_at == entry
        {
            return Ok(latest);
        }
        let latest = self.latest_read()?;
        self.latest.set(Some((entry, latest)));
        Ok(latest)
    }

    /// The latest instant at which anything was read. One box whose recorder is days ahead must
    /// not make all others look unread: its lone future is left out.
    fn latest_read(&self) -> Result<Option<Utc>, Problem> {
        let mut latest: Vec<Utc> = Vec::new();
        for series in self.journal.series()? {
            latest.extend(self.journal.last_instant(&series)?);
        }
        latest.sort_unstable();
        let mut top_down = latest.iter().rev().copied();
        let (first, second) = (top_down.next(), top_down.next());
        match (first, second) {
            (Some(a), Some(b)) if latest.len() > 2 && a.hours_since(b) > LONE_CLOCK_H => {
                Ok(Some(b))
            }
            _ => Ok(first),
        }
    }

    /// What needs a person, most urgent first.
    ///
    /// # Errors
    /// What the journal says.
    pub fn watch(&self, as_of: AsOf) -> Result<WatchList, Problem> {
        Ok(self.survey(as_of)?.0)
    }

    /// The watch list and all treatments, each treatment worked out once for both.
    ///
    /// # Errors
    /// What the journal says.
    pub fn survey(&self, as_of: AsOf) -> Result<(WatchList, Vec<TreatmentView>), Problem> {
        let instant = self.instant(as_of)?;
        let at = instant.unwrap_or(Utc::from_ms(0));
        let mut lines = Vec::new();
        let mut treatments = Vec::new();
        let boxes = self.boxes(at)?;
        for unit in &boxes {
            let facts = self.recent_facts(unit, at)?;
            let line = assess::box_line(&facts, self.clock(&facts, at), &self.cargoes);
            lines.push(match self.treatment_of(&line, at, Depth::List)? {
                Some(view) => {
                    let line = assess::with_treatment(line, &view);
                    treatments.push(view);
                    line
                }
                None => line,
            });
        }
        // A treatment stays in sight when its box has left the watch list.
        for unit in self.acts.treatments.keys().filter(|u| !boxes.contains(*u)) {
            treatments.extend(self.treatment_at(unit, AsOf::At(at), Depth::List)?);
        }
        in_order(&mut treatments);
        Ok((WatchList { as_of: instant, boxes: assess::in_order(lines) }, treatments))
    }

    /// One box in full; `None` when it is neither listed nor read.
    ///
    /// # Errors
    /// What the journal says.
    pub fn box_view(&self, unit: &UnitId, as_of: AsOf) -> Result<Option<BoxView>, Problem> {
        Ok(self.one_box(unit, as_of)?.map(|b| b.view))
    }

    /// One box's past, ready to be drawn: the given span, or all there is.
    ///
    /// # Errors
    /// What the journal says.
    pub fn history(
        &self,
        unit: &UnitId,
        span: Option<Span>,
        as_of: AsOf,
    ) -> Result<Option<BoxHistory>, Problem> {
        Ok(self.one_box(unit, as_of)?.map(|b| b.history(span)))
    }

    /// Entries of the journal in words, newest first.
    ///
    /// # Errors
    /// What the journal says.
    pub fn entries(&self, limit: usize) -> Result<Vec<EntryLine>, Problem> {
        // A round that is keyed in makes many small entries; they are told by its end.
        let whole = usize::try_from(self.journal.last_seq()?).unwrap_or(usize::MAX);
        let mut asked = limit;
        let entries = loop {
            let mut entries = self.journal.newest_entries(asked)?;
            entries.retain(|e| !(e.kind == ACT && e.body.starts_with(KEYED)));
            if entries.len() >= limit || asked >= whole {
                entries.truncate(limit);
                break entries;
            }
            asked = asked.saturating_mul(2);
        };
        let line = |e: journal::Entry| EntryLine {
            title: title(&e.kind, &e.body),
            seq: e.seq,
            kind: e.kind,
            at: e.at,
            who: e.who,
            originals: e.originals,
            hash: e.sha256,
        };
        Ok(entries.into_iter().map(line).collect())
    }

    /// An original file byte for byte, with its name.
    ///
    /// # Errors
    /// What the journal says, a damaged file included.
    pub fn original(&self, sha: &Digest) -> Result<Option<(String, Vec<u8>)>, Problem> {
        Ok(self.journal.original(sha)?)
    }

    /// Whether a file with exactly these bytes is held.
    ///
    /// # Errors
    /// What the journal says.
    pub fn holds_file(&self, bytes: &[u8]) -> Result<bool, Problem> {
        Ok(self.journal.holds_original(&Digest::of(bytes))?)
    }

    /// Thermal boxes of the list in force, and every box that was read. A box that a list
    /// removed has left the ship, unless it is still being read.
    fn boxes(&self, at: Utc) -> Result<BTreeSet<UnitId>, Problem> {
        let mut out: BTreeSet<UnitId> = self
            .held
            .units
            .iter()
            .filter(|(_, held)| held.listed.thermal)
            .map(|(unit, _)| unit.clone())
            .collect();
        for series in self.journal.series()? {
            let Some(unit) = UnitId::from_text(&series) else { continue };
            let still_read = || -> Result<bool, Problem> {
                let last = self.journal.last_instant(&series)?;
                Ok(last.is_some_and(|t| at.hours_since(t) <= ROUND_H))
            };
            if !self.held.gone.contains(&unit) || still_read()? {
                out.insert(unit);
            }
        }
        Ok(out)
    }

    /// The voyage ends for a box at its port; where the arrival is unknown, weeks ahead.
    pub(crate) fn clock(&self, facts: &BoxFacts, as_of: Utc) -> Clock {
        let port = facts.listed.as_ref().and_then(|l| l.discharge_port.as_deref());
        let eta = port.and_then(|p| self.arrival(p));
        let horizon_h =
            eta.map(|eta| eta.hours_since(as_of)).filter(|h| *h > 0.0).unwrap_or(HORIZON_UNKNOWN_H);
        Clock { as_of, horizon_h }
    }

    pub(crate) fn facts(&self, unit: &UnitId, rows: &[StoredRow]) -> Result<BoxFacts, Problem> {
        let readings: Result<Vec<Reading>, Problem> =
            rows.iter().map(|row| decode(unit, row)).collect();
        Ok(BoxFacts {
            unit: unit.clone(),
            listed: self.held.units.get(unit).map(|h| h.listed.clone()),
            readings: readings?,
        })
    }

    /// What an assessment at `at` needs: the trend window, or the last rows of a silent box.
    pub(crate) fn recent_facts(&self, unit: &UnitId, at: Utc) -> Result<BoxFacts, Problem> {
        let from = at.plus_hours(-assess::trend_window_h());
        let mut rows = self.journal.rows(unit.as_str(), from, at)?;
        if rows.len() < 2 {
            rows = self.journal.last_rows(unit.as_str(), at, LAST_ROWS)?;
        }
        self.facts(unit, &rows)
    }

    /// Readings of a stretch of time.
    pub(crate) fn facts_between(
        &self,
        unit: &UnitId,
        from: Utc,
        to: Utc,
    ) -> Result<BoxFacts, Problem> {
        let rows = self.journal.rows(unit.as_str(), from, to)?;
        self.facts(unit, &rows)
    }
}

/// A stored row as a reading.
pub(crate) fn decode(unit: &UnitId, row: &StoredRow) -> Result<Reading, Problem> {
    Reading::from_canonical(unit.clone(), row.t, &row.bytes)
        .map_err(|e| Problem::Entry { seq: row.entry, why: e.to_string() })
}

/// An entry in words.
pub(crate) fn title(kind: &str, body: &[u8]) -> String {
    match kind {
        LOAD => serde_json::from_slice(body).map(|b: LoadBody| {
            let c = b.changes;
            format!(
                "list of {} containers: {} added, {} removed, {} moved, {} set points changed",
                b.units.len(),
                c.added,
                c.removed,
                c.moved,
                c.set_point_changed
            )
        }),
        TAKE => serde_json::from_slice(body).map(|b: TakeBody| {
            format!(
                "readings: {} rows stored, {} held already, {} refused, {} conflicts",
                b.stored,
                b.already_held,
                b.refused.len(),
                b.conflicts
            )
        }),
        ACT => serde_json::from_slice(body).map(|act: Act| act.title()),
        _ => Ok(kind.to_owned()),
    }
    .unwrap_or_else(|_| format!("{kind}: cannot be understood by this program"))
}
