//! The list for a port: what has to be shown there and what of it the voyage holds.

mod musts;

use std::collections::BTreeSet;

use record::calibration::{CheckLine, Due, InstrumentLine, Use};
use record::handover::{Handover, Part};
use record::treatment::TreatmentView;
use record::{BoxLine, NoteKind, State, UnitId};
use units::Utc;

use crate::{AsOf, Problem, Voyage};

/// Digits of a hash that a list shows; the paper beside it has them all.
const SHORT: usize = 16;

/// What every part is made from.
struct Port<'v> {
    voyage: &'v Voyage,
    units: BTreeSet<UnitId>,
    boxes: Vec<BoxLine>,
    treatments: Vec<TreatmentView>,
    uses: Vec<Use>,
    /// Certificates are judged as of the arrival, where it is known and still to come.
    arrival: Utc,
    now: Utc,
}

impl Voyage {
    /// Ports a list can be made for.
    #[must_use]
    pub fn handover_ports(&self) -> Vec<(String, Option<Utc>)> {
        self.ports()
    }

    /// The list of one port; `None` when no container is for it.
    ///
    /// # Errors
    /// What the journal says.
    pub fn handover(&self, port: &str, as_of: AsOf, now: Utc) -> Result<Option<Handover>, Problem> {
        let of_port = |p: Option<&str>| p.is_some_and(|p| p.eq_ignore_ascii_case(port.trim()));
        let listed = self.held().units.iter();
        let units: BTreeSet<UnitId> = listed
            .filter(|(_, h)| of_port(h.listed.discharge_port.as_deref()))
            .map(|(unit, _)| unit.clone())
            .collect();
        if units.is_empty() {
            return Ok(None);
        }
        let (list, treatments) = self.survey(as_of)?;
        let port = port.trim().to_uppercase();
        let eta = self.arrival(&port);
        let mut uses = self.instrument_uses();
        uses.sort_by_key(|u| u.at);
        let p = Port {
            voyage: self,
            boxes: list.boxes.into_iter().filter(|b| units.contains(&b.unit)).collect(),
            treatments: treatments.into_iter().filter(|t| units.contains(&t.unit)).collect(),
            uses,
            units,
            arrival: eta.filter(|t| t.ms() > now.ms()).unwrap_or(now),
            now,
        };
        let instruments = self.instruments(p.arrival);
        let proofs = self.proof_book()?;
        Ok(Some(Handover {
            ship_line: self.ship_line(),
            eta,
            as_of: list.as_of,
            made_at: now,
            boxes: p.boxes.len(),
            open: p.open(&instruments),
            parts: vec![
                p.box_part(),
                p.treatment_part(),
                p.check_part(),
                p.chart_part(),
                p.service_part(),
                certificates(&instruments),
                p.dossier_part()?,
            ],
            entries: proofs.size() as u64,
            root: proofs.root(),
            port,
        }))
    }
}

