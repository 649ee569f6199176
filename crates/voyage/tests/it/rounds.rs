//! A round keyed in becomes readings like those of a file.

use record::{
    Act, Channel, KeyedRow, PartSaid, RoundClosed, RoundKeyed, RoundLine, RoundStart, UnitId,
};
use units::Utc;
use voyage::rounds::{answer, judged_row};
use voyage::{AsOf, Voyage};

use crate::{filled, now};

fn unit(text: &str) -> UnitId {
    UnitId::from_text(text).unwrap()
}

fn begun(v: &mut Voyage) -> Vec<RoundLine> {
    let start = RoundStart {
        id: v.next_round_id(),
        at: Utc::parse("2026-03-05 23:30").unwrap(),
        walked_by: "J. Ruiz, \"Jo\"".into(),
        weather: "NW 5".into(),
    };
    let at = start.at;
    v.enter(&Act::RoundBegun(Box::new(start)), &[], "Mate", now()).unwrap();
    v.round_lines(&v.watch(AsOf::Latest).unwrap(), at).unwrap()
}

fn row(unit: &UnitId, supply: &str) -> KeyedRow {
    let mut row = KeyedRow::new(unit.clone());
    row.values.insert("supply".into(), supply.into());
    row
}

fn key(v: &mut Voyage, rows: Vec<KeyedRow>, parts: Vec<PartSaid>) {
    let act = Act::RoundKeyed(Box::new(RoundKeyed { id: "R1".into(), rows, parts }));
    v.enter(&act, &[], "Mate", now()).unwrap();
}

#[test]
fn a_keyed_round_is_taken_in_as_a_file_with_its_times_and_questions() {
    let dir = tempfile::tempdir().unwrap();
    let mut v = filled(&dir);
    let lines = begun(&mut v);
    let (bananas, fish) = (unit("QQQU1000027"), unit("QQQU1000011"));
    let of = |u: &UnitId| lines.iter().find(|l| l.unit() == u).unwrap();
    // Read four times before: 13.4, 13.5, 13.6, 13.4.
    assert_eq!(of(&bananas).last_of(Channel::Supply).unwrap().value, 13.4);
    let at = v.round("R1").unwrap().start.at;
    let mut odd = row(&bananas, "20,5");
    odd.alarm = "AL, \"x\"".into();
    key(&mut v, vec![odd.clone(), row(&fish, "186")], Vec::new());
    let said = v.hand_in_round("R1", &lines, "Mate", now()).unwrap_err().to_string();
    assert!(said.contains("questions are still open about QQQU1000"), "{said}");
    answer(&mut odd, of(&bananas), at, "supply", "far", true);
    let mut minus = row(&fish, "186");
    answer(&mut minus, of(&fish), at, "supply", "sign_and_point", false);
    assert_eq!(minus.text(Channel::Supply), "-18.6");
    assert!(judged_row(&odd, of(&bananas), at).is_clear());
    // The answer is about that figure only.
    let mut other = odd.clone();
    other.values.insert("supply".into(), "21,5".into());
    assert!(!judged_row(&other, of(&bananas), at).is_clear());
    let part = PartSaid {
        part: of(&bananas).part().key(),
        time: "2345".into(),
        on_power: true,
        set_point: true,
    };
    key(&mut v, vec![odd, minus], vec![part]);
    // Closed and opened again: nothing is lost.
    drop(v);
    let mut v = Voyage::open(&dir.path().join("v")).unwrap();
    assert_eq!(v.round("R1").unwrap().read(), 2);
    let out = v.hand_in_round("R1", &lines, "Mate", now()).unwrap();
    assert_eq!((out.stored, out.refused.len(), out.warnings.len()), (2, 0, 0));
    let view = v.box_view(&bananas, AsOf::Latest).unwrap().unwrap();
    let last = view.readings.last().unwrap();
    assert_eq!(last.at, Utc::parse("2026-03-05 23:45").unwrap());
    assert_eq!(&*last.source, "round-J. Ruiz, \"Jo\"");
    assert_eq!(last.get(Channel::Supply), Some(20.5));
    assert_eq!(last.get(Channel::SetPoint), of(&bananas).line.set_point_c);
    assert_eq!((last.on_power, last.alarm.as_deref()), (Some(true), Some("AL, \"x\"")));
    assert!(last.remark.as_deref().unwrap().contains("asked and kept as written: Supply 20,5"));
    let view = v.box_view(&fish, AsOf::Latest).unwrap().unwrap();
    let remark = view.readings.last().unwrap().remark.clone().unwrap();
    assert!(remark.contains("supply written 186, changed to -18.6"), "{remark}");
    // The file is kept as the original, and the lines of the draft do not fill the list.
    let entries = v.entries(100).unwrap();
    let take = entries.iter().find(|e| e.kind == "take").unwrap();
    assert_eq!(take.originals[0].name, "round-2026-03-05-23-30-R1.csv");
    assert!(!entries.iter().any(|e| e.title.contains("boxes keyed")));
    assert!(entries[0].title.contains("handed in, 2 boxes"), "{}", entries[0].title);
    // The round is one of the rounds walked.
    let walked = v
        .rounds_walked(&v.watch(AsOf::Latest).unwrap(), at.plus_hours(-48.0), at.plus_hours(9.0))
        .unwrap();
    assert_eq!((walked.len(), walked[0].read, walked[0].missing.len()), (5, 2, 1));
    assert_eq!(walked[0].who, ["J. Ruiz, \"Jo\""]);
}

#[test]
fn what_makes_no_sense_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    let mut v = filled(&dir);
    let lines = begun(&mut v);
    let refused =
        |v: &mut Voyage, act: Act| v.enter(&act, &[], "M", now()).unwrap_err().to_string();
    let keyed = |id: &str| {
        Act::RoundKeyed(Box::new(RoundKeyed {
            id: id.into(),
            rows: vec![row(&unit("QQQU1000027"), &"9".repeat(201))],
            parts: Vec::new(),
        }))
    };
    assert!(refused(&mut v, keyed("R9")).contains("no round \"R9\""));
    assert!(refused(&mut v, keyed("R1")).contains("longer than 200"));
    let empty = v.hand_in_round("R1", &lines, "M", now()).unwrap_err().to_string();
    assert!(empty.contains("nothing is keyed in yet"), "{empty}");
    // A round of tomorrow is a slip of the date.
    key(&mut v, vec![row(&unit("QQQU1000027"), "13.4")], Vec::new());
    let early = Utc::parse("2026-03-05 12:00").unwrap();
    let said = v.hand_in_round("R1", &lines, "M", early).unwrap_err().to_string();
    assert!(said.contains("ahead of this computer's clock"), "{said}");
    let gone = RoundClosed { id: "R1".into(), boxes: None, file: String::new() };
    v.enter(&Act::RoundClosed(Box::new(gone)), &[], "M", now()).unwrap();
    let said = v.hand_in_round("R1", &lines, "M", now()).unwrap_err().to_string();
    assert!(said.contains("thrown away"), "{said}");
    assert_eq!(v.next_round_id(), "R2");
}
