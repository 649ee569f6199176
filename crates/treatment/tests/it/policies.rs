//! Every policy on every kind of breach, and what happens when they meet.

use treatment::{Kind, Verdict};

use crate::bench_rule::{Rule, hour, hourly, hours, listed, row};

/// A file with one breach of each kind and the rule that lists it.
fn one_of(kind: Kind) -> (Rule, Vec<treatment::Row>) {
    let rule = Rule::new().with("days", 2).with("step_max", "0.5").with("hold_min", "-0.5");
    let odd = |t: &'static str| hourly(80, &[(10, [t, "0.9", "0.9"])]);
    match kind {
        Kind::Excursion => (rule, odd("1.2")),
        Kind::Fault => (rule, odd("")),
        Kind::Cold => (rule.without("step_max"), odd("-0.6")),
        Kind::Step => {
            (rule, hourly(80, &[(10, ["0.3", "0.9", "0.9"]), (11, ["0.6", "0.9", "0.9"])]))
        }
        Kind::Gap => {
            let mut rows = hourly(80, &[]);
            rows.retain(|r| r.at != hour(10.0));
            (rule, rows)
        }
    }
}

fn field(kind: Kind) -> String {
    format!("on_{}", kind.as_str())
}

#[test]
fn each_policy_on_each_kind() {
    for kind in Kind::ALL {
        let (base, rows) = one_of(kind);
        let clear = Kind::ALL.into_iter().fold(base, |r, k| r.policy(&field(k), "warn"));
        let a = clear.check(&rows);
        assert_eq!(
            (a.verdict, hours(a.time_met_at)),
            (Verdict::TimeMet, Some(48.0)),
            "{kind:?} warn"
        );
        assert_eq!((a.breaches.len(), a.breaches[0].kind), (1, kind));

        let a = clear.clone().policy(&field(kind), "restart").check(&rows);
        let next = if matches!(kind, Kind::Step) { 10.0 } else { 11.0 };
        assert_eq!((a.restarts, a.verdict), (1, Verdict::TimeMet), "{kind:?} restart");
        assert_eq!(hours(a.started_at), Some(next), "{kind:?}");
        assert_eq!(hours(a.time_met_at), Some(next + 48.0));

        let a = clear.clone().policy(&field(kind), "cancel").check(&rows);
        assert_eq!(a.verdict, Verdict::Cancelled, "{kind:?} cancel");
        assert_eq!((hours(a.started_at), a.time_met_at), (Some(0.0), None));
        let found = if kind == Kind::Gap { 11.0 } else { 10.0 };
        assert_eq!(a.elapsed_h, found);

        let a = clear.policy(&field(kind), "invalid_unless_verified").check(&rows);
        assert_eq!(a.verdict, Verdict::InvalidPending, "{kind:?} invalid");
        assert_eq!(hours(a.started_at), Some(0.0));
        assert_eq!(hours(a.planning_restart_at), Some(next));
        assert_eq!(hours(a.planning_finish_at), Some(next + 48.0));
    }
}

/// 3.1.11: cancel before restart, restart before an official's decision; each keeps its word.
#[test]
fn several_at_one_reading_time() {
    let rule = Rule::new().with("step_max", "0.3").policy("on_step", "restart");
    let mut rows = hourly(
        30,
        &[(10, ["1.4", "0.9", "0.9"]), (11, ["1.3", "0.9", "0.9"]), (12, ["1.1", "0.9", "0.9"])],
    );
    rows.retain(|r| r.at != hour(9.0));
    let a = rule.check(&rows);
    assert_eq!(a.restarts, 1);
    assert_eq!((a.verdict, hours(a.started_at)), (Verdict::Running, Some(12.0)));
    assert_eq!(
        listed(&a),
        [
            "step probe1 8-10 restart",
            "gap - 8-10 invalid_unless_verified",
            "excursion probe1 10-11 invalid_unless_verified",
        ]
    );
    let a = rule.policy("on_gap", "cancel").check(&rows);
    assert_eq!((a.verdict, a.restarts, hours(a.started_at)), (Verdict::Cancelled, 0, Some(0.0)));
    assert_eq!(listed(&a)[0], "step probe1 8-10 restart");
}

#[test]
fn a_restart_closes_what_was_pending() {
    let rule = Rule::new().with("days", 1).policy("on_gap", "restart");
    let mut rows = hourly(80, &[(5, ["1.2", "0.9", "0.9"])]);
    rows.retain(|r| r.at != hour(20.0));
    let a = rule.check(&rows);
    assert_eq!((a.verdict, a.restarts), (Verdict::TimeMet, 1));
    assert_eq!((hours(a.started_at), hours(a.time_met_at)), (Some(21.0), Some(45.0)));
    assert_eq!((a.planning_restart_at, a.planning_finish_at), (None, None));
    assert_eq!(listed(&a), ["excursion probe1 5-5 invalid_unless_verified", "gap - 19-21 restart"]);
}

#[test]
fn while_waiting_breaches_only_warn() {
    let rule = Rule::new().policy("on_excursion", "restart").policy("on_gap", "cancel");
    let mut rows = hourly(
        20,
        &[(5, ["1.2", "0.9", "0.9"]), (6, ["1.2", "0.9", "0.9"]), (8, ["1.2", "1.3", "0.9"])],
    );
    rows.retain(|r| r.at != hour(7.0));
    let a = rule.check(&rows);
    assert_eq!((a.verdict, a.restarts, hours(a.started_at)), (Verdict::Running, 1, Some(9.0)));
    assert_eq!(
        listed(&a),
        ["excursion probe1 5-8 restart", "gap - 6-8 warn", "excursion probe2 8-8 warn"]
    );
    // Waiting at the end of the file: no clock, so no start.
    let a = rule.check(&rows[..8]);
    assert_eq!((a.verdict, a.started_at, a.elapsed_h), (Verdict::NotStarted, None, 0.0));
    assert_eq!((a.required_h, a.remaining_h, a.restarts), (336.0, 336.0, 1));
}

