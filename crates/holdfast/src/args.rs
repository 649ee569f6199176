//! What was typed.

use std::ffi::OsString;
use std::net::SocketAddr;
use std::path::PathBuf;

use fluids::text::{NotRead, Pressure, parse_pressure, parse_temperature_c};
use lexopt::{Arg, Parser, ValueExt};
use record::UnitId;
use units::Utc;
use units::decimal::DecimalMark;
use voyage::AsOf;

use crate::fail::Fail;
use crate::help;

/// What to do.
pub enum Invocation {
    /// Print a help text.
    Help(&'static str),
    /// Run a command.
    Run(Command),
}

/// A command with its options.
pub enum Command {
    /// `load`
    Load(Load),
    /// `take`
    Take(Take),
    /// `watch`
    Watch(Watch),
    /// `box`
    Box(OneBox),
    /// `verify`
    Verify(crate::cmd::verify::Verify),
    /// `dossier`
    Dossier(crate::cmd::dossier::DossierOf),
    /// `demo`
    Demo(Demo),
    /// `serve`
    Serve(Serve),
    /// `fluid`
    Fluid(Fluid),
    /// `power`
    Power(crate::cmd::power::Power),
    /// `note`
    Note(crate::cmd::note::NoteOf),
    /// `handover`
    Handover(crate::cmd::handover::HandoverOf),
    /// `instrument`
    Instrument(crate::cmd::instrument::InstrumentOf),
    /// `chart`
    Chart(crate::cmd::chart::ChartOf),
    /// `log`
    Log(crate::cmd::log::LogOf),
    /// `report`
    Report(crate::cmd::report::Report),
    /// `round`
    Round(crate::cmd::round::Round),
    /// `repair`
    Repair(crate::cmd::repair::Repair),
    /// `gas`
    Gas(crate::cmd::gas::Gas),
    /// `gauge`
    Gauge(crate::cmd::gauge::Gauge),
    /// `service`
    Service(crate::cmd::service::Service),
    /// `spares`
    Spares(crate::cmd::spares::Spares),
    /// `vacuum`
    Vacuum(crate::cmd::vacuum::Vacuum),
    /// `treatment`
    Treatment(crate::cmd::treatment::Treatment),
}

/// Options of `load`.
#[derive(Default)]
pub struct Load {
    /// List files.
    pub files: Vec<PathBuf>,
    /// Voyage file.
    pub voyage: Option<PathBuf>,
    /// Show only, store nothing.
    pub dry_run: bool,
    /// Who loads.
    pub who: Option<String>,
    /// JSON on standard output.
    pub json: bool,
}

/// Options of `take`.
#[derive(Default)]
pub struct Take {
    /// Readings files.
    pub files: Vec<PathBuf>,
    /// Voyage file.
    pub voyage: Option<PathBuf>,
    /// Who takes.
    pub who: Option<String>,
    /// JSON on standard output.
    pub json: bool,
}

/// Options of `watch`.
pub struct Watch {
    /// Voyage file.
    pub voyage: Option<PathBuf>,
    /// The instant asked for.
    pub as_of: AsOf,
    /// Boxes that are fine too.
    pub all: bool,
    /// The paper to write.
    pub out: Option<PathBuf>,
    /// JSON on standard output.
    pub json: bool,
}

/// Options of `box`.
pub struct OneBox {
    /// Which.
    pub unit: UnitId,
    /// Voyage file.
    pub voyage: Option<PathBuf>,
    /// The instant asked for.
    pub as_of: AsOf,
    /// After how many hours a repair is supposed to be done.
    pub repair_in_h: f64,
    /// JSON on standard output.
    pub json: bool,
}

/// Options of `demo`.
pub struct Demo {
    /// Folder to write into.
    pub dir: PathBuf,
    /// Boxes.
    pub boxes: usize,
    /// Days of data.
    pub days: u32,
    /// Seed.
    pub seed: u64,
    /// Serve afterwards.
    pub serve: bool,
    /// Address to serve on.
    pub listen: SocketAddr,
    /// JSON on standard output.
    pub json: bool,
}

/// Options of `fluid`.
pub struct Fluid {
    /// Name of the refrigerant.
    pub name: String,
    /// Pressure, gauge and absolute.
    pub pressure: Option<Pressure>,
    /// Temperature, °C.
    pub temp_c: Option<f64>,
    /// Barometer, kPa.
    pub barometer_kpa: f64,
    /// JSON on standard output.
    pub json: bool,
}

/// Options of `serve`.
pub struct Serve {
    /// Voyage file.
    pub voyage: Option<PathBuf>,
    /// Address to serve on.
    pub listen: SocketAddr,
}

/// Reads the command line.
pub fn parse(args: impl IntoIterator<Item = OsString>) -> Result<Invocation, Fail> {
    let mut parser = Parser::from_iter(args);
    match parser.next().map_err(usage)? {
        None | Some(Arg::Long("help") | Arg::Short('h')) => Ok(Invocation::Help(help::OVERVIEW)),
        Some(Arg::Long("version") | Arg::Short('V')) => {
            Ok(Invocation::Help(concat!("holdfast ", env!("CARGO_PKG_VERSION"))))
        }
        Some(Arg::Value(name)) => command(&name.to_string_lossy(), &mut parser),
        Some(other) => Err(usage(other.unexpected())),
    }
}

fn command(name: &str, parser: &mut Parser) -> Result<Invocation, Fail> {
    match name {
        "chart" => return crate::cmd::chart::parse(parser),
        "dossier" => return crate::cmd::dossier::parse(parser),
        "round" => return crate::cmd::round::parse(parser),
        "gas" => return crate::cmd::gas::parse(parser),
        "gauge" => return crate::cmd::gauge::parse(parser),
        "handover" => return crate::cmd::handover::parse(parser),
        "instrument" => return crate::cmd::instrument::parse(parser),
        "log" => return crate::cmd::log::parse(parser),
        "note" => return crate::cmd::note::parse(parser),
        "report" => return crate::cmd::report::parse(parser),
        "power" => return crate::cmd::power::parse(parser),
        "repair" => return crate::cmd::repair::parse(parser),
        "service" => return crate::cmd::service::parse(parser),
        "spares" => return crate::cmd::spares::parse(parser),
        "treatment" => return crate::cmd::treatment::parse(parser),
        "verify" => return crate::cmd::verify::parse(parser),
        "vacuum" => return crate::cmd::vacuum::parse(parser),
        _ => {}
    }
    let typed = Typed::read(name, parser)?;
    if typed.help || name == "help" {
        let topic =
            if name == "help" { typed.values.first().map(String::as_str) } else { Some(name) };
        return help::of(topic.unwrap_or("")).map(Invocation::Help).ok_or_else(|| unknown(name));
    }
    let command = match name {
        "load" => typed.load().map(Command::Load),
        "take" => typed.take().map(Command::Take),
        "watch" => typed.watch().map(Command::Watch),
        "box" => typed.one_box().map(Command::Box),
        "demo" => typed.demo().map(Command::Demo),
        "serve" => typed.serve().map(Command::Serve),
        "fluid" => typed.fluid().map(Command::Fluid),
        _ => Err(unknown(name)),
    }?;
    Ok(Invocation::Run(command))
}

fn unknown(name: &str) -> Fail {
    Fail::refused(format!("there is no command \"{name}\"; holdfast --help lists them"))
}

/// A repair is supposed to be done after so many hours where nobody says.
const REPAIR_IN_H: f64 = 6.0;
/// Longest that may be asked for, h.
const REPAIR_IN_H_MAX: f64 = 720.0;

/// A typing mistake, in one line.
pub fn usage(e: lexopt::Error) -> Fail {
    Fail::refused(format!("{e}; holdfast --help shows how"))
}

/// Options that each command allows beside `--help`.
fn allowed(name: &str) -> &'static [&'static str] {
    match name {
        "load" => &["voyage", "json", "dry-run", "who"],
        "take" => &["voyage", "json", "who"],
        "watch" => &["voyage", "json", "as-of", "all", "out"],
        "box" => &["voyage", "json", "as-of", "repair-in-h"],
        "demo" => &["dir", "boxes", "days", "seed", "no-serve", "listen", "json"],
        "serve" => &["voyage", "listen"],
        "fluid" => &["p-kpa", "t-c", "p", "t", "barometer-kpa", "json"],
        _ => &[],
    }
}

