//! The task as tables of numbers, on one set of drawn durations.

use super::input::{Person, RepairTask};
use crate::chance::even_shares;
use crate::{Loss, Refused};

/// Seed of the durations on which plans are compared.
pub const PLANNING_SEED: u64 = 20_260_105;

/// One job, ready to be counted with.
#[derive(Debug)]
pub struct PreparedJob {
    pub release_h: f64,
    pub median_h: f64,
    /// Drawn durations, one for each scenario, h.
    pub hours: Vec<f64>,
    pub loss: Loss,
    pub success: f64,
    /// Pieces needed of each part of the stock table.
    pub parts: Vec<u32>,
}

/// One person, ready to be counted with.
#[derive(Debug)]
pub struct PreparedPerson {
    /// When free to walk to the first job, one for each scenario, h.
    pub free_h: Vec<f64>,
    /// Way from where they become free to each job, h.
    pub first_way_h: Vec<f64>,
    /// May they do each job?
    pub can: Vec<bool>,
    pub breaks: Vec<[f64; 2]>,
    /// The job under way, if any.
    pub under_way: Option<usize>,
}

/// All tables.
#[derive(Debug)]
pub struct Prepared {
    pub jobs: Vec<PreparedJob>,
    pub people: Vec<PreparedPerson>,
    /// Way from each job (row) to each job, h.
    pub way_h: Vec<Vec<f64>>,
    /// Pieces on the shelf of each part.
    pub stock: Vec<u32>,
    /// Expected loss of jobs under way.
    pub fixed_loss: f64,
    pub scenarios: usize,
}

impl Prepared {
    /// Draws `scenarios` durations for each job under `seed`.
    pub fn new(task: &RepairTask, scenarios: usize, seed: u64) -> Result<Self, Refused> {
        task.check()?;
        let scenarios = scenarios.max(1);
        let mut parts: Vec<&str> = task.stock.iter().map(|s| s.part.as_str()).collect();
        for need in task.jobs.iter().flat_map(|j| &j.parts) {
            parts.push(&need.part);
        }
        parts.sort_unstable();
        parts.dedup();
        let on_shelf =
            |name: &str| task.stock.iter().filter(|s| s.part == name).map(|s| s.count).sum::<u32>();
        let jobs: Vec<PreparedJob> = task
            .jobs
            .iter()
            .enumerate()
            .map(|(i, j)| {
                let shares = even_shares(scenarios, seed.wrapping_add(i as u64 * 7919));
                let need = |name: &&str| {
                    j.parts.iter().filter(|p| p.part == *name).map(|p| p.count).sum::<u32>()
                };
                PreparedJob {
                    release_h: j.release_h,
                    median_h: j.duration.p50_h,
                    hours: shares.iter().map(|&u| j.duration.quantile_h(u)).collect(),
                    loss: j.loss.clone(),
                    success: j.success,
                    parts: parts.iter().map(need).collect(),
                }
            })
            .collect();
        let way = |a: usize, b: usize| {
            let (from, to) = (&task.jobs[a], &task.jobs[b]);
            task.walk.hours_to_job(&from.place, &to.place, !to.parts.is_empty())
        };
        let n = jobs.len();
        let way_h = (0..n).map(|a| (0..n).map(|b| way(a, b)).collect()).collect();
        let stock = parts.iter().map(|p| on_shelf(p)).collect();
        let mut prep = Self { jobs, people: Vec::new(), way_h, stock, fixed_loss: 0.0, scenarios };
        for person in &task.people {
            let ready = prep.person(task, person, seed);
            prep.people.push(ready);
        }
        Ok(prep)
    }

    fn person(&mut self, task: &RepairTask, person: &Person, seed: u64) -> PreparedPerson {
        let held = task.under_way.iter().find(|u| u.person == person.name);
        let under_way = held.and_then(|u| task.jobs.iter().position(|j| j.id == u.job));
        let mut place = person.place;
        let mut free_h = vec![person.from_h.max(0.0); self.scenarios];
        if let (Some(u), Some(i)) = (held, under_way) {
            let job = &task.jobs[i];
            let shares = even_shares(self.scenarios, seed.wrapping_add(i as u64 * 7919 + 1));
            let left = |p: f64| job.duration.remaining_quantile_h(-u.started_h, p);
            free_h = shares.iter().map(|&p| left(p)).collect();
            place = job.place;
            self.fixed_loss += self.loss_at(i, &free_h);
        }
        let can = |i: usize| {
            let skilled = task.jobs[i].skills.iter().all(|s| person.skills.contains(s));
            let parts = self.jobs[i].parts.iter().zip(&self.stock).all(|(need, have)| need <= have);
            skilled && parts && !task.under_way.iter().any(|u| u.job == task.jobs[i].id)
        };
        let way =
            |j: &super::input::Job| task.walk.hours_to_job(&place, &j.place, !j.parts.is_empty());
        PreparedPerson {
            free_h,
            first_way_h: task.jobs.iter().map(way).collect(),
            can: (0..self.jobs.len()).map(can).collect(),
            breaks: person.breaks.clone(),
            under_way,
        }
    }

