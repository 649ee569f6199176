//! Readings in, watch list out: every rule and what it must not do. Thresholds are those of
//! reference/cargo-and-box.md §4.5 and §7.2; where those are estimates of ours, the test holds
//! our own rule.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // tests may stop at once

mod air;
mod bench;
mod hours;
mod ice;
mod lists;
mod neglected;
mod power;
mod set_points;
mod thin;
mod whole;
