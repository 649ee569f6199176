//! The binary as a user runs it: contract, exit status, crashes, a full disk.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

mod contract;
mod crash;
mod demo;
mod dossier;
mod full_disk;
mod gas;
mod gauge;
mod instruments;
mod plans;
mod proof;
mod rounds;
mod run;
mod service;
mod service_works;
mod thin_data;
mod treatment;
mod treatment_aboard;
mod treatment_all;
mod vacuum;
mod vacuum_files;
mod vacuum_watch;
