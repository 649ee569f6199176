//! A night's work as a time chart: one lane for each person, ways hatched, work solid, rest open.

use crate::Look;
use crate::scale::{Linear, nice_step};
use crate::svg::{Svg, clipped, px};
use crate::words;

/// What a bar shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LaneKind {
    /// On the way.
    Walk,
    /// Waiting.
    Wait,
    /// Hands on.
    Work,
    /// Rest or another duty.
    Rest,
}

/// One bar.
#[derive(Debug, Clone, PartialEq)]
pub struct LaneBar {
    /// What it shows.
    pub kind: LaneKind,
    /// From, hours from now.
    pub from_h: f64,
    /// To, hours from now.
    pub to_h: f64,
    /// When it may be done, earliest and latest, hours from now.
    pub done_h: Option<[f64; 2]>,
    /// Name, for example the box.
    pub label: String,
}

/// One person's lane.
#[derive(Debug, Clone, PartialEq)]
pub struct Lane {
    /// Who.
    pub name: String,
    /// Bars in order.
    pub bars: Vec<LaneBar>,
}

const ROW: f64 = 52.0;

/// The chart; `None` when there is nothing to do.
#[must_use]
pub fn lanes_chart(lanes: &[Lane], look: Look) -> Option<String> {
    let ends = lanes.iter().flat_map(|l| &l.bars).map(|b| b.done_h.map_or(b.to_h, |d| d[1]));
    let last = ends.reduce(f64::max)?.max(1.0);
    let (width, left, class) = match look {
        Look::Wide => (1120.0, 110.0, "chart wide lanes"),
        Look::Narrow => (344.0, 8.0, "chart narrow lanes"),
        Look::Paper => (720.0, 100.0, "chart paper lanes"),
    };
    let name_above = look == Look::Narrow;
    let row = if name_above { ROW + 18.0 } else { ROW };
    let bottom = 10.0 + row * lanes.len() as f64;
    let x = Linear::new([0.0, last * 1.03], [left, width - 14.0]);
    let mut s = Svg::open(width, bottom + 46.0, class, "Who works where and when", "role=\"img\" ");
    s.raw(
        "<defs><pattern id=\"lane-way\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\">\
         <path d=\"M0 6L6 0\" stroke=\"currentColor\" fill=\"none\"/></pattern></defs>",
    );
    let most = if look == Look::Narrow { 5.0 } else { 12.0 };
    let (step, places) = nice_step(last * 1.03, most);
    let mut at = 0.0;
    while at <= last * 1.03 {
        let grid = "stroke=\"currentColor\" stroke-opacity=\".2\"";
        s.line((x.at(at), 6.0), (x.at(at), bottom), grid);
        let text = format!("{} h", words::number(at, places));
        s.text((x.at(at), bottom + 15.0), "text-anchor=\"middle\"", &text);
        at += step;
    }
    for (i, lane) in lanes.iter().enumerate() {
        let top = 10.0 + row * i as f64 + if name_above { 16.0 } else { 0.0 };
        let place = if name_above { (left, top - 3.0) } else { (6.0, top + 24.0) };
        s.text(place, "font-weight=\"600\"", &clipped(&lane.name, 16));
        for bar in &lane.bars {
            draw(bar, top, x, &mut s);
        }
    }
    let key = "solid: hands on · hatched: on the way · open: waiting or rest · whisker: done, 80 %";
    s.text(
        (left, bottom + 36.0),
        "fill-opacity=\".8\"",
        if name_above { "whisker: done, 80 %" } else { key },
    );
    Some(s.close())
}

fn draw(bar: &LaneBar, top: f64, x: Linear, s: &mut Svg) {
    let (from, to) = (x.at(bar.from_h), x.at(bar.to_h));
    let size = ((to - from).max(1.0), 22.0);
    let attrs = match bar.kind {
        LaneKind::Work => {
            "class=\"lane work\" fill=\"currentColor\" fill-opacity=\".35\" stroke=\"currentColor\""
        }
        LaneKind::Walk => {
            "class=\"lane way\" fill=\"url(#lane-way)\" stroke=\"currentColor\" stroke-opacity=\".6\""
        }
        LaneKind::Wait | LaneKind::Rest => {
            "class=\"lane rest\" fill=\"none\" stroke=\"currentColor\" stroke-dasharray=\"4 3\""
        }
    };
    s.rect((from, top + 6.0), size, attrs);
    if let Some([early, late]) = bar.done_h {
        let y = top + 34.0;
        let data = format!(
            "M{} {}H{}M{} {}v6M{} {}v6",
            px(x.at(early)),
            px(y),
            px(x.at(late)),
            px(x.at(early)),
            px(y - 3.0),
            px(x.at(late)),
            px(y - 3.0)
        );
        s.path(
            &data,
            "class=\"whisker\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.6\"",
        );
    }
    let room = ((to - from) / 7.0) as usize;
    if bar.kind == LaneKind::Work && room >= 6 {
        let attrs = "class=\"halo\" text-anchor=\"middle\" font-weight=\"600\"";
        s.text(((from + to) / 2.0, top + 21.0), attrs, &clipped(&bar.label, room));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_empty_night_draws_nothing() {
        assert_eq!(lanes_chart(&[], Look::Wide), None);
        let idle = Lane { name: "A".into(), bars: Vec::new() };
        assert_eq!(lanes_chart(&[idle], Look::Narrow), None);
    }

    #[test]
    fn names_are_escaped() {
        let bar = LaneBar {
            kind: LaneKind::Work,
            from_h: 0.0,
            to_h: 3.0,
            done_h: Some([2.0, 4.0]),
            label: "<b>".into(),
        };
        let lane = Lane { name: "<i>".into(), bars: vec![bar] };
        let svg = lanes_chart(&[lane], Look::Wide).unwrap();
        assert!(svg.contains("&lt;i&gt;") && !svg.contains("<i>"));
    }
}
