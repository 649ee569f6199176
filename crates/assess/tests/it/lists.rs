//! Rounds, lists, conflicts, and what little data must not break.

use record::FindingKind::{Conflict, MissedRound, NeverRead, NotListed};
use record::State::{Ok, Watch};

use crate::bench::{check, line_of, listed, readings};

/// Australian code of practice 2007 §10.6: at most 12 h between checks.
#[test]
fn missed_rounds() {
    let table = "0 13.5 14.4 13.5";
    let list = || Some(listed("BANANAS", Some(13.5)));
    check(&line_of(list(), readings(table), 12.0), Ok, &[], "");
    check(&line_of(list(), readings(table), 13.0), Watch, &[MissedRound], "Nothing read for 13 h");
    check(&line_of(list(), Vec::new(), 13.0), Watch, &[NeverRead], "never read");
}

#[test]
fn later_readings_are_not_looked_at() {
    let table = "0 13.5 14.4 13.5\n12 - - - dead";
    check(&line_of(Some(listed("BANANAS", Some(13.5))), readings(table), 6.0), Ok, &[], "");
}

#[test]
fn read_but_not_listed() {
    let line = line_of(None, readings("0 13.5 14.4 13.5\n12 13.5 14.4 13.5"), 12.0);
    check(&line, Watch, &[NotListed], "no loading list");
    // Still judged by its display.
    let line = line_of(None, readings("0 16 16.4 13.5\n12 16 16.4 13.5"), 12.0);
    assert!(line.findings.len() >= 2, "{line:#?}");
}

#[test]
fn two_values_of_one_source() {
    let table = "0 13.5 14.4 13.5\n0 13.6 14.4 13.5";
    let line = line_of(Some(listed("BANANAS", Some(13.5))), readings(table), 0.0);
    check(&line, Watch, &[Conflict], "supply_c");
    let two_sources = "0 13.5 14.4 13.5\n0 13.6 14.4 13.5 src=logger";
    let line = line_of(Some(listed("BANANAS", Some(13.5))), readings(two_sources), 0.0);
    check(&line, Ok, &[], "");
}

#[test]
fn little_data() {
    // Probes only.
    let line = line_of(Some(listed("BANANAS", Some(13.5))), readings("0 - - - p1=13.9"), 0.0);
    check(&line, Ok, &[], "Probes 13.9");
    // Probes sit in a few boxes: they pull the estimate, and do not set it.
    assert!((line.cargo_c.unwrap() - 13.9).abs() < 0.25, "{:?}", line.cargo_c);
    // Display set point only.
    let line = line_of(Some(listed("", Some(13.5))), readings("0 - - 13.5"), 0.0);
    check(&line, Ok, &[], "");
    assert_eq!((line.supply_c, line.return_c), (None, None));
    // Rows out of order.
    let table = "12 15.1 15.9 13.5\n0 13.5 14.5 13.5\n24 15.1 16.0 13.5";
    let line = line_of(Some(listed("BANANAS", Some(13.5))), readings(table), 24.0);
    assert!(line.findings[0].what.contains("since 2026-03-10 12:00 UTC"), "{line:#?}");
}
