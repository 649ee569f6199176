//! A second implementation, deliberately naive: straight from the contract's sentences, looking
//! back over the whole file for every question, with its own fractions. The engine must agree
//! with it on every field.

use std::collections::{BTreeMap, BTreeSet};

use crate::properties::Case;

/// A fraction, never reduced.
#[derive(Clone, Copy, Debug)]
pub struct Q(i128, i128);

impl Q {
    pub fn thousandths(n: i64) -> Self {
        Self(i128::from(n), 1000)
    }
    fn plus(self, o: Self) -> Self {
        Self(self.0 * o.1 + o.0 * self.1, self.1 * o.1)
    }
    fn minus(self, o: Self) -> Self {
        self.plus(Self(-o.0, o.1))
    }
    fn times(self, n: i128, d: i128) -> Self {
        Self(self.0 * n, self.1 * d)
    }
    fn over(self, o: Self) -> bool {
        self.0 * o.1 > o.0 * self.1
    }
    fn size(self) -> Self {
        Self(self.0.abs(), self.1)
    }
    fn float(self) -> f64 {
        self.0 as f64 / self.1 as f64
    }
}

fn to_c(v: Q) -> Q {
    v.minus(Q(32, 1)).times(5, 9)
}

fn to_f(v: Q) -> Q {
    v.times(9, 5).plus(Q(32, 1))
}

/// A found breach, before runs are put together.
#[derive(Clone, Debug)]
struct Event {
    kind: &'static str,
    probe: Option<usize>,
    from: i64,
    to: i64,
    effect: String,
}

/// A listed breach: kind, probe, from, to, effect, readings, worst in millionths.
pub type Record = (String, Option<usize>, i64, i64, String, u32, Option<i64>);

/// What the check must answer.
#[derive(Debug, Default, PartialEq)]
pub struct Expected {
    pub verdict: String,
    pub started: Option<i64>,
    pub met: Option<i64>,
    pub plan: Option<i64>,
    pub restarts: u32,
    pub warm_days: u32,
    pub elapsed_ms: i64,
    pub breaches: BTreeSet<Record>,
    pub spans: Vec<Option<(i64, i64)>>,
}

pub struct Oracle<'a> {
    c: &'a Case,
    /// Instant to merged raw thousandths.
    merged: BTreeMap<i64, [Option<i64>; 4]>,
    fitted: [bool; 4],
    /// Reading times, and each probe's corrected value in the schedule's unit.
    times: Vec<(i64, [Option<Q>; 4])>,
}

impl<'a> Oracle<'a> {
    pub fn new(c: &'a Case) -> Self {
        let mut merged: BTreeMap<i64, [Option<i64>; 4]> = BTreeMap::new();
        let mut fitted = [false; 4];
        for (at, cells) in &c.rows {
            let held = merged.entry(*at).or_default();
            for p in 0..4 {
                fitted[p] |= cells[p].is_some();
                held[p] = match (held[p], cells[p]) {
                    (Some(a), Some(b)) => Some(if a > b { a } else { b }),
                    (a, None) => a,
                    (None, b) => b,
                };
            }
        }
        let mut out = Self { c, merged, fitted, times: Vec::new() };
        for (at, cells) in &out.merged {
            let values: Vec<Option<Q>> =
                (0..4).map(|p| cells[p].and_then(|raw| out.good(p, raw))).collect();
            if (0..4).any(|p| out.fitted[p] && values[p].is_some()) {
                out.times.push((*at, values.try_into().unwrap()));
            }
        }
        out
    }

    fn good(&self, p: usize, raw: i64) -> Option<Q> {
        let as_c = if self.c.column_f[p] { to_c(Q::thousandths(raw)) } else { Q::thousandths(raw) };
        if Q(-40, 1).over(as_c) || as_c.over(Q(60, 1)) {
            return None;
        }
        let value = match (self.c.column_f[p], self.c.schedule_f) {
            (true, false) => to_c(Q::thousandths(raw)),
            (false, true) => to_f(Q::thousandths(raw)),
            _ => Q::thousandths(raw),
        };
        Some(value.plus(self.correction(p)))
    }

