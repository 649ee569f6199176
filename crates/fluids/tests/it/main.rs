#![allow(clippy::unwrap_used, clippy::panic)]
//! Tests against CoolProp's reference states and against print.

mod compare;
mod reference;
