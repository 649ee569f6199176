//! The parts after the first page: every table of the record.

use figures::words::number;
use record::dossier::Dossier;
use record::{Act, Channel};

use super::words::{celsius, count, maybe, minus, minute, plain, text, value};
use crate::sheet::{Sheet, Table};

/// Above this, rows that a logger brought stand in the attached file only.
const PRINTED_MOST: usize = 3000;

pub(super) fn identity(d: &Dossier, s: &mut Sheet<'_>) {
    s.heading("Lists and cells");
    let mut t = Table::new(&["list loaded UTC", "by", "list", "made for", "cell", "to port"]);
    for c in &d.cells {
        let cell = if c.aboard { text(c.stow.as_deref()) } else { "no longer on the list".into() };
        t.row(vec![
            minute(c.at),
            c.who.clone(),
            c.file.clone(),
            text(c.port.as_deref()),
            cell,
            text(c.discharge_port.as_deref()),
        ]);
    }
    t.drop_empty_columns();
    s.table(&t, "The container stands on no list that was loaded.");
    if let Some(l) = &d.listed {
        for remark in &l.remarks {
            s.paragraph(&format!("The list says: {remark}"));
        }
        for warning in &l.warnings {
            s.paragraph(&format!("Odd in the list: {warning}"));
        }
    }
    if !d.cargo_facts.is_empty() {
        s.subheading("Of this cargo, from the program's table");
        let mut t = Table::new(&["what", "value", "source"]);
        for f in &d.cargo_facts {
            let mark = if f.unverified { " (recalled, unverified)" } else { "" };
            t.row(vec![f.name.clone(), format!("{}{mark}", minus(&f.text)), f.source.clone()]);
        }
        s.table(&t, "");
    }
}

pub(super) fn set_points(d: &Dossier, s: &mut Sheet<'_>) {
    s.heading("Set points: who and why");
    let mut t = Table::new(&["UTC", ">set point °C", "", "as sent", "who or what read it", "why"]);
    for p in &d.set_points {
        t.row(vec![
            minute(p.at),
            value(p.set_c),
            if p.ordered { "ordered".into() } else { "on the display".into() },
            text(p.as_sent.as_deref()),
            p.who.clone(),
            p.why.clone(),
        ]);
    }
    t.drop_empty_columns();
    s.table(&t, "No set point was ordered and none was read.");
}

pub(super) fn incidents(d: &Dossier, s: &mut Sheet<'_>) {
    s.heading("Incidents");
    if d.incidents.is_empty() {
        s.paragraph("None is told by the readings.");
        return;
    }
    if super::first::tells_all(d) {
        s.paragraph("All of them stand on the first page.");
        return;
    }
    for (i, incident) in d.incidents.iter().enumerate() {
        super::first::one(i + 1, incident, usize::MAX, s);
    }
}

pub(super) fn alarms(d: &Dossier, s: &mut Sheet<'_>) {
    s.heading("Alarms and what was done");
    let mut t = Table::new(&["first seen UTC", "last seen", "gone", "alarm", "read by", "done"]);
    for a in &d.alarms {
        let done: Vec<String> = a
            .done
            .iter()
            .map(|d| format!("{} {}: {}", minute(d.at), d.who, minus(&d.what)))
            .collect();
        t.row(vec![
            minute(a.from),
            minute(a.to),
            maybe(a.gone_at),
            a.text.clone(),
            a.source.clone(),
            if done.is_empty() { "nothing is entered".to_owned() } else { done.join("\n") },
        ]);
    }
    s.table(&t, "No alarm stands in the record.");
    s.heading("Spells without power");
    let mut t = Table::new(&[
        "last on UTC",
        "first off",
        "last off",
        "on again",
        ">off to on, h",
        "read by",
    ]);
    for p in &d.power_off {
        let hours = p.back_at.map(|b| plain(b.hours_since(p.from)));
        t.row(vec![
            maybe(p.last_on),
            minute(p.from),
            minute(p.to),
            maybe(p.back_at),
            hours.unwrap_or_default(),
            p.source.clone(),
        ]);
    }
    s.table(&t, "No reading says that power was off.");
}

pub(super) fn gaps(d: &Dossier, s: &mut Sheet<'_>) {
    s.heading("Gaps in the record");
    let mut t =
        Table::new(&["last before UTC", "first after", ">hours", "over 12 h", "remark after it"]);
    for g in &d.gaps {
        t.row(vec![
            minute(g.from),
            minute(g.to),
            plain(g.to.hours_since(g.from)),
            if g.long { "yes".into() } else { String::new() },
            text(g.remark.as_deref()),
        ]);
    }
    t.drop_empty_columns();
    s.table(&t, "Nothing lies further apart than the record's usual interval.");
}

pub(super) fn log(d: &Dossier, s: &mut Sheet<'_>) {
    s.heading("Journal entries about this container");
    s.small("Times are of entering. Each entry's hash and proof stand in entries.jsonl.");
    let (acts, files): (Vec<_>, Vec<_>) = d.log.iter().partition(|l| l.act.is_some());
    let table = |lines: &[&record::dossier::LogLine]| {
        let mut t = Table::new(&["entered UTC", ">entry", "by", "what"]);
        for l in lines {
            t.row(vec![minute(l.at), l.seq.to_string(), l.who.clone(), minus(&l.what)]);
        }
        t
    };
    s.subheading("What people ordered, read by hand and decided");
    s.table(&table(&acts), "Nothing was entered.");
    s.subheading("Lists and readings taken in");
    s.table(&table(&files), "Nothing was taken in.");
    documents(d, s);
}

