//! Readings of a hold from a CSV file.
//!
//! One time column (`minutes`, `seconds` since the pump was valved off, or `time_utc`) and one
//! pressure column (`pressure_um`, `pressure_pa`, `pressure_mbar`), in any order; other columns
//! are left alone, and lines before the header too. Loggers write other names for the same; what is
//! taken stands in `header`. A bad row is refused by its line, the rest is read.

use std::borrow::Cow;
use std::fmt;

use units::decimal::{self, DecimalMark};

use crate::PA_PER_UM;
use crate::clock::{Clock, Instants};
use crate::header::{Header, find};
use crate::judge::Reading;

/// A time column that starts later than this is a clock, not minutes since valve-off: s.
const CLOCK_AFTER_S: f64 = 600.0;
/// Highest pressure that a hold can stand at: a little over the atmosphere, Pa.
const MOST_PA: f64 = 120_000.0;

/// A row that was not read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refused {
    /// Line in the file, header = 1.
    pub line: u64,
    /// Why, and what to do.
    pub why: String,
}

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}: {}", self.line, self.why)
    }
}

/// What a file held.
#[derive(Debug, Clone, PartialEq)]
pub struct Read {
    /// Readings by time.
    pub readings: Vec<Reading>,
    /// Rows not read.
    pub refused: Vec<Refused>,
    /// Rows that stood there already, word for word; they count once.
    pub repeated: usize,
    /// Step of the display that the figures show, µmHg; 0 for none.
    pub resolution_um: f64,
}

/// Reads a file.
///
/// # Errors
/// The line and what is wrong with it, when no line is the header of a hold.
pub fn parse(bytes: &[u8]) -> Result<Read, Refused> {
    let text = text_of(bytes)?;
    let header = find(&text).map_err(|(line, why)| Refused { line, why })?;
    let body = text.get(header.ends_at..).unwrap_or("").as_bytes();
    let rows = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(header.delimiter)
        .from_reader(body)
        .into_records();
    let mut read =
        Read { readings: Vec::new(), refused: Vec::new(), repeated: 0, resolution_um: 0.0 };
    let mut written: Vec<f64> = Vec::new();
    let mut instants = Instants::default();
    let mut before: Option<csv::StringRecord> = None;
    for row in rows {
        let row = match row {
            Ok(r) => r,
            Err(e) => {
                let line = e.position().map_or(0, csv::Position::line) + header.line;
                read.refused.push(Refused { line, why: "cannot be read as CSV".to_owned() });
                continue;
            }
        };
        let line = row.position().map_or(0, |p| line_of(body, p)) + header.line;
        if row.iter().all(|c| c.trim().is_empty()) {
            continue;
        }
        if before.as_ref() == Some(&row) {
            read.repeated += 1;
            continue;
        }
        match reading(&row, &header, &mut instants) {
            Ok((reading, as_written)) => {
                read.readings.push(reading);
                written.push(as_written);
            }
            Err(why) => read.refused.push(Refused { line, why }),
        }
        before = Some(row);
    }
    set_zero(&mut read.readings, header.clock);
    read.resolution_um = step(&written) * header.pa / PA_PER_UM;
    Ok(read)
}

/// The file as text with plain line ends: UTF-8, UTF-16 with its mark, or the one-byte letters that
/// older loggers write.
fn text_of(bytes: &[u8]) -> Result<String, Refused> {
    let no_text = || Refused { line: 1, why: "is not text; export it as CSV".to_owned() };
    let wide = |rest: &[u8], of: fn([u8; 2]) -> u16| {
        // Half a letter at the end is still being written.
        let units = rest.chunks_exact(2).filter_map(|c| c.try_into().ok().map(of));
        String::from_utf16(&units.collect::<Vec<u16>>()).map(Cow::Owned).map_err(|_| no_text())
    };
    let text: Cow<'_, str> = match bytes {
        [0xff, 0xfe, rest @ ..] => wide(rest, u16::from_le_bytes)?,
        [0xfe, 0xff, rest @ ..] => wide(rest, u16::from_be_bytes)?,
        _ => match std::str::from_utf8(bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes)) {
            Ok(text) => Cow::Borrowed(text),
            Err(_) => Cow::Owned(bytes.iter().map(|b| char::from(*b)).collect()),
        },
    };
    // 0x1a ended text files of old; a 0 never stood in one.
    let text = text.trim_end_matches('\u{1a}');
    if text.chars().any(|c| c.is_control() && !matches!(c, '\n' | '\r' | '\t')) {
        return Err(no_text());
    }
    Ok(text.replace("\r\n", "\n").replace('\r', "\n"))
}

/// The line on which a row stands: the reader's place may lie on blank lines before it.
fn line_of(bytes: &[u8], place: &csv::Position) -> u64 {
    let from = usize::try_from(place.byte()).unwrap_or(usize::MAX);
    let blank = bytes.get(from..).unwrap_or(&[]).iter().take_while(|b| **b == b'\n');
    place.line() + blank.count() as u64
}

