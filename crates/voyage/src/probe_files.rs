//! Every box of readings files put through one schedule, in one go: files are read in slices,
//! readings kept in two bytes each, and a box is let go when it is judged.

use std::collections::BTreeMap;
use std::io::{self, Read};
use std::sync::Arc;

use intake::probes::{BoxColumns, Columns, Encoding, Scanned, Scanner, Stop, UnitKey};
use intake::{Refused, Unreadable};
use treatment::fast::{self, Times};
use treatment::{Calibration, Decimal, PROBES, Row, Schedule, Setup, Standing, TempUnit};
use units::Utc;

use crate::Problem;

/// Bytes read at once.
const SLICE: usize = 256 * 1024;

/// A file that can be opened, and if need be opened again.
pub trait Source {
    /// Its name, for messages.
    fn name(&self) -> String;

    /// Opens it at its beginning.
    ///
    /// # Errors
    /// What the system says.
    fn open(&self) -> io::Result<Box<dyn Read>>;
}

/// The pulp readings of every box in a set of files.
pub struct Fleet {
    columns: Columns,
    units: [TempUnit; PROBES],
    /// Rows offered.
    pub rows: u64,
    /// Rows refused, the first of them, of whatever box.
    pub refused: Vec<Refused>,
    /// Rows refused in all.
    pub refused_count: u64,
    /// Columns that were not read, and the like.
    pub warnings: Vec<String>,
}

/// How one box stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BoxVerdict {
    /// The box.
    pub unit: UnitKey,
    /// How it stands.
    pub standing: Standing,
}

/// Reads files of readings whole. `progress` is told the bytes read so far.
///
/// # Errors
/// [`Problem`] in one line when a file is no table of readings, cannot be read, or names a probe
/// in another unit than the file before.
pub fn read_fleet(
    sources: &[&dyn Source],
    progress: &mut dyn FnMut(u64),
) -> Result<Fleet, Problem> {
    let mut encodings = vec![Encoding::Utf8; sources.len()];
    'again: loop {
        let mut fleet = Fleet::empty();
        let mut done = 0;
        let mut told: [Option<TempUnit>; PROBES] = [None; PROBES];
        for (source, encoding) in sources.iter().zip(&mut encodings) {
            let columns = &mut fleet.columns;
            match scan(*source, *encoding, columns, &mut done, progress)? {
                Some(scanned) => fleet.add(&source.name(), scanned, &mut told)?,
                None => {
                    // Nothing that was read of it may stay.
                    *encoding = Encoding::Latin1;
                    continue 'again;
                }
            }
        }
        return Ok(fleet);
    }
}

/// Scans one file; `None` when it is not of this encoding.
fn scan(
    source: &dyn Source,
    encoding: Encoding,
    columns: &mut Columns,
    done: &mut u64,
    progress: &mut dyn FnMut(u64),
) -> Result<Option<Scanned>, Problem> {
    let name = source.name();
    let system = |e: io::Error| unreadable(&name, format!("{e}; check the name and try again"));
    let mut file = source.open().map_err(system)?;
    let mut scanner = Scanner::new(&name, encoding);
    let mut buffer = vec![0; SLICE];
    let mut held = 0;
    loop {
        let got = match file.read(buffer.get_mut(held..).unwrap_or(&mut [])) {
            Err(e) if e.kind() == io::ErrorKind::Interrupted => continue,
            got => got.map_err(system)?,
        };
        held += got;
        *done += got as u64;
        progress(*done);
        let given = buffer.get(..held).unwrap_or(&[]);
        let used = match scanner.scan(given, got == 0, &mut |row| columns.push(row)) {
            Ok(used) => used,
            Err(Stop::NotUtf8) => return Ok(None),
            Err(Stop::Unreadable(u)) => return Err(Problem::Unreadable(u)),
        };
        if got == 0 {
            return Ok(Some(scanner.finish()));
        }
        buffer.copy_within(used..held, 0);
        held -= used;
        if held == buffer.len() {
            buffer.resize(held * 2, 0);
        }
    }
}

impl Fleet {
    fn empty() -> Self {
        Self {
            columns: Columns::default(),
            units: [TempUnit::C; PROBES],
            rows: 0,
            refused: Vec::new(),
            refused_count: 0,
            warnings: Vec::new(),
        }
    }

