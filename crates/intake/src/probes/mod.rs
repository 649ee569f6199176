//! The quick road for probe readings: a readings file (contract §2.2) slice by slice, of which
//! only box, time and the four pulp probes are kept, exactly as written.
//!
//! Plain rows are read by `fast`; every other row goes to the complete reader of
//! [`crate::read_readings`], so that both roads read, and refuse, the same. Of a probe cell with
//! more than 12 decimals eleven are kept, and a 5 behind them stands for the rest.
//!
//! Nothing here opens a file. The caller hands over slices and gives again what was not used:
//!
//! ```
//! use intake::probes::{Encoding, Scanner};
//!
//! let text = b"time_utc,unit,probe1_c\n2026-03-05 08:00,QQQU1000011,0.5\n";
//! let mut scanner = Scanner::new("a.csv", Encoding::Utf8);
//! let mut rows = 0;
//! let used = scanner.scan(text, true, &mut |_| rows += 1).unwrap();
//! assert_eq!((used, rows), (text.len(), 1));
//! ```

mod columns;
mod fast;
mod words;

use std::borrow::Cow;

use memchr::{memchr, memrchr};
use record::{Channel, UnitId};
use units::Utc;

use crate::readings::{Column, Refused, Shelf, columns};
use crate::table::{Filled, LINES_PER_ROW_MAX, Shape, Table, open_quote};
use crate::text::{Unreadable, by_first_bytes, zero_bytes};
pub use columns::{BoxColumns, Columns};
use fast::Quick;

/// Refused rows listed; more are counted only.
pub const REFUSED_LISTED: usize = 10_000;

/// Decimals kept of a probe reading. The last one of a longer number says only that something
/// follows, so that it compares with a shorter number as the number written does.
const PLACES_MAX: usize = 12;

/// A container number of four letters and seven digits in eight bytes, in the order of the text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct UnitKey(u64);

impl UnitKey {
    fn pack(letters: [u8; 4], serial: u32) -> Self {
        Self(u64::from(u32::from_be_bytes(letters)) << 32 | u64::from(serial))
    }

    /// The key of a number of ISO form.
    #[must_use]
    pub fn of(unit: &UnitId) -> Option<Self> {
        if !unit.has_iso_form() {
            return None;
        }
        let (letters, digits) = unit.as_str().as_bytes().split_first_chunk::<4>()?;
        let serial = digits.iter().fold(0u32, |n, d| n * 10 + u32::from(d - b'0'));
        Some(Self::pack(*letters, serial))
    }

    /// The number as text, for example `QQQU1000011`.
    #[must_use]
    pub fn text(self) -> String {
        let letters = ((self.0 >> 32) as u32).to_be_bytes().map(char::from);
        let serial = self.0 & 0xFFFF_FFFF;
        format!("{}{serial:07}", letters.iter().collect::<String>())
    }

    /// As a number, for tables.
    #[must_use]
    pub fn bits(self) -> u64 {
        self.0
    }
}

/// One probe cell as written: a decimal, or empty.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ProbeCell {
    mantissa: i64,
    scale: u8,
}

impl ProbeCell {
    /// Not read.
    pub const EMPTY: Self = Self { mantissa: 0, scale: u8::MAX };

    /// `(mantissa, scale)`: the number is mantissa / 10^scale, in the unit of its column, scale at
    /// most 12. `None` for an empty cell.
    #[must_use]
    pub fn get(self) -> Option<(i64, u8)> {
        (self.scale != u8::MAX).then_some((self.mantissa, self.scale))
    }

