//! Air off the set point, drift, spread, cold, sensors.

use record::FindingKind::{
    Alarm, ChillingRisk, Drift, FreezingRisk, OffSetPoint, ProbeFault, WideSpread,
};
use record::State::{Act, Ok, Watch};

use crate::bench::{check, hourly, line_of, listed, readings};

fn bananas() -> Option<record::ListedUnit> {
    Some(listed("BANANAS", Some(13.5)))
}

fn beef() -> Option<record::ListedUnit> {
    Some(listed("FROZEN BEEF", Some(-20.0)))
}

#[test]
fn chilled_within_one_kelvin_is_fine() {
    let line = line_of(bananas(), hourly(0, 48, |_| (13.9, 15.2), 13.5), 48.0);
    check(&line, Ok, &[], "Supply 13.");
    assert_eq!(line.hours_to_limit, None);
}

#[test]
fn chilled_supply_off_for_two_readings() {
    let table = "0 13.5 14.5 13.5\n12 15.0 15.9 13.5\n24 15.1 16.0 13.5";
    let line = line_of(bananas(), readings(table), 24.0);
    // Bananas breathe themselves a kelvin over such air: it may be their limit already.
    check(
        &line,
        line.state.max(Act),
        &[OffSetPoint],
        "1.6 K over the set point 13.5 °C since 2026-03-10 12:00 UTC",
    );
}

#[test]
fn one_round_reading_far_off_says_read_again() {
    let table = "0 13.5 14.5 13.5\n12 16.0 16.9 13.5";
    let line = line_of(bananas(), readings(table), 12.0);
    assert!(line.findings.iter().any(|f| f.kind == OffSetPoint), "{line:#?}");
    assert!(line.reason.contains("read it again") || line.hours_to_limit.is_some());
    // A small step in one reading is not told before anybody could read it again.
    let small = readings("0 13.5 14.5 13.5\n12 14.9 15.5 13.5");
    check(&line_of(bananas(), small, 12.0), Ok, &[], "");
}

/// Defrost and the hour after are no excursion.
#[test]
fn defrost_and_the_hour_after_are_not_judged() {
    let table = "0 13.5 14.5 13.5 chilled\n6 13.5 14.5 13.5 chilled\n12 25 22 13.5 defrost\n\
                 13 18 17 13.5 chilled";
    let line = line_of(bananas(), readings(table), 13.0);
    check(&line, Ok, &[], "Supply 13.5");
    // Beyond the hour it counts.
    let later = format!("{table}\n13.5 16.4 17 13.5 chilled\n15 16.5 17 13.5 chilled");
    let line = line_of(bananas(), readings(&later), 15.0);
    assert!(line.state >= Act && line.findings[0].kind == OffSetPoint, "{line:#?}");
}

/// A defrost between two of a logger's rows shows as one warm row with supply the warmer.
#[test]
fn an_unnoted_defrost_is_not_judged() {
    let mut rows = hourly(0, 24, |_| (13.5, 14.5), 13.5);
    rows.extend(readings("25 19.5 16.5 13.5 chilled src=logger"));
    check(&line_of(bananas(), rows, 25.0), Ok, &[], "");
}

#[test]
fn frozen_is_judged_on_return() {
    // Supply warm, return in order: a resting compressor.
    let fine = readings("0 -18.5 -19.4 -20 frozen\n12 -19 -19.5 -20 frozen");
    check(&line_of(beef(), fine, 12.0), Ok, &[], "");
    let warm = readings("0 -24 -20 -20\n12 -22 -16.5 -20\n14 -22 -16.4 -20\n16 -22 -16.3 -20");
    let line = line_of(beef(), warm, 16.0);
    assert!(line.findings.iter().any(|f| f.kind == OffSetPoint), "{line:#?}");
    assert!(line.findings[0].what.contains("Return air"), "{line:#?}");
}

