//! The recorder's hourly record, taken out of everything that was read of a box.

use std::collections::BTreeMap;
use std::sync::Arc;

use record::{Channel, Reading};
use treatment::{Decimal, PROBES, Row, Schedule, TempUnit};
use units::Utc;

/// What was read of the pulp.
pub(super) struct PulpRecord {
    /// Rows of the recorder, by time.
    pub(super) rows: Vec<Row>,
    /// Unit of each probe column.
    pub(super) units: [TempUnit; PROBES],
    /// Rows with a probe read that are no recorder's (rounds).
    pub(super) round_rows: usize,
    /// Of those, the latest.
    pub(super) last_round_at: Option<Utc>,
    /// Sources taken for recorders.
    pub(super) recorders: Vec<Arc<str>>,
}

/// A source is a recorder when the usual time between its readings is no longer than the rule
/// allows. Rounds twice a day can never be that (reference: 7 CFR 305.6(d)(11) asks for readings
/// no more than an hour apart; that the crew's log cannot stand for them is our inference).
pub(super) fn pulp_record(
    readings: &[Reading],
    schedule: &Schedule,
    from: Option<Utc>,
) -> PulpRecord {
    let counted = readings.iter().filter(|r| from.is_none_or(|f| r.at >= f) && has_probe(r));
    let mut by_source: BTreeMap<Arc<str>, Vec<&Reading>> = BTreeMap::new();
    for r in counted {
        by_source.entry(r.source.clone()).or_default().push(r);
    }
    let allowed_h =
        (schedule.gap_max_minutes.to_f64() + schedule.gap_jitter_s.to_f64() / 60.0) / 60.0;
    let (mut rows, mut recorders) = (Vec::new(), Vec::new());
    let (mut round_rows, mut last_round_at) = (0, None);
    let kept: Vec<(&Arc<str>, &Vec<&Reading>)> = by_source.iter().collect();
    let mut of_recorders: Vec<&Reading> = Vec::new();
    for (source, list) in kept {
        if usual_interval_h(list).is_some_and(|h| h <= allowed_h) {
            recorders.push(source.clone());
            of_recorders.extend(list.iter().copied());
        } else {
            round_rows += list.len();
            last_round_at = last_round_at.max(list.last().map(|r| r.at));
        }
    }
    let units = units_of(&of_recorders);
    for r in of_recorders {
        rows.push(Row { at: r.at, probes: cells(r, units) });
    }
    rows.sort_by_key(|r| r.at);
    PulpRecord { rows, units, round_rows, last_round_at, recorders }
}

fn has_probe(r: &Reading) -> bool {
    Channel::PROBES.iter().any(|c| r.get(*c).is_some())
}

/// The middle one of the times between neighbouring readings.
fn usual_interval_h(list: &[&Reading]) -> Option<f64> {
    let mut steps: Vec<f64> = list
        .windows(2)
        .filter_map(|w| match w {
            [a, b] => Some(b.at.hours_since(a.at)).filter(|h| *h > 0.0),
            _ => None,
        })
        .collect();
    steps.sort_by(f64::total_cmp);
    steps.get(steps.len() / 2).copied()
}

/// A probe that was ever recorded in °F is kept in °F: every °C reading is an exact °F figure,
/// not the other way round.
fn units_of(readings: &[&Reading]) -> [TempUnit; PROBES] {
    let mut out = [TempUnit::C; PROBES];
    for r in readings.iter().filter(|r| r.raw.is_some()) {
        for (slot, c) in out.iter_mut().zip(Channel::PROBES) {
            if fahrenheit_text(r, c).is_some() {
                *slot = TempUnit::F;
            }
        }
    }
    out
}

/// A channel's text as written in °F, where it was.
fn fahrenheit_text(r: &Reading, c: Channel) -> Option<&str> {
    let name = format!("{}_f", c.stem());
    r.raw.as_deref()?.split(';').find_map(|pair| {
        let (key, value) = pair.split_once('=')?;
        (key == name).then_some(value)
    })
}

fn cells(r: &Reading, units: [TempUnit; PROBES]) -> [Option<Decimal>; PROBES] {
    let mut out = [None; PROBES];
    for ((slot, c), unit) in out.iter_mut().zip(Channel::PROBES).zip(units) {
        let Some(value_c) = r.get(c) else { continue };
        *slot = match (unit, fahrenheit_text(r, c)) {
            (TempUnit::F, Some(text)) => Decimal::parse(text).ok(),
            (TempUnit::F, None) => in_fahrenheit(value_c),
            (TempUnit::C, _) => Decimal::from_f64(value_c),
        };
    }
    out
}

/// A °C decimal as the exact °F decimal: × 1.8 + 32.
fn in_fahrenheit(value_c: f64) -> Option<Decimal> {
    let text = format!("{value_c}");
    let (whole, part) = text.split_once('.').unwrap_or((&text, ""));
    let digits: i64 = format!("{whole}{part}").parse().ok()?;
    let scale = u8::try_from(part.len() + 1).ok()?;
    let ice = 32i64.checked_mul(10i64.checked_pow(u32::from(scale))?)?;
    Decimal::new(digits.checked_mul(18)?.checked_add(ice)?, scale)
}

#[cfg(test)]
mod tests {
    use super::*;
    use record::UnitId;

    /// 1.1 °C is 33.98 °F, −0.5 °C is 31.1 °F (definition of the scale).
    #[test]
    fn celsius_becomes_exact_fahrenheit() {
        assert_eq!(in_fahrenheit(1.1), Decimal::parse("33.98").ok());
        assert_eq!(in_fahrenheit(-0.5), Decimal::parse("31.1").ok());
        assert_eq!(in_fahrenheit(0.0), Decimal::parse("32").ok());
    }

    fn reading(hour: f64, source: &str) -> Reading {
        let unit = UnitId::from_text("QQQU1000011").unwrap();
        let at = Utc::from_ms(1_773_000_000_000).plus_hours(hour);
        let mut r = Reading::new(unit, at, source.into());
        r.set(Channel::Probe1, 0.9);
        r
    }

    #[test]
    fn rounds_are_no_recorder() {
        let schedule = Schedule::from_toml(
            "id='x'\ntitle='x'\nsource='x'\nevidence='unverified'\nunit='c'\nhold_max=1.0\n\
             days=1\npulp_probes_min=1\nextra_probes_must_comply=true\ngap_max_minutes=60\n\
             gap_jitter_s=0\ncalibration_correction=true\non_excursion='restart'\n\
             on_step='warn'\non_gap='warn'\non_fault='warn'\nfault_hours=0\n",
            "x.toml",
        )
        .unwrap();
        let mut readings: Vec<Reading> = (0..30).map(|h| reading(f64::from(h), "logger")).collect();
        readings.extend((0..3).map(|n| reading(12.0 * f64::from(n) + 0.3, "round")));
        let all = pulp_record(&readings, &schedule, None);
        assert_eq!((all.rows.len(), all.round_rows, all.recorders.len()), (30, 3, 1));
        let rounds = pulp_record(&readings[30..], &schedule, None);
        assert_eq!((rounds.rows.len(), rounds.round_rows), (0, 3));
    }
}
