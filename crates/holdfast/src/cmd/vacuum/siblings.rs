//! `holdfast vacuum nitrogen` and `holdfast vacuum standing`: the two other waits with a gauge.

use std::fmt::Write as _;

use fluids::Refrigerant;
use fluids::text::parse_pressure;
use lexopt::{Arg, Parser};
use serde_json::{Value, json};
use units::decimal::{self, DecimalMark};
use units::math::round_to;
use vacuum::nitrogen::{PressureResult, PressureTest, nitrogen_grams_per_year, pressure_test};
use vacuum::standing::{Standing, StandingResult, StandingVerdict, standing_test};

use super::{Vacuum, text};
use crate::args::usage;
use crate::fail::Fail;
use crate::out;

/// Which of the two.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sibling {
    /// Nitrogen pressure test.
    Nitrogen,
    /// Standing pressure against saturation.
    Standing,
}

/// Common practice of the trade, no source.
const NITROGEN_CAUTIONS: [&str; 3] = [
    "dry nitrogen through a regulator with a relief valve only, never oxygen or air; never above \
     the maker's test pressure; raise it in steps and stand clear",
    "let the pressure down before a joint is touched, and vent where nobody breathes it: nitrogen \
     suffocates without warning",
    "maker's instructions, permits, local codes and licensed practice come first",
];
const STANDING_CAUTIONS: [&str; 3] = [
    "unit off and locked out; liquid refrigerant freezes skin and eyes: goggles and gloves, \
     connect slowly",
    "a match with saturation does not prove which refrigerant it is",
    "maker's instructions, local codes and licensed practice come first",
];

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

