//! What `holdfast fluid` prints, as plain values in kPa and °C.

use units::temperature::ZERO_C_K;

use crate::error::FluidError;
use crate::refrigerant::{Refrigerant, Side};
use crate::state::Phase;

/// Which one value is given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Given {
    /// Absolute pressure, kPa.
    PressureKpa(f64),
    /// Temperature, °C.
    TemperatureC(f64),
}

/// Saturation both ways. (`bubble_c`, `bubble_kpa`) and (`dew_c`, `dew_kpa`) are a pair on each
/// line: at a given pressure the pressures are equal, at a given temperature the temperatures are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SaturationAnswer {
    /// The refrigerant.
    pub fluid: &'static str,
    /// Absolute pressure, kPa; none when a blend has two at the temperature given.
    pub p_kpa: Option<f64>,
    /// Temperature, °C; none when a blend has two at the pressure given.
    pub t_c: Option<f64>,
    /// Temperature on the bubble line, °C.
    pub bubble_c: f64,
    /// Temperature on the dew line, °C.
    pub dew_c: f64,
    /// Pressure on the bubble line, kPa absolute.
    pub bubble_kpa: f64,
    /// Pressure on the dew line, kPa absolute.
    pub dew_kpa: f64,
    /// Dew less bubble temperature, K, at the pressure given, or at the dew pressure of the
    /// temperature given; none where the bubble line does not reach so low.
    pub glide_k: Option<f64>,
}

/// A state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StateAnswer {
    /// The refrigerant.
    pub fluid: &'static str,
    /// Absolute pressure, kPa.
    pub p_kpa: f64,
    /// Temperature, °C.
    pub t_c: f64,
    /// The phase.
    pub phase: Phase,
    /// Specific enthalpy, kJ/kg, CoolProp's default reference: for pure fluids the IIR's
    /// (200 kJ/kg for liquid at 0 °C), for blends the sum of their parts'.
    pub h_kj_kg: f64,
    /// Specific entropy, kJ/(kg·K), likewise (IIR: 1 for liquid at 0 °C).
    pub s_kj_kgk: f64,
    /// Density, kg/m³.
    pub rho_kg_m3: f64,
    /// Specific heat capacity, kJ/(kg·K); none when two-phase.
    pub cp_kj_kgk: Option<f64>,
    /// Above the dew point, K.
    pub superheat_k: Option<f64>,
    /// Below the bubble point, K.
    pub subcooling_k: Option<f64>,
    /// Vapour mass share when two-phase.
    pub quality: Option<f64>,
    /// h with the IIR reference, kJ/kg.
    pub h_iir_kj_kg: f64,
    /// s with the IIR reference, kJ/(kg·K).
    pub s_iir_kj_kgk: f64,
}

/// Saturation from a pressure or a temperature.
///
/// # Errors
/// [`FluidError`].
pub fn saturation_answer(name: &str, given: Given) -> Result<SaturationAnswer, FluidError> {
    let fluid = Refrigerant::named(name)?;
    let blend = fluid.is_blend();
    match given {
        Given::PressureKpa(p) => {
            let bubble_c = fluid.t_sat_k(p * 1e3, Side::Bubble)? - ZERO_C_K;
            let dew_c = fluid.t_sat_k(p * 1e3, Side::Dew)? - ZERO_C_K;
            Ok(SaturationAnswer {
                fluid: fluid.name(),
                p_kpa: Some(p),
                t_c: (!blend).then_some(dew_c),
                bubble_c,
                dew_c,
                bubble_kpa: p,
                dew_kpa: p,
                glide_k: Some(if blend { dew_c - bubble_c } else { 0.0 }),
            })
        }
        Given::TemperatureC(t) => {
            let bubble_kpa = fluid.p_sat_pa(t + ZERO_C_K, Side::Bubble)? / 1e3;
            let dew_kpa = fluid.p_sat_pa(t + ZERO_C_K, Side::Dew)? / 1e3;
            let glide_k = if blend {
                fluid.t_sat_k(dew_kpa * 1e3, Side::Bubble).ok().map(|b| t - (b - ZERO_C_K))
            } else {
                Some(0.0)
            };
            Ok(SaturationAnswer {
                fluid: fluid.name(),
                p_kpa: (!blend).then_some(dew_kpa),
                t_c: Some(t),
                bubble_c: t,
                dew_c: t,
                bubble_kpa,
                dew_kpa,
                glide_k,
            })
        }
    }
}

/// The state at an absolute pressure (kPa) and temperature (°C).
///
/// # Errors
/// [`FluidError`].
pub fn state_answer(name: &str, p_kpa: f64, t_c: f64) -> Result<StateAnswer, FluidError> {
    let fluid = Refrigerant::named(name)?;
    let (p, t) = (p_kpa * 1e3, t_c + ZERO_C_K);
    let s = fluid.state_pt(p, t)?;
    let (h0, s0) = fluid.iir_offsets();
    let line = |side| fluid.t_sat_k(p, side).ok();
    Ok(StateAnswer {
        fluid: fluid.name(),
        p_kpa,
        t_c,
        phase: s.phase,
        h_kj_kg: s.h_j_kg / 1e3,
        s_kj_kgk: s.s_j_kgk / 1e3,
        rho_kg_m3: s.rho_kg_m3,
        cp_kj_kgk: s.cp_j_kgk.map(|c| c / 1e3),
        superheat_k: line(Side::Dew).filter(|d| t >= *d).map(|d| t - d),
        subcooling_k: line(Side::Bubble).filter(|b| t < *b).map(|b| b - t),
        quality: s.quality,
        h_iir_kj_kg: (s.h_j_kg - h0) / 1e3,
        s_iir_kj_kgk: (s.s_j_kgk - s0) / 1e3,
    })
}
