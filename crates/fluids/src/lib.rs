//! Properties of refrigerants, water and ice, moist air and gas in a hose; leak units; pressure
//! and temperature as technicians write them.
//!
//! Pure functions, no I/O. Refrigerant tables come from CoolProp by `tools/fluid-tables/`
//! (docs/fluids.md) and name their equations of state; what lies outside them is an error, never
//! an extrapolation. Achieved accuracy: docs/accuracy.md.

pub mod error;
mod invert;
pub mod refrigerant;
pub mod state;
mod table;
mod transport;

pub use error::FluidError;
pub use refrigerant::{Refrigerant, Saturated, Side};
pub use state::{Phase, State};
pub use transport::Transport;
