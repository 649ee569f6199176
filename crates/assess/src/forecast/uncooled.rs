//! Nothing cools: no power at all, or fans without a compressor.

use box_model::{Ahead, Course, Estimate, Limit, machine};
use record::Channel;

use super::{Driver, Hours, cold_limit, told};
use crate::fitted::{CargoAt, Fitted};
use crate::ground::{Control, Ground, latest};

/// The rate of warming is told over this long, h.
pub const LOOK_H: f64 = 6.0;
/// More power than this is not the fans' alone, kW. Our estimate.
const FANS_MOST_KW: f64 = 1.8;

/// Hours to the first limit, warm or cold.
pub fn hours(g: &Ground<'_>, fitted: &Fitted, driver: Driver) -> Option<Hours> {
    let course = match driver {
        Driver::NotCooling => not_cooling(g),
        _ => Course::NoPower,
    };
    let ahead = Ahead::on(course, fitted.age_h(g), g.clock.horizon_h);
    let to = |limit: Limit| {
        let crossing = fitted.fit.limit_crossing(&ahead, limit.side, limit.temp_c);
        told(&crossing, limit, driver)
    };
    let warm = g.limits.warm.clone().and_then(to);
    // A cold limit counts when it comes sooner than the warm one: most never come, and need not be
    // followed to the end of the voyage.
    let sooner = |limit: &Limit| {
        let Some(first) = &warm else { return true };
        let short = Ahead { horizon_h: first.best, ..ahead };
        let crossing = fitted.fit.limit_crossing(&short, limit.side, limit.temp_c);
        crossing.quantile_h(0.5).is_some()
    };
    let cold = cold_limit(g).filter(sooner).and_then(to);
    match (warm, cold) {
        (Some(a), Some(b)) => Some(if b.best < a.best { b } else { a }),
        (a, b) => a.or(b),
    }
}

/// Fans without a compressor.
pub fn not_cooling(g: &Ground<'_>) -> Course {
    Course::NotCooling { fans_w: fans_w(g) }
}

/// Cargo without power, now and [`LOOK_H`] later.
pub fn warming(g: &Ground<'_>, fitted: &Fitted, cargo: CargoAt) -> [CargoAt; 2] {
    let ahead = Ahead::on(Course::NoPower, fitted.age_h(g), g.clock.horizon_h);
    let hours = fitted.fit.predict(&ahead, LOOK_H as usize);
    [hours.first(), hours.last()].map(|h| {
        h.map_or(cargo, |h| CargoAt {
            at: g.clock.as_of.plus_hours(h.hours),
            temp_c: h.cargo.mean_c,
            half_k: 1.645 * h.cargo.sd_k,
            ..cargo
        })
    })
}

/// Heat of the fans: the power drawn, where it was read and can be the fans' alone.
fn fans_w(g: &Ground<'_>) -> Estimate {
    let drawn = latest(&g.rows, |r| r.get(Channel::Power)).map(|(_, kw)| kw);
    match drawn.filter(|kw| *kw <= FANS_MOST_KW) {
        Some(kw) => Estimate::new(700.0 * kw, 900.0 * kw, 1050.0 * kw),
        None => machine::fans_w(g.control == Some(Control::Frozen), g.size.twenty),
    }
}
