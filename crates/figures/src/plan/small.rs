//! A whole block as a thumbnail: only what needs a person stands out.

use std::fmt::Write;

use record::State;

use super::{Block, Grid, Lie, Placed, Ship};
use crate::glyph::mark;
use crate::svg::{Svg, rect_path};

const W: f64 = 15.0;
const H: f64 = 14.0;
const GAP: f64 = 2.0;
const HATCH: f64 = 9.0;
const EDGE: f64 = 3.0;

/// The block on the grid all blocks share, so that the same place in two thumbnails is the same
/// place in the ship. It is a picture for the link that holds it: `aria-hidden`.
#[must_use]
pub fn small(ship: &Ship, block: &Block) -> String {
    let grid = ship.grid();
    let deck = f64::from(Grid::levels(grid.deck)) * (H + GAP);
    let hold = f64::from(Grid::levels(grid.hold)) * (H + GAP);
    let width = f64::from(grid.columns()) * (W + GAP) + EDGE * 2.0;
    let height = deck + hold + HATCH + EDGE * 2.0;
    let mut s = Svg::open(width, height, "small-bay", "", "aria-hidden=\"true\" ");
    let y = EDGE + deck + HATCH / 2.0 - GAP / 2.0;
    let attrs = "class=\"hatch-line\" stroke=\"currentColor\" stroke-width=\"2\"";
    s.line((0.0, y), (width, y), attrs);
    let mut plain = String::new();
    let mut marks = String::new();
    for p in &block.boxes {
        let (at, size) = place(grid, deck, p);
        let _ = write!(plain, "{}", rect_path(at, size));
        if p.line.state != State::Ok {
            let middle = (at.0 + size.0 / 2.0, at.1 + size.1 / 2.0);
            marks.push_str(&mark(p.line.state, middle.0, middle.1, size.1.max(9.0)));
        }
    }
    let attrs = "class=\"small-box\" fill=\"none\" stroke=\"currentColor\" stroke-opacity=\".45\"";
    s.path(&plain, attrs);
    s.raw(&marks);
    s.close()
}

fn place(grid: Grid, deck: f64, p: &Placed) -> ((f64, f64), (f64, f64)) {
    let x = EDGE + f64::from(grid.column(p.cell.rows_from_centre())) * (W + GAP);
    let y = if p.cell.on_deck() {
        EDGE + Grid::level(grid.deck, p.cell.tier) * (H + GAP)
    } else {
        EDGE + deck + HATCH + Grid::level(grid.hold, p.cell.tier) * (H + GAP)
    };
    match p.lie {
        Lie::Whole => ((x, y), (W, H)),
        Lie::Fore => ((x, y), (W, H / 2.0 - 0.5)),
        Lie::Aft => ((x, y + H / 2.0 + 0.5), (W, H / 2.0 - 0.5)),
    }
}
