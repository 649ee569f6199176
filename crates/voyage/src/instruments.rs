//! The register of instruments, checks in ice, and recorder charts: what is entered, and what may
//! not be.

use std::collections::BTreeMap;

use assess::calibration::{certificate_due, certificate_on, drift, due, due_at_instant, ice_point};
use record::calibration::{ChartLine, CheckLine, Due, IcePoint, InstrumentLine, Use};
use record::digest::Digest;
use record::instrument::{day, id_from_text};
use record::{
    ChartAct, ChartFile, CheckEntry, Checked, Instrument, InstrumentAct, InstrumentFile, Scan,
    SlurryEntry, UnitId,
};
use units::Utc;

use crate::{NamedBytes, Problem, Voyage};

/// A change of chart is "soon" within this many hours: the next round but one.
const CHART_SOON_H: f64 = 24.0;
/// Records of pulp probes are to one decimal (import conditions of treatments ask for it); a file
/// keeps "0.0" as "0".
const PROBE_DECIMALS: usize = 1;
/// Readings of one check that are kept.
const READINGS_MOST: usize = 200;

/// The documents of an entry as an act names them.
#[must_use]
pub fn scans(documents: &[NamedBytes]) -> Vec<Scan> {
    let scan = |d: &NamedBytes| Scan {
        name: d.name.rsplit(['/', '\\']).next().unwrap_or(&d.name).to_owned(),
        sha256: Digest::of(&d.bytes).to_string(),
    };
    documents.iter().map(scan).collect()
}

/// What readings in ice say, without entering them.
///
/// # Errors
/// In words.
pub fn try_ice(readings: &[String], fahrenheit: bool) -> Result<IcePoint, String> {
    ice_point(readings, fahrenheit, 0)
}

impl Voyage {
    /// Every instrument, those due first first, withdrawn ones last.
    #[must_use]
    pub fn instruments(&self, now: Utc) -> Vec<InstrumentLine> {
        let uses = self.instrument_uses();
        let of = |(id, file): (&String, &InstrumentFile)| {
            let mut uses: Vec<Use> = uses.iter().filter(|u| u.id == *id).cloned().collect();
            uses.sort_by_key(|u| std::cmp::Reverse(u.at));
            line(file, uses, now)
        };
        let mut out: Vec<InstrumentLine> =
            self.acts().register.instruments.iter().filter_map(of).collect();
        let none = Utc::from_ms(i64::MAX);
        out.sort_by_key(|l| (l.withdrawn.is_some(), l.next().at().unwrap_or(none)));
        out
    }

    /// Checks of containers' sensors and pulp probes, by container, sensor and time.
    #[must_use]
    pub fn sensor_checks(&self, of: Option<&UnitId>) -> Vec<CheckLine> {
        let acts = self.acts();
        let mut by_sensor: BTreeMap<(UnitId, String), Vec<CheckLine>> = BTreeMap::new();
        for entry in &acts.register.sensors {
            let Checked::Sensor { unit, .. } = &entry.check.of else { continue };
            let line = check_line(entry);
            by_sensor.entry((unit.clone(), line.label.clone())).or_default().push(line);
        }
        for session in &acts.slurry {
            for line in probe_lines(session) {
                let key = (session.unit.clone(), line.label.clone());
                by_sensor.entry(key).or_default().push(line);
            }
        }
        by_sensor.retain(|(unit, _), _| of.is_none_or(|o| o == unit));
        by_sensor.into_values().flat_map(with_drift).collect()
    }

    /// Every chart: those still on by their change, then those taken off, newest first.
    #[must_use]
    pub fn charts(&self, now: Utc) -> Vec<ChartLine> {
        let of = |file: &ChartFile| ChartLine {
            due: match file.off {
                None => due_at_instant(file.on.due, now, CHART_SOON_H),
                Some(_) => Due::NotStated,
            },
            late_h: file
                .off
                .as_ref()
                .map(|(off, _)| off.hours_since(file.on.due))
                .filter(|h| *h > 0.0),
            file: file.clone(),
        };
        let mut out: Vec<ChartLine> = self.acts().charts.iter().map(of).collect();
        out.sort_by_key(|l| match &l.file.off {
            None => (0, l.file.on.due.ms()),
            Some((off, _)) => (1, off.ms().saturating_neg()),
        });
        out
    }

