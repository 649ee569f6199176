//! The whole trial, judged from outside by its files.

use std::collections::{BTreeMap, BTreeSet};

use record::UnitId;
use seatrial::{Output, Trial, run};

fn trial(boxes: usize, days: u32, seed: u64) -> Output {
    run(&Trial { boxes, days, seed }, &mut |_, _| ())
}

/// A file as text; empty when there is none.
fn text(out: &Output, path: &str) -> String {
    let mut all = out.files.iter().chain(&out.truth);
    let file = all.find(|f| f.path == path);
    file.map_or_else(String::new, |f| String::from_utf8_lossy(&f.bytes).into_owned())
}

#[test]
fn same_seed_same_bytes() {
    let (a, b, c) = (trial(40, 7, 5), trial(40, 7, 5), trial(40, 7, 6));
    assert!(a == b);
    assert!(a.files != c.files);
}

#[test]
fn progress_reaches_the_end() {
    let mut seen = Vec::new();
    run(&Trial { boxes: 5, days: 2, seed: 1 }, &mut |d, t| seen.push((d, t)));
    assert!(seen.len() >= 5 && seen.windows(2).all(|w| w[0].0 <= w[1].0));
    assert!(seen.last().is_some_and(|(d, t)| d == t));
}

/// ISO 9735: UNT counts the segments from UNH to UNT, UNZ the messages
/// (reference/interchange.md §1.1). Cells once, numbers right, ISO 9711 form.
#[test]
fn lists_are_sound() {
    let out = trial(120, 7, 2);
    let lists: Vec<_> = out.files.iter().filter(|f| f.path.starts_with("lists/")).collect();
    assert_eq!(lists.len(), 2);
    assert!(lists[0].path < lists[1].path);
    for list in lists {
        let all = std::str::from_utf8(&list.bytes).unwrap();
        let segments: Vec<&str> = all.lines().map(|l| l.strip_suffix('\'').unwrap()).collect();
        assert!(segments[0].starts_with("UNA") && segments[1].starts_with("UNB"));
        let unt = format!("UNT+{}+", segments.len() - 3);
        assert!(segments[segments.len() - 2].starts_with(&unt), "{unt}");
        assert!(segments.last().unwrap().starts_with("UNZ+1+"));
        let (mut cells, mut units) = (BTreeSet::new(), BTreeSet::new());
        for s in &segments {
            if let Some(rest) = s.strip_prefix("LOC+147+") {
                let cell = record::Cell::parse(rest.strip_suffix("::5").unwrap()).unwrap();
                assert!(cells.insert(cell), "{cell}");
                let deck = (82..=88).contains(&cell.tier);
                assert!(deck || (2..=10).contains(&cell.tier), "{cell}");
            }
            if let Some(rest) = s.strip_prefix("EQD+CN+") {
                let number = rest.split('+').next().unwrap();
                if !number.is_empty() {
                    let unit = UnitId::from_text(number).unwrap();
                    assert!(unit.check_digit_ok() && unit.as_str().starts_with("QQQU"));
                    assert!(units.insert(unit));
                }
            }
        }
        assert!(cells.len() > 120);
    }
}

/// The contract, §2.2: names of the columns; every row has as many cells as the header.
#[test]
fn readings_have_the_contracts_columns() {
    let known = "time_utc unit set_point_c supply_c return_c ambient_c probe1_c probe2_c \
                 probe3_c probe4_c power_kw on_power mode alarm source remark";
    let known: BTreeSet<&str> = known.split(' ').collect();
    let out = trial(30, 3, 4);
    let mut spreadsheets = 0;
    let readings =
        |f: &&seatrial::ShipFile| f.path.ends_with(".csv") && !f.path.starts_with("treatments/");
    for f in out.files.iter().filter(readings) {
        let all = std::str::from_utf8(&f.bytes).unwrap();
        let sheet = all.starts_with('\u{feff}');
        spreadsheets += u32::from(sheet);
        let mark = if sheet { ';' } else { ',' };
        let mut lines = all.trim_start_matches('\u{feff}').lines();
        let header: Vec<&str> = lines.next().unwrap().split(mark).collect();
        assert!(header.iter().all(|h| known.contains(h)), "{header:?}");
        for line in lines {
            assert_eq!(line.split(mark).count(), header.len(), "{}: {line}", f.path);
        }
    }
    assert_eq!(spreadsheets, 1);
}

#[test]
fn last_rows_are_at_the_end() {
    let out = trial(30, 3, 4);
    let loggers: Vec<_> = out.files.iter().filter(|f| f.path.starts_with("loggers/")).collect();
    let last = std::str::from_utf8(&loggers.last().unwrap().bytes).unwrap();
    assert!(last.lines().last().unwrap().starts_with(&out.end.to_string()));
    let rounds: Vec<_> = out.files.iter().filter(|f| f.path.starts_with("rounds/")).collect();
    assert_eq!(rounds.len(), 6);
    let last = std::str::from_utf8(&rounds.last().unwrap().bytes).unwrap();
    assert!(last.lines().last().unwrap().starts_with(&out.end.to_minute()));
}

/// Every kind of fault from 60 boxes on, and none twice in a box.
#[test]
fn every_fault_is_there() {
    let out = trial(60, 14, 9);
    let faults = text(&out, "truth/faults.csv");
    let mut kinds = BTreeMap::new();
    for line in faults.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        assert_eq!(cells.len(), 15, "{line}");
        *kinds.entry(cells[2].to_owned()).or_insert(0) += 1;
    }
    assert_eq!(kinds.len(), seatrial::faults::FaultKind::ALL.len(), "{kinds:?}");
}

