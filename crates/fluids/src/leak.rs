//! Leak rates from one unit to another.
//!
//! A throughput (Pa·m³/s) is a flow of moles only at a stated temperature; "standard" cubic
//! centimetres stand at 0 °C and 101.325 kPa.

use crate::hose::R_MOLAR;

/// Seconds of a year of 365 days.
pub const YEAR_S: f64 = 365.0 * 86_400.0;
/// Pascal of one µmHg ("micron") at 0 °C and standard gravity.
pub const PA_PER_UM_HG: f64 = 0.133_322_387;
const ATM_PA: f64 = 101_325.0;

/// mbar·l/s of one Pa·m³/s is 10, exactly.
#[must_use]
pub fn mbar_l_s(pa_m3_s: f64) -> f64 {
    pa_m3_s * 10.0
}

/// atm·cm³/s.
#[must_use]
pub fn atm_cm3_s(pa_m3_s: f64) -> f64 {
    pa_m3_s / ATM_PA * 1e6
}

/// mol/s at a temperature (K).
#[must_use]
pub fn mol_s(pa_m3_s: f64, t_k: f64) -> f64 {
    pa_m3_s / (R_MOLAR * t_k)
}

/// Pa·m³/s of a flow of moles at a temperature (K).
#[must_use]
pub fn pa_m3_s_from_mol_s(mol_s: f64, t_k: f64) -> f64 {
    mol_s * R_MOLAR * t_k
}

/// g/yr of a gas of this molar mass (kg/mol) at a temperature (K).
#[must_use]
pub fn grams_per_year(pa_m3_s: f64, molar_mass_kg_mol: f64, t_k: f64) -> f64 {
    mol_s(pa_m3_s, t_k) * molar_mass_kg_mol * 1e3 * YEAR_S
}

/// Pa·m³/s of a loss in g/yr.
#[must_use]
pub fn pa_m3_s_from_grams_per_year(g_yr: f64, molar_mass_kg_mol: f64, t_k: f64) -> f64 {
    pa_m3_s_from_mol_s(g_yr / 1e3 / YEAR_S / molar_mass_kg_mol, t_k)
}

/// Laminar leak: how many times more refrigerant (Pa·m³/s) leaves under `inside_pa` than air comes
/// in under vacuum, both against `outside_pa`.
#[must_use]
pub fn laminar_factor(
    air_viscosity_pa_s: f64,
    refrigerant_viscosity_pa_s: f64,
    inside_pa: f64,
    outside_pa: f64,
) -> f64 {
    let out2 = outside_pa * outside_pa;
    air_viscosity_pa_s / refrigerant_viscosity_pa_s * (inside_pa * inside_pa - out2) / out2
}

/// Pressure rise, µmHg per minute, of a leak into a volume (m³).
#[must_use]
pub fn rise_um_per_min(pa_m3_s: f64, volume_m3: f64) -> f64 {
    pa_m3_s / volume_m3 * 60.0 / PA_PER_UM_HG
}
