//! Units and their text forms, UTC instants, admissible ranges, deterministic maths.
//!
//! Tier 0: every other room stands on this one. Nothing here reads a clock, a file or the
//! environment. Floats carry their unit in the name (`temp_c`, `pressure_pa`).

pub mod decimal;
pub mod instant;
pub mod math;
pub mod ranges;
pub mod temperature;

pub use instant::Utc;
