//! Rounds and logger files as CSV (contract §2.2).

use std::borrow::Cow;
use std::collections::HashMap;
use std::sync::Arc;

use record::{Channel, Mode, Origin, Reading, UnitId};
use units::decimal::{self, DecimalMark};
use units::ranges::{self, Range};
use units::temperature::celsius_from_fahrenheit;
use units::{Utc, instant};

use crate::table::{Row, Table};
use crate::text::{Unreadable, decode, shown};

/// A row that was not taken, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refused {
    /// File.
    pub file: String,
    /// Physical line, header = 1.
    pub line: u32,
    /// What is wrong with it.
    pub why: String,
}

/// What one readings file gave: rows = readings + refused.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ReadingsFile {
    /// Rows offered.
    pub rows: u64,
    /// Rows read, in the order of the file.
    pub readings: Vec<Reading>,
    /// Rows refused.
    pub refused: Vec<Refused>,
    /// Columns that were not read, and the like.
    pub warnings: Vec<String>,
}

/// Reads a file of readings. `number` is its place among the files of the command.
///
/// # Errors
/// [`Unreadable`] when it is no table with `time_utc` and `unit`, or its header contradicts
/// itself.
pub fn read_readings(name: &str, number: u16, bytes: &[u8]) -> Result<ReadingsFile, Unreadable> {
    let text = decode(name, bytes)?;
    let mut table = Table::open(name, &text, "time_utc")?;
    let mut out = ReadingsFile::default();
    let columns = columns(name, &table, &mut out.warnings)?;
    let mut shelf = Shelf::default();
    let mut cells: Vec<Cow<'_, str>> = Vec::new();
    while let Some(row) = table.next_row(&mut cells) {
        out.rows += 1;
        let (line, result) = match row {
            Row::Bad { line, why, .. } => (line, Err(why)),
            Row::Cells { line, cells } => (line, shelf.read_row(&columns, cells)),
        };
        match result {
            Ok(mut reading) => {
                reading.origin = Origin { file: number, line };
                out.readings.push(reading);
            }
            Err(why) => out.refused.push(Refused { file: name.to_owned(), line, why }),
        }
    }
    if out.rows == 0 {
        out.warnings.push(format!("{name}: the file has a header and no rows"));
    }
    Ok(out)
}

/// What a column holds.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Column {
    Time,
    Unit,
    Number(Channel),
    /// A temperature in °F.
    Fahrenheit(Channel),
    OnPower,
    Mode,
    Alarm,
    Source,
    Remark,
    Unknown,
}

impl Column {
    fn of(name: &str) -> Self {
        match name {
            "time_utc" => return Self::Time,
            "unit" => return Self::Unit,
            "on_power" => return Self::OnPower,
            "mode" => return Self::Mode,
            "alarm" => return Self::Alarm,
            "source" => return Self::Source,
            "remark" => return Self::Remark,
            _ => {}
        }
        for c in Channel::ALL {
            match name.strip_prefix(c.stem()).and_then(|t| t.strip_prefix('_')) {
                Some(suffix) if suffix == c.unit_suffix() => return Self::Number(c),
                Some("f") if c.is_temperature() => return Self::Fahrenheit(c),
                _ => {}
            }
        }
        Self::Unknown
    }

    /// Two columns of the same thing contradict each other.
    fn same_thing(&self, other: &Self) -> bool {
        let channel = |c: &Self| match c {
            Self::Number(c) | Self::Fahrenheit(c) => Some(*c),
            _ => None,
        };
        match (channel(self), channel(other)) {
            (Some(a), Some(b)) => a == b,
            _ => self == other && *self != Self::Unknown,
        }
    }
}

pub(crate) fn columns(
    file: &str,
    table: &Table<'_>,
    warnings: &mut Vec<String>,
) -> Result<Vec<(Column, String)>, Unreadable> {
    let line = Some(table.header_line);
    let columns: Vec<(Column, String)> =
        table.header.iter().map(|name| (Column::of(name), name.clone())).collect();
    if !columns.iter().any(|(c, _)| *c == Column::Unit) {
        let why = "no column \"unit\" in the header; put the column names in the first line";
        return Err(Unreadable::new(file, line, why));
    }
    for (i, (column, name)) in columns.iter().enumerate() {
        if let Some((_, other)) = columns.iter().skip(i + 1).find(|(c, _)| column.same_thing(c)) {
            let why = format!("columns \"{name}\" and \"{other}\" hold the same thing; keep one");
            return Err(Unreadable::new(file, line, why));
        }
        if *column == Column::Unknown && !name.is_empty() {
            warnings
                .push(format!("{file}: column \"{}\" is not known and was not read", shown(name)));
        }
    }
    Ok(columns)
}

