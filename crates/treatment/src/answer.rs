//! The answer: verdict, clock, probes, breaches, in the keys and order of the contract.

use serde::{Serialize, Serializer};
use units::Utc;

use crate::clock::{Clock, Fed, Phase};
use crate::exact::Ratio;
use crate::limits::{ProbeSetup, Setup, celsius_of, kelvin_of};
use crate::policy::{Effect, Kind};
use crate::runs::Breach;
use crate::schedule::{Evidence, Schedule};

/// How a treatment stands. There is no "passed": only an authority accepts a treatment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Calibration or probe count.
    NotStartable,
    /// No clock runs: never started, or waiting to start again.
    NotStarted,
    /// A clock runs.
    Running,
    /// The time was met.
    TimeMet,
    /// An official must decide.
    InvalidPending,
    /// The treatment is over.
    Cancelled,
}

impl Verdict {
    /// Exit status of the check: 3 where the check itself says no.
    #[must_use]
    pub fn exit_status(self) -> u8 {
        match self {
            Self::NotStartable | Self::InvalidPending | Self::Cancelled => 3,
            Self::NotStarted | Self::Running | Self::TimeMet => 0,
        }
    }
}

/// One probe in the answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ProbeLine {
    /// `probe1` to `probe4`.
    pub probe: String,
    /// Its column has a value somewhere in the file.
    pub fitted: bool,
    /// Mean of its slurry readings, °C.
    pub slurry_mean_c: Option<f64>,
    /// Added to every reading, kelvin; none where calibration is judged and has no row of it.
    pub correction_c: Option<f64>,
    /// Calibration allows its use; true where calibration is not judged, none where not fitted.
    pub acceptable: Option<bool>,
    /// Warmest corrected reading from the first start on (before one: of the whole file), °C.
    pub max_c: Option<f64>,
    /// Coldest likewise, °C.
    pub min_c: Option<f64>,
    /// Limit minus warmest reading, kelvin; negative above the limit.
    pub margin_k: Option<f64>,
    /// Last good reading from the first start on, corrected, °C.
    pub last_c: Option<f64>,
    /// Its breaches count.
    pub must_comply: bool,
}

/// One breach in the answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BreachLine {
    /// Kind.
    #[serde(serialize_with = "kind_word")]
    pub kind: Kind,
    /// Probe; none for a gap.
    pub probe: Option<String>,
    /// First bad reading, or the earlier of a pair.
    #[serde(serialize_with = "instant")]
    pub from_at: Utc,
    /// Last bad reading, or the later of a pair.
    #[serde(serialize_with = "instant")]
    pub to_at: Utc,
    /// Warmest, coldest, °C, or size of the step, kelvin.
    pub worst_c: Option<f64>,
    /// Bad readings of a run; 2 for a pair.
    pub readings: u32,
    /// What it did.
    #[serde(serialize_with = "effect_word")]
    pub effect: Effect,
    /// Paragraph of the rule, where the schedule names it.
    pub rule: Option<String>,
}

/// What a check found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Answer {
    /// Schedule's id.
    pub schedule: String,
    /// Container.
    pub unit: String,
    /// How it stands.
    pub verdict: Verdict,
    /// Start of the clock that runs, was met, was cancelled or awaits a decision.
    #[serde(serialize_with = "maybe_instant")]
    pub started_at: Option<Utc>,
    /// When the time was met.
    #[serde(serialize_with = "maybe_instant")]
    pub time_met_at: Option<Utc>,
    /// From the start to the clock's end, else to the last reading, hours.
    pub elapsed_h: f64,
    /// Days and extension, hours.
    pub required_h: f64,
    /// Still to run, hours.
    pub remaining_h: f64,
    /// The four probes.
    pub probes: Vec<ProbeLine>,
    /// Every breach from the first start to the end of the file, by time.
    pub breaches: Vec<BreachLine>,
    /// Clocks that a breach ended and that had, or have, to start again.
    pub restarts: u32,
    /// Hours earned by warm days.
    pub extension_h: f64,
    /// While an official must decide: where the clock would start again.
    #[serde(serialize_with = "maybe_instant")]
    pub planning_restart_at: Option<Utc>,
    /// And when that clock would have run its time.
    #[serde(serialize_with = "maybe_instant")]
    pub planning_finish_at: Option<Utc>,
    /// The schedule is unverified: a rehearsal, no treatment.
    pub rehearsal: bool,
    /// Schedule's name for people.
    pub title: String,
    /// Where the rule is published.
    pub source: String,
    /// Trust mark of the row.
    #[serde(serialize_with = "evidence_word")]
    pub evidence: Evidence,
    /// False: no calibration was given, so none was judged and the corrections are 0.
    pub calibration_judged: bool,
    /// Reading times, rows of one instant as one.
    pub reading_times: u64,
    /// Start of the very first clock.
    #[serde(serialize_with = "maybe_instant")]
    pub first_started_at: Option<Utc>,
    /// Last reading time.
    #[serde(serialize_with = "maybe_instant")]
    pub last_reading_at: Option<Utc>,
    /// Earliest end of the clock that runs, if nothing breaks it.
    #[serde(serialize_with = "maybe_instant")]
    pub earliest_finish_at: Option<Utc>,
    /// Rows of the file that were refused; they are absent for the clock.
    pub refused: Vec<RefusedRow>,
    /// Why it is not startable, and other things a person should look at.
    pub warnings: Vec<String>,
}

