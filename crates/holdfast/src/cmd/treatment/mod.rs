//! `holdfast treatment`

mod aboard;
mod all;
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
holdfast treatment check --schedule FILE.toml|ID --readings FILE.csv… --all
                         [--calibration FILE.csv] [--json]
holdfast treatment schedules [--json]
On a voyage (--voyage FILE, --who NAME, --json):
holdfast treatment order UNIT… --schedule FILE.toml|ID [--from TIME]
holdfast treatment slurry UNIT --calibration FILE.csv --at TIME [--remark TEXT]
holdfast treatment list | show UNIT
holdfast treatment arrival PORT --eta TIME
holdfast treatment decide UNIT --from TIME --to TIME [--kind KIND] [--probe N]
          --verified|--not-verified --official NAME --authority NAME --document TEXT --at TIME
holdfast treatment release UNIT --accepted|--not-accepted --official NAME --authority NAME
          --document TEXT --at TIME

check puts one box's pulp readings through a quarantine cold treatment schedule: when the clock
started, how long it has run, what broke, when it can end at the earliest. Works without a voyage.
--schedule     a schedule file, or the id of one that ships (holdfast treatment schedules)
--readings     CSV with time_utc, unit and probe1_c to probe4_c (or _f); other columns may stand
               beside them. Bad rows are refused by line and are absent for the clock.
--calibration  CSV with probe,reading_c (or reading_f): readings in ice slurry, several a probe
--hours        every reading time with what it did
--all          every box of the files: how many stand how, which need an official, which end last

Numbers are compared exactly, in the unit the rule is published in: 34.0 °F is over 1.11 °C.
Exit status 3: not startable, an official must decide, or cancelled. Only an authority accepts a
treatment; keep the unit running and the record safe until it is released.
list and show: where each treatment aboard stands, when its time is met (90 % interval), whether
before its port, what a lower set point or another arrival would change. Rounds twice a day are no
hourly record and are never counted as one.
schedules lists what ships, with trust marks. Unverified rows are for rehearsal only.

example: holdfast treatment check --schedule us-t107-a-1.11 --readings logger.csv \\
           --unit QQQU1000011 --calibration slurry.csv";

/// What to do.
pub enum Treatment {
    /// `check`
    Check(Check),
    /// `check --all`
    All(All),
    /// Treatments of a voyage.
    Aboard(aboard::Aboard),
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

/// Options of `check --all`.
pub struct All {
    /// Schedule file or shipped id.
    pub schedule: String,
    /// Readings files.
    pub readings: Vec<PathBuf>,
    /// Calibration file.
    pub calibration: Option<PathBuf>,
    /// JSON on standard output.
    pub json: bool,
}

/// Exit status where a check itself says no.
pub const EXIT_NO: u8 = 3;

/// What was typed, before it is judged.
#[derive(Default)]
struct Typed {
    verb: Option<String>,
    schedule: Option<String>,
    readings: Vec<PathBuf>,
    all: bool,
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
            Arg::Long("all") => t.all = true,
            Arg::Long("readings") => t.readings.push(parser.value().map_err(usage)?.into()),
            Arg::Long("calibration") => {
                t.calibration = Some(parser.value().map_err(usage)?.into());
            }
            Arg::Value(v) if t.verb.is_none() => {
                let verb = v.to_string_lossy().into_owned();
                if !t.help && aboard::VERBS.contains(&verb.as_str()) {
                    return Ok(match aboard::parse(&verb, parser)? {
                        Some(c) => Invocation::Run(Command::Treatment(Treatment::Aboard(c))),
                        None => Invocation::Help(HELP),
                    });
                }
                t.verb = Some(verb);
            }
            // A shell writes `*.csv` as many files behind one --readings.
            Arg::Value(v) if !t.readings.is_empty() => t.readings.push(v.into()),
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
            Some("check") if self.all => self.every().map(Treatment::All),
            Some("check") => self.check().map(Treatment::Check),
            Some("schedules") => Ok(Treatment::Schedules { json: self.json }),
            Some(other) => Err(Fail::refused(format!(
                "treatment: there is no \"{other}\"; holdfast treatment --help shows what there is"
            ))),
            None => {
                Err(Fail::refused("treatment: write check or schedules; holdfast treatment --help"))
            }
        }
    }

    fn every(self) -> Result<All, Fail> {
        if self.unit.is_some() || self.hours {
            return Err(Fail::refused("treatment check: --all goes without --unit and --hours"));
        }
        if self.readings.is_empty() {
            return Err(missing("--readings", "FILE.csv"));
        }
        Ok(All {
            schedule: self.schedule.ok_or_else(|| missing("--schedule", "FILE.toml or an id"))?,
            readings: self.readings,
            calibration: self.calibration,
            json: self.json,
        })
    }

    fn check(mut self) -> Result<Check, Fail> {
        if self.readings.len() > 1 {
            return Err(Fail::refused(
                "treatment check: one file of readings for one box; more of them with --all",
            ));
        }
        let unit = self
            .unit
            .ok_or_else(|| missing("--unit", "and the container number, or --all for every box"))?;
        Ok(Check {
            schedule: self.schedule.ok_or_else(|| missing("--schedule", "FILE.toml or an id"))?,
            readings: self.readings.pop().ok_or_else(|| missing("--readings", "FILE.csv"))?,
            unit: UnitId::from_text(&unit)
                .ok_or_else(|| missing("--unit", "and the container number"))?,
            calibration: self.calibration,
            hours: self.hours,
            json: self.json,
        })
    }
}

fn missing(option: &str, what: &str) -> Fail {
    Fail::refused(format!("treatment check: {option} is missing; write {option} {what}"))
}

/// Runs it; the number is the exit status.
pub fn run(c: &Treatment) -> Result<u8, Fail> {
    match c {
        Treatment::Check(c) => check::run(c),
        Treatment::All(c) => all::run(c),
        Treatment::Aboard(c) => aboard::run(c),
        Treatment::Schedules { json } => schedules::run(*json),
    }
}
