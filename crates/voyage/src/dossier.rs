//! Everything recorded about a box, gathered for its dossier. What is the same for every box is
//! read once.

use std::collections::{BTreeMap, BTreeSet};

use journal::{Entry, ProofBook, StoredRow};
use record::calibration::{ChartLine, Use};
use record::digest::Digest;
use record::dossier::{
    Calibration, CellStay, Deed, Dossier, FiledReading, Gap, HoldSheet, LogLine, OriginalFile,
    SetPoint,
};
use record::{Act, BoxFacts, Channel, ListedUnit, Span, UnitId};
use units::Utc;
use vacuum::PA_PER_UM;

use crate::bodies::{ACT, LOAD, LoadBody, TAKE};
use crate::holds::{HoldView, judged, sign_of};
use crate::look::{ROUND_H, title};
use crate::{AsOf, Problem, Voyage};

/// What dossiers of one voyage have in common.
pub struct Gathering<'v> {
    voyage: &'v Voyage,
    entries: BTreeMap<i64, Filed>,
    lists: Vec<Listing>,
    proofs: ProofBook,
}

/// An entry as it is told.
struct Filed {
    entry: Entry,
    title: String,
    act: Option<Act>,
}

/// A list as it was loaded.
struct Listing {
    seq: i64,
    port: Option<String>,
    whole_ship: bool,
    units: BTreeMap<UnitId, ListedUnit>,
}

/// A repair is supposed to be done after so many hours.
const REPAIR_IN_H: f64 = 6.0;
/// Hours of readings drawn before a forecast at most.
const PAST_OF_FAN_H: f64 = 96.0;
/// Set points on a display that are told apart: changes of less than this are one.
const SAME_SET_K: f64 = 0.05;

impl Voyage {
    /// Reads what all dossiers have in common.
    ///
    /// # Errors
    /// What the journal says.
    pub fn gathering(&self) -> Result<Gathering<'_>, Problem> {
        let proofs = self.proof_book()?;
        let mut entries = BTreeMap::new();
        let mut lists = Vec::new();
        for mut entry in self.journal().entries(1)? {
            let bad = |e: serde_json::Error| Problem::Entry { seq: entry.seq, why: e.to_string() };
            let told = title(&entry.kind, &entry.body);
            let act = match entry.kind.as_str() {
                ACT => Some(serde_json::from_slice(&entry.body).map_err(bad)?),
                _ => None,
            };
            if entry.kind == LOAD {
                lists.push(listing(entry.seq, serde_json::from_slice(&entry.body).map_err(bad)?));
            }
            entry.body = Vec::new();
            entries.insert(entry.seq, Filed { entry, title: told, act });
        }
        Ok(Gathering { voyage: self, entries, lists, proofs })
    }

    /// Boxes that can have a dossier: thermal boxes listed now or before, and boxes that were
    /// read.
    ///
    /// # Errors
    /// What the journal says.
    pub fn dossier_units(&self) -> Result<Vec<UnitId>, Problem> {
        let listed = self.held().units.iter().filter(|(_, h)| h.listed.thermal);
        let mut out: BTreeSet<UnitId> = listed.map(|(unit, _)| unit.clone()).collect();
        out.extend(self.journal().series()?.iter().filter_map(|s| UnitId::from_text(s)));
        Ok(out.into_iter().collect())
    }
}

fn listing(seq: i64, body: LoadBody) -> Listing {
    let units = body.units.into_iter().filter_map(|mut u| {
        // The sender's text of every box would be held once for each list.
        u.text = String::new();
        Some((u.unit.clone()?, u))
    });
    Listing {
        seq,
        port: body.head.departure_port,
        whole_ship: body.scope == record::Scope::WholeShip,
        units: units.collect(),
    }
}

