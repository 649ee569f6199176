//! `holdfast vacuum watch`: reading the options.

use std::path::PathBuf;

use lexopt::{Arg, Parser};
use units::decimal::{self, DecimalMark};
use voyage::holds::CRITERIA;

use super::watch::{WatchAsked, start};
use super::{Vacuum, text};
use crate::args::usage;
use crate::fail::Fail;

/// Numbers with their limits: lowest, highest, unit.
const NUMBERS: [(&str, f64, f64, &str); 7] = [
    ("volume-l", 0.001, 1e6, "l"),
    ("coldest-c", -80.0, 99.0, "°C"),
    ("gauge-resolution-um", 0.0, 1e4, "µm"),
    ("rise-um", 0.0, 1e5, "µm"),
    ("for-min", 1.0, 1440.0, "min"),
    ("idle-min", 0.01, 1440.0, "min"),
    ("every-s", 0.05, 3600.0, "s"),
];
const TEXTS: [&str; 5] = ["fluid", "criterion", "hold", "voyage", "who"];
/// What a hold in the voyage brings itself.
const OF_HOLD: [&str; 6] =
    ["volume-l", "coldest-c", "gauge-resolution-um", "rise-um", "fluid", "criterion"];
/// Seconds between two looks: at a file alone, and where each look may make an entry.
const EVERY_S: (f64, f64) = (1.0, 10.0);

#[derive(Default)]
struct Typed {
    file: Option<PathBuf>,
    numbers: Vec<(&'static str, f64)>,
    texts: Vec<(&'static str, String)>,
    once: bool,
    json: bool,
}

fn refuse(why: String) -> Fail {
    Fail::refused(format!("vacuum watch: {why}"))
}

/// Reads what stands after the word; `None` when help is asked for.
pub fn parse(parser: &mut Parser) -> Result<Option<Vacuum>, Fail> {
    let mut t = Typed::default();
    while let Some(arg) = parser.next().map_err(usage)? {
        match arg {
            Arg::Long("help") | Arg::Short('h') => return Ok(None),
            Arg::Long("json") => t.json = true,
            Arg::Long("once") => t.once = true,
            Arg::Long(name) => {
                let name = name.to_owned();
                t.option(&name, parser)?;
            }
            Arg::Value(v) if t.file.is_none() => t.file = Some(v.into()),
            other => return Err(usage(other.unexpected())),
        }
    }
    t.asked().map(|asked| Some(Vacuum::Watch(Box::new(asked))))
}

impl Typed {
    fn option(&mut self, name: &str, parser: &mut Parser) -> Result<(), Fail> {
        if let Some((key, min, max, unit)) = NUMBERS.iter().find(|n| n.0 == name) {
            let typed = text(parser)?;
            let value = decimal::parse(&typed, DecimalMark::Point)
                .map_err(|e| refuse(format!("--{key} \"{typed}\" {e}")))?;
            if !(*min..=*max).contains(&value) {
                return Err(refuse(format!("--{key} {value} is not within {min} to {max} {unit}")));
            }
            if self.number(key).is_some() {
                return Err(refuse(format!("--{key} is given twice; keep one")));
            }
            self.numbers.push((key, value));
            return Ok(());
        }
        let Some(key) = TEXTS.iter().find(|t| **t == name) else {
            return Err(refuse(format!("there is no --{name}; holdfast vacuum --help shows how")));
        };
        if self.text(key).is_some() {
            return Err(refuse(format!("--{key} is given twice; keep one")));
        }
        self.texts.push((key, text(parser)?));
        Ok(())
    }

    fn number(&self, key: &str) -> Option<f64> {
        self.numbers.iter().find(|n| n.0 == key).map(|n| n.1)
    }

    fn text(&self, key: &str) -> Option<&str> {
        self.texts.iter().find(|t| t.0 == key).map(|t| t.1.as_str())
    }

    fn asked(self) -> Result<WatchAsked, Fail> {
        let hold = self.text("hold").map(str::to_owned);
        let given = |key: &&&str| self.number(key).is_some() || self.text(key).is_some();
        match (&hold, OF_HOLD.iter().find(given)) {
            (Some(id), Some(key)) => {
                return Err(refuse(format!("--{key}: hold {id} has its own; leave it out")));
            }
            (None, _) if self.text("voyage").or(self.text("who")).is_some() => {
                return Err(refuse("--voyage and --who go with --hold".to_owned()));
            }
            _ => {}
        }
        let criterion = self.text("criterion").unwrap_or("usual-500");
        if !CRITERIA.iter().any(|c| c.id == criterion) {
            let all: Vec<&str> = CRITERIA.iter().map(|c| c.id).collect();
            let all = all.join(", ");
            return Err(refuse(format!("--criterion \"{criterion}\" is none of {all}")));
        }
        if let Some(f) = self.text("fluid") {
            fluids::Refrigerant::named(f).map_err(|e| refuse(format!("--fluid: {e}")))?;
        }
        let mut start = start(criterion.to_owned());
        start.volume_l = self.number("volume-l");
        start.coldest_c = self.number("coldest-c");
        start.fluid = self.text("fluid").map(str::to_owned);
        start.rise_um = self.number("rise-um").filter(|r| *r > 0.0);
        let step = self.number("gauge-resolution-um");
        start.gauge_step = step.unwrap_or(0.0);
        let usual = if hold.is_some() { EVERY_S.1 } else { EVERY_S.0 };
        Ok(WatchAsked {
            start,
            step_given: step.is_some(),
            hold,
            voyage: self.text("voyage").map(PathBuf::from),
            who: self.text("who").map(str::to_owned),
            for_min: self.number("for-min"),
            idle_min: self.number("idle-min"),
            every_s: self.number("every-s").unwrap_or(usual),
            once: self.once,
            json: self.json,
            file: self.file.ok_or_else(|| {
                refuse("name the file that the logger writes: vacuum watch FILE.csv".to_owned())
            })?,
        })
    }
}