    /// Reads what the complete reader has accepted as a number.
    fn exactly(column: &str, text: &str) -> Result<Self, String> {
        let too_long = || {
            format!(
                "{column}: \"{text}\" has more digits than can be kept; write 12 decimals at most"
            )
        };
        let text = text.trim();
        let negative = text.starts_with('-');
        let body = text.trim_start_matches(['-', '+']);
        let (whole, part) = body.split_once(['.', ',']).unwrap_or((body, ""));
        // Trailing zeros say nothing.
        let part = if part.len() > PLACES_MAX { part.trim_end_matches('0') } else { part };
        let (part, follows) = match part.get(..PLACES_MAX - 1) {
            Some(kept) if part.len() > PLACES_MAX => (kept, "5"),
            _ => (part, ""),
        };
        let mut mantissa = 0i64;
        for b in whole.bytes().chain(part.bytes()).chain(follows.bytes()) {
            let digit = i64::from(b.wrapping_sub(b'0'));
            mantissa =
                mantissa.checked_mul(10).and_then(|m| m.checked_add(digit)).ok_or_else(too_long)?;
        }
        let scale = (part.len() + follows.len()) as u8;
        Ok(Self { mantissa: if negative { -mantissa } else { mantissa }, scale })
    }
}

/// What one row says of the pulp.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ProbeRow {
    /// The box.
    pub unit: UnitKey,
    /// When.
    pub at: Utc,
    /// Probes 1 to 4.
    pub cells: [ProbeCell; 4],
}

/// How bytes are letters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Encoding {
    /// UTF-8: try this first.
    Utf8,
    /// ISO 8859-1, in which every byte is a letter: when it is not UTF-8 ([`Stop::NotUtf8`]).
    Latin1,
}

/// Why a file is not read on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Stop {
    /// It cannot be read at all.
    Unreadable(Unreadable),
    /// It is not UTF-8: begin again with [`Encoding::Latin1`], and forget what was read.
    NotUtf8,
}

impl From<Unreadable> for Stop {
    fn from(u: Unreadable) -> Self {
        Self::Unreadable(u)
    }
}

/// What a file gave beside its rows: rows = handed over + refused.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Scanned {
    /// Rows offered.
    pub rows: u64,
    /// Rows refused, the first [`REFUSED_LISTED`] of them.
    pub refused: Vec<Refused>,
    /// Rows refused in all.
    pub refused_count: u64,
    /// Columns that were not read, and the like.
    pub warnings: Vec<String>,
    /// The column of probe 1 to 4 is in °F.
    pub fahrenheit: [bool; 4],
    /// There is a column of probe 1 to 4.
    pub present: [bool; 4],
}

/// Reads one file, slice by slice.
pub struct Scanner {
    file: String,
    encoding: Encoding,
    head: Option<Head>,
    shelf: Shelf,
    line: u32,
    out: Scanned,
}

/// What the header settled.
struct Head {
    columns: Vec<(Column, String)>,
    names: Vec<String>,
    shape: Shape,
    quick: Quick,
}

impl Scanner {
    /// Begins a file.
    #[must_use]
    pub fn new(file: &str, encoding: Encoding) -> Self {
        let out = Scanned::default();
        Self { file: file.to_owned(), encoding, head: None, shelf: Shelf::default(), line: 1, out }
    }

    /// Reads the rows at the beginning of `bytes`, hands each to `sink` and says how many bytes
    /// are done with. What is left must be given again, with more of the file behind it (where
    /// nothing was used, more than before). `last`: `bytes` reach the end of the file; then
    /// everything is used.
    ///
    /// # Errors
    /// [`Stop`]; the rows handed over before are then void.
    pub fn scan(
        &mut self,
        bytes: &[u8],
        last: bool,
        sink: &mut impl FnMut(&ProbeRow),
    ) -> Result<usize, Stop> {
        let mut used = 0;
        let mut head = match self.head.take() {
            Some(head) => head,
            None => match self.header(bytes, last)? {
                None => return Ok(0),
                Some((head, length)) => {
                    used = length;
                    head
                }
            },
        };
        let done = self.rows(&mut head, bytes, used, last, sink);
        self.head = Some(head);
        done
    }

