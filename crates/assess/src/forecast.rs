//! When the cargo reaches a limit on the present course, and how sure that is.

use box_model::{Course, Estimate, Limit, Side};
use units::math;

use crate::ground::{Control, Ground};
use crate::rules::off_set_point::{self, OffRun};
use crate::rules::set_point;
use crate::rules::spread;
use crate::track::{CargoAt, Knob, Priors, cargo_now};
use crate::trend::{self, Drift};

/// Air that is driven to another set point moves about this fast, K/h. Our estimate.
const TO_SET_POINT_K_PER_H: [f64; 3] = [0.3, 0.8, 3.0];
/// Air never passes the ambient by more than this (sun on the box). Our estimate.
const OVER_AMBIENT_K: f64 = 10.0;
/// Air never falls further below the set point than this. Our estimate.
const UNDER_SET_K: f64 = 10.0;
/// Shortest time that is told apart from now.
const SHORTEST_H: f64 = 0.05;

/// Hours to a limit.
#[derive(Debug, Clone, PartialEq)]
pub struct Hours {
    /// Best estimate.
    pub best: f64,
    /// 90 % interval, capped at the horizon.
    pub p90: [f64; 2],
    /// The limit.
    pub limit: Limit,
    /// What drives the cargo there.
    pub course: Driver,
}

/// What drives the cargo.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Driver {
    /// No power: leakage and respiration.
    NoPower,
    /// The display's set point is not the ordered one.
    SetPoint,
    /// Air drifts.
    Drift,
    /// Air stands off the set point.
    Level,
}

/// All that is foreseen of a box.
pub struct Forecast {
    /// Cargo now, with its interval.
    pub cargo: Option<CargoAt>,
    /// Steady change of air, where there is one.
    pub drift: Option<Drift>,
    /// Air off the set point.
    pub off: Option<OffRun>,
    /// Hours to the first limit; `None` when none is in sight within the voyage.
    pub hours: Option<Hours>,
    /// Cargo is past its warm limit but coming down.
    pub coming_down: bool,
}

/// Foresees.
pub fn of(g: &Ground<'_>) -> Forecast {
    let priors = Priors::of(g);
    let cargo = cargo_now(g, &priors);
    let drift = trend::drift(g);
    let off = off_set_point::run(g);
    let mut out = Forecast {
        cargo,
        drift,
        off,
        hours: None,
        coming_down: false,
    };
    let Some(cargo) = out.cargo.filter(|_| g.carries()) else {
        return out;
    };
    if g.power_lost().is_some() {
        out.hours = without_power(g, &priors, cargo);
        out.cargo = Some(drifted_on(g, &priors, cargo));
        return out;
    }
    let warm = g.limits.warm.clone().filter(|l| cargo.temp_c >= l.temp_c);
    out.coming_down = warm.is_some() && falling(g, &out);
    if !out.coming_down {
        out.hours = powered(g, &priors, cargo, &out);
    }
    out
}

/// Cargo without power, taken on from its last evidence to now.
fn drifted_on(g: &Ground<'_>, priors: &Priors, cargo: CargoAt) -> CargoAt {
    let dt_h = g.age_h(cargo.at).max(0.0);
    let mean = |k: Option<(Knob, f64)>, ambient_c: f64| {
        priors
            .lump(k)
            .without_power_c(cargo.temp_c, ambient_c, dt_h)
    };
    let temp_c = mean(None, g.ambient_c.best);
    let mut square = cargo.half_k * cargo.half_k;
    let mut add = |other: f64| square += (other - temp_c) * (other - temp_c);
    add(mean(None, g.ambient_c.high));
    for knob in Knob::ALL {
        let e = priors.knob(knob);
        let (a, b) = (
            mean(Some((knob, e.low)), g.ambient_c.best),
            mean(Some((knob, e.high)), g.ambient_c.best),
        );
        add(if (a - temp_c).abs() > (b - temp_c).abs() {
            a
        } else {
            b
        });
    }
    CargoAt {
        at: g.clock.as_of,
        temp_c,
        half_k: math::sqrt(square),
        ..cargo
    }
}

/// Coldest cargo: the warmest of the list's range, freezing and chilling.
fn cold_limit(g: &Ground<'_>) -> Option<Limit> {
    let both = [g.limits.cold.as_ref(), g.limits.chilling.as_ref()];
    both.into_iter()
        .flatten()
        .max_by(|a, b| a.temp_c.total_cmp(&b.temp_c))
        .cloned()
}

/// The earlier of two.
fn earlier(a: Option<Hours>, b: Option<Hours>) -> Option<Hours> {
    match (a, b) {
        (Some(a), Some(b)) => Some(if b.best < a.best { b } else { a }),
        (a, b) => a.or(b),
    }
}

