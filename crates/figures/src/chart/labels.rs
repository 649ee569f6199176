//! Names at the lines: levels (ordered temperature, limits) inside at the left, traces with
//! their latest value at the right. No legend to look up.

use record::Channel;

use super::{Field, Frame, Look};
use crate::svg::{Svg, clipped, escape, px};
use crate::words;

/// Height of one label.
const ROW: f64 = 14.0;

/// The trade's name of a channel.
#[must_use]
pub fn channel_name(c: Channel) -> &'static str {
    match c {
        Channel::SetPoint => "set point",
        Channel::Supply => "supply air",
        Channel::Return => "return air",
        Channel::Ambient => "ambient",
        Channel::Probe1 => "probe 1",
        Channel::Probe2 => "probe 2",
        Channel::Probe3 => "probe 3",
        Channel::Probe4 => "probe 4",
        Channel::RhSet => "humidity set",
        Channel::Rh => "humidity",
        Channel::Co2 => "CO₂",
        Channel::O2 => "O₂",
        Channel::Power => "power",
    }
}

/// Moves labels apart so that none covers another, staying between `low` and `high`.
pub(crate) fn spread(wanted: &mut [f64], low: f64, high: f64) {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    let place = |w: &[f64], i: usize| w.get(i).copied().unwrap_or(low);
    order.sort_by(|a, b| place(wanted, *a).total_cmp(&place(wanted, *b)));
    let mut floor = low;
    for i in &order {
        if let Some(y) = wanted.get_mut(*i) {
            *y = y.max(floor);
            floor = *y + ROW;
        }
    }
    let mut ceiling = high;
    for i in order.iter().rev() {
        if let Some(y) = wanted.get_mut(*i) {
            *y = y.min(ceiling);
            ceiling = *y - ROW;
        }
    }
}

/// A level with its wording: value, text, class, dash.
type Level = (f64, String, &'static str, &'static str);

fn levels(frame: &Frame) -> Vec<Level> {
    let mut levels: Vec<Level> = Vec::new();
    if let Some(c) = frame.history.ordered_c {
        levels.push((c, format!("ordered {}", words::temp(c)), "ordered", "10 3 3 3"));
    }
    for (c, text) in &frame.history.limits_c {
        levels.push((*c, text.clone(), "limit", "4 4"));
    }
    levels
}

/// Ordered temperature and limits as dashed lines, under the traces.
pub(super) fn level_lines(frame: &Frame, field: &Field, s: &mut Svg) {
    for (c, _, class, dash) in levels(frame).iter().filter(|l| field.y.holds(l.0)) {
        let attrs = format!(
            "class=\"level {class}\" stroke=\"currentColor\" stroke-width=\"1.6\" \
             stroke-dasharray=\"{dash}\""
        );
        let y = field.y.at(*c);
        s.line((frame.left(), y), (frame.right(), y), &attrs);
    }
}

/// The names of the levels, over the traces; a level off the paper is named at the edge.
pub(super) fn level_names(frame: &Frame, field: &Field, s: &mut Svg) {
    let levels = levels(frame);
    let (left, right) = (frame.left(), frame.right());
    let (top, bottom) = (field.top, field.top + field.height);
    let mut wanted: Vec<f64> = levels
        .iter()
        .map(|(c, ..)| (field.y.at(*c) - 4.0).clamp(top + 12.0, bottom - 4.0))
        .collect();
    spread(&mut wanted, top + 12.0, bottom - 4.0);
    let room = ((right - left) / 6.6) as usize;
    for ((c, text, class, _), y) in levels.iter().zip(wanted) {
        let arrow = match (field.y.holds(*c), *c > field.high) {
            (true, _) => "",
            (false, true) => "↑ ",
            (false, false) => "↓ ",
        };
        let full = format!("{arrow}{text}");
        s.raw(&format!(
            "<text class=\"halo level-name {class}\" x=\"{}\" y=\"{}\" paint-order=\"stroke\" \
             stroke=\"#fff\" stroke-width=\"4\" stroke-linejoin=\"round\"><title>{}</title>{}</text>",
            px(left + 6.0),
            px(y),
            escape(&full),
            escape(&clipped(&full, room))
        ));
    }
}

/// The name and latest value of each trace, at the height of its end.
pub(super) fn direct(frame: &Frame, field: &Field, s: &mut Svg) {
    let ends: Vec<(Channel, f64, f64)> = field
        .traces
        .iter()
        .filter_map(|t| {
            let mut points = t.pieces.iter().flatten().filter(|(at, _)| frame.holds(*at));
            let (at, v) = points.next_back()?;
            Some((t.channel, frame.x.at_time(*at), *v))
        })
        .collect();
    let mut wanted: Vec<f64> = ends.iter().map(|(.., v)| field.y.at(*v) + 4.0).collect();
    spread(&mut wanted, field.top + 9.0, field.top + field.height + 2.0);
    for ((channel, x, v), y) in ends.iter().zip(wanted) {
        let end = (*x, field.y.at(*v));
        let lead =
            format!("M{} {}L{} {}", px(end.0), px(end.1), px(frame.right() + 9.0), px(y - 4.0));
        let stem = channel.stem();
        let attrs = format!(
            "class=\"lead {stem}\" fill=\"none\" stroke=\"currentColor\" stroke-opacity=\".5\" \
             stroke-width=\".8\""
        );
        s.path(&lead, &attrs);
        let text = label(frame.look, *channel, *v);
        let attrs = format!("class=\"direct {stem}\"");
        s.text((frame.right() + 11.0, y), &attrs, &text);
    }
}

fn label(look: Look, c: Channel, v: f64) -> String {
    let value = words::number(v, 1);
    if look != Look::Narrow {
        let unit = match c.unit_suffix() {
            "pct" => "%",
            "kw" => "kW",
            _ => "°C",
        };
        return format!("{} {value} {unit}", channel_name(c));
    }
    let short = match c {
        Channel::SetPoint => "set",
        Channel::Supply => "supply",
        Channel::Return => "return",
        Channel::RhSet => "RH set",
        Channel::Rh => "RH",
        Channel::Ambient => "",
        Channel::Power => "",
        other => channel_name(other),
    };
    format!("{short} {value}").trim_start().to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_never_cover_each_other() {
        let mut y = [100.0, 101.0, 99.0, 300.0, 298.0];
        spread(&mut y, 20.0, 300.0);
        let mut sorted = y.to_vec();
        sorted.sort_by(f64::total_cmp);
        assert!(sorted.windows(2).all(|w| w[1] - w[0] >= ROW - 1e-9), "{sorted:?}");
        assert!(sorted[0] >= 20.0 && sorted[4] <= 300.0);
    }
}
