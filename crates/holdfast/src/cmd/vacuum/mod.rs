//! `holdfast vacuum`

mod growing;
mod hold;
mod plan;
mod pressure;
mod siblings;
mod watch;
mod watch_args;
mod watch_words;

use std::path::PathBuf;

use fluids::hose::{Hose, Pump};
use lexopt::{Arg, Parser, ValueExt};
use units::decimal::{self, DecimalMark};
use vacuum::nitrogen::PressureTest;
use vacuum::plan::{Breaks, Job, USUAL_ULTIMATE_PA, Water};
use vacuum::standing::Standing;
use vacuum::{PA_PER_UM, Setup};

use siblings::{Keep, Sibling};

use crate::args::{Command, Invocation, usage};
use crate::fail::Fail;

/// `holdfast vacuum --help`
pub const HELP: &str = "\
holdfast vacuum plan --volume-l V --pump-l-s S [--pump-ultimate-pa P] --hose D_MMxL_M
                     [--hose ...] --target-um T [--water-g W --coldest-c C]
                     [--valve-core D_MMxL_M] [--breaks N [--break-at-um B] [--dwell-min M]] [--json]
holdfast vacuum hold --readings FILE.csv [--volume-l V] [--coldest-c C] [--fluid F]
                     [--gauge-resolution-um R] [--json]
holdfast vacuum watch FILE.csv [--criterion ID] [--rise-um R] [--for-min M] [--idle-min I]
                     [--every-s S] [--once] [options of hold, or --hold ID [--who NAME]
                     [--voyage FILE]] [--json]
holdfast vacuum nitrogen --volume-l V --start P --start-c T --end P --end-c T --hours H
                     [--gauge-step-kpa K] [--thermometer-k K] [--barometer-kpa B] [KEEP] [--json]
holdfast vacuum standing --fluid F --pressure P --temp-c T [--gauge-error-kpa K]
                     [--thermometer-k K] [--vapour-l V] [--barometer-kpa B] [KEEP] [--json]
KEEP: --keep --who NAME --gauge TEXT [--unit UNIT] [--place TEXT] [--calibrated-on DATE]
      [--ambient-c T] [--at TIME] [--remark TEXT] [--voyage FILE]

plan: minutes to the target, what holds it up, and what would help, least trouble first.
--hose         inner diameter in mm x length in m, 6.35x1.5; several are side by side
--valve-core   a narrow place in series with every hose, same form (2.5x0.015)
--water-g      water left inside; it boils off at the coldest surface's vapour pressure
--breaks       pulls to --break-at-um (1500) broken with dry nitrogen before the last one
The pump ends at 2 Pa unless --pump-ultimate-pa says otherwise.

hold: whether the readings after valving off the pump say dry and gross tight, wet, leaking, both,
or not yet. CSV with minutes, seconds (since valve-off) or time_utc, and one of pressure_um
pressure_pa pressure_mbar. The first 60 s are not fitted. The volume gives a leak rate, the
coldest surface's temperature tells liquid and ice, the refrigerant gives the loss in operation.
Exit status 3 unless dry and gross tight. A hold proves dryness and gross tightness only.

watch: a hold while a logger writes FILE: the verdict line by line as rows come, and at the end the
whole answer with a bell. FILE may come later, end in half a line, be cut or replaced.
--criterion    its time and limits (usual-500: 500 um, 15 min); any other word lists all of them
--for-min      end after so many minutes of hold instead; --idle-min: when no row came for so long
--every-s      seconds between looks (1, with --hold 10); --once: one look
--hold         put the rows into this hold of the voyage file, so that its page shows them as they
               come; sign it there. --json: one document a line. Exit status as hold.

nitrogen: a pressure test corrected for temperature, and the smallest leak that it could see in the
time given. Pressures carry their unit: 20barg, 290psig, 2100kPaa. Gauge step 10 kPa and thermometer
0.5 K unless said. Exit status 3 when it shows a leak, or a rise that warmth does not explain.
standing: charge in the condenser, all at one temperature, against saturation: non-condensable gas,
or not this refrigerant. Gauge error 31 kPa either way (class 1.0 over 31 bar) and thermometer 0.3 K
unless said. Exit status 3 unless it agrees; agreement does not prove the refrigerant.
--keep         enter the finished test, signed with --who, in the voyage file: it stands in the log,
               on the box's page and in its dossier. --at: when the last reading was taken (now).

Only after the refrigerant has been recovered; never run a compressor in vacuum; nitrogen only
through a regulator; local codes, the maker's instructions and licensed practice come first.

example: holdfast vacuum plan --volume-l 15 --pump-l-s 2.36 --hose 4.8x1.8 --target-um 500
         holdfast vacuum hold --readings hold.csv --volume-l 15 --coldest-c 18 --fluid R134a
         holdfast vacuum watch gauge-log.csv --coldest-c 18
         holdfast vacuum nitrogen --volume-l 15 --start 20barg --start-c 20 --end 19.9barg \\
             --end-c 19 --hours 24
         holdfast vacuum standing --fluid R134a --pressure 7.2barg --temp-c 30";

