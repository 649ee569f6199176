//! One sign for each state: the more ink, the more urgent. Told apart by outline, so that they
//! hold in black and white, in sun glare and for the colour-blind.

use record::State;

use crate::svg::px;

/// A sign of its own, `size_px` square. Hidden from screen readers: the word stands beside it.
#[must_use]
pub fn state_glyph(state: State, size_px: f64) -> String {
    let s = px(size_px);
    let mid = size_px / 2.0;
    format!(
        "<svg class=\"glyph\" width=\"{s}\" height=\"{s}\" viewBox=\"0 0 {s} {s}\" \
         aria-hidden=\"true\">{}</svg>",
        mark(state, mid, mid, size_px)
    )
}

/// One letter for the state, where there is no room for the word.
#[must_use]
pub fn state_letter(state: State) -> &'static str {
    match state {
        State::Ok => "",
        State::Watch => "W",
        State::Act => "A",
        State::Urgent => "U",
    }
}

/// The sign centred on a point of a larger picture.
pub(crate) fn mark(state: State, x: f64, y: f64, size: f64) -> String {
    let r = size * 0.45;
    let class = state.as_str();
    let open = "fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.6\"";
    match state {
        State::Ok => format!(
            "<circle class=\"g {class}\" cx=\"{}\" cy=\"{}\" r=\"{}\" {open}/>",
            px(x),
            px(y),
            px(r * 0.7)
        ),
        State::Watch => format!(
            "<path class=\"g {class}\" d=\"M{} {}l{2} {2}l{3} {2}l{3} {3}z\" {open}/>",
            px(x),
            px(y - r),
            px(r),
            px(-r)
        ),
        State::Act => format!(
            "<rect class=\"g {class} solid\" x=\"{}\" y=\"{}\" width=\"{2}\" height=\"{2}\"/>",
            px(x - r * 0.85),
            px(y - r * 0.85),
            px(r * 1.7)
        ),
        State::Urgent => format!(
            "<path class=\"g {class} solid\" d=\"M{} {}l{} {}h{}z\"/>",
            px(x),
            px(y - r),
            px(r * 1.1),
            px(r * 2.0),
            px(-r * 2.2)
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_state_has_its_own_outline() {
        let shapes: Vec<String> = [State::Ok, State::Watch, State::Act, State::Urgent]
            .map(|s| mark(s, 8.0, 8.0, 16.0).replace(s.as_str(), ""))
            .to_vec();
        for (i, a) in shapes.iter().enumerate() {
            assert!(shapes.iter().skip(i + 1).all(|b| a != b), "{a}");
        }
    }
}
