//! Power is there: air goes somewhere and the cargo follows.

use box_model::food::FROZEN_KJ_PER_KG_K;
use box_model::{Course, Estimate, Limit};

use super::uncertain::Spread;
use super::{Driver, Forecast, Hours, cold_limit, past};
use crate::ground::{Control, Ground};
use crate::rules::{cold, set_point, spread as wide};
use crate::track::{CargoAt, FAN_W, HEATER_W, Knob, Priors};
use crate::trend;

/// Air that is driven to another set point moves about this fast, K/h. Our estimate.
const TO_SET_POINT_K_PER_H: [f64; 3] = [1.0, 3.0, 8.0];
/// Air never passes the ambient by more than this (sun on the box). Our estimate.
const OVER_AMBIENT_K: f64 = 10.0;
/// Air never falls further below the set point than this. Our estimate.
const UNDER_SET_K: f64 = 10.0;
/// Hours to the limit that the present course leads to.
pub fn hours(g: &Ground<'_>, priors: &Priors, cargo: CargoAt, f: &Forecast) -> Option<Hours> {
    let air_c = trend::air_now(g)?;
    let way = way(g, f, air_c)?;
    let rising = if way.slope.best == 0.0 {
        !cold::is_freezing(g) && f.off.is_none_or(|o| o.air_c > o.set_c)
    } else {
        way.slope.best > 0.0
    };
    let passed = [g.limits.warm.clone(), cold_limit(g)];
    let passed = passed.into_iter().flatten().find(|l| past(l, cargo.temp_c));
    let limit = match passed {
        Some(limit) => limit,
        None if rising => g.limits.warm.clone()?,
        None => cold_limit(g)?,
    };
    Run { g, priors, cargo, limit, age_h: g.age_h(cargo.at).max(0.0), way }.hours()
}

/// Where the air goes, and what drives it.
struct Way {
    air_c: f64,
    slope: Estimate,
    to_c: f64,
    extra_w: [f64; 3],
    driver: Driver,
}

fn way(g: &Ground<'_>, f: &Forecast, air_c: f64) -> Option<Way> {
    let set_c = g.displayed_c.map(|(_, c)| c).or(g.ordered_c);
    let still = Way {
        air_c,
        slope: Estimate::plus_minus(0.0, 0.0),
        to_c: air_c,
        extra_w: FAN_W,
        driver: Driver::Level,
    };
    if let Some(goal_c) = set_point::wrong_goal_c(g) {
        let [slow, best, fast] = TO_SET_POINT_K_PER_H;
        let sign = if goal_c > air_c { 1.0 } else { -1.0 };
        return Some(Way {
            slope: Estimate::new(sign * slow, sign * best, sign * fast),
            to_c: goal_c,
            extra_w: HEATER_W,
            driver: Driver::SetPoint,
            ..still
        });
    }
    // A doubtful reading is to be read again before anything is foretold from it; a single one
    // tells a level, but no trend.
    let once = f.off.is_some_and(|o| o.readings == 1);
    if let Some(d) = f.drift.filter(|d| d.leads_away(g) && !once) {
        let warmest = (g.ambient_c.best + OVER_AMBIENT_K).max(air_c);
        let coldest = set_c.unwrap_or(air_c).min(air_c) - UNDER_SET_K;
        let up = d.slope_k_per_h.best > 0.0;
        return Some(Way {
            slope: d.slope_k_per_h,
            to_c: if up { warmest } else { coldest },
            driver: Driver::Drift,
            ..still
        });
    }
    let stands_off = f.off.is_some_and(|o| !o.coming_back && !o.doubtful);
    let worrying = wide::is_worrying(g) || g.trust.doubts_held_air() || cold::is_freezing(g);
    (stands_off || worrying).then_some(still)
}

struct Run<'a> {
    g: &'a Ground<'a>,
    priors: &'a Priors,
    cargo: CargoAt,
    limit: Limit,
    age_h: f64,
    way: Way,
}

/// One choice of the unknowns.
#[derive(Clone, Copy)]
struct Choice {
    knob: Option<(Knob, f64)>,
    start_c: f64,
    slope: f64,
    shift_k: f64,
    coupling: f64,
    extra_w: f64,
}

impl Run<'_> {
    /// Hours from now for one choice.
    fn of(&self, c: Choice) -> Option<f64> {
        if past(&self.limit, c.start_c) {
            return Some(0.0);
        }
        let ambient = self.g.ambient_c.best;
        let course = Course {
            air_c: self.way.air_c + c.shift_k,
            slope_k_per_h: c.slope,
            bound_c: self.way.to_c,
            coupling_w_per_k: c.coupling,
            most_heat_w: self.priors.heat_in_w(c.knob, c.start_c, ambient, c.extra_w),
        };
        let horizon_h = self.g.clock.horizon_h + self.age_h;
        self.priors
            .aired(c.knob)
            .hours_behind_air(c.start_c, self.limit.temp_c, course, horizon_h)
            .map(|h| (h - self.age_h).max(0.0))
    }

    fn hours(self) -> Option<Hours> {
        let horizon_h = self.g.clock.horizon_h;
        let coupling = self.priors.coupling_w_per_k;
        let slope = self.way.slope;
        let [extra_low, extra, extra_high] = self.way.extra_w;
        let plain = Choice {
            knob: None,
            start_c: self.cargo.temp_c,
            slope: slope.best,
            shift_k: 0.0,
            coupling: coupling.best,
            extra_w: extra,
        };
        let best = self.of(plain)?;
        let mut spread = Spread::new(best, horizon_h);
        let mut add = |a: Choice, b: Choice| spread.add(self.of(a), self.of(b));
        for knob in Knob::ALL {
            let e = self.priors.knob(knob);
            let end = |v| Choice { knob: Some((knob, v)), ..plain };
            add(end(e.low), end(e.high));
        }
        let at = |coupling| Choice { coupling, ..plain };
        add(at(coupling.low), at(coupling.high));
        let at = |slope| Choice { slope, ..plain };
        add(at(slope.low), at(slope.high));
        let at = |extra_w| Choice { extra_w, ..plain };
        add(at(extra_low), at(extra_high));
        let at = |half_k: f64| Choice { start_c: plain.start_c + half_k, ..plain };
        add(at(-self.cargo.half_k), at(self.cargo.half_k));
        let frozen = self.g.control == Some(Control::Frozen);
        let play_k = if frozen { 0.6 } else { 0.3 };
        let at = |shift_k| Choice { shift_k, ..plain };
        add(at(-play_k), at(play_k));
        if let Some(food) = self.priors.frozen {
            // Melting ice slows the cargo beyond the early warning.
            let middle_c = 0.5 * (self.cargo.temp_c + self.limit.temp_c);
            let slower = food.apparent_kj_per_kg_k(middle_c) / FROZEN_KJ_PER_KG_K;
            spread.add(Some(best), Some(best * slower.max(1.0)));
        }
        Some(Hours { best, p90: spread.p90(), limit: self.limit, course: self.way.driver })
    }
}