/// A fault that ends inside a gap: one gap, one fault, and the step across both.
#[test]
fn a_fault_ending_inside_a_gap() {
    let rule = Rule::new().with("fault_hours", 2).with("step_max", "0.3");
    let rows = [
        row(0.0, &["0.9"; 3]),
        row(1.0, &["", "0.9", "0.9"]),
        row(2.0, &["", "0.9", "0.9"]),
        row(9.0, &["0.5", "0.9", "0.9"]),
        row(10.0, &["0.5", "0.9", "0.9"]),
    ];
    let a = rule.check(&rows);
    assert_eq!(
        listed(&a),
        ["step probe1 0-9 invalid_unless_verified", "gap - 2-9 invalid_unless_verified"],
        "2 h without a reading are not more than 2 h"
    );
    assert_eq!(hours(a.planning_restart_at), Some(9.0));
}

/// 3.1.13: days are counted both ways and the larger is taken.
#[test]
fn warm_days_by_calendar_and_by_period() {
    let rule = Rule::new().with("days", 10).extending("0.5", "0.25", "2.0").with("hold_max", "1.5");
    // Start at 12:00. Warm at 23:00 and 01:00: two calendar days, one 24 h period.
    let rows = |warm: &[u32]| -> Vec<_> {
        (12..=400)
            .map(|h| {
                row(f64::from(h), &["0.4", if warm.contains(&h) { "0.6" } else { "0.4" }, "0.4"])
            })
            .collect()
    };
    let a = rule.check(&rows(&[23, 25]));
    assert_eq!((a.extension_h, a.required_h), (12.0, 252.0));
    assert_eq!(hours(a.time_met_at), Some(12.0 + 252.0));
    assert_eq!(listed(&a), ["excursion probe2 23-23 extend", "excursion probe2 25-25 extend"]);
    // 11:00 and 13:00 of the second day: one calendar day, two periods.
    let a = rule.check(&rows(&[35, 37]));
    assert_eq!(a.extension_h, 12.0);
    // Twice in one day of both kinds.
    assert_eq!(rule.check(&rows(&[40, 42])).extension_h, 6.0);
    // A warm reading in the extension lengthens it again; one after the end does not.
    let a = rule.check(&rows(&[40, 12 + 245]));
    assert_eq!((a.extension_h, hours(a.time_met_at)), (12.0, Some(12.0 + 252.0)));
    let a = rule.check(&rows(&[40, 12 + 247]));
    assert_eq!((a.extension_h, hours(a.time_met_at)), (6.0, Some(12.0 + 246.0)));
    assert_eq!(listed(&a)[1], "excursion probe2 259-259 warn");
}

#[test]
fn extension_with_a_restart_and_a_pending_breach() {
    let rule = Rule::new().with("days", 3).extending("0.5", "0.25", "2.0").with("hold_max", "1.5");
    let mut rows: Vec<_> = (0..=200)
        .map(|h| row(f64::from(h), &["0.4", if h == 10 || h == 40 { "0.6" } else { "0.4" }, "0.4"]))
        .collect();
    rows.retain(|r| r.at != hour(20.0));
    // The restart forgets the warm day of the clock before.
    let a = rule.clone().policy("on_gap", "restart").check(&rows);
    assert_eq!((hours(a.started_at), a.extension_h), (Some(21.0), 6.0));
    assert_eq!(hours(a.time_met_at), Some(21.0 + 78.0));
    // Pending: the clock counts both days, the planning clock the one since its own start.
    let a = rule.check(&rows);
    assert_eq!((a.verdict, a.extension_h, a.required_h), (Verdict::InvalidPending, 12.0, 84.0));
    assert_eq!(hours(a.planning_finish_at), Some(21.0 + 78.0));
}

#[test]
fn above_the_hard_limit_cancels_and_is_counted() {
    let rule = Rule::new().with("days", 3).extending("0.5", "0.25", "2.0").with("hold_max", "1.5");
    let rows: Vec<_> = (0..=50)
        .map(|h| {
            let v = match h {
                30 => "1.0",
                31 => "2.0",
                32 => "2.1",
                33 => "3.0",
                _ => "0.4",
            };
            row(f64::from(h), &["0.4", v, "0.4"])
        })
        .collect();
    let a = rule.check(&rows);
    assert_eq!((a.verdict, a.elapsed_h, a.extension_h), (Verdict::Cancelled, 32.0, 6.0));
    assert_eq!(listed(&a), ["excursion probe2 30-33 cancel"]);
    assert_eq!((a.breaches[0].worst_c, a.breaches[0].readings), (Some(3.0), 4));
    assert_eq!(rule.check(&rows[..32]).verdict, Verdict::Running, "equal complies");
}

/// A clock may start inside a run over the soft limit; the run is one of its own.
#[test]
fn starting_over_the_soft_limit() {
    let rule =
        Rule::new().with("days", 1).extending("0.5", "0.5", "2.0").policy("on_gap", "restart");
    let mut rows: Vec<_> = (0..=60)
        .map(|h| row(f64::from(h), &["0.4", if h < 9 { "0.6" } else { "0.4" }, "0.4"]))
        .collect();
    rows.retain(|r| r.at != hour(7.0));
    let a = rule.check(&rows);
    assert_eq!((hours(a.started_at), a.extension_h), (Some(8.0), 12.0));
    assert_eq!(listed(&a), ["excursion probe2 0-8 extend", "gap - 6-8 restart"]);
}
