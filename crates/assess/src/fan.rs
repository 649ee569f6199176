//! The fan of forecasts of one box: present course, power lost now, repaired in some hours.

use box_model::{CargoTable, HourAhead};
use record::{BoxFacts, Fan, FanCourse, FanLimit, FanLine, FanPoint};

use crate::Clock;
use crate::fitted::Fitted;
use crate::ground::Ground;
use crate::outlook::{Asked, Outlook, Question};
use crate::quality::quality;

/// Standard deviations on either side of a 90 % interval of a normal error.
const P90_SD: f64 = 1.645;
/// Courses closer together than this everywhere are one course, K.
const SAME_K: f64 = 0.1;
/// Hours drawn at least and at most: a watch, a week.
const DRAWN_H: [f64; 2] = [24.0, 168.0];
/// What is drawn goes on past the last limit met by this factor.
const PAST_LIMIT: f64 = 1.25;

/// The courses that differ; `None` for an empty box, or one of which nothing was read.
#[must_use]
pub fn fan(facts: &BoxFacts, clock: Clock, cargoes: &CargoTable, repair_in_h: f64) -> Option<Fan> {
    let g = Ground::new(facts, clock, cargoes);
    let mut trace = Vec::new();
    let fitted = Fitted::traced(&g, |at, cargo_c| trace.push((at, cargo_c)));
    let fitted = fitted.filter(|_| g.carries())?;
    let asked = Asked::of(&g, &fitted);
    let longest = DRAWN_H[1].min(clock.horizon_h.max(DRAWN_H[0]));
    let ask = |question| asked.answer(question, longest as usize);
    let present = ask(Question::PresentCourse);
    let off = ask(Question::PowerLostNow);
    let repaired = ask(Question::RepairedIn(repair_in_h));
    let differs = |o: &Outlook| apart_k(&o.hours, &present.hours) > SAME_K;
    let lacks = present.lacks.iter().map(|t| (*t).to_owned()).collect();
    // Where the present course is to have no power, that is one course, not two.
    let mut shown = vec![(FanCourse::Present, &present)];
    if differs(&off) {
        shown.push((FanCourse::PowerOff, &off));
    }
    if differs(&repaired) {
        shown.push((FanCourse::Repaired, &repaired));
    }
    let drawn_h = drawn_h(&shown, longest);
    let lines = shown.into_iter().map(|(course, o)| fan_line(course, o, drawn_h)).collect();
    let mut fan = Fan {
        at: clock.as_of,
        horizon_h: clock.horizon_h,
        repair_in_h,
        lines,
        lacks,
        quality: Vec::new(),
    };
    fan.quality = quality(&g, &trace, &fan);
    Some(fan)
}

/// Largest distance of two courses' cargo, K.
fn apart_k(a: &[HourAhead], b: &[HourAhead]) -> f64 {
    a.iter().zip(b).map(|(a, b)| (a.cargo.mean_c - b.cargo.mean_c).abs()).fold(0.0, f64::max)
}

/// Far enough to show when limits are met, no further.
fn drawn_h(shown: &[(FanCourse, &Outlook)], longest: f64) -> f64 {
    let met = shown.iter().flat_map(|(_, o)| &o.limits).filter_map(|(_, c)| c.middle_h());
    let last = met.filter(|h| *h <= longest).fold(DRAWN_H[0] * 3.0, f64::max);
    (last * PAST_LIMIT).clamp(DRAWN_H[0], longest)
}

fn fan_line(course: FanCourse, o: &Outlook, drawn_h: f64) -> FanLine {
    let cargo = o.hours.iter().take_while(|h| h.hours <= drawn_h).map(|h| {
        let half = P90_SD * h.cargo.sd_k;
        FanPoint {
            hours: h.hours,
            cargo_c: h.cargo.mean_c,
            p90_c: [h.cargo.mean_c - half, h.cargo.mean_c + half],
        }
    });
    let limits = o.limits.iter().map(|(limit, crossing)| FanLimit {
        limit_c: limit.temp_c,
        text: limit.text.clone(),
        hours: crossing.middle_h(),
        p90_h: crossing.p90_h(),
        probability: crossing.probability_by(crossing.horizon_h()),
    });
    FanLine { course, cargo: cargo.collect(), limits: limits.collect() }
}
