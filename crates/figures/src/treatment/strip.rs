//! All treatments aboard on one axis of time: one strip for each box.

use record::treatment::TreatmentView;
use units::Utc;

use super::chart::clock_bar;
use crate::scale::{Linear, time_marks};
use crate::svg::{Svg, px};
use crate::words;

const WIDTH: f64 = 340.0;
const HEIGHT: f64 = 26.0;
const EDGE: f64 = 8.0;

/// The span of time that all strips share.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StripAxis {
    /// Left end.
    pub from: Utc,
    /// Right end.
    pub to: Utc,
}

impl StripAxis {
    /// From the first start to the last finish or port, a day of room on both sides. `None` when
    /// nothing has a time.
    #[must_use]
    pub fn of(views: &[TreatmentView]) -> Option<Self> {
        let mut times: Vec<Utc> = Vec::new();
        for v in views {
            times.push(v.as_of);
            let ahead = v.forecast.as_ref();
            let ends = ahead.map_or([None; 3], |f| [f.start_at, f.met_at, f.met_p90[1]]);
            times.extend([v.started_at, v.time_met_at, v.eta].into_iter().chain(ends).flatten());
        }
        let (from, to) = (times.iter().min()?, times.iter().max()?);
        Some(Self { from: from.plus_hours(-12.0), to: to.plus_hours(12.0) })
    }

    fn x(self) -> impl Fn(Utc) -> f64 {
        let span = [self.from.ms() as f64, self.to.ms() as f64];
        let scale = Linear::new(span, [EDGE, WIDTH - EDGE]);
        move |t| scale.at_time(t).clamp(EDGE, WIDTH - EDGE)
    }
}

/// One box's strip: the clock as a bar, what broke it as crosses, now as a dashed line, its port
/// as a flag.
#[must_use]
pub fn treatment_strip(v: &TreatmentView, axis: StripAxis) -> String {
    let x = axis.x();
    let mut s = Svg::open(WIDTH, HEIGHT, "treatment-strip", &label(v), "role=\"img\" ");
    let rule = "stroke=\"currentColor\" stroke-opacity=\".25\"";
    s.line((EDGE, HEIGHT - 3.0), (WIDTH - EDGE, HEIGHT - 3.0), rule);
    clock_bar(v, &x, 7.0, 12.0, &mut s);
    let now = x(v.as_of);
    let attrs = "stroke=\"currentColor\" stroke-dasharray=\"3 2\" stroke-opacity=\".7\"";
    s.line((now, 0.0), (now, HEIGHT), attrs);
    if let Some(eta) = v.eta {
        let at = px(x(eta));
        let attrs = "class=\"port\" fill=\"currentColor\" stroke=\"currentColor\"";
        s.path(&format!("M{at} {}V2h9l-3 3l3 3h-9", px(HEIGHT)), attrs);
    }
    s.close()
}

/// The axis above the strips, its days named.
#[must_use]
pub fn treatment_axis(axis: StripAxis) -> String {
    let x = axis.x();
    let mut s = Svg::open(WIDTH, 20.0, "treatment-strip", "Days", "role=\"img\" ");
    for t in time_marks(axis.from, axis.to, 5.0) {
        s.line((x(t), 15.0), (x(t), 20.0), "stroke=\"currentColor\"");
        s.text((x(t), 12.0), "text-anchor=\"middle\"", &words::day(t));
    }
    s.close()
}

fn label(v: &TreatmentView) -> String {
    let counted =
        format!("{} of {} counted", words::hours(v.elapsed_h), words::hours(v.required_h));
    let port = match (&v.forecast, v.eta) {
        (Some(f), Some(_)) => match f.p_before_port {
            Some(p) => format!(", {} likely before the port", words::percent(p)),
            None => String::new(),
        },
        _ => String::new(),
    };
    format!("{}: {}, {counted}{port}", v.unit, v.standing.words())
}
