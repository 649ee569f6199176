//! Small tables of readings in, a line of the watch list out.

use assess::Clock;
use box_model::CargoTable;
use record::{BoxFacts, BoxLine, Channel, FindingKind, ListedUnit, Mode, Reading, State, UnitId};
use units::Utc;

/// Hours after this instant are what the tables speak of.
pub fn start() -> Utc {
    Utc::parse("2026-03-10T00:00:00Z").unwrap()
}

pub fn unit(n: u32) -> UnitId {
    UnitId::from_text(&format!("QQQU{n:07}")).unwrap()
}

/// A full 40 ft high-cube of 24.6 t gross: 20 t of cargo.
pub fn listed(cargo: &str, set_point_c: Option<f64>) -> ListedUnit {
    ListedUnit {
        unit: Some(unit(1)),
        size_type: Some("45R1".to_owned()),
        thermal: true,
        full: Some(true),
        weight_kg: Some(24_600.0),
        set_point_c,
        remarks: vec![cargo.to_owned()],
        ..ListedUnit::default()
    }
}

/// Reads rows such as `hour supply return set mode power remark…`: `-` is not read; further
/// words are `amb=30`, `p1=13.5`, `alarm=AL`, `rh=65`, `src=logger`.
pub fn readings(table: &str) -> Vec<Reading> {
    table.lines().filter(|l| !l.trim().is_empty()).map(row).collect()
}

fn row(line: &str) -> Reading {
    let mut words = line.split_whitespace();
    let hour: f64 = words.next().unwrap().parse().unwrap();
    let mut r = Reading::new(unit(1), start().plus_hours(hour), "round".into());
    for channel in [Channel::Supply, Channel::Return, Channel::SetPoint] {
        if let Some(v) = words.next().filter(|w| *w != "-") {
            r.set(channel, v.parse().unwrap());
        }
    }
    for word in words {
        match word.split_once('=') {
            Some(("amb", v)) => r.set(Channel::Ambient, v.parse().unwrap()),
            Some(("p1", v)) => r.set(Channel::Probe1, v.parse().unwrap()),
            Some(("p2", v)) => r.set(Channel::Probe2, v.parse().unwrap()),
            Some(("p3", v)) => r.set(Channel::Probe3, v.parse().unwrap()),
            Some(("rh", v)) => r.set(Channel::RhSet, v.parse().unwrap()),
            Some(("alarm", v)) => r.alarm = Some(v.into()),
            Some(("src", v)) => r.source = v.into(),
            None if word == "on" => r.on_power = Some(true),
            None if word == "dead" => r.on_power = Some(false),
            _ => r.mode = Some(Mode::parse(word).unwrap()),
        }
    }
    r
}

/// An hourly logger from `from` to `to`: supply, return and set point, with a tenth of noise.
pub fn hourly(from: i32, to: i32, air: impl Fn(f64) -> (f64, f64), set_c: f64) -> Vec<Reading> {
    (from..=to)
        .map(|h| {
            let mut r = row(&format!("{h} - - {set_c} on amb=30"));
            let (supply, back) = air(f64::from(h));
            // A fixed pattern stands for noise: -0.1, 0, +0.1 in no order of any period.
            let noise = f64::from((h * 7 + h * h) % 3 - 1) * 0.1;
            r.set(Channel::Supply, supply + noise);
            r.set(Channel::Return, back - noise);
            r.source = "logger".into();
            r
        })
        .collect()
}

pub fn line_of(listed: Option<ListedUnit>, readings: Vec<Reading>, at_h: f64) -> BoxLine {
    let facts = BoxFacts { unit: unit(1), listed, readings };
    let clock = Clock { as_of: start().plus_hours(at_h), horizon_h: 400.0 };
    assess::box_line(&facts, clock, &CargoTable::embedded())
}

/// The line must have this state and findings of exactly these kinds; `says` must stand in one
/// of its reasons.
#[track_caller]
pub fn check(line: &BoxLine, state: State, kinds: &[FindingKind], says: &str) {
    let mut found: Vec<FindingKind> = line.findings.iter().map(|f| f.kind).collect();
    found.sort();
    found.dedup();
    assert_eq!(found, kinds, "{line:#?}");
    assert_eq!(line.state, state, "{line:#?}");
    let said = line.reason.contains(says) || line.findings.iter().any(|f| f.what.contains(says));
    assert!(said, "{says:?} in {line:#?}");
}
