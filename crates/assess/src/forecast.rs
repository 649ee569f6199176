//! When the cargo reaches a limit on the present course, and how sure that is.

use box_model::slow_loss::SlowLoss;
use box_model::{Crossing, FROZEN_SET_MAX_C, Limit, Side};

use crate::airflow::{self, LessAir};
use crate::defrost_signs::{self, DefrostSigns};
use crate::fitted::{self, CargoAt, Fitted};
use crate::ground::{self, Control, Ground};
use crate::rules::off_set_point::{self, OffRun};
use crate::rules::{set_point, spread};
use crate::strength;
use crate::trend::{self, Drift};

pub mod powered;
pub mod uncooled;

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
    /// Fans turn and nothing cools: leakage, respiration and the fans' heat.
    NotCooling,
    /// The display's set point is not the ordered one.
    SetPoint,
    /// Air drifts.
    Drift,
    /// Air stands off the set point.
    Level,
    /// The unit fades.
    Fading,
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
    /// Cargo past its warm limit that is not on its way further.
    pub over: Option<Over>,
    /// The unit loses strength.
    pub loss: Option<SlowLoss>,
    /// Less air comes through than days ago.
    pub less_air: Option<LessAir>,
    /// Defrosts that do not do their work.
    pub defrosts: DefrostSigns,
    /// What the readings did not tell, in words.
    pub lacks: Vec<&'static str>,
    /// Without power: how fast the cargo warms, K/h.
    pub warming_k_per_h: Option<f64>,
}

/// Cargo past its warm limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Over {
    /// Air or probes show that it comes down.
    ComingDown,
    /// By less than a kelvin, in a box whose air is steady and where it should be.
    Steady,
}

/// Over the limit by less than this, in a steady box, is for a person to judge. Our estimate.
const STEADY_OVER_K: f64 = 1.0;

/// Foresees.
pub fn of(g: &Ground<'_>) -> Forecast {
    from(g, Fitted::of(g).as_ref())
}

/// Foresees from a fit.
pub fn from(g: &Ground<'_>, fitted: Option<&Fitted>) -> Forecast {
    let mut out = Forecast {
        cargo: fitted.map(|f| stale(g, f)),
        lacks: fitted.map_or_else(Vec::new, Fitted::lacks_beyond_probes),
        drift: trend::drift(g).or_else(|| trend::of_probes_alone(g)),
        off: off_set_point::run(g),
        hours: None,
        over: None,
        warming_k_per_h: None,
        loss: strength::loss(g),
        less_air: airflow::of(g),
        defrosts: defrost_signs::of(g),
    };
    let (Some(cargo), Some(fitted)) = (out.cargo, fitted.filter(|_| g.carries())) else {
        return out;
    };
    if g.power_lost().is_some() {
        out.hours = uncooled::hours(g, fitted, Driver::NoPower);
        let [now, later] = uncooled::warming(g, fitted, cargo);
        out.warming_k_per_h = Some((later.temp_c - now.temp_c) / uncooled::LOOK_H);
        out.cargo = Some(now);
        return out;
    }
    out.over = over(g, &out, cargo);
    if out.over.is_none() {
        out.hours = if out.off.is_some_and(|o| o.not_cooling) {
            uncooled::hours(g, fitted, Driver::NotCooling)
        } else {
            powered::hours(g, fitted, cargo, &out)
                .or_else(|| by_probes_alone(g, cargo, out.drift))
                .or_else(|| past_already(g, cargo))
        };
    }
    out
}

/// Hours to the first limit of a box without power, as [`of`] has them.
pub fn hours_unpowered(g: &Ground<'_>) -> Option<Hours> {
    let fitted = Fitted::of(g).filter(|_| g.carries())?;
    g.power_lost()?;
    uncooled::hours(g, &fitted, Driver::NoPower)
}

/// Nothing read for longer than this, and nobody knows whether the power stayed on, h.
const UNREAD_H: f64 = 12.0;

/// The cargo as of now; of a box unread for long, as wide as a loss of power would make it.
fn stale(g: &Ground<'_>, fitted: &Fitted) -> CargoAt {
    let cargo = fitted.cargo();
    let age_h = fitted.age_h(g);
    if age_h <= UNREAD_H || g.power_lost().is_some() {
        return cargo;
    }
    let [dark, _] = uncooled::warming(g, fitted, cargo);
    let half_k = cargo.half_k.max((dark.temp_c - cargo.temp_c).abs() + dark.half_k);
    CargoAt { half_k, ..cargo }
}