    /// The slurry readings of a probe in the schedule's unit, as distances from the ice point.
    fn off_ice(&self, p: usize) -> Vec<Q> {
        let Some(c) = &self.c.slurry else { return Vec::new() };
        let ice = if self.c.schedule_f { Q(32, 1) } else { Q(0, 1) };
        let convert = |v: i64| match (self.c.slurry_f, self.c.schedule_f) {
            (true, false) => to_c(Q::thousandths(v)),
            (false, true) => to_f(Q::thousandths(v)),
            _ => Q::thousandths(v),
        };
        c[p].iter().map(|v| convert(*v).minus(ice)).collect()
    }

    fn correction(&self, p: usize) -> Q {
        let off = self.off_ice(p);
        let mut sum = Q(0, 1);
        for o in &off {
            sum = sum.plus(*o);
        }
        sum.times(-1, off.len().max(1) as i128)
    }

    fn acceptable(&self, p: usize) -> bool {
        if self.c.slurry.is_none() {
            return true;
        }
        let off = self.off_ice(p);
        let within =
            |o: &Q| self.c.calibration_limit.is_none_or(|l| !o.size().over(Q::thousandths(l)));
        let zero = |o: &Q| self.c.calibration_correction || o.0 == 0;
        !off.is_empty() && off.iter().all(|o| within(o) && zero(o))
    }

    fn must_comply(&self, p: usize) -> bool {
        let before = (0..p).filter(|q| self.fitted[*q]).count();
        self.fitted[p] && (self.c.extra_must_comply || before < self.c.probes_min)
    }

    fn can_start(&self, k: usize) -> bool {
        (0..4).filter(|p| self.fitted[*p]).all(|p| match self.times[k].1[p] {
            None => false,
            Some(v) => {
                let cold = self.c.hold_min.filter(|_| self.c.policy("cold") != "warn");
                !v.over(Q::thousandths(self.c.start_max))
                    && !cold.is_some_and(|low| Q::thousandths(low).over(v))
            }
        })
    }

    fn excursion_limit(&self) -> Q {
        let hold = self.c.hold_max;
        let extends = self.c.policy("excursion") == "extend";
        Q::thousandths(if extends { hold.min(self.c.soft_max) } else { hold })
    }

    fn is_over(&self, p: usize, v: Q) -> bool {
        self.fitted[p] && v.over(self.excursion_limit())
    }

    fn is_cold(&self, v: Q) -> bool {
        self.c.hold_min.is_some_and(|low| Q::thousandths(low).over(v))
    }

    fn previous_good(&self, p: usize, k: usize, first: usize) -> Option<usize> {
        (first..k).rev().find(|j| self.times[*j].1[p].is_some())
    }

    fn is_fault(&self, p: usize, k: usize, first: usize) -> bool {
        let since = self.previous_good(p, k, first).map(|j| self.times[j].0);
        let limit_ms = self.c.fault_minutes * 60_000;
        self.times[k].1[p].is_none() && since.is_some_and(|t| self.times[k].0 - t > limit_ms)
    }

