//! A load that grows in steps, against its limit.

use crate::Look;
use crate::scale::{Linear, nice_step, value_marks};
use crate::svg::{Svg, px};
use crate::words;

/// The load from an hour on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StairStep {
    /// Hours from now.
    pub hour: f64,
    /// Load from then on, kW.
    pub load_kw: f64,
    /// Limit from then on, kW; `None` when it is not known.
    pub limit_kw: Option<f64>,
}

/// The stair; `None` without a step.
#[must_use]
pub fn stair_chart(steps: &[StairStep], look: Look) -> Option<String> {
    let last = steps.last()?;
    let end_h = (last.hour * 1.1).max(0.2);
    let limits = steps.iter().filter_map(|s| s.limit_kw);
    let top_kw = steps.iter().map(|s| s.load_kw).chain(limits).fold(1.0, f64::max) * 1.08;
    let (width, height, class) = match look {
        Look::Wide => (1120.0, 300.0, "chart wide stair"),
        Look::Narrow => (344.0, 240.0, "chart narrow stair"),
        Look::Paper => (720.0, 260.0, "chart paper stair"),
    };
    let (left, right, top, bottom) = (56.0, width - 14.0, 24.0, height - 34.0);
    let x = Linear::new([0.0, end_h * 60.0], [left, right]);
    let y = Linear::new([0.0, top_kw], [bottom, top]);
    let mut s =
        Svg::open(width, height, class, "Load step by step against its limit", "role=\"img\" ");
    s.text((4.0, 13.0), "font-weight=\"600\"", "Load of the boxes, kW");
    let (marks, places) = value_marks(0.0, top_kw, 6.0);
    for v in marks {
        s.line((left, y.at(v)), (right, y.at(v)), "stroke=\"currentColor\" stroke-opacity=\".15\"");
        s.text((left - 6.0, y.at(v) + 4.0), "text-anchor=\"end\"", &words::number(v, places));
    }
    let (step, places) = nice_step(end_h * 60.0, if look == Look::Narrow { 4.0 } else { 10.0 });
    let mut at = 0.0;
    while at <= end_h * 60.0 {
        let text = format!("{} min", words::number(at, places));
        s.text((x.at(at), bottom + 16.0), "text-anchor=\"middle\"", &text);
        at += step;
    }
    let line = |value: &dyn Fn(&StairStep) -> Option<f64>| {
        let mut data = String::new();
        for step in steps {
            let Some(v) = value(step) else { continue };
            let (px_x, px_y) = (px(x.at(step.hour * 60.0)), px(y.at(v)));
            data.push_str(&if data.is_empty() {
                format!("M{px_x} {px_y}")
            } else {
                format!("H{px_x}V{px_y}")
            });
        }
        if !data.is_empty() {
            data.push_str(&format!("H{}", px(right)));
        }
        data
    };
    let limit = line(&|s| s.limit_kw);
    let attrs = "class=\"level limit\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"2\" stroke-dasharray=\"8 4\"";
    s.path(&limit, attrs);
    let attrs = "class=\"line load\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"2.4\"";
    s.path(&line(&|s| Some(s.load_kw)), attrs);
    if !limit.is_empty() {
        let at = steps.iter().rev().find_map(|s| s.limit_kw).unwrap_or(0.0);
        s.text((right - 4.0, y.at(at) - 6.0), "class=\"halo\" text-anchor=\"end\"", "limit");
    }
    Some(s.close())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stair_goes_along_and_up() {
        let step = |hour, load_kw| StairStep { hour, load_kw, limit_kw: Some(100.0) };
        let svg = stair_chart(&[step(0.0, 20.0), step(0.1, 40.0)], Look::Wide).unwrap();
        assert!(svg.contains("class=\"line load\"") && svg.contains("level limit"));
        assert_eq!(stair_chart(&[], Look::Wide), None);
    }
}
