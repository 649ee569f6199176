//! One box's pulp probes out of a readings file, and slurry readings out of a calibration file,
//! without a voyage: what a treatment check works from.

use intake::probes::{Encoding, ProbeRow, Scanned, Scanner, Stop, UnitKey};
use intake::{Refused, Unreadable};
use record::{SlurryReading, UnitId};
use treatment::{Calibration, Decimal, PROBES, Row, TempUnit};
use units::Utc;

use crate::{NamedBytes, Problem};

/// A box's rows in a readings file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ProbeFile {
    /// Its rows, in the order of the file.
    pub rows: Vec<Row>,
    /// Units of the probe columns.
    pub units: [TempUnit; PROBES],
    /// Rows refused, of whatever box: a bad row may not say whose it is.
    pub refused: Vec<Refused>,
    /// Columns that were not read, times that run backwards, and the like.
    pub warnings: Vec<String>,
}

/// Reads a box's pulp probes exactly as written.
///
/// # Errors
/// [`Problem`] in one line when the file is no table of readings or has no row of the box.
pub fn read_probe_file(file: &NamedBytes, unit: &UnitId) -> Result<ProbeFile, Problem> {
    let key = UnitKey::of(unit).ok_or_else(|| {
        let why = format!("\"{unit}\" is not a container number (four letters, seven digits)");
        unreadable(&file.name, None, why)
    })?;
    let (rows, scanned) = match scan(file, key, Encoding::Utf8) {
        Err(Stop::NotUtf8) => scan(file, key, Encoding::Latin1),
        done => done,
    }
    .map_err(|stop| match stop {
        Stop::Unreadable(u) => Problem::Unreadable(u),
        Stop::NotUtf8 => unreadable(&file.name, None, "is no text; give the CSV itself".into()),
    })?;
    if rows.is_empty() {
        return Err(no_row(file, unit, &scanned));
    }
    let mut warnings = scanned.warnings;
    warnings.extend(backwards(file, unit, &rows));
    let units = scanned.fahrenheit.map(|f| if f { TempUnit::F } else { TempUnit::C });
    Ok(ProbeFile { rows, units, refused: scanned.refused, warnings })
}

fn scan(file: &NamedBytes, key: UnitKey, encoding: Encoding) -> Result<(Vec<Row>, Scanned), Stop> {
    let mut rows = Vec::new();
    let mut scanner = Scanner::new(&file.name, encoding);
    scanner.scan(&file.bytes, true, &mut |row: &ProbeRow| {
        if row.unit == key {
            let probes = row.cells.map(|c| c.get().and_then(|(m, s)| Decimal::new(m, s)));
            rows.push(Row { at: row.at, probes });
        }
    })?;
    Ok((rows, scanner.finish()))
}

fn no_row(file: &NamedBytes, unit: &UnitId, scanned: &Scanned) -> Problem {
    let first = scanned.refused.first().map_or_else(String::new, |r| {
        format!(
            "; {} rows were refused, the first at line {}: {}",
            scanned.refused_count, r.line, r.why
        )
    });
    let why = format!("no row of unit {unit}{first}; check --unit and the file");
    unreadable(&file.name, None, why)
}

/// Names the first line whose time lies before the one above it. Such rows are sorted in.
fn backwards(file: &NamedBytes, unit: &UnitId, rows: &[Row]) -> Option<String> {
    let count = rows.windows(2).filter(|w| matches!(w, [a, b] if b.at < a.at)).count();
    if count == 0 {
        return None;
    }
    // Only the complete reader knows lines; it is asked only when there is something to tell.
    let read = intake::read_readings(&file.name, 0, &file.bytes).ok()?;
    let mut latest: Option<Utc> = None;
    let line = read.readings.iter().filter(|r| r.unit == *unit).find_map(|r| {
        let back = latest.is_some_and(|at| r.at < at);
        latest = Some(r.at);
        back.then_some(r.origin.line)
    });
    let at = line.map_or_else(String::new, |l| format!(":{l}"));
    Some(format!(
        "{}{at}: time runs backwards ({count} such rows); the rows were sorted, check the \
         recorder's clock",
        file.name
    ))
}

/// Reads slurry readings: a header `probe,reading_c` or `probe,reading_f`, one reading a row.
/// Unlike readings, a bad row refuses the file: a missing one would change a correction unseen.
///
/// # Errors
/// [`Problem`] in one line naming file, line, column and what to do.
pub fn read_calibration(file: &NamedBytes) -> Result<Calibration, Problem> {
    let (unit, rows) = slurry_rows(file)?;
    let mut out = Calibration::new(unit);
    for r in rows {
        out.add(r.probe, r.reading).map_err(|e| {
            unreadable(&file.name, u32::try_from(r.line).ok(), format!("\"probe{}\" {e}", r.probe))
        })?;
    }
    Ok(out)
}

