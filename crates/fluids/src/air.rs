//! Moist air by the formulas of ASHRAE Handbook: Fundamentals (2017), chapter 1.

use units::math::{exp, ln};
use units::temperature::ZERO_C_K;

use crate::error::{FluidError, within};

/// Standard barometric pressure, kPa.
pub const STANDARD_KPA: f64 = 101.325;
/// Ratio of the molar masses of water and dry air.
const MASS_RATIO: f64 = 0.621_945;
/// Where the formula over ice hands over to the one over water, °C.
const TRIPLE_C: f64 = 0.01;

/// Saturation pressure of water vapour over water (above 0.01 °C) or ice, kPa; −100 to 200 °C.
///
/// # Errors
/// [`FluidError::OutOfRange`].
pub fn saturation_kpa(t_c: f64) -> Result<f64, FluidError> {
    within("air temperature", "°C", t_c, -100.0, 200.0)?;
    Ok(exp(ln_saturation_pa(t_c)) / 1e3)
}

fn ln_saturation_pa(t_c: f64) -> f64 {
    let t = t_c + ZERO_C_K;
    if t_c <= TRIPLE_C {
        -5.674_535_9e3 / t + 6.392_524_7 - 9.677_843e-3 * t
            + 6.221_570_1e-7 * t * t
            + 2.074_782_5e-9 * t * t * t
            - 9.484_024e-13 * t * t * t * t
            + 4.163_501_9 * ln(t)
    } else {
        -5.800_220_6e3 / t + 1.391_499_3 - 4.864_023_9e-2 * t + 4.176_476_8e-5 * t * t
            - 1.445_209_3e-8 * t * t * t
            + 6.545_967_3 * ln(t)
    }
}

/// Moist air: dry-bulb temperature, humidity ratio and barometer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MoistAir {
    /// Dry-bulb temperature, °C.
    pub t_c: f64,
    /// Water per dry air, kg/kg.
    pub humidity_ratio: f64,
    /// Absolute pressure, kPa.
    pub barometer_kpa: f64,
}

fn check(t_c: f64, barometer_kpa: f64) -> Result<(), FluidError> {
    within("air temperature", "°C", t_c, -100.0, 200.0)?;
    within("barometer", "kPa absolute", barometer_kpa, 50.0, 120.0)?;
    Ok(())
}

fn ratio(vapour_kpa: f64, barometer_kpa: f64) -> Result<f64, FluidError> {
    within("vapour pressure", "kPa", vapour_kpa, 0.0, 0.95 * barometer_kpa)?;
    Ok(MASS_RATIO * vapour_kpa / (barometer_kpa - vapour_kpa))
}

impl MoistAir {
    /// From relative humidity, % (over ice below 0.01 °C, as the formulas have it).
    ///
    /// # Errors
    /// [`FluidError::OutOfRange`].
    pub fn from_humidity(t_c: f64, rh_pct: f64, barometer_kpa: f64) -> Result<Self, FluidError> {
        check(t_c, barometer_kpa)?;
        within("relative humidity", "%", rh_pct, 0.0, 100.0)?;
        let vapour = rh_pct / 100.0 * saturation_kpa(t_c)?;
        Ok(Self { t_c, humidity_ratio: ratio(vapour, barometer_kpa)?, barometer_kpa })
    }

    /// From the dew point, °C.
    ///
    /// # Errors
    /// [`FluidError::OutOfRange`]; a dew point above the temperature is one.
    pub fn from_dew_point(t_c: f64, dew_c: f64, barometer_kpa: f64) -> Result<Self, FluidError> {
        check(t_c, barometer_kpa)?;
        within("dew point", "°C", dew_c, -100.0, t_c)?;
        let vapour = saturation_kpa(dew_c)?;
        Ok(Self { t_c, humidity_ratio: ratio(vapour, barometer_kpa)?, barometer_kpa })
    }