/// What was typed.
struct Typed {
    sibling: Sibling,
    given: Vec<(&'static str, String)>,
}

/// Reads what stands after the word; `None` when help is asked for.
pub fn parse(sibling: Sibling, parser: &mut Parser) -> Result<Option<Vacuum>, Fail> {
    let mut t = Typed { sibling, given: Vec::new() };
    let mut json = false;
    while let Some(arg) = parser.next().map_err(usage)? {
        match arg {
            Arg::Long("help") | Arg::Short('h') => return Ok(None),
            Arg::Long("json") => json = true,
            Arg::Long(name) => {
                let Some(key) = sibling.options().iter().find(|o| **o == name) else {
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
    Ok(Some(match sibling {
        Sibling::Nitrogen => Vacuum::Nitrogen { test: t.nitrogen()?, json },
        Sibling::Standing => {
            let (fluid, standing) = t.standing()?;
            Vacuum::Standing { fluid, standing, json }
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
}

/// Judges a nitrogen test; exit status 3 when it shows a leak.
pub fn nitrogen(t: &PressureTest, as_json: bool) -> Result<u8, Fail> {
    let r = pressure_test(t).map_err(|e| Fail::refused(format!("vacuum nitrogen: {e}")))?;
    if as_json {
        out::print_json(&nitrogen_json(&r))?;
    } else {
        out::print(nitrogen_text(&r))?;
    }
    Ok(if r.shows_a_leak { 3 } else { 0 })
}

fn kpa(pa: f64) -> f64 {
    round_to(pa / 1e3, 3)
}

fn nitrogen_json(r: &PressureResult) -> Value {
    json!({
        "verdict": if r.shows_a_leak { "leaking" } else { "no_fall_seen" },
        "expected_kpa": kpa(r.expected_pa),
        "fall_kpa": kpa(r.fall_pa),
        "fall_kpa_p90": r.fall_pa_p90.map(kpa),
        "leak_pa_m3_s": r.leak_pa_m3_s,
        "leak_pa_m3_s_p90": r.leak_pa_m3_s_p90,
        "smallest_seen_pa_m3_s": r.smallest_pa_m3_s,
        "smallest_seen_g_per_year": round_to(nitrogen_grams_per_year(r.smallest_pa_m3_s), 3),
        "cautions": NITROGEN_CAUTIONS,
    })
}

fn mind(cautions: &[&str]) -> String {
    let mut t = String::from("Mind:\n");
    for c in cautions {
        let _ = writeln!(t, "  - {c}");
    }
    t
}

fn nitrogen_text(r: &PressureResult) -> String {
    let mut t = mind(&NITROGEN_CAUTIONS);
    let [low, high] = r.fall_pa_p90.map(|p| p / 1e3);
    let _ = writeln!(
        t,
        "\n{}",
        if r.shows_a_leak {
            "It fell by more than the instruments' own error: a leak."
        } else {
            "No fall beyond the instruments' own error."
        }
    );
    let _ = writeln!(
        t,
        "beside what temperature makes, {:.1} kPa are missing (90 %: {low:.1} to {high:.1} kPa)",
        r.fall_pa / 1e3
    );
    if r.shows_a_leak {
        let [a, b] = r.leak_pa_m3_s_p90;
        let _ = writeln!(
            t,
            "that is {:.1e} Pa·m³/s at test pressure (90 %: {a:.1e} to {b:.1e})\n\
             Do first: bubbles or a detector at every joint, halves isolated one after the other.",
            r.leak_pa_m3_s
        );
    }
    let _ = write!(
        t,
        "the smallest leak that shows in this time with these instruments, nine times in ten: \
         {:.1e} Pa·m³/s, {:.0} g of nitrogen a year; a smaller one is not ruled out",
        r.smallest_pa_m3_s,
        nitrogen_grams_per_year(r.smallest_pa_m3_s)
    );
    t
}

/// Judges a standing pressure; exit status 3 unless it agrees with saturation.
pub fn standing(fluid: &str, s: &Standing, as_json: bool) -> Result<u8, Fail> {
    let refuse = |e: fluids::FluidError| Fail::refused(format!("vacuum standing: {e}"));
    let named = Refrigerant::named(fluid).map_err(refuse)?;
    let r = standing_test(named, s).map_err(refuse)?;
    if as_json {
        out::print_json(&standing_json(named, &r))?;
    } else {
        out::print(standing_text(named, s, &r))?;
    }
    Ok(if r.verdict == StandingVerdict::Consistent { 0 } else { 3 })
}

fn standing_json(fluid: &Refrigerant, r: &StandingResult) -> Value {
    json!({
        "fluid": fluid.name(),
        "verdict": match r.verdict {
            StandingVerdict::NonCondensables => "non_condensables",
            StandingVerdict::NotThisRefrigerant => "not_this_refrigerant",
            StandingVerdict::Consistent => "consistent",
        },
        "saturation_kpa": kpa(r.p_sat_pa),
        "excess_kpa": kpa(r.excess_pa),
        "excess_kpa_p90": r.excess_pa_p90.map(kpa),
        "excess_k": round_to(r.excess_k, 3),
        "smallest_seen_kpa": kpa(r.smallest_pa),
        "air_g": r.air_g.map(|g| round_to(g, 2)),
        "cautions": STANDING_CAUTIONS,
    })
}

fn standing_text(fluid: &Refrigerant, s: &Standing, r: &StandingResult) -> String {
    let mut t = mind(&STANDING_CAUTIONS);
    let words = match r.verdict {
        StandingVerdict::NonCondensables => {
            "Above saturation by more than the instruments' error: non-condensable gas, or another \
             refrigerant mixed in."
        }
        StandingVerdict::NotThisRefrigerant => {
            "Below saturation by more than the instruments' error: not this refrigerant, no liquid \
             left, or not yet at one temperature."
        }
        StandingVerdict::Consistent => {
            "Within the instruments' error of saturation. That does not prove which refrigerant it \
             is."
        }
    };
    let [low, high] = r.excess_pa_p90.map(|p| p / 1e3);
    let _ = writeln!(
        t,
        "\n{words}\n{} at {:.1} °C boils at {:.1} kPa absolute; it stands {:.1} kPa above (90 %: \
         {low:.1} to {high:.1} kPa), as {:.1} K",
        fluid.name(),
        s.temp_c,
        r.p_sat_pa / 1e3,
        r.excess_pa / 1e3,
        r.excess_k
    );
    let _ = write!(t, "these instruments can tell {:.1} kPa and more", r.smallest_pa / 1e3);
    if let Some(g) = r.air_g.filter(|g| *g > 0.0) {
        let _ = write!(t, "; if all the excess is air, that is {g:.1} g of it");
    }
    t
}