/// Noise, daily swings and defrosts of sound boxes call nobody.
#[test]
fn sound_boxes_are_quiet() {
    let day = |h: f64| units::math::sin(h / 24.0 * std::f64::consts::TAU);
    let chilled = hourly(0, 96, |h| (13.5, 14.5 + 0.4 * day(h)), 13.5);
    let saw = |h: f64| if (h as i64 / 2) % 2 == 0 { (-24.0, -20.8) } else { (-18.8, -19.2) };
    let frozen = hourly(0, 96, |h| (saw(h).0, saw(h).1 + 0.3 * day(h)), -20.0);
    for at in 24..=96 {
        let at = f64::from(at);
        let line = line_of(bananas(), chilled.clone(), at);
        check(&line, Ok, &[], "");
        assert_eq!((line.hours_to_limit, line.hours_to_limit_p90), (None, None));
        let line = line_of(beef(), frozen.clone(), at);
        check(&line, Ok, &[], "");
        assert_eq!(line.hours_to_limit, None);
    }
}

#[test]
fn a_slow_drift_is_told_with_hours() {
    let rows = hourly(0, 72, |h| (-22.0 + 0.05 * h, -20.0 + 0.05 * h), -20.0);
    let line = line_of(beef(), rows, 72.0);
    assert!(line.findings.iter().any(|f| f.kind == Drift), "{line:#?}");
    let hours = line.hours_to_limit.unwrap();
    // Return -16.4 °C now and 0.05 K/h: air needs 28 h to -15 °C; a frozen block lags some two
    // days behind, and melting ice slows it.
    assert!((28.0..100.0).contains(&hours), "{hours}");
    let [low, high] = line.hours_to_limit_p90.unwrap();
    assert!(low < hours && hours < high);
}

#[test]
fn falling_air_is_recovery() {
    let rows = hourly(0, 48, |h| (13.6, (20.0 - 0.08 * h).max(15.0)), 13.5);
    let line = line_of(bananas(), rows, 48.0);
    // The cargo itself is told to be over its limit, and coming down.
    check(&line, Watch, &[OffSetPoint, WideSpread], "cargo was loaded warm");
    assert_eq!(line.hours_to_limit, None);
}

#[test]
fn a_growing_spread_is_weak_air() {
    let rows = hourly(0, 72, |h| (13.5, 14.5 + 0.05 * h), 13.5);
    let line = line_of(bananas(), rows, 72.0);
    assert!(line.findings.iter().any(|f| f.kind == WideSpread), "{line:#?}");
    let all: String = line.findings.iter().map(|f| f.what.as_str()).collect();
    assert!(all.contains("ice on the coil"), "{all}");
}

#[test]
fn supply_near_freezing() {
    let grapes = || Some(listed("TABLE GRAPES", Some(-0.5)));
    let rows = hourly(0, 24, |h| if h > 20.0 { (-2.2, -1.0) } else { (-0.5, 0.3) }, -0.5);
    let line = line_of(grapes(), rows, 24.0);
    assert!(line.state >= Act, "{line:#?}");
    assert!(line.findings.iter().any(|f| f.kind == FreezingRisk), "{line:#?}");
    // -1.5 °C is 0.6 K over the berries' freezing point.
    let fine = hourly(0, 24, |_| (-1.2, 0.3), -0.5);
    check(&line_of(grapes(), fine, 24.0), Ok, &[], "");
}

/// Chilling: a warning at once, somebody today after 24 K·h or 24 h (our estimate).
#[test]
fn supply_under_the_lowest_safe_temperature() {
    let mangoes = || Some(listed("MANGOES", Some(11.0)));
    let short = hourly(0, 24, |h| if h > 20.0 { (9.8, 11.0) } else { (11.0, 12.0) }, 11.0);
    let line = line_of(mangoes(), short, 24.0);
    let chill = line.findings.iter().find(|f| f.kind == ChillingRisk).unwrap();
    assert_eq!(chill.state, Watch);
    let long = hourly(0, 40, |h| if h > 10.0 { (9.8, 11.0) } else { (11.0, 12.0) }, 11.0);
    let line = line_of(mangoes(), long, 40.0);
    let chill = line.findings.iter().find(|f| f.kind == ChillingRisk).unwrap();
    assert_eq!(chill.state, Act, "{line:#?}");
}

