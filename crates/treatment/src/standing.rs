//! How a box stands, in a few numbers: for lists of many boxes, where nobody reads every line of
//! the whole [`crate::Answer`]. The same figures as there.

use units::Utc;

use crate::answer::Verdict;
use crate::clock::{Clock, Phase};

/// The heads of an answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Standing {
    /// How it stands.
    pub verdict: Verdict,
    /// Start of the clock that runs, was met, was cancelled or awaits a decision.
    pub started_at: Option<Utc>,
    /// When the time was met.
    pub time_met_at: Option<Utc>,
    /// Earliest end, if nothing (more) breaks: of the clock that runs, or of the planning clock.
    pub finish_at: Option<Utc>,
    /// Last reading time.
    pub last_reading_at: Option<Utc>,
    /// Breaches listed.
    pub breaches: u32,
    /// Clocks that a breach ended.
    pub restarts: u32,
}

impl Clock {
    /// How it stands as of the last reading time.
    #[must_use]
    pub fn standing(&self) -> Standing {
        let state = &self.state;
        let verdict = match state.phase {
            _ if !self.setup.startable => Verdict::NotStartable,
            Phase::Before | Phase::Waiting => Verdict::NotStarted,
            Phase::Running => Verdict::Running,
            Phase::Met => Verdict::TimeMet,
            Phase::Pending | Phase::PlanDone => Verdict::InvalidPending,
            Phase::Cancelled => Verdict::Cancelled,
        };
        let has_clock = !matches!(verdict, Verdict::NotStartable | Verdict::NotStarted);
        let started = state.started.filter(|_| has_clock);
        let finish = match verdict {
            Verdict::Running => started.map(|at| (at, state.need_ms)),
            Verdict::InvalidPending => state.plan.map(|at| (at, state.plan_need_ms)),
            _ => None,
        };
        Standing {
            verdict,
            started_at: started.map(Utc::from_ms),
            time_met_at: state.end.filter(|_| verdict == Verdict::TimeMet).map(Utc::from_ms),
            finish_at: finish.map(|(at, need)| Utc::from_ms(at.saturating_add(need))),
            last_reading_at: state.last_at.map(Utc::from_ms),
            breaches: u32::try_from(self.log.len()).unwrap_or(u32::MAX),
            restarts: state.restarts,
        }
    }
}
