//! Ice-point checks: what the readings say, how far an instrument has moved, what is due.
//!
//! The correction is the exact arithmetic of the treatments (`treatment::ice_point`). Its 90 %
//! interval is the method of the Guide to the expression of uncertainty in measurement (JCGM
//! 100:2008): spread of the mean (4.2.3), step of the display as a rectangle (F.2.2.1), ice point
//! as made on board, combined as a root of squares, Student's t for the effective degrees of
//! freedom (G.4.1, cut to the next whole number below).

use record::calibration::{Drift, Due, IcePoint, OnDay};
use record::instrument::{Instrument, InstrumentFile, day};
use treatment::{Decimal, TempUnit, ice_point as exact};
use units::Utc;
use units::math::{round_to, sqrt};

/// Standard uncertainty of an ice point made with care, K: the upper end of what is told of it
/// (0.002 to 0.01 K; from memory, unverified).
const ICE_U_K: f64 = 0.01;
/// Two-sided 90 % of a normal distribution.
const NORMAL_90: f64 = 1.645;
/// Student's t, two-sided 90 %, by degrees of freedom (JCGM 100:2008, table G.2).
const T_90: [(usize, f64); 26] = [
    (1, 6.31),
    (2, 2.92),
    (3, 2.35),
    (4, 2.13),
    (5, 2.02),
    (6, 1.94),
    (7, 1.89),
    (8, 1.86),
    (9, 1.83),
    (10, 1.81),
    (11, 1.80),
    (12, 1.78),
    (13, 1.77),
    (14, 1.76),
    (15, 1.75),
    (16, 1.75),
    (17, 1.74),
    (18, 1.73),
    (19, 1.73),
    (20, 1.72),
    (25, 1.71),
    (30, 1.70),
    (40, 1.68),
    (45, 1.68),
    (50, 1.68),
    (100, 1.66),
];
/// Readings that a draft code of practice of 2007 asks for at least.
const READINGS_LEAST: usize = 4;
/// Off the ice point by so much, K, a hand thermometer is outside what that draft allows.
const HAND_K: f64 = 0.2;
/// Colder than this no slurry of fresh water is; salt water may be.
const SALT_C: f64 = -0.5;
/// Checks closer together than this, days, say nothing about a year.
const YEAR_FROM_DAYS: f64 = 28.0;
const DAYS_A_YEAR: f64 = 365.25;
/// "Soon", days.
const SOON_DAYS: i64 = 30;
const DAY_MS: i64 = 86_400_000;

/// What readings in ice say of a thermometer. Its display shows at least `decimals` decimals,
/// whatever is written of them.
///
/// # Errors
/// In words: a reading that is no plain decimal or no reading in ice, or none at all.
pub fn ice_point(
    readings: &[String],
    fahrenheit: bool,
    decimals: usize,
) -> Result<IcePoint, String> {
    let unit = if fahrenheit { TempUnit::F } else { TempUnit::C };
    let read = |r: &String| Decimal::parse(r).map_err(|e| format!("reading \"{r}\" {e}"));
    let list: Vec<Decimal> = readings.iter().map(read).collect::<Result<_, _>>()?;
    let (mean_c, correction_k) = exact(&list, unit)
        .map_err(|e| {
            let bad = readings.iter().zip(&list).find(|(_, d)| exact(&[**d], unit).is_err());
            format!("reading \"{}\" {e}", bad.map_or("", |(r, _)| r.as_str()))
        })?
        .ok_or("there is no reading; write what was shown in the ice")?;
    let per_step = if fahrenheit { 5.0 / 9.0 } else { 1.0 };
    let values: Vec<f64> = list.iter().map(|d| d.to_f64() * per_step).collect();
    let step_k = step(readings, decimals) * per_step;
    let spread_k = spread(&values);
    let correction_p90 = spread_k.map(|s| {
        let half = half_width(s, values.len(), step_k);
        [round_to(correction_k - half, 4), round_to(correction_k + half, 4)]
    });
    Ok(IcePoint {
        count: list.len(),
        mean_c: round_to(mean_c, 6),
        correction_k: round_to(correction_k, 6),
        correction_p90,
        spread_k: spread_k.map(|s| round_to(s, 4)),
        step_k: round_to(step_k, 6),
        remarks: remarks(list.len(), mean_c, spread_k, step_k),
    })
}

