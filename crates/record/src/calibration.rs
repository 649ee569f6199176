//! What was worked out from ice-point checks, certificates and charts: for pages and papers.

use units::Utc;

use crate::UnitId;
use crate::chart::ChartFile;
use crate::instrument::{Instrument, Scan};

/// What readings in ice say.
#[derive(Debug, Clone, PartialEq)]
pub struct IcePoint {
    /// Readings.
    pub count: usize,
    /// Their mean, °C.
    pub mean_c: f64,
    /// Ice point less mean, K: what is added to a reading.
    pub correction_k: f64,
    /// Its 90 % interval; `None` with one reading, which tells nothing of its spread.
    pub correction_p90: Option<[f64; 2]>,
    /// Standard deviation of the readings, K; `None` with one reading.
    pub spread_k: Option<f64>,
    /// Step of the display, K, by the decimals written.
    pub step_k: f64,
    /// What is worth a second look, in words.
    pub remarks: Vec<String>,
}

/// How far an instrument has moved since its check before.
#[derive(Debug, Clone, PartialEq)]
pub struct Drift {
    /// The check before.
    pub since: Utc,
    /// Days between.
    pub days: f64,
    /// Mean in ice now less mean in ice then, K: positive shows warmer than before.
    pub drift_k: f64,
    /// Its 90 % interval.
    pub drift_p90: Option<[f64; 2]>,
    /// The same for a year, K; `None` when the checks lie too close together to say.
    pub per_year_k: Option<f64>,
    /// Its 90 % interval.
    pub per_year_p90: Option<[f64; 2]>,
}

/// How something with a due date stands on a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Due {
    /// The day is past, by so many days.
    Overdue {
        /// When it fell due.
        at: Utc,
        /// Days since.
        days: i64,
    },
    /// It comes within a month.
    Soon {
        /// When it falls due.
        at: Utc,
        /// Days left.
        days: i64,
    },
    /// No date is stated.
    NotStated,
    /// Later.
    Later {
        /// When it falls due.
        at: Utc,
        /// Days left.
        days: i64,
    },
}

impl Due {
    /// `overdue`, `soon`, `not_stated`, `in_date`.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Overdue { .. } => "overdue",
            Self::Soon { .. } => "soon",
            Self::NotStated => "not_stated",
            Self::Later { .. } => "in_date",
        }
    }

    /// The date, where one is known.
    #[must_use]
    pub fn at(self) -> Option<Utc> {
        match self {
            Self::Overdue { at, .. } | Self::Soon { at, .. } | Self::Later { at, .. } => Some(at),
            Self::NotStated => None,
        }
    }

    /// The date as `2026-03-01`; empty where none is known.
    #[must_use]
    pub fn day(self) -> String {
        self.at().map(Utc::to_day).unwrap_or_default()
    }

    /// As a person reads it.
    #[must_use]
    pub fn words(self) -> String {
        match self {
            Self::Overdue { days, .. } => format!("OVERDUE since {} ({days} d)", self.day()),
            Self::Soon { days, .. } => format!("due soon: {} ({days} d)", self.day()),
            Self::Later { .. } => format!("due {}", self.day()),
            Self::NotStated => "no due date stated".to_owned(),
        }
    }
}

/// How an instrument's certificate stood on a day on which it was used.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OnDay {
    /// In date.
    InDate,
    /// Out of date since.
    OutOfDate(Utc),
    /// A certificate, but no date to which it holds.
    NoDueDate,
    /// No certificate of that day or before is entered.
    NoCertificate,
}

impl OnDay {
    /// `in_date`, `out_of_date`, `no_due_date`, `no_certificate`.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::InDate => "in_date",
            Self::OutOfDate(_) => "out_of_date",
            Self::NoDueDate => "no_due_date",
            Self::NoCertificate => "no_certificate",
        }
    }

    /// As a person reads it.
    #[must_use]
    pub fn words(self) -> String {
        match self {
            Self::InDate => "certificate in date that day".to_owned(),
            Self::OutOfDate(since) => {
                let day = since.to_day();
                format!("certificate OUT OF DATE that day, due {day}")
            }
            Self::NoDueDate => "certificate without a due date".to_owned(),
            Self::NoCertificate => "no certificate entered for that day".to_owned(),
        }
    }

    /// Whether somebody has to be told.
    #[must_use]
    pub fn is_wrong(self) -> bool {
        matches!(self, Self::OutOfDate(_) | Self::NoCertificate)
    }
}

/// A record in which a person named an instrument.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Use {
    /// The instrument.
    pub id: String,
    /// What it is, its serial and its certificate of that day, in one line.
    pub line: String,
    /// When it was used.
    pub at: Utc,
    /// The container.
    pub unit: Option<UnitId>,
    /// The record: `vacuum hold H1`, `gauges`.
    pub record: String,
    /// How its certificate stood.
    pub on_day: OnDay,
}

/// One ice-point check with what it says.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckLine {
    /// What was checked, in words.
    pub label: String,
    /// The container, when it is a sensor or probe of one.
    pub unit: Option<UnitId>,
    /// When.
    pub at: Utc,
    /// Who entered it.
    pub who: String,
    /// Readings as read.
    pub readings: Vec<String>,
    /// `°C` or `°F`.
    pub sign: &'static str,
    /// What they say, or why they say nothing.
    pub ice: Result<IcePoint, String>,
    /// Against the check before.
    pub drift: Option<Drift>,
    /// Stirring, ice, the thermometer it was checked against, remark.
    pub notes: String,
}

/// One instrument of the register.
#[derive(Debug, Clone, PartialEq)]
pub struct InstrumentLine {
    /// As stated last.
    pub instrument: Instrument,
    /// Who stated it.
    pub who: String,
    /// When.
    pub entered_at: Utc,
    /// Since when it is no longer used, and why.
    pub withdrawn: Option<(Utc, String)>,
    /// Its certificate.
    pub due: Due,
    /// Its next ice-point check, where the ship's procedures ask for one.
    pub check_due: Due,
    /// Its checks, oldest first.
    pub checks: Vec<CheckLine>,
    /// Records that name it, newest first.
    pub uses: Vec<Use>,
    /// Scans of all its certificates, newest first.
    pub scans: Vec<Scan>,
}

impl InstrumentLine {
    /// The due date that comes first, and of what.
    #[must_use]
    pub fn next(&self) -> Due {
        let dated = [self.due, self.check_due].into_iter().filter(|d| d.at().is_some());
        dated.min_by_key(|d| d.at()).unwrap_or(Due::NotStated)
    }
}

/// One chart with how it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct ChartLine {
    /// As entered.
    pub file: ChartFile,
    /// While it is on: the change due. A chart that is off is not due.
    pub due: Due,
    /// Off later than it was due, so many hours.
    pub late_h: Option<f64>,
}