/// A row of the readings file that was not taken.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct RefusedRow {
    /// File.
    pub file: String,
    /// Physical line, header = 1.
    pub line: u32,
    /// What is wrong with it.
    pub why: String,
}

impl Answer {
    pub(crate) fn of(clock: &Clock, unit: &str) -> Self {
        let Clock { setup, state, log } = clock;
        let s = &setup.schedule;
        let verdict = match state.phase {
            _ if !setup.startable => Verdict::NotStartable,
            Phase::Before | Phase::Waiting => Verdict::NotStarted,
            Phase::Running => Verdict::Running,
            Phase::Met => Verdict::TimeMet,
            Phase::Pending | Phase::PlanDone => Verdict::InvalidPending,
            Phase::Cancelled => Verdict::Cancelled,
        };
        let has_clock = !matches!(verdict, Verdict::NotStartable | Verdict::NotStarted);
        let started = state.started.filter(|_| has_clock);
        let warm_days = if has_clock { state.warm.larger() } else { 0 };
        let required_h = setup.required.hours(warm_days);
        let end = state.end.or(state.last_at);
        let elapsed_h = match (started, end) {
            (Some(from), Some(to)) => Utc::from_ms(to).hours_since(Utc::from_ms(from)),
            _ => 0.0,
        };
        let plan = state.plan.filter(|_| verdict == Verdict::InvalidPending);
        let finish = |start: i64, need: i64| Utc::from_ms(start.saturating_add(need));
        let mut warnings = s.warnings.clone();
        warnings.extend(why_not_startable(setup));
        Self {
            schedule: s.id.clone(),
            unit: unit.to_owned(),
            verdict,
            started_at: started.map(Utc::from_ms),
            time_met_at: state.end.filter(|_| verdict == Verdict::TimeMet).map(Utc::from_ms),
            elapsed_h,
            required_h,
            remaining_h: (required_h - elapsed_h).max(0.0),
            probes: probe_lines(clock),
            breaches: breach_lines(setup, log),
            restarts: state.restarts,
            extension_h: setup.required.extension_hours(warm_days),
            planning_restart_at: plan.map(Utc::from_ms),
            planning_finish_at: plan.map(|p| finish(p, state.plan_need_ms)),
            rehearsal: s.is_rehearsal(),
            title: s.title.clone(),
            source: s.source.clone(),
            evidence: s.evidence,
            calibration_judged: setup.calibrated,
            reading_times: state.reading_times,
            first_started_at: state.first_start.map(Utc::from_ms),
            last_reading_at: state.last_at.map(Utc::from_ms),
            earliest_finish_at: started
                .filter(|_| verdict == Verdict::Running)
                .map(|f| finish(f, state.need_ms)),
            refused: Vec::new(),
            warnings,
        }
    }

    /// Where numbers are too long to be kept exactly nothing is judged.
    pub(crate) fn not_exact(s: &Schedule, unit: &str) -> Self {
        let required_h = s.days.to_f64() * 24.0;
        let why = "the schedule's and the calibration's numbers have too many digits to be kept \
                   exactly; write them as the instrument shows them";
        Self {
            schedule: s.id.clone(),
            unit: unit.to_owned(),
            verdict: Verdict::NotStartable,
            started_at: None,
            time_met_at: None,
            elapsed_h: 0.0,
            required_h,
            remaining_h: required_h,
            probes: Vec::new(),
            breaches: Vec::new(),
            restarts: 0,
            extension_h: 0.0,
            planning_restart_at: None,
            planning_finish_at: None,
            rehearsal: s.is_rehearsal(),
            title: s.title.clone(),
            source: s.source.clone(),
            evidence: s.evidence,
            calibration_judged: false,
            reading_times: 0,
            first_started_at: None,
            last_reading_at: None,
            earliest_finish_at: None,
            refused: Vec::new(),
            warnings: vec![why.to_owned()],
        }
    }
}

fn why_not_startable(setup: &Setup) -> Vec<String> {
    let mut out = Vec::new();
    let (have, want) = (setup.fitted(), setup.schedule.pulp_probes_min);
    if have < usize::from(want) {
        out.push(format!(
            "{have} pulp probes have readings, the schedule asks for {want}; check that every \
             probe is fitted and recorded"
        ));
    }
    for (i, p) in setup.probes.iter().enumerate().filter(|(_, p)| p.fitted && !p.acceptable) {
        let n = i + 1;
        out.push(match p.calibration {
            None => format!(
                "probe{n} has readings but no slurry reading in the calibration file; calibrate it"
            ),
            Some(_) => format!(
                "probe{n} is not acceptable by its slurry readings; replace it and calibrate again"
            ),
        });
    }
    out
}