impl Port<'_> {
    /// What has to be settled before or at the port, most urgent first.
    fn open(&self, instruments: &[InstrumentLine]) -> Vec<String> {
        let mut out = Vec::new();
        let bad = |s: State| matches!(s, State::Urgent | State::Act);
        for b in self.boxes.iter().filter(|b| bad(b.state)) {
            out.push(format!("{}: {}", b.unit, b.reason));
        }
        for t in &self.treatments {
            if t.released_at.is_none() {
                out.push(format!(
                    "{}: cold treatment not released ({}). Keep it sealed, on power and cold.",
                    t.unit,
                    t.standing.words()
                ));
            }
            if self.slurry_of(&t.unit).is_none() {
                out.push(format!("{}: no probe calibration record is entered.", t.unit));
            }
        }
        for line in self.voyage.charts(self.now) {
            let f = &line.file;
            if !self.units.contains(&f.on.unit) {
                continue;
            }
            let on = f.on.at.to_minute();
            match (&f.off, f.kept.is_empty(), f.scans.is_empty()) {
                (None, ..) => out.push(format!(
                    "{}: the chart of {on} UTC is still on, due off {} UTC.",
                    f.on.unit,
                    f.on.due.to_minute()
                )),
                (Some(_), true, _) => out.push(format!(
                    "{}: nobody wrote down where the original of the chart of {on} UTC is kept.",
                    f.on.unit
                )),
                (Some(_), false, true) => out
                    .push(format!("{}: no scan of the chart of {on} UTC is attached.", f.on.unit)),
                _ => {}
            }
        }
        for u in &self.voyage.acts().plans.under_way {
            if self.units.contains(&u.unit) {
                out.push(format!("{}: repair under way, {}.", u.unit, u.person));
            }
        }
        for u in self.uses.iter().filter(|u| u.on_day.is_wrong()) {
            if let Some(unit) = u.unit.as_ref().filter(|unit| self.units.contains(unit)) {
                let on = u.at.to_minute();
                out.push(format!(
                    "{unit}: {} of {on} UTC names {}, {}.",
                    u.record,
                    u.id,
                    u.on_day.words()
                ));
            }
        }
        for l in instruments.iter().filter(|l| l.withdrawn.is_none()) {
            if matches!(l.due, Due::Overdue { .. }) {
                out.push(format!(
                    "Instrument {} at arrival: certificate {}.",
                    l.instrument.id,
                    l.due.words()
                ));
            }
        }
        out
    }

    fn slurry_of(&self, unit: &UnitId) -> Option<&record::SlurryEntry> {
        self.voyage.acts().slurry.iter().rev().find(|s| s.unit == *unit)
    }

    fn box_part(&self) -> Part {
        let row = |b: &BoxLine| {
            vec![
                b.unit.to_string(),
                b.stow.clone().unwrap_or_default(),
                b.cargo.clone().unwrap_or_default(),
                b.state.as_str().to_owned(),
                temp(b.set_point_c),
                temp(b.supply_c),
                temp(b.return_c),
                minute(b.last_read_at),
                self.matters(b),
            ]
        };
        Part {
            key: "boxes",
            title: "Containers to discharge",
            musts: musts::BOXES,
            columns: musts::BOX_COLUMNS,
            rows: self.boxes.iter().map(row).collect(),
            empty: "No refrigerated container is listed for this port.",
        }
    }

    /// Findings, a repair, and what was noticed and not yet written down as restored.
    fn matters(&self, b: &BoxLine) -> String {
        let mut out: Vec<String> = b.findings.iter().map(|f| f.what.clone()).collect();
        let acts = self.voyage.acts();
        out.extend(
            acts.plans
                .under_way
                .iter()
                .filter(|u| u.unit == b.unit)
                .map(|u| format!("repair under way, {}", u.person)),
        );
        let mine = || acts.notes.iter().filter(|n| n.note.unit.as_ref() == Some(&b.unit));
        let restored = mine().filter(|n| n.note.kind == NoteKind::Restored);
        let restored = restored.map(|n| n.note.at).max();
        let noticed = mine().filter(|n| n.note.kind == NoteKind::Noticed);
        out.extend(
            noticed
                .filter(|n| restored.is_none_or(|r| n.note.at > r))
                .map(|n| format!("noticed {} UTC: {}", n.note.at.to_minute(), n.note.text)),
        );
        let plain: Vec<&str> = out.iter().map(|t| t.trim_end_matches('.')).collect();
        plain.join("; ")
    }

    fn treatment_part(&self) -> Part {
        let row = |t: &TreatmentView| {
            let slurry = self.slurry_of(&t.unit);
            let record = slurry.map(|s| format!("{} by {}", minute(Some(s.at)), s.who));
            vec![
                t.unit.to_string(),
                t.schedule_id.clone(),
                t.standing.words().to_owned(),
                format!("{:.0}", t.elapsed_h),
                format!("{:.0}", t.required_h),
                minute(t.time_met_at),
                record.unwrap_or_default(),
                minute(t.released_at),
            ]
        };
        Part {
            key: "treatments",
            title: "Cold treatments and their papers",
            musts: musts::TREATMENTS,
            columns: musts::TREATMENT_COLUMNS,
            rows: self.treatments.iter().map(row).collect(),
            empty: "No cold treatment is ordered for a container of this port.",
        }
    }

    fn check_part(&self) -> Part {
        let row = |c: CheckLine| {
            let k = |v: f64| format!("{v:+.2}");
            let ice = c.ice.as_ref().ok();
            let p90 = ice.and_then(|i| i.correction_p90);
            vec![
                c.label,
                minute(Some(c.at)),
                format!("{} {}", c.readings.join(" "), c.sign),
                ice.map(|i| k(i.correction_k)).unwrap_or_default(),
                p90.map(|[l, h]| format!("{} to {}", k(l), k(h))).unwrap_or_default(),
                c.drift.as_ref().map(|d| k(d.drift_k)).unwrap_or_default(),
                c.drift.map(|d| d.since.to_day()).unwrap_or_default(),
                c.who,
            ]
        };
        let all = self.voyage.sensor_checks(None).into_iter();
        let mine = all.filter(|c| c.unit.as_ref().is_some_and(|u| self.units.contains(u)));
        Part {
            key: "calibrations",
            title: "Probe and sensor calibrations",
            musts: musts::CHECKS,
            columns: musts::CHECK_COLUMNS,
            rows: mine.map(row).collect(),
            empty: "No sensor or probe of these containers was read in ice.",
        }
    }

    fn chart_part(&self) -> Part {
        let all = self.voyage.charts(self.now).into_iter().map(|l| l.file);
        let row = |f: record::ChartFile| {
            vec![
                f.on.unit.to_string(),
                f.on.chart,
                minute(Some(f.on.at)),
                minute(Some(f.on.due)),
                minute(f.off.map(|o| o.0)),
                f.kept,
                hashes(&f.scans),
            ]
        };
        Part {
            key: "charts",
            title: "Recorder charts and where the originals are",
            musts: musts::CHARTS,
            columns: musts::CHART_COLUMNS,
            rows: all.filter(|f| self.units.contains(&f.on.unit)).map(row).collect(),
            empty: "No chart of these containers is entered.",
        }
    }

    fn service_part(&self) -> Part {
        let mut rows: Vec<(Utc, Vec<String>)> = Vec::new();
        let acts = self.voyage.acts();
        let mut push = |unit: &UnitId, at: Utc, what: String, who: &str| {
            let used: Vec<String> = self
                .uses
                .iter()
                .filter(|u| u.unit.as_ref() == Some(unit) && u.at == at)
                .map(|u| format!("{}, {}", u.id, u.on_day.words()))
                .collect();
            let row = [unit.to_string(), minute(Some(at)), what, who.to_owned(), used.join("; ")];
            rows.push((at, row.to_vec()));
        };
        for unit in &self.units {
            for g in acts.gauges.get(unit).into_iter().flatten() {
                push(unit, g.read.at, format!("gauge sheet: {}", g.read.told_line()), &g.who);
            }
            for h in acts.holds.iter().filter(|h| h.start.unit.as_ref() == Some(unit)) {
                let end = h.end.as_ref().map_or("not ended", |(e, _)| e.words.as_str());
                push(unit, h.start.at, format!("vacuum hold {}: {end}", h.start.id), &h.who);
            }
            for r in acts.plans.over.iter().filter(|r| r.unit == *unit) {
                push(unit, r.at, format!("repair {}", r.outcome.words()), "");
            }
            let mine = |n: &&record::NoteEntry| {
                n.note.unit.as_ref() == Some(unit) && n.note.kind == NoteKind::Done
            };
            for n in acts.notes.iter().filter(mine) {
                push(unit, n.note.at, format!("done: {}", n.note.text), &n.who);
            }
        }
        rows.sort_by(|a, b| a.1.first().cmp(&b.1.first()).then(a.0.cmp(&b.0)));
        Part {
            key: "service",
            title: "Service and refrigerant",
            musts: musts::SERVICE,
            columns: musts::SERVICE_COLUMNS,
            rows: rows.into_iter().map(|(_, row)| row).collect(),
            empty: "No gauge sheet, hold or repair of these containers is entered. Gas added and \
                    recovered stands in the refrigerant account, which this list does not repeat.",
        }
    }

    fn dossier_part(&self) -> Result<Part, Problem> {
        let mut rows = Vec::new();
        for b in &self.boxes {
            let instants = self.voyage.journal().instants(b.unit.as_str())?;
            let notes = self.voyage.acts().notes.iter();
            let notes = notes.filter(|n| n.note.unit.as_ref() == Some(&b.unit)).count();
            rows.push(vec![
                b.unit.to_string(),
                instants.len().to_string(),
                minute(instants.first().copied()),
                minute(instants.last().copied()),
                notes.to_string(),
                format!("holdfast dossier {} --out DIR", b.unit),
            ]);
        }
        Ok(Part {
            key: "dossiers",
            title: "Dossiers",
            musts: musts::DOSSIERS,
            columns: musts::DOSSIER_COLUMNS,
            rows,
            empty: "No refrigerated container is listed for this port.",
        })
    }
}

fn certificates(instruments: &[InstrumentLine]) -> Part {
    let row = |l: &InstrumentLine| {
        let i = &l.instrument;
        vec![
            i.id.clone(),
            i.kind.words().to_owned(),
            i.serial.clone(),
            i.certificate.clone(),
            i.issuer.clone(),
            i.dated.clone().unwrap_or_default(),
            l.due.words(),
            hashes(&l.scans),
        ]
    };
    let used = instruments.iter().filter(|l| l.withdrawn.is_none());
    Part {
        key: "instruments",
        title: "Certificates of instruments",
        musts: musts::INSTRUMENTS,
        columns: musts::INSTRUMENT_COLUMNS,
        rows: used.map(row).collect(),
        empty: "No instrument is entered in the register.",
    }
}

fn hashes(scans: &[record::Scan]) -> String {
    let short = |s: &record::Scan| s.sha256.chars().take(SHORT).collect::<String>() + "…";
    scans.iter().map(short).collect::<Vec<_>>().join(" ")
}

fn minute(at: Option<Utc>) -> String {
    at.map(Utc::to_minute).unwrap_or_default()
}

fn temp(v: Option<f64>) -> String {
    v.map(|v| format!("{v:.1}")).unwrap_or_default()
}
