//! A voyage through its front door: replay, rebuilding, order of taking, other writers.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod fleet;
mod proof;
mod rounds;
mod works;

use journal::{Journal, NewEntry, NewOriginal};
use proptest::prelude::*;
use record::digest::Digest;
use record::{FindingKind, UnitId};
use units::Utc;
use voyage::{AsOf, NamedBytes, Voyage};

const LIST: &str = "unit,stow,size_type,full,weight_kg,discharge_port,set_point_c,cargo\n\
QQQU1000011,0220382,45R1,true,28500,XXMAR,-18.0,FROZEN FISH\n\
QQQU1000027,0220182,45R1,true,24000,XXMAR,13.5,BANANAS\n\
QQQU1000032,0220582,45R1,true,24000,XXMAR,4.0,ORANGES\n";

fn named(name: &str, text: &str) -> Vec<NamedBytes> {
    vec![NamedBytes { name: name.into(), bytes: text.as_bytes().to_vec() }]
}

fn now() -> Utc {
    Utc::parse("2026-03-06 00:00").unwrap()
}

fn round(hour: u32, banana_c: f64) -> String {
    format!(
        "time_utc,unit,supply_c,return_c,on_power,source\n\
         2026-03-05 {hour:02}:00,QQQU1000011,-18.6,-17.5,1,round\n\
         2026-03-05 {hour:02}:04,QQQU1000027,{banana_c:.1},{:.1},1,round\n",
        banana_c + 0.8
    )
}

fn filled(dir: &tempfile::TempDir) -> Voyage {
    let mut v = Voyage::open_or_create(&dir.path().join("v")).unwrap();
    v.load(&named("list.csv", LIST), "AB", now()).unwrap();
    for (hour, t) in [(2, 13.4), (8, 13.5), (14, 13.6), (20, 13.4)] {
        let file = named("round.csv", &round(hour, t));
        v.take(&file, "AB", now(), &mut |_, _| {}).unwrap();
    }
    let second = LIST.replace("0220582", "0220584").replace("13.5", "13.3");
    v.load(&named("list2.csv", &second), "CD", now()).unwrap();
    v
}

/// Everything a screen shows, as text: equal texts, equal state.
fn shown(v: &Voyage) -> String {
    let unit = UnitId::from_text("QQQU1000027").unwrap();
    format!(
        "{:?}\n{:?}\n{:?}\n{:?}",
        v.held(),
        v.watch(AsOf::Latest).unwrap(),
        v.box_view(&unit, AsOf::Latest).unwrap(),
        v.history(&unit, None, AsOf::Latest).unwrap()
    )
}

#[test]
fn state_is_replayed_from_the_file() {
    let dir = tempfile::tempdir().unwrap();
    let v = filled(&dir);
    let before = shown(&v);
    drop(v);
    assert_eq!(shown(&Voyage::open(&dir.path().join("v")).unwrap()), before);
}

/// Every entry written again, in order, into a new file gives the same state, the same hashes and
/// the same root.
#[test]
fn state_is_rebuilt_identically() {
    let dir = tempfile::tempdir().unwrap();
    let v = filled(&dir);
    let copy_path = dir.path().join("copy");
    let mut copy = Journal::open_or_create(&copy_path).unwrap();
    for e in v.journal().entries(1).unwrap() {
        let files: Vec<(String, Vec<u8>)> = e
            .originals
            .iter()
            .map(|o| (o.name.clone(), v.original(&o.sha256).unwrap().unwrap().1))
            .collect();
        let originals: Vec<NewOriginal<'_>> =
            files.iter().map(|(name, bytes)| NewOriginal { name, bytes }).collect();
        let mut w = copy.begin().unwrap();
        for series in v.journal().series().unwrap() {
            let all = v.journal().rows(&series, Utc::from_ms(i64::MIN), Utc::from_ms(i64::MAX));
            for row in all.unwrap().iter().filter(|r| r.entry == e.seq) {
                w.row(&series, row.t, &row.bytes).unwrap();
            }
        }
        let new =
            NewEntry { kind: &e.kind, at: e.at, who: &e.who, body: &e.body, originals: &originals };
        let (seq, hash) = w.commit(&new).unwrap();
        assert_eq!((seq, hash), (e.seq, e.sha256));
    }
    drop(copy);
    assert_eq!(shown(&Voyage::open(&copy_path).unwrap()), shown(&v));
    let roots = ["v", "copy"].map(|f| Voyage::verify(&dir.path().join(f)).unwrap());
    assert_eq!(roots[0], roots[1]);
    assert_eq!(roots[0].problems, Vec::<String>::new());
}

