//! Every picture of the house as SVG text: state signs, time to the limit, a box's history, the
//! ship's bays, a refrigerant's pressure over enthalpy, a vacuum hold, a circuit's pipework.
//!
//! Tier 3: knows the records only and reasons about nothing. A picture shows what it is given;
//! what was not read is not drawn. Each SVG stands alone: black on white with signs, dashes and
//! hatches that do not need colour. A page adds colour through the classes.

pub mod chart;
pub mod fan;
pub mod glyph;
pub mod hold;
pub mod lanes;
pub mod limit_bar;
pub mod load;
pub mod ph;
pub mod pipework;
pub mod plan;
mod scale;
pub mod stair;
mod svg;
pub mod treatment;
pub mod words;

pub use chart::{Look, history_chart};
pub use fan::fan_chart;
pub use glyph::state_glyph;
pub use hold::{HoldBand, HoldCurve, HoldDrawing, hold_chart};
pub use limit_bar::{limit_axis, limit_bar};
pub use load::{LoadPoint, load_chart};
pub use ph::{PhCycle, PhDiagram, PhLine, PhMark, PhPoint, ph_diagram};
pub use pipework::pipework;
pub use plan::{Block, Misplaced, Ship};