    /// What came of the file, when all of it was scanned.
    #[must_use]
    pub fn finish(mut self) -> Scanned {
        if self.out.rows == 0 {
            let text = format!("{}: the file has a header and no rows", self.file);
            self.out.warnings.push(text);
        }
        self.out
    }

    /// The units of the probe columns: known once a row was handed over.
    #[must_use]
    pub fn fahrenheit(&self) -> [bool; 4] {
        self.out.fahrenheit
    }

    /// Finds and reads the header; `None` when more of the file must be seen first.
    fn header(&mut self, bytes: &[u8], last: bool) -> Result<Option<(Head, usize)>, Stop> {
        // Whether lines end with a line feed is known when there is one.
        if memchr(b'\n', bytes).is_none() && !last {
            return Ok(None);
        }
        by_first_bytes(&self.file, bytes)?;
        let mark = if bytes.starts_with(b"\xEF\xBB\xBF") { 3 } else { 0 };
        let text = bytes.get(mark..).unwrap_or(&[]);
        let line_end = if memchr(b'\n', text).is_none() { b'\r' } else { b'\n' };
        let mut end = 0;
        loop {
            let rest = text.get(end..).unwrap_or(&[]);
            let length = match memchr(line_end, rest) {
                Some(i) => i + 1,
                None if last => rest.len(),
                None => return Ok(None),
            };
            let line = self.decode(rest.get(..length).unwrap_or(rest))?;
            let line = line.trim();
            end += length;
            let passed_over = line.is_empty() || line.starts_with("sep=");
            if !passed_over || end == text.len() && last {
                break;
            }
        }
        let above = self.decode(text.get(..end).unwrap_or(text))?;
        let table = Table::open(&self.file, &above, "time_utc")?;
        let columns = columns(&self.file, &table, &mut self.out.warnings)?;
        for (flag, probe) in self.out.fahrenheit.iter_mut().zip(Channel::PROBES) {
            *flag = columns.iter().any(|(c, _)| *c == Column::Fahrenheit(probe));
        }
        for ((there, probe), f) in
            self.out.present.iter_mut().zip(Channel::PROBES).zip(self.out.fahrenheit)
        {
            *there = f || columns.iter().any(|(c, _)| *c == Column::Number(probe));
        }
        let shape = table.shape();
        self.line = table.line();
        let quick = Quick::new(columns.iter().map(|(c, _)| c), shape.delimiter, shape.line_end);
        let head = Head { columns, names: table.header, shape, quick };
        Ok(Some((head, mark + end)))
    }

    fn rows(
        &mut self,
        head: &mut Head,
        bytes: &[u8],
        from: usize,
        last: bool,
        sink: &mut impl FnMut(&ProbeRow),
    ) -> Result<usize, Stop> {
        // Only whole lines are looked at.
        let rest = bytes.get(from..).unwrap_or(&[]);
        let end = match memrchr(head.shape.line_end, rest) {
            _ if last => bytes.len(),
            Some(i) => from + i + 1,
            None => return Ok(from),
        };
        let mut row =
            ProbeRow { unit: UnitKey(0), at: Utc::from_ms(0), cells: [ProbeCell::EMPTY; 4] };
        let mut at = from;
        while at < end {
            let rest = bytes.get(at..end).unwrap_or(&[]);
            if let Some(length) = head.quick.row(rest, &mut row) {
                self.out.rows += 1;
                self.line += 1;
                at += length;
                sink(&row);
                continue;
            }
            match self.slow_row(head, rest, last, sink)? {
                Some(length) => at += length,
                None => break,
            }
        }
        Ok(at)
    }

