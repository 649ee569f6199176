//! The data of a dossier as CSV files. A file without a row is not made.

use record::Channel;
use record::dossier::Dossier;

use super::words::{raw, text};
use crate::csv_file::CsvFile;

/// Name, what it is, bytes.
pub(super) type DataFile = (&'static str, &'static str, Vec<u8>);

/// All of them, in the order of the paper.
pub(super) fn all(d: &Dossier) -> Vec<DataFile> {
    let made = [
        readings(d),
        log(d),
        cells(d),
        set_points(d),
        incidents(d),
        alarms(d),
        power(d),
        gaps(d),
        calibrations(d),
        treatment(d),
        breaches(d),
        gauges(d),
        holds(d),
        pressure_tests(d),
    ];
    made.into_iter().chain(super::instruments::csvs(d)).flatten().collect()
}

pub(super) fn file(
    name: &'static str,
    what: &'static str,
    head: &[&str],
    rows: Vec<Vec<String>>,
) -> Option<DataFile> {
    if rows.is_empty() {
        return None;
    }
    let mut csv = CsvFile::new(head);
    for row in &rows {
        csv.row(row);
    }
    Some((name, what, csv.bytes()))
}

fn readings(d: &Dossier) -> Option<DataFile> {
    let mut head: Vec<String> = vec!["at_utc".into(), "source".into()];
    head.extend(Channel::ALL.iter().map(|c| c.column()));
    for name in ["on_power", "mode", "alarm", "remark", "as_written", "entry", "file", "line"] {
        head.push(name.into());
    }
    let row = |f: &record::dossier::FiledReading| {
        let r = &f.reading;
        let mut row = vec![r.at.to_string(), r.source.to_string()];
        row.extend(Channel::ALL.iter().map(|c| raw(r.get(*c))));
        row.push(
            r.on_power.map_or_else(String::new, |on| if on { "1".into() } else { "0".into() }),
        );
        row.push(r.mode.map_or_else(String::new, |m| m.as_str().into()));
        row.push(text(r.alarm.as_deref()));
        row.push(text(r.remark.as_deref()));
        row.push(text(r.raw.as_deref()));
        row.push(f.entry.to_string());
        row.push(f.file.and_then(|i| d.originals.get(i)).map_or("", |o| o.name.as_str()).into());
        row.push(r.origin.line.to_string());
        row
    };
    let head: Vec<&str> = head.iter().map(String::as_str).collect();
    file(
        "readings.csv",
        "every reading with its source",
        &head,
        d.readings.iter().map(row).collect(),
    )
}

fn log(d: &Dossier) -> Option<DataFile> {
    let row = |l: &record::dossier::LogLine| {
        vec![l.at.to_string(), l.seq.to_string(), l.who.clone(), l.what.clone(), l.hash.to_string()]
    };
    let head = ["entered_utc", "entry", "who", "what", "sha256"];
    file("log.csv", "every journal entry about the box", &head, d.log.iter().map(row).collect())
}

fn cells(d: &Dossier) -> Option<DataFile> {
    let row = |c: &record::dossier::CellStay| {
        vec![
            c.at.to_string(),
            c.who.clone(),
            c.file.clone(),
            text(c.port.as_deref()),
            if c.aboard { "1".into() } else { "0".into() },
            text(c.stow.as_deref()),
            text(c.discharge_port.as_deref()),
        ]
    };
    let head = ["loaded_utc", "who", "list", "list_port", "on_list", "cell", "discharge_port"];
    file("cells.csv", "where it stood, list by list", &head, d.cells.iter().map(row).collect())
}

fn set_points(d: &Dossier) -> Option<DataFile> {
    let row = |s: &record::dossier::SetPoint| {
        vec![
            s.at.to_string(),
            raw(s.set_c),
            if s.ordered { "ordered".into() } else { "display".into() },
            text(s.as_sent.as_deref()),
            s.who.clone(),
            s.why.clone(),
        ]
    };
    let head = ["at_utc", "set_point_c", "kind", "as_sent", "who", "why"];
    file(
        "set_points.csv",
        "set points ordered and shown",
        &head,
        d.set_points.iter().map(row).collect(),
    )
}

fn deeds(all: &[record::dossier::Deed]) -> String {
    all.iter().map(|d| format!("{} {}: {}", d.at, d.who, d.what)).collect::<Vec<_>>().join("; ")
}

fn effects(i: &record::dossier::Incident) -> String {
    let one = |e: &record::dossier::Effect| {
        let at = |(t, c): (units::Utc, f64)| format!("{c} C at {t}");
        let before = e.before.map(|b| format!("{} before, ", at(b))).unwrap_or_default();
        let (warm, cold, last) = (at(e.warmest), at(e.coldest), at(e.last));
        format!("{}: {before}{warm} warmest, {cold} coldest, {last} last", e.name)
    };
    i.effect.iter().map(one).collect::<Vec<_>>().join("; ")
}

fn incidents(d: &Dossier) -> Option<DataFile> {
    let row = |i: &record::dossier::Incident| {
        vec![
            i.from.to_string(),
            i.to.to_string(),
            if i.open { "1".into() } else { "0".into() },
            i.what.join(" "),
            i.noticed.join(" "),
            deeds(&i.done),
            effects(i),
        ]
    };
    let head = ["from_utc", "to_utc", "to_the_end", "what", "noticed", "done", "temperatures"];
    file("incidents.csv", "what happened", &head, d.incidents.iter().map(row).collect())
}

