//! What a leak seen under vacuum would lose in operation.

use fluids::leak::{grams_per_year, laminar_factor};
use fluids::{FluidError, Refrigerant, Side};

use crate::posterior::Estimate;

/// 20 °C, K: where the loss is worked out.
const STANDING_K: f64 = 293.15;
/// Pressure outside, Pa.
const OUTSIDE_PA: f64 = 101_325.0;
/// Viscosity of air at 20 °C, Pa·s.
const AIR_VISCOSITY: f64 = 18.2e-6;
/// Viscosity assumed of a blend's vapour without a checked model, Pa·s: its components lie
/// between 11 and 13 µPa·s at 20 °C saturation (from memory, unverified).
const BLEND_VISCOSITY: f64 = 12.0e-6;

/// Loss of refrigerant.
#[derive(Debug, Clone, PartialEq)]
pub struct Loss {
    /// g per year.
    pub g_per_year: Estimate,
    /// What it rests on.
    pub assumptions: String,
}

/// The loss of a laminar leak (Pa·m³/s of air under vacuum) from saturation at 20 °C.
///
/// # Errors
/// An unknown refrigerant, or one that has no saturation there.
pub fn operating_loss(leak: Estimate, fluid: &str) -> Result<Loss, FluidError> {
    let r = Refrigerant::named(fluid)?;
    let inside_pa = r.p_sat_pa(STANDING_K, Side::Bubble)?;
    let vapour_pa = r.p_sat_pa(STANDING_K, Side::Dew)?;
    let (viscosity, checked) = match r.transport(0.999 * vapour_pa, STANDING_K) {
        Ok(t) => (t.viscosity_pa_s, ""),
        Err(_) => (BLEND_VISCOSITY, ", assumed"),
    };
    let factor = laminar_factor(AIR_VISCOSITY, viscosity, inside_pa, OUTSIDE_PA);
    let g = |q: f64| grams_per_year(q * factor, r.molar_mass_kg_mol(), STANDING_K);
    let assumptions = format!(
        "{} from saturation at 20 °C ({:.0} kPa absolute) to 101.3 kPa, laminar: {factor:.1} times \
         the air that comes in under vacuum (viscosity {:.1} µPa·s{checked}, air 18.2); warmer or \
         running it loses more, a very fine leak less",
        r.name(),
        inside_pa / 1e3,
        viscosity * 1e6,
    );
    let g_per_year = Estimate { mid: g(leak.mid), p90: leak.p90.map(g) };
    Ok(Loss { g_per_year, assumptions })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Reference §4.6 ([calc]): R134a at 20 °C, factor 48.3; 7.8e-8 Pa·m³/s of air is 5 g/yr.
    #[test]
    fn r134a_at_20_c() {
        let leak = Estimate { mid: 7.8e-8, p90: [7.8e-7, 7.8e-5] };
        let l = operating_loss(leak, "R134a").unwrap();
        for (got, want) in [(l.g_per_year.mid, 5.0), (l.g_per_year.p90[0], 50.0)] {
            assert!((got / want - 1.0).abs() < 0.02, "{got} {want}");
        }
        assert!(operating_loss(leak, "R452A").unwrap().assumptions.contains("assumed"));
        assert!(operating_loss(leak, "no such gas").is_err());
    }
}
