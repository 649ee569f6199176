//! `holdfast vacuum nitrogen` and `holdfast vacuum standing`: reading the options.

use std::path::PathBuf;

use fluids::Refrigerant;
use fluids::text::parse_pressure;
use lexopt::{Arg, Parser};
use record::UnitId;
use units::Utc;
use units::decimal::{self, DecimalMark};
use vacuum::nitrogen::PressureTest;
use vacuum::standing::Standing;
use voyage::pressure::{PressureHead, as_written};

use super::{Vacuum, text};
use crate::args::usage;
use crate::fail::Fail;
use crate::files;

/// Which of the two.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sibling {
    /// Nitrogen pressure test.
    Nitrogen,
    /// Standing pressure against saturation.
    Standing,
}

impl Sibling {
    /// From the word typed.
    pub fn named(word: &str) -> Option<Self> {
        match word {
            "nitrogen" => Some(Self::Nitrogen),
            "standing" => Some(Self::Standing),
            _ => None,
        }
    }

    fn word(self) -> &'static str {
        match self {
            Self::Nitrogen => "nitrogen",
            Self::Standing => "standing",
        }
    }

    /// Options with a value.
    fn options(self) -> &'static [&'static str] {
        match self {
            Self::Nitrogen => &[
                "volume-l",
                "start",
                "start-c",
                "end",
                "end-c",
                "hours",
                "gauge-step-kpa",
                "thermometer-k",
                "barometer-kpa",
            ],
            Self::Standing => &[
                "fluid",
                "pressure",
                "temp-c",
                "gauge-error-kpa",
                "thermometer-k",
                "vapour-l",
                "barometer-kpa",
            ],
        }
    }
}

/// Options that go with `--keep`.
const KEPT: [&str; 9] =
    ["unit", "place", "who", "gauge", "calibrated-on", "ambient-c", "at", "remark", "voyage"];

/// A test to be kept.
pub struct Keep {
    /// Gauge, place and so on.
    pub head: PressureHead,
    /// Who signs.
    pub who: String,
    /// The voyage file, where it is named.
    pub voyage: Option<PathBuf>,
}

/// What was typed.
struct Typed {
    sibling: Sibling,
    keep: bool,
    given: Vec<(&'static str, String)>,
}

/// Reads what stands after the word; `None` when help is asked for.
pub fn parse(sibling: Sibling, parser: &mut Parser) -> Result<Option<Vacuum>, Fail> {
    let mut t = Typed { sibling, keep: false, given: Vec::new() };
    let mut json = false;
    while let Some(arg) = parser.next().map_err(usage)? {
        match arg {
            Arg::Long("help") | Arg::Short('h') => return Ok(None),
            Arg::Long("json") => json = true,
            Arg::Long("keep") => t.keep = true,
            Arg::Long(name) => {
                let known = sibling.options().iter().chain(&KEPT).find(|o| **o == name);
                let Some(key) = known else {
                    return Err(Fail::refused(format!(
                        "vacuum {}: there is no --{name}; holdfast vacuum --help shows how",
                        sibling.word()
                    )));
                };
                if t.get(key).is_some() {
                    return Err(Fail::refused(format!(
                        "vacuum {}: --{key} is given twice; keep one",
                        sibling.word()
                    )));
                }
                let value = text(parser)?;
                t.given.push((key, value));
            }
            other => return Err(usage(other.unexpected())),
        }
    }
    let keep = t.keep()?.map(Box::new);
    Ok(Some(match sibling {
        Sibling::Nitrogen => Vacuum::Nitrogen { test: t.nitrogen()?, keep, json },
        Sibling::Standing => {
            let (fluid, standing) = t.standing()?;
            Vacuum::Standing { fluid, standing, keep, json }
        }
    }))
}

impl Typed {
    fn get(&self, key: &str) -> Option<&str> {
        self.given.iter().find(|(k, _)| *k == key).map(|(_, v)| v.as_str())
    }

    fn refuse(&self, key: &str, why: &str) -> Fail {
        Fail::refused(format!("vacuum {}: --{key} {why}", self.sibling.word()))
    }

    fn maybe(&self, key: &str) -> Result<Option<f64>, Fail> {
        let Some(typed) = self.get(key) else { return Ok(None) };
        let value = decimal::parse(typed, DecimalMark::Point)
            .map_err(|e| self.refuse(key, &format!("\"{typed}\" {e}")))?;
        Ok(Some(value))
    }

