//! Messages: what fits a bad line, and that nothing is lost in the fitting.

use papers::message::change::changes;
use papers::message::malfunction::malfunctions;
use papers::message::table::{Detail, read, rows, table};
use papers::message::{Facts, Kind, Previous, TABLE_MAX, TEXT_MAX, WIDTH, compose};
use proptest::prelude::*;
use record::digest::Digest;
use record::{BoxLine, Note, NoteEntry, NoteKind, State, UnitId, WatchList};
use units::Utc;

fn at(text: &str) -> Utc {
    Utc::parse(text).unwrap()
}

fn unit(n: usize) -> UnitId {
    UnitId::from_text(&format!("QQQU{:07}", n)).unwrap()
}

/// A box with words as long as the program writes them; figures from a small generator.
fn line(n: usize, state: State) -> BoxLine {
    let wobble = |k: usize| ((n * 7919 + k * 104_729) % 997) as f64 / 100.0;
    BoxLine {
        unit: unit(n),
        stow: Some(format!("{:07}", 220_182 + n)),
        cell: None,
        size_type: Some("45R1".into()),
        cargo: Some(["bananas", "frozen fish", "grapes", "sweet peppers"][n % 4].into()),
        discharge_port: Some("XXMAR".into()),
        full: Some(true),
        state,
        reason: format!(
            "Return air {:.1} °C is {:.1} K above the set point and rising by {:.2} K/h – weak \
             cooling or warm cargo",
            wobble(1),
            wobble(2),
            wobble(3)
        ),
        hours_to_limit: (state != State::Ok).then(|| wobble(4) * 10.0),
        hours_to_limit_p90: (state != State::Ok).then(|| [wobble(4), wobble(4) * 20.0]),
        limit: Some("chilling".into()),
        action: "Look".into(),
        findings: vec![],
        set_point_c: Some(-18.0 + (n % 3) as f64),
        supply_c: Some(wobble(5)),
        return_c: Some(wobble(6)),
        cargo_c: None,
        cargo_c_p90: None,
        on_power: Some(!n.is_multiple_of(50)),
        last_read_at: Some(Utc::from_ms(1_773_000_000_000 + (wobble(7) * 3.0e6) as i64)),
    }
}

fn list(boxes: usize, bad: usize) -> WatchList {
    let state = |n| match n {
        n if n >= bad => State::Ok,
        n if n % 3 == 0 => State::Urgent,
        n if n % 3 == 1 => State::Act,
        _ => State::Watch,
    };
    let mut boxes: Vec<BoxLine> = (0..boxes).map(|n| line(n, state(n))).collect();
    boxes.sort_by_key(|b| std::cmp::Reverse(b.state));
    WatchList { as_of: Some(at("2026-03-06T08:04:00Z")), boxes }
}

fn facts<'a>(list: &'a WatchList, notes: &'a [NoteEntry], kind: Kind) -> Facts<'a> {
    Facts {
        kind,
        number: 12,
        ship: "MV ÄLDER REACH, voyage 014N".into(),
        made_at: at("2026-03-06T08:10:00Z"),
        next_port: Some(("XXMAR".into(), Some(at("2026-03-08T06:00:00Z")))),
        list,
        treatments: &[],
        notes,
        missed: &[],
        log_entries: 212,
        root: Digest::of(b"x"),
        previous: None,
        delta: false,
    }
}

fn note(n: usize, kind: NoteKind, time: &str, text: &str) -> NoteEntry {
    let note = Note { unit: Some(unit(n)), kind, at: at(time), text: text.into() };
    NoteEntry { note, who: "J. Ruiz".into(), entered_at: at(time).plus_hours(0.1) }
}

fn fits(text: &str) {
    assert!(text.len() <= TEXT_MAX, "{} bytes", text.len());
    for l in text.lines() {
        assert!(l.len() <= WIDTH, "{l}");
        assert!(l.bytes().all(|b| (0x20..0x7f).contains(&b)), "{l}");
    }
}

/// reference/interchange.md §7: body of at most 4 kB, 7-bit ASCII, lines of at most 76; the table
/// packed at most 25 kB for any ship.
#[test]
fn the_budget_holds_for_any_ship() {
    for (boxes, bad) in [(1, 0), (1, 1), (300, 12), (1500, 75), (1500, 1500)] {
        let list = list(boxes, bad);
        for kind in [Kind::TwiceDaily, Kind::Exceptions] {
            let facts = facts(&list, &[], kind);
            let m = compose(&facts);
            fits(&m.text);
            assert!(m.text.contains(&format!("BOXES {boxes}: ")), "{}", m.text);
            let left = m.exceptions - m.told;
            assert_eq!(m.text.contains("DID NOT FIT"), left > 0);
            assert!(left == 0 || m.text.contains(&format!("{left} MORE BOXES")), "{}", m.text);
            assert!(m.text.contains(&format!("ROOT {}@212", facts.root)));
            assert!(m.told > 5 || left == 0);
        }
        let facts = facts(&list, &[], Kind::TwiceDaily);
        let sizes: Vec<usize> =
            Detail::ALL.iter().map(|d| packed(&table(&rows(&facts, *d))).len()).collect();
        assert!(sizes.iter().any(|s| *s <= TABLE_MAX), "{boxes} boxes, {bad} bad: {sizes:?}");
    }
}