fn probe_lines(clock: &Clock) -> Vec<ProbeLine> {
    let setup = &clock.setup;
    let s = &setup.schedule;
    let lines = setup.probes.iter().zip(&clock.state.probes).enumerate();
    lines
        .map(|(i, (p, state))| {
            let span = state.span.filter(|_| p.fitted);
            ProbeLine {
                probe: name(i),
                fitted: p.fitted,
                slurry_mean_c: p.calibration.and_then(|c| celsius_of(c.mean, s.unit)),
                correction_c: correction_k(setup, p),
                acceptable: p.fitted.then_some(p.acceptable),
                max_c: span.and_then(|(_, hi)| p.celsius(hi)),
                min_c: span.and_then(|(lo, _)| p.celsius(lo)),
                margin_k: span.and_then(|(_, hi)| p.margin_k(hi)),
                last_c: state.last_good.and_then(|(_, v)| p.celsius(v)),
                must_comply: p.limits.must_comply,
            }
        })
        .collect()
}

fn correction_k(setup: &Setup, p: &ProbeSetup) -> Option<f64> {
    match (setup.calibrated, p.calibration) {
        (_, Some(c)) => kelvin_of(c.correction, setup.schedule.unit),
        (false, None) if p.fitted => Some(Ratio::ZERO.to_f64()),
        _ => None,
    }
}

fn breach_lines(setup: &Setup, log: &[Breach]) -> Vec<BreachLine> {
    let mut sorted = log.to_vec();
    sorted.sort_by_key(|b| (b.from, b.to, b.kind, b.probe));
    sorted.iter().map(|b| breach_line(setup, b)).collect()
}

fn breach_line(setup: &Setup, b: &Breach) -> BreachLine {
    let probe = b.probe.and_then(|i| setup.probes.get(i));
    let worst_c = match (b.worst, probe) {
        (Some(v), Some(p)) if b.kind == Kind::Step => Some(p.kelvin(v)),
        (Some(v), Some(p)) => p.celsius(v),
        _ => None,
    };
    BreachLine {
        kind: b.kind,
        probe: b.probe.map(name),
        from_at: Utc::from_ms(b.from),
        to_at: Utc::from_ms(b.to),
        worst_c,
        readings: b.readings,
        effect: b.effect,
        rule: setup.schedule.paragraph(b.kind.as_str()).map(str::to_owned),
    }
}

fn name(i: usize) -> String {
    format!("probe{}", i + 1)
}

/// One row of a ledger with what it did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hour {
    /// When.
    pub at: Utc,
    /// False: every probe was abnormal, so this is no reading time.
    pub reading_time: bool,
    /// It lies on a clock: the one that runs, or the planning clock.
    pub counts: bool,
    /// A clock, or a planning clock, started here.
    pub started: bool,
    /// Where the clock stands after it.
    pub phase: Phase,
    /// What was found here: kind, probe name (none for a gap), paragraph of the rule.
    pub found: Vec<(Kind, Option<String>, Option<String>)>,
}

impl Hour {
    pub(crate) fn of(fed: Fed, at: i64, clock: &Clock) -> Self {
        let state = &clock.state;
        let on_a_clock = match state.phase {
            Phase::Running => true,
            Phase::Pending => state.plan.is_some(),
            Phase::Met | Phase::PlanDone => state.end == Some(at),
            Phase::Before | Phase::Waiting | Phase::Cancelled => false,
        };
        let rule = |k: Kind| clock.setup.schedule.paragraph(k.as_str()).map(str::to_owned);
        Self {
            at: Utc::from_ms(at),
            reading_time: fed.reading_time,
            counts: fed.reading_time && on_a_clock,
            started: fed.started,
            phase: fed.phase,
            found: fed.found.each().map(|(k, p)| (k, p.map(name), rule(k))).collect(),
        }
    }
}

fn instant<S: Serializer>(at: &Utc, out: S) -> Result<S::Ok, S::Error> {
    out.collect_str(at)
}

fn maybe_instant<S: Serializer>(at: &Option<Utc>, out: S) -> Result<S::Ok, S::Error> {
    match at {
        Some(at) => out.collect_str(at),
        None => out.serialize_none(),
    }
}

fn kind_word<S: Serializer>(kind: &Kind, out: S) -> Result<S::Ok, S::Error> {
    out.serialize_str(kind.as_str())
}

fn effect_word<S: Serializer>(effect: &Effect, out: S) -> Result<S::Ok, S::Error> {
    out.serialize_str(effect.as_str())
}

fn evidence_word<S: Serializer>(evidence: &Evidence, out: S) -> Result<S::Ok, S::Error> {
    out.serialize_str(evidence.as_str())
}
