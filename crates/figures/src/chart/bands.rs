//! Spells of time behind the lines: defrost, no power, nothing read; and the alarm flags above.

use record::Span;

use super::{Frame, Look};
use crate::svg::{Svg, clipped, escape, px, rect_path};
use crate::words;

/// The three kinds of spell, each with a hatch that needs no colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Defrost,
    NoPower,
    NothingRead,
}

impl Kind {
    const ALL: [Self; 3] = [Self::Defrost, Self::NoPower, Self::NothingRead];

    fn class(self) -> &'static str {
        match self {
            Self::Defrost => "defrost",
            Self::NoPower => "no-power",
            Self::NothingRead => "nothing-read",
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::Defrost => "defrost and the hour after",
            Self::NoPower => "no power",
            Self::NothingRead => "nothing read",
        }
    }

    fn spans<'a>(self, frame: &Frame<'a>) -> &'a [Span] {
        match self {
            Self::Defrost => &frame.history.defrosts,
            Self::NoPower => &frame.history.power_off,
            Self::NothingRead => &frame.history.gaps,
        }
    }

    /// The strokes of one 8 by 8 tile.
    fn tile(self) -> &'static str {
        match self {
            Self::Defrost => "M0 8L8 0",
            Self::NoPower => "M0 0L8 8M0 8L8 0M0 4h8",
            Self::NothingRead => "M1 2h2M5 6h2",
        }
    }

    fn pattern_id(self, look: Look) -> String {
        format!("hatch-{}-{}", self.class(), look.letter())
    }
}

/// Draws every spell that touches the span, through all fields.
pub(super) fn draw(frame: &Frame, s: &mut Svg) {
    s.raw("<defs>");
    for kind in Kind::ALL {
        s.raw(&format!(
            "<pattern id=\"{}\" width=\"8\" height=\"8\" patternUnits=\"userSpaceOnUse\">\
             <path class=\"hatch {}\" d=\"{}\" stroke=\"currentColor\" stroke-opacity=\".45\" \
             fill=\"none\"/></pattern>",
            kind.pattern_id(frame.look),
            kind.class(),
            kind.tile()
        ));
    }
    s.raw("</defs>");
    for kind in Kind::ALL {
        let spans: Vec<(f64, f64)> =
            kind.spans(frame).iter().filter_map(|span| frame.clip(*span)).collect();
        let mut path = String::new();
        for field in &frame.fields {
            for (from, to) in &spans {
                let size = ((to - from).max(1.0), field.height);
                path.push_str(&rect_path((*from, field.top), size));
            }
        }
        let fill = format!(
            "class=\"band {}\" fill=\"url(#{})\"",
            kind.class(),
            kind.pattern_id(frame.look)
        );
        s.path(&path, &fill);
        if kind == Kind::NoPower {
            name_spells(frame, &spans, s);
        }
    }
}

/// Room that the words "no power" take.
const NAME_WIDTH: f64 = 60.0;

/// A spell without power is named where it stands, if the words fit into it: it is what a person
/// looks for first.
fn name_spells(frame: &Frame, spans: &[(f64, f64)], s: &mut Svg) {
    let Some(main) = frame.fields.first() else {
        return;
    };
    for (from, to) in spans.iter().filter(|(from, to)| to - from >= NAME_WIDTH) {
        let middle = (from + to) / 2.0;
        let attrs = "class=\"halo no-power-name\" text-anchor=\"middle\" font-weight=\"600\"";
        s.text((middle, main.top + main.height - 6.0), attrs, "no power");
    }
}

/// Alarm flags in the row above the large field. A flag is named where there is room; every flag
/// carries its text and time as a title.
pub(super) fn alarms(frame: &Frame, s: &mut Svg) {
    let Some(main) = frame.fields.first() else {
        return;
    };
    let mut free_from = frame.left();
    let mut seen: Vec<_> = frame.history.alarms.iter().collect();
    seen.sort_by_key(|(at, _)| *at);
    for (at, text) in seen.into_iter().filter(|a| frame.holds(a.0)) {
        let x = frame.x.at_time(*at);
        let title = format!("alarm {text}, first seen {} UTC", at.to_minute());
        s.raw(&format!(
            "<g class=\"alarm\"><title>{}</title><path d=\"M{} {}V{}h9l-3 4l3 4h-9\" \
             stroke=\"currentColor\" stroke-width=\"1.5\" fill=\"currentColor\" \
             fill-opacity=\".25\"/>",
            escape(&title),
            px(x),
            px(main.top + main.height),
            px(main.top - 12.0)
        ));
        let name = clipped(text, 14);
        let width = 12.0 + 6.5 * name.chars().count() as f64;
        if x >= free_from && x + width <= frame.sizes.width {
            s.text((x + 12.0, main.top - 4.0), "", &name);
            free_from = x + width + 4.0;
        }
        s.raw("</g>");
    }
}

/// Height of the key below the time axis.
pub(super) fn key_height(look: Look) -> f64 {
    match look {
        Look::Wide | Look::Paper => 28.0,
        Look::Narrow => 66.0,
    }
}

/// What the hatches mean.
pub(super) fn key(frame: &Frame, s: &mut Svg) {
    let mut at = (frame.left(), frame.bottom + 30.0);
    for kind in Kind::ALL {
        let swatch = format!(
            "class=\"band {}\" fill=\"url(#{})\" stroke=\"currentColor\" stroke-opacity=\".6\"",
            kind.class(),
            kind.pattern_id(frame.look)
        );
        s.rect(at, (28.0, 14.0), &swatch);
        s.text((at.0 + 34.0, at.1 + 11.0), "", kind.words());
        match frame.look {
            Look::Wide | Look::Paper => at.0 += 60.0 + 6.6 * kind.words().len() as f64,
            Look::Narrow => at.1 += 20.0,
        }
    }
    if frame.look == Look::Wide {
        let Span { from, to } = frame.history.span;
        let text = format!("{} to {} UTC", stamp(from), stamp(to));
        let place = (frame.right(), at.1 + 11.0);
        s.text(place, "text-anchor=\"end\"", &text);
    }
}

fn stamp(at: units::Utc) -> String {
    format!("{} {}", words::day(at), words::clock(at))
}
