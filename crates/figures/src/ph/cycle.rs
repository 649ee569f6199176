//! Closed cycles over the lines of a pressure-enthalpy diagram: one as measured, one to compare.

use super::{Paper, PhCycle, PhDiagram};
use crate::svg::{Svg, px};

/// Room for the key's second row.
pub(super) const KEY_ROW: f64 = 20.0;

const SOLID: &str = "class=\"ph-cycle\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"3\" \
                     stroke-linejoin=\"round\"";
const DASHED: &str = "class=\"ph-cycle sound\" fill=\"none\" stroke=\"currentColor\" \
                      stroke-width=\"2\" stroke-dasharray=\"9 5\" stroke-linejoin=\"round\"";

fn attrs(cycle: &PhCycle) -> &'static str {
    if cycle.dashed { DASHED } else { SOLID }
}

/// Names the cycles above the frame.
pub(super) fn key(svg: &mut Svg, d: &PhDiagram, (left, y): (f64, f64)) {
    let mut x = left;
    for c in &d.cycles {
        svg.path(&format!("M{} {}h34", px(x), px(y - 4.0)), attrs(c));
        svg.text((x + 40.0, y), "font-size=\"11\" font-weight=\"600\"", &c.label);
        x += 60.0 + c.label.chars().count() as f64 * 6.6;
    }
}

/// Draws the cycles, the dashed ones beneath.
pub(super) fn lines(svg: &mut Svg, paper: &Paper, d: &PhDiagram) {
    let (dashed, solid): (Vec<_>, Vec<_>) = d.cycles.iter().partition(|c| c.dashed);
    for c in dashed.into_iter().chain(solid) {
        let data = paper.data(&c.points);
        if data.is_empty() {
            continue;
        }
        svg.path(&format!("{data}Z"), attrs(c));
    }
}

/// Numbers the corners of the solid cycle.
pub(super) fn corners(svg: &mut Svg, paper: &mut Paper, d: &PhDiagram) {
    for c in d.cycles.iter().filter(|c| !c.dashed) {
        let n = c.points.len().max(1) as f64;
        let at: Vec<(f64, f64)> = c.points.iter().map(|p| paper.at(*p)).collect();
        let (sx, sy) = at.iter().fold((0.0, 0.0), |(a, b), (x, y)| (a + x / n, b + y / n));
        for (i, (x, y)) in at.into_iter().enumerate() {
            let dot = format!(
                "<circle class=\"ph-corner\" cx=\"{}\" cy=\"{}\" r=\"4\" fill=\"currentColor\"/>",
                px(x),
                px(y)
            );
            svg.raw(&dot);
            // Outside the cycle, and where two corners lie close to each other a little apart.
            let (dx, dy) = ((x - sx).signum(), (y - sy).signum());
            let places = [(12.0, 10.0), (26.0, 10.0), (12.0, -8.0), (26.0, -8.0), (40.0, 10.0)];
            for (right, up) in places {
                let place = (x + dx * right, y + dy * up + 4.0);
                if paper.label(svg, place, "ph-word", &format!("{}", i + 1)) {
                    break;
                }
            }
        }
    }
}
