//! One probe: what its next reading shows against its past.

use crate::decision;
use crate::found::Found;
use crate::limits::Setup;
use crate::policy::{Effect, Kind, Policy};
use crate::runs::{Breach, Open};

/// One probe's past, as far as the next reading needs it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct ProbeState {
    /// Last good reading from the first start on: time and raw value.
    pub(crate) last_good: Option<(i64, i64)>,
    pub(crate) abnormal: Option<Open>,
    pub(crate) over: Option<Open>,
    pub(crate) cold: Option<Open>,
    /// Coldest and warmest raw value: from the first start, before it of the whole file.
    pub(crate) span: Option<(i64, i64)>,
}

/// What a probe needs to know to judge its reading.
pub(crate) struct View<'s> {
    pub(crate) setup: &'s Setup,
    pub(crate) runs: bool,
    pub(crate) at: i64,
    pub(crate) probe: usize,
}

impl View<'_> {
    fn effect(&self, kind: Kind, from: i64) -> Effect {
        effect(self.setup, self.runs, kind, Some(self.probe), from, self.at)
    }
}

impl ProbeState {
    pub(crate) fn take_good(
        &mut self,
        view: &View<'_>,
        v: i64,
        log: &mut Vec<Breach>,
        found: &mut Found,
    ) -> Effect {
        let Some(limits) = view.setup.probes.get(view.probe).map(|p| &p.limits) else {
            return Effect::Warn;
        };
        self.abnormal = None;
        let mut act = Effect::Warn;
        if let Some((before, u)) = self.last_good {
            let size = v.abs_diff(u);
            if size > limits.step.unsigned_abs() {
                let effect = view.effect(Kind::Step, before);
                log.push(Breach {
                    kind: Kind::Step,
                    probe: Some(view.probe),
                    from: before,
                    to: view.at,
                    worst: i64::try_from(size).ok(),
                    readings: 2,
                    effect,
                });
                found.add(Kind::Step, Some(view.probe));
                act = act.max(effect);
            }
        }
        self.last_good = Some((view.at, v));
        if v > limits.over_hi {
            let mut effect = view.effect(Kind::Excursion, view.at);
            if effect == Effect::Extend && v > limits.hard_hi {
                effect = Effect::Cancel;
            }
            lengthen(&mut self.over, Kind::Excursion, view, v, effect, log);
            found.add(Kind::Excursion, Some(view.probe));
            act = act.max(effect);
        } else {
            self.over = None;
        }
        if v < limits.cold_lo {
            let effect = view.effect(Kind::Cold, view.at);
            lengthen(&mut self.cold, Kind::Cold, view, v, effect, log);
            found.add(Kind::Cold, Some(view.probe));
            act = act.max(effect);
        } else {
            self.cold = None;
        }
        act
    }

    pub(crate) fn take_abnormal(
        &mut self,
        view: &View<'_>,
        log: &mut Vec<Breach>,
        found: &mut Found,
    ) -> Effect {
        let fresh = || Open::begin(Kind::Fault, view.probe, view.at, None);
        let open = match self.abnormal.as_mut() {
            Some(open) => {
                open.extend(view.at, None);
                open
            }
            None => self.abnormal.insert(fresh()),
        };
        let since = self.last_good.map_or(view.at, |(t, _)| t);
        if view.at.saturating_sub(since) <= view.setup.fault_max_ms {
            return Effect::Warn;
        }
        let effect = view.effect(Kind::Fault, view.at);
        open.list(effect, log);
        found.add(Kind::Fault, Some(view.probe));
        effect
    }
}

fn lengthen(
    open: &mut Option<Open>,
    kind: Kind,
    view: &View<'_>,
    v: i64,
    effect: Effect,
    log: &mut Vec<Breach>,
) {
    let run = match open.as_mut() {
        Some(run) => {
            run.extend(view.at, Some(v));
            run
        }
        None => open.insert(Open::begin(kind, view.probe, view.at, Some(v))),
    };
    run.list(effect, log);
}

/// What a breach does, found now.
pub(crate) fn effect(
    setup: &Setup,
    runs: bool,
    kind: Kind,
    probe: Option<usize>,
    from: i64,
    to: i64,
) -> Effect {
    let extra = probe.and_then(|i| setup.probes.get(i)).is_some_and(|p| !p.limits.must_comply);
    if !runs || extra {
        return Effect::Warn;
    }
    let policy = setup.schedule.policy(kind);
    if policy != Policy::InvalidUnlessVerified {
        return policy.into();
    }
    match decision::standing(&setup.decisions, kind, probe, from, to) {
        None => Effect::InvalidUnlessVerified,
        Some(true) => Effect::Verified,
        Some(false) => Effect::Refused,
    }
}
