//! Pressures and temperatures as technicians write them: `1.8psig`, `0.35barg`, `500um`, `-18C`,
//! `34F`. Nothing is guessed: a number without its unit, or a unit that does not say gauge or
//! absolute, is refused.

use std::fmt;

use units::decimal::{DecimalMark, parse};
use units::temperature::{ABSOLUTE_ZERO_C, ZERO_C_K, celsius_from_fahrenheit};

/// Units accepted for a pressure.
pub const PRESSURE_UNITS: &str = "psig psia barg bara mbara kPag kPaa Paa MPag MPaa inHgv (vacuum below the barometer); \
     um micron torr mmHg are absolute";
/// Units accepted for a temperature.
pub const TEMPERATURE_UNITS: &str = "C F K";

const PSI_KPA: f64 = 6.894_757_293_168;
const MM_HG_KPA: f64 = 0.133_322_387_415;
const IN_HG_KPA: f64 = 3.386_388_640_341;

/// A pressure both ways. The two never share a name.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pressure {
    /// Absolute, kPa.
    pub absolute_kpa: f64,
    /// Above the barometer, kPa; negative in a vacuum.
    pub gauge_kpa: f64,
    /// The barometer they differ by, kPa.
    pub barometer_kpa: f64,
}

/// Why a text is not read.
#[derive(Debug, Clone, PartialEq)]
pub enum NotRead {
    /// No number in front, or none we read.
    Number {
        /// The text.
        text: String,
    },
    /// A number without unit, or a unit we do not know.
    Unit {
        /// The text.
        text: String,
        /// What is accepted.
        accepted: &'static str,
    },
    /// A pressure unit that does not say gauge or absolute.
    GaugeOrAbsolute {
        /// The text.
        text: String,
        /// The two ways to write it.
        write: String,
    },
    /// Below absolute zero, or no pressure at all.
    Impossible {
        /// The text.
        text: String,
        /// Why.
        why: &'static str,
    },
    /// The barometer is no barometer reading.
    Barometer {
        /// As given, kPa.
        barometer_kpa: f64,
    },
}

impl fmt::Display for NotRead {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Number { text } => {
                write!(f, "\"{text}\" does not start with a plain number; write it like 1.8psig")
            }
            Self::Unit { text, accepted } => {
                write!(f, "\"{text}\" has no unit that is known; write one of: {accepted}")
            }
            Self::GaugeOrAbsolute { text, write } => write!(
                f,
                "\"{text}\" does not say whether it counts from the barometer or from vacuum; \
                 write {write}"
            ),
            Self::Impossible { text, why } => write!(f, "\"{text}\" cannot be: {why}"),
            Self::Barometer { barometer_kpa } => write!(
                f,
                "{barometer_kpa} kPa is no barometer reading (80 to 110 kPa at sea level); check it"
            ),
        }
    }
}

impl std::error::Error for NotRead {}

/// Splits `1.8 psig` into number and unit (lower case, without spaces).
fn split(text: &str) -> Result<(f64, String), NotRead> {
    let t = text.trim().replace('−', "-");
    let end = t.find(|c: char| !(c.is_ascii_digit() || "+-.,".contains(c))).unwrap_or(t.len());
    let (number, unit) = t.split_at(end);
    let value = parse(number, DecimalMark::PointOrComma)
        .map_err(|_| NotRead::Number { text: text.to_owned() })?;
    Ok((value, unit.replace([' ', '(', ')', '°'], "").to_lowercase()))
}

enum Base {
    Gauge(f64),
    Absolute(f64),
    Vacuum(f64),
}

fn base(unit: &str) -> Option<Base> {
    Some(match unit {
        "psig" => Base::Gauge(PSI_KPA),
        "psia" => Base::Absolute(PSI_KPA),
        "barg" => Base::Gauge(100.0),
        "bara" => Base::Absolute(100.0),
        "mbara" => Base::Absolute(0.1),
        "kpag" => Base::Gauge(1.0),
        "kpaa" => Base::Absolute(1.0),
        "paa" => Base::Absolute(1e-3),
        "mpag" => Base::Gauge(1e3),
        "mpaa" => Base::Absolute(1e3),
        "um" | "µm" | "μm" | "micron" | "microns" | "umhg" => Base::Absolute(MM_HG_KPA * 1e-3),
        "torr" | "mmhg" => Base::Absolute(MM_HG_KPA),
        "inhgv" | "inhgvac" => Base::Vacuum(IN_HG_KPA),
        _ => return None,
    })
}

/// Reads a pressure at a stated barometer (kPa).
///
/// # Errors
/// [`NotRead`], with what to write instead.
pub fn parse_pressure(text: &str, barometer_kpa: f64) -> Result<Pressure, NotRead> {
    if !(80.0..=110.0).contains(&barometer_kpa) {
        return Err(NotRead::Barometer { barometer_kpa });
    }
    let (value, unit) = split(text)?;
    if ["psi", "bar", "mbar", "kpa", "pa", "mpa"].contains(&unit.as_str()) {
        let write = match unit.as_str() {
            "pa" | "mbar" => format!("{unit}a (absolute), or kPag for a gauge reading"),
            u => format!("{u}g (gauge) or {u}a (absolute)"),
        };
        return Err(NotRead::GaugeOrAbsolute { text: text.to_owned(), write });
    }
    let accepted = PRESSURE_UNITS;
    let base = base(&unit).ok_or_else(|| NotRead::Unit { text: text.to_owned(), accepted })?;
    let absolute_kpa = match base {
        Base::Gauge(k) => barometer_kpa + value * k,
        Base::Absolute(k) => value * k,
        Base::Vacuum(k) => barometer_kpa - value.abs() * k,
    };
    if absolute_kpa <= 0.0 {
        let why = "it would be below a perfect vacuum; check the sign, unit and barometer";
        return Err(NotRead::Impossible { text: text.to_owned(), why });
    }
    Ok(Pressure { absolute_kpa, gauge_kpa: absolute_kpa - barometer_kpa, barometer_kpa })
}

/// Reads a temperature, °C.
///
/// # Errors
/// [`NotRead`], with what to write instead.
pub fn parse_temperature_c(text: &str) -> Result<f64, NotRead> {
    let (value, unit) = split(text)?;
    let t_c = match unit.as_str() {
        "c" | "degc" => value,
        "f" | "degf" => celsius_from_fahrenheit(value),
        "k" => value - ZERO_C_K,
        _ => {
            let accepted = TEMPERATURE_UNITS;
            return Err(NotRead::Unit { text: text.to_owned(), accepted });
        }
    };
    if t_c < ABSOLUTE_ZERO_C {
        let why = "it is below absolute zero; check the sign and unit";
        return Err(NotRead::Impossible { text: text.to_owned(), why });
    }
    Ok(t_c)
}
