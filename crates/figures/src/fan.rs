//! The fan of forecasts of one box over its past: what was read to the left of now, the cargo on
//! each course to the right, with its 90 % band.
//!
//! Courses differ by dash, by the hatch of their band and by their name at the end of the line.

use record::{BoxHistory, Channel, Fan, FanCourse, FanLine, Span};

use crate::Look;
use crate::chart::{labels, lines};
use crate::scale::{Linear, time_marks, value_marks};
use crate::svg::{Svg, clipped, escape, px};
use crate::words;

/// Share of the width that the past may take at most.
const PAST_SHARE: f64 = 0.35;
/// A limit further from the lines than this, and than the lines are wide, is named at the edge, K.
const REACH_K: f64 = 4.0;

struct Frame<'a> {
    history: &'a BoxHistory,
    fan: &'a Fan,
    look: Look,
    span: Span,
    x: Linear,
    y: Linear,
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
    range_c: (f64, f64),
}

/// The chart; `None` when there is no course to draw.
#[must_use]
pub fn fan_chart(history: &BoxHistory, fan: &Fan, look: Look) -> Option<String> {
    let last_h = fan.lines.iter().filter_map(|l| l.cargo.last()).map(|p| p.hours);
    let ahead_h = last_h.reduce(f64::max).filter(|h| *h > 0.0)?;
    let f = Frame::new(history, fan, look, ahead_h);
    let (width, class) = match look {
        Look::Wide => (1120.0, "chart wide fan"),
        Look::Narrow => (344.0, "chart narrow fan"),
        Look::Paper => (720.0, "chart paper fan"),
    };
    let label = format!("Forecast of the cargo temperature of {}", history.unit);
    let mut s = Svg::open(width, f.bottom + 26.0, class, &label, "role=\"img\" ");
    hatches(look, &mut s);
    axes(&f, &mut s);
    for line in &fan.lines {
        band(&f, line, &mut s);
    }
    limits(&f, &mut s);
    past(&f, &mut s);
    for line in &fan.lines {
        middle(&f, line, &mut s);
    }
    now(&f, &mut s);
    names(&f, &mut s);
    Some(s.close())
}

impl<'a> Frame<'a> {
    fn new(history: &'a BoxHistory, fan: &'a Fan, look: Look, ahead_h: f64) -> Self {
        let (left, right, top, bottom) = match look {
            Look::Wide => (46.0, 1120.0 - 190.0, 30.0, 330.0),
            Look::Narrow => (34.0, 344.0 - 100.0, 30.0, 300.0),
            Look::Paper => (42.0, 720.0 - 160.0, 30.0, 290.0),
        };
        let read_h = fan.at.hours_since(history.span.from).max(0.0);
        let past_h = read_h.min(ahead_h * PAST_SHARE / (1.0 - PAST_SHARE));
        let span = Span { from: fan.at.plus_hours(-past_h), to: fan.at.plus_hours(ahead_h) };
        let range_c = range(history, fan, span);
        Self {
            history,
            fan,
            look,
            span,
            x: Linear::new([span.from.ms() as f64, span.to.ms() as f64], [left, right]),
            y: Linear::new([range_c.0, range_c.1], [bottom, top]),
            left,
            right,
            top,
            bottom,
            range_c,
        }
    }

    fn x_ahead(&self, hours: f64) -> f64 {
        self.x.at_time(self.fan.at.plus_hours(hours))
    }

    fn y_inside(&self, temp_c: f64) -> f64 {
        self.y.at(temp_c).clamp(self.top, self.bottom)
    }

    fn limits(&self) -> Vec<(f64, &str)> {
        let mut out: Vec<(f64, &str)> = Vec::new();
        for l in self.fan.lines.iter().flat_map(|l| &l.limits) {
            if !out.iter().any(|(c, _)| *c == l.limit_c) {
                out.push((l.limit_c, &l.text));
            }
        }
        out
    }
}

/// Channels of the past: air only, the cargo is what the fan itself shows.
fn shown(c: Channel) -> bool {
    matches!(c, Channel::Supply | Channel::Return)
}

