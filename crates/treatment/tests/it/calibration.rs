//! Slurry readings (contract 3.1.1 and 3.1.2).

use treatment::{Calibration, NotSlurry, TempUnit, Verdict};

use crate::bench_rule::{Rule, check, d, hourly, in_units, listed, row, slurry};

/// The contract's example: raw 1.7 °C with slurry 0.0, 0.0, 0.1 is 1.6667 and within 1.67.
#[test]
fn the_mean_is_a_fraction() {
    let rule = Rule::new().with("hold_max", "1.67").schedule();
    let zero = [(2, "0"), (3, "0")];
    let c = |third: &'static str| {
        let mut all = vec![(1, "0.0"), (1, "0.0"), (1, third)];
        all.extend(zero);
        slurry(TempUnit::C, &all)
    };
    let rows = hourly(2, &[(1, ["1.7", "0.9", "0.9"])]);
    let a = check(&rule, Some(&c("0.1")), &rows);
    assert!(a.breaches.is_empty());
    assert_eq!(a.probes[0].max_c, Some(1.666_666_667));
    assert_eq!(a.probes[0].correction_c, Some(-0.033_333_333));
    assert_eq!(check(&rule, Some(&c("0.0")), &rows).breaches.len(), 1);
    // A hair below: 1.6666… against a limit of 1.6666.
    let tight = Rule::new().with("hold_max", "1.6666").schedule();
    assert_eq!(check(&tight, Some(&c("0.1")), &rows).breaches.len(), 1);
}

#[test]
fn limits_are_judged_on_every_reading() {
    let limited = Rule::new().with("calibration_limit", "0.3");
    let strict = Rule::new().with("calibration_correction", "false");
    let verdict = |rule: &Rule, readings: &[(usize, &str)]| {
        let a = check(&rule.schedule(), Some(&slurry(TempUnit::C, readings)), &hourly(3, &[]));
        (a.verdict, a.probes[0].acceptable)
    };
    let good = [(2, "0.0"), (3, "0.0")];
    let with = |mine: &[(usize, &'static str)]| [mine, &good].concat();
    let stop = (Verdict::NotStartable, Some(false));
    let go = (Verdict::Running, Some(true));
    // The mean is 0, a single reading is not within the limit.
    assert_eq!(verdict(&limited, &with(&[(1, "0.4"), (1, "-0.4")])), stop);
    assert_eq!(verdict(&limited, &with(&[(1, "0.3"), (1, "-0.3")])), go, "equal complies");
    assert_eq!(verdict(&strict, &with(&[(1, "0.1"), (1, "-0.1")])), stop);
    assert_eq!(verdict(&strict, &with(&[(1, "0.0"), (1, "-0.0")])), go);
    assert_eq!(verdict(&Rule::new(), &with(&[(1, "1.0")])), go, "no limit, no judgement");
}

#[test]
fn a_fitted_probe_without_a_row_is_not_acceptable() {
    let c = slurry(TempUnit::C, &[(1, "0.0"), (2, "0.0")]);
    let a = check(&Rule::new().schedule(), Some(&c), &hourly(3, &[(2, ["5", "0.9", "0.9"])]));
    assert_eq!(a.verdict, Verdict::NotStartable);
    assert_eq!((a.started_at, a.breaches.len()), (None, 0));
    assert_eq!(a.probes[2].acceptable, Some(false));
    assert_eq!((a.probes[2].correction_c, a.probes[2].slurry_mean_c), (None, None));
    assert_eq!(a.probes[2].max_c, None, "uncorrected is no figure");
    assert_eq!(a.probes[0].max_c, Some(5.0));
    // Without the file nothing is judged.
    let a = check(&Rule::new().schedule(), None, &hourly(3, &[]));
    assert_eq!((a.verdict, a.probes[2].acceptable), (Verdict::Running, Some(true)));
    assert_eq!(a.probes[2].correction_c, Some(0.0));
    assert_eq!(a.probes[3].acceptable, None, "not fitted");
}

#[test]
fn an_extra_probe_that_is_not_acceptable_stops_all() {
    let rule = Rule::new().with("extra_probes_must_comply", "false").with("calibration_limit", 0.3);
    let c = slurry(TempUnit::C, &[(1, "0"), (2, "0"), (3, "0"), (4, "0.4")]);
    let rows = [row(0.0, &["0.9"; 4])];
    assert_eq!(check(&rule.schedule(), Some(&c), &rows).verdict, Verdict::NotStartable);
    // Slurry readings of a probe that is not fitted change nothing.
    assert_eq!(check(&rule.schedule(), Some(&c), &hourly(3, &[])).verdict, Verdict::Running);
}

#[test]
fn fahrenheit_slurry_and_logger() {
    // 32.2 °F in ice: correction -0.2 °F = -1/9 K. Raw 34.2 °F is 34.0 °F = 1.1111 °C.
    let c = slurry(TempUnit::F, &[(1, "32.2"), (2, "32.0"), (3, "32.0")]);
    let rows = [row(0.0, &["33", "33", "33"]), row(1.0, &["34.2", "33", "33"])];
    let units = [TempUnit::F; 4];
    let celsius = Rule::new().schedule();
    let a = in_units(&celsius, Some(&c), units, &rows);
    assert_eq!(listed(&a), ["excursion probe1 1-1 invalid_unless_verified"], "over 1.11 °C");
    assert_eq!(a.probes[0].max_c, Some(1.111_111_111));
    assert_eq!(a.probes[0].slurry_mean_c, Some(0.111_111_111));
    let fahrenheit = Rule::new().with("unit", "\"f\"").with("hold_max", 34).schedule();
    let a = in_units(&fahrenheit, Some(&c), units, &rows);
    assert!(a.breaches.is_empty(), "within 34.0 °F: equal complies");
}

#[test]
fn what_is_no_slurry_reading() {
    let mut c = Calibration::new(TempUnit::C);
    assert_eq!(c.add(0, d("0")), Err(NotSlurry::Probe));
    assert_eq!(c.add(5, d("0")), Err(NotSlurry::Probe));
    assert_eq!(c.add(1, d("999.9")), Err(NotSlurry::Impossible));
    assert_eq!(c.add(1, d("0.1")), Ok(()));
    assert_eq!(Calibration::probe_number(" Probe3 "), Some(3));
    assert_eq!(Calibration::probe_number("probe5"), None);
}

/// The last decimal that is kept decides: with a correction of -1/30 the limit 1.67 lies at a raw
/// 1.703333333333 and a third, the cold side -1 at -0.966666666666 and two thirds.
#[test]
fn the_last_decimal_decides() {
    let rule = Rule::new().with("hold_max", "1.67").with("hold_min", "-1");
    let c = slurry(TempUnit::C, &[(1, "0.0"), (1, "0.0"), (1, "0.1"), (2, "0"), (3, "0")]);
    for (raw, bad) in [
        ("1.703333333333", false),
        ("1.703333333334", true),
        ("-0.966666666666", false),
        ("-0.966666666667", true),
    ] {
        let a = check(&rule.schedule(), Some(&c), &hourly(2, &[(1, [raw, "0.9", "0.9"])]));
        assert_eq!(a.breaches.len(), usize::from(bad), "{raw}");
    }
}
