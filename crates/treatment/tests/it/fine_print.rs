//! The contract's fine print 3.1, point by point where the worked cases do not reach.

use treatment::{Effect, Kind, TempUnit, Verdict};

use crate::bench_rule::{Rule, d, hour, hourly, hours, in_units, listed, row};

/// 3.1.1: 34.0 °F is over a limit of 1.11 °C.
#[test]
fn fahrenheit_is_not_rounded() {
    let s = Rule::new().schedule();
    let a = in_units(&s, None, [TempUnit::F; 4], &[row(0.0, &["33.9"; 3]), row(1.0, &["34.0"; 3])]);
    assert_eq!(a.breaches.len(), 3);
    assert_eq!(a.breaches[0].worst_c, Some(1.111_111_111));
    assert_eq!(hours(a.started_at), Some(0.0));
}

/// 3.1.3: any order, one reading time an instant, a value beats an empty cell, the warmer counts.
#[test]
fn rows_of_one_instant_are_one_reading_time() {
    let rows = [
        row(2.0, &["0.9", "0.9", "0.9"]),
        row(1.0, &["0.9", "", ""]),
        row(0.0, &["0.9", "0.9", "0.9"]),
        row(1.0, &["0.5", "0.8", ""]),
        row(1.0, &["", "1.2", "0.7"]),
    ];
    let a = Rule::new().check(&rows);
    assert_eq!(a.reading_times, 3);
    assert_eq!(listed(&a), ["excursion probe2 1-1 invalid_unless_verified"]);
    assert_eq!(a.breaches[0].worst_c, Some(1.2));
    assert_eq!(a.probes[0].min_c, Some(0.9), "the colder of two values is not judged");
}

/// 3.1.4: what is abnormal, and what is not a reading time.
#[test]
fn abnormal_readings() {
    // The ends of the range are readings; beyond them not.
    for (text, fault) in [("-40", false), ("-40.1", true), ("60", false), ("60.1", true)] {
        let a = Rule::new().check(&hourly(3, &[(2, [text, "0.9", "0.9"])]));
        assert_eq!(a.breaches.iter().any(|b| b.kind == Kind::Fault), fault, "{text}");
        assert_eq!(a.breaches.iter().any(|b| b.kind == Kind::Excursion), text == "60", "{text}");
    }
    // In °F the same range is -40 to 140.
    let s = Rule::new().schedule();
    let rows = |t: &str| [row(0.0, &["33"; 3]), row(1.0, &[t, "33", "33"])];
    for (text, fault) in [("140", false), ("140.1", true), ("-40", false), ("-40.1", true)] {
        let a = in_units(&s, None, [TempUnit::F; 4], &rows(text));
        assert_eq!(a.breaches.iter().any(|b| b.kind == Kind::Fault), fault, "{text} °F");
    }
    // An unchanged value is not abnormal.
    assert!(Rule::new().check(&hourly(100, &[])).breaches.is_empty());
    // All probes abnormal: no reading time, so a gap and no fault.
    let a = Rule::new().check(&hourly(4, &[(2, ["", "99", ""])]));
    assert_eq!(listed(&a), ["gap - 1-3 invalid_unless_verified"]);
    assert_eq!(a.reading_times, 4);
}

