//! An official's decisions as data.

use treatment::{Decision, Kind, NotDecisive, Verdict};

use crate::bench_rule::{Rule, hour, hourly, hours, listed};

fn decision(kind: Option<Kind>, probe: Option<u8>, from: f64, to: f64, verified: bool) -> Decision {
    Decision {
        kind,
        probe,
        from: hour(from),
        to: hour(to),
        verified,
        who: "A. Official, plant protection service".into(),
        decided_at: hour(500.0),
        document: "letter 12/2026".into(),
    }
}

fn broken() -> Vec<treatment::Row> {
    let mut rows = hourly(400, &[(100, ["0.9", "1.2", "0.9"]), (101, ["0.9", "1.3", "0.9"])]);
    rows.retain(|r| r.at != hour(200.0));
    rows
}

#[test]
fn verified_breaches_leave_the_clock_standing() {
    let rows = broken();
    let excursion = decision(Some(Kind::Excursion), Some(2), 100.0, 101.0, true);
    let gap = decision(Some(Kind::Gap), None, 199.0, 201.0, true);
    let a = Rule::new().decided(&rows, &[excursion.clone(), gap.clone()]);
    assert_eq!((a.verdict, hours(a.time_met_at)), (Verdict::TimeMet, Some(336.0)));
    assert_eq!(listed(&a), ["excursion probe2 100-101 verified", "gap - 199-201 verified"]);
    // One of two leaves the other open.
    let a = Rule::new().decided(&rows, &[excursion]);
    assert_eq!((a.verdict, hours(a.planning_restart_at)), (Verdict::InvalidPending, Some(201.0)));
    // A decision over everything in a time range.
    let a = Rule::new().decided(&rows, &[decision(None, None, 0.0, 300.0, true)]);
    assert_eq!(a.verdict, Verdict::TimeMet);
}

#[test]
fn a_decision_covers_no_more_than_it_says() {
    let rows = broken();
    let gap = decision(Some(Kind::Gap), None, 199.0, 201.0, true);
    for excursion in [
        decision(Some(Kind::Excursion), Some(2), 100.0, 100.0, true),
        decision(Some(Kind::Excursion), Some(3), 100.0, 101.0, true),
        decision(Some(Kind::Step), Some(2), 100.0, 101.0, true),
    ] {
        let a = Rule::new().decided(&rows, &[excursion, gap.clone()]);
        assert_eq!(a.verdict, Verdict::InvalidPending);
        assert_eq!(hours(a.planning_restart_at), Some(102.0));
    }
    // It has no say where the schedule does not leave it to an official.
    let all = decision(None, None, 0.0, 400.0, true);
    let a = Rule::new().policy("on_excursion", "cancel").decided(&rows, &[all]);
    assert_eq!(a.verdict, Verdict::Cancelled);
}

#[test]
fn refused_starts_the_clock_again() {
    let rows = broken();
    let no = decision(Some(Kind::Excursion), None, 100.0, 101.0, false);
    let gap = decision(Some(Kind::Gap), None, 199.0, 201.0, true);
    let a = Rule::new().decided(&rows, &[no.clone(), gap.clone()]);
    assert_eq!((a.verdict, a.restarts, hours(a.started_at)), (Verdict::Running, 1, Some(102.0)));
    assert_eq!(listed(&a)[0], "excursion probe2 100-101 refused");
    // The later decision stands, in whatever order they are given.
    let mut yes = decision(Some(Kind::Excursion), None, 100.0, 101.0, true);
    yes.decided_at = hour(600.0);
    let a = Rule::new().decided(&rows, &[yes, no, gap]);
    assert_eq!(a.verdict, Verdict::TimeMet);
}

#[test]
fn a_decision_must_be_signed() {
    let good = decision(None, None, 1.0, 2.0, true);
    assert_eq!(good.check(), Ok(()));
    let bad = |f: &dyn Fn(&mut Decision)| {
        let mut d = good.clone();
        f(&mut d);
        d.check()
    };
    assert_eq!(bad(&|d| d.who = " ".into()), Err(NotDecisive::Unsigned));
    assert_eq!(bad(&|d| d.document.clear()), Err(NotDecisive::Unsigned));
    assert_eq!(bad(&|d| d.to = hour(0.0)), Err(NotDecisive::Backwards));
    assert_eq!(bad(&|d| d.probe = Some(5)), Err(NotDecisive::Probe));
}
