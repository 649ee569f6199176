//! One box's history: temperatures in the large field, ambient, power and humidity or gas in
//! strips of their own below, all over one time axis in UTC.
//!
//! Ambient has its own strip because it lies tens of kelvin away from the cargo and would flatten
//! the lines that matter.

mod bands;
pub mod labels;
pub(crate) mod lines;

use record::{BoxHistory, Channel, Span, Trace};
use units::Utc;

use crate::scale::{Linear, time_marks, value_marks};
use crate::svg::Svg;
use crate::words;

/// How large a chart is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Look {
    /// For a desk.
    Wide,
    /// For a telephone held upright.
    Narrow,
    /// For a sheet of paper held upright, printed small.
    Paper,
}

/// Sizes in pixels of one look.
#[derive(Debug, Clone, Copy)]
struct Sizes {
    width: f64,
    left: f64,
    right: f64,
    top: f64,
    main: f64,
    strip: f64,
    strip_gap: f64,
}

impl Look {
    fn sizes(self) -> Sizes {
        match self {
            Self::Wide => Sizes {
                width: 1120.0,
                left: 46.0,
                right: 142.0,
                top: 44.0,
                main: 330.0,
                strip: 62.0,
                strip_gap: 22.0,
            },
            Self::Narrow => Sizes {
                width: 344.0,
                left: 34.0,
                right: 98.0,
                top: 44.0,
                main: 260.0,
                strip: 52.0,
                strip_gap: 20.0,
            },
            Self::Paper => Sizes {
                width: 720.0,
                left: 42.0,
                right: 136.0,
                top: 44.0,
                main: 236.0,
                strip: 46.0,
                strip_gap: 20.0,
            },
        }
    }

    /// One letter, for names that must differ where several sizes stand on one page.
    pub(crate) fn letter(self) -> &'static str {
        match self {
            Self::Wide => "w",
            Self::Narrow => "n",
            Self::Paper => "p",
        }
    }

    fn class(self) -> &'static str {
        match self {
            Self::Wide => "chart wide",
            Self::Narrow => "chart narrow",
            Self::Paper => "chart paper",
        }
    }
}

/// One field of the chart: its place, its scale and what belongs in it.
struct Field<'a> {
    title: &'static str,
    unit: &'static str,
    top: f64,
    height: f64,
    y: Linear,
    low: f64,
    high: f64,
    traces: Vec<&'a Trace>,
}

/// What every part of the chart needs to know.
struct Frame<'a> {
    history: &'a BoxHistory,
    look: Look,
    sizes: Sizes,
    x: Linear,
    fields: Vec<Field<'a>>,
    bottom: f64,
}

/// Channels in the large field.
fn in_main(c: Channel) -> bool {
    c.is_temperature() && c != Channel::Ambient
}

/// The chart of one box. `None` when nothing was read in the span: there is nothing to draw.
///
/// The root element carries `data-from-ms`, `data-to-ms`, `data-left`, `data-right`, `data-top`
/// and `data-bottom`, so that a pointer's place can be turned into an instant.
#[must_use]
pub fn history_chart(history: &BoxHistory, look: Look) -> Option<String> {
    if history.traces.is_empty() && history.power_off.is_empty() && history.alarms.is_empty() {
        return None;
    }
    let frame = Frame::new(history, look);
    let height = frame.bottom + 22.0 + bands::key_height(look);
    let mut s = open(&frame, height);
    bands::draw(&frame, &mut s);
    for field in &frame.fields {
        axis(&frame, field, &mut s);
    }
    time_axis(&frame, &mut s);
    if let Some(main) = frame.fields.first() {
        labels::level_lines(&frame, main, &mut s);
    }
    for field in &frame.fields {
        lines::draw(&frame, field, &mut s);
        labels::direct(&frame, field, &mut s);
    }
    if let Some(main) = frame.fields.first() {
        labels::level_names(&frame, main, &mut s);
    }
    bands::alarms(&frame, &mut s);
    bands::key(&frame, &mut s);
    Some(s.close())
}

impl<'a> Frame<'a> {
    fn new(history: &'a BoxHistory, look: Look) -> Self {
        let sizes = look.sizes();
        let Span { from, to } = history.span;
        let x = Linear::new(
            [from.ms() as f64, to.ms() as f64],
            [sizes.left, sizes.width - sizes.right],
        );
        let pick = |keep: &dyn Fn(Channel) -> bool| -> Vec<&'a Trace> {
            history.traces.iter().filter(|t| keep(t.channel)).collect()
        };
        let mut fields = Vec::new();
        let mut top = sizes.top;
        let main = pick(&in_main);
        let (low, high) = main_range(history, &main);
        fields.push(Field::new("Temperature", "°C", top, sizes.main, (low, high), main));
        top += sizes.main;
        let strips: [(&'static str, &'static str, Vec<&Trace>); 3] = [
            ("Ambient air", "°C", pick(&|c| c == Channel::Ambient)),
            ("Power drawn", "kW", pick(&|c| c == Channel::Power)),
            ("Humidity and gas", "%", pick(&|c| c.unit_suffix() == "pct")),
        ];
        for (title, unit, traces) in strips {
            let Some((low, high)) = value_range(&traces) else {
                continue;
            };
            // Power starts at nought: the height of the line is what is drawn from the plug.
            let low = if unit == "kW" { 0.0 } else { low };
            top += sizes.strip_gap;
            let pad = ((high - low) * 0.08).max(0.25);
            let low_pad = if unit == "kW" { 0.0 } else { pad };
            let range = (low - low_pad, high + pad);
            fields.push(Field::new(title, unit, top, sizes.strip, range, traces));
            top += sizes.strip;
        }
        Self { history, look, sizes, x, fields, bottom: top }
    }

    fn left(&self) -> f64 {
        self.sizes.left
    }

    fn right(&self) -> f64 {
        self.sizes.width - self.sizes.right
    }

    /// A span of time cut to the paper, as two x; `None` outside it.
    fn clip(&self, span: Span) -> Option<(f64, f64)> {
        let from = self.x.at_time(span.from).max(self.left());
        let to = self.x.at_time(span.to).min(self.right());
        (to > from).then_some((from, to))
    }

    fn holds(&self, at: Utc) -> bool {
        at >= self.history.span.from && at <= self.history.span.to
    }
}

