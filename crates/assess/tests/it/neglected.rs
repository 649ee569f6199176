//! Boxes that must not look fine: a defrost without end, cargo past its limit under a wrong set
//! point, probes that do not fall, rows without temperatures. (Common practice, no source.)

use record::FindingKind::{LongDefrost, MissedRound, OffSetPoint};
use record::State::{Act, Ok, Urgent, Watch};

use crate::bench::{check, line_of, listed, readings};

fn hourly(hours: std::ops::Range<u32>, row: &str) -> String {
    hours.map(|h| format!("{h} {row}\n")).collect()
}

#[test]
fn a_defrost_without_end() {
    let sound = hourly(0..24, "-19 -17.4 -18 frozen");
    let table = sound.clone() + &hourly(24..29, "15 -8 -18 defrost");
    let line = line_of(Some(listed("FROZEN MEAT", Some(-18.0))), readings(table.trim()), 28.0);
    check(&line, Act, &[LongDefrost], "In defrost");
    // One defrost and the hour after it are nobody's business.
    let table = sound + "24 15 -8 -18 defrost\n25 -15 -14 -18 frozen";
    let line = line_of(Some(listed("FROZEN MEAT", Some(-18.0))), readings(&table), 25.0);
    check(&line, Ok, &[], "");
}

#[test]
fn cargo_past_its_limit_under_a_wrong_set_point() {
    for (cargo, ordered, row) in [
        ("FROZEN MEAT", -18.0, "-9 -7.6 -8"),
        ("FROZEN MEAT", -18.0, "17.8 18.3 18"),
        ("BANANAS", 13.5, "-19 -17.5 -18"),
        ("TABLE GRAPES", -0.5, "5 5.6 5"),
    ] {
        let table = hourly(0..49, row);
        let line = line_of(Some(listed(cargo, Some(ordered))), readings(table.trim()), 48.0);
        assert_eq!((line.state, line.hours_to_limit), (Urgent, Some(0.0)), "{cargo} {row}");
    }
}

#[test]
fn probes_that_do_not_fall() {
    let table = hourly(0..49, "-19 -17.4 -18 frozen p1=-5.0");
    let line = line_of(Some(listed("FROZEN MEAT", Some(-18.0))), readings(table.trim()), 48.0);
    check(&line, Act, &[OffSetPoint], "steady");
}

#[test]
fn rows_without_temperatures() {
    let table = hourly(0..6, "3.9 4.8 4") + &hourly(6..24, "- - 4");
    let line = line_of(Some(listed("APPLES", Some(4.0))), readings(table.trim()), 23.0);
    check(&line, Watch, &[MissedRound], "no temperature since");
}
