//! The fields of the gauge form, and what a person may write into each.

use std::collections::BTreeMap;

use circuit::reading::Value;
use fluids::text::{parse_pressure, parse_temperature_c};
use units::decimal::{DecimalMark, parse};

/// Longest text looked at in a field.
pub const LONGEST: usize = 60;
/// One standard atmosphere, kPa, by definition (10th CGPM 1954, resolution 4).
const STANDARD_KPA: f64 = 101.325;
const PSI_KPA: f64 = 6.894_757_293_168;

/// What a field takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A gauge.
    Gauge,
    /// A temperature.
    Celsius,
    /// The barometer.
    Barometer,
    /// First to last mark of a gauge.
    Span,
    /// A plain number in the unit beside the field.
    Plain,
}

/// One field.
#[derive(Debug, Clone, Copy)]
pub struct Field {
    /// The key of the readings, and the field's name in the form.
    pub key: &'static str,
    /// Its label.
    pub label: &'static str,
    /// The unit of a bare number.
    pub unit: &'static str,
    /// Where it is read.
    pub hint: &'static str,
    /// What it takes.
    pub kind: Kind,
}

const fn field(
    key: &'static str,
    label: &'static str,
    unit: &'static str,
    hint: &'static str,
    kind: Kind,
) -> Field {
    Field { key, label, unit, hint, kind }
}

/// The usual eight.
pub const USUAL: [Field; 8] = [
    field("suction_kpag", "Suction gauge", "kPa gauge", "at the compressor", Kind::Gauge),
    field("discharge_kpag", "Discharge gauge", "kPa gauge", "at the compressor", Kind::Gauge),
    field(
        "suction_line_c",
        "Suction line",
        "°C",
        "pipe at the expansion valve’s bulb",
        Kind::Celsius,
    ),
    field(
        "discharge_line_c",
        "Discharge pipe",
        "°C",
        "10 cm after the compressor; hot, do not touch",
        Kind::Celsius,
    ),
    field("liquid_line_c", "Liquid line", "°C", "pipe after the drier", Kind::Celsius),
    field("supply_c", "Supply air", "°C", "as the unit displays it", Kind::Celsius),
    field("return_c", "Return air", "°C", "as the unit displays it", Kind::Celsius),
    field(
        "ambient_c",
        "Ambient air",
        "°C",
        "in the shade, where the condenser draws",
        Kind::Celsius,
    ),
];

/// What sharpens the answer when it is at hand.
pub const MORE: [Field; 11] = [
    field("liquid_kpag", "Liquid gauge", "kPa gauge", "after the drier", Kind::Gauge),
    field("condenser_out_c", "Condenser outlet", "°C", "before the receiver", Kind::Celsius),
    field(
        "compressor_in_c",
        "Suction pipe at the compressor",
        "°C",
        "10 cm before it",
        Kind::Celsius,
    ),
    field("current_a", "Compressor current", "A", "one phase; 440 V", Kind::Plain),
    field("set_point_c", "Set point", "°C", "as displayed", Kind::Celsius),
    field("barometer_kpa", "Barometer", "kPa", "or 1013hPa; without it 101.325", Kind::Barometer),
    field(
        "gauge_class_low",
        "Class of the suction gauge",
        "% of span",
        "on the dial, as 1.6",
        Kind::Plain,
    ),
    field(
        "gauge_span_low_kpa",
        "Span of the suction gauge",
        "kPa",
        "first to last mark",
        Kind::Span,
    ),
    field(
        "gauge_class_high",
        "Class of the discharge gauge",
        "% of span",
        "on the dial",
        Kind::Plain,
    ),
    field(
        "gauge_span_high_kpa",
        "Span of the discharge gauge",
        "kPa",
        "first to last mark",
        Kind::Span,
    ),
    field(
        "thermometer_k",
        "Thermometer’s error",
        "K",
        "one standard deviation; 0.5 is usual",
        Kind::Plain,
    ),
];

/// Keys of the form that are chosen, not written.
pub const CHOSEN: [&str; 4] = ["fluid", "machine", "mode", "compressor"];

/// Every field that is written.
pub fn all() -> impl Iterator<Item = &'static Field> {
    USUAL.iter().chain(MORE.iter())
}

/// The form as it was sent.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Asked {
    /// The box, as written; empty when none is named.
    pub unit: String,
    /// What stands in the fields; empty ones are left out.
    pub written: BTreeMap<String, String>,
}

impl Asked {
    /// From the pairs of an address or a form.
    #[must_use]
    pub fn from_pairs(pairs: &[(String, String)]) -> Self {
        let get = |key: &str| {
            let found = pairs.iter().find(|(k, _)| k == key);
            let text = found.map_or("", |(_, v)| v.trim());
            text.chars().filter(|c| !c.is_control()).take(LONGEST).collect::<String>()
        };
        let keys = CHOSEN.into_iter().chain(all().map(|f| f.key));
        let written = keys.map(|k| (k.to_owned(), get(k))).filter(|(_, v)| !v.is_empty());
        Self { unit: get("unit"), written: written.collect() }
    }

    /// What stands in a field.
    #[must_use]
    pub fn get(&self, key: &str) -> &str {
        self.written.get(key).map_or("", String::as_str)
    }

    /// True when no reading was written.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        all().all(|f| self.get(f.key).is_empty())
    }
}