/// The same file as a person's act keeps it: probe and reading as written.
///
/// # Errors
/// As [`read_calibration`].
pub fn read_slurry(file: &NamedBytes) -> Result<Vec<SlurryReading>, Problem> {
    let (unit, rows) = slurry_rows(file)?;
    let kept = rows.into_iter().map(|r| SlurryReading {
        probe: u8::try_from(r.probe).unwrap_or(u8::MAX),
        reading: r.reading.to_string(),
        fahrenheit: unit == TempUnit::F,
    });
    Ok(kept.collect())
}

struct SlurryRow {
    line: usize,
    probe: usize,
    reading: Decimal,
}

fn slurry_rows(file: &NamedBytes) -> Result<(TempUnit, Vec<SlurryRow>), Problem> {
    let bad = |line: usize, why: String| unreadable(&file.name, u32::try_from(line).ok(), why);
    let bytes = file.bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(&file.bytes);
    let text = std::str::from_utf8(bytes).map_err(|_| {
        unreadable(&file.name, None, "is no text in UTF-8; save it as CSV and try again".into())
    })?;
    let mut rows = numbered_lines(text).filter(|(_, l)| !l.trim().is_empty());
    let (line, header) = rows.next().ok_or_else(|| {
        unreadable(&file.name, None, "the file is empty; write probe,reading_c".into())
    })?;
    let head = Header::read(header).map_err(|why| bad(line, why))?;
    let mut out = Vec::new();
    for (line, text) in rows {
        let cells: Vec<&str> = head.cells(text);
        if cells.iter().all(|c| c.is_empty()) {
            continue;
        }
        let (probe, reading) = head.read_row(&cells).map_err(|why| bad(line, why))?;
        out.push(SlurryRow { line, probe, reading });
    }
    Ok((head.unit, out))
}

/// Lines with their numbers, whatever ends them.
fn numbered_lines(text: &str) -> impl Iterator<Item = (usize, &str)> {
    let end = if text.contains('\n') { '\n' } else { '\r' };
    text.split(end).enumerate().map(|(i, l)| (i + 1, l))
}

/// Where the two columns of a calibration file stand.
struct Header {
    delimiter: char,
    columns: usize,
    probe: usize,
    reading: usize,
    unit: TempUnit,
}

impl Header {
    fn read(line: &str) -> Result<Self, String> {
        let delimiter = [',', ';', '\t'].into_iter().find(|d| line.contains(*d)).unwrap_or(',');
        let names: Vec<String> = split(line, delimiter).iter().map(|n| n.to_lowercase()).collect();
        let at = |name: &str| names.iter().position(|n| n == name);
        let probe = at("probe").ok_or("no column \"probe\"; the header is probe,reading_c")?;
        let (reading, unit) = match (at("reading_c"), at("reading_f")) {
            (Some(c), None) => (c, TempUnit::C),
            (None, Some(f)) => (f, TempUnit::F),
            (Some(_), Some(_)) => {
                return Err("both reading_c and reading_f; keep the one as read".into());
            }
            (None, None) => {
                return Err("no column \"reading_c\" or \"reading_f\"; name the unit".into());
            }
        };
        Ok(Self { delimiter, columns: names.len(), probe, reading, unit })
    }

    fn cells<'t>(&self, line: &'t str) -> Vec<&'t str> {
        split(line, self.delimiter)
    }

    fn read_row(&self, cells: &[&str]) -> Result<(usize, Decimal), String> {
        if cells.len() > self.columns {
            return Err(format!("has {} cells, the header has {}", cells.len(), self.columns));
        }
        let name = cells.get(self.probe).copied().unwrap_or("");
        let probe = Calibration::probe_number(name).ok_or_else(|| {
            format!("probe: \"{name}\" is no probe; write probe1, probe2, probe3 or probe4")
        })?;
        let text = cells.get(self.reading).copied().unwrap_or("");
        let plain =
            if self.delimiter == ',' { text.to_owned() } else { text.replacen(',', ".", 1) };
        let column = format!("reading_{}", self.unit.suffix());
        if text.is_empty() {
            return Err(format!("{column}: empty; write the slurry reading or take the row out"));
        }
        let reading = Decimal::parse(&plain).map_err(|e| format!("{column}: \"{text}\" {e}"))?;
        Ok((probe, reading))
    }
}

fn split(line: &str, delimiter: char) -> Vec<&str> {
    line.split(delimiter).map(|c| c.trim().trim_matches('"').trim()).collect()
}

fn unreadable(file: &str, line: Option<u32>, why: String) -> Problem {
    Problem::Unreadable(Unreadable { file: file.to_owned(), line, why })
}
