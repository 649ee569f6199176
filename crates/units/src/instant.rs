//! UTC instants. Inside the program there is no other time.

use std::fmt;

use jiff::Timestamp;
use jiff::civil::DateTime;

/// Milliseconds in one hour.
pub const MS_PER_HOUR: i64 = 3_600_000;

/// An instant in UTC, to the millisecond. The ship's own time is only ever a way of showing it,
/// so that clock changes at sea neither make nor lose an hour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Utc(i64);

/// Why a text is not an instant we read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotAnInstant {
    /// Neither RFC 3339 nor `YYYY-MM-DD HH:MM[:SS]`.
    Form,
    /// The form is right, but there is no such day or time.
    Impossible,
    /// Outside 1990 to 2100: a recorder that lost its clock, or a slip of the pen.
    Range,
}

impl fmt::Display for NotAnInstant {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Form => {
                "is not a time; write 2026-01-05T08:00:00Z or 2026-01-05 08:00 (taken as UTC)"
            }
            Self::Impossible => "is no possible date and time; check day, month and hour",
            Self::Range => "is outside 1990 to 2100; check the recorder's clock",
        })
    }
}

impl Utc {
    /// From milliseconds since 1970-01-01T00:00:00Z.
    #[must_use]
    pub fn from_ms(ms: i64) -> Self {
        Self(ms)
    }

    /// Milliseconds since 1970-01-01T00:00:00Z.
    #[must_use]
    pub fn ms(self) -> i64 {
        self.0
    }

    /// This instant moved by `hours` (negative: earlier), to the nearest millisecond.
    #[must_use]
    pub fn plus_hours(self, hours: f64) -> Self {
        let ms = hours * MS_PER_HOUR as f64;
        Self(self.0.saturating_add(ms.round() as i64))
    }

    /// Hours from `earlier` to this instant; negative when `earlier` is later.
    #[must_use]
    pub fn hours_since(self, earlier: Self) -> f64 {
        self.0.saturating_sub(earlier.0) as f64 / MS_PER_HOUR as f64
    }

    /// Reads RFC 3339 (any offset, converted to UTC) or `YYYY-MM-DD HH:MM[:SS]` (taken as UTC;
    /// `T` in place of the space too).
    ///
    /// # Errors
    /// [`NotAnInstant`] when the text has another form, names no possible date, or lies outside
    /// 1990 to 2100.
    pub fn parse(text: &str) -> Result<Self, NotAnInstant> {
        let t = text.trim();
        let (local, offset) = split_offset(t).ok_or(NotAnInstant::Form)?;
        let civil = parse_civil(local)?;
        let offset_ms = match offset {
            None => 0,
            Some(o) => parse_offset_ms(o)?,
        };
        let at = civil_ms(civil).ok_or(NotAnInstant::Impossible)?;
        let utc = at.checked_sub(offset_ms).ok_or(NotAnInstant::Impossible)?;
        if !(1990..2100).contains(&civil.year()) {
            return Err(NotAnInstant::Range);
        }
        Ok(Self(utc))
    }

    /// An EDIFACT date and time without separators: `YYMMDDHHMM` or `CCYYMMDDHHMM`
    /// (UN/EDIFACT code list 2379, formats 201 and 203). The zone is not said in the message.
    #[must_use]
    pub fn from_edifact_digits(text: &str) -> Option<Self> {
        if !text.bytes().all(|b| b.is_ascii_digit()) {
            return None;
        }
        let long = match text.len() {
            10 => format!("20{text}"),
            12 => text.to_owned(),
            _ => return None,
        };
        let part = |from: usize, to: usize| long.get(from..to);
        let iso = format!(
            "{}-{}-{} {}:{}",
            part(0, 4)?,
            part(4, 6)?,
            part(6, 8)?,
            part(8, 10)?,
            part(10, 12)?
        );
        Self::parse(&iso).ok()
    }

    /// `2026-01-05 08:00`, for people; the heading of the column says UTC.
    #[must_use]
    pub fn to_minute(self) -> String {
        let text = self.to_string();
        text.get(..16).map_or_else(|| text.clone(), |t| t.replace('T', " "))
    }

    /// `2026-01-05`, for people, where the hour does not matter.
    #[must_use]
    pub fn to_day(self) -> String {
        let text = self.to_string();
        text.get(..10).map_or_else(|| text.clone(), str::to_owned)
    }

    /// Calendar fields in UTC: year, month, day, hour, minute, second.
    #[must_use]
    pub fn civil(self) -> (i16, i8, i8, i8, i8, i8) {
        let d = self.civil_datetime();
        (d.year(), d.month(), d.day(), d.hour(), d.minute(), d.second())
    }

    fn civil_datetime(self) -> DateTime {
        let stamp = Timestamp::from_millisecond(self.0).unwrap_or(Timestamp::UNIX_EPOCH);
        jiff::tz::Offset::UTC.to_datetime(stamp)
    }
}

impl fmt::Display for Utc {
    /// RFC 3339 in UTC, with milliseconds only where there are any.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let d = self.civil_datetime();
        write!(f, "{:04}-{:02}-{:02}T", d.year(), d.month(), d.day())?;
        write!(f, "{:02}:{:02}:{:02}", d.hour(), d.minute(), d.second())?;
        match self.0.rem_euclid(1000) {
            0 => f.write_str("Z"),
            ms => write!(f, ".{ms:03}Z"),
        }
    }
}

/// Splits `2026-01-05T08:00:00+02:00` into the local part and the offset, if any.
fn split_offset(t: &str) -> Option<(&str, Option<&str>)> {
    if !t.is_ascii() {
        return None;
    }
    if let Some(local) = t.strip_suffix(['Z', 'z']) {
        return Some((local, Some("Z")));
    }
    // A sign after the date part (10 characters) starts the offset.
    let tail = t.get(10..)?;
    match tail.find(['+', '-']) {
        None => Some((t, None)),
        Some(i) => Some((t.get(..10 + i)?, t.get(10 + i..))),
    }
}