/// What to do.
pub enum Vacuum {
    /// `plan`
    Plan {
        /// The job.
        job: Job,
        /// Whether the pump's ultimate pressure was given.
        ultimate_given: bool,
        /// JSON on standard output.
        json: bool,
    },
    /// `hold`
    Hold {
        /// Readings file.
        readings: PathBuf,
        /// What is known beside them; a negative resolution asks for the file's own.
        setup: Setup,
        /// Whether the display's step was given.
        resolution_given: bool,
        /// JSON on standard output.
        json: bool,
    },
    /// `watch`
    Watch(Box<watch::WatchAsked>),
    /// `nitrogen`
    Nitrogen {
        /// The test.
        test: PressureTest,
        /// What a record needs, where one is wanted.
        keep: Option<Box<Keep>>,
        /// JSON on standard output.
        json: bool,
    },
    /// `standing`
    Standing {
        /// The refrigerant on the plate.
        fluid: String,
        /// What was read.
        standing: Standing,
        /// What a record needs, where one is wanted.
        keep: Option<Box<Keep>>,
        /// JSON on standard output.
        json: bool,
    },
}

/// Runs it; the number is the exit status.
pub fn run(c: &Vacuum) -> Result<u8, Fail> {
    match c {
        Vacuum::Plan { job, ultimate_given, json } => plan::run(job, *ultimate_given, *json),
        Vacuum::Hold { readings, setup, resolution_given, json } => {
            hold::run(readings, setup, *resolution_given, *json)
        }
        Vacuum::Watch(asked) => watch::run(asked),
        Vacuum::Nitrogen { test, keep, json } => pressure::nitrogen(test, keep.as_deref(), *json),
        Vacuum::Standing { fluid, standing, keep, json } => {
            pressure::standing(fluid, standing, keep.as_deref(), *json)
        }
    }
}

/// What was typed, before it is judged.
#[derive(Default)]
struct Typed {
    verb: Option<String>,
    numbers: Vec<(String, f64)>,
    hoses: Vec<Hose>,
    valve: Option<Hose>,
    readings: Option<PathBuf>,
    fluid: Option<String>,
    json: bool,
    help: bool,
}

const PLAN_NUMBERS: [&str; 9] = [
    "volume-l",
    "pump-l-s",
    "pump-ultimate-pa",
    "target-um",
    "water-g",
    "coldest-c",
    "breaks",
    "break-at-um",
    "dwell-min",
];
const HOLD_NUMBERS: [&str; 3] = ["volume-l", "coldest-c", "gauge-resolution-um"];

/// Reads what stands after `vacuum`.
pub fn parse(parser: &mut Parser) -> Result<Invocation, Fail> {
    let mut t = Typed::default();
    while let Some(arg) = parser.next().map_err(usage)? {
        match arg {
            Arg::Long("help") | Arg::Short('h') => t.help = true,
            Arg::Value(v) if t.verb.is_none() => {
                let word = v.to_string_lossy().into_owned();
                let read = match Sibling::named(&word) {
                    Some(sibling) => siblings::parse(sibling, parser)?,
                    None if word == "watch" => watch_args::parse(parser)?,
                    None => {
                        t.verb = Some(word);
                        continue;
                    }
                };
                return Ok(
                    read.map_or(Invocation::Help(HELP), |c| Invocation::Run(Command::Vacuum(c)))
                );
            }
            Arg::Long(option) => {
                let option = option.to_owned();
                t.option(&option, parser)?;
            }
            other => return Err(usage(other.unexpected())),
        }
    }
    if t.help {
        return Ok(Invocation::Help(HELP));
    }
    t.command().map(|c| Invocation::Run(Command::Vacuum(c)))
}

fn text(parser: &mut Parser) -> Result<String, Fail> {
    parser.value().and_then(ValueExt::string).map_err(usage)
}

impl Typed {
    fn option(&mut self, option: &str, parser: &mut Parser) -> Result<(), Fail> {
        let verb = self.verb.clone().unwrap_or_default();
        let (planning, holding) = (verb != "hold", verb != "plan");
        match option {
            "json" => self.json = true,
            "hose" if planning => self.hoses.push(hose("--hose", &text(parser)?)?),
            "valve-core" if planning => self.valve = Some(hose("--valve-core", &text(parser)?)?),
            "readings" if holding => self.readings = Some(parser.value().map_err(usage)?.into()),
            "fluid" if holding => self.fluid = Some(text(parser)?),
            name if (planning && PLAN_NUMBERS.contains(&name))
                || (holding && HOLD_NUMBERS.contains(&name)) =>
            {
                let typed = text(parser)?;
                let value = decimal::parse(&typed, DecimalMark::Point)
                    .map_err(|e| Fail::refused(format!("vacuum: --{name} \"{typed}\" {e}")))?;
                if self.number(name).is_some() {
                    return Err(Fail::refused(format!(
                        "vacuum: --{name} is given twice; keep one"
                    )));
                }
                self.numbers.push((name.to_owned(), value));
            }
            other => {
                return Err(Fail::refused(format!(
                    "vacuum {verb}: there is no --{other}; holdfast vacuum --help shows how"
                )));
            }
        }
        Ok(())
    }