/// 3.1.4: a probe is at fault when more than `fault_hours` have passed since its last good
/// reading, across a gap too.
#[test]
fn fault_time_runs_from_the_last_good_reading() {
    let rule = Rule::new().with("fault_hours", 4).policy("on_gap", "warn");
    // One empty cell 5 h after the last good reading, because the record has a gap.
    let rows = [row(0.0, &["0.9"; 3]), row(5.0, &["", "0.9", "0.9"]), row(6.0, &["0.9"; 3])];
    let a = rule.check(&rows);
    assert_eq!(listed(&a), ["gap - 0-5 warn", "fault probe1 5-5 invalid_unless_verified"]);
    // Fine-grained rows: 4 h exactly is not more than 4 h.
    let rows: Vec<_> = (0..=40)
        .map(|k| {
            row(f64::from(k) / 4.0, &[if (1..=16).contains(&k) { "" } else { "0.9" }, "0.9", "0.9"])
        })
        .collect();
    assert!(rule.check(&rows).breaches.is_empty());
    let rows: Vec<_> = (0..=40)
        .map(|k| {
            row(f64::from(k) / 4.0, &[if (1..=17).contains(&k) { "" } else { "0.9" }, "0.9", "0.9"])
        })
        .collect();
    let a = rule.check(&rows);
    // The whole run is listed, from its first abnormal reading.
    assert_eq!(listed(&a), ["fault probe1 0.25-4.25 invalid_unless_verified"]);
    assert_eq!(a.breaches[0].readings, 17);
}

/// 3.1.5: steps across 15-minute rows, gaps and empty cells; jitter; equality.
#[test]
fn steps_compare_with_the_previous_good_reading() {
    let rule = Rule::new().with("step_max", "0.39").policy("on_gap", "warn").with("fault_hours", 9);
    let a = rule.check(&[row(0.0, &["0.4"; 3]), row(0.25, &["0.8", "0.4", "0.4"])]);
    assert_eq!(listed(&a), ["step probe1 0-0.25 invalid_unless_verified"]);
    let a = rule.check(&[row(0.0, &["0.4"; 3]), row(9.0, &["0.4", "0.79", "0.4"])]);
    assert_eq!(listed(&a), ["gap - 0-9 warn"], "0.39 complies with 0.39");
    let a = rule.check(&[row(0.0, &["0.8"; 3]), row(9.0, &["0.8", "0.3", "0.8"])]);
    assert_eq!(listed(&a)[0], "step probe2 0-9 invalid_unless_verified", "falls too, over a gap");
    let a = rule.check(&hourly(
        5,
        &[(0, ["0.4", "0.9", "0.9"]), (1, ["", "0.9", "0.9"]), (2, ["99", "0.9", "0.9"])],
    ));
    assert_eq!(listed(&a), ["step probe1 0-3 invalid_unless_verified"]);
    assert_eq!(a.breaches[0].worst_c, Some(0.5));
}

#[test]
fn jitter_widens_the_gap_test_only() {
    let rows: Vec<_> =
        (0..=336).map(|h| row(f64::from(h) * (1.0 + 1.0 / 3600.0), &["0.9"; 3])).collect();
    assert_eq!(Rule::new().check(&rows).breaches.len(), 336);
    let a = Rule::new().with("gap_jitter_s", 1).check(&rows);
    assert!(a.breaches.is_empty());
    assert_eq!(a.verdict, Verdict::TimeMet);
    // A reading a minute short of 14 days does not meet the time, whatever the jitter.
    let mut rows = hourly(335, &[]);
    rows.push(row(336.0 - 1.0 / 60.0, &["0.9"; 3]));
    assert_eq!(Rule::new().with("gap_jitter_s", 600).check(&rows).verdict, Verdict::Running);
}

/// 3.1.6: an empty cell neither ends an excursion nor counts in it.
#[test]
fn runs() {
    let rule = Rule::new().with("fault_hours", 9);
    let a = rule.check(&hourly(
        9,
        &[
            (2, ["1.2", "0.9", "0.9"]),
            (3, ["", "0.9", "0.9"]),
            (4, ["1.5", "0.9", "0.9"]),
            (6, ["1.2", "0.9", "0.9"]),
        ],
    ));
    assert_eq!(
        listed(&a),
        [
            "excursion probe1 2-4 invalid_unless_verified",
            "excursion probe1 6-6 invalid_unless_verified"
        ]
    );
    assert_eq!((a.breaches[0].readings, a.breaches[0].worst_c), (2, Some(1.5)));
    assert_eq!(hours(a.planning_restart_at), Some(7.0), "starts anew at every further breach");
}

