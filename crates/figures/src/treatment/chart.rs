//! One treatment's record: every probe against the limit, the start, what broke the rule, when
//! the time is met and when the port comes; below it the clock as a bar.

use std::fmt::Write as _;

use record::Channel;
use record::treatment::{TreatmentPoint, TreatmentView};
use units::Utc;

use crate::Look;
use crate::chart::{labels, lines};
use crate::scale::{Linear, time_marks, value_marks};
use crate::svg::{Svg, px};
use crate::words;

/// A break in a line: readings further apart than this are not joined.
const JOIN_H: f64 = 2.5;

struct Frame<'a> {
    view: &'a TreatmentView,
    look: Look,
    width: f64,
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
    from: Utc,
    to: Utc,
    x: Linear,
    y: Linear,
    low: f64,
    high: f64,
}

/// The chart; `None` when no probe was read.
#[must_use]
pub fn treatment_chart(view: &TreatmentView, look: Look) -> Option<String> {
    let frame = Frame::new(view, look)?;
    let height = frame.bottom + 86.0;
    let label = format!(
        "Pulp probes of {} against {}, {} to {} UTC",
        view.unit,
        view.hold_max_text,
        frame.from.to_minute(),
        frame.to.to_minute()
    );
    let class = match look {
        Look::Wide => "chart wide treatment",
        Look::Narrow => "chart narrow treatment",
        Look::Paper => "chart paper treatment",
    };
    let mut s = Svg::open(frame.width, height, class, &label, "role=\"img\" ");
    frame.hatches(&mut s);
    frame.value_axis(&mut s);
    frame.time_axis(&mut s);
    frame.breaches(&mut s);
    frame.limits(&mut s);
    frame.probes(&mut s);
    frame.moments(&mut s);
    frame.clock(&mut s);
    Some(s.close())
}

impl<'a> Frame<'a> {
    fn new(view: &'a TreatmentView, look: Look) -> Option<Self> {
        let read = |p: &TreatmentPoint| p.probes_c.iter().any(Option::is_some);
        let first = view.points.iter().find(|p| read(p))?.at;
        let last = view.points.iter().rev().find(|p| read(p))?.at;
        let ahead = view.forecast.as_ref().and_then(|f| f.met_p90[1].or(f.met_at));
        let ends = [Some(last), ahead, view.eta, view.time_met_at, view.planning_finish_at];
        let to = ends.into_iter().flatten().max().unwrap_or(last).max(first.plus_hours(6.0));
        let to = to.plus_hours(to.hours_since(first) * 0.02);
        let (low, high) = range(view);
        let (width, left, right, main) = match look {
            Look::Wide => (1120.0, 46.0, 122.0, 330.0),
            Look::Narrow => (344.0, 34.0, 74.0, 260.0),
            Look::Paper => (720.0, 42.0, 118.0, 236.0),
        };
        let (top, bottom) = (34.0, 34.0 + main);
        Some(Self {
            view,
            look,
            width,
            left,
            right: width - right,
            top,
            bottom,
            from: first,
            to,
            x: Linear::new([first.ms() as f64, to.ms() as f64], [left, width - right]),
            y: Linear::new([low, high], [bottom, top]),
            low,
            high,
        })
    }

    fn id(&self, name: &str) -> String {
        format!("tr-{name}-{}", self.look.letter())
    }

    fn hatches(&self, s: &mut Svg) {
        s.raw(&format!(
            "<defs><pattern id=\"{}\" width=\"7\" height=\"7\" patternUnits=\"userSpaceOnUse\">\
             <path d=\"M0 7L7 0\" stroke=\"currentColor\" stroke-opacity=\".55\" fill=\"none\"/>\
             </pattern></defs>",
            self.id("break")
        ));
    }

    fn value_axis(&self, s: &mut Svg) {
        let (marks, places) = value_marks(self.low, self.high, 8.0);
        let grid = "stroke=\"currentColor\" stroke-opacity=\".15\"";
        for v in marks {
            let y = self.y.at(v);
            s.line((self.left, y), (self.right, y), grid);
            let at = (self.left - 6.0, y + 4.0);
            s.text(at, "text-anchor=\"end\"", &words::number(v, places));
        }
        s.text((4.0, 14.0), "font-weight=\"600\"", "Pulp, corrected, °C");
        let frame = "fill=\"none\" stroke=\"currentColor\" stroke-opacity=\".4\"";
        let size = (self.right - self.left, self.bottom - self.top);
        s.rect((self.left, self.top), size, frame);
    }

    fn time_axis(&self, s: &mut Svg) {
        let most = match self.look {
            Look::Wide => 12.0,
            Look::Paper => 8.0,
            Look::Narrow => 4.0,
        };
        for t in time_marks(self.from, self.to, most) {
            let x = self.x.at_time(t);
            let attrs = "stroke=\"currentColor\" stroke-opacity=\".15\"";
            s.line((x, self.top), (x, self.bottom), attrs);
            s.text((x, self.bottom + 15.0), "text-anchor=\"middle\"", &words::day(t));
        }
    }

