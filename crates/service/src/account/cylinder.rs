//! Cylinders and hoses: how much may go in, what a hose keeps, and whether pressure fits the name.

use fluids::{FluidError, Refrigerant, Side};
use units::temperature::ZERO_C_K;

/// Share of a recovery cylinder's volume that liquid may fill at 20 °C (reference §5.2 G13).
pub const FILL_SHARE: f64 = 0.8;

/// Mass that fills the share at 20 °C, kg. The cylinder code's own limit by mass, where stamped,
/// goes before it.
///
/// # Errors
/// An unknown gas.
pub fn fill_limit_kg(gas: &str, volume_l: f64, share: f64) -> Result<f64, FluidError> {
    let r = Refrigerant::named(gas)?;
    let liquid = r.saturated_at_t(20.0 + ZERO_C_K, Side::Bubble)?;
    Ok(share * volume_l / 1000.0 * liquid.rho_kg_m3)
}

/// Temperature at which a cylinder with this mass is full of liquid, °C; none where it never is
/// below the critical temperature. A hot deck reaches 60 °C and more.
///
/// # Errors
/// An unknown gas.
pub fn liquid_full_c(gas: &str, volume_l: f64, kg: f64) -> Result<Option<f64>, FluidError> {
    let r = Refrigerant::named(gas)?;
    let target = kg / (volume_l / 1000.0);
    let density = |t_k: f64| r.saturated_at_t(t_k, Side::Bubble).map(|s| s.rho_kg_m3);
    let (mut low, mut high) = r.saturation_range_k();
    low += 0.01;
    high -= 0.01;
    if density(high)? > target || density(low)? < target {
        return Ok(None);
    }
    for _ in 0..60 {
        let mid = 0.5 * (low + high);
        if density(mid)? > target {
            low = mid;
        } else {
            high = mid;
        }
    }
    Ok(Some(0.5 * (low + high) - ZERO_C_K))
}

/// Refrigerant in a hose full of liquid, g.
///
/// # Errors
/// An unknown gas, or a temperature outside its tables.
pub fn hose_holdup_g(
    gas: &str,
    diameter_mm: f64,
    length_m: f64,
    t_c: f64,
) -> Result<f64, FluidError> {
    let rho = Refrigerant::named(gas)?.saturated_at_t(t_c + ZERO_C_K, Side::Bubble)?.rho_kg_m3;
    let d = diameter_mm / 1000.0;
    Ok(std::f64::consts::FRAC_PI_4 * d * d * length_m * rho * 1000.0)
}

/// What the pressure of a standing cylinder says about what is in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Identity {
    /// Higher than the gas can be: air or another gas is in it. Do not charge.
    NonCondensables,
    /// Lower than the gas can be: another gas, perhaps counterfeit. Do not use, quarantine, ask.
    AnotherGas,
    /// As it should be within the instruments; that is no proof of identity.
    Consistent,
}

/// A cylinder held against its name.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Screening {
    /// The verdict.
    pub identity: Identity,
    /// Pressures that fit the name and the instruments, kPa absolute.
    pub fits_kpa: [f64; 2],
    /// Reading less saturation pressure, kPa.
    pub off_kpa: f64,
}

/// Screens a cylinder that has stood for hours at one temperature (reference §1.2, §6.3).
///
/// # Errors
/// An unknown gas, or a temperature outside its tables.
pub fn screen(
    gas: &str,
    p_kpa: f64,
    t_c: f64,
    gauge_error_kpa: f64,
    thermometer_error_k: f64,
) -> Result<Screening, FluidError> {
    let r = Refrigerant::named(gas)?;
    let t_k = t_c + ZERO_C_K;
    let at = |t: f64, side| Ok::<f64, FluidError>(r.p_sat_pa(t, side)? / 1e3);
    // Liquid in a blend's cylinder stands at its bubble pressure; nearly empty it nears the dew.
    let low = at(t_k - thermometer_error_k, Side::Dew)? - gauge_error_kpa;
    let high = at(t_k + thermometer_error_k, Side::Bubble)? + gauge_error_kpa;
    let identity = if p_kpa > high {
        Identity::NonCondensables
    } else if p_kpa < low {
        Identity::AnotherGas
    } else {
        Identity::Consistent
    };
    Ok(Screening { identity, fits_kpa: [low, high], off_kpa: p_kpa - at(t_k, Side::Bubble)? })
}

/// Gauge error allowed for: class 1.0 over 31 bar (reference §6.3, §7), kPa.
const GAUGE_KPA: f64 = 31.0;
/// Thermometer error allowed for, K.
const THERMOMETER_K: f64 = 0.5;

/// What a screening says, in one line, with the usual instruments of a gauge set.
///
/// # Errors
/// As [`screen`].
pub fn screen_words(gas: &str, p_kpa: f64, t_c: f64) -> Result<String, FluidError> {
    let s = screen(gas, p_kpa, t_c, GAUGE_KPA, THERMOMETER_K)?;
    let [low, high] = s.fits_kpa;
    let read = format!("{p_kpa:.0} kPa absolute at {t_c:.1} °C, {gas} has {low:.0} to {high:.0}");
    Ok(match s.identity {
        Identity::NonCondensables => {
            format!("{read}: too high, air or another gas is in it; do not charge from it")
        }
        Identity::AnotherGas => format!(
            "{read}: too low, another gas or counterfeit; do not use, set it apart and ask ashore"
        ),
        Identity::Consistent => format!(
            "{read}: fits within gauge ± {GAUGE_KPA:.0} kPa and thermometer ± {THERMOMETER_K} K; \
             that does not prove what is in it"
        ),
    })
}
