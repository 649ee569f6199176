//! Ways on for service work, looked for off the request path and kept: most take a fraction of a
//! second, a proof that there is none or a plant of unknown filling takes many.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};
use std::time::{Duration, Instant};

use record::digest::Digest;
use service::belief::{self, Known};
use service::{Goal, State, Stated};

use crate::pages::service::{Planned, Way};

/// Ways kept.
const KEPT: usize = 24;
/// States looked at to know what can be inside; what is reachable is 1.3 million.
const STATES_MOST: usize = 4_000_000;
/// How often it is looked whether a way is found.
const LOOK: Duration = Duration::from_millis(30);

/// What a way is asked from.
#[derive(Debug, Clone)]
pub struct Question {
    /// The plant.
    pub stated: Stated,
    /// Every way of filling; `None`: not known, nor worked out yet.
    pub fillings: Option<Vec<State>>,
    /// Where to.
    pub goal: Goal,
}

struct Job {
    since: Instant,
    done: OnceLock<Result<Arc<Planned>, String>>,
}

/// Ways found and looked for.
#[derive(Default)]
pub struct Ways {
    jobs: Mutex<VecDeque<(Digest, Arc<Job>)>>,
    /// One at a time looks at everything that can be reached: it takes memory.
    exploring: Arc<Mutex<()>>,
}

impl Ways {
    /// The way, if it is found within `wait`.
    pub async fn ask(&self, q: Question, wait: Duration) -> Way {
        let job = self.job(q);
        let asked = Instant::now();
        loop {
            match job.done.get() {
                Some(Ok(planned)) => return Way::Ready(Arc::clone(planned)),
                Some(Err(why)) => return Way::Failed(why.clone()),
                None if asked.elapsed() >= wait => {
                    return Way::Working(job.since.elapsed().as_secs_f64());
                }
                None => tokio::time::sleep(LOOK).await,
            }
        }
    }

    fn job(&self, q: Question) -> Arc<Job> {
        let key = Digest::of(format!("{q:?}").as_bytes());
        let mut jobs = self.jobs.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, job)) = jobs.iter().find(|(k, _)| *k == key) {
            return Arc::clone(job);
        }
        let job = Arc::new(Job { since: Instant::now(), done: OnceLock::new() });
        jobs.push_back((key, Arc::clone(&job)));
        while jobs.len() > KEPT {
            jobs.pop_front();
        }
        let (working, exploring) = (Arc::clone(&job), Arc::clone(&self.exploring));
        let work = tokio::task::spawn_blocking(move || work_out(&q, &exploring));
        tokio::spawn(async move {
            let found = match work.await {
                Ok(found) => found.map(Arc::new),
                Err(_) => Err("the search for a way stopped half way; ask again".to_owned()),
            };
            let _ = working.done.set(found);
        });
        job
    }
}

fn work_out(q: &Question, exploring: &Mutex<()>) -> Result<Planned, String> {
    let Stated { state, rules, site, .. } = &q.stated;
    let fillings = match &q.fillings {
        Some(all) => all.clone(),
        None => {
            let _one = exploring.lock().unwrap_or_else(PoisonError::into_inner);
            let all = service::explore::explore(&[State::default()], rules, STATES_MOST);
            belief::looks_like(state, &all)
        }
    };
    match fillings.as_slice() {
        [] => Err("no safe course of work leaves the valves so; look again, read the gauges and \
                   say what is inside"
            .to_owned()),
        [one] => {
            let answer = service::answer(one, q.goal, rules, site).map_err(|e| e.to_string())?;
            Ok(Planned { answer: Some(answer), strategy: None, fillings })
        }
        many => {
            let strategy = belief::resume(many, q.goal, rules, &mut Known::default());
            Ok(Planned { answer: None, strategy: Some(strategy), fillings })
        }
    }
}
