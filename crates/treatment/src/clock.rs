//! The clock: one reading time after the other, a fixed amount of work for each.

use std::sync::Arc;

use units::Utc;

use crate::PROBES;
use crate::answer::Answer;
use crate::days::WarmDays;
use crate::exact::Decimal;
use crate::found::Found;
use crate::limits::Setup;
use crate::policy::{Effect, Kind, Policy};
use crate::probe_past::{ProbeState, View, effect};
use crate::runs::Breach;

/// Where the clock stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Phase {
    /// No clock has started yet.
    Before,
    /// A clock runs.
    Running,
    /// A breach ended a clock; the next has not started.
    Waiting,
    /// A clock stands with a breach that an official must decide.
    Pending,
    /// The same, and the planning clock has run its time.
    PlanDone,
    /// The time was met.
    Met,
    /// The treatment is over.
    Cancelled,
}

/// What one reading time did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fed {
    /// False: every fitted probe was abnormal, so this is no reading time.
    pub reading_time: bool,
    /// Where the clock stands after it.
    pub phase: Phase,
    /// A clock, or a planning clock, started here.
    pub started: bool,
    /// What was found here.
    pub found: Found,
}

/// Everything the next reading needs: small, so that it can be kept as a checkpoint.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct State {
    pub(crate) phase: Phase,
    pub(crate) first_start: Option<i64>,
    pub(crate) started: Option<i64>,
    pub(crate) plan: Option<i64>,
    pub(crate) end: Option<i64>,
    pub(crate) restarts: u32,
    pub(crate) last_at: Option<i64>,
    pub(crate) reading_times: u64,
    pub(crate) warm: WarmDays,
    pub(crate) plan_warm: WarmDays,
    pub(crate) need_ms: i64,
    pub(crate) plan_need_ms: i64,
    pub(crate) probes: [ProbeState; PROBES],
}

type Values = [Option<i64>; PROBES];

impl State {
    pub(crate) fn new() -> Self {
        Self {
            phase: Phase::Before,
            first_start: None,
            started: None,
            plan: None,
            end: None,
            restarts: 0,
            last_at: None,
            reading_times: 0,
            warm: WarmDays::default(),
            plan_warm: WarmDays::default(),
            need_ms: 0,
            plan_need_ms: 0,
            probes: [ProbeState::default(); PROBES],
        }
    }

    /// A clock runs: what is found now has its effect (contract 3.1.7).
    pub(crate) fn runs(&self) -> bool {
        matches!(self.phase, Phase::Running | Phase::Pending)
    }

    /// Takes the next reading time. Times must rise; `values` are raw, `None` for an empty cell.
    pub(crate) fn feed(
        &mut self,
        setup: &Setup,
        log: &mut Vec<Breach>,
        at: i64,
        values: &Values,
    ) -> Fed {
        let good = good(setup, values);
        let mut fed =
            Fed { reading_time: false, phase: self.phase, started: false, found: Found::default() };
        if good.iter().all(Option::is_none) {
            return fed;
        }
        fed.reading_time = true;
        self.reading_times += 1;
        if self.phase == Phase::Before {
            if !setup.startable || !can_start(setup, &good) {
                self.last_at = Some(at);
                self.widen(&good);
                return fed;
            }
            self.first_start(setup, at);
            fed.started = true;
        }
        let act = self.find(setup, log, at, &good, &mut fed.found);
        self.apply(act, at, setup, &good);
        fed.started |= self.start_again(setup, log, at, &good);
        if self.runs() {
            self.count_warm(setup, at, &good);
        }
        self.finish(setup, at, &good);
        self.last_at = Some(at);
        self.widen(&good);
        fed.phase = self.phase;
        fed
    }

    fn first_start(&mut self, setup: &Setup, at: i64) {
        self.first_start = Some(at);
        self.last_at = None;
        for p in &mut self.probes {
            p.span = None;
        }
        self.start_clock(setup, at);
    }

    fn start_clock(&mut self, setup: &Setup, at: i64) {
        self.phase = Phase::Running;
        self.started = Some(at);
        self.warm = WarmDays::from_start(at);
        self.need_ms = setup.required.need_ms(0);
    }

    fn widen(&mut self, good: &Values) {
        for (p, value) in self.probes.iter_mut().zip(good) {
            if let Some(v) = *value {
                p.span = Some(p.span.map_or((v, v), |(lo, hi)| (lo.min(v), hi.max(v))));
            }
        }
    }

    /// Finds and lists what is wrong at this reading time; the strongest effect counts.
    fn find(
        &mut self,
        setup: &Setup,
        log: &mut Vec<Breach>,
        at: i64,
        good: &Values,
        found: &mut Found,
    ) -> Effect {
        let mut act = Effect::Warn;
        let runs = self.runs();
        if let Some(last) = self.last_at
            && at.saturating_sub(last) > setup.gap_max_ms
        {
            let effect = effect(setup, runs, Kind::Gap, None, last, at);
            let breach = Breach {
                kind: Kind::Gap,
                probe: None,
                from: last,
                to: at,
                worst: None,
                readings: 2,
                effect,
            };
            log.push(breach);
            found.add(Kind::Gap, None);
            act = act.max(effect);
        }
        for (i, (value, fitted)) in
            good.iter().zip(setup.probes.iter().map(|p| p.fitted)).enumerate()
        {
            let Some(p) = self.probes.get_mut(i).filter(|_| fitted) else { continue };
            let view = View { setup, runs, at, probe: i };
            act = act.max(match *value {
                Some(v) => p.take_good(&view, v, log, found),
                None => p.take_abnormal(&view, log, found),
            });
        }
        act
    }