/// `+HH:MM` in milliseconds east of UTC.
fn parse_offset_ms(o: &str) -> Result<i64, NotAnInstant> {
    if o == "Z" {
        return Ok(0);
    }
    let b = o.as_bytes();
    let shape_ok = b.len() == 6 && b.get(3) == Some(&b':');
    if !shape_ok {
        return Err(NotAnInstant::Form);
    }
    let hours = two(o, 1)?;
    let minutes = two(o, 4)?;
    if hours > 23 || minutes > 59 {
        return Err(NotAnInstant::Impossible);
    }
    let ms = (hours * 60 + minutes) * 60_000;
    Ok(if o.starts_with('-') { -ms } else { ms })
}

fn two(t: &str, from: usize) -> Result<i64, NotAnInstant> {
    let d = t.get(from..from + 2).ok_or(NotAnInstant::Form)?;
    if !d.bytes().all(|b| b.is_ascii_digit()) {
        return Err(NotAnInstant::Form);
    }
    d.parse().map_err(|_| NotAnInstant::Form)
}

/// `YYYY-MM-DD[T ]HH:MM[:SS[.fff]]`
fn parse_civil(t: &str) -> Result<DateTime, NotAnInstant> {
    let b = t.as_bytes();
    let is = |i: usize, set: &[u8]| b.get(i).is_some_and(|c| set.contains(c));
    if !(is(4, b"-") && is(7, b"-") && is(10, b"T t") && is(13, b":")) {
        return Err(NotAnInstant::Form);
    }
    let year = two(t, 0)? * 100 + two(t, 2)?;
    let (month, day, hour, minute) = (two(t, 5)?, two(t, 8)?, two(t, 11)?, two(t, 14)?);
    let (second, nanos) = match b.len() {
        16 => (0, 0),
        19 if is(16, b":") => (two(t, 17)?, 0),
        21.. if is(16, b":") && is(19, b".") => (two(t, 17)?, fraction_ns(t)?),
        _ => return Err(NotAnInstant::Form),
    };
    let small = |v: i64| i8::try_from(v).map_err(|_| NotAnInstant::Impossible);
    DateTime::new(
        i16::try_from(year).map_err(|_| NotAnInstant::Impossible)?,
        small(month)?,
        small(day)?,
        small(hour)?,
        small(minute)?,
        small(second)?,
        nanos,
    )
    .map_err(|_| NotAnInstant::Impossible)
}

fn fraction_ns(t: &str) -> Result<i32, NotAnInstant> {
    let digits = t.get(20..).ok_or(NotAnInstant::Form)?;
    if digits.len() > 9 || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return Err(NotAnInstant::Form);
    }
    format!("{digits:0<9}").parse().map_err(|_| NotAnInstant::Form)
}

fn civil_ms(d: DateTime) -> Option<i64> {
    jiff::tz::Offset::UTC.to_timestamp(d).ok().map(Timestamp::as_millisecond)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ms(text: &str) -> i64 {
        Utc::parse(text).unwrap().ms()
    }

    /// The examples printed in RFC 3339 §5.8.
    #[test]
    fn rfc_3339_examples() {
        let half = Utc::from_ms(ms("1990-12-31T23:59:59Z") + 520);
        assert_eq!(half.to_string(), "1990-12-31T23:59:59.520Z");
        assert_eq!(ms("1996-12-19T16:39:57-08:00"), ms("1996-12-20T00:39:57Z"));
        assert_eq!(Utc::parse("1985-04-12T23:20:50.52Z"), Err(NotAnInstant::Range));
        assert_eq!(Utc::parse("1937-01-01T12:00:27.87+00:20"), Err(NotAnInstant::Range));
    }

    #[test]
    fn plain_forms_are_utc() {
        assert_eq!(ms("2026-01-05 08:00"), ms("2026-01-05T08:00:00Z"));
        assert_eq!(ms("2026-01-05 08:00:30"), ms("2026-01-05T08:00:30Z"));
        assert_eq!(ms("2026-01-05T10:00:00+02:00"), ms("2026-01-05T08:00:00Z"));
        assert_eq!(ms("2026-01-05t08:00:00z"), ms("2026-01-05T08:00:00Z"));
    }

    #[test]
    fn refused() {
        for t in ["", "2026-01-05", "05/01/2026 08:00", "2026-1-5 8:00", "20260105T080000Z", "é"] {
            assert_eq!(Utc::parse(t), Err(NotAnInstant::Form), "{t}");
        }
        for t in ["2026-02-30 08:00", "2026-13-01 08:00", "2026-01-05 24:30", "2026-01-05 08:60"] {
            assert_eq!(Utc::parse(t), Err(NotAnInstant::Impossible), "{t}");
        }
    }

    #[test]
    fn edifact_times() {
        let want = Utc::parse("2026-01-01 06:00").ok();
        assert_eq!(Utc::from_edifact_digits("2601010600"), want);
        assert_eq!(Utc::from_edifact_digits("202601010600"), want);
        assert_eq!(Utc::from_edifact_digits("test"), None);
    }

    proptest::proptest! {
        #[test]
        fn what_is_written_is_read_back(ms in 631_152_000_000i64..4_102_444_799_999) {
            let at = Utc::from_ms(ms);
            proptest::prop_assert_eq!(Utc::parse(&at.to_string()), Ok(at));
        }

        #[test]
        fn no_text_panics(text in ".{0,40}") {
            let _ = Utc::parse(&text);
            let _ = Utc::from_edifact_digits(&text);
        }
    }
}