fn remarks(count: usize, mean_c: f64, spread_k: Option<f64>, step_k: f64) -> Vec<String> {
    let mut out = Vec::new();
    if count < READINGS_LEAST {
        out.push(format!(
            "{count} of {READINGS_LEAST} readings: a draft code of practice (2007) asks for slurry \
             stood 10 min, read each minute until steady, at least {READINGS_LEAST} readings."
        ));
    }
    if spread_k.is_some_and(|s| s > 2.0 * step_k && s > 0.05) {
        out.push("The readings are not steady: stir, pack the ice, wait, and read again.".into());
    }
    if mean_c < SALT_C {
        out.push(
            "Far below the ice point: salt in the water does that (sea-water ice down to −1.9 °C; \
             from memory, unverified). Use fresh water and its ice before the instrument is blamed."
                .into(),
        );
    } else if mean_c.abs() > HAND_K + 1e-9 {
        out.push(
            "Off the ice point by more than 0.2 K, which the draft code of practice (2007) allows \
             a hand thermometer. A treatment's own rule says what a pulp probe may be off."
                .into(),
        );
    }
    out
}

/// The step of the display, in the unit read, by the most decimals written, or those it is known
/// to have.
fn step(readings: &[String], decimals: usize) -> f64 {
    let written = |r: &String| r.trim().split_once('.').map_or(0, |(_, part)| part.len());
    let most = readings.iter().map(written).max().unwrap_or(0).clamp(decimals.min(12), 12);
    (0..most).fold(1.0, |step, _| step / 10.0)
}

/// Standard deviation of a sample; `None` of fewer than two values.
fn spread(values: &[f64]) -> Option<f64> {
    if values.len() < 2 {
        return None;
    }
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|v| (v - mean) * (v - mean)).sum();
    Some(sqrt(squares / (n - 1.0)))
}

/// Half the 90 % interval of a correction from `count` readings.
fn half_width(spread_k: f64, count: usize, step_k: f64) -> f64 {
    let of_mean = spread_k * spread_k / count as f64;
    let whole = of_mean + step_k * step_k / 12.0 + ICE_U_K * ICE_U_K;
    // Welch and Satterthwaite; step and ice are taken to be known well.
    let freedom = if of_mean > 0.0 {
        whole * whole / (of_mean * of_mean / (count.max(2) - 1) as f64)
    } else {
        f64::INFINITY
    };
    student_90(freedom) * sqrt(whole)
}

/// Student's t for a two-sided 90 %, at the tabulated freedom below.
fn student_90(freedom: f64) -> f64 {
    if freedom > 1000.0 {
        return NORMAL_90;
    }
    let below = T_90.iter().rev().find(|(f, _)| *f as f64 <= freedom + 1e-9);
    below.or(T_90.first()).map_or(NORMAL_90, |(_, t)| *t)
}

/// How far readings in ice moved from one check to a later one.
#[must_use]
pub fn drift(before: (Utc, &IcePoint), now: (Utc, &IcePoint)) -> Drift {
    let days = now.0.hours_since(before.0) / 24.0;
    let drift_k = now.1.mean_c - before.1.mean_c;
    let half = |p: &IcePoint| p.correction_p90.map(|[low, high]| (high - low) / 2.0);
    let half = match (half(before.1), half(now.1)) {
        (Some(a), Some(b)) => Some(sqrt(a * a + b * b)),
        _ => None,
    };
    let around = |v: f64, scale: f64| half.map(|h| [v - h * scale, v + h * scale].map(r4));
    let scale = (days >= YEAR_FROM_DAYS).then(|| DAYS_A_YEAR / days);
    Drift {
        since: before.0,
        days: round_to(days, 2),
        drift_k: r4(drift_k),
        drift_p90: around(drift_k, 1.0),
        per_year_k: scale.map(|s| r4(drift_k * s)),
        per_year_p90: scale.and_then(|s| around(drift_k * s, s)),
    }
}

