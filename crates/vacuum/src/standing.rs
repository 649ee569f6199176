//! The standing-pressure test for non-condensable gas: charge in the condenser, everything at one
//! temperature, pressure against the bubble line (Dalton).

use fluids::{FluidError, Refrigerant, Side};
use units::math::sqrt;
use units::temperature::kelvin_from_celsius;

/// A standing circuit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standing {
    /// Absolute pressure, Pa.
    pub pressure_pa: f64,
    /// Temperature of refrigerant and air, °C.
    pub temp_c: f64,
    /// Largest error of the gauge either way (class × span), Pa.
    pub gauge_error_pa: f64,
    /// Standard deviation of the thermometer, K.
    pub thermometer_k: f64,
    /// Vapour space of the condenser, m³.
    pub vapour_m3: Option<f64>,
}

/// What a standing pressure says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StandingVerdict {
    /// Above saturation by more than the instruments' error.
    NonCondensables,
    /// Below it: not this refrigerant, or no liquid left.
    NotThisRefrigerant,
    /// Within the instruments' error; that does not prove identity.
    Consistent,
}

/// An answer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StandingResult {
    /// What it says.
    pub verdict: StandingVerdict,
    /// Bubble pressure at the temperature, Pa.
    pub p_sat_pa: f64,
    /// Pressure above it, Pa, with its 90 % interval.
    pub excess_pa: f64,
    /// 90 % interval of the excess.
    pub excess_pa_p90: [f64; 2],
    /// The excess as kelvin on the bubble line.
    pub excess_k: f64,
    /// The least excess that these instruments can tell, Pa.
    pub smallest_pa: f64,
    /// Air in the vapour space, g, if all the excess is air.
    pub air_g: Option<f64>,
}

/// Gas constant of air, J/(kg·K): 8.314463/0.028964.
const R_AIR: f64 = 287.06;

/// Compares a standing pressure with saturation.
///
/// # Errors
/// As [`Refrigerant::p_sat_pa`].
pub fn standing_test(r: &Refrigerant, s: &Standing) -> Result<StandingResult, FluidError> {
    let t_k = kelvin_from_celsius(s.temp_c);
    let p_sat_pa = r.p_sat_pa(t_k, Side::Bubble)?;
    let slope = r.p_sat_pa(t_k + 0.5, Side::Bubble)? - r.p_sat_pa(t_k - 0.5, Side::Bubble)?;
    let excess_pa = s.pressure_pa - p_sat_pa;
    let gauge = s.gauge_error_pa / sqrt(3.0);
    let warmth = slope * s.thermometer_k;
    let sd = sqrt(gauge * gauge + warmth * warmth);
    let smallest_pa = 1.645 * sd;
    let verdict = match excess_pa {
        e if e > smallest_pa => StandingVerdict::NonCondensables,
        e if e < -smallest_pa => StandingVerdict::NotThisRefrigerant,
        _ => StandingVerdict::Consistent,
    };
    let excess_k = r.t_sat_k(s.pressure_pa, Side::Bubble)? - t_k;
    let air = |v: f64| (excess_pa.max(0.0) * v / (R_AIR * t_k)) * 1e3;
    Ok(StandingResult {
        verdict,
        p_sat_pa,
        excess_pa,
        excess_pa_p90: [excess_pa - smallest_pa, excess_pa + smallest_pa],
        excess_k,
        smallest_pa,
        air_g: s.vapour_m3.map(air),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at_25_c(kpa: f64, gauge_kpa: f64) -> StandingResult {
        let s = Standing {
            pressure_pa: kpa * 1e3,
            temp_c: 25.0,
            gauge_error_pa: gauge_kpa * 1e3,
            thermometer_k: 0.3,
            vapour_m3: Some(0.01),
        };
        standing_test(Refrigerant::named("R134a").unwrap(), &s).unwrap()
    }

    /// Reference §6.3 ([calc]): R134a at 25 °C, +10/30/50 kPa is 0.50/1.49/2.45 K; 30 kPa in 10 l
    /// is 3.5 g of air.
    #[test]
    fn apparent_kelvin() {
        for (kpa, k) in [(10.0, 0.50), (30.0, 1.49), (50.0, 2.45)] {
            let r = at_25_c(665.4 + kpa, 2.0);
            assert!((r.excess_k - k).abs() < 0.01, "{}", r.excess_k);
        }
        assert!((at_25_c(695.4, 2.0).air_g.unwrap() - 3.5).abs() < 0.05);
    }

    /// Reference §8, vector 12: 577 kPa is an identity alarm, 715 kPa non-condensables, 665
    /// consistent. A class 1.0 gauge of 31 bar span cannot tell 1 K (§6.3).
    #[test]
    fn three_cylinders() {
        assert_eq!(at_25_c(577.0, 6.0).verdict, StandingVerdict::NotThisRefrigerant);
        assert_eq!(at_25_c(715.0, 6.0).verdict, StandingVerdict::NonCondensables);
        assert_eq!(at_25_c(665.0, 6.0).verdict, StandingVerdict::Consistent);
        assert_eq!(at_25_c(685.0, 31.0).verdict, StandingVerdict::Consistent);
    }
}
