//! Rows in whatever order they come, and the answer at any time.

use std::cmp::Ordering;
use std::sync::Arc;

use units::Utc;

use crate::PROBES;
use crate::answer::{Answer, Hour};
use crate::calibration::Calibration;
use crate::clock::{Clock, State};
use crate::decision::Decision;
use crate::exact::Decimal;
use crate::limits::Setup;
use crate::runs::Breach;
use crate::schedule::{Schedule, TempUnit};

/// One row of a readings file: an instant and what each probe's cell held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Row {
    /// When it was read.
    pub at: Utc,
    /// Probe 1 to 4 as written; `None` for an empty cell.
    pub probes: [Option<Decimal>; PROBES],
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Held {
    at: i64,
    values: [Option<i64>; PROBES],
}

impl Held {
    /// A value beats an empty cell, the warmer of two values is judged (contract 3.1.3).
    fn merge(&mut self, other: &[Option<i64>; PROBES]) {
        for (mine, theirs) in self.values.iter_mut().zip(other) {
            // `None` is smaller than any value.
            *mine = (*mine).max(*theirs);
        }
    }
}

impl From<&Row> for Held {
    fn from(row: &Row) -> Self {
        Self { at: row.at.ms(), values: row.probes.map(|p| p.map(Decimal::raw)) }
    }
}

/// Reading times between two checkpoints.
const CHECKPOINT_EVERY: usize = 128;

/// The clock as it stood before a row.
#[derive(Debug, Clone)]
struct Checkpoint {
    /// Rows fed before it.
    rows: usize,
    /// Lines listed before it.
    listed: usize,
    state: State,
}

/// A unit's rows and its clock. A row that is later than all others is taken with a fixed amount
/// of work. An earlier one goes where it belongs, and the clock is run again from the checkpoint
/// before it; a probe that shows its first value is one more fitted probe, so all is run again.
#[derive(Debug, Clone)]
pub struct Ledger {
    schedule: Arc<Schedule>,
    calibration: Option<Calibration>,
    units: [TempUnit; PROBES],
    decisions: Vec<Decision>,
    fitted: [bool; PROBES],
    rows: Vec<Held>,
    checkpoints: Vec<Checkpoint>,
    /// Before the last row, so that another row of the same instant is cheap.
    before_last: Option<Checkpoint>,
    clock: Option<Clock>,
}

impl Ledger {
    /// An empty ledger. `units` are those of the probe columns.
    #[must_use]
    pub fn new(
        schedule: &Schedule,
        calibration: Option<&Calibration>,
        units: [TempUnit; PROBES],
        decisions: &[Decision],
    ) -> Self {
        let mut out = Self {
            schedule: Arc::new(schedule.clone()),
            calibration: calibration.cloned(),
            units,
            decisions: decisions.to_vec(),
            fitted: [false; PROBES],
            rows: Vec::new(),
            checkpoints: Vec::new(),
            before_last: None,
            clock: None,
        };
        out.rerun();
        out
    }

    /// Takes a row, in whatever order.
    pub fn push(&mut self, row: &Row) {
        let held = Held::from(row);
        let mut more = false;
        for (fitted, value) in self.fitted.iter_mut().zip(&held.values) {
            more |= value.is_some() && !*fitted;
            *fitted |= value.is_some();
        }
        let place = match self.rows.last().map(|r| r.at.cmp(&held.at)) {
            None | Some(Ordering::Less) => {
                self.rows.push(held);
                self.rows.len() - 1
            }
            _ => self.insert(held),
        };
        if more {
            self.rerun();
        } else {
            self.run_from(place);
        }
    }

    /// Puts a row among earlier ones; its place.
    fn insert(&mut self, held: Held) -> usize {
        let place = self.rows.partition_point(|r| r.at < held.at);
        match self.rows.get_mut(place).filter(|r| r.at == held.at) {
            Some(same) => same.merge(&held.values),
            None => self.rows.insert(place, held),
        }
        place
    }

    /// Prepares the check anew and runs every row.
    fn rerun(&mut self) {
        self.checkpoints.clear();
        self.before_last = None;
        let setup = Setup::new(&self.schedule, self.calibration.as_ref(), self.units, self.fitted);
        self.clock = setup.map(|s| Clock::new(s.with_decisions(&self.decisions)));
        self.run_from(0);
    }