#[test]
fn cold_side() {
    let rule = Rule::new().with("hold_min", "-1.0");
    let rows = hourly(
        6,
        &[(2, ["-1.1", "0.9", "0.9"]), (3, ["-1.3", "0.9", "0.9"]), (5, ["-1.0", "0.9", "0.9"])],
    );
    let a = rule.check(&rows);
    assert_eq!(listed(&a), ["cold probe1 2-3 warn"]);
    assert_eq!((a.breaches[0].worst_c, a.verdict), (Some(-1.3), Verdict::Running));
    let a = rule.clone().policy("on_cold", "restart").check(&rows);
    assert_eq!(listed(&a), ["cold probe1 2-3 restart"]);
    assert_eq!((a.restarts, hours(a.started_at)), (1, Some(4.0)));
    // 3.1.9: with a policy the start waits for the cold side, with a warning it does not.
    let rows = hourly(3, &[(0, ["-1.2", "0.9", "0.9"])]);
    assert_eq!(hours(rule.check(&rows).started_at), Some(0.0));
    assert_eq!(listed(&rule.check(&rows)), ["cold probe1 0-0 warn"], "the start itself is judged");
    let a = rule.policy("on_cold", "cancel").check(&rows);
    assert_eq!((hours(a.started_at), a.breaches.len()), (Some(1.0), 0));
}

/// 3.1.7: before the first start nothing is listed, and no pair reaches back before it.
#[test]
fn nothing_before_the_first_start() {
    let rule = Rule::new().with("step_max", "0.39");
    let rows = [
        row(0.0, &["5.0", "0.9", ""]),
        row(9.0, &["3.0", "0.9", "0.9"]),
        row(20.0, &["0.9", "0.9", "0.9"]),
        row(21.0, &["0.9", "0.9", "0.9"]),
    ];
    let a = rule.check(&rows);
    assert!(a.breaches.is_empty(), "{:?}", listed(&a));
    assert_eq!(hours(a.started_at), Some(20.0));
    assert_eq!(a.probes[0].max_c, Some(0.9), "the treatment's span, not the precooling's");
}

/// 3.1.7 and 3.1.10: time met is final; what follows is listed and changes nothing.
#[test]
fn time_met_is_final() {
    let mut rows = hourly(400, &[(350, ["5.0", "0.9", "0.9"])]);
    rows.retain(|r| r.at != hour(380.0));
    for policy in ["restart", "cancel", "invalid_unless_verified"] {
        let a = Rule::new().policy("on_excursion", policy).policy("on_gap", policy).check(&rows);
        assert_eq!((a.verdict, hours(a.time_met_at)), (Verdict::TimeMet, Some(336.0)));
        assert_eq!(listed(&a), ["excursion probe1 350-350 warn", "gap - 379-381 warn"]);
        assert_eq!((a.restarts, a.remaining_h), (0, 0.0));
    }
}

/// 3.1.8: extra probes only warn, but the start waits for them.
#[test]
fn extra_probes() {
    let rule = Rule::new().with("extra_probes_must_comply", "false").with("pulp_probes_min", 2);
    let rows: Vec<_> = (0..=10)
        .map(|h| {
            let fourth = match h {
                0 => "3.0",
                5 => "1.5",
                6 => "",
                _ => "0.9",
            };
            // Probe 1 is not fitted, so 2 and 3 are the first two by number.
            row(f64::from(h), &["", "0.9", "0.9", fourth])
        })
        .collect();
    let a = rule.check(&rows);
    assert_eq!(hours(a.started_at), Some(1.0));
    assert_eq!(listed(&a), ["excursion probe4 5-5 warn", "fault probe4 6-6 warn"]);
    assert_eq!(a.verdict, Verdict::Running);
    let must: Vec<bool> = a.probes.iter().map(|p| p.must_comply).collect();
    assert_eq!(must, [false, true, true, false]);
    // Its empty cell at the very end does not hold the time back.
    let rule = rule.with("days", "0.25");
    let a = rule.check(&rows[..8]);
    assert_eq!(hours(a.time_met_at), Some(7.0));
}

