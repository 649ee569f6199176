//! Spare parts: how likely a shelf runs empty, against tables of a statistics library.

use record::spares::{SparesAct, SparesFile};
use service::spares::{more_than, quantile, shelf};
use units::Utc;

/// Chance of running out and quantiles against scipy 1.17.1, `stats.nbinom(n = used + 0.5,
/// p = days / (days + ahead))`: `sf(n)` and `ppf`.
#[test]
fn chances_are_those_of_the_negative_binomial() {
    for (used, days, ahead, n, over, quantiles) in [
        (0, 10.0, 20.0, 0, 0.422_649_730_810_374_27, [0, 0, 4]),
        (2, 14.0, 14.0, 1, 0.602_252_435_582_566_9, [0, 2, 7]),
        (3, 14.0, 16.0, 4, 0.361_619_936_794_141_84, [0, 3, 10]),
        (20, 30.0, 10.0, 5, 0.642_646_122_254_594_2, [2, 7, 12]),
    ] {
        assert!((more_than(used, days, ahead, n) - over).abs() < 1e-12);
        assert_eq!([0.05, 0.5, 0.95].map(|p| quantile(used, days, ahead, p)), quantiles);
    }
}

#[test]
fn short_parts_stand_first_and_unknown_stays_blank() {
    let at = |d: u32| Utc::parse(&format!("2026-03-{d:02} 00:00")).unwrap();
    let mut f = SparesFile::default();
    let mut add = |act: SparesAct| f.add(&act, 1, "A");
    let counted = |part: &str, count, least| SparesAct::Counted {
        part: part.into(),
        count,
        least,
        at: at(1),
    };
    let used = |part: &str, count, day| SparesAct::Used {
        part: part.into(),
        count,
        unit: None,
        job: "change".into(),
        at: at(day),
    };
    add(counted("contactor", 9, None));
    add(counted("fan motor", 4, Some(1)));
    add(used("Fan motor", 3, 10));
    add(used("drier", 1, 11));
    add(counted("board", 0, Some(1)));
    let lines = shelf(&f, at(15), 16.0);
    let names: Vec<&str> = lines.iter().map(|l| l.part.as_str()).collect();
    assert_eq!(names, ["board", "Fan motor", "contactor", "drier"]);
    assert_eq!((lines[1].on_board, lines[1].used), (Some(1), 3));
    assert!(lines[1].runs_out.unwrap() > 0.5 && lines[1].short());
    assert_eq!((lines[3].on_board, lines[3].runs_out), (None, None));
    // Watched for less than a day: nothing is said of the days ahead.
    assert!(shelf(&f, at(1), 16.0).iter().all(|l| l.ahead.is_none()));
}