fn packed(text: &str) -> Vec<u8> {
    use std::io::Write as _;
    let mut z = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
    z.write_all(text.as_bytes()).unwrap();
    z.finish().unwrap()
}

#[test]
fn the_most_urgent_come_first_and_figures_carry_their_sign() {
    let mut list = list(30, 4);
    list.boxes[0].supply_c = Some(-0.04);
    list.boxes[0].on_power = Some(false);
    let m = compose(&facts(&list, &[], Kind::TwiceDaily));
    let first = m.text.lines().find(|l| l.starts_with("1 QQQU")).unwrap();
    assert!(first.contains("URGENT"), "{first}");
    // A line may break anywhere between words.
    let flat = m.text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("SUPPLY 0.0 C"), "{}", m.text);
    assert!(flat.contains("SET -18.0 C") && flat.contains("NO POWER"), "{}", m.text);
    assert!(m.text.starts_with("TWICE-DAILY REPORT NO 12 - MV AELDER REACH, voyage 014N\n"));
}

#[test]
fn malfunctions_carry_their_three_times() {
    let notes = [
        note(2, NoteKind::Noticed, "2026-03-01T08:00:00Z", "old story"),
        note(2, NoteKind::Restored, "2026-03-01T09:00:00Z", "old end"),
        note(2, NoteKind::Noticed, "2026-03-06T02:00:00Z", "ice on coil"),
        note(2, NoteKind::Done, "2026-03-06T02:30:00Z", "defrosted by hand"),
        note(9, NoteKind::Noticed, "2026-03-06T03:00:00Z", "breaker out"),
        note(9, NoteKind::Restored, "2026-03-06T03:10:00Z", "breaker in, runs"),
    ];
    assert_eq!(malfunctions(&notes).len(), 3);
    let list = list(12, 3);
    let text = compose(&facts(&list, &notes, Kind::Exceptions)).text;
    fits(&text);
    assert!(text.contains("NOTICED 03-06 02:00 UTC (J. Ruiz): ice on coil"), "{text}");
    assert!(text.contains("DONE 03-06 02:30 UTC (J. Ruiz): defrosted by hand"), "{text}");
    assert!(text.contains("RESTORED: NOT WRITTEN DOWN"), "{text}");
    assert!(text.contains("RESTORED 03-06 03:10 UTC (J. Ruiz): breaker in, runs"), "{text}");
    assert!(!text.contains("old story"), "{text}");
}

#[test]
fn a_delta_tells_what_changed_and_only_that() {
    let before = list(300, 20);
    let mut after = before.clone();
    after.boxes[5].supply_c = Some(-25.0);
    after.boxes[7].stow = Some("0999999".into());
    let gone = after.boxes.pop().unwrap();
    let first = facts(&before, &[], Kind::TwiceDaily);
    let sent = table(&rows(&first, Detail::Full));
    let held = read(&sent);
    assert_eq!(held.len(), 300);
    let mut second = facts(&after, &[], Kind::TwiceDaily);
    second.previous =
        Some(Previous { number: 11, at: at("2026-03-05T20:00:00Z"), rows: held.clone() });
    second.delta = true;
    let m = compose(&second);
    fits(&m.text);
    let changed = m.changes.unwrap();
    assert_eq!(changed.len(), 3, "{changed:?}");
    assert!(changed[2].gone && changed[2].unit == gone.unit);
    assert!(m.text.contains("CHANGES SINCE NO 11 OF 2026-03-05 20:00 UTC ONLY: 3 BOXES"));
    assert!(m.text.contains("is -25.0 C"), "{}", m.text);
    assert_eq!(changes(&held, &rows(&first, Detail::Figures)), []);
}

proptest! {
    /// Names and notes from outside may hold anything.
    #[test]
    fn every_text_fits(
        words in proptest::collection::vec("\\PC{0,300}", 6),
        bad in 0usize..40,
        delta in any::<bool>(),
    ) {
        let mut list = list(40, bad);
        list.boxes[0].reason = words[0].clone();
        list.boxes[0].cargo = Some(words[1].clone());
        list.boxes[0].stow = Some(words[2].clone());
        let mut entry = note(1, NoteKind::Noticed, "2026-03-06T02:00:00Z", &words[3]);
        entry.who = words[4].clone();
        let notes = [entry];
        for kind in [Kind::TwiceDaily, Kind::Exceptions] {
            let mut facts = facts(&list, &notes, kind);
            facts.ship = words[5].clone();
            facts.delta = delta;
            let m = compose(&facts);
            fits(&m.text);
            let back = read(&table(&rows(&facts, Detail::Full)));
            prop_assert_eq!(back.len(), 40);
        }
    }
}
