//! A trial ship as its files tell it, and the truth beside.

use std::collections::BTreeMap;

use record::{BoxFacts, ListedUnit, Reading, UnitId};
use seatrial::{Trial, run};
use units::Utc;

/// A fault as the truth files have it.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// Kind, as in truth/faults.csv.
    pub kind: String,
    /// When it began.
    pub started: Utc,
    /// When it was put right.
    pub ended: Option<Utc>,
    /// How bad, 0 to 1.
    pub severity: f64,
    /// Warm limit of the truth, °C.
    pub warm_limit_c: f64,
    /// When the cargo's mean passes it; `None` when it does not before arrival.
    pub mean_warm: Option<Utc>,
}

/// One box: its facts and what is true of it.
pub struct TrialBox {
    /// What a ship knows.
    pub facts: BoxFacts,
    /// What is wrong with it.
    pub fault: Option<Fault>,
    /// True mean of the cargo by time, °C.
    pub mean_c: Vec<(Utc, f64)>,
}

/// A ship.
pub struct Ship {
    /// Boxes with readings.
    pub boxes: Vec<TrialBox>,
    /// Last instant of data.
    pub end: Utc,
    /// Arrival: the truth is followed to here.
    pub arrival: Utc,
}

/// Sails it and reads its files.
pub fn sail(trial: &Trial) -> Ship {
    let out = run(trial, &mut |_, _| ());
    let mut listed: BTreeMap<UnitId, ListedUnit> = BTreeMap::new();
    let mut readings: BTreeMap<UnitId, Vec<Reading>> = BTreeMap::new();
    for f in &out.files {
        if f.path.starts_with("lists/") {
            let report = intake::read_lists(&[(&f.path, &f.bytes)]).expect("a list");
            for u in report.units {
                if let Some(unit) = u.unit.clone() {
                    listed.insert(unit, u);
                }
            }
        } else if f.path.starts_with("loggers/") || f.path.starts_with("rounds/") {
            let file = intake::read_readings(&f.path, 0, &f.bytes).expect("readings");
            for r in file.readings {
                readings.entry(r.unit.clone()).or_default().push(r);
            }
        }
    }
    let text = |path: &str| {
        let file = out.truth.iter().find(|f| f.path == path).expect("truth");
        String::from_utf8_lossy(&file.bytes).into_owned()
    };
    let faults = faults(&text("truth/faults.csv"));
    let mut means = means(&text("truth/cargo.csv"));
    let boxes = readings
        .into_iter()
        .map(|(unit, mut readings)| {
            readings.sort_by_key(|r| r.at);
            TrialBox {
                fault: faults.get(unit.as_str()).cloned(),
                mean_c: means.remove(unit.as_str()).unwrap_or_default(),
                facts: BoxFacts { listed: listed.get(&unit).cloned(), unit, readings },
            }
        })
        .collect();
    let arrival_h = seatrial::route::Route::new(trial.days).arrival_h;
    Ship { boxes, end: out.end, arrival: out.start.plus_hours(f64::from(arrival_h)) }
}

fn at(text: &str) -> Option<Utc> {
    Utc::parse(text).ok()
}

fn faults(text: &str) -> BTreeMap<String, Fault> {
    let mut out = BTreeMap::new();
    for line in text.lines().skip(1) {
        let c: Vec<&str> = line.split(',').collect();
        let fault = Fault {
            kind: c[2].to_owned(),
            started: at(c[3]).expect("start"),
            ended: at(c[4]),
            severity: c[5].parse().expect("severity"),
            warm_limit_c: c[7].parse().expect("limit"),
            mean_warm: at(c[8]),
        };
        out.insert(c[0].to_owned(), fault);
    }
    out
}

fn means(text: &str) -> BTreeMap<String, Vec<(Utc, f64)>> {
    let mut out: BTreeMap<String, Vec<(Utc, f64)>> = BTreeMap::new();
    for line in text.lines().skip(1) {
        let c: Vec<&str> = line.split(',').collect();
        let point = (at(c[0]).expect("time"), c[3].parse().expect("mean"));
        out.entry(c[1].to_owned()).or_default().push(point);
    }
    out
}
