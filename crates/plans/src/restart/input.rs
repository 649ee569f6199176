//! What a restart is planned from.

use crate::{Loss, Marked, Refused};

/// A box to be switched on again.
#[derive(Debug, Clone, PartialEq)]
pub struct RestartBox {
    /// Box number.
    pub id: String,
    /// Number of its feeder in the task.
    pub feeder: usize,
    /// Running power right after the start, kW.
    pub start_kw: f64,
    /// The same, kVA.
    pub start_kva: f64,
    /// Apparent power in the first moment, kVA.
    pub inrush_kva: Marked,
    /// How long it runs at full power, h.
    pub pull_down_h: f64,
    /// Load after that, kW: mean over its cycles plus what one allows for their scatter. At most
    /// `start_kw`.
    pub settled_kw: f64,
    /// The same, kVA.
    pub settled_kva: f64,
    /// What is lost when it is started at a given hour from now.
    pub loss: Loss,
}

/// A feeder with its breaker.
#[derive(Debug, Clone, PartialEq)]
pub struct Feeder {
    /// Name.
    pub id: String,
    /// Running load it may carry, kVA.
    pub limit_kva: f64,
    /// Load for a moment (running and inrush) that its breaker lets through, kVA.
    pub inrush_limit_kva: Marked,
    /// From when it can be switched on, hours from now.
    pub from_h: f64,
}

/// What the plant gives from an hour on, under the reserve rule, everything included.
#[derive(Debug, Clone, PartialEq)]
pub struct Capacity {
    /// Hours from now.
    pub from_h: f64,
    /// Running power for boxes, kW: allowed less everything else.
    pub kw: f64,
    /// Running apparent power for boxes, kVA.
    pub kva: f64,
    /// Largest power added in one step, kW.
    pub step_kw: Marked,
    /// Running load of boxes and inrush in one moment, kVA, for the voltage dip.
    pub inrush_kva: Marked,
}

/// Everything a restart is planned from.
#[derive(Debug, Clone, PartialEq)]
pub struct RestartTask {
    /// Boxes without power that should run.
    pub boxes: Vec<RestartBox>,
    /// Feeders.
    pub feeders: Vec<Feeder>,
    /// Capacity over time, first from hour 0. Sets that come later are later entries.
    pub capacity: Vec<Capacity>,
    /// Time between switching steps, s.
    pub step_s: f64,
    /// How far to plan, h.
    pub horizon_h: f64,
    /// Loss put on every box-hour without power, beside the loss curves: it orders boxes that have
    /// nothing to lose yet. Small, in the value unit.
    pub box_hour_price: f64,
    /// What losses are counted in.
    pub value_unit: String,
}

/// Steps at most; a longer horizon needs longer steps.
const STEPS_MAX: usize = 4000;

impl RestartTask {
    /// Number of steps up to the horizon.
    #[must_use]
    pub fn steps(&self) -> usize {
        (self.horizon_h * 3600.0 / self.step_s).ceil().clamp(1.0, 1e9) as usize
    }

    /// Hour of step `k`.
    #[must_use]
    pub fn hour_of(&self, k: usize) -> f64 {
        k as f64 * self.step_s / 3600.0
    }

    /// Checks that everything is in order.
    ///
    /// # Errors
    /// [`Refused`] naming the entry and what to do.
    pub fn check(&self) -> Result<(), Refused> {
        let no = |text: String| Err(Refused(text));
        let times_ok = self.step_s > 0.0 && self.horizon_h > 0.0 && self.horizon_h.is_finite();
        if !times_ok || self.steps() > STEPS_MAX {
            return no(format!(
                "steps of {} s over {} h: use at most {STEPS_MAX} steps",
                self.step_s, self.horizon_h
            ));
        }
        if self.capacity.first().is_none_or(|c| c.from_h > 0.0)
            || self.capacity.windows(2).any(|w| w[0].from_h >= w[1].from_h)
        {
            return no("capacity must begin now and go forward in time".to_owned());
        }
        if self.capacity.windows(2).any(|w| w[1].kw < w[0].kw || w[1].kva < w[0].kva) {
            return no("capacity falls later on; plan the time up to then by itself".to_owned());
        }
        if !(self.box_hour_price >= 0.0 && self.box_hour_price.is_finite()) {
            return no("the price of a box-hour must be 0 or more".to_owned());
        }
        for b in &self.boxes {
            let kw_ok = b.start_kw >= b.settled_kw && b.settled_kw >= 0.0;
            let kva_ok = b.start_kva >= b.settled_kva && b.settled_kva >= 0.0;
            let rest_ok = b.inrush_kva.value >= 0.0
                && b.pull_down_h >= 0.0
                && b.start_kva.is_finite()
                && b.start_kw.is_finite();
            if !(kw_ok && kva_ok && rest_ok) {
                return no(format!(
                    "{}: start load must be at least settled load, at least 0",
                    b.id
                ));
            }
            if b.feeder >= self.feeders.len() {
                return no(format!("{}: feeder number {} is not listed", b.id, b.feeder));
            }
        }
        Ok(())
    }
}
