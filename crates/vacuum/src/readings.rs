//! Readings of a hold from a CSV file.
//!
//! One time column (`minutes`, `seconds` since the pump was valved off, or `time_utc`) and one
//! pressure column (`pressure_um`, `pressure_pa`, `pressure_mbar`), in any order; other columns
//! are left alone. A bad row is refused by its line, the rest is read.

use std::fmt;

use units::Utc;
use units::decimal::{self, DecimalMark};

use crate::PA_PER_UM;
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
    /// Step of the display that the figures show, µmHg; 0 for none.
    pub resolution_um: f64,
}

#[derive(Clone, Copy, PartialEq)]
enum Clock {
    Minutes,
    Seconds,
    Utc,
}

struct Layout {
    time: (usize, Clock),
    pressure: (usize, f64),
    width: usize,
}

/// Reads a file.
///
/// # Errors
/// The line and what is wrong with it, when the header is not one of a hold.
pub fn parse(bytes: &[u8]) -> Result<Read, Refused> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    if std::str::from_utf8(bytes).is_err() {
        return Err(Refused { line: 1, why: "is not text in UTF-8; export it as CSV".to_owned() });
    }
    let mut rows = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(delimiter(bytes))
        .from_reader(bytes)
        .into_records();
    let header = match rows.next() {
        Some(Ok(h)) => h,
        _ => {
            return Err(Refused {
                line: 1,
                why: "the file is empty; a header must come first".to_owned(),
            });
        }
    };
    let layout = layout(&header)?;
    let mut read = Read { readings: Vec::new(), refused: Vec::new(), resolution_um: 0.0 };
    let mut written: Vec<f64> = Vec::new();
    for row in rows {
        let row = match row {
            Ok(r) => r,
            Err(e) => {
                let line = e.position().map_or(0, csv::Position::line);
                read.refused.push(Refused { line, why: "cannot be read as CSV".to_owned() });
                continue;
            }
        };
        let line = row.position().map_or(0, |p| line_of(bytes, p));
        if row.iter().all(|c| c.trim().is_empty()) {
            continue;
        }
        match reading(&row, &layout) {
            Ok((reading, as_written)) => {
                read.readings.push(reading);
                written.push(as_written);
            }
            Err(why) => read.refused.push(Refused { line, why }),
        }
    }
    set_zero(&mut read.readings, layout.time.1);
    read.resolution_um = step(&written) * layout.pressure.1 / PA_PER_UM;
    Ok(read)
}

/// The line on which a row stands: the reader's place may lie on blank lines before it.
fn line_of(bytes: &[u8], place: &csv::Position) -> u64 {
    let from = usize::try_from(place.byte()).unwrap_or(usize::MAX);
    let blank = bytes.get(from..).unwrap_or(&[]).iter().take_while(|b| matches!(b, b'\r' | b'\n'));
    place.line() + blank.filter(|b| **b == b'\n').count() as u64
}

/// Comma, or what the header has instead of one.
fn delimiter(bytes: &[u8]) -> u8 {
    let header = bytes.split(|b| *b == b'\n').next().unwrap_or(&[]);
    let has = |d: u8| header.contains(&d);
    match () {
        () if has(b',') => b',',
        () if has(b';') => b';',
        () if has(b'\t') => b'\t',
        () => b',',
    }
}

fn layout(header: &csv::StringRecord) -> Result<Layout, Refused> {
    let refuse = |why: String| Err(Refused { line: 1, why });
    let (mut times, mut pressures) = (Vec::new(), Vec::new());
    for (i, name) in header.iter().enumerate() {
        match name.trim().to_ascii_lowercase().as_str() {
            "minutes" => times.push((i, Clock::Minutes)),
            "seconds" => times.push((i, Clock::Seconds)),
            "time_utc" => times.push((i, Clock::Utc)),
            "pressure_um" => pressures.push((i, PA_PER_UM)),
            "pressure_pa" => pressures.push((i, 1.0)),
            "pressure_mbar" => pressures.push((i, 100.0)),
            _ => {}
        }
    }
    match (times.as_slice(), pressures.as_slice()) {
        ([time], [pressure]) => {
            Ok(Layout { time: *time, pressure: *pressure, width: header.len() })
        }
        ([], _) => refuse("no time column; name one minutes, seconds or time_utc".to_owned()),
        (_, []) => refuse(
            "no pressure column; name one pressure_um, pressure_pa or pressure_mbar".to_owned(),
        ),
        ([_], _) => refuse("more than one pressure column; keep one".to_owned()),
        _ => refuse("more than one time column; keep one".to_owned()),
    }
}

/// A reading, and its pressure as written.
fn reading(row: &csv::StringRecord, layout: &Layout) -> Result<(Reading, f64), String> {
    if row.len() > layout.width {
        return Err("has more cells than the header; is there a comma inside a number?".to_owned());
    }
    let cell = |i: usize| row.get(i).map(str::trim).filter(|c| !c.is_empty());
    let time = cell(layout.time.0).ok_or("has no time")?;
    let pressure = cell(layout.pressure.0).ok_or("has no pressure")?;
    let number = |text: &str| {
        decimal::parse(text, DecimalMark::Point).map_err(|e| format!("\"{text}\" {e}"))
    };
    let t_s = match layout.time.1 {
        Clock::Minutes => number(time)? * 60.0,
        Clock::Seconds => number(time)?,
        Clock::Utc => Utc::parse(time).map_err(|e| format!("\"{time}\" {e}"))?.ms() as f64 / 1e3,
    };
    if layout.time.1 != Clock::Utc && t_s < 0.0 {
        return Err(format!("time {time} is before the pump was valved off"));
    }
    let written = number(pressure)?;
    let pressure_pa = written * layout.pressure.1;
    if !(0.0..=MOST_PA).contains(&pressure_pa) {
        return Err(format!(
            "pressure {pressure} is no possible absolute pressure of a hold; check its unit"
        ));
    }
    Ok((Reading { t_s, pressure_pa }, written))
}

/// Time counts from valve-off; a clock counts from its first reading.
fn set_zero(readings: &mut [Reading], clock: Clock) {
    readings.sort_by(|a, b| a.t_s.total_cmp(&b.t_s));
    let first = readings.first().map_or(0.0, |r| r.t_s);
    if clock == Clock::Utc || first > CLOCK_AFTER_S {
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
        for header in ["", "a,b\n", "minutes,x\n", "minutes,seconds,pressure_pa\n1,1,1\n"] {
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