#[test]
fn originals_are_kept_byte_for_byte() {
    let dir = tempfile::tempdir().unwrap();
    let v = filled(&dir);
    let (name, bytes) = v.original(&Digest::of(LIST.as_bytes())).unwrap().unwrap();
    assert_eq!((name.as_str(), bytes.as_slice()), ("list.csv", LIST.as_bytes()));
    assert_eq!(v.entries(10).unwrap().len(), 6);
}

/// A second program writes a list; the first takes notice when it looks.
#[test]
fn other_writers_are_noticed() {
    let dir = tempfile::tempdir().unwrap();
    let mut v = filled(&dir);
    let mut other = Voyage::open(&dir.path().join("v")).unwrap();
    assert!(!v.refresh().unwrap());
    let fewer: String = LIST.lines().take(3).map(|l| format!("{l}\n")).collect();
    let outcome = other.load(&named("fewer.csv", &fewer), "CD", now()).unwrap();
    assert_eq!(outcome.changes.removed, 1);
    assert!(v.refresh().unwrap());
    assert_eq!(v.held(), other.held());
}

/// A box that a later list leaves out has left the ship, unless somebody still reads it.
#[test]
fn boxes_that_left_leave_the_watch_list() {
    let dir = tempfile::tempdir().unwrap();
    let mut v = filled(&dir);
    let fewer: String =
        LIST.lines().filter(|l| !l.contains("1000027")).map(|l| format!("{l}\n")).collect();
    v.load(&named("fewer.csv", &fewer), "CD", now()).unwrap();
    let on_list = |v: &Voyage| {
        let list = v.watch(AsOf::Latest).unwrap();
        list.boxes.iter().find(|b| b.unit.as_str() == "QQQU1000027").cloned()
    };
    let still_read = on_list(&v).unwrap();
    assert!(still_read.findings.iter().any(|f| f.kind == FindingKind::NotListed));
    let later = "time_utc,unit,supply_c\n2026-03-06 20:00,QQQU1000011,-18.6\n\
                 2026-03-06 20:00,QQQU1000032,4.1\n";
    v.take(&named("later.csv", later), "CD", now(), &mut |_, _| {}).unwrap();
    assert_eq!(on_list(&v), None);
}

/// A recorder whose clock runs a year ahead does not make every other box look unread.
#[test]
fn one_wrong_clock_is_left_out() {
    let dir = tempfile::tempdir().unwrap();
    let mut v = filled(&dir);
    let ahead = "time_utc,unit,supply_c\n2026-03-05 20:05,QQQU1000032,4.0\n\
                 2027-03-05 20:00,QQQU1000032,4.0\n";
    v.take(&named("ahead.csv", ahead), "CD", now(), &mut |_, _| {}).unwrap();
    let list = v.watch(AsOf::Latest).unwrap();
    assert_eq!(list.as_of, Utc::parse("2026-03-05 20:04").ok());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Rows split over any files, taken in any order, repeated or not: the same readings held.
    #[test]
    fn any_split_any_order(
        order in Just((0..12u32).collect::<Vec<_>>()).prop_shuffle(),
        cut in 1usize..11,
    ) {
        let line = |h: &u32| format!("2026-03-05 {h:02}:00,QQQU1000027,{}.5,round\n", h % 5);
        let file = |hs: &[u32]| {
            let rows: String = hs.iter().map(line).collect();
            named("r.csv", &format!("time_utc,unit,supply_c,source\n{rows}"))
        };
        let held = |files: &[Vec<u32>]| {
            let dir = tempfile::tempdir().unwrap();
            let mut v = Voyage::open_or_create(&dir.path().join("v")).unwrap();
            let mut stored = 0;
            for hs in files {
                stored += v.take(&file(hs), "AB", now(), &mut |_, _| {}).unwrap().stored;
            }
            let unit = UnitId::from_text("QQQU1000027").unwrap();
            let view = v.box_view(&unit, AsOf::Latest).unwrap().unwrap();
            let supply = |r: &record::Reading| r.get(record::Channel::Supply).map(f64::to_bits);
            let values: Vec<_> = view.readings.iter().map(|r| (r.at, supply(r))).collect();
            (stored, values)
        };
        let (left, right) = order.split_at(cut);
        let once = held(&[(0..12).collect()]);
        prop_assert_eq!(held(&[left.to_vec(), right.to_vec()]), once.clone());
        prop_assert_eq!(held(&[right.to_vec(), left.to_vec(), order.clone()]), once);
    }
}
