//! The rule engine against the contract's sentences, worked cases, and a second implementation.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod bench_rule;
mod calibration;
mod decisions;
mod fine_print;
mod oracle;
mod policies;
mod properties;
mod published;
mod schedule_file;
mod worked;
