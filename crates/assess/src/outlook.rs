//! What lies ahead of one box, for planners: how likely a limit is passed by when, and how warm
//! each part will be.

use box_model::{Ahead, CargoTable, Cooling, Course, Crossing, HourAhead, Limit};
use record::BoxFacts;

use crate::Clock;
use crate::fitted::Fitted;
use crate::forecast::{self, powered, uncooled};
use crate::ground::Ground;

/// A course of things to ask about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Question {
    /// As it goes now.
    PresentCourse,
    /// Power is lost now.
    PowerLostNow,
    /// As it goes now, and in so many hours the unit is as good as usual again.
    RepairedIn(f64),
}

/// The answer for one box.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    /// Each limit of its cargo, and when it is passed.
    pub limits: Vec<(Limit, Crossing)>,
    /// Every part of the box for each hour from now.
    pub hours: Vec<HourAhead>,
    /// What the readings did not tell, in words.
    pub lacks: Vec<&'static str>,
}

/// Answers `question` for one box, with `hours` of temperatures ahead; `None` for an empty box
/// and for one of which nothing was read.
#[must_use]
pub fn outlook(
    facts: &BoxFacts,
    clock: Clock,
    cargoes: &CargoTable,
    question: Question,
    hours: usize,
) -> Option<Outlook> {
    let g = Ground::new(facts, clock, cargoes);
    let fitted = Fitted::of(&g).filter(|_| g.carries())?;
    Some(Asked::of(&g, &fitted).answer(question, hours))
}

/// One box, fitted once, of which several things are asked.
pub struct Asked<'a> {
    g: &'a Ground<'a>,
    fitted: &'a Fitted,
    present: Course,
}

impl<'a> Asked<'a> {
    /// Of a box that carries something.
    pub fn of(g: &'a Ground<'a>, fitted: &'a Fitted) -> Self {
        Self { g, fitted, present: present(g, fitted) }
    }

    /// The answer, with `hours` of temperatures ahead.
    pub fn answer(&self, question: Question, hours: usize) -> Outlook {
        let (g, fitted) = (self.g, self.fitted);
        let mut ahead = Ahead::on(self.present, fitted.age_h(g), g.clock.horizon_h);
        match question {
            Question::PresentCourse => {}
            Question::PowerLostNow => ahead.course = Course::NoPower,
            Question::RepairedIn(in_h) => {
                let goal_c = g.set_c().map(|s| powered::holding(s, Cooling::Usual).goal_c.best);
                ahead.repair = goal_c.map(|goal_c| (in_h.max(0.0), goal_c));
            }
        }
        let both = [g.limits.warm.clone(), forecast::cold_limit(g)];
        let limits = both
            .into_iter()
            .flatten()
            .map(|l| {
                let crossing = fitted.fit.limit_crossing(&ahead, l.side, l.temp_c);
                (l, crossing)
            })
            .collect();
        let hours = fitted.fit.predict(&ahead, hours);
        Outlook { limits, hours, lacks: fitted.lacks() }
    }
}

/// The course as it is; of a box that is fine, the set point held.
fn present(g: &Ground<'_>, fitted: &Fitted) -> Course {
    if g.power_lost().is_some() {
        return Course::NoPower;
    }
    let f = forecast::from(g, Some(fitted));
    if f.off.is_some_and(|o| o.not_cooling) {
        return uncooled::not_cooling(g);
    }
    powered::course(g, &f).unwrap_or_else(|| {
        let set_c = g.set_c().unwrap_or(fitted.cargo().temp_c);
        Course::Held(powered::holding(set_c, Cooling::Usual))
    })
}
