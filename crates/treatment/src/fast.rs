//! Columns of fixed-point numbers, scanned in chunks: the quick road for many boxes at once.
//!
//! While a clock runs, nearly every reading is as quiet as the one before: good, within its
//! limits, a small change, on time. A chunk whose smallest and largest value and change show that
//! is passed over whole, in a few vector instructions; only where anything could happen does the
//! exact clock take reading by reading. A property test holds both roads to the same answer.

use std::sync::Arc;

use units::Utc;

use crate::PROBES;
use crate::clock::{Clock, Phase, State};
use crate::exact::RAW_PLACES;
use crate::limits::Setup;

/// When the rows were read.
#[derive(Debug, Clone, Copy)]
pub enum Times<'a> {
    /// At equal steps.
    Every {
        /// The first row.
        start: Utc,
        /// Milliseconds from row to row.
        step_ms: i64,
        /// Rows.
        rows: usize,
    },
    /// Milliseconds since 1970, rising from row to row.
    At(&'a [i64]),
}

impl Times<'_> {
    fn len(&self) -> usize {
        match self {
            Self::Every { rows, .. } => *rows,
            Self::At(times) => times.len(),
        }
    }

    fn at(&self, i: usize) -> i64 {
        match self {
            Self::Every { start, step_ms, .. } => {
                start.ms().saturating_add(step_ms.saturating_mul(i as i64))
            }
            Self::At(times) => times.get(i).copied().unwrap_or(i64::MAX),
        }
    }

    /// True when times rise from row to row.
    fn rise(&self) -> bool {
        match self {
            Self::Every { step_ms, rows, .. } => *step_ms > 0 || *rows < 2,
            Self::At(times) => times.windows(2).all(|w| matches!(w, [a, b] if a < b)),
        }
    }

    /// True when no two neighbours among rows `from` to `end` lie more than `gap_ms` apart.
    fn close(&self, from: usize, end: usize, gap_ms: i64) -> bool {
        match self {
            Self::Every { step_ms, .. } => *step_ms <= gap_ms,
            Self::At(times) => {
                let part = times.get(from..end).unwrap_or(&[]);
                let later = part.iter().skip(1);
                part.iter().zip(later).fold(0, |most, (a, b)| most.max(b - a)) <= gap_ms
            }
        }
    }

    /// The first row in `from..end` at or after `at_ms`, else `end`.
    fn first_at(&self, from: usize, end: usize, at_ms: i64) -> usize {
        match self {
            Self::Every { start, step_ms, .. } => {
                let steps = (at_ms.saturating_sub(start.ms()) - 1).div_euclid(*step_ms) + 1;
                usize::try_from(steps).unwrap_or(0).clamp(from, end)
            }
            Self::At(times) => {
                let part = times.get(from..end).unwrap_or(&[]);
                from + part.partition_point(|t| *t < at_ms)
            }
        }
    }
}

/// One box's readings, probe by probe.
#[derive(Debug, Clone, Copy)]
pub struct Columns<'a, T> {
    /// When each row was read.
    pub times: Times<'a>,
    /// Values of probe 1 to 4 times 10^`scale`; [`Fixed::EMPTY`] stands for an empty cell, an
    /// empty column for a probe that was not fitted.
    pub probes: [&'a [T]; PROBES],
    /// Decimals of the values.
    pub scale: u8,
}

/// A whole number that a column may hold.
pub trait Fixed: Copy + Ord + Into<i64> {
    /// Stands for an empty cell.
    const EMPTY: Self;
    /// The largest number.
    const MOST: Self;

    /// `v`, cut to what can be held, [`Self::EMPTY`] left out.
    fn cut(v: i64) -> Self;

    /// Change from `self` to `next`, cut to what can be held.
    fn change(self, next: Self) -> Self;
}

impl Fixed for i16 {
    const EMPTY: Self = Self::MIN;
    const MOST: Self = Self::MAX;

    fn cut(v: i64) -> Self {
        v.clamp(i64::from(Self::MIN) + 1, i64::from(Self::MAX)) as Self
    }

    fn change(self, next: Self) -> Self {
        next.saturating_sub(self)
    }
}

impl Fixed for i32 {
    const EMPTY: Self = Self::MIN;
    const MOST: Self = Self::MAX;

    fn cut(v: i64) -> Self {
        v.clamp(i64::from(Self::MIN) + 1, i64::from(Self::MAX)) as Self
    }

    fn change(self, next: Self) -> Self {
        next.saturating_sub(self)
    }
}

/// Runs a check over columns. `None` when they do not fit the setup (other probes fitted, times
/// that do not rise, columns of unequal length, more than 12 decimals): then the rows must go
/// through a [`crate::Ledger`].
#[must_use]
pub fn run<T: Fixed>(setup: &Arc<Setup>, columns: &Columns<'_, T>) -> Option<Clock> {
    let rows = columns.times.len();
    let places = RAW_PLACES.checked_sub(u32::from(columns.scale))?;
    for (column, p) in columns.probes.iter().zip(&setup.probes) {
        let wanted = if p.fitted { rows } else { 0 };
        if column.len() != wanted {
            return None;
        }
    }
    if !columns.times.rise() {
        return None;
    }
    let mut clock = Clock::new(Arc::clone(setup));
    let road = Road { columns, lift: 10i64.pow(places), limits: quiet_limits(setup, places) };
    road.run(&mut clock);
    Some(clock)
}

/// Rows passed over at once: few after a reading that was not quiet, then twice as many each time.
const CHUNK_MIN: usize = 16;
const CHUNK_MAX: usize = 1024;

