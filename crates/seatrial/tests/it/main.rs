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
    file.map_or_else(String::new, |f| {
        String::from_utf8_lossy(&f.bytes).into_owned()
    })
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
    run(
        &Trial {
            boxes: 5,
            days: 2,
            seed: 1,
        },
        &mut |d, t| seen.push((d, t)),
    );
    assert!(seen.len() >= 5 && seen.windows(2).all(|w| w[0].0 <= w[1].0));
    assert!(seen.last().is_some_and(|(d, t)| d == t));
}

/// ISO 9735: UNT counts the segments from UNH to UNT, UNZ the messages
/// (reference/interchange.md §1.1). Cells once, numbers right, ISO 9711 form.
#[test]
fn lists_are_sound() {
    let out = trial(120, 7, 2);
    let lists: Vec<_> = out
        .files
        .iter()
        .filter(|f| f.path.starts_with("lists/"))
        .collect();
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
    for f in out.files.iter().filter(|f| f.path.ends_with(".csv")) {
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
    let loggers: Vec<_> = out
        .files
        .iter()
        .filter(|f| f.path.starts_with("loggers/"))
        .collect();
    let last = std::str::from_utf8(&loggers.last().unwrap().bytes).unwrap();
    assert!(
        last.lines()
            .last()
            .unwrap()
            .starts_with(&out.end.to_string())
    );
    let rounds: Vec<_> = out
        .files
        .iter()
        .filter(|f| f.path.starts_with("rounds/"))
        .collect();
    assert_eq!(rounds.len(), 6);
    let last = std::str::from_utf8(&rounds.last().unwrap().bytes).unwrap();
    assert!(
        last.lines()
            .last()
            .unwrap()
            .starts_with(&out.end.to_minute())
    );
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
    assert_eq!(
        kinds.len(),
        seatrial::faults::FaultKind::ALL.len(),
        "{kinds:?}"
    );
}
