//! Load against limits, step by step.

use super::input::RestartTask;
use crate::Refused;

/// Slack in comparisons, kW and kVA: rounding of sums.
const SLACK: f64 = 1e-6;

/// One box, ready to be counted with.
#[derive(Debug)]
pub struct Piece {
    pub feeder: usize,
    pub start: [f64; 2],
    pub settled: [f64; 2],
    pub inrush_kva: f64,
    /// Steps at full power.
    pub pull_down: usize,
    /// Loss when started in each step; the last entry is never.
    pub loss: Vec<f64>,
}

/// Limits of one step.
#[derive(Debug, Clone, Copy)]
pub struct Limit {
    pub kw: f64,
    pub kva: f64,
    pub step_kw: f64,
    pub inrush_kva: f64,
}

/// The task as tables.
#[derive(Debug)]
pub struct Profile {
    pub pieces: Vec<Piece>,
    pub limits: Vec<Limit>,
    /// Running limit, inrush limit and first step of each feeder.
    pub feeders: Vec<(f64, f64, usize)>,
    pub steps: usize,
}

/// What is placed so far: one line of loads for the plant and one for each feeder.
#[derive(Debug, Clone)]
pub struct Load {
    kw: Vec<f64>,
    kva: Vec<f64>,
    feeder_kva: Vec<Vec<f64>>,
    step_kw: Vec<f64>,
    inrush: Vec<f64>,
    feeder_inrush: Vec<Vec<f64>>,
}

/// What stands in the way of a start.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Blocked {
    /// Power of the plant, kW or kVA.
    Plant,
    /// Load of the feeder.
    Feeder,
    /// Load added in one step.
    Step,
    /// Inrush of plant or feeder.
    Inrush,
    /// The feeder is not live yet.
    NotLive,
}

impl Profile {
    pub fn new(task: &RestartTask) -> Result<Self, Refused> {
        task.check()?;
        let steps = task.steps();
        let step_of = |h: f64| (h * 3600.0 / task.step_s - 1e-9).ceil().max(0.0) as usize;
        let price = task.box_hour_price;
        let pieces = task.boxes.iter().map(|b| {
            let at = |k: usize| b.loss.at(task.hour_of(k)) + price * task.hour_of(k);
            let mut loss: Vec<f64> = (0..steps).map(at).collect();
            loss.push(b.loss.worst() + price * task.hour_of(steps));
            Piece {
                feeder: b.feeder,
                start: [b.start_kw, b.start_kva],
                settled: [b.settled_kw, b.settled_kva],
                inrush_kva: b.inrush_kva.value,
                pull_down: step_of(b.pull_down_h),
                loss,
            }
        });
        let pieces = pieces.collect();
        let limit_at = |k: usize| {
            let hour = task.hour_of(k) + 1e-9;
            let c = task.capacity.iter().rfind(|c| c.from_h <= hour);
            c.map_or(Limit { kw: 0.0, kva: 0.0, step_kw: 0.0, inrush_kva: 0.0 }, |c| Limit {
                kw: c.kw,
                kva: c.kva,
                step_kw: c.step_kw.value,
                inrush_kva: c.inrush_kva.value,
            })
        };
        let limits = (0..steps).map(limit_at).collect();
        let feeders = task
            .feeders
            .iter()
            .map(|f| (f.limit_kva, f.inrush_limit_kva.value, step_of(f.from_h)))
            .collect();
        Ok(Self { pieces, limits, feeders, steps })
    }

    pub fn empty(&self) -> Load {
        let line = vec![0.0; self.steps];
        let each = vec![line.clone(); self.feeders.len()];
        Load {
            kw: line.clone(),
            kva: line.clone(),
            feeder_kva: each.clone(),
            step_kw: line.clone(),
            inrush: line,
            feeder_inrush: each,
        }
    }

    /// Load of box `i` in the step `since` its start: kW, kVA.
    fn drawn(&self, i: usize, since: usize) -> [f64; 2] {
        let p = &self.pieces[i];
        // At least the step of the start itself.
        if since < p.pull_down.max(1) { p.start } else { p.settled }
    }

    /// Total loss of starts at `slots` (`steps` means never).
    pub fn total(&self, slots: &[usize]) -> f64 {
        self.pieces.iter().zip(slots).map(|(p, &k)| p.loss[k.min(self.steps)]).sum()
    }