    fn add(
        &mut self,
        name: &str,
        scanned: Scanned,
        told: &mut [Option<TempUnit>; PROBES],
    ) -> Result<(), Problem> {
        self.rows += scanned.rows;
        self.refused_count += scanned.refused_count;
        let room = intake::probes::REFUSED_LISTED.saturating_sub(self.refused.len());
        self.refused.extend(scanned.refused.into_iter().take(room));
        self.warnings.extend(scanned.warnings);
        let columns = scanned.fahrenheit.iter().zip(scanned.present);
        for (i, (fahrenheit, present)) in columns.enumerate() {
            let unit = if *fahrenheit { TempUnit::F } else { TempUnit::C };
            let (Some(slot), true) = (told.get_mut(i), present) else { continue };
            if slot.is_some_and(|before| before != unit) {
                let why = format!(
                    "probe{} is in another unit than in a file before; check °C and °F files by \
                     themselves",
                    i + 1
                );
                return Err(unreadable(name, why));
            }
            *slot = Some(unit);
            if let Some(u) = self.units.get_mut(i) {
                *u = unit;
            }
        }
        Ok(())
    }

    /// Boxes held.
    #[must_use]
    pub fn boxes(&self) -> usize {
        self.columns.boxes().len()
    }

    /// Bytes held for the readings.
    #[must_use]
    pub fn memory(&self) -> usize {
        self.columns.boxes().iter().map(BoxColumns::memory).sum()
    }

    /// Puts every box through the schedule, in the order of the container numbers. `progress` is
    /// told the boxes judged so far.
    ///
    /// # Errors
    /// [`Problem`] when the numbers of schedule and calibration are too long to be kept exactly.
    pub fn judge(
        self,
        schedule: &Schedule,
        calibration: Option<&Calibration>,
        progress: &mut dyn FnMut(u64),
    ) -> Result<Vec<BoxVerdict>, Problem> {
        let mut judge = Judge {
            schedule: Arc::new(schedule.clone()),
            calibration,
            units: self.units,
            setups: BTreeMap::new(),
            times: Vec::new(),
            probes: [const { Vec::new() }; PROBES],
        };
        let mut out = Vec::with_capacity(self.columns.boxes().len());
        for one in self.columns.into_boxes() {
            out.push(judge.one(&one)?);
            progress(out.len() as u64);
        }
        out.sort_unstable_by_key(|b| b.unit);
        Ok(out)
    }
}

/// What stays from box to box.
struct Judge<'a> {
    schedule: Arc<Schedule>,
    calibration: Option<&'a Calibration>,
    units: [TempUnit; PROBES],
    setups: BTreeMap<[bool; PROBES], Arc<Setup>>,
    times: Vec<i64>,
    probes: [Vec<i16>; PROBES],
}

impl Judge<'_> {
    fn one(&mut self, one: &BoxColumns) -> Result<BoxVerdict, Problem> {
        let standing = match self.quickly(one)? {
            Some(clock) => clock.standing(),
            None => self.row_by_row(one)?,
        };
        Ok(BoxVerdict { unit: one.unit(), standing })
    }

    fn setup(&mut self, fitted: [bool; PROBES]) -> Result<Arc<Setup>, Problem> {
        if let Some(held) = self.setups.get(&fitted) {
            return Ok(Arc::clone(held));
        }
        let setup = Setup::new(&self.schedule, self.calibration, self.units, fitted);
        let setup = Arc::new(setup.ok_or_else(|| self.too_long())?);
        self.setups.insert(fitted, Arc::clone(&setup));
        Ok(setup)
    }

    /// Column by column; `None` where a box's rows must be looked at one by one.
    fn quickly(&mut self, one: &BoxColumns) -> Result<Option<treatment::Clock>, Problem> {
        let setup = self.setup(one.fitted())?;
        let Some(scale) = one.plain(&mut self.probes) else {
            return Ok(None);
        };
        let times = match one.steady_ms() {
            Some((start_ms, step_ms)) => {
                Times::Every { start: Utc::from_ms(start_ms), step_ms, rows: one.rows() }
            }
            None => {
                self.times.clear();
                one.times(&mut self.times);
                Times::At(&self.times)
            }
        };
        let probes = self.probes.each_ref().map(Vec::as_slice);
        Ok(fast::run(&setup, &fast::Columns { times, probes, scale }))
    }

    /// Rows out of order, instants twice, fault codes: the complete engine sorts and merges.
    fn row_by_row(&self, one: &BoxColumns) -> Result<Standing, Problem> {
        let mut rows = Vec::with_capacity(one.rows());
        one.each_row(|at, cells| {
            let probes = cells.map(|c| c.get().and_then(|(m, s)| Decimal::new(m, s)));
            rows.push(Row { at, probes });
        });
        let ledger = treatment::evaluate(&self.schedule, self.calibration, self.units, &rows, &[]);
        ledger.clock().map(treatment::Clock::standing).ok_or_else(|| self.too_long())
    }

    fn too_long(&self) -> Problem {
        let why = "numbers of the schedule or the calibration are too long to be kept exactly; \
                   write them as the instrument shows them";
        unreadable(&self.schedule.id, why.to_owned())
    }
}

fn unreadable(file: &str, why: String) -> Problem {
    Problem::Unreadable(Unreadable { file: file.to_owned(), line: None, why })
}