    /// Expected loss of job `j` when it is finished at `times`, one for each scenario.
    pub fn loss_at(&self, j: usize, times: &[f64]) -> f64 {
        let job = &self.jobs[j];
        let sum: f64 = times.iter().map(|&t| job.loss.at(t)).sum();
        job.success * sum / times.len() as f64 + (1.0 - job.success) * job.loss.worst()
    }

    /// Start of job `j` by person `p` who arrives at `arrive_h`.
    pub fn start_h(&self, p: usize, j: usize, arrive_h: f64) -> f64 {
        let mut start = arrive_h.max(self.jobs[j].release_h);
        for b in &self.people[p].breaks {
            if start < b[1] && start + self.jobs[j].median_h > b[0] {
                start = b[1];
            }
        }
        start
    }

    /// Way of person `p` from `last` (or from where they become free) to `j`, h.
    pub fn way(&self, p: usize, last: Option<usize>, j: usize) -> f64 {
        last.map_or(self.people[p].first_way_h[j], |l| self.way_h[l][j])
    }

    /// Moves `times` (when `p` is free after `last`) to when `j` is finished; its expected loss.
    pub fn advance(&self, p: usize, last: Option<usize>, j: usize, times: &mut [f64]) -> f64 {
        let way = self.way(p, last, j);
        for (t, work) in times.iter_mut().zip(&self.jobs[j].hours) {
            *t = self.start_h(p, j, *t + way) + work;
        }
        self.loss_at(j, times)
    }

    /// Expected loss of the jobs of `list` done by `p` in that order.
    pub fn list_loss(&self, p: usize, list: &[usize]) -> f64 {
        let mut times = self.people[p].free_h.clone();
        let mut last = None;
        let mut sum = 0.0;
        for &j in list {
            sum += self.advance(p, last, j, &mut times);
            last = Some(j);
        }
        sum
    }

    /// Expected loss of a whole plan: lists, work under way, and what nobody does.
    pub fn total(&self, lists: &[Vec<usize>]) -> f64 {
        let mut done = vec![false; self.jobs.len()];
        let mut sum = self.fixed_loss;
        for (p, list) in lists.iter().enumerate() {
            sum += self.list_loss(p, list);
            for &j in list {
                done[j] = true;
            }
        }
        for (j, job) in self.jobs.iter().enumerate() {
            if !done[j] && !self.is_under_way(j) {
                sum += job.loss.worst();
            }
        }
        sum
    }

    /// Is somebody at it?
    pub fn is_under_way(&self, j: usize) -> bool {
        self.people.iter().any(|p| p.under_way == Some(j))
    }

    /// Do the parts on the shelf serve all jobs in the lists?
    pub fn parts_suffice(&self, lists: &[Vec<usize>]) -> bool {
        self.stock.iter().enumerate().all(|(kind, &have)| {
            let need: u32 = lists.iter().flatten().map(|&j| self.jobs[j].parts[kind]).sum();
            need <= have
        })
    }

    /// Least loss of `j` if `p` went there at once.
    pub fn at_once(&self, p: usize, j: usize) -> f64 {
        if !self.people[p].can[j] {
            return self.jobs[j].loss.worst();
        }
        let mut times = self.people[p].free_h.clone();
        self.advance(p, None, j, &mut times)
    }

    /// Jobs that somebody can do, not under way, where going at once still saves something.
    pub fn worth_doing(&self) -> Vec<usize> {
        (0..self.jobs.len())
            .filter(|&j| {
                let worst = self.jobs[j].loss.worst();
                let best = (0..self.people.len()).map(|p| self.at_once(p, j));
                best.fold(worst, f64::min) < worst - 1e-9 * worst.abs().max(1e-12)
            })
            .collect()
    }
}