/// Everything typed after the command's name.
#[derive(Default)]
struct Typed {
    command: String,
    values: Vec<String>,
    paths: Vec<PathBuf>,
    voyage: Option<PathBuf>,
    dir: Option<PathBuf>,
    who: Option<String>,
    as_of: Option<String>,
    listen: Option<String>,
    p: Option<String>,
    t: Option<String>,
    p_kpa: Option<f64>,
    t_c: Option<f64>,
    barometer_kpa: Option<f64>,
    repair_in_h: Option<f64>,
    boxes: Option<usize>,
    days: Option<u32>,
    seed: Option<u64>,
    json: bool,
    all: bool,
    out: Option<PathBuf>,
    dry_run: bool,
    no_serve: bool,
    help: bool,
}

impl Typed {
    fn read(name: &str, parser: &mut Parser) -> Result<Self, Fail> {
        let mut t = Self { command: name.to_owned(), ..Self::default() };
        while let Some(arg) = parser.next().map_err(usage)? {
            match arg {
                Arg::Long("help") | Arg::Short('h') => t.help = true,
                Arg::Value(v) => {
                    t.values.push(v.to_string_lossy().into_owned());
                    t.paths.push(v.into());
                }
                Arg::Long(option) if allowed(name).contains(&option) => {
                    let option = option.to_owned();
                    t.option(&option, parser)?;
                }
                other => return Err(usage(other.unexpected())),
            }
        }
        Ok(t)
    }