fn r4(v: f64) -> f64 {
    round_to(v, 4)
}

/// The day on which an instrument's certificate falls due: as stated, or its date and interval.
#[must_use]
pub fn certificate_due(i: &Instrument) -> Option<Utc> {
    let stated = i.due.as_deref().and_then(day);
    stated.or_else(|| months_after(i.dated.as_deref()?, i.every_months?))
}

/// The day so many months after `text`; the last of the month where it has no such day.
fn months_after(text: &str, months: u32) -> Option<Utc> {
    let (year, month, at, ..) = day(text)?.civil();
    let whole = i64::from(month) - 1 + i64::from(months);
    let (year, month) = (i64::from(year) + whole / 12, whole % 12 + 1);
    (0..4).find_map(|back| day(&format!("{year:04}-{month:02}-{:02}", at - back)))
}

/// How a due date stands. A day counts as whole: nothing is overdue on the day itself.
#[must_use]
pub fn due(at: Option<Utc>, now: Utc) -> Due {
    let Some(at) = at else { return Due::NotStated };
    let days = at.ms().div_euclid(DAY_MS) - now.ms().div_euclid(DAY_MS);
    match days {
        d if d < 0 => Due::Overdue { at, days: -d },
        d if d <= SOON_DAYS => Due::Soon { at, days: d },
        d => Due::Later { at, days: d },
    }
}

/// How something due at an instant, not a day, stands.
#[must_use]
pub fn due_at_instant(at: Utc, now: Utc, soon_h: f64) -> Due {
    let hours = at.hours_since(now);
    let days = (hours.abs() / 24.0) as i64;
    match hours {
        h if h < 0.0 => Due::Overdue { at, days },
        h if h <= soon_h => Due::Soon { at, days },
        _ => Due::Later { at, days },
    }
}

/// The certificate that held on a day: the youngest dated that day or before. A statement without
/// a date stands for the time from its entry on.
#[must_use]
pub fn certificate_on(file: &InstrumentFile, at: Utc) -> (OnDay, Option<&Instrument>) {
    let end_of_day = at.ms().div_euclid(DAY_MS).saturating_add(1).saturating_mul(DAY_MS);
    let has = |i: &Instrument| !i.certificate.is_empty() || i.dated.is_some();
    let known = file.stated.iter().filter(|s| has(&s.instrument)).filter_map(|s| {
        let from = s.instrument.dated.as_deref().and_then(day).unwrap_or(s.entered_at);
        (from.ms() < end_of_day).then_some((from, &s.instrument))
    });
    // Of two statements of one date the later one counts.
    let Some((_, held)) = known.fold(None, |best: Option<(Utc, &Instrument)>, next| match best {
        Some(b) if b.0 > next.0 => Some(b),
        _ => Some(next),
    }) else {
        return (OnDay::NoCertificate, file.stated.last().map(|s| &s.instrument));
    };
    let state = match certificate_due(held) {
        None => OnDay::NoDueDate,
        Some(d) => match due(Some(d), at) {
            Due::Overdue { .. } => OnDay::OutOfDate(d),
            _ => OnDay::InDate,
        },
    };
    (state, Some(held))
}

#[cfg(test)]
mod tests {
    use super::*;
    use record::instrument::{InstrumentKind, Stated};

    fn read(readings: &[&str], fahrenheit: bool) -> IcePoint {
        let all: Vec<String> = readings.iter().map(|r| (*r).to_owned()).collect();
        ice_point(&all, fahrenheit, 0).unwrap()
    }