/// A reading, and its pressure as written.
fn reading(
    row: &csv::StringRecord,
    header: &Header,
    instants: &mut Instants,
) -> Result<(Reading, f64), String> {
    if row.len() > header.width && row.iter().skip(header.width).any(|c| !c.trim().is_empty()) {
        return Err("has more cells than the header; is there a comma inside a number?".to_owned());
    }
    let cell = |i: usize| row.get(i).map(str::trim).filter(|c| !c.is_empty());
    let time = cell(header.time).ok_or("has no time")?;
    let pressure = cell(header.pressure).ok_or("has no pressure")?;
    // A comma inside a cell was quoted, or the cells are parted by another sign.
    let number = |text: &str| {
        decimal::parse(text, DecimalMark::PointOrComma).map_err(|e| format!("\"{text}\" {e}"))
    };
    let written = number(pressure)?;
    let pressure_pa = written * header.pa;
    if !(0.0..=MOST_PA).contains(&pressure_pa) {
        return Err(format!(
            "pressure {pressure} is no possible absolute pressure of a hold; check its unit"
        ));
    }
    let t_s = match header.clock {
        Clock::Minutes => number(time)? * 60.0,
        Clock::Seconds => number(time)?,
        Clock::Instant => instants.seconds(time)?,
    };
    if header.clock != Clock::Instant && !(0.0..1e7).contains(&t_s) {
        return Err(format!(
            "time {time} is before the pump was valved off, or months after it; check its column"
        ));
    }
    Ok((Reading { t_s, pressure_pa }, written))
}

/// Time counts from valve-off; a clock counts from its first reading.
fn set_zero(readings: &mut [Reading], clock: Clock) {
    readings.sort_by(|a, b| a.t_s.total_cmp(&b.t_s));
    let first = readings.first().map_or(0.0, |r| r.t_s);
    if clock == Clock::Instant || first > CLOCK_AFTER_S {
        for r in readings {
            r.t_s -= first;
        }
    }
}

/// The coarsest step of a usual display of which every figure is a multiple, in the figures' own
/// unit; 0 when there are too few different figures to tell.
fn step(written: &[f64]) -> f64 {
    let mut different: Vec<f64> = written.to_vec();
    different.sort_by(f64::total_cmp);
    different.dedup();
    if written.len() < 6 {
        return 0.0;
    }
    let enough = if different.len() >= 3 { 100.0 } else { 1.0 };
    let mut size = 100.0;
    for _ in 0..6 {
        for step in [size, size / 2.0, size / 5.0] {
            let multiple = |v: &f64| (v / step - (v / step).round()).abs() < 1e-6;
            if step <= enough && different.iter().all(multiple) {
                return step;
            }
        }
        size /= 10.0;
    }
    0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_clocks_and_three_units() {
        let a = parse(b"minutes,pressure_pa\n0,40\n1.5,41.5\n").unwrap();
        let b = parse(b"pressure_mbar,seconds,who\n0.4,0,me\n0.415,90,me\n").unwrap();
        let c = parse(b"time_utc,pressure_pa\n2026-03-01T10:00:00Z,40\n2026-03-01 10:01:30,41.5\n");
        let c = c.unwrap();
        assert_eq!(a.readings, c.readings);
        assert!((b.readings[1].pressure_pa - 41.5).abs() < 1e-12);
        assert_eq!(b.readings[1].t_s, 90.0);
        // 500 µm is 66.66 Pa (reference §4.2).
        let d = parse(b"seconds,pressure_um\n0,500\n").unwrap();
        assert!((d.readings[0].pressure_pa - 66.66).abs() < 0.01);
    }

    #[test]
    fn bad_rows_by_line() {
        let r =
            parse(b"minutes,pressure_um\n0,300\n\n1,x\n2,-5\n3,1,000\n-1,300\n4,310\n").unwrap();
        assert_eq!(r.readings.len(), 2);
        assert_eq!(r.refused.iter().map(|r| r.line).collect::<Vec<_>>(), [4, 5, 6, 7]);
        for header in ["", "a,b\n", "minutes,x\n", "minutes,seconds,pressure_pa\n"] {
            assert_eq!(parse(header.as_bytes()).unwrap_err().line, 1, "{header}");
        }
        assert!(parse(b"\xff\xfe").is_err());
    }

    #[test]
    fn the_display_step_is_seen() {
        let file = |step: u32| {
            let rows: String = (0..9).map(|i| format!("{i},{}\n", 300 + i * step)).collect();
            parse(format!("minutes,pressure_um\n{rows}").as_bytes()).unwrap().resolution_um
        };
        assert_eq!((file(1), file(10), file(50)), (1.0, 10.0, 50.0));
        let level = parse(b"minutes,pressure_pa\n0,40\n1,40\n2,40\n3,40\n4,40\n5,40\n").unwrap();
        assert!((level.resolution_um - 7.5).abs() < 0.01);
    }
}
