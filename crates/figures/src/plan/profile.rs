//! The ship from the side: one column a block, how many boxes in which state, deck and hold.

use record::State;

use super::{Block, Ship};
use crate::glyph::mark;
use crate::svg::{Svg, escape, px};

const COLUMN: f64 = 62.0;
const BOW: f64 = 70.0;
const STERN: f64 = 24.0;
const PART: f64 = 88.0;
const TOP: f64 = 28.0;
const ROW: f64 = 20.0;
const STATES: [State; 4] = [State::Urgent, State::Act, State::Watch, State::Ok];

/// Draws the profile, bow to the left. `selected` is the even bay of the block shown elsewhere
/// on the page; `href` gives the link of a block. `None` when no box has a place.
#[must_use]
pub fn profile(ship: &Ship, selected: Option<u16>, href: impl Fn(u16) -> String) -> Option<String> {
    if ship.blocks.is_empty() {
        return None;
    }
    let width = BOW + STERN + COLUMN * ship.blocks.len() as f64;
    let hatch = TOP + PART;
    let keel = hatch + PART + 8.0;
    let label = format!("The ship from the side, bow to the left, {} bays", ship.blocks.len());
    let mut s = Svg::open(width, keel + 26.0, "profile", &label, "role=\"group\" ");
    hull(width, hatch, keel, &mut s);
    for (i, block) in ship.blocks.iter().enumerate() {
        let x = BOW + COLUMN * i as f64;
        column(block, x, selected == Some(block.bay), &href(block.bay), &mut s);
    }
    let attrs = "class=\"hatch-line\" stroke=\"currentColor\" stroke-width=\"3\"";
    s.line((BOW - 30.0, hatch), (width - 6.0, hatch), attrs);
    s.text((6.0, hatch - 26.0), "font-weight=\"600\"", "BOW");
    s.text((6.0, hatch - 8.0), "", "deck");
    s.text((26.0, hatch + 18.0), "", "hold");
    Some(s.close())
}

/// The outline: raked bow to the left, the stern to the right.
fn hull(width: f64, hatch: f64, keel: f64, s: &mut Svg) {
    let d = format!(
        "M4 {h}L{bow} {k}H{stern}L{end} {mid}V{h}",
        h = px(hatch),
        k = px(keel),
        bow = px(BOW - 14.0),
        stern = px(width - 18.0),
        end = px(width - 4.0),
        mid = px(keel - 34.0)
    );
    let attrs = "class=\"hull\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"2\" \
                 stroke-opacity=\".7\"";
    s.path(&d, attrs);
    s.line((4.0, hatch), (BOW - 30.0, hatch), attrs);
}

/// One block: its bay numbers above, counts by state on deck and in the hold.
fn column(block: &Block, x: f64, selected: bool, href: &str, s: &mut Svg) {
    let height = TOP + PART * 2.0;
    let class = if selected { "bay selected" } else { "bay" };
    let counted: Vec<String> = STATES
        .iter()
        .filter(|state| block.count(**state) > 0)
        .map(|state| format!("{} {}", block.count(*state), state.as_str()))
        .collect();
    let title = format!("{}: {}", block.name(), counted.join(", "));
    s.raw(&format!(
        "<a class=\"{class}\" href=\"{0}\" aria-label=\"{1}\"><title>{1}</title>",
        escape(href),
        escape(&title)
    ));
    let weight = if selected { "2.5" } else { "1" };
    let attrs = format!(
        "class=\"bay-field\" fill=\"#fff\" fill-opacity=\"0\" stroke=\"currentColor\" \
         stroke-opacity=\".5\" stroke-width=\"{weight}\""
    );
    s.rect((x + 1.5, 4.0), (COLUMN - 3.0, height), &attrs);
    let attrs = "text-anchor=\"middle\" font-weight=\"600\" font-size=\"13\"";
    s.text((x + COLUMN / 2.0, 20.0), attrs, &format!("{:02}", block.bay));
    for (deck, top) in [(true, TOP), (false, TOP + PART)] {
        let mut y = top + 12.0;
        for state in STATES {
            let here = |p: &&super::Placed| p.line.state == state && p.cell.on_deck() == deck;
            let n = block.boxes.iter().filter(here).count();
            if n > 0 {
                s.raw(&mark(state, x + 16.0, y, 14.0));
                s.text((x + 29.0, y + 4.5), "font-size=\"13\"", &n.to_string());
                y += ROW;
            }
        }
    }
    s.raw("</a>");
}
