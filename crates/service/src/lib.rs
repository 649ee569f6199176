//! Service work: the plant as a graph of volumes, hazards, a planner, the refrigerant account.
//!
//! Pure: states in, plans out. A plan is the cheapest path in the state space that touches no
//! hazard; where there is none, every reachable state was looked at. It claims no authority: the
//! maker's instructions, the permit to work, local codes and licensed practice come first.

pub mod account;
pub mod action;
pub mod answer;
pub mod belief;
pub mod drawing;
pub mod estimate;
pub mod expect;
pub mod explore;
pub mod filling;
pub mod flow;
pub mod goal;
pub mod hazard;
pub mod plant;
pub mod proof;
pub mod search;
pub mod spares;
pub mod stated;
pub mod step;
pub mod words;
mod work;

pub use action::Action;
pub use answer::{Answer, ToldStep, WhyNot, answer};
pub use expect::{Expect, Site};
pub use goal::Goal;
pub use hazard::{Hazard, Hazards};
pub use plant::{Content, Rules, State, Volume};
pub use search::{NoPath, Plan, Step, plan};
pub use stated::Stated;
pub use step::{Outcome, apply};
