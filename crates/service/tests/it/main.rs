//! The planner over everything that can be reached, and the refrigerant account against the
//! reference's worked numbers.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

mod account;
mod masses;
mod oracle;
mod planner;
mod spares;