/// Texts that repeat from row to row are kept once.
#[derive(Default)]
pub(crate) struct Shelf {
    units: HashMap<String, UnitId>,
    texts: HashMap<String, Arc<str>>,
}

impl Shelf {
    fn text(&mut self, text: &str) -> Arc<str> {
        if let Some(held) = self.texts.get(text) {
            return held.clone();
        }
        let new: Arc<str> = text.into();
        // Remarks seldom repeat; the shelf must not grow with the file.
        if self.texts.len() < 1000 {
            self.texts.insert(text.to_owned(), new.clone());
        }
        new
    }

    fn unit(&mut self, text: &str) -> Result<UnitId, String> {
        if let Some(held) = self.units.get(text) {
            return Ok(held.clone());
        }
        match UnitId::from_text(text) {
            Some(unit) if unit.has_iso_form() => {
                self.units.insert(text.to_owned(), unit.clone());
                Ok(unit)
            }
            Some(_) => Err(format!(
                "unit: \"{}\" is not a container number (four letters, seven digits)",
                shown(text)
            )),
            None => Err("unit: empty; write the container number".into()),
        }
    }

    pub(crate) fn read_row(
        &mut self,
        columns: &[(Column, String)],
        cells: &[Cow<'_, str>],
    ) -> Result<Reading, String> {
        let find = |wanted: &Column| {
            let at = columns.iter().position(|(c, _)| c == wanted);
            at.and_then(|i| cells.get(i)).map_or("", |c| c.as_ref())
        };
        let at = read_time(find(&Column::Time))?;
        let unit = self.unit(find(&Column::Unit))?;
        let source = self.text(find(&Column::Source));
        let mut r = Reading::new(unit, at, source);
        for ((column, name), cell) in columns.iter().zip(cells) {
            if cell.is_empty() {
                continue;
            }
            match column {
                Column::Number(c) => r.set(*c, read_number(name, cell, range_of(*c))?),
                Column::Fahrenheit(c) => {
                    let temp_f = read_number(name, cell, FAHRENHEIT)?;
                    r.set(*c, celsius_from_fahrenheit(temp_f));
                    let text = match r.raw.take() {
                        None => format!("{name}={cell}"),
                        Some(before) => format!("{before};{name}={cell}"),
                    };
                    r.raw = Some(text.into());
                }
                Column::OnPower => r.on_power = Some(read_on_power(cell)?),
                Column::Mode => r.mode = Some(read_mode(cell)?),
                Column::Alarm => r.alarm = Some(self.text(cell)),
                Column::Remark => r.remark = Some(self.text(cell)),
                Column::Time | Column::Unit | Column::Source | Column::Unknown => {}
            }
        }
        Ok(r)
    }
}

fn read_time(text: &str) -> Result<Utc, String> {
    if text.is_empty() {
        return Err("time_utc: empty; write when it was read".into());
    }
    Utc::parse(text)
        .map_err(|e: instant::NotAnInstant| format!("time_utc: \"{}\" {e}", shown(text)))
}

fn read_number(column: &str, cell: &str, range: Range) -> Result<f64, String> {
    let value = decimal::parse(cell, DecimalMark::PointOrComma)
        .map_err(|e| format!("{column}: \"{}\" {e}", shown(cell)))?;
    range.check(value).map_err(|e| format!("{column}: {e}"))
}

fn read_on_power(cell: &str) -> Result<bool, String> {
    match cell.to_ascii_lowercase().as_str() {
        "1" | "true" | "yes" => Ok(true),
        "0" | "false" | "no" => Ok(false),
        _ => Err(format!("on_power: \"{}\" is none of 1/0, true/false, yes/no", shown(cell))),
    }
}

fn read_mode(cell: &str) -> Result<Mode, String> {
    Mode::parse(cell).ok_or_else(|| {
        format!("mode: \"{}\" is none of chilled, frozen, defrost, off", shown(cell))
    })
}

pub(crate) fn range_of(c: Channel) -> Range {
    match c {
        Channel::RhSet | Channel::Rh => ranges::HUMIDITY_PCT,
        Channel::Co2 | Channel::O2 => ranges::GAS_PCT,
        Channel::Power => ranges::POWER_KW,
        _ => ranges::WRITTEN_TEMP_C,
    }
}

/// [`ranges::WRITTEN_TEMP_C`] of a column in °F: codes have as many digits there.
const FAHRENHEIT: Range = Range {
    name: "temperature",
    unit: "°F",
    min: -99_999.0,
    max: 99_999.0,
    why: "recorders write codes up to five digits for a broken sensor",
};
