//! When does it start, when is the time met, will it be in time: futures of the probes, drawn
//! from their own past, run through the rule engine itself.

use box_model::pulp::{Futures, ProbeCourse, normal_cdf};
use record::treatment::TreatmentForecast;
use treatment::{Clock, Decimal, PROBES, Phase, TempUnit};
use units::Utc;

/// Futures drawn for a list, and for a box's own page.
pub(super) const DRAWS_LIST: usize = 120;
pub(super) const DRAWS_PAGE: usize = 300;

/// Beyond this nothing is looked at, h.
const HORIZON_H: f64 = 60.0 * 24.0;

/// Power goes off for a while about this often, per day: a guess that keeps the interval honest
/// (estimate; the sea-trial study prints what it leads to).
const TRIPS_PER_DAY: f64 = 0.004;
/// A trip lasts up to this many hours, and warms the pulp by so much in each.
const TRIP_H: f64 = 8.0;
const TRIP_K_PER_H: f64 = 0.06;
/// Hours in which the pulp comes back after a trip.
const TRIP_BACK_H: f64 = 24.0;

const ASSUMES: &str = "Drawn from the probes’ own course over the last days, with the weather's \
    slow wandering and a short loss of power about once in 250 days. It knows nothing of a fault \
    that has not shown yet.";

/// What a forecast starts from.
pub(super) struct Start<'a> {
    /// The clock as it stands after the record.
    pub(super) clock: &'a Clock,
    /// Fitted probes: place (0 to 3), course of its true temperature, what its column shows.
    pub(super) probes: &'a [Probe],
    /// The latest reading time.
    pub(super) at: Utc,
    /// Arrival at the box's port.
    pub(super) eta: Option<Utc>,
    /// Mean supply air of the last days, °C, and the fruit's freezing point.
    pub(super) supply_c: Option<f64>,
    /// Freezing point of the fruit, °C.
    pub(super) freezing_c: Option<f64>,
    /// The same box, the same draws.
    pub(super) seed: u64,
}

/// A fitted probe.
pub(super) struct Probe {
    /// Place, 0 to 3.
    pub(super) index: usize,
    /// Course of the column's own values, in °C, uncorrected: what the engine is fed.
    pub(super) course: ProbeCourse,
    /// Unit of the column.
    pub(super) unit: TempUnit,
}

/// One future's outcome, hours from now.
#[derive(Debug, Clone, Copy, Default)]
struct Outcome {
    start_h: Option<f64>,
    met_h: Option<f64>,
    breach: bool,
}

/// The forecast with the set point moved by `shift_k`.
pub(super) fn forecast(from: &Start<'_>, shift_k: f64, draws: usize) -> Option<TreatmentForecast> {
    if from.probes.is_empty()
        || !matches!(
            from.clock.phase(),
            Phase::Before | Phase::Running | Phase::Waiting | Phase::Pending
        )
    {
        return None;
    }
    let courses: Vec<ProbeCourse> = from.probes.iter().map(|p| p.course.clone()).collect();
    let mut futures = Futures::new(&courses, from.seed);
    let mut outcomes = Vec::with_capacity(draws);
    for _ in 0..draws {
        outcomes.push(walk(from, &mut futures, shift_k));
    }
    Some(summary(from, &outcomes, shift_k))
}

