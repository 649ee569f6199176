//! The refrigeration circuit: machine card, steady cycle, faults, diagnosis, next measurement.
//!
//! A machine card (data) describes one kind of machine; [`cycle`] holds its steady balances,
//! [`solve`](solve()) closes them with or without a fault; [`diagnose`](diagnose()) weighs the
//! faults against gauge and thermometer readings, any of which may be missing. Pure: no file,
//! clock or environment. How it works, and how well: docs/circuit.md.

pub mod card;
mod check;
pub mod cycle;
pub mod derived;
pub mod diagnose;
pub mod evidence;
mod explain;
pub mod fault;
mod linear;
mod matrix;
mod misread;
pub mod next;
pub mod normal;
mod pairs;
mod parts;
pub mod picture;
pub mod plant;
mod props;
pub mod rating;
pub mod reading;
mod sampling;
pub mod solve;
mod standing;
mod unknown;
mod weigh;

pub use card::{Card, CardError};
pub use derived::{Derived, Estimate};
pub use diagnose::{Diagnosis, FaultShare, diagnose, diagnose_with};
pub use fault::Fault;
pub use pairs::Pair;
pub use reading::{Input, Key, Mode, Refusal};
pub use solve::{NoSolution, Solved, solve};
pub use weigh::Effort;
