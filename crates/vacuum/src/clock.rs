//! Times as loggers write them: an instant, the time of day alone, or a spreadsheet's day number.

use units::Utc;
use units::decimal::{self, DecimalMark};

/// Half a day, s: a clock that jumps by more went over midnight.
const HALF_DAY_S: f64 = 43_200.0;
/// Day number of 1970-01-01 in a spreadsheet, counted from 1899-12-30.
const DAY_1970: f64 = 25_569.0;
/// Day numbers of the years 2000 to 2100.
const DAYS: std::ops::Range<f64> = 36_526.0..73_051.0;

/// What a time column counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Clock {
    /// Minutes since valve-off.
    Minutes,
    /// Seconds since valve-off.
    Seconds,
    /// Instants or the time of day.
    Instant,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Instant,
    TimeOfDay,
    DayNumber,
}

/// Reads the cells of one column, all in the same manner.
#[derive(Debug, Default)]
pub(crate) struct Instants {
    kind: Option<Kind>,
    before_s: f64,
    days_s: f64,
}

impl Instants {
    /// Seconds from an origin of the column's own.
    pub fn seconds(&mut self, text: &str) -> Result<f64, String> {
        let (kind, at_s) = one(text)?;
        if self.kind.is_some_and(|k| k != kind) {
            return Err(format!("\"{text}\" is another kind of time than the rows before it"));
        }
        let first = self.kind.is_none();
        self.kind = Some(kind);
        if kind != Kind::TimeOfDay {
            return Ok(at_s);
        }
        match at_s + self.days_s - self.before_s {
            _ if first => {}
            jump if jump < -HALF_DAY_S => self.days_s += 2.0 * HALF_DAY_S,
            jump if jump > HALF_DAY_S => self.days_s -= 2.0 * HALF_DAY_S,
            _ => {}
        }
        self.before_s = at_s + self.days_s;
        Ok(self.before_s)
    }
}

fn one(text: &str) -> Result<(Kind, f64), String> {
    if let Some(s) = time_of_day(text) {
        return Ok((Kind::TimeOfDay, s));
    }
    if let Ok(number) = decimal::parse(text, DecimalMark::PointOrComma) {
        if DAYS.contains(&number) {
            let ms = ((number - DAY_1970) * 86_400_000.0).round();
            return Ok((Kind::DayNumber, ms / 1e3));
        }
        return Err(format!(
            "\"{text}\" is a number, not a time; call its column minutes or seconds"
        ));
    }
    let at = Utc::parse(text).map_err(|e| format!("\"{text}\" {e}"))?;
    Ok((Kind::Instant, at.ms() as f64 / 1e3))
}

/// `23:58`, `23:58:30`, `9:05:00.5`.
fn time_of_day(text: &str) -> Option<f64> {
    let mut parts = text.split(':');
    let (hour, minute) = (parts.next()?, parts.next()?);
    let second = parts.next().unwrap_or("0");
    let whole = |t: &str, most: f64| {
        let v = decimal::parse(t, DecimalMark::PointOrComma).ok()?;
        (t.len() <= 2 && v.fract() == 0.0 && (0.0..most).contains(&v)).then_some(v)
    };
    let s = decimal::parse(second, DecimalMark::PointOrComma).ok()?;
    if parts.next().is_some() || !(0.0..60.0).contains(&s) {
        return None;
    }
    Some(whole(hour, 24.0)? * 3600.0 + whole(minute, 60.0)? * 60.0 + s)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(texts: &[&str]) -> Vec<f64> {
        let mut c = Instants::default();
        let read: Vec<f64> = texts.iter().map(|t| c.seconds(t).unwrap()).collect();
        read.iter().map(|s| s - read[0]).collect()
    }

    #[test]
    fn over_midnight_both_ways() {
        assert_eq!(all(&["23:59", "00:00:30", "0:02"]), [0.0, 90.0, 180.0]);
        assert_eq!(all(&["0:02", "00:00:30", "23:59"]), [0.0, -90.0, -180.0]);
    }

    /// 2026-03-01 is day 46082 of a spreadsheet (from memory; 2000-01-01 is 36526 and 26 years with
    /// 7 leap days and 59 days lie between).
    #[test]
    fn a_spreadsheet_day() {
        let mut c = Instants::default();
        let noon = c.seconds("46082.5").unwrap();
        assert_eq!(noon, Utc::parse("2026-03-01 12:00").unwrap().ms() as f64 / 1e3);
        assert!(c.seconds("12:00").is_err());
        assert!(Instants::default().seconds("3").unwrap_err().contains("minutes"));
        assert!(Instants::default().seconds("24:00").is_err());
    }
}