    /// Every record in which a person named an instrument of the register, with its certificate
    /// as it stood that day.
    #[must_use]
    pub fn instrument_uses(&self) -> Vec<Use> {
        let acts = self.acts();
        let mut out = Vec::new();
        for h in &acts.holds {
            let record = format!("vacuum hold {}", h.start.id);
            self.uses_in(&h.start.gauge, h.start.at, h.start.unit.as_ref(), &record, &mut out);
        }
        for (unit, entries) in &acts.gauges {
            for e in entries {
                let written = e.read.as_written.values().map(String::as_str);
                let text = written.chain([e.read.note.as_str()]).collect::<Vec<_>>().join(" | ");
                self.uses_in(&text, e.read.at, Some(unit), "gauge sheet", &mut out);
            }
        }
        for p in &acts.pressure_tests {
            let t = &p.test;
            self.uses_in(&t.gauge, t.at, t.unit.as_ref(), t.kind.words(), &mut out);
        }
        for s in &acts.slurry {
            self.uses_in(&s.remark, s.at, Some(&s.unit), "probes in ice slurry", &mut out);
        }
        let own = acts.register.instruments.values().flat_map(|f| &f.checks);
        for c in own.chain(&acts.register.sensors) {
            let unit = match &c.check.of {
                Checked::Sensor { unit, .. } => Some(unit),
                Checked::Instrument(_) => None,
            };
            let what = match &c.check.of {
                Checked::Sensor { sensor, .. } => format!("{} air sensor", sensor.as_str()),
                Checked::Instrument(id) => id.clone(),
            };
            let record = format!("ice-point check of {what}");
            self.uses_in(&c.check.against, c.check.at, unit, &record, &mut out);
        }
        out
    }

    fn uses_in(
        &self,
        text: &str,
        at: Utc,
        unit: Option<&UnitId>,
        record: &str,
        out: &mut Vec<Use>,
    ) {
        let register = &self.acts().register;
        for id in register.named_in(text) {
            let Some(file) = register.instruments.get(id) else { continue };
            let (on_day, held) = certificate_on(file, at);
            out.push(Use {
                id: id.to_owned(),
                line: held.map(Instrument::line).unwrap_or_default(),
                at,
                unit: unit.cloned(),
                record: record.to_owned(),
                on_day,
            });
        }
    }

    pub(crate) fn refuse_senseless_instrument(&self, act: &InstrumentAct) -> Result<(), Problem> {
        let known = |id: &str| self.acts().register.instruments.get(id);
        let why = match act {
            InstrumentAct::Entered(i) if known(&i.id).is_some() => Some(format!(
                "instrument {} is in the register already; change it, or choose another id (an id \
                 is never used twice)",
                i.id
            )),
            InstrumentAct::Entered(i) => misstated(i),
            InstrumentAct::Changed(i) => not_in_use(&i.id, known(&i.id)).or_else(|| misstated(i)),
            InstrumentAct::Withdrawn { id, .. } => not_in_use(id, known(id)),
            InstrumentAct::IceChecked { check } => {
                let gone = match &check.of {
                    Checked::Instrument(id) => not_in_use(id, known(id)),
                    Checked::Sensor { .. } => None,
                };
                let many = (check.readings.len() > READINGS_MOST)
                    .then(|| format!("more than {READINGS_MOST} readings; enter fewer"));
                gone.or(many).or_else(|| {
                    let said = ice_point(&check.readings, check.fahrenheit, 0);
                    said.err().map(|e| format!("{}: {e}", check.of.label()))
                })
            }
        };
        why.map_or(Ok(()), |why| Err(Problem::Act(why)))
    }

    pub(crate) fn refuse_senseless_chart(&self, act: &ChartAct) -> Result<(), Problem> {
        let of = |unit: &UnitId| -> Vec<ChartFile> {
            self.acts().charts.iter().filter(|c| c.on.unit == *unit).cloned().collect()
        };
        let still_on = |unit: &UnitId| of(unit).into_iter().find(|c| c.off.is_none());
        let why = match act {
            ChartAct::On(c) => match still_on(&c.unit) {
                Some(on) => Some(format!(
                    "{}: the chart put on {} UTC is still on; enter first that it was taken off",
                    c.unit,
                    on.on.at.to_minute()
                )),
                None if c.due <= c.at => Some(format!(
                    "{}: the chart would be due before it is put on; check both times",
                    c.unit
                )),
                None if of(&c.unit).iter().any(|o| o.on.at == c.at) => {
                    Some(format!("{}: a chart put on at that minute is entered already", c.unit))
                }
                None => None,
            },
            ChartAct::Off(c) => match still_on(&c.unit) {
                None => {
                    Some(format!("{}: no chart is on; enter first that one was put on", c.unit))
                }
                Some(on) if c.at < on.on.at => Some(format!(
                    "{}: taken off before it was put on ({} UTC); check the time",
                    c.unit,
                    on.on.at.to_minute()
                )),
                Some(_) => None,
            },
            ChartAct::Kept(c) if of(&c.unit).iter().all(|o| o.on.at != c.on_at) => Some(format!(
                "{}: no chart was put on at {} UTC; see the list of charts",
                c.unit,
                c.on_at.to_minute()
            )),
            ChartAct::Kept(c) if c.kept.is_empty() && c.scans.is_empty() => {
                Some(format!("{}: say where the original is kept now, or attach a scan", c.unit))
            }
            ChartAct::Kept(_) => None,
        };
        why.map_or(Ok(()), |why| Err(Problem::Act(why)))
    }
}

