//! Hours to the limit on one common axis, so that a column of bars can be compared at a glance.

use record::State;
use units::math::ln;

use crate::svg::{Svg, px};
use crate::words;

const WIDTH: f64 = 220.0;
const HEIGHT: f64 = 20.0;
/// Both ends of the axis in hours: half an hour to thirty days, evenly by factors.
const AXIS_H: [f64; 2] = [0.5, 720.0];
const MARKS_H: [(f64, &str); 4] = [(6.0, "6 h"), (24.0, "24 h"), (72.0, "3 d"), (168.0, "7 d")];

fn x_of(hours: f64) -> f64 {
    let [low, high] = AXIS_H;
    let inside = hours.clamp(low, high);
    4.0 + (WIDTH - 8.0) * ln(inside / low) / ln(high / low)
}

/// The bar of one box: a thick stroke over the 90 % interval, a tick at the estimate. `None`
/// when no limit is in sight: nothing is drawn.
#[must_use]
pub fn limit_bar(state: State, hours: Option<f64>, p90: Option<[f64; 2]>) -> Option<String> {
    let hours = hours?;
    let label = match p90 {
        Some([low, high]) => format!(
            "{} to the limit, 90 % between {} and {}",
            words::hours(hours),
            words::hours(low),
            words::hours(high)
        ),
        None => format!("{} to the limit", words::hours(hours)),
    };
    let mut s = Svg::open(WIDTH, HEIGHT, "limit-bar", &label, "role=\"img\" ");
    let mid = HEIGHT / 2.0;
    let mut marks = format!("M4 {}h{}", px(mid), px(WIDTH - 8.0));
    for (at, _) in MARKS_H {
        marks.push_str(&format!("M{} 2v{}", px(x_of(at)), px(HEIGHT - 4.0)));
    }
    let attrs = "class=\"mark\" fill=\"none\" stroke=\"currentColor\" stroke-opacity=\".35\"";
    s.path(&marks, attrs);
    let class = state.as_str();
    if let Some([low, high]) = p90 {
        let attrs = format!("class=\"span {class}\" fill=\"currentColor\" fill-opacity=\".5\"");
        s.rect((x_of(low), mid - 4.0), ((x_of(high) - x_of(low)).max(2.0), 8.0), &attrs);
    }
    let tick = format!("M{} {}v{}", px(x_of(hours)), px(mid - 7.5), px(15.0));
    let attrs =
        format!("class=\"tick {class}\" stroke=\"currentColor\" stroke-width=\"3\" fill=\"none\"");
    s.path(&tick, &attrs);
    Some(s.close())
}

/// The same bar, small, within a picture: `at` is its left end and middle height. Nothing when no
/// limit is in sight.
pub(crate) fn small_bar(
    s: &mut Svg,
    hours: Option<f64>,
    p90: Option<[f64; 2]>,
    at: (f64, f64),
    width: f64,
) {
    let Some(hours) = hours else { return };
    let x = |h: f64| at.0 + (x_of(h) - 4.0) / (WIDTH - 8.0) * width;
    let attrs = "class=\"mark\" stroke=\"currentColor\" stroke-opacity=\".45\"";
    s.line((at.0, at.1), (at.0 + width, at.1), attrs);
    if let Some([low, high]) = p90 {
        let attrs = "class=\"span\" fill=\"currentColor\" fill-opacity=\".5\"";
        s.rect((x(low), at.1 - 2.5), ((x(high) - x(low)).max(2.0), 5.0), attrs);
    }
    let tick = format!("M{} {}v10", px(x(hours)), px(at.1 - 5.0));
    s.path(&tick, "class=\"tick\" stroke=\"currentColor\" stroke-width=\"2.4\" fill=\"none\"");
}

/// The axis of a column of [`limit_bar`]s, with its marks named.
#[must_use]
pub fn limit_axis() -> String {
    let mut s = Svg::open(
        WIDTH,
        HEIGHT,
        "limit-bar",
        "Marks at 6 h, 24 h, 3 days and 7 days",
        "role=\"img\" ",
    );
    for (at, name) in MARKS_H {
        s.line((x_of(at), HEIGHT - 5.0), (x_of(at), HEIGHT), "stroke=\"currentColor\"");
        s.text((x_of(at), HEIGHT - 7.0), "text-anchor=\"middle\"", name);
    }
    s.close()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_limit_draws_nothing() {
        assert_eq!(limit_bar(State::Ok, None, Some([1.0, 2.0])), None);
    }

    /// Equal factors take equal lengths on a logarithmic axis (definition).
    #[test]
    fn equal_factors_equal_lengths() {
        let a = x_of(24.0) - x_of(6.0);
        let b = x_of(96.0) - x_of(24.0);
        assert!((a - b).abs() < 1e-9);
        assert_eq!(x_of(0.0), x_of(0.5));
        assert_eq!(x_of(1e9), x_of(720.0));
    }
}