/// Between these a probe's reading is quiet.
#[derive(Debug, Clone, Copy)]
struct Quiet<T> {
    low: T,
    high: T,
    step: T,
}

/// Limits in the columns' own numbers; `None` where a probe's steps cannot be judged in them.
fn quiet_limits<T: Fixed>(setup: &Setup, places: u32) -> [Option<Quiet<T>>; PROBES] {
    let lift = 10i64.pow(places);
    let up = |v: i64| -((-i128::from(v)).div_euclid(i128::from(lift)));
    setup.probes.map(|p| {
        let l = p.limits;
        let step = l.step / lift;
        if l.step != i64::MAX && step >= T::MOST.into() {
            return None;
        }
        let high = l.normal_hi.min(l.over_hi).div_euclid(lift);
        let low = i64::try_from(up(l.normal_lo.max(l.cold_lo))).unwrap_or(i64::MAX);
        // A limit that a column's numbers cannot hold must not be cut to one they can.
        if high <= T::EMPTY.into() || low > T::MOST.into() {
            return None;
        }
        Some(Quiet { low: T::cut(low), high: T::cut(high), step: T::cut(step) })
    })
}

/// Smallest and largest value of a probe in rows that are passed over.
type Spans<T> = [Option<(T, T)>; PROBES];

struct Road<'c, 'a, T> {
    columns: &'c Columns<'a, T>,
    lift: i64,
    limits: [Option<Quiet<T>>; PROBES],
}

impl<T: Fixed> Road<'_, '_, T> {
    fn run(&self, clock: &mut Clock) {
        let rows = self.columns.times.len();
        let mut chunk = CHUNK_MIN;
        let mut i = 0;
        while i < rows {
            let jumped = self.pass_over(clock, i, rows.min(i + chunk));
            if jumped > i {
                i = jumped;
                chunk = CHUNK_MAX.min(chunk * 2);
                continue;
            }
            // Something is up here: the exact clock takes it, a few rows at least.
            let end = rows.min(i + CHUNK_MIN.min(chunk));
            for row in i..end {
                self.feed(clock, row);
            }
            i = end;
            chunk = CHUNK_MIN;
        }
    }

    fn feed(&self, clock: &mut Clock, row: usize) {
        let values = self.columns.probes.map(|column| {
            let v = column.get(row).copied().filter(|v| *v != T::EMPTY)?;
            Some(v.into().saturating_mul(self.lift))
        });
        clock.feed_raw(self.columns.times.at(row), &values);
    }

    /// Passes over as many rows of `from..end` as are surely quiet; where it got to.
    fn pass_over(&self, clock: &mut Clock, from: usize, end: usize) -> usize {
        let Some(before) = from.checked_sub(1) else { return from };
        let times = &self.columns.times;
        let end = match clock.state.quiet_until() {
            None => return from,
            Some(at) => times.first_at(from, end, at),
        };
        // The row before must be the last reading time, so that the first change is seen.
        let joined = clock.state.last_at == Some(times.at(before));
        if end == from || !joined || !times.close(before, end, clock.setup.gap_max_ms) {
            return from;
        }
        let mut spans: Spans<T> = [None; PROBES];
        let all = spans.iter_mut().zip(&self.columns.probes).zip(&self.limits);
        for ((span, column), limits) in all.filter(|((_, c), _)| !c.is_empty()) {
            let Some(limits) = limits else { return from };
            let Some(part) = column.get(before..end) else { return from };
            *span = scan(part, *limits);
            if span.is_none() {
                return from;
            }
        }
        self.jump(&mut clock.state, &spans, from, end);
        end
    }

    fn jump(&self, state: &mut State, spans: &Spans<T>, from: usize, end: usize) {
        let at = self.columns.times.at(end - 1);
        let probes = state.probes.iter_mut().zip(spans).zip(&self.columns.probes);
        for ((p, span), column) in probes {
            let (Some((low, high)), Some(last)) = (*span, column.get(end - 1)) else { continue };
            let raw = |v: T| v.into().saturating_mul(self.lift);
            p.last_good = Some((at, raw(*last)));
            p.abnormal = None;
            p.over = None;
            p.cold = None;
            p.span =
                Some(p.span.map_or((raw(low), raw(high)), |(lo, hi)| {
                    (lo.min(raw(low)), hi.max(raw(high)))
                }));
        }
        state.last_at = Some(at);
        state.reading_times += (end - from) as u64;
    }
}

/// Smallest and largest value, where all of `part` is quiet.
fn scan<T: Fixed>(part: &[T], limits: Quiet<T>) -> Option<(T, T)> {
    let first = *part.first()?;
    let zero = first.change(first);
    let later = part.get(1..)?;
    let (mut low, mut high, mut down, mut up) = (first, first, zero, zero);
    for (a, b) in part.iter().zip(later) {
        let change = a.change(*b);
        low = low.min(*b);
        high = high.max(*b);
        down = down.min(change);
        up = up.max(change);
    }
    let still = up <= limits.step && down >= negative(limits.step);
    (low >= limits.low && high <= limits.high && still).then_some((low, high))
}

fn negative<T: Fixed>(step: T) -> T {
    let v: i64 = step.into();
    T::cut(-v)
}

impl State {
    /// Until when (exclusive) quiet readings change nothing but where the clock stands: `None`
    /// where every reading must be looked at.
    fn quiet_until(&self) -> Option<i64> {
        match self.phase {
            Phase::Before | Phase::Waiting => None,
            Phase::Running => Some(self.started?.saturating_add(self.need_ms)),
            Phase::Pending => Some(self.plan?.saturating_add(self.plan_need_ms)),
            Phase::Met | Phase::PlanDone | Phase::Cancelled => Some(i64::MAX),
        }
    }
}