impl Gathering<'_> {
    /// Entries with their proofs to the root.
    #[must_use]
    pub fn proofs(&self) -> &ProofBook {
        &self.proofs
    }

    /// An original file's bytes.
    ///
    /// # Errors
    /// What the journal says, a damaged file included.
    pub fn original(&self, sha: &Digest) -> Result<Option<Vec<u8>>, Problem> {
        Ok(self.voyage.original(sha)?.map(|(_, bytes)| bytes))
    }

    /// One box's dossier; `None` when it is neither listed nor read.
    ///
    /// # Errors
    /// What the journal says.
    pub fn dossier(
        &self,
        unit: &UnitId,
        as_of: AsOf,
        made_at: Utc,
    ) -> Result<Option<Dossier>, Problem> {
        let v = self.voyage;
        let at = v.instant(as_of)?.unwrap_or(Utc::from_ms(0));
        let rows = v.journal().rows(unit.as_str(), Utc::from_ms(i64::MIN), at)?;
        let mut facts = v.facts(unit, &rows)?;
        if facts.listed.is_none() {
            facts.listed = self.lists.iter().rev().find_map(|l| l.units.get(unit)).cloned();
        }
        let seqs = self.entries_of(unit, &rows);
        if facts.listed.is_none() && facts.readings.is_empty() {
            return Ok(None);
        }
        let view = assess::box_view(&facts, v.clock(&facts, at), v.cargoes());
        let first = facts.readings.first().map_or(at, |r| r.at);
        let span = Span { from: first, to: facts.readings.last().map_or(first, |r| r.at) };
        let history = assess::history(&facts, &view.line, span, v.cargoes());
        let ahead = assess::fan(&facts, v.clock(&facts, at), v.cargoes(), REPAIR_IN_H);
        let ahead = ahead.map(|fan| {
            let span = Span { from: at.plus_hours(-PAST_OF_FAN_H), to: at };
            (fan, assess::history(&facts, &view.line, span, v.cargoes()))
        });
        let past = assess::past(&facts, &self.deeds(&seqs));
        let originals = self.originals(&seqs);
        let treatment = v.treatment(unit, AsOf::At(at))?;
        Ok(Some(Dossier {
            unit: unit.clone(),
            ship: v.held().head.ship.clone(),
            voyage: v.held().head.voyage.clone(),
            made_at,
            as_of: at,
            eta: view.line.discharge_port.as_deref().and_then(|p| v.arrival(p)),
            listed: facts.listed.clone(),
            ahead,
            line: view.line,
            cargo_facts: view.cargo_facts,
            cells: self.cells(unit),
            set_points: self.set_points(unit, &facts),
            gaps: gaps(&history.gaps, &facts, at),
            readings: self.filed(&facts, &rows, &originals),
            history,
            alarms: past.alarms,
            power_off: past.power_off,
            incidents: past.incidents,
            treatment,
            calibrations: self.calibrations(&seqs),
            checks: v.sensor_checks(Some(unit)),
            charts: self.charts(unit, made_at),
            instruments: self.uses(unit),
            gauges: v.acts().gauges.get(unit).cloned().unwrap_or_default(),
            holds: self.holds(unit),
            pressure_tests: v.pressure_tests_of(unit).cloned().collect(),
            works: v.works_of(unit).cloned().collect(),
            log: self.log(&seqs),
            originals,
            entries: self.proofs.size() as u64,
            root: self.proofs.root(),
        }))
    }

    /// Entries that are about the box: lists that name it, files that brought its rows, acts.
    fn entries_of(&self, unit: &UnitId, rows: &[StoredRow]) -> Vec<i64> {
        let mut out: BTreeSet<i64> = rows.iter().map(|r| r.entry).collect();
        let mut aboard = false;
        for list in &self.lists {
            let named = list.units.contains_key(unit);
            // The list that first leaves it out is about it too.
            if named || (aboard && list.whole_ship) {
                out.insert(list.seq);
            }
            aboard = named || (aboard && !list.whole_ship);
        }
        let holds: BTreeSet<&str> =
            self.voyage.holds_of(unit).map(|h| h.start.id.as_str()).collect();
        let named: BTreeSet<String> = self.uses(unit).into_iter().map(|u| u.id).collect();
        for (seq, filed) in &self.entries {
            let Some(act) = &filed.act else { continue };
            let of_hold = match act {
                Act::HoldRead { id, .. }
                | Act::HoldStruck { id, .. }
                | Act::HoldMeasured { id, .. } => holds.contains(id.as_str()),
                Act::HoldEnded(end) => holds.contains(end.id.as_str()),
                // Certificates of the instruments that its records name go with it.
                Act::Instrument(i) => i.instrument().is_some_and(|id| named.contains(id)),
                _ => false,
            };
            if of_hold || act.units().contains(unit) {
                out.insert(*seq);
            }
        }
        out.into_iter().collect()
    }

    fn uses(&self, unit: &UnitId) -> Vec<Use> {
        let mut all = self.voyage.instrument_uses();
        all.retain(|u| u.unit.as_ref() == Some(unit));
        all.sort_by_key(|u| u.at);
        all
    }

    fn charts(&self, unit: &UnitId, now: Utc) -> Vec<ChartLine> {
        let mut all = self.voyage.charts(now);
        all.retain(|l| l.file.on.unit == *unit);
        all.sort_by_key(|l| l.file.on.at);
        all
    }

    fn told(&self, seqs: &[i64]) -> impl Iterator<Item = &Filed> {
        seqs.iter().filter_map(|seq| self.entries.get(seq))
    }

    fn log(&self, seqs: &[i64]) -> Vec<LogLine> {
        let line = |f: &Filed| LogLine {
            seq: f.entry.seq,
            at: f.entry.at,
            who: f.entry.who.clone(),
            what: f.title.clone(),
            act: f.act.clone(),
            hash: f.entry.sha256,
        };
        self.told(seqs).map(line).collect()
    }

    /// What people did, by when it happened.
    fn deeds(&self, seqs: &[i64]) -> Vec<Deed> {
        let deed = |f: &Filed| {
            let act = f.act.as_ref()?;
            let at = happened_at(act).unwrap_or(f.entry.at);
            Some(Deed { at, who: f.entry.who.clone(), what: f.title.clone() })
        };
        self.told(seqs).filter_map(deed).collect()
    }

    fn originals(&self, seqs: &[i64]) -> Vec<OriginalFile> {
        let mut out: Vec<OriginalFile> = Vec::new();
        for f in self.told(seqs) {
            for o in &f.entry.originals {
                if out.iter().any(|known| known.sha256 == o.sha256) {
                    continue;
                }
                out.push(OriginalFile {
                    name: o.name.clone(),
                    sha256: o.sha256,
                    bytes: o.size,
                    entry: f.entry.seq,
                    at: f.entry.at,
                    who: f.entry.who.clone(),
                    whole_ship: f.entry.kind == LOAD || f.entry.kind == TAKE,
                });
            }
        }
        out
    }

    fn filed(
        &self,
        facts: &BoxFacts,
        rows: &[StoredRow],
        originals: &[OriginalFile],
    ) -> Vec<FiledReading> {
        let by_sha: BTreeMap<Digest, usize> =
            originals.iter().enumerate().map(|(i, o)| (o.sha256, i)).collect();
        let filed = |(reading, row): (&record::Reading, &StoredRow)| {
            let files = self.entries.get(&row.entry).map(|f| &f.entry.originals);
            let file = files.and_then(|f| f.get(usize::from(reading.origin.file)));
            FiledReading {
                reading: reading.clone(),
                entry: row.entry,
                file: file.and_then(|f| by_sha.get(&f.sha256)).copied(),
            }
        };
        facts.readings.iter().zip(rows).map(filed).collect()
    }

    fn cells(&self, unit: &UnitId) -> Vec<CellStay> {
        let mut out: Vec<CellStay> = Vec::new();
        for list in &self.lists {
            let listed = list.units.get(unit);
            let gone = listed.is_none() && list.whole_ship;
            if listed.is_none() && !(gone && out.last().is_some_and(|c| c.aboard)) {
                continue;
            }
            let Some(filed) = self.entries.get(&list.seq) else { continue };
            out.push(CellStay {
                at: filed.entry.at,
                who: filed.entry.who.clone(),
                file: file_names(&filed.entry),
                port: list.port.clone(),
                stow: listed.and_then(|l| l.stow.clone()),
                aboard: listed.is_some(),
                discharge_port: listed.and_then(|l| l.discharge_port.clone()),
            });
        }
        out
    }

    /// What lists ordered, where it changed, and what the display showed, where that changed.
    fn set_points(&self, unit: &UnitId, facts: &BoxFacts) -> Vec<SetPoint> {
        let mut out: Vec<SetPoint> = Vec::new();
        for list in &self.lists {
            let (Some(listed), Some(filed)) = (list.units.get(unit), self.entries.get(&list.seq))
            else {
                continue;
            };
            if out.last().is_some_and(|s| s.set_c == listed.set_point_c) {
                continue;
            }
            out.push(SetPoint {
                at: filed.entry.at,
                set_c: listed.set_point_c,
                as_sent: listed.set_point_as_sent.clone(),
                ordered: true,
                who: filed.entry.who.clone(),
                why: format!("list {}", file_names(&filed.entry)),
            });
        }
        let mut shown: Option<f64> = None;
        for r in &facts.readings {
            let Some(c) = r.get(Channel::SetPoint) else { continue };
            if shown.is_some_and(|s| (s - c).abs() < SAME_SET_K) {
                continue;
            }
            shown = Some(c);
            out.push(SetPoint {
                at: r.at,
                set_c: Some(c),
                as_sent: None,
                ordered: false,
                who: r.source.to_string(),
                why: r.remark.as_deref().unwrap_or("").to_owned(),
            });
        }
        out.sort_by_key(|s| s.at);
        out
    }

    fn calibrations(&self, seqs: &[i64]) -> Vec<Calibration> {
        let calibration = |f: &Filed| match &f.act {
            Some(Act::ProbesCalibrated { at, readings, remark, .. }) => Some(Calibration {
                at: *at,
                who: f.entry.who.clone(),
                readings: readings
                    .iter()
                    .map(|r| (r.probe, r.reading.clone(), if r.fahrenheit { "°F" } else { "°C" }))
                    .collect(),
                remark: remark.clone(),
            }),
            _ => None,
        };
        self.told(seqs).filter_map(calibration).collect()
    }

    fn holds(&self, unit: &UnitId) -> Vec<HoldSheet> {
        self.voyage.holds_of(unit).map(|h| sheet(judged(h.clone()))).collect()
    }
}