fn past(limit: &Limit, temp_c: f64) -> bool {
    match limit.side {
        Side::Warm => temp_c >= limit.temp_c,
        Side::Cold => temp_c <= limit.temp_c,
    }
}

// --- without power -------------------------------------------------------------------------

fn without_power(g: &Ground<'_>, priors: &Priors, cargo: CargoAt) -> Option<Hours> {
    let warm = g
        .limits
        .warm
        .clone()
        .and_then(|l| unpowered_to(g, priors, cargo, l));
    let cold = cold_limit(g).and_then(|l| unpowered_to(g, priors, cargo, l));
    earlier(warm, cold)
}

fn unpowered_to(g: &Ground<'_>, priors: &Priors, cargo: CargoAt, limit: Limit) -> Option<Hours> {
    let elapsed_h = g.age_h(cargo.at).max(0.0);
    let horizon_h = g.clock.horizon_h;
    let ambient = g.ambient_c;
    let run = |knob: Option<(Knob, f64)>, start_c: f64, ambient_c: f64| {
        if past(&limit, start_c) {
            return Some(0.0);
        }
        let lump = priors.lump(knob);
        lump.hours_without_power(start_c, limit.temp_c, ambient_c)
            .map(|h| (h - elapsed_h).max(0.0))
    };
    let best = run(None, cargo.temp_c, ambient.best).filter(|h| *h <= horizon_h)?;
    let mut spread = LogSpread::new(best, horizon_h);
    for knob in Knob::ALL {
        let e = priors.knob(knob);
        spread.add(
            run(Some((knob, e.low)), cargo.temp_c, ambient.best),
            run(Some((knob, e.high)), cargo.temp_c, ambient.best),
        );
    }
    spread.add(
        run(None, cargo.temp_c, ambient.low),
        run(None, cargo.temp_c, ambient.high),
    );
    spread.add(
        run(None, cargo.temp_c - cargo.half_k, ambient.best),
        run(None, cargo.temp_c + cargo.half_k, ambient.best),
    );
    if let Some(loss) = g.power_lost()
        && cargo.at < loss.from
    {
        // The loss may lie anywhere between the two readings around it.
        let half_gap_h = loss.from.hours_since(cargo.at);
        spread.add(Some((best - half_gap_h).max(0.0)), Some(best + half_gap_h));
    }
    let mut p90 = spread.p90();
    if let Some(food) = priors.frozen {
        // Melting ice takes up heat: the real time may be much longer than the early warning.
        let apparent = box_model::Lump {
            capacity: box_model::Capacity::Apparent(food),
            ..priors.lump(None)
        };
        let slow = apparent.hours_without_power(cargo.temp_c, limit.temp_c, ambient.best);
        let slow = slow.map_or(horizon_h, |h| (h - elapsed_h).max(0.0));
        p90[1] = p90[1].max(slow).min(horizon_h);
    }
    Some(Hours {
        best,
        p90,
        limit,
        course: Driver::NoPower,
    })
}

// --- with power ----------------------------------------------------------------------------

/// Air falls (or is at the set point again), so that cargo past the limit comes down.
fn falling(g: &Ground<'_>, f: &Forecast) -> bool {
    let falls = f
        .drift
        .is_some_and(|d| d.slope_k_per_h.best < 0.0 || !d.significant);
    let supply_good = f.off.is_none() && !g.judged.is_empty();
    let cooler_air = trend::air_now(g)
        .zip(g.limits.warm.as_ref())
        .is_some_and(|(air, l)| air < l.temp_c);
    let falling_drift = f
        .drift
        .is_some_and(|d| d.significant && d.slope_k_per_h.best < 0.0);
    falling_drift || (supply_good && (falls || cooler_air))
}

fn powered(g: &Ground<'_>, priors: &Priors, cargo: CargoAt, f: &Forecast) -> Option<Hours> {
    let air_c = trend::air_now(g)?;
    let (course, driver) = course(g, f, air_c)?;
    let rising = course.to_c > air_c || (course.slope.best == 0.0 && air_c > cargo.temp_c);
    let limit = if rising {
        g.limits.warm.clone()?
    } else {
        cold_limit(g)?
    };
    behind_air(g, priors, cargo, &course, limit, driver)
}

/// Where the air goes.
struct AirCourse {
    air_c: f64,
    slope: Estimate,
    to_c: f64,
}

