//! Power lost, and hours left without it.

use record::FindingKind::PowerLost;
use record::State::{Act, Ok, Urgent};

use crate::bench::{check, line_of, listed, readings};

#[test]
fn living_cargo_without_power_is_urgent() {
    let table = "0 13.5 14.4 13.5 on amb=31\n12 13.5 14.4 13.5 on amb=31\n13 - - - dead amb=31";
    let line = line_of(Some(listed("BANANAS", Some(13.5))), readings(table), 14.0);
    check(&line, Urgent, &[PowerLost], "No power since 2026-03-10 13:00 UTC");
    assert!(line.reason.contains("at 31 °C ambient"), "{}", line.reason);
    assert!(line.action.contains("440 V"));
    assert!(line.hours_to_limit.is_some() && line.on_power == Some(false));
}

/// Frozen cargo has time: act, not urgent.
#[test]
fn frozen_cargo_without_power() {
    let table = "0 -24 -20 -20 on amb=30\n12 -24 -20 -20 on amb=30\n13 - - - dead";
    let line = line_of(Some(listed("FROZEN BEEF", Some(-20.0))), readings(table), 13.0);
    check(&line, Act, &[PowerLost], "No power since");
    assert!(line.hours_to_limit.unwrap() > 10.0);
}

#[test]
fn switched_off_counts_and_power_back_ends_it() {
    let off = readings("0 13.5 14.4 13.5 chilled\n12 - - - off");
    let line = line_of(Some(listed("BANANAS", Some(13.5))), off, 12.0);
    check(&line, Urgent, &[PowerLost], "Switched off since");
    let back = readings("0 13.5 14.4 13.5 on\n6 - - - dead\n12 13.6 14.6 13.5 on");
    check(&line_of(Some(listed("BANANAS", Some(13.5))), back, 12.0), Ok, &[], "");
}

/// A chilled cargo that nobody named is taken as living, unless vents are ordered closed.
#[test]
fn unnamed_chilled_cargo() {
    let table = "0 2 2.9 2 on\n12 - - - dead";
    let mut list = listed("", Some(2.0));
    let line = line_of(Some(list.clone()), readings(table), 12.0);
    check(&line, Urgent, &[PowerLost], "taken as living");
    list.vent_m3_h = Some(0.0);
    let line = line_of(Some(list), readings(table), 12.0);
    check(&line, Act, &[PowerLost], "No power");
}

/// Time already passed is taken off.
#[test]
fn hours_count_down() {
    let table = "0 -24 -20 -20 on amb=30\n1 - - - dead";
    let at = |h| {
        let list = Some(listed("FROZEN BEEF", Some(-20.0)));
        line_of(list, readings(table), h).hours_to_limit.unwrap()
    };
    assert!((at(2.0) - at(8.0) - 6.0).abs() < 0.1);
}
