//! What the readings in ice say, recorder charts, and the instruments that the records name.

use record::calibration::{ChartLine, CheckLine};
use record::dossier::Dossier;

use super::csvs::{DataFile, file};
use super::words::{minus, minute, raw};
use crate::sheet::{Sheet, Table};

/// A correction with its sign.
fn k(v: f64) -> String {
    minus(&format!("{v:+.2}"))
}

pub(super) fn checks(d: &Dossier, s: &mut Sheet<'_>) {
    if d.checks.is_empty() {
        return;
    }
    // A head, a line of small print and a few rows stay together.
    s.need(120.0);
    s.subheading("What the readings in ice say");
    let heads = [
        "UTC",
        "sensor or probe",
        "read in ice",
        ">mean °C",
        ">correction K",
        "90 % interval K",
        ">drift K",
        "since",
        "by",
    ];
    let mut t = Table::new(&heads).dense();
    for c in &d.checks {
        t.row(check_row(c));
    }
    t.drop_empty_columns();
    s.table(&t, "");
    s.small(
        "Interval: spread of the mean, step of the display and 0.01 K for the ice point, Student's \
         t (JCGM 100:2008); blank where one reading tells no spread. Drift: mean now less mean at \
         the check before; positive shows warmer than before.",
    );
}

fn check_row(c: &CheckLine) -> Vec<String> {
    let ice = c.ice.as_ref().ok();
    let on = c.unit.as_ref().map(|u| format!(" of {u}")).unwrap_or_default();
    let p90 = ice.and_then(|i| i.correction_p90);
    vec![
        minute(c.at),
        c.label.replace(&on, ""),
        minus(&format!("{} {}", c.readings.join(" "), c.sign)),
        ice.map(|i| minus(&format!("{:.3}", i.mean_c))).unwrap_or_default(),
        ice.map(|i| k(i.correction_k)).unwrap_or_default(),
        p90.map(|[low, high]| format!("{} to {}", k(low), k(high))).unwrap_or_default(),
        c.drift.as_ref().map(|d| k(d.drift_k)).unwrap_or_default(),
        c.drift.as_ref().map(|d| d.since.to_day()).unwrap_or_default(),
        c.who.clone(),
    ]
}

pub(super) fn charts(d: &Dossier, s: &mut Sheet<'_>) {
    s.heading("Recorder charts");
    let heads =
        ["chart", "on UTC", "due off", "off UTC", "original kept", "scan attached", "remarks"];
    let mut t = Table::new(&heads).dense();
    for l in &d.charts {
        let f = &l.file;
        let scans: Vec<&str> = f.scans.iter().map(|scan| scan.name.as_str()).collect();
        t.row(vec![
            f.on.chart.clone(),
            minute(f.on.at),
            minute(f.on.due),
            f.off.as_ref().map_or_else(|| "still on".to_owned(), |o| minute(o.0)),
            f.kept.clone(),
            scans.join(", "),
            f.remarks.join("; "),
        ]);
    }
    t.drop_empty_columns();
    s.table(&t, "No chart of this container's recorder was entered.");
    if !d.instruments.is_empty() {
        s.subheading("Instruments that these records name");
        let mut t = Table::new(&["UTC", "record", "id", "instrument", "certificate that day"]);
        for u in &d.instruments {
            t.row(vec![
                minute(u.at),
                u.record.clone(),
                u.id.clone(),
                u.line.clone(),
                u.on_day.words(),
            ]);
        }
        s.table(&t, "");
    }
}

pub(super) fn csvs(d: &Dossier) -> [Option<DataFile>; 3] {
    [checks_csv(d), charts_csv(d), instruments_csv(d)]
}

fn checks_csv(d: &Dossier) -> Option<DataFile> {
    let row = |c: &CheckLine| {
        let ice = c.ice.as_ref().ok();
        let ends =
            |i: usize| raw(ice.and_then(|i| i.correction_p90).and_then(|p| p.get(i).copied()));
        vec![
            c.at.to_string(),
            c.label.clone(),
            c.readings.join(" "),
            c.sign.trim_start_matches('°').to_owned(),
            raw(ice.map(|i| i.mean_c)),
            raw(ice.map(|i| i.correction_k)),
            ends(0),
            ends(1),
            raw(ice.and_then(|i| i.spread_k)),
            raw(c.drift.as_ref().map(|d| d.drift_k)),
            c.drift.as_ref().map(|d| d.since.to_string()).unwrap_or_default(),
            c.who.clone(),
            c.notes.clone(),
        ]
    };
    let head = [
        "at_utc",
        "of",
        "readings_in_ice",
        "unit",
        "mean_c",
        "correction_k",
        "correction_k_p90_low",
        "correction_k_p90_high",
        "spread_k",
        "drift_k",
        "drift_since_utc",
        "who",
        "notes",
    ];
    let what = "ice-point checks with correction and drift";
    file("ice_checks.csv", what, &head, d.checks.iter().map(row).collect())
}

fn charts_csv(d: &Dossier) -> Option<DataFile> {
    let row = |l: &ChartLine| {
        let f = &l.file;
        let scans = f.scans.iter().map(|s| format!("{} {}", s.name, s.sha256));
        vec![
            f.on.chart.clone(),
            f.on.at.to_string(),
            f.on.due.to_string(),
            f.off.as_ref().map(|o| o.0.to_string()).unwrap_or_default(),
            f.kept.clone(),
            scans.collect::<Vec<_>>().join("; "),
            f.remarks.join("; "),
        ]
    };
    let head =
        ["chart", "on_utc", "due_utc", "off_utc", "original_kept", "scans_sha256", "remarks"];
    file("charts.csv", "recorder charts", &head, d.charts.iter().map(row).collect())
}

fn instruments_csv(d: &Dossier) -> Option<DataFile> {
    let row = |u: &record::calibration::Use| {
        vec![
            u.at.to_string(),
            u.record.clone(),
            u.id.clone(),
            u.line.clone(),
            u.on_day.as_str().to_owned(),
        ]
    };
    let head = ["at_utc", "record", "id", "instrument", "certificate_that_day"];
    let what = "instruments that the records name";
    file("instruments.csv", what, &head, d.instruments.iter().map(row).collect())
}
