//! After a blackout: in which order the boxes come back, within every limit, so that the least is
//! lost.
//!
//! Time goes in steps. In a step some boxes are switched on. Each draws its inrush for a moment,
//! then its full running power until it is cold again, then its settled load. In every step the
//! running load must stay within each feeder and within the generators on the board then; what is
//! added in one step within what the governors take; and the inrush, on top of what runs, within
//! what breakers and voltage bear. kVA are added plainly, which is never below the real sum.

mod exact;
mod input;
mod least;
mod order;
mod profile;
mod result;

pub use input::{Capacity, Feeder, RestartBox, RestartTask};
pub use result::{FeederStair, Restart, StairPoint, Start};

use crate::Refused;
use crate::chance::Dice;
use profile::Profile;

/// How much effort a restart plan may take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Effort {
    /// Largest number of boxes for which the best plan is proved.
    pub exact_boxes: usize,
    /// Partial plans that the proof may look at before it gives up.
    pub nodes: usize,
    /// Changes of order that the search tries.
    pub rounds: usize,
    /// Largest number of boxes for which the lower bound is the sharp one.
    pub bound_boxes: usize,
}

impl Default for Effort {
    fn default() -> Self {
        Self { exact_boxes: 10, nodes: 300_000, rounds: 300, bound_boxes: 500 }
    }
}

/// Loss when boxes are started in the given order, each at the first step at which it fits.
///
/// # Errors
/// [`Refused`] when the task or the order is not possible.
pub fn in_order(task: &RestartTask, order: &[usize]) -> Result<Restart, Refused> {
    let profile = Profile::new(task)?;
    let mut seen = vec![false; task.boxes.len()];
    for &i in order {
        match seen.get_mut(i) {
            Some(s) if !*s => *s = true,
            _ => return Err(Refused(format!("box number {i} is not in the task or stands twice"))),
        }
    }
    if order.len() != task.boxes.len() {
        return Err(Refused("the order must name every box".to_owned()));
    }
    let slots = order::place_all(&profile, order);
    let loss = profile.total(&slots);
    result::describe(task, &profile, &slots, loss, false)
}

/// The restart that loses least.
///
/// # Errors
/// [`Refused`] when the task is not possible.
pub fn plan(task: &RestartTask, effort: &Effort) -> Result<Restart, Refused> {
    let profile = Profile::new(task)?;
    let mut slots = order::good_order(&profile, effort.rounds, &mut Dice::new(3_511));
    let upper = profile.total(&slots);
    let lower = least::least_possible(&profile, effort.bound_boxes);
    if upper <= lower + 1e-9 * upper.abs() {
        return result::describe(task, &profile, &slots, upper, true);
    }
    if task.boxes.len() <= effort.exact_boxes {
        let mut nodes = effort.nodes;
        if let Some(better) = exact::best(&profile, upper, &mut nodes) {
            if let Some(found) = better {
                slots = found;
            }
            let value = profile.total(&slots);
            return result::describe(task, &profile, &slots, value, true);
        }
    }
    result::describe(task, &profile, &slots, lower.min(upper), false)
}
