//! One file per command.

pub mod chart;
pub mod demo;
pub mod dossier;
pub mod fluid;
pub mod gas;
pub mod gauge;
pub mod instrument;
pub mod load;
pub mod log;
pub mod note;
pub mod one_box;
pub mod power;
pub mod repair;
pub mod report;
pub mod round;
pub mod serve;
pub mod service;
pub mod spares;
pub mod take;
pub mod treatment;
pub mod vacuum;
pub mod verify;
pub mod watch;
