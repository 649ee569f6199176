//! The one table of admissible ranges. A value outside is no measurement of anything.

use std::fmt;

/// A named range with the reason for its ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// What is measured, in the trade's words.
    pub name: &'static str,
    /// The unit as written beside the number.
    pub unit: &'static str,
    /// Smallest admissible value, itself admissible.
    pub min: f64,
    /// Largest admissible value, itself admissible.
    pub max: f64,
    /// Why these ends.
    pub why: &'static str,
}

/// A value outside its range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OutOfRange {
    /// The range missed.
    pub range: Range,
    /// The value as given, in the range's unit.
    pub value: f64,
}

impl fmt::Display for OutOfRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Range { name, unit, min, max, why } = self.range;
        write!(f, "{} {unit} is no possible {name}: {min} to {max} {unit} ({why})", self.value)
    }
}

impl Range {
    /// `value` itself when it lies in the range.
    ///
    /// # Errors
    /// [`OutOfRange`] otherwise, NaN and infinities included.
    pub fn check(self, value: f64) -> Result<f64, OutOfRange> {
        if value >= self.min && value <= self.max {
            Ok(value)
        } else {
            Err(OutOfRange { range: self, value })
        }
    }
}

/// Any temperature that a display or logger may write, fault codes such as -999.9, 9999 or 32767
/// included: what came in is kept, and one probe's code does not cost its row the others.
/// [`SENSOR_C`] tells which of them can be a measurement.
pub const WRITTEN_TEMP_C: Range = Range {
    name: "temperature",
    unit: "°C",
    min: -99_999.0,
    max: 99_999.0,
    why: "recorders write codes up to five digits for a broken sensor",
};

/// What an air or pulp sensor of a refrigerated container can measure.
pub const SENSOR_C: Range = Range {
    name: "sensor temperature",
    unit: "°C",
    min: -80.0,
    max: 80.0,
    why: "colder than any unit can hold, hotter than any deck; beyond it the sensor is at fault",
};

/// A set point that a refrigerated container can be given.
pub const SET_POINT_C: Range = Range {
    name: "set point",
    unit: "°C",
    min: -70.0,
    max: 40.0,
    why: "deep-frozen tuna at -60 °C to heated cargo; common practice, no source",
};

/// Relative humidity; capacitive sensors read a little over 100 when wet.
pub const HUMIDITY_PCT: Range = Range {
    name: "relative humidity",
    unit: "%",
    min: 0.0,
    max: 110.0,
    why: "sensors read past 100 when wet",
};

/// Share of a gas in the box air.
pub const GAS_PCT: Range =
    Range { name: "gas share", unit: "%", min: 0.0, max: 100.0, why: "a share of the whole" };

/// Power drawn by one unit. ISO 1496-2 allows 15 kW; readings of a bank may be written by mistake.
pub const POWER_KW: Range =
    Range { name: "power", unit: "kW", min: 0.0, max: 100.0, why: "one unit draws 15 kW at most" };

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_are_admissible_and_nothing_beyond() {
        for r in [WRITTEN_TEMP_C, SENSOR_C, SET_POINT_C, HUMIDITY_PCT, GAS_PCT, POWER_KW] {
            assert!(r.check(r.min).is_ok() && r.check(r.max).is_ok(), "{}", r.name);
            for bad in [r.min - 0.01, r.max + 0.01, f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
                assert!(r.check(bad).is_err(), "{} {bad}", r.name);
            }
        }
    }
}
