//! Elementary functions that give the same bits on every computer.
//!
//! The standard library's `exp`, `ln` and `powf` come from the system's C library and differ in
//! the last place from one system to the next; an assessment that is replayed ashore must come
//! out as it did on board. All rooms below `web` use these.

/// e to the power `x`.
#[must_use]
pub fn exp(x: f64) -> f64 {
    libm::exp(x)
}

/// Natural logarithm of `x`.
#[must_use]
pub fn ln(x: f64) -> f64 {
    libm::log(x)
}

/// `x` to the power `y`.
#[must_use]
pub fn pow(x: f64, y: f64) -> f64 {
    libm::pow(x, y)
}

/// Sine of `x`, in radians.
#[must_use]
pub fn sin(x: f64) -> f64 {
    libm::sin(x)
}

/// Cosine of `x`, in radians.
#[must_use]
pub fn cos(x: f64) -> f64 {
    libm::cos(x)
}

/// Square root of `x`; correctly rounded everywhere, so the standard one serves.
#[must_use]
pub fn sqrt(x: f64) -> f64 {
    x.sqrt()
}

/// `x` rounded to `places` decimals, for results that are stored or compared as text.
#[must_use]
pub fn round_to(x: f64, places: u8) -> f64 {
    let scale = pow(10.0, f64::from(places));
    let r = (x * scale).round() / scale;
    // No "-0.0" on a display.
    if r == 0.0 { 0.0 } else { r }
}