    /// What broke the rule, hatched through the field. A brief one is widened to be seen.
    fn breaches(&self, s: &mut Svg) {
        for b in &self.view.breaches {
            let from = self.x.at_time(b.from_at).clamp(self.left, self.right);
            let to = self.x.at_time(b.to_at).clamp(self.left, self.right).max(from + 4.0);
            s.raw("<g class=\"breach\"><title>");
            s.raw(&crate::svg::escape(&b.words));
            s.raw("</title>");
            let fill = format!("fill=\"url(#{})\"", self.id("break"));
            s.rect((from, self.top), (to - from, self.bottom - self.top), &fill);
            s.raw("</g>");
        }
    }

    fn limits(&self, s: &mut Svg) {
        let v = self.view;
        let mut level = |c: f64, name: String, class: &str, dash: &str, width: &str| {
            if !(self.low..=self.high).contains(&c) {
                return;
            }
            let y = self.y.at(c);
            let attrs = format!(
                "class=\"level {class}\" stroke=\"currentColor\" stroke-width=\"{width}\" \
                 stroke-dasharray=\"{dash}\""
            );
            s.line((self.left, y), (self.right, y), &attrs);
            let attrs = "class=\"halo level-name\" paint-order=\"stroke\" stroke=\"#fff\" \
                         stroke-width=\"4\" stroke-linejoin=\"round\"";
            s.text((self.left + 6.0, y - 5.0), attrs, &name);
        };
        level(v.hold_max_c, format!("limit {}", v.hold_max_text), "limit", "8 4", "2");
        if let Some(c) = v.hold_min_c {
            level(c, format!("cold side {}", words::temp(c)), "limit", "4 4", "1.4");
        }
        if let Some(c) = v.freezing_c {
            level(c, format!("fruit freezes {}", words::temp(c)), "limit", "2 3", "1.4");
        }
        if let Some(c) = v.set_point_c {
            level(c, format!("set point {}", words::temp(c)), "ordered", "10 3 3 3", "1.2");
        }
    }

    fn probes(&self, s: &mut Svg) {
        let mut ends = Vec::new();
        for (n, channel) in Channel::PROBES.into_iter().enumerate() {
            let places = self.places(n);
            let Some(end) = places.iter().rev().flatten().next_back().copied() else {
                continue;
            };
            let (dash, _) = lines::stroke(channel);
            let attrs = format!(
                "class=\"line {}\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.8\" \
                 stroke-linejoin=\"round\" stroke-dasharray=\"{dash}\"",
                channel.stem()
            );
            s.path(&path(&places), &attrs);
            let latest = self.view.points.iter().rev().find_map(|p| p.probes_c.get(n).copied()?);
            ends.push((channel, end, latest.unwrap_or(0.0)));
        }
        let mut heights: Vec<f64> = ends.iter().map(|(_, end, _)| end.1 + 4.0).collect();
        labels::spread(&mut heights, self.top + 9.0, self.bottom);
        for ((channel, end, latest), y) in ends.iter().zip(heights) {
            let lead =
                format!("M{} {}L{} {}", px(end.0), px(end.1), px(self.right + 8.0), px(y - 4.0));
            let attrs = "class=\"lead\" fill=\"none\" stroke=\"currentColor\" \
                         stroke-opacity=\".5\" stroke-width=\".8\"";
            s.path(&lead, attrs);
            let name = match self.look {
                Look::Wide | Look::Paper => {
                    format!("{} {}", labels::channel_name(*channel), words::temp(*latest))
                }
                Look::Narrow => format!(
                    "{} {}",
                    channel.stem().replace("probe", "pr. "),
                    words::number(*latest, 1)
                ),
            };
            let attrs = format!("class=\"direct {}\"", channel.stem());
            s.text((self.right + 10.0, y), &attrs, &name);
        }
    }

    /// One probe's line in pieces, cut at the edges of the field.
    fn places(&self, n: usize) -> Vec<Vec<(f64, f64)>> {
        let mut pieces: Vec<Vec<(f64, f64)>> = Vec::new();
        let mut before: Option<Utc> = None;
        for p in &self.view.points {
            let Some(c) = p.probes_c.get(n).copied().flatten() else {
                continue;
            };
            let joined = before.is_some_and(|b| p.at.hours_since(b) <= JOIN_H);
            before = Some(p.at);
            let place = (self.x.at_time(p.at), self.y.at(c.clamp(self.low, self.high)));
            match pieces.last_mut() {
                Some(piece) if joined => piece.push(place),
                _ => pieces.push(vec![place]),
            }
        }
        pieces
    }