/// Papers that officials signed, by their names.
fn documents(d: &Dossier, s: &mut Sheet<'_>) {
    let named = d.log.iter().filter_map(|l| match &l.act {
        Some(
            Act::OfficialDecided { official, authority, document, .. }
            | Act::TreatmentReleased { official, authority, document, .. },
        ) => Some(vec![minute(l.at), official.clone(), authority.clone(), document.clone()]),
        _ => None,
    });
    let mut t = Table::new(&["entered UTC", "official", "authority", "document"]);
    named.for_each(|row| t.row(row));
    if !t.rows.is_empty() {
        s.subheading("Decisions of officials");
        s.table(&t, "");
    }
}

pub(super) fn readings(d: &Dossier, s: &mut Sheet<'_>) {
    s.heading("Readings");
    if d.readings.is_empty() {
        s.paragraph("Nothing was read.");
        return;
    }
    let by_hand = |r: &&record::dossier::FiledReading| r.reading.source.starts_with("round");
    let all = d.readings.len() <= PRINTED_MOST;
    let shown: Vec<_> = d.readings.iter().filter(|r| all || by_hand(r)).collect();
    s.small(&format!(
        "{} of {} printed{}; all of them with file and line stand in readings.csv. Temperatures \
         in °C as the unit or the thermometer showed them, not corrected. Blank: not read.",
        shown.len(),
        count(d.readings.len(), "reading"),
        if all { "" } else { ", those of rounds" }
    ));
    let heads = [
        "UTC",
        "source",
        ">set",
        ">supply",
        ">return",
        ">ambient",
        ">probe 1",
        ">probe 2",
        ">probe 3",
        ">probe 4",
        ">RH set %",
        ">RH %",
        ">CO₂ %",
        ">O₂ %",
        ">kW",
        "plug",
        "mode",
        "alarm",
        "remark",
        "as written",
    ];
    let mut t = Table::new(&heads).dense();
    for f in shown {
        let r = &f.reading;
        let mut row = vec![minute(r.at), r.source.to_string()];
        row.extend(Channel::ALL.iter().map(|c| match c {
            Channel::Power => r.get(*c).map(|v| number(v, 2)).unwrap_or_default(),
            _ => value(r.get(*c)),
        }));
        row.push(match r.on_power {
            Some(true) => "on".into(),
            Some(false) => "OFF".into(),
            None => String::new(),
        });
        row.push(r.mode.map_or_else(String::new, |m| m.as_str().into()));
        row.push(text(r.alarm.as_deref()));
        row.push(text(r.remark.as_deref()));
        row.push(text(r.raw.as_deref()));
        t.row(row);
    }
    t.drop_empty_columns();
    s.table(&t, "Nothing was read.");
}

pub(super) fn calibrations(d: &Dossier, s: &mut Sheet<'_>) {
    s.heading("Probe calibration");
    let mut t = Table::new(&["UTC", "probe", "read in slurry", "by", "remark"]);
    for c in &d.calibrations {
        for (probe, reading, unit) in &c.readings {
            t.row(vec![
                minute(c.at),
                format!("probe {probe}"),
                format!("{} {unit}", minus(reading)),
                c.who.clone(),
                c.remark.clone(),
            ]);
        }
    }
    t.drop_empty_columns();
    s.table(&t, "No probe of this container was read in ice slurry.");
    let Some(v) = d.treatment.as_ref().filter(|v| !v.probes.is_empty()) else { return };
    s.subheading("Raw and corrected");
    let heads = [
        "probe",
        "fitted",
        ">slurry mean °C",
        ">correction K",
        "rule accepts it",
        ">latest raw °C",
        ">latest corrected °C",
    ];
    let mut t = Table::new(&heads);
    for p in &v.probes {
        let channel = Channel::PROBES.get(usize::from(p.number.saturating_sub(1)));
        let raw = channel.and_then(|c| d.readings.iter().rev().find_map(|r| r.reading.get(*c)));
        t.row(vec![
            p.number.to_string(),
            if p.fitted { "yes".into() } else { "no".into() },
            value(p.slurry_mean_c),
            value(p.correction_k),
            p.acceptable.map_or("not judged", |a| if a { "yes" } else { "no" }).into(),
            value(raw),
            value(p.latest_c),
        ]);
    }
    s.table(&t, "");
    s.small("A correction is ice point less mean slurry reading, added once to every reading.");
}

/// What the watch list finds at the end of the record.
pub(super) fn state(d: &Dossier, s: &mut Sheet<'_>) {
    s.heading("State at the end of the record");
    s.facts(&[
        ("last read", maybe(d.line.last_read_at)),
        ("supply air", celsius(d.line.supply_c)),
        ("return air", celsius(d.line.return_c)),
        ("plug", d.line.on_power.map_or("", |on| if on { "on" } else { "OFF" }).to_owned()),
    ]);
    if d.line.findings.is_empty() {
        s.paragraph("No rule of the watch list finds anything in the last readings.");
    }
    for f in &d.line.findings {
        s.paragraph(&minus(&f.what));
    }
}
