//! What the boxes draw, now and later, and what the generators have left.
//!
//! A frozen box runs in blocks: its load is the running power or nothing, with the share of time
//! its duty. A chilled box runs steadily. The load of many boxes is worked out from these, box by
//! box; no diversity factor is put in. Blocks of different boxes are taken as independent, which
//! holds while nothing makes them run together: after a blackout all run at once, and that case
//! is given beside it.

mod demand;
mod input;
mod margin;

pub use demand::{Demand, GroupDemand, Outlook, bay_words, demand, grouped, outlook};
pub use input::{BoxLoad, Generator, Mode, Plant, Reserve, Weather, check_plant};
pub use margin::{Margin, Relief, margin, reliefs};

/// Most that one plug may be asked for, kW (ISO 1496-2 as given in the GDV Container Handbook
/// §8.1.1).
pub const PLUG_MAX_KW: f64 = 15.0;
/// The same in kVA, at power factor 0.8 (same source).
pub const PLUG_MAX_KVA: f64 = 18.75;
/// Greatest inrush of one 400 V class box, A; within 1 s down to 125 % of rated current (same
/// source).
pub const INRUSH_MAX_A: f64 = 150.0;

/// Three-phase apparent power of a current at a voltage between lines, kVA.
#[must_use]
pub fn kva_of(current_a: f64, volts: f64) -> f64 {
    units::math::sqrt(3.0) * volts * current_a / 1000.0
}