/// The answer of the model as hours, where the limit is more likely than not passed within the
/// voyage.
fn told(crossing: &Crossing, limit: Limit, course: Driver) -> Option<Hours> {
    let best = crossing.quantile_h(0.5)?;
    (best <= crossing.horizon_h()).then(|| Hours { best, p90: crossing.p90_h(), limit, course })
}

/// Nobody reads the air: the probes go on as they were seen to go.
fn by_probes_alone(g: &Ground<'_>, cargo: CargoAt, drift: Option<Drift>) -> Option<Hours> {
    let d = drift.filter(|d| g.judged.is_empty() && d.leads_away(g))?;
    let rate = d.slope_k_per_h;
    let limit = if rate.best > 0.0 { g.limits.warm.clone()? } else { cold_limit(g)? };
    // The fit lags behind a steady climb; the probes are what is read.
    let (_, now_c) = ground::latest(&g.rows, fitted::probes_c)?;
    let way_k = ((limit.temp_c - now_c) * rate.best.signum()).max(0.0);
    let (slow, fast) = (rate.low.abs().min(rate.high.abs()), rate.low.abs().max(rate.high.abs()));
    let hours = |k: f64, per_h: f64| (k.max(0.0) / per_h.max(1e-6)).min(g.clock.horizon_h);
    let best = way_k / rate.best.abs().max(1e-6);
    let p90 = [hours(way_k - cargo.half_k, fast), hours(way_k + cargo.half_k, slow)];
    (best <= g.clock.horizon_h).then_some(Hours { best, p90, limit, course: Driver::Drift })
}

/// Cargo past its warm limit in a box that does nothing about it.
fn past_already(g: &Ground<'_>, cargo: CargoAt) -> Option<Hours> {
    let limit = g.limits.warm.clone()?;
    let well_past = cargo.temp_c - cargo.half_k.min(STEADY_OVER_K) >= limit.temp_c;
    well_past.then_some(Hours { best: 0.0, p90: [0.0, 0.0], limit, course: Driver::Level })
}

/// Cargo past its warm limit, that comes down or stands a little over it in a sound box.
fn over(g: &Ground<'_>, f: &Forecast, cargo: CargoAt) -> Option<Over> {
    // A box that is told another set point is not sound, whatever its air does.
    if set_point::wrong_goal_c(g).is_some() {
        return None;
    }
    let limit = g.limits.warm.as_ref().filter(|l| cargo.temp_c >= l.temp_c)?;
    let falls = |d: Option<Drift>| d.is_some_and(|d| d.significant && d.slope_k_per_h.best < 0.0);
    let rises = f.drift.is_some_and(|d| d.leads_away(g));
    if falls(trend::of_probes(g)) || (!cargo.by_probes && falls(f.drift)) {
        return Some(Over::ComingDown);
    }
    let sound = f.off.is_none() && !rises && !spread::is_worrying(g) && !g.trust.doubts_held_air();
    let little = cargo.temp_c < limit.temp_c + STEADY_OVER_K;
    if sound && little {
        return Some(Over::Steady);
    }
    let cooler = trend::air_now(g).is_some_and(|air| air < limit.temp_c - 0.3);
    // Probes that do not fall in colder air tell of themselves or of the stow, not of cooling.
    let way = if trend::of_probes(g).is_some() { Over::Steady } else { Over::ComingDown };
    (sound && cooler).then_some(way)
}

/// Coldest cargo: the warmest of the list's range, freezing and chilling. Colder than ordered
/// does frozen cargo no harm.
pub fn cold_limit(g: &Ground<'_>) -> Option<Limit> {
    let ordered_frozen = g.ordered_c.is_none_or(|t| t <= FROZEN_SET_MAX_C);
    if g.control == Some(Control::Frozen) && ordered_frozen {
        return None;
    }
    let both = [g.limits.cold.as_ref(), g.limits.chilling.as_ref()];
    both.into_iter().flatten().max_by(|a, b| a.temp_c.total_cmp(&b.temp_c)).cloned()
}

fn past(limit: &Limit, temp_c: f64) -> bool {
    match limit.side {
        Side::Warm => temp_c >= limit.temp_c,
        Side::Cold => temp_c <= limit.temp_c,
    }
}
