//! Who first: which box, by whom, in which order, so that the least is lost.
//!
//! A plan is a list per person, followed in order. Durations are uncertain: every plan is judged
//! on one fixed set of drawn durations (the same for all plans, evenly spread), so that two plans
//! are compared like with like and the same input gives the same plan on every computer.
//! Up to a dozen jobs the best list is found and proved by trying everything that could still be
//! better; for more it is searched, with a lower bound under which no plan can be.

mod bound;
mod exact;
mod explain;
mod input;
mod place;
mod prepare;
mod search;

pub use explain::{Lane, NotDone, RepairPlan, Span, SpanKind, Step};
pub use input::{Job, PartNeed, Person, RepairTask, Stock, UnderWay};
pub use place::{Place, ShipGrid, Walk};

use crate::Refused;
use prepare::Prepared;

/// How much effort a plan may take. The defaults serve a night on board.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Effort {
    /// Drawn sets of durations on which plans are compared.
    pub scenarios: usize,
    /// Largest number of open jobs for which the best plan is proved.
    pub exact_jobs: usize,
    /// Partial plans the proof may keep before it gives up.
    pub labels: usize,
    /// Rounds of taking a few jobs out of the plan and putting them back better.
    pub rounds: usize,
}

impl Default for Effort {
    fn default() -> Self {
        Self { scenarios: 48, exact_jobs: 12, labels: 400_000, rounds: 150 }
    }
}

/// Expected loss of a plan given by the caller, on the same drawn durations that [`plan`] uses:
/// for each person of `task` the jobs' numbers in `task.jobs`, in order. Jobs in no list are not
/// done. Work under way goes on and must not be listed.
///
/// # Errors
/// [`Refused`] when the task is not in order, a number is no job, a job stands twice, a person
/// lacks the skill or a part is short.
pub fn loss_of(task: &RepairTask, lists: &[Vec<usize>], effort: &Effort) -> Result<f64, Refused> {
    let prep = Prepared::new(task, effort.scenarios, prepare::PLANNING_SEED)?;
    let mut seen = vec![false; task.jobs.len()];
    if lists.len() != task.people.len() {
        return Err(Refused("give one list for each person".to_owned()));
    }
    for (person, list) in prep.people.iter().zip(lists) {
        for &j in list {
            let open = seen.get(j) == Some(&false) && !prep.is_under_way(j);
            if !open || person.can.get(j) != Some(&true) {
                return Err(Refused(format!("job number {j} cannot stand here in the lists")));
            }
            seen[j] = true;
        }
    }
    if !prep.parts_suffice(lists) {
        return Err(Refused("the lists use more parts than are in stock".to_owned()));
    }
    Ok(prep.total(lists))
}

/// The plan that loses least.
///
/// # Errors
/// [`Refused`] when the task is not in order.
pub fn plan(task: &RepairTask, effort: &Effort) -> Result<RepairPlan, Refused> {
    let prep = Prepared::new(task, effort.scenarios, prepare::PLANNING_SEED)?;
    let open = prep.worth_doing();
    let found = search::good_plan(&prep, &open, effort.rounds);
    let upper = prep.total(&found);
    let proved = if open.len() <= effort.exact_jobs {
        exact::best_plan(&prep, &open, upper, effort.labels)
    } else {
        None
    };
    let (lists, lower, exact) = match proved {
        Some(lists) => {
            // The search stands where the proof found nothing better by more than rounding.
            let best = prep.total(&lists);
            let lists = if best < upper { lists } else { found };
            let value = best.min(upper);
            (lists, value, true)
        }
        None => {
            let lower = bound::least_possible(&prep, &open, upper).min(upper);
            (found, lower, false)
        }
    };
    explain::explain(task, &prep, &lists, lower, exact)
}
