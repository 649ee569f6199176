//! Worked cases A to P of the reference on cold treatment, §5.3: built from the rules' text, not
//! published examples. Schedule 1.11 °C for 14 days, three probes, tenths of a degree.

use treatment::{Effect, Kind, TempUnit, Verdict, precool};

use crate::bench_rule::{Rule, check, d, hour, hourly, hours, in_units, listed, row, slurry};

fn us() -> treatment::Schedule {
    treatment::by_id("us-t107-a-1.11").unwrap().schedule().unwrap()
}

#[test]
fn a_clean() {
    let rows: Vec<_> = (0..=400)
        .map(|h| {
            let cells: Vec<String> = [20, 26, 30]
                .map(|reached| if h >= reached { "0.9".into() } else { down(reached - h) })
                .into();
            row(f64::from(h), &cells.iter().map(String::as_str).collect::<Vec<_>>())
        })
        .collect();
    let a = check(&us(), None, &rows);
    assert_eq!(a.verdict, Verdict::TimeMet);
    assert_eq!((hours(a.started_at), hours(a.time_met_at)), (Some(30.0), Some(366.0)));
    let counted = rows.iter().filter(|r| r.at >= hour(30.0) && r.at <= hour(366.0)).count();
    assert_eq!(counted, 337);
    assert!(a.breaches.is_empty());
}

/// Tenths above 1.1 while the probe still has `hours` to go.
fn down(hours: i32) -> String {
    format!("{:.1}", 1.1 + 0.2 * f64::from(hours))
}

#[test]
fn b_and_c_correction_has_the_right_sign() {
    for (reading, raw, max_c, bad) in [("0.2", "1.2", 1.0, false), ("-0.2", "1.0", 1.2, true)] {
        let c = slurry(TempUnit::C, &[(1, "0.0"), (2, reading), (3, "0.0")]);
        let mut rows = hourly(3, &[(1, ["0.9", raw, "0.9"])]);
        for r in &mut rows {
            r.probes[1] = Some(d(raw));
        }
        // Start with a row that complies either way.
        rows[0].probes[1] = Some(d("0.9"));
        let rule = us();
        let a = check(&rule, Some(&c), &rows);
        assert_eq!(a.probes[1].max_c, Some(max_c));
        assert_eq!(a.breaches.iter().any(|b| b.kind == Kind::Excursion), bad, "{reading}");
    }
}

#[test]
fn d_step_without_excursion() {
    let a = check(&us(), None, &hourly(3, &[(0, ["0.4"; 3]), (1, ["0.8"; 3])]));
    assert_eq!(a.verdict, Verdict::InvalidPending);
    assert_eq!(a.breaches.len(), 3);
    assert!(a.breaches.iter().all(|b| b.kind == Kind::Step && b.worst_c == Some(0.4)));
    assert_eq!(a.breaches[0].effect, Effect::InvalidUnlessVerified);
}

#[test]
fn e_step_ok() {
    let a = check(&us(), None, &hourly(3, &[(0, ["0.5"; 3]), (1, ["0.8"; 3])]));
    assert!(a.breaches.is_empty());
}

#[test]
fn f_step_in_fahrenheit() {
    let rule = Rule::new().with("unit", "\"f\"").with("hold_max", "34.0").with("step_max", "0.7");
    for (later, bad) in [("33.7", false), ("33.8", true)] {
        let rows = [row(0.0, &["33.0"; 3]), row(1.0, &[later; 3])];
        let a = in_units(&rule.schedule(), None, [TempUnit::F; 4], &rows);
        assert_eq!(a.breaches.len(), if bad { 3 } else { 0 }, "{later}");
        if bad {
            // 0.8 °F in kelvin.
            assert!((a.breaches[0].worst_c.unwrap() - 0.8 * 5.0 / 9.0).abs() < 1e-9);
        }
    }
}

#[test]
fn g_gap() {
    let rows = [row(10.0, &["0.9"; 3]), row(11.0 + 1.0 / 60.0, &["0.9"; 3])];
    let a = check(&us(), None, &rows);
    assert_eq!(a.breaches.len(), 1);
    assert_eq!((a.breaches[0].kind, a.breaches[0].worst_c), (Kind::Gap, None));
    assert_eq!(a.breaches[0].probe, None);
    let a = Rule::new().with("gap_jitter_s", 120).check(&rows);
    assert!(a.breaches.is_empty());
}

#[test]
fn h_excursion_and_planning() {
    let rows = hourly(600, &[(200, ["0.9", "0.9", "1.3"]), (201, ["0.9", "0.9", "1.0"])]);
    let a = Rule::new().check(&rows);
    assert_eq!(a.verdict, Verdict::InvalidPending);
    assert_eq!(hours(a.started_at), Some(0.0));
    assert_eq!(a.time_met_at, None);
    assert_eq!(hours(a.planning_restart_at), Some(201.0));
    assert_eq!(hours(a.planning_finish_at), Some(537.0));
    assert_eq!(listed(&a), ["excursion probe3 200-200 invalid_unless_verified"]);
    assert_eq!(a.breaches[0].worst_c, Some(1.3));
}

