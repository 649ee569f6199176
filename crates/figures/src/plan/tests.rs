//! Bay plan: where boxes stand and what is said of them.

use super::*;
use record::UnitId;

fn line(unit: &str, stow: &str, state: State) -> BoxLine {
    BoxLine {
        unit: UnitId::from_text(unit).unwrap(),
        stow: Some(stow.into()),
        cell: Cell::parse(stow),
        size_type: None,
        cargo: None,
        discharge_port: None,
        full: Some(true),
        state,
        reason: "return air <warm>".into(),
        hours_to_limit: None,
        hours_to_limit_p90: None,
        limit: None,
        action: String::new(),
        findings: vec![],
        set_point_c: Some(-18.0),
        supply_c: None,
        return_c: None,
        cargo_c: None,
        cargo_c_p90: None,
        on_power: None,
        last_read_at: None,
    }
}

/// Bay numbering of ISO 9711 (reference/interchange.md §2.3): the even bay is the 40 ft position
/// over the two odd bays beside it.
#[test]
fn odd_bays_join_their_even_bay() {
    for (bay, block) in [(1, 2), (2, 2), (3, 2), (5, 6), (7, 6), (21, 22), (23, 22), (4, 4)] {
        assert_eq!(block_of(bay), block, "bay {bay}");
    }
}

#[test]
fn nothing_is_lost_and_nothing_covered() {
    let lines = [
        line("QQQU1000011", "0220382", State::Ok),
        line("QQQU1000027", "0210382", State::Ok),
        line("QQQU1000032", "0210182", State::Act),
        line("QQQU2000016", "0230182", State::Urgent),
        line("QQQU3000010", "ABC", State::Ok),
    ];
    let ship = Ship::new(&lines);
    let placed: usize = ship.blocks.iter().map(|b| b.boxes.len()).sum();
    assert_eq!((placed, ship.misplaced.len()), (3, 2));
    assert!(ship.misplaced[0].why.contains("QQQU1000011"));
    let svg = section(&ship.blocks[0], |p| format!("/box/{}", p.line.unit));
    assert_eq!(svg.matches("<a ").count(), 3);
    assert!(svg.contains("return air &lt;warm&gt;"));
    assert_eq!(ship.blocks[0].worst(), State::Urgent);
}

/// Row 00 on the centre line, odd rows to starboard, even rows to port (reference/interchange.md
/// §2.3, source S16).
#[test]
fn rows_run_from_port_to_starboard() {
    let with_centre = [line("A", "0220082", State::Ok), line("B", "0220482", State::Ok)];
    let ship = Ship::new(&with_centre);
    assert_eq!(ship.grid().row_names(), ["04", "02", "00", "01", "03"]);
    let without = [line("A", "0220182", State::Ok), line("B", "0220402", State::Ok)];
    let ship = Ship::new(&without);
    let grid = ship.grid();
    assert_eq!(grid.row_names(), ["04", "02", "01", "03"]);
    assert_eq!(grid.column(1), 2);
}

#[test]
fn odd_figures_do_no_harm() {
    let lines = [line("A", "9999999", State::Ok), line("B", "0000000", State::Watch)];
    let ship = Ship::new(&lines);
    for b in &ship.blocks {
        assert!(section(b, |_| String::new()).contains("</svg>"));
        assert!(small(&ship, b).contains("</svg>"));
    }
    assert!(profile(&ship, Some(2), |_| String::new()).is_some());
}
