//! Power is there: air goes somewhere and the cargo follows.

use box_model::slow_loss::SlowLoss;
use box_model::{Ahead, Cooling, Course, Estimate, FROZEN_SET_MAX_C, Held, Moving, machine};

use super::{Driver, Forecast, Hours, cold_limit, past, told};
use crate::fitted::{CargoAt, Fitted};
use crate::ground::{Control, Ground};
use crate::rules::{cold, set_point, spread as wide};
use crate::trend;

/// Air never passes the ambient by more than this (sun on the box). Our estimate.
const OVER_AMBIENT_K: f64 = 10.0;
/// Air never falls further below the set point than this. Our estimate.
const UNDER_SET_K: f64 = 10.0;
/// Air around the cargo over the set point that is held: half the usual spread when supply is
/// held, a little under it when return is. Our estimate.
const CHILLED_OVER_SET_K: [f64; 3] = [0.2, 0.7, 1.6];
const FROZEN_OVER_SET_K: [f64; 3] = [-1.2, -0.4, 0.3];

/// Hours to the limit that the present course leads to.
pub fn hours(g: &Ground<'_>, fitted: &Fitted, cargo: CargoAt, f: &Forecast) -> Option<Hours> {
    let air_c = trend::air_now(g)?;
    let way = way(g, f, air_c)?;
    let passed = [g.limits.warm.clone(), cold_limit(g)];
    let passed = passed.into_iter().flatten().find(|l| past(l, cargo.temp_c));
    let limit = match passed {
        Some(limit) => limit,
        None if way.rising => g.limits.warm.clone()?,
        None => cold_limit(g)?,
    };
    let ahead = Ahead::on(way.course, fitted.age_h(g), g.clock.horizon_h);
    let crossing = fitted.fit.limit_crossing(&ahead, limit.side, limit.temp_c);
    told(&crossing, limit, way.driver)
}

/// The course of a box that is not fine.
pub fn course(g: &Ground<'_>, f: &Forecast) -> Option<Course> {
    way(g, f, trend::air_now(g)?).map(|w| w.course)
}

/// Where the air goes, and what drives it.
struct Way {
    course: Course,
    rising: bool,
    driver: Driver,
}

/// A unit that holds `set_c`.
pub fn holding(set_c: f64, cooling: Cooling) -> Held {
    let frozen = set_c <= FROZEN_SET_MAX_C;
    let [low, best, high] = if frozen { FROZEN_OVER_SET_K } else { CHILLED_OVER_SET_K };
    Held {
        goal_c: Estimate::new(set_c + low, set_c + best, set_c + high),
        cooling,
        heats: !frozen,
        fans_high: !frozen,
    }
}

/// What a unit that loses strength can still do.
fn fading(g: &Ground<'_>, f: &Forecast, loss: SlowLoss) -> Option<Cooling> {
    let change_per_d = loss.change_per_d;
    let up = f.drift.is_some_and(|d| d.leads_away(g) && d.slope_k_per_h.best > 0.0);
    let off = f.off.is_some_and(|o| o.air_c > o.set_c);
    if loss.at_full && (up || off) {
        return Some(Cooling::AllItGives { change_per_d });
    }
    match loss.duty {
        Some(duty) => {
            let times = 1.0 / duty.clamp(0.1, 1.0);
            let times = Estimate::new(0.85 * times, times, 1.2 * times);
            Some(Cooling::TimesLoad { times, change_per_d })
        }
        None => (up || off).then_some(Cooling::AllItGives { change_per_d }),
    }
}

fn way(g: &Ground<'_>, f: &Forecast, air_c: f64) -> Option<Way> {
    let set_c = g.displayed_c.map(|(_, c)| c).or(g.ordered_c);
    if let Some(goal_c) = set_point::wrong_goal_c(g) {
        return Some(Way {
            course: Course::Held(holding(goal_c, Cooling::Usual)),
            rising: goal_c > air_c,
            driver: Driver::SetPoint,
        });
    }
    if let Some(cooling) = f.loss.filter(|_| f.less_air.is_none()).and_then(|l| fading(g, f, l)) {
        return Some(Way {
            course: Course::Held(holding(set_c.unwrap_or(air_c), cooling)),
            rising: true,
            driver: Driver::Fading,
        });
    }
    let frozen = g.control == Some(Control::Frozen);
    let play_k = if frozen { 0.6 } else { 0.3 };
    let still = Moving {
        air_c: Estimate::plus_minus(air_c, play_k),
        slope_k_per_h: Estimate::plus_minus(0.0, 0.0),
        bound_c: air_c,
        extra_w: machine::fans_w(frozen, g.size.twenty),
    };
    // A doubtful reading is to be read again before anything is foretold from it; a single one
    // tells a level, but no trend.
    let once = f.off.is_some_and(|o| o.readings == 1);
    if let Some(d) = f.drift.filter(|d| d.leads_away(g) && !once) {
        let warmest = (g.ambient_c.best + OVER_AMBIENT_K).max(air_c);
        let coldest = set_c.unwrap_or(air_c).min(air_c) - UNDER_SET_K;
        let up = d.slope_k_per_h.best > 0.0;
        let moving = Moving {
            slope_k_per_h: d.slope_k_per_h,
            bound_c: if up { warmest } else { coldest },
            ..still
        };
        return Some(Way { course: Course::Moving(moving), rising: up, driver: Driver::Drift });
    }
    let stands_off = f.off.is_some_and(|o| !o.coming_back && !o.doubtful);
    let worrying = wide::is_worrying(g) || g.trust.doubts_held_air() || cold::is_freezing(g);
    (stands_off || worrying).then_some(Way {
        course: Course::Moving(still),
        rising: !cold::is_freezing(g) && f.off.is_none_or(|o| o.air_c > o.set_c),
        driver: Driver::Level,
    })
}
