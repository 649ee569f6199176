//! How figures and times are written.

use units::Utc;

/// `2026-03-15 21:00 UTC`.
pub fn when(at: Utc) -> String {
    format!("{} UTC", at.to_minute())
}

/// `-18.0 °C`.
pub fn celsius(temp_c: f64) -> String {
    format!("{:.1} °C", units::math::round_to(temp_c, 1))
}

/// A set point as a display shows it: one decimal, two where it has them.
pub fn set_point(temp_c: f64) -> String {
    let rounded = units::math::round_to(temp_c, 2);
    if (rounded - units::math::round_to(temp_c, 1)).abs() < 0.005 {
        celsius(temp_c)
    } else {
        format!("{rounded:.2} °C")
    }
}

/// Hours: to the minute where that is useful, else whole.
pub fn hours(h: f64) -> String {
    if h < 10.0 { format!("{h:.1} h") } else { format!("{h:.0} h") }
}
