//! Cargo biology, box heat, limits: what a refrigerated container and its cargo do, in the
//! simplest form that is still true. Knows nothing of lists, readings or voyages.
//!
//! - [`cargo_table`]: carriage conditions of the trade's cargoes, with their trust marks.
//! - [`recognise`]: which of them a loading list's free text names.
//! - [`heat`], [`respiration`]: leakage, thermal mass, self-heating; warming with and without
//!   power. [`prior`]: what is assumed of a box before its readings say better.
//! - [`limits()`]: how warm and how cold a cargo may become.

pub mod ahead;
pub mod body;
pub mod cargo_table;
mod dice;
pub mod estimate;
mod facts;
pub mod fit;
pub mod food;
pub mod heat;
pub mod limits;
pub mod machine;
pub mod prior;
pub mod pulp;
pub mod recognise;
pub mod respiration;
pub mod slow_loss;

pub use ahead::{Ahead, Cooling, Course as Ways, Crossing, Held, HourAhead, Moving, Spot};
pub use cargo_table::{Cargo, CargoTable, Category, Fact};
pub use estimate::Estimate;
pub use fit::{BoxFit, Contents, FitPrior, Look};
pub use heat::{Capacity, Course, Lump, SelfHeat};
pub use limits::{FROZEN_SET_MAX_C, Limit, Limits, Side, limits};
pub use recognise::Recognition;