/// One future, hour by hour, until the time is met.
fn walk(from: &Start<'_>, futures: &mut Futures<'_>, shift_k: f64) -> Outcome {
    let mut clock = from.clock.clone();
    let mut out = Outcome::default();
    let mut trip = Trip::default();
    let mut values = [0.0; PROBES];
    let mut future = futures.draw();
    let mut hours = 0.0;
    while hours < HORIZON_H {
        hours += 1.0;
        let n = from.probes.len().min(PROBES);
        let slots = values.get_mut(..n).unwrap_or_default();
        future.at(hours, shift_k, slots);
        let bump_k = trip.step(&mut || future.chance());
        let mut cells = [None; PROBES];
        for (probe, value) in from.probes.iter().zip(slots.iter()) {
            if let Some(cell) = cells.get_mut(probe.index) {
                *cell = tenth(value + bump_k, probe.unit);
            }
        }
        let before = clock.phase();
        let Ok(fed) = clock.feed(from.at.plus_hours(hours), &cells) else { break };
        if fed.started && out.start_h.is_none() {
            out.start_h = Some(hours);
        }
        if matches!(before, Phase::Running | Phase::Pending) {
            out.breach |= matches!(fed.phase, Phase::Waiting | Phase::Cancelled)
                || (before == Phase::Running && fed.phase == Phase::Pending);
        }
        match fed.phase {
            Phase::Met | Phase::PlanDone => {
                out.met_h = Some(hours);
                break;
            }
            Phase::Cancelled => break,
            _ => {}
        }
    }
    out
}

/// A value as the recorder writes it: tenths of a degree of its column.
fn tenth(value_c: f64, unit: TempUnit) -> Option<Decimal> {
    let shown = match unit {
        TempUnit::C => value_c,
        TempUnit::F => value_c * 1.8 + 32.0,
    };
    Decimal::new((shown * 10.0).round() as i64, 1)
}

/// Short losses of power: how much they lift the pulp now.
#[derive(Debug, Default)]
struct Trip {
    left_h: f64,
    bump_k: f64,
}

impl Trip {
    fn step(&mut self, chance: &mut dyn FnMut() -> f64) -> f64 {
        if self.left_h > 0.0 {
            self.left_h -= 1.0;
            self.bump_k += TRIP_K_PER_H;
        } else {
            self.bump_k *= 1.0 - 1.0 / TRIP_BACK_H;
            if chance() < TRIPS_PER_DAY / 24.0 {
                self.left_h = 1.0 + TRIP_H * chance();
            }
        }
        self.bump_k
    }
}

fn summary(from: &Start<'_>, outcomes: &[Outcome], shift_k: f64) -> TreatmentForecast {
    let n = outcomes.len().max(1) as f64;
    let share =
        |keep: &dyn Fn(&Outcome) -> bool| outcomes.iter().filter(|o| keep(o)).count() as f64 / n;
    let started = !matches!(from.clock.phase(), Phase::Before | Phase::Waiting);
    let spread = |get: &dyn Fn(&Outcome) -> Option<f64>| {
        let mut hours: Vec<f64> =
            outcomes.iter().map(|o| get(o).unwrap_or(f64::INFINITY)).collect();
        hours.sort_by(f64::total_cmp);
        [0.05, 0.5, 0.95].map(|q| {
            let i = ((n - 1.0) * q).round() as usize;
            let h = hours.get(i).copied().unwrap_or(f64::INFINITY);
            h.is_finite().then(|| from.at.plus_hours(h))
        })
    };
    let met = spread(&|o| o.met_h);
    let start = spread(&|o| o.start_h);
    let in_time = |eta: Utc| {
        let hours = eta.hours_since(from.at);
        share(&|o| o.met_h.is_some_and(|h| h <= hours))
    };
    TreatmentForecast {
        p_start: if started { 1.0 } else { share(&|o| o.start_h.is_some()) },
        start_at: if started { None } else { start[1] },
        start_p90: (!started).then_some([start[0], start[2]]),
        met_at: met[1],
        met_p90: [met[0], met[2]],
        p_before_port: from.eta.map(in_time),
        p_breach: share(&|o| o.breach),
        p_freezing: p_freezing(from, shift_k),
        assumes: ASSUMES,
    }
}

/// Fruit where the air is delivered comes to the temperature of that air. Its spread: sensor and
/// control, 0.25 K (estimate).
fn p_freezing(from: &Start<'_>, shift_k: f64) -> Option<f64> {
    let (supply, freezing) = (from.supply_c?, from.freezing_c?);
    Some(1.0 - normal_cdf((supply + shift_k - freezing) / 0.25))
}