fn not_in_use(id: &str, file: Option<&InstrumentFile>) -> Option<String> {
    match file {
        None => Some(format!("instrument {id} is not in the register; enter it first")),
        Some(f) => f.withdrawn.as_ref().map(|(at, why)| {
            format!("instrument {id} was withdrawn {} UTC: {why}", at.to_minute())
        }),
    }
}

fn misstated(i: &Instrument) -> Option<String> {
    if id_from_text(&i.id).as_deref() != Some(i.id.as_str()) {
        return Some(format!(
            "\"{}\" cannot be an id; write 2 to 16 letters and digits with at least one of each, \
             for example VG-1",
            i.id
        ));
    }
    for (name, text) in [("date of the certificate", &i.dated), ("due date", &i.due)] {
        if let Some(t) = text
            && day(t).is_none()
        {
            return Some(format!("{name} \"{t}\" is no day; write it as 2026-03-01"));
        }
    }
    if let (Some(from), Some(to)) = (&i.dated, &i.due)
        && to < from
    {
        return Some(format!("due {to} lies before the certificate's date {from}; check both"));
    }
    let months = i.every_months.is_some_and(|m| !(1..=240).contains(&m));
    let days = i.check_every_days.is_some_and(|d| !(1..=3660).contains(&d));
    (months || days).then(|| {
        "an interval is 1 to 240 months for a certificate, 1 to 3660 days for a check".to_owned()
    })
}

pub(crate) fn line(file: &InstrumentFile, uses: Vec<Use>, now: Utc) -> Option<InstrumentLine> {
    let stated = file.stated.last()?;
    let i = stated.instrument.clone();
    let checks = with_drift(file.checks.iter().map(check_line).collect());
    let last = checks.last().map(|c| c.at);
    let from = last.or_else(|| i.dated.as_deref().and_then(day)).unwrap_or(stated.entered_at);
    let next = i.check_every_days.map(|d| from.plus_hours(24.0 * f64::from(d)));
    let mut scans: Vec<Scan> = Vec::new();
    for scan in file.stated.iter().rev().flat_map(|s| &s.instrument.scans) {
        if !scans.contains(scan) {
            scans.push(scan.clone());
        }
    }
    Some(InstrumentLine {
        due: due(certificate_due(&i), now),
        check_due: due(next, now),
        who: stated.who.clone(),
        entered_at: stated.entered_at,
        withdrawn: file.withdrawn.clone(),
        checks,
        uses,
        scans,
        instrument: i,
    })
}

fn check_line(entry: &CheckEntry) -> CheckLine {
    let c = &entry.check;
    let stirred = c.stirred.map(|s| if s { "stirred" } else { "not stirred" }.to_owned());
    let against = (!c.against.is_empty()).then(|| format!("checked against {}", c.against));
    let written = [Some(c.ice.clone()), stirred, against, Some(c.remark.clone())];
    let notes: Vec<String> = written.into_iter().flatten().filter(|t| !t.is_empty()).collect();
    CheckLine {
        label: c.of.label(),
        unit: match &c.of {
            Checked::Sensor { unit, .. } => Some(unit.clone()),
            Checked::Instrument(_) => None,
        },
        at: c.at,
        who: entry.who.clone(),
        readings: c.readings.clone(),
        sign: if c.fahrenheit { "°F" } else { "°C" },
        ice: ice_point(&c.readings, c.fahrenheit, 0),
        drift: None,
        notes: notes.join("; "),
    }
}

/// The probes of one session, each with its readings.
fn probe_lines(session: &SlurryEntry) -> Vec<CheckLine> {
    let fahrenheit = session.readings.iter().any(|r| r.fahrenheit);
    let of = |probe: u8| {
        let mine = session.readings.iter().filter(|r| r.probe == probe);
        let readings: Vec<String> = mine.map(|r| r.reading.clone()).collect();
        (!readings.is_empty()).then(|| CheckLine {
            label: format!("pulp probe {probe} of {}", session.unit),
            unit: Some(session.unit.clone()),
            at: session.at,
            who: session.who.clone(),
            sign: if fahrenheit { "°F" } else { "°C" },
            ice: ice_point(&readings, fahrenheit, PROBE_DECIMALS),
            readings,
            drift: None,
            notes: session.remark.clone(),
        })
    };
    (1..=4).filter_map(of).collect()
}

/// Checks of one thing by time, each against the one before.
fn with_drift(mut checks: Vec<CheckLine>) -> Vec<CheckLine> {
    checks.sort_by_key(|c| c.at);
    let mut before: Option<(Utc, IcePoint)> = None;
    for c in &mut checks {
        let Ok(now) = &c.ice else { continue };
        c.drift = before.as_ref().map(|(at, p)| drift((*at, p), (c.at, now)));
        before = Some((c.at, now.clone()));
    }
    checks
}
