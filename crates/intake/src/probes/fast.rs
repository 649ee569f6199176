//! The quick reader of one plain row. It accepts a row only when the complete reader
//! (`readings`) would read the same from it; whatever is unusual it leaves to that one.

use record::Channel;
use units::Utc;

use super::words::{load, not_digits, number, short_decimal};
use super::{ProbeCell, ProbeRow, UnitKey};
use crate::readings::Column;

/// Longest text cell passed over here.
const TEXT_MAX: usize = 1000;

/// Whole units that lie inside every range of admissible values, by what the column holds.
const TEMPERATURE_SPAN: i32 = 273;
const SHARE_SPAN: i32 = 100;

/// What the quick reader does with a column.
#[derive(Debug, Clone, Copy)]
enum Step {
    Time,
    Unit,
    /// A temperature of probe 1 to 4, counted from 0.
    Probe(usize),
    /// Another temperature: looked at, for its row may have to be refused.
    Temperature,
    /// A share or a power: 0 to 100.
    Share,
    OnPower,
    Mode,
    /// Text nobody asks for here.
    Text,
}

impl Step {
    fn of(column: &Column) -> Self {
        match column {
            Column::Time => Self::Time,
            Column::Unit => Self::Unit,
            Column::Number(c) | Column::Fahrenheit(c) => {
                match Channel::PROBES.iter().position(|p| p == c) {
                    Some(probe) => Self::Probe(probe),
                    None if c.is_temperature() => Self::Temperature,
                    None => Self::Share,
                }
            }
            Column::OnPower => Self::OnPower,
            Column::Mode => Self::Mode,
            Column::Alarm | Column::Source | Column::Remark | Column::Unknown => Self::Text,
        }
    }
}

/// Reads plain rows; remembers day and box of the row before.
#[derive(Debug, Clone)]
pub(super) struct Quick {
    steps: Vec<Step>,
    delimiter: u8,
    line_end: u8,
    comma: bool,
    /// Dates as written (ten characters) and their midnights, by day of the month.
    days: [([u64; 2], i64); 32],
    /// The number as written (eleven characters) and its key.
    unit: ([u64; 2], UnitKey),
}

