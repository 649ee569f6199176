//! Plans against brute force and against published results of scheduling theory.

#![allow(clippy::unwrap_used)]

mod plant;
mod repair;
mod restart;