/// The smallest and the largest ship, and the shortest voyage.
#[test]
fn sizes() {
    let one = trial(1, 1, 3);
    assert!(text(&one, "truth/faults.csv").lines().count() == 2);
    assert!(!text(&one, "rounds/2026-03-03-am.csv").is_empty());
    let many = trial(3000, 1, 3);
    let rows = text(&many, "loggers/2026-03-02.csv").lines().count();
    assert!(rows > 3000 * 15, "{rows}");
}

/// What people typed stands in the named line, and is wrong in about three rows of a thousand.
#[test]
fn slips_are_in_the_files() {
    let out = trial(200, 14, 8);
    let rounds: usize = out
        .files
        .iter()
        .filter(|f| f.path.starts_with("rounds/"))
        .map(|f| String::from_utf8_lossy(&f.bytes).lines().count() - 1)
        .sum();
    let slips = text(&out, "truth/slips.csv");
    let mut wrong = 0;
    for slip in slips.lines().skip(1) {
        let s: Vec<&str> = slip.split(',').collect();
        let line: usize = s[1].parse().unwrap();
        if line == 0 {
            continue;
        }
        let file = text(&out, s[0]);
        let row = file.lines().nth(line - 1).unwrap().replace(',', ".");
        assert!(row.contains(s[2]) && row.contains(s[5]), "{slip}: {row}");
        wrong += usize::from(matches!(s[4], "digit_slip" | "sign_lost" | "fahrenheit_typed"));
    }
    let share = wrong as f64 / rounds as f64;
    assert!((0.001..0.006).contains(&share), "{wrong} of {rounds}");
}

/// Sound units hold their cargo within its limits once it has settled; faulty ones of the deadly
/// kinds do not for ever.
#[test]
fn sound_boxes_hold_and_faulty_ones_fail() {
    let out = trial(150, 14, 12);
    let faults = text(&out, "truth/faults.csv");
    let faulty: BTreeMap<&str, Vec<&str>> = faults
        .lines()
        .skip(1)
        .map(|l| l.split(',').collect::<Vec<_>>())
        .map(|c| (c[0], c))
        .collect();
    for line in text(&out, "truth/cargo.csv").lines().skip(1) {
        let c: Vec<&str> = line.split(',').collect();
        if faulty.contains_key(c[1]) || c[0] < "2026-03-10" {
            continue;
        }
        let cargo = seatrial::cargo::by_id(c[2]).unwrap();
        let mean: f64 = c[3].parse().unwrap();
        assert!(mean < cargo.warm_limit_c && mean > cargo.cold_limit_c, "{line}");
    }
    for kind in ["plug_tripped", "compressor_failure"] {
        let f = faulty.values().find(|f| f[2] == kind).unwrap();
        let warmest = f[9];
        assert!(!warmest.is_empty(), "{f:?}");
        // The banana box without power is a matter of hours, not past saving.
        assert!(kind != "plug_tripped" || warmest > out.end.to_string().as_str(), "{f:?}");
    }
}

/// Power per box at sea: 4.38 kW for one more box (Yeh et al. 2022, quoted in
/// reference/cargo-and-box.md §6.2); a fleet of sound units lies near it.
#[test]
fn mean_power_is_that_of_a_ship() {
    let out = trial(150, 10, 12);
    let (mut sum, mut n) = (0.0, 0u32);
    for f in out.files.iter().filter(|f| f.path.starts_with("loggers/")) {
        for line in String::from_utf8_lossy(&f.bytes).lines().skip(1) {
            let c: Vec<&str> = line.split(',').collect();
            sum += c[9].parse::<f64>().unwrap();
            n += 1;
        }
    }
    let mean = sum / f64::from(n);
    assert!((3.3..5.5).contains(&mean), "{mean} kW");
}

/// During defrost air near the unit reads more than 10 K over its mean (Di Renzo et al.,
/// reference/cargo-and-box.md §3.2), and an hour later it is back.
#[test]
fn defrost_shows_and_passes() {
    let out = trial(80, 6, 21);
    let mut rows: BTreeMap<String, Vec<(String, f64, f64)>> = BTreeMap::new();
    for f in out.files.iter().filter(|f| f.path.starts_with("loggers/")) {
        for line in String::from_utf8_lossy(&f.bytes).lines().skip(1) {
            let c: Vec<&str> = line.split(',').collect();
            if let (Ok(set), Ok(ret)) = (c[2].parse::<f64>(), c[4].parse::<f64>()) {
                let of_unit = rows.entry(c[1].to_owned()).or_default();
                of_unit.push((c[11].to_owned(), set, ret));
            }
        }
    }
    let (mut defrosts, mut all, mut highest) = (0, 0, 0.0f64);
    let (mut after, mut back) = (0, 0);
    for unit in rows.values() {
        all += unit.len();
        for w in unit.windows(3).filter(|w| w[1].0 == "defrost" && w[1].1 < -10.0) {
            defrosts += 1;
            highest = highest.max(w[1].2 - w[0].2);
            after += 1;
            back += usize::from(w[2].2 < w[2].1 + 3.0);
        }
    }
    assert!(highest > 10.0, "{highest}");
    let share = defrosts as f64 / all as f64;
    assert!((0.005..0.10).contains(&share), "{share}");
    assert!(back as f64 > 0.8 * f64::from(after), "{back} of {after}");
}
