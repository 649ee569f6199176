//! Cold treatments: one box's record against its limit, and all of them side by side.

mod chart;
mod strip;

pub use chart::treatment_chart;
pub use strip::{StripAxis, treatment_axis, treatment_strip};
