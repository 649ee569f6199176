//! Celsius, Fahrenheit and kelvin.

/// 0 °C in kelvin (exact by definition of the Celsius scale; SI brochure, 9th ed., §2.3.1).
pub const ZERO_C_K: f64 = 273.15;

/// Absolute zero in °C.
pub const ABSOLUTE_ZERO_C: f64 = -273.15;

/// °F to °C: (F − 32) × 5/9, exact by definition.
#[must_use]
pub fn celsius_from_fahrenheit(temp_f: f64) -> f64 {
    (temp_f - 32.0) * 5.0 / 9.0
}

/// °C to °F: C × 9/5 + 32.
#[must_use]
pub fn fahrenheit_from_celsius(temp_c: f64) -> f64 {
    temp_c * 9.0 / 5.0 + 32.0
}

/// °C to kelvin.
#[must_use]
pub fn kelvin_from_celsius(temp_c: f64) -> f64 {
    temp_c + ZERO_C_K
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Fixed points of the two scales: ice point and steam point, and where they cross.
    #[test]
    fn fixed_points() {
        assert_eq!(celsius_from_fahrenheit(32.0), 0.0);
        assert_eq!(celsius_from_fahrenheit(212.0), 100.0);
        assert_eq!(celsius_from_fahrenheit(-40.0), -40.0);
        assert_eq!(fahrenheit_from_celsius(-40.0), -40.0);
    }
}
