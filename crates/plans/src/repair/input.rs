//! What a repair plan is made from.

use super::place::{Place, Walk};
use crate::{Loss, Refused, Spread};

/// One box that needs hands.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// Short name, unique in the task, such as the box number.
    pub id: String,
    /// Where it stands, in words: `bay 022 row 03 tier 82`.
    pub at: String,
    /// Where it stands, for the way there.
    pub place: Place,
    /// What is lost when the box is in order again at a given hour from now.
    pub loss: Loss,
    /// Hands-on time.
    pub duration: Spread,
    /// Chance that the repair helps, 0 to 1. When it does not, all is lost that can be.
    pub success: f64,
    /// Skills that one person must have, all of them.
    pub skills: Vec<String>,
    /// Parts used up.
    pub parts: Vec<PartNeed>,
    /// Earliest start, hours from now (weather, permit, access); 0 for at once.
    pub release_h: f64,
}

/// Some pieces of one part.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PartNeed {
    /// Name as in the stock.
    pub part: String,
    /// How many.
    pub count: u32,
}

/// What lies on the shelf.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stock {
    /// Name of the part.
    pub part: String,
    /// How many.
    pub count: u32,
}

/// Somebody who repairs.
#[derive(Debug, Clone, PartialEq)]
pub struct Person {
    /// Name or rank, unique in the task.
    pub name: String,
    /// What they may do.
    pub skills: Vec<String>,
    /// Where they are now.
    pub place: Place,
    /// Free from, hours from now.
    pub from_h: f64,
    /// Rest and other duties, `[from, to]` in hours from now, in order. No job is begun that would
    /// by its median still be going on when one starts; it waits until after.
    pub breaks: Vec<[f64; 2]>,
}

/// A repair already begun. It stays with its person; only what comes after is planned.
#[derive(Debug, Clone, PartialEq)]
pub struct UnderWay {
    /// The job's id. Its parts are taken to have left the shelf.
    pub job: String,
    /// The person's name.
    pub person: String,
    /// When it was begun, hours from now, 0 or negative.
    pub started_h: f64,
}

/// Everything a repair plan is made from.
#[derive(Debug, Clone, PartialEq)]
pub struct RepairTask {
    /// Open jobs, in the order in which they were reported.
    pub jobs: Vec<Job>,
    /// Who is there.
    pub people: Vec<Person>,
    /// Parts on the shelf. A part that is needed and not listed is not there.
    pub stock: Vec<Stock>,
    /// Repairs under way.
    pub under_way: Vec<UnderWay>,
    /// How people get about.
    pub walk: Walk,
    /// What losses are counted in: `USD`, `t of cargo`.
    pub value_unit: String,
}

impl RepairTask {
    /// Checks that everything is in order.
    ///
    /// # Errors
    /// [`Refused`] naming the entry and what to do.
    pub fn check(&self) -> Result<(), Refused> {
        let no = |text: String| Err(Refused(text));
        if self.people.is_empty() {
            return no("nobody is there to repair; name at least one person".to_owned());
        }
        for (i, job) in self.jobs.iter().enumerate() {
            job.duration.check(&job.id)?;
            if self.jobs.iter().take(i).any(|j| j.id == job.id) {
                return no(format!("job {} is listed twice; give each its own name", job.id));
            }
            if !(0.0..=1.0).contains(&job.success) {
                return no(format!("job {}: chance of success must be 0 to 1", job.id));
            }
            if !(job.release_h.is_finite() && place_ok(&job.place)) {
                return no(format!("job {}: place or earliest start is no number", job.id));
            }
        }
        for (i, p) in self.people.iter().enumerate() {
            if self.people.iter().take(i).any(|q| q.name == p.name) {
                return no(format!("{} is listed twice; give each person a name", p.name));
            }
            let breaks_ok = p.breaks.iter().all(|b| b[0] < b[1])
                && p.breaks.windows(2).all(|w| w[0][1] <= w[1][0]);
            if !(breaks_ok && p.from_h.is_finite() && place_ok(&p.place)) {
                return no(format!("{}: place, hours or rest times are not in order", p.name));
            }
        }
        let paces = [self.walk.deck_m_per_h.value, self.walk.climb_m_per_h.value];
        if paces.iter().any(|v| !(v.is_finite() && *v > 0.0)) {
            return no("walking and climbing pace must be above 0 m/h".to_owned());
        }
        self.check_under_way()
    }

    fn check_under_way(&self) -> Result<(), Refused> {
        for (i, u) in self.under_way.iter().enumerate() {
            let known = self.jobs.iter().any(|j| j.id == u.job)
                && self.people.iter().any(|p| p.name == u.person);
            let before = self.under_way.iter().take(i);
            let twice = before.clone().any(|v| v.job == u.job || v.person == u.person);
            if !known || twice || u.started_h > 0.0 || !u.started_h.is_finite() {
                return Err(Refused(format!(
                    "work under way on {} by {}: name one listed job and person each, begun \
                     before now",
                    u.job, u.person
                )));
            }
        }
        Ok(())
    }
}

fn place_ok(place: &Place) -> bool {
    place.x_m.is_finite() && place.y_m.is_finite() && place.z_m.is_finite()
}
