//! Evacuation: how long it takes, and what a pressure-rise hold says.
//!
//! Pure: readings and a setup in, an answer out; no clock, no files. A hold proves dryness and
//! gross tightness only; what the readings cannot tell is said. How it decides, and how often it
//! errs: docs/vacuum.md.

pub mod advice;
mod ahead;
mod cholesky;
mod clock;
mod coarse;
mod columns;
mod header;
pub mod hold;
pub mod judge;
mod lines;
pub mod loss;
pub mod nitrogen;
mod noise;
pub mod plan;
mod posterior;
mod priors;
mod quadrature;
pub mod readings;
pub mod standing;
mod sums;
pub mod told;
mod weigh;
mod words;

pub use hold::Hold;
pub use judge::{FreeWater, Judgement, Reading, Setup, Verdict, judge};
pub use plan::{Job, Plan, Water, plan};
pub use posterior::Estimate;

/// Pascal of one µmHg ("micron"), at 0 °C and standard gravity.
pub const PA_PER_UM: f64 = fluids::leak::PA_PER_UM_HG;