    /// The worked example of JCGM 100:2008, 4.4.3, table 1: twenty readings of a temperature have
    /// the mean 100.145 °C, the standard deviation 1.489 °C, and that of the mean is 0.333 °C.
    #[test]
    fn spread_of_the_guides_example() {
        let t = [
            96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42,
            100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
        ];
        let s = spread(&t).unwrap();
        assert!((t.iter().sum::<f64>() / 20.0 - 100.145).abs() < 1e-9);
        assert!((s - 1.489).abs() < 5e-4, "{s}");
        assert!((s / 20f64.sqrt() - 0.333).abs() < 5e-4);
    }

    /// Contract 3: correction = ice point − mean slurry reading, never rounded down; its example
    /// of slurry 0.0, 0.0, 0.1 gives −1/30 K (1.7 °C raw is then 1.6667 °C).
    #[test]
    fn correction_of_the_contracts_example() {
        let p = read(&["0.0", "0.0", "0.1"], false);
        assert!((p.correction_k + 1.0 / 30.0).abs() < 1e-6);
        assert!((1.7 + p.correction_k - 1.6667).abs() < 5e-5);
        let f = read(&["32.0", "32.0", "32.18"], true);
        assert!((f.correction_k - p.correction_k).abs() < 1e-6);
        assert!((p.spread_k.unwrap() - 0.057_735).abs() < 1e-4);
    }

    /// By hand from JCGM 100:2008: s²/n = 1.111e-3, step² / 12 = 8.333e-4, ice 1e-4, together
    /// 2.044e-3; effective freedom 2.044e-3² / (1.111e-3² / 2) = 6.77, cut to 6: t = 1.94.
    #[test]
    fn interval_by_hand() {
        let p = read(&["0.0", "0.0", "0.1"], false);
        let [low, high] = p.correction_p90.unwrap();
        let half = 1.94 * (0.057_735_f64.powi(2) / 3.0 + 0.01 / 12.0 + 1e-4).sqrt();
        assert!(((high - low) / 2.0 - half).abs() < 2e-4, "{low} {high} {half}");
        // Equal readings: the step of the display is what is left, not certainty.
        let same = read(&["0.1", "0.1", "0.1", "0.1"], false);
        let [low, high] = same.correction_p90.unwrap();
        let half = 1.645 * (0.01_f64 / 12.0 + 1e-4).sqrt();
        assert!(((high - low) / 2.0 - half).abs() < 2e-4);
        assert_eq!(same.remarks, Vec::<String>::new());
        // A pulp probe's record is to one decimal though the file that brought it says "0".
        let plain = vec!["0".to_owned(); 3];
        assert_eq!(ice_point(&plain, false, 1).unwrap().step_k, 0.1);
        // One reading: no interval, and it is said.
        let one = read(&["0.1"], false);
        assert_eq!((one.correction_p90, one.remarks.len()), (None, 1));
    }

    /// Each tabulated t holds 90 % of Student's distribution, by Simpson's rule on its density.
    #[test]
    fn student_table_holds_ninety_in_a_hundred() {
        for (freedom, t) in T_90 {
            let nu = freedom as f64;
            let density = |x: f64| (1.0 + x * x / nu).powf(-(nu + 1.0) / 2.0);
            let area = |to: f64, n: usize| {
                let h = to / n as f64;
                let inner: f64 = (1..n)
                    .map(|k| density(k as f64 * h) * if k % 2 == 1 { 4.0 } else { 2.0 })
                    .sum();
                h / 3.0 * (density(0.0) + inner + density(to))
            };
            // The whole by x = tan(u): ∫ cos(u)^(nu − 1) du / sqrt(nu) over a quarter turn.
            let n = 2000;
            let h = std::f64::consts::FRAC_PI_2 / n as f64;
            let f = |u: f64| u.cos().powf(nu - 1.0);
            let inner: f64 =
                (1..n).map(|k| f(k as f64 * h) * if k % 2 == 1 { 4.0 } else { 2.0 }).sum();
            let end = if freedom == 1 { 1.0 } else { 0.0 };
            let whole = nu.sqrt() * h / 3.0 * (1.0 + inner + end);
            let share = area(t, 4000) / whole;
            assert!((share - 0.90).abs() < 2.5e-3, "{freedom}: {share}");
        }
    }

