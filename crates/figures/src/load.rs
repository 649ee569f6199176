//! The load of all boxes in the days to come, with its 90 % band, against what may be loaded.

use units::Utc;

use crate::Look;
use crate::scale::{Linear, time_marks, value_marks};
use crate::svg::{Svg, px};
use crate::words;

/// The load at an instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoadPoint {
    /// When.
    pub at: Utc,
    /// Expected load of the boxes, kW.
    pub kw: f64,
    /// Its 90 % interval, kW.
    pub kw_p90: [f64; 2],
    /// What the boxes may draw under the reserve rule, kW; `None` when it is not known.
    pub limit_kw: Option<f64>,
    /// Outside air taken for it, °C.
    pub ambient_c: f64,
}

/// The chart; `None` with fewer than two points.
#[must_use]
pub fn load_chart(points: &[LoadPoint], look: Look) -> Option<String> {
    let (first, last) = (points.first()?, points.last()?);
    if last.at <= first.at {
        return None;
    }
    let (width, height, class) = match look {
        Look::Wide => (1120.0, 330.0, "chart wide load"),
        Look::Narrow => (344.0, 270.0, "chart narrow load"),
        Look::Paper => (720.0, 300.0, "chart paper load"),
    };
    let (left, right, top, bottom) = (52.0, width - 58.0, 26.0, height - 74.0);
    let limits = points.iter().filter_map(|p| p.limit_kw);
    let top_kw = points.iter().map(|p| p.kw_p90[1]).chain(limits).fold(1.0, f64::max) * 1.06;
    let x = Linear::new([first.at.ms() as f64, last.at.ms() as f64], [left, right]);
    let y = Linear::new([0.0, top_kw], [bottom, top]);
    let mut s = Svg::open(width, height, class, "Load of the boxes ahead", "role=\"img\" ");
    s.text((4.0, 14.0), "font-weight=\"600\"", "Load of the boxes, kW");
    let grid = "class=\"grid\" stroke=\"currentColor\" stroke-opacity=\".16\"";
    let (marks, places) = value_marks(0.0, top_kw, 6.0);
    for v in marks {
        s.line((left, y.at(v)), (right, y.at(v)), grid);
        s.text((left - 5.0, y.at(v) + 4.0), "text-anchor=\"end\"", &words::number(v, places));
    }
    for at in time_marks(first.at, last.at, (right - left) / 62.0) {
        let place = x.at_time(at);
        s.line((place, top), (place, bottom), grid);
        let midnight = words::clock(at) == "00:00";
        let text = if midnight { words::day(at) } else { words::clock(at) };
        s.text((place, bottom + 16.0), "text-anchor=\"middle\"", &text);
    }
    s.text((right + 28.0, bottom + 16.0), "", "UTC");
    let upper = points.iter().map(|p| (p.at, p.kw_p90[1]));
    let lower = points.iter().rev().map(|p| (p.at, p.kw_p90[0]));
    let mut band = String::new();
    for (at, kw) in upper.chain(lower) {
        let start = if band.is_empty() { 'M' } else { 'L' };
        band.push_str(&format!("{start}{} {}", px(x.at_time(at)), px(y.at(kw))));
    }
    band.push('z');
    let attrs = "class=\"load-band\" fill=\"currentColor\" fill-opacity=\".16\" \
                 stroke=\"currentColor\" stroke-opacity=\".4\" stroke-width=\".8\"";
    s.path(&band, attrs);
    let line = |value: &dyn Fn(&LoadPoint) -> Option<f64>| {
        let mut data = String::new();
        for (at, v) in points.iter().filter_map(|p| value(p).map(|v| (p.at, v))) {
            let start = if data.is_empty() { 'M' } else { 'L' };
            data.push_str(&format!("{start}{} {}", px(x.at_time(at)), px(y.at(v))));
        }
        data
    };
    let limit = line(&|p| p.limit_kw);
    let attrs = "class=\"level limit\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"2\" \
                 stroke-dasharray=\"8 4\"";
    s.path(&limit, attrs);
    let attrs = "class=\"line load\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"2.4\"";
    s.path(&line(&|p| Some(p.kw)), attrs);
    if let Some(kw) = last.limit_kw {
        s.text((right + 4.0, y.at(kw) + 4.0), "class=\"level-name limit\"", "limit");
    }
    s.text((right + 4.0, y.at(last.kw) + 4.0), "font-weight=\"600\"", "boxes");
    ambient(points, &x, (bottom + 30.0, look), &mut s);
    Some(s.close())
}

/// The outside air under the picture, a figure each few hours.
fn ambient(points: &[LoadPoint], x: &Linear, (top, look): (f64, Look), s: &mut Svg) {
    s.text((4.0, top + 14.0), "font-weight=\"600\"", "°C out");
    let most = if look == Look::Narrow { 5 } else { 12 };
    let every = points.len().div_ceil(most).max(1);
    for p in points.iter().step_by(every).skip(1) {
        let text = words::number(p.ambient_c, 0);
        s.text((x.at_time(p.at), top + 14.0), "text-anchor=\"middle\"", &text);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_band_a_line_and_the_limit_where_it_is_known() {
        let point = |h: f64, limit_kw| LoadPoint {
            at: Utc::from_ms(1_773_000_000_000).plus_hours(h),
            kw: 100.0 + h,
            kw_p90: [90.0, 120.0],
            limit_kw,
            ambient_c: 30.0,
        };
        let svg = load_chart(&[point(0.0, Some(150.0)), point(24.0, Some(150.0))], Look::Wide);
        let svg = svg.unwrap();
        assert!(svg.contains("load-band") && svg.contains("level limit"));
        let bare = load_chart(&[point(0.0, None), point(24.0, None)], Look::Narrow).unwrap();
        assert!(!bare.contains("level limit"));
        assert_eq!(load_chart(&[point(0.0, None)], Look::Wide), None);
    }
}
