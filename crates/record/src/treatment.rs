//! One box's cold treatment as assessed: where it stands against its schedule, what broke it,
//! where it is heading. Pages and papers print it; they compute nothing.

use units::Utc;

use crate::{Cell, EnteredAct, State, UnitId};

/// Where a treatment stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Standing {
    /// Probes were read in slurry, no schedule is ordered.
    NoSchedule,
    /// The schedule's text cannot be read as one.
    BadSchedule,
    /// Nothing was read yet.
    NoRecord,
    /// Only rounds were read, which cannot stand for the recorder's hourly record.
    OnlyRounds,
    /// Calibration or number of probes forbids the start.
    NotStartable,
    /// Waiting for all probes to be cold enough.
    NotStarted,
    /// The clock runs.
    Running,
    /// The time is met; the cold goes on until an authority releases the box.
    TimeMet,
    /// Broken, unless an official verifies.
    InvalidPending,
    /// Ended by its own rule.
    Cancelled,
}

impl Standing {
    /// In words, for a person.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::NoSchedule => "no schedule ordered",
            Self::BadSchedule => "schedule unreadable",
            Self::NoRecord => "nothing read yet",
            Self::OnlyRounds => "rounds only: no hourly record",
            Self::NotStartable => "cannot start",
            Self::NotStarted => "not started",
            Self::Running => "running",
            Self::TimeMet => "time met, awaiting release",
            Self::InvalidPending => "broken: an official must decide",
            Self::Cancelled => "cancelled",
        }
    }
}

/// One pulp probe against the schedule.
#[derive(Debug, Clone, PartialEq)]
pub struct ProbeStanding {
    /// Number, 1 to 4.
    pub number: u8,
    /// It gave readings.
    pub fitted: bool,
    /// Mean of its slurry readings, °C.
    pub slurry_mean_c: Option<f64>,
    /// Added to every reading, K.
    pub correction_k: Option<f64>,
    /// The rule accepts its calibration; `None`: not judged.
    pub acceptable: Option<bool>,
    /// Latest true temperature (corrected).
    pub latest_c: Option<f64>,
    /// What is left to the limit at the latest reading, K; negative: over it.
    pub margin_k: Option<f64>,
    /// Warmest since the clock started, °C.
    pub max_c: Option<f64>,
    /// Coldest since the clock started, °C.
    pub min_c: Option<f64>,
    /// Where it is heading: steady temperature with its 90 % interval, °C.
    pub heading_c: Option<f64>,
    /// Its interval.
    pub heading_c_p90: Option<[f64; 2]>,
    /// Largest change from one reading to the next in the last three days, K.
    pub largest_step_k: Option<f64>,
}

/// One thing that broke the rule.
#[derive(Debug, Clone, PartialEq)]
pub struct BreachRecord {
    /// `excursion`, `cold`, `step`, `gap` or `fault`.
    pub kind: &'static str,
    /// Probe number; `None` for a gap.
    pub probe: Option<u8>,
    /// First bad reading, or the earlier of the pair.
    pub from_at: Utc,
    /// Last bad reading, or the later of the pair.
    pub to_at: Utc,
    /// Warmest, coldest, or size of the step.
    pub worst_c: Option<f64>,
    /// Readings in it.
    pub readings: u64,
    /// What the schedule makes of it: `restart`, `invalid_unless_verified`, `extend`, `cancel`,
    /// `warn`.
    pub effect: &'static str,
    /// Paragraph of the rule, where the schedule names it.
    pub paragraph: Option<String>,
    /// In one sentence.
    pub words: String,
    /// What an official decided, if anybody did.
    pub decided: Option<String>,
}

/// One stretch of the ledger: consecutive hours of the same kind are one line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LedgerLine {
    /// From.
    pub from_at: Utc,
    /// To.
    pub to_at: Utc,
    /// Reading times in it.
    pub readings: u64,
    /// What the clock did.
    pub what: String,
    /// Elapsed time at its end, hours.
    pub elapsed_h: Option<i64>,
}

