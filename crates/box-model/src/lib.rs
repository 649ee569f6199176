//! Cargo biology, box heat, limits: what a refrigerated container and its cargo do, in the
//! simplest form that is still true. Knows nothing of lists, readings or voyages.
//!
//! - [`cargo_table`]: carriage conditions of the trade's cargoes, with their trust marks.
//! - [`recognise`]: which of them a loading list's free text names.
//! - [`body`]: air, cargo shell and cargo core of a box; [`respiration`], [`food`]: what heats and
//!   what stores heat; [`machine`]: what a unit can do; [`heat`]: the lump to measure it by.
//! - [`prior`]: what is assumed of a box; [`fit`]: what its own readings tell of it.
//! - [`ahead`]: when a limit is passed and how warm each part will be, with their intervals.
//! - [`slow_loss`]: whether the unit loses strength before its temperatures show it.
//! - [`kinetics`]: what time at a temperature costs the cargo.
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
pub mod kinetics;
pub mod limits;
pub mod machine;
pub mod prior;
pub mod pulp;
pub mod recognise;
pub mod respiration;
pub mod slow_loss;

pub use ahead::{Ahead, Cooling, Course, Crossing, Held, HourAhead, Moving, Spot};
pub use cargo_table::{Cargo, CargoTable, Category, Fact};
pub use estimate::Estimate;
pub use fit::{BoxFit, Contents, FitPrior, Look};
pub use heat::{Capacity, Lump, SelfHeat};
pub use limits::{FROZEN_SET_MAX_C, Limit, Limits, Side, limits};
pub use recognise::Recognition;