impl Quick {
    pub(super) fn new<'c>(
        columns: impl Iterator<Item = &'c Column>,
        delimiter: u8,
        line_end: u8,
    ) -> Self {
        Self {
            steps: columns.map(Step::of).collect(),
            delimiter,
            line_end,
            comma: delimiter != b',',
            days: [([0; 2], 0); 32],
            unit: ([0; 2], UnitKey(0)),
        }
    }

    /// Reads the row that `bytes` begin with into `row` and says how long it is, line end
    /// included.
    #[inline]
    pub(super) fn row(&mut self, bytes: &[u8], row: &mut ProbeRow) -> Option<usize> {
        let mut at = 0;
        let mut missing = 2;
        row.cells = [ProbeCell::EMPTY; 4];
        let last = self.steps.len().wrapping_sub(1);
        for i in 0..self.steps.len() {
            match *self.steps.get(i)? {
                Step::Time => {
                    at = self.time(bytes, at, row)?;
                    missing -= 1;
                }
                Step::Unit => {
                    at = self.unit(bytes, at, row)?;
                    missing -= 1;
                }
                Step::Probe(probe) => {
                    let (cell, length) = self.decimal(bytes, at, TEMPERATURE_SPAN)?;
                    *row.cells.get_mut(probe)? = cell;
                    at += length;
                }
                Step::Temperature => at += self.decimal(bytes, at, TEMPERATURE_SPAN)?.1,
                Step::Share => {
                    let (cell, length) = self.decimal(bytes, at, SHARE_SPAN)?;
                    if cell.mantissa < 0 {
                        return None;
                    }
                    at += length;
                }
                Step::OnPower => at += self.word(bytes, at, &[b"1", b"0", b"true", b"false"])?,
                Step::Mode => {
                    at += self.word(bytes, at, &[b"chilled", b"frozen", b"defrost", b"off"])?;
                }
                Step::Text => at += self.text(bytes, at)?,
            }
            let behind = *bytes.get(at)?;
            if behind == self.delimiter && i != last {
                at += 1;
                continue;
            }
            let whole = missing == 0;
            if behind == self.line_end {
                return whole.then_some(at + 1);
            }
            let two =
                behind == b'\r' && self.line_end == b'\n' && bytes.get(at + 1) == Some(&b'\n');
            return (whole && two).then_some(at + 2);
        }
        None
    }

    /// `YYYY-MM-DD`, `T` or a space, `HH:MM`, `HH:MM:SS` or `HH:MM:SSZ`.
    #[inline]
    fn time(&mut self, bytes: &[u8], at: usize, row: &mut ProbeRow) -> Option<usize> {
        const ON_THE_HOUR: u64 = u64::from_le_bytes(*b"\0:00:00Z");
        let date = [load(bytes, at)?, load(bytes, at + 8)?];
        let [head, rest] = date;
        let day = [head, rest & 0xFFFF];
        let slot = usize::from(two_digits(rest as u16)? & 31);
        let mut midnight = *self.days.get(slot)?;
        if day != midnight.0 {
            midnight = self.new_day(bytes, at, day, slot)?;
        }
        let between = (rest >> 16) & 0xFF;
        if between != u64::from(b'T') && between != u64::from(b' ') {
            return None;
        }
        let hour = two_digits((rest >> 24) as u16)?;
        if hour > 23 {
            return None;
        }
        let mut seconds = i64::from(hour) * 3600;
        let tail = load(bytes, at + 12)?;
        let length;
        if tail & !0xFF == ON_THE_HOUR {
            length = 20;
        } else {
            let minute = two_digits((tail >> 16) as u16)?;
            if (tail >> 8) & 0xFF != u64::from(b':') || minute > 59 {
                return None;
            }
            seconds += i64::from(minute) * 60;
            if (tail >> 32) & 0xFF == u64::from(b':') {
                let second = two_digits((tail >> 40) as u16)?;
                if second > 59 {
                    return None;
                }
                seconds += i64::from(second);
                length = if tail >> 56 == u64::from(b'Z') { 20 } else { 19 };
            } else {
                length = 16;
            }
        }
        row.at = Utc::from_ms(midnight.1 + seconds * 1000);
        Some(at + length)
    }

    #[cold]
    fn new_day(
        &mut self,
        bytes: &[u8],
        at: usize,
        day: [u64; 2],
        slot: usize,
    ) -> Option<([u64; 2], i64)> {
        let date = std::str::from_utf8(bytes.get(at..at + 10)?).ok()?;
        let midnight = Utc::parse(&format!("{date} 00:00")).ok()?;
        let known = (day, midnight.ms());
        *self.days.get_mut(slot)? = known;
        Some(known)
    }

    /// Four capitals and seven digits.
    #[inline]
    fn unit(&mut self, bytes: &[u8], at: usize, row: &mut ProbeRow) -> Option<usize> {
        let written = [load(bytes, at)?, load(bytes, at + 3)?];
        if written != self.unit.0 {
            let [head, tail] = written;
            let letters = (head as u32).to_le_bytes();
            let values = tail ^ u64::from_le_bytes([b'0'; 8]);
            let digits_ok = not_digits(values) & !0xFF == 0;
            if !(digits_ok && letters.iter().all(u8::is_ascii_uppercase)) {
                return None;
            }
            let key = UnitKey::pack(letters, number(values & !0xFF) as u32);
            self.unit = (written, key);
        }
        row.unit = self.unit.1;
        Some(at + 11)
    }

    #[inline(always)]
    fn decimal(&self, bytes: &[u8], at: usize, span: i32) -> Option<(ProbeCell, usize)> {
        const TEN: [i32; 7] = [1, 10, 100, 1000, 10_000, 100_000, 1_000_000];
        // Pulp under treatment is nearly always written so: a length known beforehand lets the
        // processor go on to the next cell before this one is worked out.
        let word = load(bytes, at)?;
        let behind = (word >> 32) as u8;
        let ends = behind == self.delimiter || behind == self.line_end || behind == b'\r';
        if ends && let Some(mantissa) = digit_and_hundredths(word as u32) {
            return Some((ProbeCell { mantissa, scale: 2 }, 4));
        }
        let short = short_decimal(bytes, at, self.comma)?;
        if short.length == 0 {
            return Some((ProbeCell::EMPTY, 0));
        }
        let most = span * TEN.get(usize::from(short.scale))?;
        if short.mantissa > most || short.mantissa < -most {
            return None;
        }
        let cell = ProbeCell { mantissa: i64::from(short.mantissa), scale: short.scale };
        Some((cell, short.length))
    }

    /// One of `words`, or nothing.
    fn word(&self, bytes: &[u8], at: usize, words: &[&[u8]]) -> Option<usize> {
        let length = self.text(bytes, at)?;
        let word = bytes.get(at..at + length)?;
        (word.is_empty() || words.contains(&word)).then_some(length)
    }

    /// Length of a cell of plain text.
    fn text(&self, bytes: &[u8], at: usize) -> Option<usize> {
        let cell = bytes.get(at..)?;
        let ends = |b: &u8| {
            *b == self.delimiter
                || *b == self.line_end
                || !b.is_ascii()
                || matches!(b, b'\r' | b'"' | 0)
        };
        let length = cell.iter().take(TEXT_MAX).position(ends)?;
        Some(length)
    }
}

/// `1.23` as 123.
#[inline(always)]
fn digit_and_hundredths(text: u32) -> Option<i64> {
    let values = text ^ u32::from_le_bytes(*b"0.00");
    let digits = values & 0xF0F0_FFF0 == 0 && (values + 0x0606_0006) & 0xF0F0_00F0 == 0;
    let number = (values & 0xF) * 100 + (values >> 16 & 0xF) * 10 + (values >> 24);
    digits.then_some(i64::from(number))
}

/// Two digits, the first in the lower byte.
#[inline]
fn two_digits(pair: u16) -> Option<u8> {
    let [tens, ones] = pair.to_le_bytes().map(|b| b.wrapping_sub(b'0'));
    (tens <= 9 && ones <= 9).then(|| tens * 10 + ones)
}
