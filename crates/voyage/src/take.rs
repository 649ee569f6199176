//! Taking readings.

use intake::Refused;
use journal::{NewEntry, Writer};
use record::reading::{Novelty, novelty};
use record::{Reading, UnitId};
use units::Utc;

use crate::bodies::{RefusedRow, TAKE, TakeBody};
use crate::load::originals;
use crate::{NamedBytes, Problem, Voyage, has_come};

/// What taking readings gave: rows = stored + already held + refused.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TakeOutcome {
    /// Files read.
    pub files: usize,
    /// Rows offered.
    pub rows: u64,
    /// Rows stored.
    pub stored: u64,
    /// Rows whose every value was held.
    pub already_held: u64,
    /// Rows refused, by file and line.
    pub refused: Vec<Refused>,
    /// Values that differ from one held for the same box, time, column and source.
    pub conflicts: u64,
    /// Columns that were not read, and the like.
    pub warnings: Vec<String>,
}

impl Voyage {
    /// Takes readings from files. `progress(done, all)` counts rows as they are filed.
    ///
    /// # Errors
    /// [`Problem`]; then nothing was stored: a file that is no table of readings,
    /// [`Problem::AllRefused`], a full disk.
    pub fn take(
        &mut self,
        files: &[NamedBytes],
        who: &str,
        now: Utc,
        progress: &mut dyn FnMut(u64, u64),
    ) -> Result<TakeOutcome, Problem> {
        let (mut readings, mut out) = read_files(files)?;
        out.warnings.extend(ahead_of_clock(&readings, now));
        readings.sort_by(|a, b| {
            (&a.unit, a.at, a.origin.file, a.origin.line).cmp(&(
                &b.unit,
                b.at,
                b.origin.file,
                b.origin.line,
            ))
        });
        let all_held_before = self.all_originals_held(files)?;
        let mut writer = self.journal.begin()?;
        file_readings(&mut writer, &readings, &mut out, progress)?;
        // The same file once more brings nothing: not even an entry.
        if out.stored == 0 && all_held_before {
            return Ok(out);
        }
        let body = body_of(&out)?;
        let originals = originals(files);
        let entry = NewEntry { kind: TAKE, at: now, who, body: &body, originals: &originals };
        let (seq, _) = writer.commit(&entry)?;
        // Only when nobody else wrote in between: their list may have changed.
        if seq == self.replayed_to + 1 {
            self.replayed_to = seq;
        }
        Ok(out)
    }

    fn all_originals_held(&self, files: &[NamedBytes]) -> Result<bool, Problem> {
        for f in files {
            if !self.holds_file(&f.bytes)? {
                return Ok(false);
            }
        }
        Ok(true)
    }
}

/// Rows of a time that has not come: a recorder's clock or this computer's is wrong. They are kept
/// as sent, and the watch list does not speak as of them while other boxes are read earlier.
fn ahead_of_clock(readings: &[Reading], now: Utc) -> Option<String> {
    let ahead = || readings.iter().filter(|r| has_come("", r.at, now).is_err());
    let last = ahead().max_by_key(|r| r.at)?;
    Some(format!(
        "{} row(s) lie ahead of this computer's clock ({} UTC), the last {} UTC of {}: kept as \
         sent; check both clocks",
        ahead().count(),
        now.to_minute(),
        last.at.to_minute(),
        last.unit
    ))
}

/// Reads the files without a voyage: tells whether they could be taken at all.
///
/// # Errors
/// As [`Voyage::take`].
pub fn check_readings(files: &[NamedBytes]) -> Result<(), Problem> {
    read_files(files).map(|_| ())
}

fn read_files(files: &[NamedBytes]) -> Result<(Vec<Reading>, TakeOutcome), Problem> {
    let mut out = TakeOutcome { files: files.len(), ..TakeOutcome::default() };
    let mut readings = Vec::new();
    for (n, f) in files.iter().enumerate() {
        let number = u16::try_from(n).unwrap_or(u16::MAX);
        let mut file = intake::read_readings(&f.name, number, &f.bytes)?;
        out.rows += file.rows;
        out.refused.append(&mut file.refused);
        out.warnings.append(&mut file.warnings);
        if readings.is_empty() {
            readings = file.readings;
        } else {
            readings.append(&mut file.readings);
        }
    }
    if out.rows > 0 && readings.is_empty() {
        return Err(Problem::AllRefused(Box::new(out)));
    }
    Ok((readings, out))
}

/// Files what is new of the sorted readings, box by box.
fn file_readings(
    writer: &mut Writer<'_>,
    readings: &[Reading],
    out: &mut TakeOutcome,
    progress: &mut dyn FnMut(u64, u64),
) -> Result<(), Problem> {
    let all = readings.len() as u64;
    let mut bytes = Vec::with_capacity(256);
    for of_box in readings.chunk_by(|a, b| a.unit == b.unit) {
        let (Some(first), Some(last)) = (of_box.first(), of_box.last()) else {
            continue;
        };
        let held = held_readings(writer, &first.unit, first.at, last.at)?;
        let mut held = held.as_slice();
        for at_once in of_box.chunk_by(|a, b| a.at == b.at) {
            let Some(at) = at_once.first().map(|r| r.at) else {
                continue;
            };
            let before = held.iter().take_while(|h| h.at < at).count();
            held = held.get(before..).unwrap_or(&[]);
            let now = held.iter().take_while(|h| h.at == at).count();
            let same_instant = held.get(..now).unwrap_or(&[]);
            file_instant(writer, same_instant, at_once, &mut bytes, out)?;
        }
        progress(out.stored + out.already_held, all);
    }
    Ok(())
}

/// Files the rows of one box and instant.
fn file_instant(
    writer: &mut Writer<'_>,
    held: &[Reading],
    new: &[Reading],
    bytes: &mut Vec<u8>,
    out: &mut TakeOutcome,
) -> Result<(), Problem> {
    let mut accepted: Vec<&Reading> = Vec::new();
    for r in new {
        let known = held.iter().chain(accepted.iter().copied());
        match novelty(known, r) {
            Novelty::Held => out.already_held += 1,
            Novelty::New { conflicts } => {
                bytes.clear();
                r.write_canonical(bytes);
                writer.row(r.unit.as_str(), r.at, bytes)?;
                accepted.push(r);
                out.stored += 1;
                out.conflicts += u64::from(conflicts);
            }
        }
    }
    Ok(())
}

fn held_readings(
    writer: &Writer<'_>,
    unit: &UnitId,
    from: Utc,
    to: Utc,
) -> Result<Vec<Reading>, Problem> {
    let rows = writer.rows(unit.as_str(), from, to)?;
    rows.iter().map(|row| crate::look::decode(unit, row)).collect()
}

fn body_of(out: &TakeOutcome) -> Result<Vec<u8>, Problem> {
    let refused = out.refused.iter().map(|r| RefusedRow {
        file: r.file.clone(),
        line: r.line,
        why: r.why.clone(),
    });
    let body = TakeBody {
        rows: out.rows,
        stored: out.stored,
        already_held: out.already_held,
        conflicts: out.conflicts,
        refused: refused.collect(),
        warnings: out.warnings.clone(),
    };
    serde_json::to_vec(&body).map_err(|e| Problem::Entry { seq: 0, why: e.to_string() })
}