    /// From the wet-bulb temperature, °C.
    ///
    /// # Errors
    /// [`FluidError::OutOfRange`]; a wet bulb above the dry bulb, or colder than dry air could
    /// make it, is one.
    pub fn from_wet_bulb(t_c: f64, wet_c: f64, barometer_kpa: f64) -> Result<Self, FluidError> {
        check(t_c, barometer_kpa)?;
        within("wet bulb", "°C", wet_c, -100.0, t_c)?;
        let humidity_ratio = ratio_of_wet_bulb(t_c, wet_c, barometer_kpa)?;
        within("humidity ratio from this wet bulb", "kg/kg", humidity_ratio, 0.0, 10.0)?;
        Ok(Self { t_c, humidity_ratio, barometer_kpa })
    }

    /// Partial pressure of the water vapour, kPa.
    #[must_use]
    pub fn vapour_kpa(&self) -> f64 {
        self.barometer_kpa * self.humidity_ratio / (MASS_RATIO + self.humidity_ratio)
    }

    /// Relative humidity, %.
    #[must_use]
    pub fn humidity_pct(&self) -> f64 {
        100.0 * self.vapour_kpa() / (exp(ln_saturation_pa(self.t_c)) / 1e3)
    }

    /// Enthalpy per kg of dry air, kJ/kg; 0 for dry air at 0 °C.
    #[must_use]
    pub fn enthalpy_kj_kg(&self) -> f64 {
        1.006 * self.t_c + self.humidity_ratio * (2501.0 + 1.86 * self.t_c)
    }

    /// Volume per kg of dry air, m³/kg.
    #[must_use]
    pub fn volume_m3_kg(&self) -> f64 {
        0.287_042 * (self.t_c + ZERO_C_K) * (1.0 + 1.607_858 * self.humidity_ratio)
            / self.barometer_kpa
    }

    /// Density of the moist air, kg/m³.
    #[must_use]
    pub fn density_kg_m3(&self) -> f64 {
        (1.0 + self.humidity_ratio) / self.volume_m3_kg()
    }

    /// Dew point (frost point below 0.01 °C), °C.
    ///
    /// # Errors
    /// [`FluidError::OutOfRange`] when the air is drier than a frost point of −100 °C.
    pub fn dew_point_c(&self) -> Result<f64, FluidError> {
        let p = self.vapour_kpa();
        within("vapour pressure", "kPa", p, saturation_kpa(-100.0)?, saturation_kpa(200.0)?)?;
        // The two formulas do not quite meet at 0.01 °C: halving always ends.
        Ok(halve(-100.0, 200.0, |t| ln_saturation_pa(t) - ln(p * 1e3)))
    }

    /// Thermodynamic wet-bulb temperature, °C.
    ///
    /// # Errors
    /// [`FluidError::OutOfRange`] as for the formulas it uses.
    pub fn wet_bulb_c(&self) -> Result<f64, FluidError> {
        // Air this hot with a wet bulb beyond the vapour-pressure limit has no answer.
        let top = self.t_c;
        let at_top = ratio_of_wet_bulb(self.t_c, top, self.barometer_kpa)?;
        within("humidity ratio", "kg/kg", self.humidity_ratio, 0.0, at_top * (1.0 + 1e-9))?;
        Ok(halve((top - 80.0).max(-100.0), top, |t| {
            ratio_of_wet_bulb(self.t_c, t, self.barometer_kpa)
                .map_or(f64::INFINITY, |w| w - self.humidity_ratio)
        }))
    }
}

/// Equations 33 (water) and 35 (ice) of the chapter.
fn ratio_of_wet_bulb(t_c: f64, wet_c: f64, barometer_kpa: f64) -> Result<f64, FluidError> {
    let ws = ratio(saturation_kpa(wet_c)?, barometer_kpa)?;
    Ok(if wet_c >= 0.0 {
        ((2501.0 - 2.326 * wet_c) * ws - 1.006 * (t_c - wet_c))
            / (2501.0 + 1.86 * t_c - 4.186 * wet_c)
    } else {
        ((2830.0 - 0.24 * wet_c) * ws - 1.006 * (t_c - wet_c)) / (2830.0 + 1.86 * t_c - 2.1 * wet_c)
    })
}

/// Where the rising function crosses zero, by halving.
fn halve(mut lo: f64, mut hi: f64, f: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..60 {
        let mid = 0.5 * (lo + hi);
        if f(mid) < 0.0 {
            lo = mid;
        } else {
            hi = mid;
        }
    }
    0.5 * (lo + hi)
}