/// When it starts and ends, as far as can be told.
#[derive(Debug, Clone, PartialEq)]
pub struct TreatmentForecast {
    /// Probability that it starts within the time looked at; 1 once started.
    pub p_start: f64,
    /// Middle estimate of the start, where it has not started.
    pub start_at: Option<Utc>,
    /// Its 90 % interval; an open end is `None`.
    pub start_p90: Option<[Option<Utc>; 2]>,
    /// Middle estimate of when the time is met (an official verifying nothing, by the planning
    /// clock where a breach is open); `None`: not within the time looked at.
    pub met_at: Option<Utc>,
    /// Its 90 % interval; an open end is `None`.
    pub met_p90: [Option<Utc>; 2],
    /// Probability that the time is met before the box's port; `None` without an arrival.
    pub p_before_port: Option<f64>,
    /// Probability that a probe goes over the limit again before the time is met.
    pub p_breach: f64,
    /// Probability that fruit reaches its freezing point with margin; `None` without one.
    pub p_freezing: Option<f64>,
    /// What the forecast does not know, in words.
    pub assumes: &'static str,
}

/// The forecast under a change, as a suggestion to shore.
#[derive(Debug, Clone, PartialEq)]
pub struct WhatIf {
    /// Set point moved by this, K; 0 for none.
    pub set_point_k: f64,
    /// Arrival moved by this, h.
    pub eta_h: f64,
    /// The forecast then.
    pub forecast: TreatmentForecast,
}

/// One instant of the chart.
#[derive(Debug, Clone, PartialEq)]
pub struct TreatmentPoint {
    /// When.
    pub at: Utc,
    /// True (corrected) pulp temperatures, °C.
    pub probes_c: [Option<f64>; 4],
    /// Supply air, °C.
    pub supply_c: Option<f64>,
}

/// Everything a page shows of one treatment.
#[derive(Debug, Clone, PartialEq)]
pub struct TreatmentView {
    /// The box.
    pub unit: UnitId,
    /// Cell as sent.
    pub stow: Option<String>,
    /// Cell.
    pub cell: Option<Cell>,
    /// Cargo as recognised.
    pub cargo: Option<String>,
    /// Port of discharge.
    pub discharge_port: Option<String>,
    /// Expected arrival there.
    pub eta: Option<Utc>,
    /// Id of the schedule.
    pub schedule_id: String,
    /// Its title.
    pub title: String,
    /// Its source.
    pub source: String,
    /// Its trust mark in words.
    pub evidence: String,
    /// Unverified: rehearsal only.
    pub rehearsal: bool,
    /// Limit of the pulp, °C, and as printed.
    pub hold_max_c: f64,
    /// As published, with unit.
    pub hold_max_text: String,
    /// Cold side, °C.
    pub hold_min_c: Option<f64>,
    /// Freezing point of this fruit, °C.
    pub freezing_c: Option<f64>,
    /// Set point ordered, °C.
    pub set_point_c: Option<f64>,
    /// Where it stands.
    pub standing: Standing,
    /// Released by an authority.
    pub released_at: Option<Utc>,
    /// How urgent.
    pub state: State,
    /// Why, in one sentence.
    pub reason: String,
    /// What to do first.
    pub action: String,
    /// Start of the clock that counts.
    pub started_at: Option<Utc>,
    /// Time met.
    pub time_met_at: Option<Utc>,
    /// Hours counted.
    pub elapsed_h: f64,
    /// Hours needed.
    pub required_h: f64,
    /// Hours left.
    pub remaining_h: f64,
    /// Hours added by an extension rule.
    pub extension_h: f64,
    /// Restarts so far.
    pub restarts: u64,
    /// Planning figure where an official must decide: start …
    pub planning_restart_at: Option<Utc>,
    /// … and finish.
    pub planning_finish_at: Option<Utc>,
    /// The probes.
    pub probes: Vec<ProbeStanding>,
    /// What broke the rule.
    pub breaches: Vec<BreachRecord>,
    /// Hour by hour, joined.
    pub ledger: Vec<LedgerLine>,
    /// Where it is heading.
    pub forecast: Option<TreatmentForecast>,
    /// The same under changes.
    pub what_if: Vec<WhatIf>,
    /// Precool samples judged, one line each.
    pub precool: Vec<String>,
    /// Readings that are no part of the recorder's record (rounds), in words.
    pub beside: Option<String>,
    /// What is odd: schedule, calibration, record.
    pub warnings: Vec<String>,
    /// Acts entered, oldest first.
    pub acts: Vec<EnteredAct>,
    /// The record, for the chart.
    pub points: Vec<TreatmentPoint>,
    /// The instant all this speaks of.
    pub as_of: Utc,
}
