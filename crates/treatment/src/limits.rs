//! A schedule, the probes' corrections and the file's units turned into whole numbers of raw
//! steps, once, so that each reading costs a few integer comparisons and none of them rounds.

use std::sync::Arc;

use crate::PROBES;
use crate::calibration::{Calibration, Judged};
use crate::days::Required;
use crate::decision::Decision;
use crate::exact::{Decimal, RAW_PER_DEGREE, Ratio};
use crate::schedule::{Schedule, TempUnit};

/// Raw range outside which a value is no reading: −40 to +60 °C (contract 3.1.4).
pub(crate) fn normal(unit: TempUnit) -> (i64, i64) {
    let degrees = match unit {
        TempUnit::C => (-40, 60),
        TempUnit::F => (-40, 140),
    };
    let one = RAW_PER_DEGREE as i64;
    (degrees.0 * one, degrees.1 * one)
}

/// Limits of one probe in raw steps of its column. `hi` complies itself, `lo` too.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct ProbeLimits {
    pub(crate) normal_lo: i64,
    pub(crate) normal_hi: i64,
    pub(crate) start_hi: i64,
    pub(crate) start_lo: i64,
    pub(crate) hold_hi: i64,
    /// Above it is an excursion.
    pub(crate) over_hi: i64,
    /// Below it is cold.
    pub(crate) cold_lo: i64,
    pub(crate) soft_hi: i64,
    pub(crate) hard_hi: i64,
    pub(crate) step: i64,
    pub(crate) must_comply: bool,
}

/// One probe: how raw steps become degrees, and its limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct ProbeSetup {
    pub(crate) fitted: bool,
    pub(crate) calibration: Option<Judged>,
    pub(crate) acceptable: bool,
    pub(crate) limits: ProbeLimits,
    /// Raw steps in °C, corrected; `None` when the correction is not known.
    celsius: Option<Line>,
    /// Kelvin of one degree of the column.
    kelvin: Line,
    /// Where its excursions begin, °C.
    over_c: Ratio,
}

/// (raw · a + b) / d, for figures that are shown: worked out once, for each answer needs many.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Line {
    a: i128,
    b: i128,
    d: i128,
}

impl Line {
    /// raw / 10^12 · scale + offset.
    fn new(scale: Ratio, offset: Ratio) -> Option<Self> {
        let ((sn, sd), (on, od)) = (scale.parts(), offset.parts());
        let d = RAW_PER_DEGREE.checked_mul(sd)?.checked_mul(od)?;
        let b = on.checked_mul(sd)?.checked_mul(RAW_PER_DEGREE)?;
        Some(Self { a: sn.checked_mul(od)?, b, d })
    }

    fn at(self, raw: i64) -> f64 {
        let num = i128::from(raw).saturating_mul(self.a).saturating_add(self.b);
        Ratio::rounded(num, self.d)
    }
}

/// Everything about a check that does not change from reading to reading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Setup {
    pub(crate) schedule: Arc<Schedule>,
    pub(crate) calibrated: bool,
    pub(crate) probes: [ProbeSetup; PROBES],
    pub(crate) required: Required,
    pub(crate) gap_max_ms: i64,
    pub(crate) fault_max_ms: i64,
    pub(crate) startable: bool,
    pub(crate) decisions: Vec<Decision>,
}

impl Setup {
    /// Prepares a check. `units` are those of the probe columns, `fitted` the probes with a value
    /// anywhere in the file. `None` only where numbers are too long to be kept exactly.
    #[must_use]
    pub fn new(
        schedule: &Arc<Schedule>,
        calibration: Option<&Calibration>,
        units: [TempUnit; PROBES],
        fitted: [bool; PROBES],
    ) -> Option<Self> {
        let mut must = usize::from(schedule.pulp_probes_min);
        if schedule.extra_probes_must_comply {
            must = PROBES;
        }
        let mut probes = Vec::with_capacity(PROBES);
        for (i, (unit, fitted)) in units.into_iter().zip(fitted).enumerate() {
            let must_comply = fitted && must > 0;
            must -= usize::from(must_comply);
            let judged = calibration.and_then(|c| c.judge(i, schedule));
            let missing = calibration.is_some() && judged.is_none();
            if missing && calibration.is_some_and(|c| c.has(i + 1)) {
                return None;
            }
            let correction = match (missing, judged) {
                (true, _) => None,
                (false, None) => Some(Ratio::ZERO),
                (false, Some(j)) => Some(j.correction),
            };
            let (scale, shift) = unit.conversion(schedule.unit);
            let offset = match correction {
                None => None,
                Some(c) => Some(shift.add(c)?),
            };
            let limits = limits(schedule, unit, scale, offset.unwrap_or(shift), must_comply)?;
            let acceptable = judged.map_or(!missing, |j| j.acceptable);
            let (to_c, ice_c) = schedule.unit.conversion(TempUnit::C);
            let celsius = match offset {
                None => None,
                Some(o) => Some(Line::new(scale.mul(to_c)?, o.mul(to_c)?.add(ice_c)?)?),
            };
            let kelvin = Line::new(scale.mul(to_c)?, Ratio::ZERO)?;
            let over_c = schedule.excursion_over().ratio().mul(to_c)?.add(ice_c)?;
            probes.push(ProbeSetup {
                fitted,
                calibration: judged,
                acceptable,
                limits,
                celsius,
                kelvin,
                over_c,
            });
        }
        let ms = |d: Decimal, per: i128| d.ratio().mul(Ratio::whole(per));
        let gap = ms(schedule.gap_max_minutes, 60_000)?.add(ms(schedule.gap_jitter_s, 1000)?)?;
        let mut out = Self {
            schedule: Arc::clone(schedule),
            calibrated: calibration.is_some(),
            probes: probes.try_into().ok()?,
            required: Required::of(schedule)?,
            gap_max_ms: i64::try_from(gap.floor()).ok()?,
            fault_max_ms: i64::try_from(ms(schedule.fault_hours, 3_600_000)?.floor()).ok()?,
            startable: false,
            decisions: Vec::new(),
        };
        let enough = out.fitted() >= usize::from(schedule.pulp_probes_min);
        out.startable = enough && out.probes.iter().all(|p| !p.fitted || p.acceptable);
        Some(out)
    }