/// 3.1.9: the later reading of a gap or a step may itself be the new start.
#[test]
fn the_breaking_reading_may_start_the_next_clock() {
    let mut rows = hourly(20, &[]);
    rows.retain(|r| r.at != hour(8.0));
    let a = Rule::new().policy("on_gap", "restart").check(&rows);
    assert_eq!((a.restarts, hours(a.started_at)), (1, Some(9.0)));
    let a = Rule::new().check(&rows);
    assert_eq!(hours(a.planning_restart_at), Some(9.0));
}

/// 3.1.10: at the end every probe that must comply is read and at or below the limit.
#[test]
fn the_last_reading_must_comply_too() {
    let rule = Rule::new().with("fault_hours", 4).policy("on_excursion", "warn");
    let a = rule.check(&hourly(338, &[(336, ["", "0.9", "0.9"])]));
    assert_eq!((hours(a.time_met_at), a.elapsed_h), (Some(337.0), 337.0));
    let a = rule.check(&hourly(338, &[(336, ["0.9", "1.2", "0.9"])]));
    assert_eq!(hours(a.time_met_at), Some(337.0));
    // A breach found at that very reading counts.
    let a =
        Rule::new().with("step_max", "0.39").check(&hourly(340, &[(336, ["0.3", "0.9", "0.9"])]));
    assert_eq!((a.verdict, a.time_met_at), (Verdict::InvalidPending, None));
}

/// 3.1.12: once the planning clock has run its time it stands.
#[test]
fn planning_clock_that_has_run() {
    let a = Rule::new()
        .with("days", 1)
        .check(&hourly(60, &[(10, ["1.2", "0.9", "0.9"]), (40, ["1.2", "0.9", "0.9"])]));
    assert_eq!(a.verdict, Verdict::InvalidPending);
    assert_eq!(
        (hours(a.planning_restart_at), hours(a.planning_finish_at)),
        (Some(11.0), Some(35.0))
    );
    assert_eq!(
        listed(&a),
        ["excursion probe1 10-10 invalid_unless_verified", "excursion probe1 40-40 warn"]
    );
}

#[test]
fn too_few_probes() {
    let rows: Vec<_> = (0..4).map(|h| row(f64::from(h), &["0.9", "0.9", ""])).collect();
    let a = Rule::new().check(&rows);
    assert_eq!((a.verdict, a.verdict.exit_status()), (Verdict::NotStartable, 3));
    assert!(a.warnings.iter().any(|w| w.contains("2 pulp probes")), "{:?}", a.warnings);
    assert_eq!((a.started_at, a.required_h, a.elapsed_h), (None, 336.0, 0.0));
}

#[test]
fn wrong_unit_is_questioned() {
    let rows: Vec<_> = (0..9).map(|h| row(f64::from(h), &["33.5", "34.1", "0.9"])).collect();
    let ledger = Rule::new().ledger(&rows);
    let doubts = ledger.doubts("logger.csv");
    assert_eq!(doubts.len(), 2, "{doubts:?}");
    assert!(doubts[0].contains("logger.csv") && doubts[0].contains("probe1_c"));
}

/// A reading with more digits than a limit is not cut.
#[test]
fn long_decimals() {
    let mut rows = hourly(2, &[]);
    rows[1].probes[0] = Some(d("1.1100000001"));
    let a = Rule::new().check(&rows);
    assert_eq!(a.breaches[0].effect, Effect::InvalidUnlessVerified);
    rows[1].probes[0] = Some(d("1.1100000000"));
    assert!(Rule::new().check(&rows).breaches.is_empty());
}