#[test]
fn i_tenths_against_hundredths() {
    let rule = Rule::new().with("hold_max", "1.67");
    let a = rule.check(&hourly(2, &[(1, ["1.7", "0.9", "0.9"])]));
    assert_eq!(listed(&a), ["excursion probe1 1-1 invalid_unless_verified"]);
}

#[test]
fn j_precool() {
    let rule = us();
    let loads = precool(&rule, d("2.4")).unwrap();
    assert!(loads.load && !loads.begin, "+0.18 is loaded, but treatment may not begin");
    let back = precool(&rule, d("2.50")).unwrap();
    assert!(!back.load && !back.begin, "+0.28 goes back");
    let cold = precool(&rule, d("2.22")).unwrap();
    assert!(cold.load && cold.begin);
}

#[test]
fn k_probe_lost() {
    let rows: Vec<_> = (0..=200)
        .map(|h| row(f64::from(h), &[if h >= 100 { "" } else { "0.9" }, "0.9", "0.9"]))
        .collect();
    let a = check(&us(), None, &rows);
    assert_eq!(a.verdict, Verdict::InvalidPending);
    assert_eq!(listed(&a), ["fault probe1 100-200 invalid_unless_verified"]);
    assert_eq!((a.planning_restart_at, a.planning_finish_at), (None, None));
}

#[test]
fn l_four_hour_rule() {
    let rule = treatment::by_id("cn-in-transit-regime").unwrap().schedule().unwrap();
    for (empty, restarts) in [(4, 0), (5, 1)] {
        let rows: Vec<_> = (0..=50)
            .map(|h| {
                let lost = (11..11 + empty).contains(&h);
                row(f64::from(h), &["0.9", if lost { "" } else { "0.9" }, "0.9"])
            })
            .collect();
        let a = check(&rule, None, &rows);
        assert_eq!(a.restarts, restarts, "{empty} empty cells");
        assert_eq!(a.verdict, Verdict::Running);
        assert_eq!(hours(a.started_at), Some(if restarts == 0 { 0.0 } else { 16.0 }));
        assert!(a.rehearsal, "the row is a stand-in");
    }
}

#[test]
fn m_extra_probe_fails() {
    let rows: Vec<_> = (0..=20)
        .map(|h| row(f64::from(h), &["0.9", "0.9", "0.9", if h == 9 { "1.2" } else { "1.0" }]))
        .collect();
    let rule = treatment::by_id("au-es-citrus-1.11").unwrap().schedule().unwrap();
    let a = check(&rule, None, &rows);
    assert_eq!(listed(&a), ["excursion probe4 9-9 invalid_unless_verified"]);
    assert_eq!(a.verdict, Verdict::InvalidPending);
}

#[test]
fn n_no_correction_allowed() {
    let rule = treatment::by_id("ph-au-grape-medfly-1.1").unwrap().schedule().unwrap();
    let c = slurry(TempUnit::C, &[(1, "0.0"), (2, "0.1"), (3, "0.0")]);
    let a = check(&rule, Some(&c), &hourly(3, &[]));
    assert_eq!(a.verdict, Verdict::NotStartable);
    assert_eq!(a.probes[1].acceptable, Some(false));
    assert_eq!(a.probes[0].acceptable, Some(true));
}

#[test]
fn o_calibration_limit_of_the_day() {
    let c = slurry(TempUnit::C, &[(1, "0.0"), (2, "0.5"), (3, "0.0")]);
    for (id, verdict) in
        [("au-es-citrus-1.11-2019", Verdict::Running), ("au-es-citrus-1.11", Verdict::NotStartable)]
    {
        let rule = treatment::by_id(id).unwrap().schedule().unwrap();
        assert_eq!(check(&rule, Some(&c), &hourly(3, &[])).verdict, verdict, "{id}");
    }
}

#[test]
fn p_extension() {
    let rule = treatment::by_id("us-t107-e-shape").unwrap().schedule().unwrap();
    let rows = |odd: &[u32], value: &str| -> Vec<_> {
        (0..=560)
            .map(|h| {
                let warm = odd.contains(&h);
                row(f64::from(h), &["-0.6", "-0.6", if warm { value } else { "-0.6" }])
            })
            .collect()
    };
    // Without the step rule, which the shape does not need.
    let mut rule = rule;
    rule.step_max = None;
    let a = check(&rule, None, &rows(&[30, 100, 200], "0.5"));
    assert!((a.extension_h - 24.0).abs() < 1e-6);
    assert_eq!(hours(a.time_met_at), Some(23.0 * 24.0), "22 d + 3 x 8 h = 23 d");
    assert_eq!(a.breaches[0].effect, Effect::Extend);
    let a = check(&rule, None, &rows(&[30, 100, 200], "1.2"));
    assert_eq!(a.verdict, Verdict::Cancelled);
    assert_eq!((a.breaches[0].effect, hours(a.time_met_at)), (Effect::Cancel, None));
    assert!(a.rehearsal);
}