    /// The same with an official's decisions, in the order they were taken.
    #[must_use]
    pub fn with_decisions(mut self, decisions: &[Decision]) -> Self {
        self.decisions = decisions.to_vec();
        // A later decision supersedes an earlier one; of two of one instant the later in the list.
        self.decisions.sort_by_key(|d| d.decided_at);
        self
    }

    /// Probes with a value in the file.
    #[must_use]
    pub fn fitted(&self) -> usize {
        self.probes.iter().filter(|p| p.fitted).count()
    }

    /// Enough probes, all of them acceptable (contract 3.1.2).
    #[must_use]
    pub fn startable(&self) -> bool {
        self.startable
    }
}

fn limits(
    s: &Schedule,
    unit: TempUnit,
    scale: Ratio,
    offset: Ratio,
    must_comply: bool,
) -> Option<ProbeLimits> {
    // raw · scale + offset <= limit, solved for raw.
    let solved = |limit: Decimal| {
        let raw = limit.ratio().sub(offset)?.div(scale)?;
        raw.mul(Ratio::whole(RAW_PER_DEGREE))
    };
    let upper = |limit: Decimal| Some(saturate(solved(limit)?.floor()));
    let lower = |limit: Option<Decimal>| match limit {
        None => Some(i64::MIN),
        Some(l) => Some(saturate(solved(l)?.ceil())),
    };
    let (normal_lo, normal_hi) = normal(unit);
    let (soft_hi, hard_hi) = match s.extension() {
        None => (i64::MAX, i64::MAX),
        Some(e) => (upper(e.soft_max)?, upper(e.hard_max)?),
    };
    let step = match s.step_max {
        None => i64::MAX,
        Some(max) => {
            let raw = max.ratio().div(scale)?.mul(Ratio::whole(RAW_PER_DEGREE))?;
            saturate(raw.floor())
        }
    };
    Some(ProbeLimits {
        normal_lo,
        normal_hi,
        start_hi: upper(s.start_max)?,
        start_lo: lower(s.start_min())?,
        hold_hi: upper(s.hold_max)?,
        over_hi: upper(s.excursion_over())?,
        cold_lo: lower(s.hold_min)?,
        soft_hi,
        hard_hi,
        step,
        must_comply,
    })
}

fn saturate(v: i128) -> i64 {
    i64::try_from(v).unwrap_or(if v < 0 { i64::MIN } else { i64::MAX })
}

impl ProbeSetup {
    /// A raw value in °C, corrected. `None` when the correction is not known.
    pub(crate) fn celsius(&self, raw: i64) -> Option<f64> {
        self.celsius.map(|line| line.at(raw))
    }

    /// A raw difference in kelvin.
    pub(crate) fn kelvin(&self, raw: i64) -> f64 {
        self.kelvin.at(raw)
    }

    /// How far a raw value lies below where excursions begin, kelvin; negative above.
    pub(crate) fn margin_k(&self, raw: i64) -> Option<f64> {
        let line = self.celsius?;
        let (n, d) = self.over_c.parts();
        let num = i128::from(raw).saturating_mul(line.a).saturating_add(line.b);
        let over = n.checked_mul(line.d)?.checked_sub(num.checked_mul(d)?)?;
        Some(Ratio::rounded(over, line.d.checked_mul(d)?))
    }
}

/// A value in the schedule's unit, in °C.
pub(crate) fn celsius_of(value: Ratio, unit: TempUnit) -> Option<f64> {
    let (a, b) = unit.conversion(TempUnit::C);
    Some(a.mul(value)?.add(b)?.to_f64())
}

/// A difference in the schedule's unit, in kelvin.
pub(crate) fn kelvin_of(value: Ratio, unit: TempUnit) -> Option<f64> {
    let (a, _) = unit.conversion(TempUnit::C);
    Some(a.mul(value)?.to_f64())
}
