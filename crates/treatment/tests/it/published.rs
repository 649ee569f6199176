//! Published figures: conversions (reference on cold treatment §5.1), schedule pairs (§5.2),
//! efficacy statements (§5.4), and the rows that ship.

use treatment::efficacy::mortality_lower_bound_pct;
use treatment::{Evidence, TempUnit, Verdict};

use crate::bench_rule::{Rule, check, hourly, in_units, row};

/// §5.1, arithmetic.
#[test]
fn fahrenheit_in_celsius() {
    for (f, c) in [
        ("31", -0.5556),
        ("31.5", -0.2778),
        ("33", 0.5556),
        ("34", 1.1111),
        ("35", 1.6667),
        ("36", 2.2222),
        ("37.4", 3.0),
    ] {
        let rule = Rule::new().with("hold_max", "10");
        let a = in_units(&rule.schedule(), None, [TempUnit::F; 4], &[row(0.0, &[f; 3])]);
        assert!((a.probes[0].max_c.unwrap() - c).abs() < 5e-5, "{f}");
    }
}

/// §5.1: hours of whole days; readings are one more than hours.
#[test]
fn days_in_hours() {
    for (days, h) in [
        (12, 288.0),
        (14, 336.0),
        (15, 360.0),
        (16, 384.0),
        (17, 408.0),
        (18, 432.0),
        (20, 480.0),
        (22, 528.0),
        (24, 576.0),
        (25, 600.0),
    ] {
        let rule = Rule::new().with("days", days);
        let rows = hourly(h as u32, &[]);
        let a = rule.check(&rows);
        assert_eq!((a.required_h, a.verdict), (h, Verdict::TimeMet), "{days} d");
        assert_eq!(rows.len() as f64, h + 1.0);
        let a = rule.check(&rows[..rows.len() - 1]);
        assert_eq!((a.verdict, a.remaining_h), (Verdict::Running, 1.0), "{days} d");
    }
}

/// §5.2: 14 d at 1.11 °C passes the current T107-a row and fails the 15 d row.
#[test]
fn fourteen_days_are_not_fifteen() {
    let rows = hourly(336, &[]);
    for (id, verdict) in
        [("us-t107-a-1.11", Verdict::TimeMet), ("us-south-america-1.11", Verdict::Running)]
    {
        let rule = treatment::by_id(id).unwrap().schedule().unwrap();
        assert_eq!(check(&rule, None, &rows).verdict, verdict, "{id}");
    }
}

/// §5.4: n treated without survivors, the published lower bounds at 95 % confidence (Fang 2019,
/// Grout 2011, Wu 2024, De Lima; read in secondary texts).
#[test]
fn efficacy_statements() {
    for (n, pct) in [
        (37_792, 99.9921),
        (71_756, 99.9958),
        (100_556, 99.9970),
        (104_420, 99.9971),
        (30_000, 99.99),
    ] {
        let bound = mortality_lower_bound_pct(n, 0.95).unwrap();
        assert!((bound - pct).abs() < 5e-5, "{n}: {bound}");
    }
    const PROBIT_9_PCT: f64 = 99.9968;
    assert!(mortality_lower_bound_pct(71_756, 0.95).unwrap() < PROBIT_9_PCT);
    assert!(mortality_lower_bound_pct(100_556, 0.95).unwrap() > PROBIT_9_PCT);
    assert_eq!(mortality_lower_bound_pct(0, 0.95), None);
}