    /// Brings the clock up to date after a change at row `place`.
    fn run_from(&mut self, place: usize) {
        let Some(clock) = self.clock.as_mut() else { return };
        let fed = self.rows.len().saturating_sub(1);
        let next = place == fed && self.before_last.as_ref().is_none_or(|b| b.rows < place);
        let from = if next {
            place
        } else {
            rewind(clock, &mut self.checkpoints, &self.before_last, place)
        };
        for (i, row) in self.rows.iter().enumerate().skip(from) {
            let here =
                |c: &Clock| Checkpoint { rows: i, listed: c.log.len(), state: c.state.clone() };
            let due = self.checkpoints.last().is_none_or(|c| c.rows + CHECKPOINT_EVERY <= i);
            if due {
                self.checkpoints.push(here(clock));
            }
            if i == fed {
                self.before_last = Some(here(clock));
            }
            clock.feed_raw(row.at, &row.values);
        }
    }

    /// The answer as of the last row.
    #[must_use]
    pub fn answer(&self, unit: &str) -> Answer {
        match &self.clock {
            Some(clock) => Answer::of(clock, unit),
            None => Answer::not_exact(&self.schedule, unit),
        }
    }

    /// The clock as it stands after the last row, to be run further on drawn readings; `None`
    /// where the numbers are too long to be kept exactly.
    #[must_use]
    pub fn clock(&self) -> Option<&Clock> {
        self.clock.as_ref()
    }

    /// Every reading time with what it did: which counted, what broke.
    #[must_use]
    pub fn hours(&self) -> Vec<Hour> {
        let Some(setup) = self.clock.as_ref().map(|c| &c.setup) else {
            return Vec::new();
        };
        let mut clock = Clock::new(Arc::clone(setup));
        let rows = self.rows.iter();
        rows.map(|row| Hour::of(clock.feed_raw(row.at, &row.values), row.at, &clock)).collect()
    }

    /// Reading times and dropped rows held, those of one instant as one.
    #[must_use]
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// True without any row.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// Smallest and largest value of each fitted probe as written, whatever it is.
    pub(crate) fn written(&self) -> [Vec<i64>; PROBES] {
        let mut out: [Vec<i64>; PROBES] = Default::default();
        for row in &self.rows {
            for (list, value) in out.iter_mut().zip(row.values) {
                list.extend(value);
            }
        }
        out
    }

    pub(crate) fn units(&self) -> [TempUnit; PROBES] {
        self.units
    }
}

/// Sets the clock back to the last checkpoint at or before row `place`; the row to feed next.
fn rewind(
    clock: &mut Clock,
    checkpoints: &mut Vec<Checkpoint>,
    before_last: &Option<Checkpoint>,
    place: usize,
) -> usize {
    while checkpoints.last().is_some_and(|c| c.rows > place) {
        checkpoints.pop();
    }
    let near = before_last.as_ref().filter(|c| c.rows == place);
    let Some(point) = near.or(checkpoints.last()) else {
        clock.state = State::new();
        clock.log.clear();
        return 0;
    };
    clock.state = point.state.clone();
    clock.log.truncate(point.listed);
    restore_open(&mut clock.log, &mut clock.state);
    point.rows
}

/// Lines of runs that were open at a checkpoint are written back as they stood there.
fn restore_open(log: &mut Vec<Breach>, state: &mut State) {
    for p in &mut state.probes {
        for open in [&mut p.abnormal, &mut p.over, &mut p.cold].into_iter().flatten() {
            if open.slot.is_some() {
                open.write(log);
            }
        }
    }
}

/// The whole of a file at once, rows in any order: the same answer as a ledger fed row by row.
#[must_use]
pub fn evaluate(
    schedule: &Schedule,
    calibration: Option<&Calibration>,
    units: [TempUnit; PROBES],
    rows: &[Row],
    decisions: &[Decision],
) -> Ledger {
    let mut held: Vec<Held> = rows.iter().map(Held::from).collect();
    held.sort_by_key(|r| r.at);
    let mut ledger = Ledger::new(schedule, calibration, units, decisions);
    for row in held {
        for (fitted, value) in ledger.fitted.iter_mut().zip(&row.values) {
            *fitted |= value.is_some();
        }
        match ledger.rows.last_mut().filter(|last| last.at == row.at) {
            Some(last) => last.merge(&row.values),
            None => ledger.rows.push(row),
        }
    }
    ledger.rerun();
    ledger
}