    /// Gives the row that `bytes` begin with to the complete reader; its length, or `None` when
    /// more of the file must be seen first.
    fn slow_row(
        &mut self,
        head: &mut Head,
        bytes: &[u8],
        last: bool,
        sink: &mut impl FnMut(&ProbeRow),
    ) -> Result<Option<usize>, Stop> {
        let Some(length) = row_length(bytes, head.shape, last) else {
            return Ok(None);
        };
        let written = bytes.get(..length).unwrap_or(bytes);
        let text = self.decode(written)?;
        let mut cells = Vec::new();
        let names = std::mem::take(&mut head.names);
        let mut table = Table::at_row(head.shape, names, &text, self.line);
        let result = match table.fill(&mut cells) {
            None | Some(Filled::Blank) => None,
            Some(Filled::Good { .. }) => Some(self.complete(&head.columns, &cells)),
            Some(Filled::Bad { why, .. }) => Some(Err(why)),
        };
        self.out.rows += u64::from(result.is_some());
        match result {
            Some(Ok(row)) => sink(&row),
            Some(Err(why)) => self.refuse(why),
            None => {}
        }
        let lines = table.line() - self.line;
        self.line = table.line();
        head.names = table.header;
        Ok(Some(length_of_lines(written, lines, head.shape.line_end)))
    }

    fn complete(
        &mut self,
        columns: &[(Column, String)],
        cells: &[Cow<'_, str>],
    ) -> Result<ProbeRow, String> {
        let reading = self.shelf.read_row(columns, cells)?;
        let unit = UnitKey::of(&reading.unit).ok_or("unit: is not a container number")?;
        let mut row = ProbeRow { unit, at: reading.at, cells: [ProbeCell::EMPTY; 4] };
        for ((column, name), text) in columns.iter().zip(cells) {
            let (Column::Number(c) | Column::Fahrenheit(c)) = column else { continue };
            let probe = Channel::PROBES.iter().position(|p| p == c);
            if let Some(cell) = probe.and_then(|p| row.cells.get_mut(p))
                && !text.is_empty()
            {
                *cell = ProbeCell::exactly(name, text)?;
            }
        }
        Ok(row)
    }

    fn refuse(&mut self, why: String) {
        self.out.refused_count += 1;
        if self.out.refused.len() < REFUSED_LISTED {
            self.out.refused.push(Refused { file: self.file.clone(), line: self.line, why });
        }
    }

    fn decode<'b>(&self, bytes: &'b [u8]) -> Result<Cow<'b, str>, Stop> {
        if memchr(0, bytes).is_some() {
            return Err(zero_bytes(&self.file).into());
        }
        match (std::str::from_utf8(bytes), self.encoding) {
            (Ok(text), Encoding::Utf8) => Ok(Cow::Borrowed(text)),
            (Err(_), Encoding::Utf8) => Err(Stop::NotUtf8),
            (Ok(text), Encoding::Latin1) if text.is_ascii() => Ok(Cow::Borrowed(text)),
            (_, Encoding::Latin1) => Ok(Cow::Owned(bytes.iter().map(|b| char::from(*b)).collect())),
        }
    }
}

/// How many bytes the complete reader may have to see for the row that `bytes` begin with: its
/// line, or as many lines as an open quote may run over. `None` when they are not all there.
fn row_length(bytes: &[u8], shape: Shape, last: bool) -> Option<usize> {
    let line = match memchr(shape.line_end, bytes) {
        Some(i) => i + 1,
        None if last => return Some(bytes.len()),
        None => return None,
    };
    let text = bytes.get(..line).unwrap_or(bytes);
    if memchr(b'"', text).is_none() || !open_quote(text, shape.delimiter) {
        return Some(line);
    }
    let most = LINES_PER_ROW_MAX as u32;
    let there = memchr::memchr_iter(shape.line_end, bytes).take(LINES_PER_ROW_MAX).count();
    if there < LINES_PER_ROW_MAX && !last {
        return None;
    }
    Some(length_of_lines(bytes, most, shape.line_end))
}

/// Length of the first `lines` lines.
fn length_of_lines(bytes: &[u8], lines: u32, line_end: u8) -> usize {
    let Some(before) = lines.checked_sub(1) else { return 0 };
    let end = memchr::memchr_iter(line_end, bytes).nth(before as usize);
    end.map_or(bytes.len(), |i| i + 1)
}