/// What must fit: the courses, the air of the past, and limits that are not far off. A band that
/// runs away is cut rather than flattening everything else.
fn range(history: &BoxHistory, fan: &Fan, span: Span) -> (f64, f64) {
    let points = fan.lines.iter().flat_map(|l| &l.cargo).map(|p| p.cargo_c);
    let read = history.traces.iter().filter(|t| shown(t.channel)).flat_map(|t| &t.pieces);
    let read = read.flatten().filter(|(at, _)| *at >= span.from).map(|(_, v)| *v);
    let (mut low, mut high) = points
        .chain(read)
        .map(|v| (v, v))
        .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
        .unwrap_or((0.0, 1.0));
    let reach = (high - low).max(REACH_K);
    let (edge_low, edge_high) = (low - reach, high + reach);
    for l in fan.lines.iter().flat_map(|l| &l.limits) {
        if l.limit_c >= edge_low && l.limit_c <= edge_high {
            low = low.min(l.limit_c);
            high = high.max(l.limit_c);
        }
    }
    let near = |c: f64| c.clamp(low - 0.25 * reach, high + 0.25 * reach);
    let bands = fan.lines.iter().flat_map(|l| &l.cargo).flat_map(|p| p.p90_c).map(near);
    let (a, b) = bands.fold((low, high), |(a, b), c| (a.min(c), b.max(c)));
    let pad = ((b - a) * 0.06).max(0.5);
    (a - pad, b + pad)
}

fn dash(course: FanCourse) -> &'static str {
    match course {
        FanCourse::Present => "",
        FanCourse::PowerOff => "9 4",
        FanCourse::Repaired => "2 3",
    }
}

fn hatch_id(course: FanCourse, look: Look) -> String {
    let end = match look {
        Look::Wide => "w",
        Look::Narrow => "n",
        Look::Paper => "p",
    };
    format!("fan-{}-{end}", course.as_str())
}

fn hatches(look: Look, s: &mut Svg) {
    let pattern = |course: FanCourse, data: &str| {
        format!(
            "<pattern id=\"{}\" width=\"7\" height=\"7\" patternUnits=\"userSpaceOnUse\"><path \
             class=\"course {}\" d=\"{data}\" stroke=\"currentColor\" stroke-opacity=\".5\" \
             fill=\"none\"/></pattern>",
            hatch_id(course, look),
            course.as_str()
        )
    };
    s.raw("<defs>");
    s.raw(&pattern(FanCourse::Present, "M0 7L7 0"));
    s.raw(&pattern(FanCourse::PowerOff, "M0 0L7 7"));
    s.raw(&pattern(FanCourse::Repaired, "M0 3.5H7"));
    s.raw("</defs>");
}

fn axes(f: &Frame, s: &mut Svg) {
    s.text((f.left, 13.0), "class=\"name\" font-weight=\"600\"", "Cargo and air, °C");
    let (marks, places) = value_marks(f.range_c.0, f.range_c.1, 9.0);
    let grid = "class=\"grid\" stroke=\"currentColor\" stroke-opacity=\".16\"";
    for v in marks {
        s.line((f.left, f.y.at(v)), (f.right, f.y.at(v)), grid);
        let text = words::number(v, places);
        s.text((f.left - 5.0, f.y.at(v) + 4.0), "text-anchor=\"end\"", &text);
    }
    for at in time_marks(f.span.from, f.span.to, (f.right - f.left) / 60.0) {
        let x = f.x.at_time(at);
        s.line((x, f.top), (x, f.bottom), grid);
        let midnight = words::clock(at) == "00:00";
        let text = if midnight { words::day(at) } else { words::clock(at) };
        let anchor = if f.right - x < 16.0 { "end" } else { "middle" };
        s.text((x, f.bottom + 16.0), &format!("text-anchor=\"{anchor}\""), &text);
    }
    s.text((f.right + 34.0, f.bottom + 16.0), "", "UTC");
    let size = (f.right - f.left, f.bottom - f.top);
    let field = "class=\"field\" fill=\"none\" stroke=\"currentColor\" stroke-opacity=\".6\"";
    s.rect((f.left, f.top), size, field);
}

/// The 90 % band of a course.
fn band(f: &Frame, line: &FanLine, s: &mut Svg) {
    let upper = line.cargo.iter().map(|p| (p.hours, p.p90_c[1]));
    let lower = line.cargo.iter().rev().map(|p| (p.hours, p.p90_c[0]));
    let mut data = String::new();
    for (h, c) in upper.chain(lower) {
        let start = if data.is_empty() { 'M' } else { 'L' };
        data.push_str(&format!("{start}{} {}", px(f.x_ahead(h)), px(f.y_inside(c))));
    }
    if !data.is_empty() {
        data.push('z');
    }
    let attrs = format!(
        "class=\"fan-band {}\" fill=\"url(#{})\" stroke=\"currentColor\" stroke-opacity=\".35\" \
         stroke-width=\".8\"",
        line.course.as_str(),
        hatch_id(line.course, f.look)
    );
    s.path(&data, &attrs);
}

