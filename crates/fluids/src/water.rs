//! Vapour pressure of water and of ice.
//!
//! Over liquid: IAPWS R7-97(2012) (Industrial Formulation 1997), region 4. Over ice: IAPWS R14-08(2011),
//! sublimation pressure of ordinary ice.

use units::math::{exp, ln, pow, sqrt};
use units::temperature::ZERO_C_K;

use crate::error::{FluidError, within};

/// Triple point, K (IAPWS R14-08).
pub const TRIPLE_K: f64 = 273.16;
/// Triple-point pressure, Pa (IAPWS R14-08).
pub const TRIPLE_PA: f64 = 611.657;
/// Specific gas constant of water vapour, J/(kg·K) (IAPWS R7-97).
pub const R_VAPOUR: f64 = 461.526;

const N: [f64; 10] = [
    0.116_705_214_527_67e4,
    -0.724_213_167_032_06e6,
    -0.170_738_469_400_92e2,
    0.120_208_247_024_70e5,
    -0.323_255_503_223_33e7,
    0.149_151_086_135_30e2,
    -0.482_326_573_615_91e4,
    0.405_113_405_420_57e6,
    -0.238_555_575_678_49,
    0.650_175_348_447_98e3,
];

const A: [f64; 3] = [-0.212_144_006e2, 0.273_203_819e2, -0.610_598_130e1];
const B: [f64; 3] = [0.333_333_333e-2, 0.120_666_667e1, 0.170_333_333e1];

/// Vapour pressure over liquid water, Pa, for 0 °C to 373.946 °C.
///
/// # Errors
/// [`FluidError::OutOfRange`].
pub fn saturation_pa(t_k: f64) -> Result<f64, FluidError> {
    within("water temperature", "°C", t_k - ZERO_C_K, 0.0, 647.096 - ZERO_C_K)?;
    let theta = t_k + N[8] / (t_k - N[9]);
    let a = theta * theta + N[0] * theta + N[1];
    let b = N[2] * theta * theta + N[3] * theta + N[4];
    let c = N[5] * theta * theta + N[6] * theta + N[7];
    let root = 2.0 * c / (sqrt(b * b - 4.0 * a * c) - b);
    Ok(root * root * root * root * 1e6)
}

/// Boiling temperature of water, K, for 611.213 Pa to 22.064 MPa.
///
/// # Errors
/// [`FluidError::OutOfRange`].
pub fn boiling_k(p_pa: f64) -> Result<f64, FluidError> {
    within("water vapour pressure", "kPa absolute", p_pa / 1e3, 0.611_212, 22_064.0)?;
    let beta = sqrt(sqrt(p_pa / 1e6));
    let e = beta * beta + N[2] * beta + N[5];
    let f = N[0] * beta * beta + N[3] * beta + N[6];
    let g = N[1] * beta * beta + N[4] * beta + N[7];
    let d = 2.0 * g / (-f - sqrt(f * f - 4.0 * e * g));
    let s = N[9] + d;
    Ok(0.5 * (s - sqrt(s * s - 4.0 * (N[8] + N[9] * d))))
}

/// Vapour pressure over ice, Pa, for −223.15 °C to the triple point.
///
/// # Errors
/// [`FluidError::OutOfRange`].
pub fn sublimation_pa(t_k: f64) -> Result<f64, FluidError> {
    within("ice temperature", "°C", t_k - ZERO_C_K, 50.0 - ZERO_C_K, TRIPLE_K - ZERO_C_K)?;
    Ok(ice(t_k))
}

fn ice(t_k: f64) -> f64 {
    let theta = t_k / TRIPLE_K;
    let sum: f64 = A.iter().zip(B).map(|(a, b)| a * pow(theta, b)).sum();
    TRIPLE_PA * exp(sum / theta)
}

/// Temperature, K, at which ice has this vapour pressure (Pa): what is coldest in a circuit that
/// stands at this pressure and holds ice.
///
/// # Errors
/// [`FluidError::OutOfRange`] above the triple point or below 1e-6 Pa.
pub fn frost_k(p_pa: f64) -> Result<f64, FluidError> {
    within("ice vapour pressure", "kPa absolute", p_pa / 1e3, 1e-9, TRIPLE_PA / 1e3)?;
    // ln p is nearly straight over 1/T: the latent heat over R is about 6139 K.
    let mut inverse = 1.0 / TRIPLE_K - ln(p_pa / TRIPLE_PA) / 6139.0;
    for _ in 0..30 {
        let t = 1.0 / inverse;
        let step = ln(ice(t) / p_pa) / 6139.0;
        inverse += step;
        if step.abs() < 1e-15 {
            break;
        }
    }
    Ok(1.0 / inverse)
}

/// Vapour pressure of whichever is stable, ice below the triple point, Pa.
///
/// # Errors
/// [`FluidError::OutOfRange`].
pub fn vapour_pressure_pa(t_k: f64) -> Result<f64, FluidError> {
    if t_k < TRIPLE_K { sublimation_pa(t_k) } else { saturation_pa(t_k) }
}

/// Temperature, K, of ice or water that has this vapour pressure (Pa).
///
/// # Errors
/// [`FluidError::OutOfRange`].
pub fn temperature_k(p_pa: f64) -> Result<f64, FluidError> {
    if p_pa < TRIPLE_PA { frost_k(p_pa) } else { boiling_k(p_pa) }
}