    fn option(&mut self, option: &str, parser: &mut Parser) -> Result<(), Fail> {
        match option {
            "json" => self.json = true,
            "all" => self.all = true,
            "out" => self.out = Some(parser.value().map_err(usage)?.into()),
            "dry-run" => self.dry_run = true,
            "no-serve" => self.no_serve = true,
            "voyage" => self.voyage = Some(parser.value().map_err(usage)?.into()),
            "dir" => self.dir = Some(parser.value().map_err(usage)?.into()),
            "who" => self.who = Some(text(parser)?),
            "as-of" => self.as_of = Some(text(parser)?),
            "listen" => self.listen = Some(text(parser)?),
            "p" => self.p = Some(text(parser)?),
            "t" => self.t = Some(text(parser)?),
            "p-kpa" => self.p_kpa = Some(decimal(parser, "--p-kpa")?),
            "t-c" => self.t_c = Some(decimal(parser, "--t-c")?),
            "barometer-kpa" => self.barometer_kpa = Some(decimal(parser, "--barometer-kpa")?),
            "repair-in-h" => self.repair_in_h = Some(decimal(parser, "--repair-in-h")?),
            "boxes" => self.boxes = Some(number(parser)?),
            "days" => self.days = Some(number(parser)?),
            "seed" => self.seed = Some(number(parser)?),
            _ => {}
        }
        Ok(())
    }

    fn needs_files(&self) -> Result<(), Fail> {
        if self.paths.is_empty() {
            let c = &self.command;
            return Err(Fail::refused(format!("{c}: name at least one file; holdfast {c} --help")));
        }
        Ok(())
    }

    fn needs_nothing_more(&self, most: usize) -> Result<(), Fail> {
        match self.values.get(most) {
            None => Ok(()),
            Some(v) => Err(Fail::refused(format!(
                "{}: \"{v}\" is one word too many; holdfast {} --help",
                self.command, self.command
            ))),
        }
    }

    fn load(self) -> Result<Load, Fail> {
        self.needs_files()?;
        let Self { paths, voyage, dry_run, who, json, .. } = self;
        Ok(Load { files: paths, voyage, dry_run, who, json })
    }

    fn take(self) -> Result<Take, Fail> {
        self.needs_files()?;
        Ok(Take { files: self.paths, voyage: self.voyage, who: self.who, json: self.json })
    }

    fn watch(self) -> Result<Watch, Fail> {
        self.needs_nothing_more(0)?;
        let as_of = self.instant()?;
        let Self { voyage, all, out, json, .. } = self;
        Ok(Watch { voyage, as_of, all, out, json })
    }

    fn one_box(self) -> Result<OneBox, Fail> {
        // A number may be typed as it is painted: "QQQU 100001 1".
        let typed = self.values.concat();
        let unit = UnitId::from_text(&typed)
            .ok_or_else(|| Fail::refused("box: name the box; holdfast box --help"))?;
        let as_of = self.instant()?;
        let repair_in_h = self.repair_in_h.unwrap_or(REPAIR_IN_H);
        if !(0.0..=REPAIR_IN_H_MAX).contains(&repair_in_h) {
            return Err(Fail::refused(format!(
                "--repair-in-h {repair_in_h}: write 0 to {REPAIR_IN_H_MAX} hours"
            )));
        }
        Ok(OneBox { unit, voyage: self.voyage, as_of, repair_in_h, json: self.json })
    }