    /// Start, time met and port as upright lines with their names above the field.
    fn moments(&self, s: &mut Svg) {
        let v = self.view;
        let met = v.time_met_at.map(|t| (t, "time met", ""));
        let port = v.discharge_port.clone().unwrap_or_else(|| "port".to_owned());
        let moments = [
            v.started_at.map(|t| (t, "start", "")),
            met,
            v.eta.map(|t| (t, port.as_str(), "1 3")),
            Some((v.as_of, "now", "3 3")),
        ];
        let mut taken: Vec<(f64, f64)> = Vec::new();
        for (t, name, dash) in moments.into_iter().flatten() {
            let x = self.x.at_time(t);
            if !(self.left..=self.right).contains(&x) {
                continue;
            }
            let attrs = format!(
                "class=\"moment\" stroke=\"currentColor\" stroke-width=\"1.6\" \
                 stroke-dasharray=\"{dash}\""
            );
            s.line((x, self.top), (x, self.bottom + 44.0), &attrs);
            let half = 3.4 * name.chars().count() as f64 + 3.0;
            let middle = x.clamp(self.left + half, self.width - half);
            let free = taken.iter().all(|(a, b)| middle + half < *a || middle - half > *b);
            // A name that would cover another is left to the table beside the chart.
            if free {
                taken.push((middle - half, middle + half));
                s.text((middle, self.top - 6.0), "text-anchor=\"middle\"", name);
            }
        }
    }

    /// The clock as a bar under the time axis: counted solid, ahead hollow with its interval.
    fn clock(&self, s: &mut Svg) {
        let y = self.bottom + 28.0;
        clock_bar(self.view, &|t| self.x.at_time(t).clamp(self.left, self.right), y, 14.0, s);
        let text = "solid: counted · hollow: expected · whisker: 90 % interval · hatched: breach";
        let text =
            if self.look != Look::Narrow { text } else { "solid: counted · hollow: expected" };
        s.text((self.left, y + 44.0), "fill-opacity=\".8\"", text);
    }
}

/// The clock of one treatment: from its start what is counted, then what is expected.
pub(super) fn clock_bar(
    v: &TreatmentView,
    x: &dyn Fn(Utc) -> f64,
    y: f64,
    height: f64,
    s: &mut Svg,
) {
    let start = v.started_at.or_else(|| v.forecast.as_ref().and_then(|f| f.start_at));
    let met = v.time_met_at.or_else(|| v.forecast.as_ref().and_then(|f| f.met_at));
    let counted_to = v.time_met_at.unwrap_or(v.as_of);
    if let Some(from) = v.started_at {
        let broken = v.planning_restart_at.is_some()
            || matches!(v.standing, record::treatment::Standing::InvalidPending);
        let opacity = if broken { ".3" } else { ".85" };
        let attrs = format!("class=\"counted\" fill=\"currentColor\" fill-opacity=\"{opacity}\"");
        s.rect((x(from), y), (x(counted_to) - x(from), height), &attrs);
    }
    if v.time_met_at.is_none()
        && let (Some(from), Some(to)) = (start, met)
    {
        let from = x(from.max(v.as_of));
        let attrs = "class=\"ahead\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.4\"";
        s.rect((from, y + 1.0), (x(to) - from, height - 2.0), attrs);
        if let Some(f) = &v.forecast {
            let middle = y + height / 2.0;
            let low = f.met_p90[0].map_or(x(to), x);
            let high = f.met_p90[1].map_or(x(Utc::from_ms(i64::MAX)), x);
            let data = format!(
                "M{} {}H{}M{} {}v8M{} {}v8",
                px(low),
                px(middle),
                px(high),
                px(low),
                px(middle - 4.0),
                px(high),
                px(middle - 4.0)
            );
            let attrs =
                "class=\"whisker\" stroke=\"currentColor\" stroke-width=\"2\" fill=\"none\"";
            s.path(&data, attrs);
        }
    }
    for b in v.breaches.iter().filter(|b| b.effect != "warn") {
        let at = x(b.from_at);
        let cross = format!("M{} {}l8 8m0 -8l-8 8", px(at - 4.0), px(y + height / 2.0 - 4.0));
        let attrs =
            "class=\"breach-mark\" stroke=\"currentColor\" stroke-width=\"2.4\" fill=\"none\"";
        s.path(&cross, attrs);
    }
}

fn path(pieces: &[Vec<(f64, f64)>]) -> String {
    let mut data = String::new();
    for piece in pieces {
        for (i, (x, y)) in lines::thinned(piece).into_iter().enumerate() {
            let _ = write!(data, "{}{} {}", if i == 0 { 'M' } else { 'L' }, px(x), px(y));
        }
        if let [one] = piece.as_slice() {
            let _ = write!(data, "M{} {}h1", px(one.0 - 0.5), px(one.1));
        }
    }
    data
}

/// From the coldest reading to what matters round the limit: fruit that came much warmer is cut
/// at the top, or the limit would be a line among lines.
fn range(v: &TreatmentView) -> (f64, f64) {
    let read = v.points.iter().flat_map(|p| p.probes_c.iter().flatten().copied());
    let (mut low, mut high) = (v.hold_max_c - 0.5, v.hold_max_c + 0.8);
    for c in read {
        low = low.min(c);
        high = high.max(c);
    }
    for c in [v.hold_min_c, v.freezing_c, v.set_point_c].into_iter().flatten() {
        if c > low - 1.5 {
            low = low.min(c);
        }
    }
    ((low - 0.2).max(v.hold_max_c - 8.0), (high + 0.2).min(v.hold_max_c + 3.5))
}
