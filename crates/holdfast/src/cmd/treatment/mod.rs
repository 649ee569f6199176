//! `holdfast treatment`

mod check;
mod schedules;

use std::path::PathBuf;

use lexopt::{Arg, Parser, ValueExt};
use record::UnitId;

use crate::args::{Command, Invocation, usage};
use crate::fail::Fail;

/// `holdfast treatment --help`
pub const HELP: &str = "\
holdfast treatment check --schedule FILE.toml|ID --readings FILE.csv --unit UNIT
                         [--calibration FILE.csv] [--hours] [--json]
holdfast treatment schedules [--json]

check puts one box's pulp readings through a quarantine cold treatment schedule: when the clock
started, how long it has run, what broke, when it can end at the earliest. Works without a voyage.
--schedule     a schedule file, or the id of one that ships (holdfast treatment schedules)
--readings     CSV with time_utc, unit and probe1_c to probe4_c (or _f); other columns may stand
               beside them. Bad rows are refused by line and are absent for the clock.
--calibration  CSV with probe,reading_c (or reading_f): readings in ice slurry, several a probe
--hours        every reading time with what it did

Numbers are compared exactly, in the unit the rule is published in: 34.0 °F is over 1.11 °C.
Exit status 3: not startable, an official must decide, or cancelled. Only an authority accepts a
treatment; keep the unit running and the record safe until it is released.
schedules lists what ships, with trust marks. Unverified rows are for rehearsal only.

example: holdfast treatment check --schedule us-t107-a-1.11 --readings logger.csv \\
           --unit QQQU1000011 --calibration slurry.csv";

/// What to do.
pub enum Treatment {
    /// `check`
    Check(Check),
    /// `schedules`
    Schedules {
        /// JSON on standard output.
        json: bool,
    },
}

/// Options of `check`.
pub struct Check {
    /// Schedule file or shipped id.
    pub schedule: String,
    /// Readings file.
    pub readings: PathBuf,
    /// The box.
    pub unit: UnitId,
    /// Calibration file.
    pub calibration: Option<PathBuf>,
    /// Every reading time.
    pub hours: bool,
    /// JSON on standard output.
    pub json: bool,
}

/// What was typed, before it is judged.
#[derive(Default)]
struct Typed {
    verb: Option<String>,
    schedule: Option<String>,
    readings: Option<PathBuf>,
    unit: Option<String>,
    calibration: Option<PathBuf>,
    hours: bool,
    json: bool,
    help: bool,
}

/// Reads what stands after `treatment`.
pub fn parse(parser: &mut Parser) -> Result<Invocation, Fail> {
    let mut t = Typed::default();
    while let Some(arg) = parser.next().map_err(usage)? {
        match arg {
            Arg::Long("help") | Arg::Short('h') => t.help = true,
            Arg::Long("json") => t.json = true,
            Arg::Long("hours") => t.hours = true,
            Arg::Long("schedule") => t.schedule = Some(text(parser)?),
            Arg::Long("unit") => t.unit = Some(text(parser)?),
            Arg::Long("readings") => t.readings = Some(parser.value().map_err(usage)?.into()),
            Arg::Long("calibration") => {
                t.calibration = Some(parser.value().map_err(usage)?.into());
            }
            Arg::Value(v) if t.verb.is_none() => t.verb = Some(v.to_string_lossy().into_owned()),
            other => return Err(usage(other.unexpected())),
        }
    }
    if t.help {
        return Ok(Invocation::Help(HELP));
    }
    t.command().map(|c| Invocation::Run(Command::Treatment(c)))
}

fn text(parser: &mut Parser) -> Result<String, Fail> {
    parser.value().and_then(ValueExt::string).map_err(usage)
}

impl Typed {
    fn command(self) -> Result<Treatment, Fail> {
        match self.verb.as_deref() {
            Some("check") => self.check().map(Treatment::Check),
            Some("schedules") => Ok(Treatment::Schedules { json: self.json }),
            Some(other) => Err(Fail::refused(format!(
                "treatment: there is no \"{other}\"; write check or schedules, holdfast treatment \
                 --help shows how"
            ))),
            None => {
                Err(Fail::refused("treatment: write check or schedules; holdfast treatment --help"))
            }
        }
    }

    fn check(self) -> Result<Check, Fail> {
        let missing = |option: &str, what: &str| {
            Fail::refused(format!("treatment check: {option} is missing; write {option} {what}"))
        };
        let unit = self.unit.ok_or_else(|| missing("--unit", "and the container number"))?;
        Ok(Check {
            schedule: self.schedule.ok_or_else(|| missing("--schedule", "FILE.toml or an id"))?,
            readings: self.readings.ok_or_else(|| missing("--readings", "FILE.csv"))?,
            unit: UnitId::from_text(&unit)
                .ok_or_else(|| missing("--unit", "and the container number"))?,
            calibration: self.calibration,
            hours: self.hours,
            json: self.json,
        })
    }
}

/// Runs it; the number is the exit status.
pub fn run(c: &Treatment) -> Result<u8, Fail> {
    match c {
        Treatment::Check(c) => check::run(c),
        Treatment::Schedules { json } => schedules::run(*json),
    }
}
