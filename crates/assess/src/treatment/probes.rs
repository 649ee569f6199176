//! The probes: how each stands, where it is heading, and the points of the chart.

use box_model::pulp::ProbeCourse;
use record::treatment::{ProbeStanding, TreatmentPoint};
use record::{Channel, Reading};
use treatment::{Answer, Decimal, PROBES, ProbeLine, Row, Schedule, TempUnit};
use units::Utc;

use super::forecast::Probe;
use super::rows::PulpRecord;

/// Past that a course is fitted to, h: long enough for a steady temperature, short enough to
/// forget another set point.
const FIT_H: f64 = 96.0;
/// Past in which the largest step is looked for, h.
const STEPS_H: f64 = 72.0;
/// Spread of a normal distribution's 90 % interval.
const Z90: f64 = 1.645;

fn celsius(value: Decimal, unit: TempUnit) -> f64 {
    match unit {
        TempUnit::C => value.to_f64(),
        TempUnit::F => (value.to_f64() - 32.0) / 1.8,
    }
}

/// A value no sensor in fruit gives is no reading (contract §3.1.4).
fn sane(c: &f64) -> bool {
    (-40.0..=60.0).contains(c)
}

/// One probe's own values by hours before its latest row.
fn series(rows: &[Row], index: usize, unit: TempUnit, back_h: f64) -> Vec<(f64, f64)> {
    let Some(last) = rows.last().map(|r| r.at) else {
        return Vec::new();
    };
    let recent = rows.iter().filter(|r| last.hours_since(r.at) <= back_h);
    let value = |r: &Row| {
        let c = r.probes.get(index).copied().flatten().map(|d| celsius(d, unit)).filter(sane)?;
        Some((r.at.hours_since(last), c))
    };
    recent.filter_map(value).collect()
}

/// Courses of the fitted probes.
pub(super) fn courses(pulp: &PulpRecord, set_c: f64) -> Vec<Probe> {
    let mut out = Vec::new();
    for (index, unit) in pulp.units.into_iter().enumerate().take(PROBES) {
        let past = series(&pulp.rows, index, unit, FIT_H);
        if let Some(course) = ProbeCourse::fit(&past, set_c) {
            out.push(Probe { index, course, unit });
        }
    }
    out
}

/// How each probe stands.
pub(super) fn standings(
    s: &Schedule,
    a: &Answer,
    pulp: &PulpRecord,
    set_c: Option<f64>,
) -> Vec<ProbeStanding> {
    let limit_c = celsius(s.excursion_over(), s.unit);
    let set_c = set_c.unwrap_or(limit_c - 0.7);
    let lines = a.probes.iter().enumerate().zip(pulp.units);
    lines.map(|((i, p), unit)| standing(i, p, unit, pulp, limit_c, set_c)).collect()
}

fn standing(
    index: usize,
    p: &ProbeLine,
    unit: TempUnit,
    pulp: &PulpRecord,
    limit_c: f64,
    set_c: f64,
) -> ProbeStanding {
    let correction = p.correction_c.unwrap_or(0.0);
    let past = series(&pulp.rows, index, unit, FIT_H);
    let latest_c = past.last().map(|(_, c)| c + correction);
    let heading = ProbeCourse::fit(&past, set_c).map(|c| c.steady());
    let largest = past
        .windows(2)
        .filter_map(|w| match w {
            [a, b] if a.0 >= -STEPS_H => Some((b.1 - a.1).abs()),
            _ => None,
        })
        .reduce(f64::max);
    ProbeStanding {
        number: u8::try_from(index + 1).unwrap_or(u8::MAX),
        fitted: p.fitted,
        slurry_mean_c: p.slurry_mean_c,
        correction_k: p.correction_c,
        acceptable: p
            .acceptable
            .filter(|_| p.slurry_mean_c.is_some() || p.acceptable == Some(false)),
        latest_c,
        margin_k: latest_c.map(|c| limit_c - c),
        max_c: p.max_c,
        min_c: p.min_c,
        heading_c: heading.map(|(c, _)| c + correction),
        heading_c_p90: heading
            .map(|(c, sd)| [c + correction - Z90 * sd, c + correction + Z90 * sd]),
        largest_step_k: largest,
    }
}

/// The record for the chart: corrected pulp, and the supply air beside it.
pub(super) fn points(readings: &[Reading], a: &Answer, pulp: &PulpRecord) -> Vec<TreatmentPoint> {
    let corrections: Vec<f64> = a.probes.iter().map(|p| p.correction_c.unwrap_or(0.0)).collect();
    let of_recorder = |r: &&Reading| pulp.recorders.contains(&r.source);
    let mut out: Vec<TreatmentPoint> = readings
        .iter()
        .filter(of_recorder)
        .map(|r| {
            let mut probes_c = [None; PROBES];
            for ((slot, channel), k) in probes_c.iter_mut().zip(Channel::PROBES).zip(&corrections) {
                *slot = r.get(channel).filter(sane).map(|c| c + k);
            }
            TreatmentPoint { at: r.at, probes_c, supply_c: r.sane_c(Channel::Supply) }
        })
        .collect();
    out.sort_by_key(|p| p.at);
    out
}

/// Mean supply air of the last three days outside defrost, °C.
pub(super) fn mean_supply_c(readings: &[Reading], as_of: Utc) -> Option<f64> {
    let recent = readings.iter().filter(|r| {
        r.at <= as_of
            && as_of.hours_since(r.at) <= STEPS_H
            && r.mode != Some(record::reading::Mode::Defrost)
    });
    let (mut sum, mut n) = (0.0, 0.0);
    for c in recent.filter_map(|r| r.sane_c(Channel::Supply)) {
        sum += c;
        n += 1.0;
    }
    (n >= 3.0).then(|| sum / n)
}
