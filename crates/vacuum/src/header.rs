//! The header line of a hold's file: which columns are time and pressure, and in what.

use crate::PA_PER_UM;
use crate::clock::Clock;

/// Lines looked at for a header; loggers write a few about themselves first.
const LINES: usize = 40;
/// Signs between cells, in the order tried.
const DELIMITERS: [u8; 3] = [b',', b';', b'\t'];
/// Pascal of one millimetre of mercury.
const PA_PER_MM: f64 = 1e3 * PA_PER_UM;

/// A header.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Header {
    /// Place of the time column.
    pub time: usize,
    /// What it counts.
    pub clock: Clock,
    /// Place of the pressure column.
    pub pressure: usize,
    /// Pascal of one of its unit.
    pub pa: f64,
    /// Cells.
    pub width: usize,
    /// The sign between cells.
    pub delimiter: u8,
    /// Lines up to its end, itself included.
    pub line: u64,
    /// Bytes up to its end.
    pub ends_at: usize,
}

/// Finds it; else the line that looked most like one, and what is wrong with it.
pub(crate) fn find(text: &str) -> Result<Header, (u64, String)> {
    let mut ends_at = 0;
    let mut nearest: Option<(u64, usize, String)> = None;
    for (line, row) in (1..).zip(text.split_inclusive('\n').take(LINES)) {
        ends_at += row.len();
        if row.trim().is_empty() {
            continue;
        }
        for delimiter in DELIMITERS {
            match columns(row, delimiter) {
                Ok(h) => return Ok(Header { line, ends_at, ..h }),
                Err((near, why)) if nearest.as_ref().is_none_or(|n| near > n.1) => {
                    nearest = Some((line, near, why));
                }
                Err(_) => {}
            }
        }
    }
    let empty = (1, 0, "the file is empty; a header must come first".to_owned());
    let (line, _, why) = nearest.unwrap_or(empty);
    Err((line, why))
}

/// A name as columns are called: `Pressure (microns)` is `pressure_microns`.
fn plain(name: &str) -> String {
    let mut out = String::new();
    for c in name.trim().trim_matches('"').chars().flat_map(char::to_lowercase) {
        match c {
            'µ' | 'μ' => out.push('u'),
            c if c.is_alphanumeric() => out.push(c),
            _ if !out.ends_with('_') && !out.is_empty() => out.push('_'),
            _ => {}
        }
    }
    out.trim_end_matches('_').to_owned()
}

fn clock(name: &str) -> Option<Clock> {
    Some(match name {
        "minutes" | "minute" | "min" | "time_min" | "time_minutes" | "elapsed_min" => {
            Clock::Minutes
        }
        "seconds" | "second" | "sec" | "s" | "time_s" | "time_sec" | "time_seconds"
        | "elapsed_s" => Clock::Seconds,
        "time_utc" | "utc" | "time" | "timestamp" | "date_time" | "datetime" | "clock" => {
            Clock::Instant
        }
        _ => return None,
    })
}

/// Pascal of one of the unit that a pressure column names.
fn pascal(name: &str) -> Option<Result<f64, String>> {
    let unit = match name {
        "microns" | "micron" | "um" | "umhg" | "mtorr" => name,
        _ => name.strip_prefix("pressure_").or(name.strip_prefix("vacuum_"))?,
    };
    Some(match unit {
        "um" | "umhg" | "micron" | "microns" | "mtorr" => Ok(PA_PER_UM),
        "pa" => Ok(1.0),
        "mbar" | "hpa" => Ok(100.0),
        "kpa" => Ok(1000.0),
        "torr" | "mmhg" => Ok(PA_PER_MM),
        "inhg" | "in_hg" | "inhgv" | "cmhg" | "bar" | "barg" | "psi" | "psig" | "kpag" => {
            Err(format!(
                "a column in {unit} cannot show a deep vacuum; take an absolute gauge in µm, Pa or \
                 mbar"
            ))
        }
        _ => return None,
    })
}

/// The columns of a line; else how many of the two it has, and what is wrong.
fn columns(row: &str, delimiter: u8) -> Result<Header, (usize, String)> {
    let mut times = Vec::new();
    let mut pressures = Vec::new();
    let mut width = 0;
    for (i, name) in row.split(char::from(delimiter)).enumerate() {
        width = i + 1;
        let name = plain(name);
        times.extend(clock(&name).map(|c| (i, c)));
        pressures.extend(pascal(&name).map(|pa| (i, pa)));
    }
    let refuse = |near, why: &str| Err((near, why.to_owned()));
    match (times.as_slice(), pressures.as_slice()) {
        ([(time, clock)], [(pressure, Ok(pa))]) => Ok(Header {
            time: *time,
            clock: *clock,
            pressure: *pressure,
            pa: *pa,
            width,
            delimiter,
            line: 0,
            ends_at: 0,
        }),
        ([_], [(_, Err(why))]) => refuse(3, why),
        ([], pressures) => refuse(
            1 + pressures.len().min(1),
            "no time column; name one minutes, seconds or time_utc",
        ),
        (_, []) => {
            refuse(2, "no pressure column; name one pressure_um, pressure_pa or pressure_mbar")
        }
        ([_], _) => refuse(3, "more than one pressure column; keep one"),
        _ => refuse(3, "more than one time column; keep one"),
    }
}