    fn number(&self, name: &str) -> Option<f64> {
        self.numbers.iter().find(|(n, _)| n == name).map(|n| n.1)
    }

    fn needed(&self, name: &str) -> Result<f64, Fail> {
        self.number(name).ok_or_else(|| {
            Fail::refused(format!("vacuum plan: --{name} is missing; holdfast vacuum --help"))
        })
    }

    fn command(self) -> Result<Vacuum, Fail> {
        match self.verb.as_deref() {
            Some("plan") => self.plan(),
            Some("hold") => self.hold(),
            Some(other) => Err(Fail::refused(format!(
                "vacuum: there is no \"{other}\"; write plan, hold, watch, nitrogen or standing; \
                 holdfast vacuum --help shows how"
            ))),
            None => Err(Fail::refused(
                "vacuum: write plan, hold, watch, nitrogen or standing; holdfast vacuum --help",
            )),
        }
    }

    fn plan(self) -> Result<Vacuum, Fail> {
        if self.hoses.is_empty() {
            return Err(Fail::refused("vacuum plan: --hose is missing; write --hose 6.35x1.5"));
        }
        let ultimate = self.number("pump-ultimate-pa");
        let pump = Pump {
            speed_m3_s: self.needed("pump-l-s")? / 1e3,
            ultimate_pa: ultimate.unwrap_or(USUAL_ULTIMATE_PA),
        };
        let job = Job {
            volume_m3: self.needed("volume-l")? / 1e3,
            pump,
            target_pa: self.needed("target-um")? * PA_PER_UM,
            water: self.water()?,
            breaks: self.breaks()?,
            valve: self.valve,
            hoses: self.hoses,
        };
        Ok(Vacuum::Plan { job, ultimate_given: ultimate.is_some(), json: self.json })
    }

    fn water(&self) -> Result<Option<Water>, Fail> {
        match (self.number("water-g"), self.number("coldest-c")) {
            (None, _) => Ok(None),
            (Some(mass_g), Some(coldest_c)) => Ok(Some(Water { mass_g, coldest_c })),
            (Some(_), None) => Err(Fail::refused(
                "vacuum plan: --water-g needs --coldest-c, the temperature of the coldest surface",
            )),
        }
    }

    fn breaks(&self) -> Result<Option<Breaks>, Fail> {
        let Some(n) = self.number("breaks") else { return Ok(None) };
        if !(0.0..=9.0).contains(&n) || n.fract() != 0.0 {
            return Err(Fail::refused(format!(
                "vacuum plan: --breaks {n}: write a whole number from 0 to 9"
            )));
        }
        let at_pa = self.number("break-at-um").unwrap_or(1500.0) * PA_PER_UM;
        let dwell_min = self.number("dwell-min").unwrap_or(0.0);
        Ok((n > 0.0).then_some(Breaks { count: n as u8, at_pa, dwell_min }))
    }

    fn hold(self) -> Result<Vacuum, Fail> {
        let within = |name: &str, unit: &str, min: f64, max: f64| match self.number(name) {
            Some(v) if !(min..=max).contains(&v) => Err(Fail::refused(format!(
                "vacuum hold: --{name} {v} is not within {min} to {max} {unit}"
            ))),
            v => Ok(v),
        };
        let volume_l = within("volume-l", "l", 0.001, 1e6)?;
        let coldest_c = within("coldest-c", "°C", -80.0, 99.0)?;
        let resolution = within("gauge-resolution-um", "µm", 0.0, 1e4)?;
        if let Some(f) = &self.fluid {
            fluids::Refrigerant::named(f)
                .map_err(|e| Fail::refused(format!("vacuum hold: --fluid: {e}")))?;
        }
        let Some(readings) = self.readings else {
            return Err(Fail::refused("vacuum hold: --readings FILE.csv is missing"));
        };
        let setup = Setup {
            volume_m3: volume_l.map(|v| v / 1e3),
            coldest_c,
            fluid: self.fluid,
            resolution_um: resolution.unwrap_or(0.0),
        };
        let resolution_given = resolution.is_some();
        Ok(Vacuum::Hold { readings, setup, resolution_given, json: self.json })
    }
}

/// `6.35x1.5`: inner diameter in mm, length in m.
fn hose(option: &str, typed: &str) -> Result<Hose, Fail> {
    let refuse = |why: String| {
        Fail::refused(format!(
            "vacuum: {option} \"{typed}\" {why}; write inner diameter in mm x length in m, for \
             example 6.35x1.5"
        ))
    };
    let Some((d, l)) = typed.split_once(['x', 'X']) else {
        return Err(refuse("has no x".to_owned()));
    };
    let read = |t: &str| decimal::parse(t, DecimalMark::Point).map_err(|e| refuse(e.to_string()));
    Hose::new(read(d)? / 1e3, read(l)?).map_err(|e| refuse(format!("- {e} -")))
}

/// Cautions before anything is pulled down.
pub fn cautions() -> Vec<String> {
    vacuum::told::EVACUATING.iter().map(vacuum::told::sentence).collect()
}
