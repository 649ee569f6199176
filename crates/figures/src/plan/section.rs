//! One block athwartships, each box a link with its sign, its short number and its set point.

use record::State;

use super::{Block, Grid, Lie, Placed, title};
use crate::glyph::{mark, state_letter};
use crate::limit_bar::small_bar;
use crate::svg::{Svg, escape, px};
use crate::words;

const W: f64 = 90.0;
const H: f64 = 66.0;
const GAP: f64 = 4.0;
const LEFT: f64 = 40.0;
const TOP: f64 = 40.0;
const HATCH: f64 = 36.0;

/// Draws one block. `href` gives the link of a box.
#[must_use]
pub fn section(block: &Block, href: impl Fn(&Placed) -> String) -> String {
    let grid = Grid::of(block.boxes.iter());
    let deck = f64::from(Grid::levels(grid.deck)) * (H + GAP);
    let hold = f64::from(Grid::levels(grid.hold)) * (H + GAP);
    let inner = f64::from(grid.columns()) * (W + GAP);
    let (width, height) = (LEFT + inner + 6.0, TOP + deck + HATCH + hold + 24.0);
    let label = format!(
        "{} seen from aft looking forward, {} boxes; port to the left",
        block.name(),
        block.boxes.len()
    );
    let mut s = Svg::open(width, height, "section", &label, "role=\"group\" ");
    frame(grid, deck, width, &mut s);
    rows(grid, height, &mut s);
    for p in &block.boxes {
        let (at, size) = place(grid, deck, p);
        cell(p, at, size, &href(p), &mut s);
    }
    s.close()
}

fn place(grid: Grid, deck: f64, p: &Placed) -> ((f64, f64), (f64, f64)) {
    let x = LEFT + f64::from(grid.column(p.cell.rows_from_centre())) * (W + GAP);
    let y = if p.cell.on_deck() {
        TOP + Grid::level(grid.deck, p.cell.tier) * (H + GAP)
    } else {
        TOP + deck + HATCH + Grid::level(grid.hold, p.cell.tier) * (H + GAP)
    };
    match p.lie {
        Lie::Whole => ((x, y), (W, H)),
        Lie::Fore => ((x, y), (W, H / 2.0 - 1.0)),
        Lie::Aft => ((x, y + H / 2.0 + 1.0), (W, H / 2.0 - 1.0)),
    }
}

/// Hatch line, sides, and the tier numbers at the left.
fn frame(grid: Grid, deck: f64, width: f64, s: &mut Svg) {
    let y = TOP + deck + HATCH / 2.0 - GAP / 2.0;
    let attrs = "class=\"hatch-line\" stroke=\"currentColor\" stroke-width=\"4\"";
    s.line((0.0, y), (width, y), attrs);
    s.text((LEFT, TOP - 24.0), "font-weight=\"600\"", "PORT");
    let attrs = "text-anchor=\"end\" font-weight=\"600\"";
    s.text((width - 6.0, TOP - 24.0), attrs, "STARBOARD");
    s.text((2.0, y - 6.0), "", "deck");
    s.text((2.0, y + 15.0), "", "hold");
    for part in [grid.deck, grid.hold] {
        let Some((low, high)) = part else { continue };
        let base = if part == grid.deck && high >= record::cell::DECK_TIER_MIN {
            TOP
        } else {
            TOP + deck + HATCH
        };
        for tier in (low..=high).rev().step_by(2) {
            let y = base + Grid::level(part, tier) * (H + GAP) + H / 2.0 + 4.0;
            s.text((LEFT - 8.0, y), "text-anchor=\"end\"", &format!("{tier:02}"));
        }
    }
}

/// Row numbers above and below.
fn rows(grid: Grid, height: f64, s: &mut Svg) {
    for (i, name) in grid.row_names().iter().enumerate() {
        let x = LEFT + i as f64 * (W + GAP) + W / 2.0;
        for y in [TOP - 8.0, height - 6.0] {
            s.text((x, y), "text-anchor=\"middle\"", name);
        }
    }
}

/// One box. A whole cell has two lines of text, a 20 ft half one line and the mark of its end.
fn cell(p: &Placed, at: (f64, f64), size: (f64, f64), href: &str, s: &mut Svg) {
    let state = p.line.state;
    let title = escape(&title(p));
    s.raw(&format!(
        "<a class=\"cell {}\" href=\"{}\" aria-label=\"{title}\"><title>{title}</title>",
        state.as_str(),
        escape(href)
    ));
    let weight = match state {
        State::Ok => "1",
        State::Watch => "1.6",
        State::Act | State::Urgent => "2.6",
    };
    let attrs = format!(
        "class=\"cell-field\" rx=\"2\" fill=\"#fff\" fill-opacity=\"0\" stroke=\"currentColor\" \
         stroke-width=\"{weight}\""
    );
    s.rect(at, size, &attrs);
    let number = words::short_unit(&p.line.unit);
    let set = p.line.set_point_c.map(|c| words::number(c, 1));
    if p.lie == Lie::Whole {
        s.raw(&mark(state, at.0 + 12.0, at.1 + 15.0, 15.0));
        s.text((at.0 + 24.0, at.1 + 20.0), "font-size=\"13\" font-weight=\"600\"", &number);
        let set = set.map_or_else(|| "set ?".to_owned(), |t| format!("{t} °C"));
        s.text((at.0 + 24.0, at.1 + 39.0), "font-size=\"12\"", &set);
        let letter = state_letter(state);
        if !letter.is_empty() {
            let attrs = "font-size=\"12\" font-weight=\"700\" text-anchor=\"middle\"";
            s.text((at.0 + 12.0, at.1 + 39.0), attrs, letter);
        }
        if let Some(h) = p.line.hours_to_limit {
            s.text((at.0 + 5.0, at.1 + 58.0), "font-size=\"11\"", &hours_left(h));
        }
        let bar = (at.0 + 42.0, at.1 + 54.0);
        small_bar(s, p.line.hours_to_limit, p.line.hours_to_limit_p90, bar, W - 48.0);
    } else {
        half(p, at, &number, s);
    }
    s.raw("</a>");
}

/// Hours to the limit where there is little room: `38 h`, `6 d`, `now`.
fn hours_left(hours: f64) -> String {
    match hours {
        h if h * 60.0 < 1.0 => "now".to_owned(),
        h if h < 72.0 => words::hours(h),
        h => format!("{} d", words::number(h / 24.0, 0)),
    }
}

/// A 20 ft box: `0001-1` and `f` or `a` for the fore or aft bay, with a cut corner.
fn half(p: &Placed, at: (f64, f64), number: &str, s: &mut Svg) {
    let state = p.line.state;
    s.raw(&mark(state, at.0 + 10.0, at.1 + 12.0, 13.0));
    let text = format!("{}{number}", state_letter(state));
    let text = if state == State::Ok { number.to_owned() } else { text };
    s.text((at.0 + 20.0, at.1 + 16.5), "font-size=\"12\" font-weight=\"600\"", &text);
    let bar = (at.0 + 8.0, at.1 + H / 2.0 - 8.0);
    small_bar(s, p.line.hours_to_limit, p.line.hours_to_limit_p90, bar, W - 16.0);
    let end = format!("M{} {}h-9l9 9z", px(at.0 + W), px(at.1));
    s.path(&end, "class=\"twenty\" fill=\"currentColor\" fill-opacity=\".6\"");
}
