//! Cold treatment as a rule engine: schedules as data, a clock, breaches, a verdict.
//!
//! A [`Schedule`] says what a published rule asks for. Readings go through a [`Clock`] one reading
//! time after the other; a [`Ledger`] keeps the rows, in whatever order they come, and answers at
//! any time; [`evaluate`] is the same for a whole file, and [`fast::evaluate_columns`] for columns
//! of fixed-point numbers. All give the same [`Answer`]. Comparisons are exact: readings are
//! decimals as written, conversions and calibration means are fractions, and each limit is turned
//! once into the whole number of raw steps that still complies.
//!
//! No verdict says "passed": only an authority accepts a treatment.

mod answer;
mod calibration;
mod clock;
mod days;
mod decision;
mod doubts;
pub mod efficacy;
mod exact;
pub mod fast;
mod found;
mod ledger;
mod limits;
mod policy;
mod precool;
mod probe_past;
mod read;
mod runs;
mod schedule;
mod shipped;
mod slips;
mod standing;
pub mod words;

pub use answer::{Answer, BreachLine, Hour, ProbeLine, RefusedRow, Verdict};
pub use calibration::{Calibration, NotSlurry, ice_point};
pub use clock::{Clock, Fed, OutOfOrder, Phase};
pub use decision::{Decision, NotDecisive};
pub use exact::{Decimal, NotExact};
pub use found::Found;
pub use ledger::{Ledger, Row, evaluate};
pub use limits::Setup;
pub use policy::{Effect, Kind, Policy};
pub use precool::{Precool, precool};
pub use read::ScheduleProblem;
pub use schedule::{Evidence, Extend, Position, Schedule, TempUnit};
pub use shipped::{Shipped, by_id, shipped};
pub use standing::Standing;

/// Pulp probe columns of a readings file: `probe1` to `probe4`.
pub const PROBES: usize = 4;
