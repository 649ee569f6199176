//! Lists and readings through the front door. The dialects are those of
//! reference/interchange.md §1 (UN directories and real files, sources named there); ship, ports
//! and lots are invented.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

mod lists;
mod probes;
mod properties;
mod readings;
