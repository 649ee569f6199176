//! Stories told from made-up rows, worked out by hand.

use super::*;
use record::{ListedUnit, Mode, UnitId};

fn at(h: f64) -> Utc {
    Utc::parse("2026-03-01T00:00:00Z").unwrap().plus_hours(h)
}

fn row(h: f64, return_c: f64) -> Reading {
    let unit = UnitId::from_text("QQQU1000011").unwrap();
    let mut r = Reading::new(unit, at(h), "logger".into());
    r.set(Channel::SetPoint, -18.0);
    r.set(Channel::Supply, return_c - 1.0);
    r.set(Channel::Return, return_c);
    r.on_power = Some(true);
    r.mode = Some(Mode::Frozen);
    r
}

fn facts(readings: Vec<Reading>) -> BoxFacts {
    let unit = UnitId::from_text("QQQU1000011").unwrap();
    let listed = ListedUnit { set_point_c: Some(-18.0), ..ListedUnit::default() };
    BoxFacts { unit, listed: Some(listed), readings }
}

#[test]
fn a_quiet_record_has_no_story() {
    let rows = (0..48).map(|h| row(f64::from(h), -18.0)).collect();
    assert_eq!(past(&facts(rows), &[]), Past::default());
}

#[test]
fn no_power_alarm_and_warm_air_are_one_story() {
    let mut rows: Vec<Reading> = (0..60).map(|h| row(f64::from(h), -18.0)).collect();
    for (h, r) in rows.iter_mut().enumerate().take(26).skip(20) {
        r.on_power = Some(false);
        r.mode = None;
        r.alarm = Some("AL 17".into());
        r.set(Channel::Return, -18.0 + (h as f64 - 19.0));
    }
    for (h, c) in [(26, -11.0), (27, -13.0), (28, -14.0), (29, -16.0)] {
        rows[h].set(Channel::Return, c);
    }
    let mut round = row(27.5, -13.5);
    round.source = "round-MS".into();
    round.remark = Some("breaker reset".into());
    rows.push(round);
    let gauges = Deed { at: at(28.0), who: "JT".into(), what: "gauges read".into() };
    let late = Deed { at: at(55.0), who: "JT".into(), what: "much later".into() };
    let p = past(&facts(rows), &[gauges, late]);
    assert_eq!((p.incidents.len(), p.alarms.len(), p.power_off.len()), (1, 1, 1));
    let i = &p.incidents[0];
    assert_eq!((i.from, i.open), (at(20.0), false));
    assert!(i.what[0].starts_with("No power: first read off 2026-03-01 20:00 UTC, read on again"));
    assert!(i.what.iter().any(|w| w.starts_with("Alarm AL 17")), "{:?}", i.what);
    assert_eq!(i.noticed.len(), 2);
    assert!(i.noticed[1].contains("2026-03-02 03:30 UTC (round-MS)"));
    let done: Vec<&str> = i.done.iter().map(|d| d.what.as_str()).collect();
    assert_eq!(done, ["remark: breaker reset", "gauges read"]);
    let air = &i.effect[0];
    assert_eq!((air.name.as_str(), air.before), ("return air", Some((at(19.0), -18.0))));
    assert_eq!((air.warmest, air.coldest), ((at(26.0), -11.0), (at(30.0), -18.0)));
    assert!(i.cargo_not_measured);
    assert_eq!(p.power_off[0].last_on, Some(at(19.0)));
    assert_eq!(p.power_off[0].back_at, Some(at(26.0)));
}

#[test]
fn a_display_that_differs_from_the_list_is_told() {
    let mut rows: Vec<Reading> = (0..10).map(|h| row(f64::from(h), -18.0)).collect();
    for r in &mut rows[4..8] {
        r.set(Channel::SetPoint, 18.0);
    }
    let p = past(&facts(rows), &[]);
    let all: Vec<&String> = p.incidents.iter().flat_map(|i| &i.what).collect();
    assert!(
        all.iter().any(|w| w.contains("18.0 °C, the list orders -18.0 °C: 4 readings")),
        "{all:?}"
    );
}

/// The sign of the set point is lost near the end: what came before is still frozen cargo.
#[test]
fn a_frozen_record_is_judged_as_frozen_though_it_ends_chilled() {
    let mut rows: Vec<Reading> = (0..48).map(|h| row(f64::from(h), -18.0)).collect();
    for (h, r) in rows.iter_mut().enumerate() {
        // Supply of a cycling unit lies kelvins off; return is what is held.
        r.set(Channel::Supply, if h % 4 < 2 { -23.0 } else { -18.0 });
    }
    for r in rows.iter_mut().skip(44) {
        r.set(Channel::SetPoint, 18.0);
        r.mode = Some(Mode::Chilled);
    }
    let p = past(&facts(rows), &[]);
    assert_eq!(p.incidents.len(), 1, "{:?}", p.incidents);
    assert_eq!((p.incidents[0].from, p.incidents[0].open), (at(44.0), true));
}
