//! No box is lost, whatever the ship and its names.

use super::*;
use crate::sheet::Op;
use proptest::prelude::*;
use record::round::in_walking_order;
use record::{BoxLine, Cell, LastValue, UnitId};

fn line(n: usize, stow: &str, cargo: &str) -> RoundLine {
    RoundLine {
        line: BoxLine {
            unit: UnitId::from_text(&format!("QQQU{n:07}")).unwrap(),
            stow: Some(stow.to_owned()),
            cell: Cell::parse(stow),
            size_type: None,
            cargo: Some(cargo.to_owned()),
            discharge_port: None,
            full: Some(true),
            state: [State::Ok, State::Watch, State::Act, State::Urgent][n % 4],
            reason: String::new(),
            hours_to_limit: None,
            hours_to_limit_p90: None,
            limit: None,
            action: String::new(),
            findings: Vec::new(),
            set_point_c: (!n.is_multiple_of(5)).then_some(-18.0),
            supply_c: None,
            return_c: None,
            cargo_c: None,
            cargo_c_p90: None,
            on_power: None,
            last_read_at: None,
        },
        coldest_c: None,
        warmest_c: Some(-15.0),
        vent_m3_h: (n.is_multiple_of(3)).then_some(0.0),
        humidity_pct: (n.is_multiple_of(4)).then_some(90.0),
        also: [Channel::Rh, Channel::Probe1, Channel::Probe2, Channel::Probe3][..n % 5].to_vec(),
        last: vec![LastValue {
            channel: Channel::Supply,
            value: -18.25,
            at: Utc::parse("2026-03-16T02:00:00Z").unwrap(),
        }],
        usual: Vec::new(),
    }
}

fn ship(n: usize, cargo: &str) -> Vec<RoundLine> {
    let stow =
        |i: usize| format!("{:03}{:02}{}", 2 + 4 * (i / 9), i % 9, ["82", "84", "02"][i % 3]);
    let mut lines: Vec<RoundLine> = (0..n).map(|i| line(i, &stow(i), cargo)).collect();
    in_walking_order(&mut lines);
    lines
}

fn of(lines: &[RoundLine]) -> RoundSheet<'_> {
    RoundSheet {
        ship_line: "MV TEST, voyage 1".into(),
        made_at: Utc::parse("2026-03-16T07:00:00Z").unwrap(),
        as_of: Utc::parse("2026-03-16T06:00:00Z").ok(),
        lines,
        covers: String::new(),
        entries: 3,
        root: Digest::ZERO,
    }
}

fn texts(page: &[Op]) -> Vec<String> {
    let text = |op: &Op| match op {
        Op::Text { text, .. } => Some(text.clone()),
        _ => None,
    };
    page.iter().filter_map(text).collect()
}

#[test]
fn no_box_is_lost_at_a_page_break_and_every_page_has_its_head() {
    let fonts = Fonts::load().unwrap();
    for n in (1..140).step_by(3) {
        let lines = ship(n, "Frozen poultry");
        let (pages, _) = laid_out(&of(&lines), &fonts).finish();
        let all: Vec<Vec<String>> = pages.iter().map(|p| texts(p)).collect();
        let written: Vec<&String> =
            all.iter().flatten().filter(|t| t.starts_with("QQQU")).collect();
        let wanted: Vec<String> = lines.iter().map(|l| painted(l.unit())).collect();
        assert_eq!(written.iter().map(|t| (*t).clone()).collect::<Vec<_>>(), wanted);
        for page in all.iter().filter(|p| p.iter().any(|t| t.starts_with("QQQU"))) {
            assert_eq!(page.iter().filter(|t| *t == "container, cargo").count(), 1);
            // What continues a box stands under it, on the same page.
            let also = page.iter().position(|t| t.starts_with("read also"));
            let first = page.iter().position(|t| t.starts_with("QQQU"));
            assert!(also.is_none() || first < also, "{n} boxes");
            assert!(page.iter().any(|t| t.starts_with("Bay ")));
        }
    }
}

#[test]
fn an_empty_voyage_says_so_and_gives_a_paper_all_the_same() {
    let fonts = Fonts::load().unwrap();
    let (pages, _) = laid_out(&of(&[]), &fonts).finish();
    assert!(texts(&pages[0]).join(" ").contains("nothing to go round for"));
    assert!(texts(&pages[0]).join(" ").contains("440 V"));
    let sign = |_: &[u8]| Signature([7; 64]);
    let (pdf, pages) = sheet(&of(&[]), &fonts, PublicKey([3; 32]), &sign).unwrap();
    assert_eq!(pages, 1);
    assert!(seal::check(&pdf, |_, _| true).is_ok());
}

#[test]
fn values_that_nobody_read_are_blank_or_said() {
    let fonts = Fonts::load().unwrap();
    let mut lines = ship(2, "Pear");
    lines[1].last.clear();
    let (pages, _) = laid_out(&of(&lines), &fonts).finish();
    let all = texts(&pages[0]);
    assert!(all.contains(&"−18.2 / –".to_owned()), "{all:?}");
    assert!(all.contains(&"4.0 h before".to_owned()));
    assert!(all.contains(&"never read".to_owned()));
    assert!(all.contains(&"set point?".to_owned()));
}

/// The table to fill in has the columns that `take` reads (contract §2.2) and no value.
#[test]
fn the_blank_table_is_blank() {
    let text = String::from_utf8(csv(&ship(9, "Pear"))).unwrap();
    let mut rows = text.lines();
    let head = rows.next().unwrap();
    assert!(head.starts_with("time_utc,unit,set_point_c,supply_c,return_c,"));
    assert!(head.contains("rh_pct") && head.ends_with("on_power,mode,alarm,source,remark"));
    for row in rows {
        assert_eq!(row.chars().filter(|c| *c != ',').count(), 11, "{row}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]
    #[test]
    fn any_name_stays_in_its_place(cargo in "\\PC{0,200}", n in 1usize..30) {
        let fonts = Fonts::load().unwrap();
        let lines = ship(n, &cargo);
        let (pages, _) = laid_out(&of(&lines), &fonts).finish();
        for op in pages.iter().flatten() {
            if let Op::Text { at, size, bold, text } = op {
                let right = at.0 + fonts.face(*bold).width(text, *size);
                prop_assert!(right <= crate::sheet::SIDE + crate::sheet::WIDTH + 0.5, "{text:?}");
                prop_assert!(at.1 < crate::sheet::PAGE.1 - 57.0, "{text:?} at {at:?}");
                let of_cargo = (at.0 - (crate::sheet::SIDE + CELL)).abs() < 0.1;
                prop_assert!(!of_cargo || right <= crate::sheet::SIDE + CELL + UNIT + 0.1);
            }
        }
    }
}