fn alarms(d: &Dossier) -> Option<DataFile> {
    let row = |a: &record::dossier::AlarmSpell| {
        vec![
            a.from.to_string(),
            a.to.to_string(),
            a.gone_at.map_or_else(String::new, |t| t.to_string()),
            a.text.clone(),
            a.source.clone(),
            deeds(&a.done),
        ]
    };
    let head = ["first_seen_utc", "last_seen_utc", "gone_utc", "alarm", "source", "done"];
    file("alarms.csv", "alarms and what was done", &head, d.alarms.iter().map(row).collect())
}

fn power(d: &Dossier) -> Option<DataFile> {
    let at = |t: Option<units::Utc>| t.map_or_else(String::new, |t| t.to_string());
    let row = |p: &record::dossier::PowerSpell| {
        vec![at(p.last_on), p.from.to_string(), p.to.to_string(), at(p.back_at), p.source.clone()]
    };
    let head = ["last_on_utc", "first_off_utc", "last_off_utc", "on_again_utc", "source"];
    file("power.csv", "spells without power", &head, d.power_off.iter().map(row).collect())
}

fn gaps(d: &Dossier) -> Option<DataFile> {
    let row = |g: &record::dossier::Gap| {
        vec![
            g.from.to_string(),
            g.to.to_string(),
            format!("{:.2}", g.to.hours_since(g.from)),
            if g.long { "1".into() } else { "0".into() },
            text(g.remark.as_deref()),
        ]
    };
    let head = ["last_before_utc", "first_after_utc", "hours", "over_12_h", "remark"];
    file("gaps.csv", "spells in which nothing was read", &head, d.gaps.iter().map(row).collect())
}

fn calibrations(d: &Dossier) -> Option<DataFile> {
    let mut rows = Vec::new();
    for c in &d.calibrations {
        for (probe, reading, unit) in &c.readings {
            rows.push(vec![
                c.at.to_string(),
                format!("probe{probe}"),
                reading.clone(),
                unit.trim_start_matches('°').to_owned(),
                c.who.clone(),
                c.remark.clone(),
            ]);
        }
    }
    let head = ["at_utc", "probe", "reading_in_slurry", "unit", "who", "remark"];
    file("calibrations.csv", "probes in ice slurry, as read", &head, rows)
}

fn treatment(d: &Dossier) -> Option<DataFile> {
    let v = d.treatment.as_ref()?;
    let row = |l: &record::treatment::LedgerLine| {
        vec![
            l.from_at.to_string(),
            l.to_at.to_string(),
            l.readings.to_string(),
            l.what.clone(),
            l.elapsed_h.map_or_else(String::new, |h| h.to_string()),
        ]
    };
    let head = ["from_utc", "to_utc", "readings", "what", "elapsed_h"];
    file("treatment.csv", "cold treatment ledger", &head, v.ledger.iter().map(row).collect())
}

fn breaches(d: &Dossier) -> Option<DataFile> {
    let v = d.treatment.as_ref()?;
    let row = |b: &record::treatment::BreachRecord| {
        vec![
            b.kind.to_owned(),
            b.probe.map_or_else(String::new, |p| format!("probe{p}")),
            b.from_at.to_string(),
            b.to_at.to_string(),
            raw(b.worst_c),
            b.readings.to_string(),
            b.effect.to_owned(),
            b.words.clone(),
            text(b.decided.as_deref()),
        ]
    };
    let head = [
        "kind", "probe", "from_utc", "to_utc", "worst_c", "readings", "effect", "words", "decided",
    ];
    file("breaches.csv", "what broke the schedule", &head, v.breaches.iter().map(row).collect())
}

fn gauges(d: &Dossier) -> Option<DataFile> {
    let row = |g: &record::GaugesEntry| {
        let written: Vec<String> =
            g.read.as_written.iter().map(|(k, v)| format!("{k}={v}")).collect();
        vec![
            g.read.at.to_string(),
            g.who.clone(),
            written.join("; "),
            g.read.input.clone(),
            g.read.told_line(),
            g.read.note.clone(),
        ]
    };
    let head = ["at_utc", "who", "as_written", "input_json", "told", "note"];
    file("gauges.csv", "gauge readings", &head, d.gauges.iter().map(row).collect())
}

fn holds(d: &Dossier) -> Option<DataFile> {
    let mut rows = Vec::new();
    for h in &d.holds {
        for r in &h.file.readings {
            rows.push(vec![
                h.file.start.id.clone(),
                r.reading.at.to_string(),
                r.reading.pressure.clone(),
                h.file.start.pressure_unit.clone(),
                if r.struck { "1".into() } else { "0".into() },
                text(r.source.as_deref()),
            ]);
        }
    }
    let head = ["hold", "at_utc", "pressure_abs", "unit", "struck_out", "file"];
    file("holds.csv", "vacuum holds, as read", &head, rows)
}

fn pressure_tests(d: &Dossier) -> Option<DataFile> {
    let row = |e: &record::PressureEntry| {
        let t = &e.test;
        let written: Vec<String> = t.as_written.iter().map(|[k, v]| format!("{k}={v}")).collect();
        let read: Vec<String> = t.read.iter().map(|(k, v)| format!("{k}={v}")).collect();
        vec![
            t.at.to_string(),
            t.kind.words().to_owned(),
            e.who.clone(),
            t.place.clone(),
            t.gauge.clone(),
            t.calibrated_on.clone(),
            raw(t.ambient_c),
            text(t.fluid.as_deref()),
            written.join("; "),
            read.join("; "),
            t.verdict.clone(),
            t.told.join(" "),
            t.remark.clone(),
        ]
    };
    let head = [
        "at_utc",
        "test",
        "who",
        "place",
        "gauge",
        "calibrated_on",
        "ambient_c",
        "fluid",
        "as_written",
        "read",
        "verdict",
        "told",
        "remark",
    ];
    let rows = d.pressure_tests.iter().map(row).collect();
    file("pressure-tests.csv", "nitrogen and standing-pressure tests", &head, rows)
}