impl<'a> Field<'a> {
    fn new(
        title: &'static str,
        unit: &'static str,
        top: f64,
        height: f64,
        (low, high): (f64, f64),
        traces: Vec<&'a Trace>,
    ) -> Self {
        Self {
            title,
            unit,
            top,
            height,
            y: Linear::new([low, high], [top + height, top]),
            low,
            high,
            traces,
        }
    }
}

/// Lowest and highest value of some traces.
fn value_range(traces: &[&Trace]) -> Option<(f64, f64)> {
    let points = traces.iter().flat_map(|t| t.pieces.iter().flatten());
    points.map(|(_, v)| (*v, *v)).reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
}

/// The large field holds every line, the ordered temperature, and each limit that is no further
/// away than the lines themselves are wide (at least 4 K); a limit further out is named at the
/// edge instead, or it would flatten the lines.
fn main_range(history: &BoxHistory, traces: &[&Trace]) -> (f64, f64) {
    let mut seen = value_range(traces);
    if let Some(c) = history.ordered_c {
        seen = Some(seen.map_or((c, c), |(a, b)| (a.min(c), b.max(c))));
    }
    let (mut low, mut high) = seen.unwrap_or((-1.0, 1.0));
    let reach = (high - low).max(4.0);
    let (edge_low, edge_high) = (low - reach, high + reach);
    for (c, _) in &history.limits_c {
        if *c >= edge_low && *c <= edge_high {
            low = low.min(*c);
            high = high.max(*c);
        }
    }
    let pad = ((high - low) * 0.06).max(0.5);
    (low - pad, high + pad)
}

fn open(frame: &Frame, height: f64) -> Svg {
    let Span { from, to } = frame.history.span;
    let label = format!(
        "History of {} from {} to {} UTC",
        frame.history.unit,
        from.to_minute(),
        to.to_minute()
    );
    let data = format!(
        "role=\"img\" data-from-ms=\"{}\" data-to-ms=\"{}\" data-left=\"{}\" data-right=\"{}\" \
         data-top=\"{}\" data-bottom=\"{}\" ",
        from.ms(),
        to.ms(),
        frame.left(),
        frame.right(),
        frame.sizes.top,
        frame.bottom
    );
    Svg::open(frame.sizes.width, height, frame.look.class(), &label, &data)
}

/// Frame, horizontal marks with their figures, and the field's name.
fn axis(frame: &Frame, field: &Field, s: &mut Svg) {
    let (left, right) = (frame.left(), frame.right());
    let most = (field.height / 34.0).max(3.0);
    let (marks, places) = value_marks(field.low, field.high, most);
    for v in marks {
        let y = field.y.at(v);
        let attrs = "class=\"grid\" stroke=\"currentColor\" stroke-opacity=\".18\"";
        s.line((left, y), (right, y), attrs);
        let text = words::number(v, places);
        s.text((left - 5.0, y + 4.0), "text-anchor=\"end\"", &text);
    }
    s.rect(
        (left, field.top),
        (right - left, field.height),
        "class=\"field\" fill=\"none\" stroke=\"currentColor\" stroke-opacity=\".6\"",
    );
    let name = format!("{}, {}", field.title, field.unit);
    // Above the large field stand the alarm flags, so its name stands above them.
    let is_main = field.top <= frame.sizes.top;
    let up = if is_main { 28.0 } else { 6.0 };
    let attrs = "class=\"name\" font-weight=\"600\"";
    s.text((left, field.top - up), attrs, &name);
}

/// Vertical marks through every field; hours below, the day under midnight and under the first.
fn time_axis(frame: &Frame, s: &mut Svg) {
    let Span { from, to } = frame.history.span;
    let room = frame.right() - frame.left();
    let marks = time_marks(from, to, room / 54.0);
    let days_only = marks.iter().all(|t| words::clock(*t) == "00:00");
    for at in marks {
        let x = frame.x.at_time(at);
        let midnight = words::clock(at) == "00:00";
        let opacity = if midnight { ".34" } else { ".14" };
        let attrs = format!("class=\"grid\" stroke=\"currentColor\" stroke-opacity=\"{opacity}\"");
        for f in &frame.fields {
            s.line((x, f.top), (x, f.top + f.height), &attrs);
        }
        let text = if midnight { words::day(at) } else { words::clock(at) };
        let weight = if midnight && !days_only { "600" } else { "400" };
        let attrs = format!("text-anchor=\"middle\" font-weight=\"{weight}\"");
        s.text((x, frame.bottom + 16.0), &attrs, &text);
    }
    s.text((frame.right() + 24.0, frame.bottom + 16.0), "", "UTC");
}

#[cfg(test)]
mod tests;