    fn needed(&self, key: &str) -> Result<f64, Fail> {
        self.maybe(key)?
            .ok_or_else(|| self.refuse(key, "is missing; holdfast vacuum --help shows how"))
    }

    /// A figure not below nought, with a usual value.
    fn usual(&self, key: &str, usual: f64) -> Result<f64, Fail> {
        match self.maybe(key)? {
            Some(v) if v < 0.0 => Err(self.refuse(key, &format!("{v} is below nought"))),
            Some(v) => Ok(v),
            None => Ok(usual),
        }
    }

    fn pressure_pa(&self, key: &str) -> Result<f64, Fail> {
        let barometer_kpa = self.usual("barometer-kpa", 101.325)?;
        let typed = self.get(key).ok_or_else(|| {
            self.refuse(
                key,
                "is missing; write a pressure with its unit: 20barg, 290psig, 2100kPaa",
            )
        })?;
        let read = parse_pressure(typed, barometer_kpa);
        let read = read.map_err(|e| self.refuse(key, &format!("\"{typed}\" {e}")))?;
        Ok(read.absolute_kpa * 1e3)
    }

    fn nitrogen(&self) -> Result<PressureTest, Fail> {
        Ok(PressureTest {
            volume_m3: self.needed("volume-l")? / 1e3,
            start: (self.pressure_pa("start")?, self.needed("start-c")?),
            end: (self.pressure_pa("end")?, self.needed("end-c")?),
            hours: self.needed("hours")?,
            gauge_step_pa: self.usual("gauge-step-kpa", 10.0)? * 1e3,
            thermometer_k: self.usual("thermometer-k", 0.5)?,
        })
    }

    fn standing(&self) -> Result<(String, Standing), Fail> {
        let fluid = self.get("fluid").ok_or_else(|| {
            self.refuse("fluid", "is missing; write the refrigerant on the plate")
        })?;
        Refrigerant::named(fluid).map_err(|e| self.refuse("fluid", &format!("- {e}")))?;
        let vapour_m3 = match self.maybe("vapour-l")? {
            Some(v) if v < 0.0 => {
                return Err(self.refuse("vapour-l", &format!("{v} is below nought")));
            }
            v => v.map(|l| l / 1e3),
        };
        let standing = Standing {
            pressure_pa: self.pressure_pa("pressure")?,
            temp_c: self.needed("temp-c")?,
            gauge_error_pa: self.usual("gauge-error-kpa", 31.0)? * 1e3,
            thermometer_k: self.usual("thermometer-k", 0.3)?,
            vapour_m3,
        };
        Ok((fluid.to_owned(), standing))
    }

    /// What the record needs beside the readings.
    fn keep(&self) -> Result<Option<Keep>, Fail> {
        if !self.keep {
            return match KEPT.iter().find(|k| self.get(k).is_some()) {
                Some(key) => Err(self.refuse(key, "goes with --keep")),
                None => Ok(None),
            };
        }
        let owned = |key: &str| self.get(key).unwrap_or("").trim().to_owned();
        let needed = |key: &str, what: &str| match owned(key) {
            t if t.is_empty() => Err(self.refuse(key, &format!("is missing; {what}"))),
            t => Ok(t),
        };
        let unit =
            match owned("unit") {
                t if t.is_empty() => None,
                t => Some(UnitId::from_text(&t).filter(UnitId::has_iso_form).ok_or_else(|| {
                    self.refuse("unit", &format!("\"{t}\" is no container number"))
                })?),
            };
        let now = files::now();
        let at = match owned("at") {
            t if t.is_empty() => now,
            t => Utc::parse(&t).map_err(|e| self.refuse("at", &format!("\"{t}\" {e}")))?,
        };
        if at.ms() > now.ms() + 60_000 {
            return Err(self.refuse("at", &format!("{} has not come yet", at.to_minute())));
        }
        let head = PressureHead {
            unit,
            place: owned("place"),
            at,
            gauge: needed("gauge", "write which gauge was read")?,
            calibrated_on: owned("calibrated-on"),
            ambient_c: self.maybe("ambient-c")?,
            as_written: as_written(self.sibling.options(), |key| self.get(key)),
            remark: owned("remark"),
        };
        let who = needed("who", "a record is signed: write the name")?;
        Ok(Some(Keep { head, who, voyage: self.get("voyage").map(PathBuf::from) }))
    }
}