    /// Can box `i` start in step `k` beside what is placed?
    ///
    /// # Errors
    /// What stands in the way, and the step in which it does.
    pub fn fits(&self, load: &Load, i: usize, k: usize) -> Result<(), (Blocked, usize)> {
        let p = &self.pieces[i];
        let (f_kva, f_inrush, live) = self.feeders[p.feeder];
        if k < live {
            return Err((Blocked::NotLive, k));
        }
        let now = &self.limits[k];
        if load.step_kw[k] + p.start[0] > now.step_kw + SLACK {
            return Err((Blocked::Step, k));
        }
        let before = |line: &[f64]| if k > 0 { line[k - 1] } else { 0.0 };
        let feeder = &load.feeder_kva[p.feeder];
        let feeder_inrush = &load.feeder_inrush[p.feeder];
        if before(&load.kva) + load.inrush[k] + p.inrush_kva > now.inrush_kva + SLACK
            || before(feeder) + feeder_inrush[k] + p.inrush_kva > f_inrush + SLACK
        {
            return Err((Blocked::Inrush, k));
        }
        for (s, limit) in self.limits.iter().enumerate().skip(k) {
            let [kw, kva] = self.drawn(i, s - k);
            if load.kw[s] + kw > limit.kw + SLACK || load.kva[s] + kva > limit.kva + SLACK {
                return Err((Blocked::Plant, s));
            }
            if feeder[s] + kva > f_kva + SLACK {
                return Err((Blocked::Feeder, s));
            }
            // Starts already placed later find this one running.
            let next = s + 1;
            if next < self.steps
                && ((load.inrush[next] > 0.0
                    && load.kva[s] + kva + load.inrush[next]
                        > self.limits[next].inrush_kva + SLACK)
                    || (feeder_inrush[next] > 0.0
                        && feeder[s] + kva + feeder_inrush[next] > f_inrush + SLACK))
            {
                return Err((Blocked::Inrush, next));
            }
        }
        Ok(())
    }

    /// First step from `from` in which box `i` fits; `steps` when there is none.
    pub fn first_fit(&self, load: &Load, i: usize, from: usize) -> usize {
        let mut k = from;
        while k < self.steps {
            k = match self.fits(load, i, k) {
                Ok(()) => return k,
                // Started later but still before that step, the box would draw no less in it.
                Err((Blocked::Plant | Blocked::Feeder, at)) => at + 1,
                Err((Blocked::NotLive, _)) => self.feeders[self.pieces[i].feeder].2.max(k + 1),
                Err((Blocked::Step | Blocked::Inrush, at)) => at.max(k + 1),
            };
        }
        self.steps
    }

    /// Adds (`sign` 1) or takes away (`sign` -1) box `i` started in step `k`.
    pub fn put(&self, load: &mut Load, i: usize, k: usize, sign: f64) {
        if k >= self.steps {
            return;
        }
        let p = &self.pieces[i];
        load.step_kw[k] += sign * p.start[0];
        load.inrush[k] += sign * p.inrush_kva;
        load.feeder_inrush[p.feeder][k] += sign * p.inrush_kva;
        for s in k..self.steps {
            let [kw, kva] = self.drawn(i, s - k);
            load.kw[s] += sign * kw;
            load.kva[s] += sign * kva;
            load.feeder_kva[p.feeder][s] += sign * kva;
        }
    }
}

impl Load {
    /// Running power of the boxes in step `k`, kW.
    pub fn kw_at(&self, k: usize) -> f64 {
        self.kw.get(k).copied().unwrap_or(0.0)
    }

    /// Running apparent power, kVA.
    pub fn kva_at(&self, k: usize) -> f64 {
        self.kva.get(k).copied().unwrap_or(0.0)
    }

    /// Running before the step plus inrush in it, kVA.
    pub fn peak_kva_at(&self, k: usize) -> f64 {
        let before = if k > 0 { self.kva_at(k - 1) } else { 0.0 };
        (before + self.inrush.get(k).copied().unwrap_or(0.0)).max(self.kva_at(k))
    }

    /// Power added in step `k`, kW.
    pub fn step_kw_at(&self, k: usize) -> f64 {
        self.step_kw.get(k).copied().unwrap_or(0.0)
    }

    /// Running load of feeder `f` in step `k`, kVA.
    pub fn feeder_kva_at(&self, f: usize, k: usize) -> f64 {
        self.feeder_kva.get(f).and_then(|l| l.get(k)).copied().unwrap_or(0.0)
    }
}
