//! Plans for people and power: who first, demand, restart.
//!
//! Tier 2. This room knows numbers and times only: hours count from the instant of planning, boxes
//! and people are entries of plain structs, nothing here knows a voyage. Every plan says how far
//! from the best possible it may be, and every number that nobody measured or published says so.
//!
//! * [`repair`]: which box first, with how many people, so that the least cargo is lost.
//! * [`plant`]: what the boxes draw now and later, the margin of the generators, what would help.
//! * [`restart`]: in which order the boxes come back after a blackout, within every limit.
//! * [`hold`]: the air of a hold full of running boxes, against the units' usual 45 °C.

pub mod assign;
pub mod chance;
pub mod hold;
pub mod loss;
pub mod plant;
pub mod repair;
pub mod restart;
pub mod spread;

use std::fmt;

pub use loss::Loss;
pub use spread::Spread;

/// Where a number comes from. Shown beside it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// Read from an instrument or a name plate on board.
    Measured,
    /// Printed in the source named.
    Published(&'static str),
    /// An assumption; shown as "estimate".
    Estimate,
}

impl fmt::Display for Mark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Measured => f.write_str("measured"),
            Self::Published(source) => write!(f, "published: {source}"),
            Self::Estimate => f.write_str("estimate"),
        }
    }
}

/// A number with the mark of its origin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Marked {
    /// The number, in the unit that the field's name gives.
    pub value: f64,
    /// Where it comes from.
    pub mark: Mark,
}

impl Marked {
    /// A number read on board.
    #[must_use]
    pub fn measured(value: f64) -> Self {
        Self { value, mark: Mark::Measured }
    }

    /// An assumption.
    #[must_use]
    pub fn estimate(value: f64) -> Self {
        Self { value, mark: Mark::Estimate }
    }

    /// True for an assumption.
    #[must_use]
    pub fn is_estimate(&self) -> bool {
        self.mark == Mark::Estimate
    }
}

/// Why no plan can be made of the input: what is wrong, where, and what to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refused(pub String);

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for Refused {}

/// Hours as people say them: `45 min`, `3.2 h`.
#[must_use]
pub fn hours_in_words(hours: f64) -> String {
    if !hours.is_finite() {
        return "never".to_owned();
    }
    if hours.abs() < 1.0 {
        return format!("{:.0} min", hours * 60.0);
    }
    format!("{hours:.1} h")
}