    #[test]
    fn what_is_no_reading_in_ice_is_refused() {
        for bad in ["", "x", "1e2", "99", "-60", "nan"] {
            assert!(ice_point(&[bad.to_owned()], false, 0).is_err(), "{bad}");
        }
        assert!(ice_point(&[], false, 0).unwrap_err().contains("no reading"));
        // Sea-water ice is far off, and the remark says so before the instrument is blamed.
        assert!(read(&["-1.8", "-1.8", "-1.8", "-1.8"], false).remarks[0].contains("salt"));
        assert!(read(&["0.3", "0.3", "0.3", "0.3"], false).remarks[0].contains("0.2 K"));
        assert!(read(&["0.2", "0.2", "0.2", "0.2"], false).remarks.is_empty());
    }

    #[test]
    fn drift_has_its_sign_and_its_year() {
        let at = |t: &str| Utc::parse(t).unwrap();
        let then = read(&["0.0", "0.0", "0.0", "0.0"], false);
        let now = read(&["0.1", "0.1", "0.1", "0.1"], false);
        let d = drift((at("2025-03-01 00:00"), &then), (at("2026-03-01 00:00"), &now));
        assert!((d.drift_k - 0.1).abs() < 1e-9 && (d.per_year_k.unwrap() - 0.1).abs() < 1e-3);
        let near = drift((at("2026-02-20 00:00"), &then), (at("2026-03-01 00:00"), &now));
        assert_eq!(near.per_year_k, None);
    }

    #[test]
    fn due_dates() {
        let now = Utc::parse("2026-03-01 14:00").unwrap();
        let on = |d: &str| due(day(d), now);
        assert_eq!(on("2026-03-01").as_str(), "soon");
        assert!(matches!(on("2026-02-28"), Due::Overdue { days: 1, .. }));
        assert!(matches!(on("2026-03-31"), Due::Soon { days: 30, .. }));
        assert!(matches!(on("2026-04-01"), Due::Later { days: 31, .. }));
        assert_eq!(due(None, now), Due::NotStated);
        assert_eq!(months_after("2025-11-30", 3), day("2026-02-28"));
        assert_eq!(months_after("2023-11-30", 3), day("2024-02-29"));
        assert_eq!(months_after("2025-12-31", 12), day("2026-12-31"));
    }

    #[test]
    fn the_certificate_of_the_day_counts() {
        let cert = |dated: &str| Instrument {
            id: "VG-1".into(),
            kind: InstrumentKind::VacuumGauge,
            what: String::new(),
            serial: String::new(),
            accuracy: String::new(),
            certificate: "C".into(),
            issuer: String::new(),
            dated: Some(dated.into()),
            due: None,
            every_months: Some(12),
            check_every_days: None,
            place: String::new(),
            remark: String::new(),
            scans: Vec::new(),
        };
        let at = |t: &str| Utc::parse(t).unwrap();
        let stated = |d: &str| Stated {
            instrument: cert(d),
            who: "A".into(),
            entered_at: at("2026-05-01 00:00"),
            entry: 1,
        };
        let file = InstrumentFile {
            stated: vec![stated("2025-01-10"), stated("2026-04-10")],
            ..InstrumentFile::default()
        };
        let on = |t: &str| certificate_on(&file, at(t)).0;
        assert_eq!(on("2025-01-09 10:00"), OnDay::NoCertificate);
        assert_eq!(on("2025-01-10 10:00"), OnDay::InDate);
        assert_eq!(on("2026-02-01 10:00"), OnDay::OutOfDate(at("2026-01-10 00:00")));
        assert_eq!(on("2026-04-11 10:00"), OnDay::InDate);
    }
}