/// A study of cut flowers: 65 % RH at +0.5 °C froze the load (reference §1.3).
#[test]
fn drying_near_zero_freezes() {
    let rows = readings("0 0.5 1.2 0.5 rh=65\n12 0.5 1.2 0.5 rh=65");
    let line = line_of(Some(listed("CUT TULIPS", Some(0.5))), rows, 12.0);
    check(&line, Watch, &[FreezingRisk], "Humidity is set to 65 %");
    let onions = readings("0 0.5 1.2 0.5 rh=65\n12 0.5 1.2 0.5 rh=65");
    check(&line_of(Some(listed("ONIONS", Some(0.5))), onions, 12.0), Ok, &[], "");
}

#[test]
fn impossible_values_and_stuck_sensors() {
    let codes = readings("0 13.5 14.5 13.5\n12 999.9 14.5 13.5");
    let line = line_of(bananas(), codes, 12.0);
    assert!(line.findings.iter().any(|f| f.kind == ProbeFault), "{line:#?}");
    assert!(line.reason.contains("999.9"), "{}", line.reason);
    let mut stuck = hourly(0, 48, |h| (13.5, 14.5 + 0.05 * h), 13.5);
    for r in stuck.iter_mut().skip(10) {
        r.set(record::Channel::Supply, 13.4);
    }
    let line = line_of(bananas(), stuck, 48.0);
    let fault = line.findings.iter().find(|f| f.kind == ProbeFault).unwrap();
    assert!(fault.what.contains("may be stuck"), "{}", fault.what);
    // Equal figures on rounds are nothing odd.
    let rounds =
        readings("0 13.5 14.5 13.5\n12 13.5 15.8 13.5\n24 13.5 14.4 13.5\n36 13.5 15.6 13.5");
    check(&line_of(bananas(), rounds, 36.0), Ok, &[], "");
}

#[test]
fn swapped_sensors() {
    let rows = hourly(0, 24, |_| (13.5, 12.4), 13.5);
    let line = line_of(bananas(), rows, 24.0);
    let fault = line.findings.iter().find(|f| f.kind == ProbeFault).unwrap();
    assert!(fault.what.contains("swapped"), "{}", fault.what);
    // In cold air the unit heats and supply is rightly the warmer.
    let mut cold = hourly(0, 24, |_| (13.5, 12.4), 13.5);
    for r in &mut cold {
        r.set(record::Channel::Ambient, 2.0);
    }
    check(&line_of(bananas(), cold, 24.0), Ok, &[], "");
}

#[test]
fn one_probe_wanders() {
    let mut rows = hourly(0, 60, |_| (4.0, 4.8), 4.0);
    for (h, r) in rows.iter_mut().enumerate() {
        r.set(record::Channel::Probe1, 4.5);
        r.set(record::Channel::Probe2, 4.6);
        r.set(record::Channel::Probe3, 4.4 + 0.03 * h as f64);
    }
    let line = line_of(Some(listed("ORANGES", Some(4.0))), rows, 60.0);
    check(&line, Watch, &[ProbeFault], "Probe 3 has moved");
}

#[test]
fn an_alarm_alone_and_with_trouble() {
    let alone = readings("0 13.5 14.5 13.5\n12 13.5 14.5 13.5 alarm=A7");
    check(&line_of(bananas(), alone, 12.0), Watch, &[Alarm], "alarm A7");
    let gone = readings("0 13.5 14.5 13.5 alarm=A7\n12 13.5 14.5 13.5");
    check(&line_of(bananas(), gone, 12.0), Ok, &[], "");
    let both = readings("0 15.0 15.9 13.5\n12 15.0 15.9 13.5 alarm=A7");
    let line = line_of(bananas(), both, 12.0);
    check(&line, line.state.max(Act), &[OffSetPoint, Alarm], "alarm A7");
}