fn middle(f: &Frame, line: &FanLine, s: &mut Svg) {
    let mut data = String::new();
    for p in &line.cargo {
        let start = if data.is_empty() { 'M' } else { 'L' };
        data.push_str(&format!("{start}{} {}", px(f.x_ahead(p.hours)), px(f.y_inside(p.cargo_c))));
    }
    let course = line.course.as_str();
    let attrs = format!(
        "class=\"line course {course}\" fill=\"none\" stroke=\"currentColor\" \
         stroke-width=\"2.6\" stroke-dasharray=\"{}\"",
        dash(line.course)
    );
    s.path(&data, &attrs);
    // Where it meets a limit, a ring.
    let end_h = line.cargo.last().map_or(0.0, |p| p.hours);
    for l in &line.limits {
        if let Some(h) = l.hours.filter(|h| *h <= end_h && f.y.holds(l.limit_c)) {
            let (x, y) = (px(f.x_ahead(h)), px(f.y.at(l.limit_c)));
            let ring = format!("M{x} {y}m-5 0a5 5 0 1 0 10 0a5 5 0 1 0 -10 0");
            let attrs = format!(
                "class=\"course {course}\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"2\""
            );
            s.path(&ring, &attrs);
        }
    }
}

/// Supply and return air as they were read.
fn past(f: &Frame, s: &mut Svg) {
    for trace in f.history.traces.iter().filter(|t| shown(t.channel)) {
        let (dash, _) = lines::stroke(trace.channel);
        let mut data = String::new();
        for piece in &trace.pieces {
            let inside = |at: &units::Utc| *at >= f.span.from && *at <= f.fan.at;
            let places: Vec<(f64, f64)> = piece
                .iter()
                .filter(|(at, _)| inside(at))
                .map(|(at, v)| (f.x.at_time(*at), f.y_inside(*v)))
                .collect();
            for (i, (x, y)) in lines::thinned(&places).into_iter().enumerate() {
                let start = if i == 0 { 'M' } else { 'L' };
                data.push_str(&format!("{start}{} {}", px(x), px(y)));
            }
        }
        let attrs = format!(
            "class=\"line {}\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.8\" \
             stroke-dasharray=\"{dash}\"",
            trace.channel.stem()
        );
        s.path(&data, &attrs);
    }
}

fn limits(f: &Frame, s: &mut Svg) {
    let all = f.limits();
    let (low, high) = (f.top + 12.0, f.bottom - 4.0);
    let mut wanted: Vec<f64> =
        all.iter().map(|(c, _)| (f.y.at(*c) - 4.0).clamp(low, high)).collect();
    labels::spread(&mut wanted, low, high);
    let room = ((f.right - f.left) / 6.6) as usize;
    for ((c, text), y) in all.iter().zip(wanted) {
        if f.y.holds(*c) {
            let attrs = "class=\"level limit\" stroke=\"currentColor\" stroke-width=\"1.6\" \
                         stroke-dasharray=\"4 4\"";
            s.line((f.left, f.y.at(*c)), (f.right, f.y.at(*c)), attrs);
        }
        let arrow = match (f.y.holds(*c), *c > f.range_c.1) {
            (true, _) => "",
            (false, true) => "↑ ",
            (false, false) => "↓ ",
        };
        let full = format!("{arrow}{text}");
        s.raw(&format!(
            "<text class=\"halo level-name limit\" x=\"{}\" y=\"{}\" paint-order=\"stroke\" \
             stroke=\"#fff\" stroke-width=\"4\" stroke-linejoin=\"round\"><title>{}</title>{}\
             </text>",
            px(f.left + 6.0),
            px(y),
            escape(&full),
            escape(&clipped(&full, room))
        ));
    }
}

/// The instant from which everything is forecast.
fn now(f: &Frame, s: &mut Svg) {
    let x = f.x.at_time(f.fan.at);
    let attrs = "class=\"now\" stroke=\"currentColor\" stroke-width=\"1.6\"";
    s.line((x, f.top - 8.0), (x, f.bottom), attrs);
    let read = x - f.left > 60.0;
    if read {
        s.text((x - 6.0, f.top - 4.0), "text-anchor=\"end\"", "read");
    }
    s.text((x + 6.0, f.top - 4.0), "", "forecast");
}

