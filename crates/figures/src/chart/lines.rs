//! The lines themselves. Each channel has its own dash and its own point sign, so that a
//! photocopy still tells them apart. A gap ends a line; nothing is drawn across it.

use std::fmt::Write;

use record::{Channel, Trace};

use super::{Field, Frame};
use crate::svg::{Svg, px};

/// Dash and width of a channel's line.
pub(crate) fn stroke(c: Channel) -> (&'static str, f64) {
    match c {
        Channel::Supply | Channel::Ambient | Channel::Power | Channel::Rh => ("", 2.2),
        Channel::Return => ("9 4", 2.2),
        Channel::SetPoint | Channel::RhSet => ("2 3", 1.6),
        Channel::Probe1 | Channel::Co2 => ("14 3 2 3", 1.4),
        Channel::Probe2 | Channel::O2 => ("5 3", 1.4),
        Channel::Probe3 => ("2 2", 1.4),
        Channel::Probe4 => ("", 1.0),
    }
}

/// The point sign of a channel, as path data around a point.
fn sign(c: Channel, x: f64, y: f64) -> Option<String> {
    let (x, y) = (px(x), px(y));
    Some(match c {
        Channel::SetPoint | Channel::RhSet => return None,
        Channel::Return | Channel::Co2 => format!("M{x} {y}m-3 -3h6v6h-6z"),
        Channel::Probe1 => format!("M{x} {y}m0 -4l4 7h-8z"),
        Channel::Probe2 => format!("M{x} {y}m0 -4l4 4l-4 4l-4 -4z"),
        Channel::Probe3 => format!("M{x} {y}m-3 -3l6 6m0 -6l-6 6"),
        Channel::Probe4 => format!("M{x} {y}m-4 0h8m-4 -4v8"),
        _ => format!("M{x} {y}m-3 0a3 3 0 1 0 6 0a3 3 0 1 0 -6 0"),
    })
}

/// Draws the traces of one field.
pub(super) fn draw(frame: &Frame, field: &Field, s: &mut Svg) {
    for trace in &field.traces {
        let (dash, width) = stroke(trace.channel);
        let dash =
            if dash.is_empty() { String::new() } else { format!(" stroke-dasharray=\"{dash}\"") };
        let attrs = format!(
            "class=\"line {}\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"{width}\" \
             stroke-linejoin=\"round\" stroke-linecap=\"butt\"{dash}",
            trace.channel.stem()
        );
        s.path(&line_data(frame, field, trace), &attrs);
        let attrs = format!(
            "class=\"sign {}\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.4\"",
            trace.channel.stem()
        );
        s.path(&sign_data(frame, field, trace), &attrs);
    }
}

/// Every piece as path data. Where several readings fall on one pixel column, their first,
/// lowest, highest and last are drawn: on paper that is the same line.
fn line_data(frame: &Frame, field: &Field, trace: &Trace) -> String {
    let mut data = String::new();
    for piece in &trace.pieces {
        let places: Vec<(f64, f64)> = piece
            .iter()
            .filter(|(at, _)| frame.holds(*at))
            .map(|(at, v)| (frame.x.at_time(*at), field.y.at(*v)))
            .collect();
        if places.len() < 2 {
            continue;
        }
        // Steps between rounded places: short, and the rounding does not add up.
        let mut last = None;
        for (x, y) in thinned(&places) {
            let here = (tenths(x), tenths(y));
            match last.replace(here) {
                None => {
                    let _ = write!(data, "M{} {}l", px(x), px(y));
                }
                Some((x0, y0)) => {
                    step(&mut data, here.0 - x0);
                    step(&mut data, here.1 - y0);
                }
            }
        }
    }
    data
}

fn tenths(v: f64) -> i64 {
    (v * 10.0).round() as i64
}

/// One number of a path; a space only where the sign does not part it from the one before.
fn step(data: &mut String, tenths: i64) {
    if tenths >= 0 && !data.ends_with('l') {
        data.push(' ');
    }
    data.push_str(&px(tenths as f64 / 10.0));
}

/// Width of a column within which points are thinned.
const COLUMN: f64 = 2.0;

pub(crate) fn thinned(places: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut out = Vec::new();
    for column in places.chunk_by(|a, b| (a.0 / COLUMN).floor() == (b.0 / COLUMN).floor()) {
        let extreme = |pick: fn(f64, f64) -> bool| {
            let mut best: Option<usize> = None;
            for (i, p) in column.iter().enumerate() {
                let better = best.and_then(|b| column.get(b)).is_none_or(|b| pick(p.1, b.1));
                if better {
                    best = Some(i);
                }
            }
            best
        };
        let mut keep = vec![0, column.len().saturating_sub(1)];
        keep.extend(extreme(|a, b| a < b));
        keep.extend(extreme(|a, b| a > b));
        keep.sort_unstable();
        keep.dedup();
        out.extend(keep.into_iter().filter_map(|i| column.get(i).copied()));
    }
    out
}

/// Point signs: on every reading where there are few, at intervals along a dense line, and always
/// on a reading that stands alone.
fn sign_data(frame: &Frame, field: &Field, trace: &Trace) -> String {
    let count: usize = trace.pieces.iter().map(Vec::len).sum();
    let room = frame.right() - frame.left();
    let spacing = if (count as f64) < room / 14.0 { 9.0 } else { 110.0 };
    let mut data = String::new();
    // Lines that run together carry their signs at different places.
    let mut next = frame.left() + spacing * 0.13 * (trace.channel as u8 as f64);
    for piece in &trace.pieces {
        for (at, v) in piece.iter().filter(|(at, _)| frame.holds(*at)) {
            let x = frame.x.at_time(*at);
            if x < next && piece.len() > 1 {
                continue;
            }
            next = x + spacing;
            if let Some(sign) = sign(trace.channel, x, field.y.at(*v)) {
                data.push_str(&sign);
            }
        }
    }
    data
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thinning_keeps_peaks() {
        let mut places: Vec<(f64, f64)> = (0..1000).map(|i| (f64::from(i) * 0.01, 5.0)).collect();
        places[503].1 = 99.0;
        places[504].1 = -99.0;
        let thin = thinned(&places);
        assert!(thin.len() < 30, "{}", thin.len());
        assert!(thin.iter().any(|p| p.1 == 99.0) && thin.iter().any(|p| p.1 == -99.0));
        assert_eq!(thin.first().map(|p| p.0), Some(0.0));
    }
}
