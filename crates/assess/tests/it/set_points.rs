//! Set points.

use record::FindingKind::{FreezingRisk, NoSetPoint, OddSetPoint, WrongSetPoint};
use record::State::{Act, Ok, Watch};

use crate::bench::{check, line_of, listed, readings};

fn shown(cargo: &str, ordered: Option<f64>, display: f64, air: &str) -> record::BoxLine {
    let rows = format!("0 {air} {display}\n12 {air} {display}");
    line_of(Some(listed(cargo, ordered)), readings(&rows), 12.0)
}

fn kinds(line: &record::BoxLine) -> Vec<record::FindingKind> {
    line.findings.iter().map(|f| f.kind).collect()
}

#[test]
fn display_against_list() {
    let line = shown("BANANAS", Some(13.5), 14.0, "14.0 14.9");
    check(&line, Act, &[WrongSetPoint], "14.0 °C, the loading list orders 13.5 °C");
    // 56 °F on the list is 13.33 °C; the display rounds to a tenth.
    check(&shown("BANANAS", Some(120.0 / 9.0), 13.3, "13.3 14.2"), Ok, &[], "");
}

/// TT Club: °C/°F confusion comes first among the causes of claims (reference §7.1).
#[test]
fn fahrenheit() {
    let line = shown("TABLE GRAPES", Some(1.1), 34.0, "1.2 2.0");
    assert!(kinds(&line).contains(&OddSetPoint) && kinds(&line).contains(&WrongSetPoint));
    assert!(line.findings.iter().any(|f| f.what.contains("looks like °F")), "{line:#?}");
    let list = shown("TABLE GRAPES", Some(34.0), 1.1, "1.2 2.0");
    assert!(kinds(&list).contains(&OddSetPoint), "{list:#?}");
    // Neither: 13.5 is a plain banana set point.
    check(&shown("BANANAS", Some(13.5), 13.5, "13.5 14.4"), Ok, &[], "");
}

/// TT Club: plus/minus confusion comes second.
#[test]
fn lost_sign() {
    let line = shown("FROZEN FISH", Some(-18.0), 18.0, "-18 -17.5");
    assert!(kinds(&line).contains(&OddSetPoint) && kinds(&line).contains(&WrongSetPoint));
    assert!(line.findings.iter().any(|f| f.what.contains("sign lost")), "{line:#?}");
    let list = line_of(Some(listed("FROZEN FISH", Some(18.0))), readings("0 -22 -18 -"), 0.0);
    assert!(list.findings.iter().any(|f| f.what.contains("lost its sign")), "{list:#?}");
}

#[test]
fn too_near_freezing() {
    // -0.9 °C is the peach's published freezing point.
    let line = shown("PEACHES", Some(-1.0), -1.0, "-0.6 0.2");
    assert!(kinds(&line).contains(&FreezingRisk), "{line:#?}");
    // The trade's usual -1.4 °C for beef lies above -1.7 °C and inside its band.
    check(&shown("CHILLED BEEF", Some(-1.4), -1.4, "-1.4 -0.8"), Ok, &[], "");
}

#[test]
fn outside_the_band_asks() {
    let line = shown("BANANAS", Some(7.0), 7.0, "7.0 7.9");
    assert!(kinds(&line).contains(&OddSetPoint) && line.state >= Act, "{line:#?}");
    let little = shown("ORANGES", Some(10.0), 10.0, "10 10.9");
    check(&little, Watch, &[OddSetPoint], "carries it at 2 to 8 °C");
    check(&shown("FROZEN BEEF", Some(-25.0), -25.0, "-29 -25"), Ok, &[], "");
}

#[test]
fn no_set_point_is_asked_for() {
    let full = line_of(Some(listed("BANANAS", None)), readings("0 13.5 14.4 13.5"), 0.0);
    check(&full, Act, &[NoSetPoint], "orders no temperature");
    assert_eq!(full.set_point_c, Some(13.5));
    let mut list = listed("", None);
    list.full = None;
    let open = line_of(Some(list.clone()), Vec::new(), 0.0);
    check(&open, Watch, &[NoSetPoint], "does not say whether");
    list.full = Some(false);
    check(&line_of(Some(list), Vec::new(), 0.0), Ok, &[], "empty");
}