/// Pairs of °C and days of reference §2.2 and §3, by the row's name.
#[test]
fn shipped_rows_hold_the_published_pairs() {
    for (id, hold, days, evidence) in [
        ("us-t107-a-1.11", "1.11", "14", Evidence::Secondary),
        ("us-t107-a-1.67", "1.67", "16", Evidence::Secondary),
        ("us-t107-a-2.22", "2.22", "18", Evidence::Secondary),
        ("us-t107-a-until-2002-1.1", "1.1", "12", Evidence::Secondary),
        ("us-t107-a-until-2002-1.67", "1.67", "14", Evidence::Secondary),
        ("us-t107-a-until-2002-2.2", "2.2", "16", Evidence::Secondary),
        ("us-south-america-1.11", "1.11", "15", Evidence::Secondary),
        ("us-south-america-1.67", "1.67", "17", Evidence::Secondary),
        ("au-es-citrus-1.11", "1.11", "14", Evidence::Official),
        ("au-es-citrus-1.67", "1.67", "16", Evidence::Official),
        ("au-es-citrus-2.22", "2.22", "18", Evidence::Official),
        ("au-es-citrus-3.0", "3", "20", Evidence::Official),
        ("au-es-lemon-1.11", "1.11", "14", Evidence::Official),
        ("au-es-lemon-2.0", "2", "16", Evidence::Official),
        ("au-es-lemon-3.0", "3", "18", Evidence::Official),
        ("jp-au-grape-1.0", "1", "16", Evidence::Official),
        ("jp-au-grape-2.0", "2", "18", Evidence::Official),
        ("jp-au-grape-3.0", "3", "20", Evidence::Official),
        ("ph-au-grape-qfly-1.0", "1", "12", Evidence::Official),
        ("ph-au-grape-qfly-3.0", "3", "14", Evidence::Official),
        ("ph-au-grape-medfly-1.1", "1.1", "12", Evidence::Official),
        ("ph-au-grape-medfly-2.2", "2.2", "16", Evidence::Official),
        ("ph-au-grape-medfly-3.0", "3", "20", Evidence::Official),
        ("id-au-apple-2.0", "2", "16", Evidence::Official),
        ("id-au-apple-3.0", "3", "20", Evidence::Official),
        ("au-tas-qfly-0", "0.5", "14", Evidence::Official),
        ("au-tas-qfly-lemon-3", "3.5", "14", Evidence::Official),
        ("au-tas-medfly-2", "2.5", "18", Evidence::Official),
        ("au-tas-medfly-lemon-3", "3.5", "18", Evidence::Official),
        ("eu-orange-2022", "2", "25", Evidence::Secondary),
        ("eu-orange-a", "0", "16", Evidence::Secondary),
        ("eu-orange-b", "2", "20", Evidence::Secondary),
        ("kr-za-orange", "0", "24", Evidence::Secondary),
        ("study-de-lima-medfly-orange-3", "3", "20", Evidence::Secondary),
        ("study-de-lima-qfly-lemon-2", "2", "14", Evidence::Secondary),
        ("us-t107-e-shape", "-0.55", "22", Evidence::Unverified),
    ] {
        let s = treatment::by_id(id).unwrap_or_else(|| panic!("{id}")).schedule().unwrap();
        assert_eq!(
            (s.hold_max.to_string(), s.days.to_string()),
            (hold.into(), days.into()),
            "{id}"
        );
        assert_eq!(s.evidence, evidence, "{id}");
    }
    // Printed as "below": the figure itself does not comply.
    let grout = treatment::by_id("study-grout-1.4").unwrap().schedule().unwrap();
    assert_eq!((grout.start_max.to_string(), grout.days.to_string()), ("1".into(), "16".into()));
    let at = |t: &str| check(&grout, None, &hourly(2, &[(1, [t; 3])])).breaches.len();
    assert_eq!((at("1.3"), at("1.4")), (0, 3));
}

#[test]
fn every_shipped_row_is_whole_and_marked() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data/schedules");
    let mut on_disk: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|f| f.unwrap().path().file_stem().unwrap().to_string_lossy().into_owned())
        .collect();
    on_disk.sort();
    let ids: Vec<&str> = treatment::shipped().iter().map(|s| s.id).collect();
    assert_eq!(ids, on_disk, "a file of data/schedules is not embedded, or the other way round");
    for s in treatment::shipped() {
        let row = s.schedule().unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(row.id, s.id);
        assert!(row.warnings.is_empty(), "{}: {:?}", s.id, row.warnings);
        assert!(row.source.len() > 20 && row.printed_threshold.is_some(), "{}", s.id);
        assert_eq!(row.is_rehearsal(), row.title.contains("(rehearsal)"), "{}", s.id);
        let a = check(&row, None, &hourly(1, &[]));
        assert_eq!(a.rehearsal, row.evidence == Evidence::Unverified, "{}", s.id);
        let text = treatment::words::report(&a, &row).to_lowercase();
        assert_eq!(text.contains("rehearsal"), a.rehearsal, "{}", s.id);
        assert!(!text.contains("passed") && !text.contains("successful"), "{}", s.id);
    }
}