fn name(f: &Frame, course: FanCourse) -> String {
    let wide = f.look != Look::Narrow;
    match (course, wide) {
        (FanCourse::Present, true) => "present course".to_owned(),
        (FanCourse::Present, false) => "present".to_owned(),
        (FanCourse::PowerOff, true) => "power lost now".to_owned(),
        (FanCourse::PowerOff, false) => "power lost".to_owned(),
        (FanCourse::Repaired, true) => {
            format!("repaired after {}", words::hours(f.fan.repair_in_h))
        }
        (FanCourse::Repaired, false) => "repaired".to_owned(),
    }
}

fn names(f: &Frame, s: &mut Svg) {
    let ends: Vec<(&FanLine, f64)> = f
        .fan
        .lines
        .iter()
        .filter_map(|l| l.cargo.last().map(|p| (l, f.y_inside(p.cargo_c))))
        .collect();
    let mut wanted: Vec<f64> = ends.iter().map(|(_, y)| y + 4.0).collect();
    labels::spread(&mut wanted, f.top + 9.0, f.bottom + 2.0);
    for ((line, end), y) in ends.iter().zip(wanted) {
        let lead = format!("M{} {}l24 {}", px(f.right), px(*end), px(y - 4.0 - end));
        let course = line.course.as_str();
        let attrs = format!(
            "class=\"course {course}\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"2.6\" \
             stroke-dasharray=\"{}\"",
            dash(line.course)
        );
        s.path(&lead, &attrs);
        let attrs = format!("class=\"direct course {course}\"");
        s.text((f.right + 28.0, y), &attrs, &name(f, line.course));
    }
}

#[cfg(test)]
mod tests {
    use record::{FanLimit, FanPoint, UnitId};
    use units::Utc;

    use super::*;

    fn history() -> BoxHistory {
        let at = Utc::parse("2026-01-05T08:00:00Z").unwrap();
        BoxHistory {
            unit: UnitId::from_text("QQQU1000011").unwrap(),
            span: Span { from: at.plus_hours(-24.0), to: at },
            traces: Vec::new(),
            ordered_c: Some(2.0),
            limits_c: Vec::new(),
            defrosts: Vec::new(),
            power_off: Vec::new(),
            gaps: Vec::new(),
            alarms: Vec::new(),
        }
    }

    fn fan(courses: &[FanCourse]) -> Fan {
        let line = |course: &FanCourse| FanLine {
            course: *course,
            cargo: (0..30)
                .map(|h| {
                    let c = 2.0 + 0.1 * f64::from(h);
                    FanPoint { hours: f64::from(h), cargo_c: c, p90_c: [c - 0.5, c + 0.5] }
                })
                .collect(),
            limits: vec![FanLimit {
                limit_c: 4.0,
                text: "4.0 °C cargo (<list>)".into(),
                hours: Some(20.0),
                p90_h: [15.0, 25.0],
                probability: 1.0,
            }],
        };
        Fan {
            at: Utc::parse("2026-01-05T08:00:00Z").unwrap(),
            horizon_h: 300.0,
            repair_in_h: 6.0,
            lines: courses.iter().map(line).collect(),
            lacks: Vec::new(),
            quality: Vec::new(),
        }
    }

    /// Every course has a band, a line, a name and a ring where it meets the limit; markup in
    /// words does not break out (XML 1.0 §2.4).
    #[test]
    fn each_course_is_drawn_and_named() {
        let all = [FanCourse::Present, FanCourse::PowerOff, FanCourse::Repaired];
        let svg = fan_chart(&history(), &fan(&all), Look::Wide).unwrap();
        assert_eq!(svg.matches("class=\"fan-band").count(), 3);
        assert_eq!(svg.matches("a5 5 0 1 0").count(), 2 * 3);
        for text in ["present course", "power lost now", "repaired after 6.0 h"] {
            assert!(svg.contains(text), "{text}");
        }
        assert!(svg.contains("&lt;list&gt;") && !svg.contains("<list>"));
    }

    #[test]
    fn nothing_ahead_draws_nothing() {
        assert_eq!(fan_chart(&history(), &fan(&[]), Look::Wide), None);
    }
}