    /// Everything found at reading time `k`, with its effect.
    fn events(&self, k: usize, first: usize, runs: bool) -> Vec<Event> {
        let at = self.times[k].0;
        let mut out = Vec::new();
        let mut add = |kind: &'static str, probe: Option<usize>, from: i64, hard: bool| {
            out.push(Event {
                kind,
                probe,
                from,
                to: at,
                effect: self.effect(kind, probe, from, at, runs, hard),
            });
        };
        if k > first {
            let before = self.times[k - 1].0;
            if at - before > self.c.gap_minutes * 60_000 + self.c.jitter_s * 1000 {
                add("gap", None, before, false);
            }
        }
        for p in (0..4).filter(|p| self.fitted[*p]) {
            let Some(v) = self.times[k].1[p] else {
                if self.is_fault(p, k, first) {
                    add("fault", Some(p), at, false);
                }
                continue;
            };
            if let (Some(j), Some(max)) = (self.previous_good(p, k, first), self.c.step_max) {
                let change = v.minus(self.times[j].1[p].unwrap()).size();
                if change.over(Q::thousandths(max)) {
                    add("step", Some(p), self.times[j].0, false);
                }
            }
            if self.is_over(p, v) {
                add("excursion", Some(p), at, v.over(Q::thousandths(self.c.hard_max)));
            }
            if self.is_cold(v) {
                add("cold", Some(p), at, false);
            }
        }
        out
    }

    fn effect(
        &self,
        kind: &str,
        probe: Option<usize>,
        from: i64,
        to: i64,
        runs: bool,
        hard: bool,
    ) -> String {
        if !runs || probe.is_some_and(|p| !self.must_comply(p)) {
            return "warn".into();
        }
        match self.c.policy(kind) {
            "extend" if hard => "cancel".into(),
            "invalid_unless_verified" => {
                let mut word = "invalid_unless_verified";
                for d in &self.c.decisions {
                    let fits = d.kind.is_none_or(|k| k == kind)
                        && d.probe.is_none_or(|p| Some(p) == probe)
                        && d.from <= from
                        && to <= d.to;
                    if fits {
                        word = if d.verified { "verified" } else { "refused" };
                    }
                }
                word.into()
            }
            other => other.into(),
        }
    }

    /// Days with a reading over `soft_max` from `start` to `end`, both included, counted both
    /// ways.
    fn warm_days(&self, start: i64, end: i64) -> u32 {
        if self.c.policy("excursion") != "extend" {
            return 0;
        }
        let soft = Q::thousandths(self.c.soft_max);
        let warm = self.times.iter().filter(|(at, values)| {
            *at >= start
                && *at <= end
                && (0..4).any(|p| self.must_comply(p) && values[p].is_some_and(|v| v.over(soft)))
        });
        let times: Vec<i64> = warm.map(|(at, _)| *at).collect();
        let day = 86_400_000;
        let calendar: BTreeSet<i64> = times.iter().map(|t| t.div_euclid(day)).collect();
        let periods: BTreeSet<i64> = times.iter().map(|t| (t - start).div_euclid(day)).collect();
        calendar.len().max(periods.len()) as u32
    }

    /// Has a clock from `start` run its time at reading time `k`, all who must comply complying?
    fn has_run(&self, start: i64, k: usize) -> bool {
        let at = self.times[k].0;
        let day = Q(86_400_000, 1);
        let fraction = Q(i128::from(self.c.fraction_e10), 10_000_000_000);
        let mut need = day.times(i128::from(self.c.days_thousandths), 1000);
        let warm = i128::from(self.warm_days(start, at));
        need = need.plus(fraction.times(86_400_000 * warm, 1));
        let short = need.over(Q(i128::from(at - start), 1));
        !short
            && (0..4).filter(|p| self.must_comply(*p)).all(|p| {
                self.times[k].1[p].is_some_and(|v| !v.over(Q::thousandths(self.c.hold_max)))
            })
    }

    pub fn answer(&self) -> Expected {
        let fitted = self.fitted.iter().filter(|f| **f).count();
        let fit =
            fitted >= self.c.probes_min && (0..4).all(|p| !self.fitted[p] || self.acceptable(p));
        if !fit {
            return Expected { verdict: "not_startable".into(), ..Expected::default() };
        }
        let Some(first) = (0..self.times.len()).find(|k| self.can_start(*k)) else {
            return Expected {
                verdict: "not_started".into(),
                spans: self.spans(0),
                ..Expected::default()
            };
        };
        self.walk(first)
    }

    fn walk(&self, first: usize) -> Expected {
        let (mut started, mut plan, mut met) = (Some(self.times[first].0), None, None);
        let (mut pending, mut cancelled, mut plan_done) = (false, None, None);
        let mut restarts = 0;
        let mut events: Vec<Event> = Vec::new();
        for k in first..self.times.len() {
            let at = self.times[k].0;
            let runs =
                started.is_some() && met.is_none() && cancelled.is_none() && plan_done.is_none();
            let found = self.events(k, first, runs);
            let has = |word: &str| found.iter().any(|e| e.effect == word);
            if has("cancel") {
                cancelled = Some(at);
                plan = None;
            } else if has("restart") || has("refused") {
                restarts += 1;
                (started, plan, pending) = (None, None, false);
            } else if has("invalid_unless_verified") {
                pending = true;
                plan = None;
            }
            events.extend(found);
            if cancelled.is_some() || met.is_some() || plan_done.is_some() {
                continue;
            }
            if started.is_none() && self.can_start(k) {
                started = Some(at);
                // The starting reading belongs to the new clock.
                for e in self.events(k, first, true) {
                    if e.effect == "extend" {
                        events.push(e);
                    }
                }
            } else if pending && plan.is_none() && self.can_start(k) {
                plan = Some(at);
            }
            if pending {
                plan_done = plan.filter(|p| self.has_run(*p, k)).map(|_| at);
            } else if started.is_some_and(|s| self.has_run(s, k)) {
                met = Some(at);
            }
        }
        let last = self.times.last().unwrap().0;
        let end = met.or(plan_done).or(cancelled).unwrap_or(last);
        let verdict = match (cancelled, met, started, pending) {
            (Some(_), ..) => "cancelled",
            (_, Some(_), ..) => "time_met",
            (_, _, None, _) => "not_started",
            (.., true) => "invalid_pending",
            _ => "running",
        };
        Expected {
            verdict: verdict.into(),
            started,
            met,
            plan: plan.filter(|_| verdict == "invalid_pending"),
            restarts,
            warm_days: started.map_or(0, |s| self.warm_days(s, end)),
            elapsed_ms: started.map_or(0, |s| end - s),
            breaches: self.records(first, &events),
            spans: self.spans(first),
        }
    }

    fn spans(&self, first: usize) -> Vec<Option<(i64, i64)>> {
        (0..4)
            .map(|p| {
                let values = self.times[first..].iter().filter_map(|(_, v)| v[p]);
                let c: Vec<i64> = values.map(|v| self.millionths_c(v)).collect();
                c.iter().min().copied().zip(c.iter().max().copied())
            })
            .collect()
    }

    fn millionths_c(&self, v: Q) -> i64 {
        let c = if self.c.schedule_f { to_c(v) } else { v };
        (c.float() * 1e6).round() as i64
    }

    /// Runs put together from the whole file.
    fn records(&self, first: usize, events: &[Event]) -> BTreeSet<Record> {
        let mut out = BTreeSet::new();
        for e in events.iter().filter(|e| e.kind == "gap" || e.kind == "step") {
            let worst = e.probe.map(|p| {
                let value = |t: i64| self.times.iter().find(|x| x.0 == t).unwrap().1[p].unwrap();
                let change = value(e.to).minus(value(e.from)).size();
                let kelvin = if self.c.schedule_f { change.times(5, 9) } else { change };
                (kelvin.float() * 1e6).round() as i64
            });
            out.insert((e.kind.into(), e.probe, e.from, e.to, e.effect.clone(), 2, worst));
        }
        for p in (0..4).filter(|p| self.fitted[*p]) {
            for kind in ["excursion", "cold", "fault"] {
                for run in self.runs_of(kind, p, first) {
                    let (from, to) = (self.times[run[0]].0, self.times[*run.last().unwrap()].0);
                    let mine = events.iter().filter(|e| {
                        e.kind == kind && e.probe == Some(p) && e.from >= from && e.to <= to
                    });
                    let words = [
                        "warn",
                        "verified",
                        "extend",
                        "invalid_unless_verified",
                        "refused",
                        "restart",
                        "cancel",
                    ];
                    let strength = |w: &str| words.iter().position(|x| *x == w).unwrap();
                    let Some(effect) = mine.map(|e| e.effect.clone()).max_by_key(|w| strength(w))
                    else {
                        continue;
                    };
                    let values: Vec<i64> = run
                        .iter()
                        .filter_map(|k| self.times[*k].1[p])
                        .map(|v| self.millionths_c(v))
                        .collect();
                    let worst = match kind {
                        "excursion" => values.iter().max().copied(),
                        "cold" => values.iter().min().copied(),
                        _ => None,
                    };
                    out.insert((kind.into(), Some(p), from, to, effect, run.len() as u32, worst));
                }
            }
        }
        out
    }

    /// Runs of consecutive bad readings: empty cells neither end nor lengthen a warm or cold run.
    fn runs_of(&self, kind: &str, p: usize, first: usize) -> Vec<Vec<usize>> {
        let mut out = Vec::new();
        let mut run: Vec<usize> = Vec::new();
        for k in first..self.times.len() {
            let bad = match (kind, self.times[k].1[p]) {
                ("fault", v) => v.is_none(),
                (_, None) => continue,
                ("excursion", Some(v)) => self.is_over(p, v),
                (_, Some(v)) => self.is_cold(v),
            };
            if bad {
                run.push(k);
            } else if !run.is_empty() {
                out.push(std::mem::take(&mut run));
            }
        }
        if !run.is_empty() {
            out.push(run);
        }
        if kind == "fault" {
            out.retain(|run| run.iter().any(|k| self.is_fault(p, *k, first)));
        }
        out
    }
}
