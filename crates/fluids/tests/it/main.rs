#![allow(clippy::unwrap_used, clippy::panic)]
//! Tests against CoolProp's reference states and against print.

mod behaviour;
mod compare;
mod gas;
mod outside;
mod printed;
mod reference;