    fn demo(self) -> Result<Demo, Fail> {
        self.needs_nothing_more(0)?;
        let listen = self.address()?;
        let (boxes, days) = (self.boxes.unwrap_or(300), self.days.unwrap_or(14));
        if !(1..=3000).contains(&boxes) {
            return Err(Fail::refused(format!(
                "demo: --boxes {boxes}: 1 to 3000 can be simulated"
            )));
        }
        if !(1..=60).contains(&days) {
            return Err(Fail::refused(format!("demo: --days {days}: 1 to 60 can be simulated")));
        }
        Ok(Demo {
            dir: self.dir.unwrap_or_else(|| PathBuf::from("holdfast-demo")),
            boxes,
            days,
            seed: self.seed.unwrap_or(1),
            serve: !self.no_serve,
            listen,
            json: self.json,
        })
    }

    fn fluid(self) -> Result<Fluid, Fail> {
        self.needs_nothing_more(1)?;
        let name = self.values.first().cloned().ok_or_else(|| {
            Fail::refused("fluid: name the refrigerant, for example R134a; holdfast fluid --help")
        })?;
        let twice = |what: &str| Fail::refused(format!("fluid: {what} is given twice; keep one"));
        let barometer_kpa = self.barometer_kpa.unwrap_or(101.325);
        let read = |e: NotRead| Fail::refused(format!("fluid: {e}"));
        let typed_p = match (self.p_kpa, &self.p) {
            (Some(_), Some(_)) => return Err(twice("the pressure")),
            (Some(v), None) => Some(format!("{v} kPaa")),
            (None, p) => p.clone(),
        };
        let pressure =
            typed_p.map(|p| parse_pressure(&p, barometer_kpa)).transpose().map_err(read)?;
        let temp_c = match (self.t_c, &self.t) {
            (Some(_), Some(_)) => return Err(twice("the temperature")),
            (Some(v), None) => Some(v),
            (None, Some(t)) => Some(parse_temperature_c(t).map_err(read)?),
            (None, None) => None,
        };
        Ok(Fluid { name, pressure, temp_c, barometer_kpa, json: self.json })
    }

    fn serve(self) -> Result<Serve, Fail> {
        self.needs_nothing_more(0)?;
        let listen = self.address()?;
        Ok(Serve { voyage: self.voyage, listen })
    }

    /// `--as-of latest`, `now` or a time.
    fn instant(&self) -> Result<AsOf, Fail> {
        match self.as_of.as_deref() {
            None | Some("latest") => Ok(AsOf::Latest),
            Some("now") => Ok(AsOf::At(crate::files::now())),
            Some(t) => Utc::parse(t).map(AsOf::At).map_err(|e| {
                Fail::refused(format!(
                    "{}: --as-of \"{t}\" {e}; or \"latest\", \"now\"",
                    self.command
                ))
            }),
        }
    }

    /// `--listen`: this computer only.
    fn address(&self) -> Result<SocketAddr, Fail> {
        let typed = self.listen.as_deref().unwrap_or("127.0.0.1:8137");
        let spelled = typed.strip_prefix("localhost:").map(|port| format!("127.0.0.1:{port}"));
        let address: SocketAddr = spelled.as_deref().unwrap_or(typed).parse().map_err(|_| {
            Fail::refused(format!(
                "{}: --listen \"{typed}\" is no address; write 127.0.0.1:8137",
                self.command
            ))
        })?;
        if !address.ip().is_loopback() {
            return Err(Fail::refused(format!(
                "{}: --listen {address}: the page is served to this computer only; use 127.0.0.1",
                self.command
            )));
        }
        Ok(address)
    }
}

fn text(parser: &mut Parser) -> Result<String, Fail> {
    parser.value().and_then(ValueExt::string).map_err(usage)
}

fn decimal(parser: &mut Parser, option: &str) -> Result<f64, Fail> {
    let typed = text(parser)?;
    units::decimal::parse(&typed, DecimalMark::Point)
        .map_err(|e| Fail::refused(format!("{option} \"{typed}\" {e}")))
}

fn number<T: std::str::FromStr>(parser: &mut Parser) -> Result<T, Fail>
where
    T::Err: Into<Box<dyn std::error::Error + Send + Sync>>,
{
    parser.value().and_then(|v| v.parse()).map_err(usage)
}