/// A field's text as a number in its unit.
pub fn read(field: &Field, text: &str, barometer_kpa: f64) -> Result<f64, String> {
    // A bare number has the unit that is printed beside the field.
    if let Ok(v) = parse(text, DecimalMark::PointOrComma) {
        return Ok(v);
    }
    match field.kind {
        Kind::Gauge => {
            parse_pressure(text, barometer_kpa).map(|p| p.gauge_kpa).map_err(|e| format!("{e}."))
        }
        Kind::Celsius => parse_temperature_c(text).map_err(|e| format!("{e}.")),
        Kind::Barometer => with_unit(text, &[("kpa", 1.0), ("hpa", 0.1), ("mbar", 0.1)])
            .ok_or_else(|| format!("“{text}” is not read: write it like 101.3kPa or 1013hPa.")),
        Kind::Span => with_unit(text, &[("kpa", 1.0), ("bar", 100.0), ("psi", PSI_KPA)])
            .ok_or_else(|| {
                format!("“{text}” is not read: write it like 1600kPa, 16bar or 230psi.")
            }),
        Kind::Plain => {
            let unit = field.unit.to_lowercase();
            with_unit(text, &[(unit.as_str(), 1.0), ("%", 1.0)]).ok_or_else(|| {
                format!("“{text}” is not read: write a plain number in {}.", field.unit)
            })
        }
    }
}

fn with_unit(text: &str, units: &[(&str, f64)]) -> Option<f64> {
    let low = text.to_lowercase();
    units.iter().find_map(|(unit, factor)| {
        let number = low.strip_suffix(unit)?;
        parse(number, DecimalMark::PointOrComma).ok().map(|v| v * factor)
    })
}

/// What is wrong with a field; the field is none where it lies in none of them.
pub type Wrong = (Option<&'static str>, String);

/// The form as keys and values of a reading, or everything that cannot be read.
pub fn heard(asked: &Asked) -> Result<Vec<(&'static str, Value)>, Vec<Wrong>> {
    let (mut out, mut wrong) = (Vec::new(), Vec::new());
    let barometer = MORE.iter().find(|f| f.kind == Kind::Barometer);
    let barometer = barometer.and_then(|f| {
        let text = asked.get(f.key);
        read(f, text, STANDARD_KPA).ok().filter(|b| (80.0..=110.0).contains(b))
    });
    for f in all() {
        let text = asked.get(f.key);
        if text.is_empty() {
            continue;
        }
        match read(f, text, barometer.unwrap_or(STANDARD_KPA)) {
            // Six places: what a unit was converted to, without the noise of the conversion.
            Ok(v) => out.push((f.key, Value::Number(units::math::round_to(v, 6)))),
            Err(e) => wrong.push((Some(f.key), e)),
        }
    }
    for key in ["fluid", "machine", "mode"] {
        let text = asked.get(key);
        if !text.is_empty() {
            out.push((key, Value::Text(text.to_owned())));
        }
    }
    match asked.get("compressor") {
        "" | "running" => {}
        "standing" => out.push(("compressor_on", Value::Flag(false))),
        other => {
            wrong.push((Some("compressor"), format!("“{other}” is neither running nor standing.")))
        }
    }
    if wrong.is_empty() { Ok(out) } else { Err(wrong) }
}

/// The field a message of the engine begins with.
#[must_use]
pub fn named_first(message: &str) -> Option<&'static str> {
    let word = message.split([':', ' ']).next().unwrap_or_default();
    let keys = CHOSEN.into_iter().chain(all().map(|f| f.key));
    keys.into_iter().find(|k| *k == word)
}

/// A message with the fields’ labels in place of their keys.
#[must_use]
pub fn in_words(message: &str) -> String {
    let mut text = message
        .replace("set compressor_on to false", "choose “standing” under more readings")
        .replace("compressor_on false", "the compressor standing")
        .replace("drier_in_out_k", "the step over the drier")
        .replace("standing_excess_kpa", "the standing pressure");
    for f in all() {
        text = text.replace(f.key, &f.label.to_lowercase());
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(key: &str) -> &'static Field {
        all().find(|f| f.key == key).unwrap()
    }

    /// 1 psi is 6.894757 kPa (NIST SP 811, appendix B.8); 34 °F is 10/9 °C by definition.
    #[test]
    fn written_as_in_the_trade() {
        let suction = of("suction_kpag");
        let near = |text: &str, want: f64| {
            let got = read(suction, text, 101.325).unwrap();
            assert!((got - want).abs() < 1e-4, "{text}: {got}");
        };
        near("126", 126.0);
        near("126,5", 126.5);
        near("1.8psig", 12.410563);
        near("0.35 barg", 35.0);
        near("201.325kPaa", 100.0);
        let t = read(of("supply_c"), "34F", 101.325).unwrap();
        assert!((t - 10.0 / 9.0).abs() < 1e-9);
        assert_eq!(read(of("barometer_kpa"), "1013hPa", 101.325), Ok(1013.0 * 0.1));
        assert_eq!(read(of("gauge_span_high_kpa"), "16bar", 101.325), Ok(1600.0));
    }

    #[test]
    fn nothing_is_guessed() {
        for (key, text) in [
            ("suction_kpag", "1.8psi"),
            ("suction_kpag", "12C"),
            ("supply_c", "12kPag"),
            ("supply_c", "warm"),
            ("current_a", "12V"),
            ("barometer_kpa", "30inHg"),
        ] {
            assert!(read(of(key), text, 101.325).is_err(), "{key} {text}");
        }
    }

    #[test]
    fn the_engine_s_words_for_people() {
        assert_eq!(named_first("supply_c: 120 °C is no air"), Some("supply_c"));
        assert_eq!(named_first("suction_kpag 3 is not below"), Some("suction_kpag"));
        assert_eq!(named_first("no pressure given"), None);
        assert_eq!(in_words("read liquid_kpag again"), "read liquid gauge again");
    }
}