fn course(g: &Ground<'_>, f: &Forecast, air_c: f64) -> Option<(AirCourse, Driver)> {
    let set_c = g.displayed_c.map(|(_, c)| c).or(g.ordered_c);
    let warmest = g.ambient_c.best + OVER_AMBIENT_K;
    if let Some(goal_c) = set_point::wrong_goal_c(g) {
        let [slow, best, fast] = TO_SET_POINT_K_PER_H;
        let sign = if goal_c > air_c { 1.0 } else { -1.0 };
        let slope = Estimate::new(sign * slow, sign * best, sign * fast);
        let to_c = goal_c;
        return Some((AirCourse { air_c, slope, to_c }, Driver::SetPoint));
    }
    if let Some(d) = f.drift.filter(|d| d.significant) {
        let slope = d.slope_k_per_h;
        let up = slope.best > 0.0;
        let away = set_c.is_none_or(|s| if up { air_c > s } else { air_c < s });
        if away {
            let to_c = if up {
                warmest.max(air_c)
            } else {
                set_c.unwrap_or(air_c).min(air_c) - UNDER_SET_K
            };
            return Some((AirCourse { air_c, slope, to_c }, Driver::Drift));
        }
    }
    let stands_off = f.off.is_some_and(|o| !o.coming_back) || spread::is_worrying(g);
    stands_off.then_some((
        AirCourse {
            air_c,
            slope: Estimate::plus_minus(0.0, 0.0),
            to_c: air_c,
        },
        Driver::Level,
    ))
}

fn behind_air(
    g: &Ground<'_>,
    priors: &Priors,
    cargo: CargoAt,
    air: &AirCourse,
    limit: Limit,
    driver: Driver,
) -> Option<Hours> {
    let age_h = g.age_h(cargo.at).max(0.0);
    let horizon_h = g.clock.horizon_h + age_h;
    let coupling = priors.coupling_w_per_k;
    let run = |knob: Option<(Knob, f64)>, start_c: f64, slope: f64, shift_k: f64, w_per_k: f64| {
        if past(&limit, start_c) {
            return Some(0.0);
        }
        let course = Course {
            air_c: air.air_c + shift_k,
            slope_k_per_h: slope,
            bound_c: air.to_c,
        };
        priors
            .aired(knob)
            .hours_behind_air(start_c, limit.temp_c, course, w_per_k, horizon_h)
            .map(|h| (h - age_h).max(0.0))
    };
    let (slope, start) = (air.slope, cargo.temp_c);
    let best = run(None, start, slope.best, 0.0, coupling.best)?;
    let mut spread = LogSpread::new(best, g.clock.horizon_h);
    for knob in [Knob::Mass, Knob::SpecificHeat] {
        let e = priors.knob(knob);
        spread.add(
            run(Some((knob, e.low)), start, slope.best, 0.0, coupling.best),
            run(Some((knob, e.high)), start, slope.best, 0.0, coupling.best),
        );
    }
    spread.add(
        run(None, start, slope.best, 0.0, coupling.low),
        run(None, start, slope.best, 0.0, coupling.high),
    );
    spread.add(
        run(None, start, slope.low, 0.0, coupling.best),
        run(None, start, slope.high, 0.0, coupling.best),
    );
    spread.add(
        run(None, start - cargo.half_k, slope.best, 0.0, coupling.best),
        run(None, start + cargo.half_k, slope.best, 0.0, coupling.best),
    );
    let play_k = if g.control == Some(Control::Frozen) {
        0.6
    } else {
        0.3
    };
    spread.add(
        run(None, start, slope.best, -play_k, coupling.best),
        run(None, start, slope.best, play_k, coupling.best),
    );
    let mut p90 = spread.p90();
    if priors.frozen.is_some() {
        // Melting ice slows the cargo beyond the constant specific heat.
        p90[1] = (p90[1] * 1.8).min(g.clock.horizon_h).max(best);
    }
    Some(Hours {
        best,
        p90,
        limit,
        course: driver,
    })
}

/// Spread of a time in the logarithm: what each unknown does alone, added as squares.
struct LogSpread {
    best: f64,
    horizon_h: f64,
    down: f64,
    up: f64,
}

impl LogSpread {
    fn new(best: f64, horizon_h: f64) -> Self {
        Self {
            best,
            horizon_h,
            down: 0.0,
            up: 0.0,
        }
    }

    /// Both ends of one unknown; `None` is a limit never reached.
    fn add(&mut self, one: Option<f64>, other: Option<f64>) {
        let log = |h: Option<f64>| {
            let h = h.unwrap_or(self.horizon_h).max(SHORTEST_H);
            math::ln(h / self.best.max(SHORTEST_H))
        };
        let (a, b) = (log(one), log(other));
        let (low, high) = (a.min(b).min(0.0), a.max(b).max(0.0));
        self.down += low * low;
        self.up += high * high;
    }

    fn p90(&self) -> [f64; 2] {
        let best = self.best.max(SHORTEST_H);
        let low = best * math::exp(-math::sqrt(self.down));
        let high = best * math::exp(math::sqrt(self.up));
        let low = if low <= SHORTEST_H { 0.0 } else { low };
        [low.min(self.best), high.min(self.horizon_h).max(self.best)]
    }
}
