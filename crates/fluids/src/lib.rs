//! Properties of refrigerants, water and ice, moist air and gas in a hose; leak units; pressure
//! and temperature as technicians write them.
//!
//! Pure functions, no I/O. Refrigerant tables come from CoolProp by `tools/fluid-tables/`
//! (docs/fluids.md) and name their equations of state; what lies outside them is an error, never
//! an extrapolation. Achieved accuracy: docs/accuracy.md.

pub mod air;
pub mod answer;
pub mod diagram;
pub mod error;
pub mod hose;
mod invert;
pub mod leak;
mod line;
mod patches;
pub mod refrigerant;
pub mod state;
mod table;
pub mod text;
mod transport;
pub mod water;

pub use answer::{SaturationAnswer, StateAnswer, saturation_answer, state_answer};
pub use error::FluidError;
pub use refrigerant::{Refrigerant, Saturated, Side};
pub use state::{Phase, State};
pub use transport::Transport;