    /// Cancel goes before restart, restart before waiting for an official (contract 3.1.11).
    fn apply(&mut self, act: Effect, at: i64, setup: &Setup, good: &Values) {
        match act {
            Effect::Cancel => {
                self.count_warm(setup, at, good);
                self.phase = Phase::Cancelled;
                self.end = Some(at);
                self.plan = None;
            }
            Effect::Restart | Effect::Refused => {
                self.phase = Phase::Waiting;
                self.started = None;
                self.plan = None;
                self.restarts = self.restarts.saturating_add(1);
            }
            Effect::InvalidUnlessVerified => {
                self.phase = Phase::Pending;
                self.plan = None;
            }
            Effect::Warn | Effect::Verified | Effect::Extend => {}
        }
    }

    /// Starts the next clock, or the planning clock, where this reading time allows it.
    fn start_again(
        &mut self,
        setup: &Setup,
        log: &mut Vec<Breach>,
        at: i64,
        good: &Values,
    ) -> bool {
        let wanted = match self.phase {
            Phase::Waiting => true,
            Phase::Pending => self.plan.is_none(),
            _ => false,
        };
        if !wanted || !can_start(setup, good) {
            return false;
        }
        if self.phase == Phase::Waiting {
            self.start_clock(setup, at);
            self.own_starting_run(setup, log);
        } else {
            self.plan = Some(at);
            self.plan_warm = WarmDays::from_start(at);
            self.plan_need_ms = setup.required.need_ms(0);
        }
        true
    }

    /// Under an extension rule a clock may start inside a run over the soft limit: the starting
    /// reading is one of its own, so the run extends and does not merely warn.
    fn own_starting_run(&mut self, setup: &Setup, log: &mut Vec<Breach>) {
        if setup.schedule.on_excursion != Policy::Extend {
            return;
        }
        for (p, s) in self.probes.iter_mut().zip(&setup.probes) {
            if let Some(open) = p.over.as_mut().filter(|_| s.limits.must_comply) {
                open.list(Effect::Extend, log);
            }
        }
    }

    fn count_warm(&mut self, setup: &Setup, at: i64, good: &Values) {
        let warm =
            setup.probes.iter().zip(good).any(|(p, value)| {
                p.limits.must_comply && value.is_some_and(|v| v > p.limits.soft_hi)
            });
        if !warm {
            return;
        }
        self.warm.count(at);
        self.need_ms = setup.required.need_ms(self.warm.larger());
        if self.plan.is_some() {
            self.plan_warm.count(at);
            self.plan_need_ms = setup.required.need_ms(self.plan_warm.larger());
        }
    }

    /// Time met, or the planning clock done (contract 3.1.10 and 3.1.12).
    fn finish(&mut self, setup: &Setup, at: i64, good: &Values) {
        let (start, need, then) = match self.phase {
            Phase::Running => (self.started, self.need_ms, Phase::Met),
            Phase::Pending => (self.plan, self.plan_need_ms, Phase::PlanDone),
            _ => return,
        };
        let ran = start.is_some_and(|s| at.saturating_sub(s) >= need);
        let complies = setup.probes.iter().zip(good).all(|(p, value)| {
            !p.limits.must_comply || value.is_some_and(|v| v <= p.limits.hold_hi)
        });
        if ran && complies {
            self.phase = then;
            self.end = Some(at);
        }
    }
}

/// Good readings of the fitted probes.
fn good(setup: &Setup, values: &Values) -> Values {
    let mut out = [None; PROBES];
    for ((slot, value), p) in out.iter_mut().zip(values).zip(&setup.probes) {
        let normal = p.limits.normal_lo..=p.limits.normal_hi;
        *slot = value.filter(|v| p.fitted && normal.contains(v));
    }
    out
}

/// Every fitted probe is read and where a clock may start (contract 3.1.9).
fn can_start(setup: &Setup, good: &Values) -> bool {
    setup.probes.iter().zip(good).all(|(p, value)| {
        let range = p.limits.start_lo..=p.limits.start_hi;
        !p.fitted || value.is_some_and(|v| range.contains(&v))
    })
}

/// A clock fed from outside, one reading time after the other.
#[derive(Debug, Clone)]
pub struct Clock {
    pub(crate) setup: Arc<Setup>,
    pub(crate) state: State,
    pub(crate) log: Vec<Breach>,
}

/// The clock cannot go back: the caller must feed from an earlier point again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OutOfOrder;

impl Clock {
    /// A clock that has seen nothing.
    #[must_use]
    pub fn new(setup: impl Into<Arc<Setup>>) -> Self {
        Self { setup: setup.into(), state: State::new(), log: Vec::new() }
    }

    /// Takes the next reading time. Where the check is not startable nothing happens.
    ///
    /// # Errors
    /// [`OutOfOrder`] when it is not later than the last; a [`crate::Ledger`] takes such rows.
    pub fn feed(&mut self, at: Utc, probes: &[Option<Decimal>; PROBES]) -> Result<Fed, OutOfOrder> {
        if self.state.last_at.is_some_and(|last| at.ms() <= last) {
            return Err(OutOfOrder);
        }
        Ok(self.feed_raw(at.ms(), &probes.map(|p| p.map(Decimal::raw))))
    }

    pub(crate) fn feed_raw(&mut self, at: i64, values: &Values) -> Fed {
        self.state.feed(&self.setup, &mut self.log, at, values)
    }

    /// Calibration and number of probes let it start.
    #[must_use]
    pub fn startable(&self) -> bool {
        self.setup.startable()
    }

    /// The answer as of the last reading time.
    #[must_use]
    pub fn answer(&self, unit: &str) -> Answer {
        Answer::of(self, unit)
    }

    /// Where the clock stands.
    #[must_use]
    pub fn phase(&self) -> Phase {
        self.state.phase
    }
}