fn file_names(entry: &Entry) -> String {
    entry.originals.iter().map(|o| o.name.as_str()).collect::<Vec<_>>().join(", ")
}

/// When it happened, as the act itself says: every act that knows calls the field `at`.
fn happened_at(act: &Act) -> Option<Utc> {
    if let Some(at) = act.happened_at() {
        return Some(at);
    }
    let json = serde_json::to_value(act).ok()?;
    Utc::parse(json.get("at")?.as_str()?).ok()
}

fn sheet(v: HoldView) -> HoldSheet {
    let mut levels = vec![(v.criterion.start_um, format!("{:.0} µm asked", v.criterion.start_um))];
    levels.extend(v.criterion.below_um.map(|b| (b, format!("{b:.0} µm limit"))));
    if let (Some(p), Some(c)) = (v.judgement.p_sat_pa, v.file.coldest_c) {
        let what = if c < 0.0 { "ice" } else { "water" };
        levels.push((p / PA_PER_UM, format!("{what} at {c:.0} °C")));
    }
    HoldSheet {
        points: v.points.iter().map(|p| (p.minutes, p.um)).collect(),
        step_um: v.step_um,
        unit_sign: sign_of(&v.file.start.pressure_unit),
        criterion: format!("{} ({})", v.criterion.name, v.criterion.mark()),
        standing: v.standing.words.clone(),
        curves: v.curves(v.points.last().map_or(0.0, |p| p.minutes)),
        levels,
        criterion_min: v.standing.minutes,
        file: v.file,
    }
}

/// Gaps of the record, and the silence to its end where that is long.
fn gaps(spans: &[Span], facts: &BoxFacts, at: Utc) -> Vec<Gap> {
    let mut out: Vec<Gap> = Vec::new();
    let mut push = |from: Utc, to: Utc, remark: Option<String>| {
        out.push(Gap { from, to, long: to.hours_since(from) > ROUND_H, remark });
    };
    for s in spans {
        let after = facts.readings.iter().find(|r| r.at >= s.to);
        push(s.from, s.to, after.and_then(|r| r.remark.as_deref()).map(str::to_owned));
    }
    if let Some(last) = facts.readings.last().filter(|r| at.hours_since(r.at) > ROUND_H) {
        push(last.at, at, None);
    }
    out
}
