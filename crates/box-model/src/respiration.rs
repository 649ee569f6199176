//! Heat of living cargo.
//!
//! Respiring one mole of glucose gives 2816 kJ and six moles of CO2, 10.66 J per mg; the
//! refrigeration trade uses 10.7 J/mg (reference/cargo-and-box.md §2.1). Between the table's
//! temperatures the rate is interpolated log-linearly, which is a local Q10; outside them it is
//! held at the end value.

use units::math;

use crate::cargo_table::Cargo;
use crate::estimate::Estimate;

/// Watts per tonne for one mg CO2 per kg and hour.
pub const W_PER_T_PER_MG: f64 = 10.7 / 3.6;

/// Rate assumed of living cargo that has no published figure: 20 mg/kg·h at 10 °C, growing 2.5
/// times per 10 K, give or take a factor of 3. Our estimate.
const UNKNOWN_MG_AT_10_C: f64 = 20.0;
const UNKNOWN_Q10: f64 = 2.5;
const UNKNOWN_FACTOR: f64 = 3.0;

/// Where only an upper bound is published, half of it stands for the low end. Our estimate.
const LOW_OF_BOUND: f64 = 0.5;

/// Respiration as the logarithm of mg CO2/kg·h by temperature, with the spread of its ends.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// Temperature in °C and ln(mg/kg·h), by rising temperature; never empty.
    knots: Vec<(f64, f64)>,
    /// Factor from the middle to either end, by the same temperatures' largest.
    factor: f64,
}

impl Curve {
    /// The published curve of a living cargo (middle of low and high end), or an assumed one
    /// where none is published; `None` for cargo that does not breathe.
    #[must_use]
    pub fn of(cargo: &Cargo) -> Option<Self> {
        if !cargo.respires {
            return None;
        }
        let mut knots = Vec::with_capacity(cargo.respiration.len());
        let mut factor: f64 = 1.0;
        for p in &cargo.respiration {
            let high = p.high_mg_per_kg_h;
            let low = p.low_mg_per_kg_h.unwrap_or(high * LOW_OF_BOUND);
            knots.push((p.temp_c, 0.5 * (math::ln(low) + math::ln(high))));
            factor = factor.max(math::sqrt(high / low));
        }
        if knots.is_empty() {
            return Some(Self::assumed());
        }
        // One published figure per temperature does not mean that lots do not differ.
        Some(Self { knots, factor: factor.max(1.3) })
    }

    /// The curve assumed of living cargo without published figures.
    #[must_use]
    pub fn assumed() -> Self {
        let at = |t: f64| {
            let ln_rate = math::ln(UNKNOWN_MG_AT_10_C) + math::ln(UNKNOWN_Q10) * (t - 10.0) / 10.0;
            (t, ln_rate)
        };
        Self { knots: vec![at(0.0), at(25.0)], factor: UNKNOWN_FACTOR }
    }

    /// Rate in mg CO2/kg·h at `temp_c`.
    #[must_use]
    pub fn rate_mg_per_kg_h(&self, temp_c: f64) -> f64 {
        math::exp(interpolate(&self.knots, temp_c))
    }

    /// Heat in W per tonne at `temp_c`.
    #[must_use]
    pub fn heat_w_per_t(&self, temp_c: f64) -> f64 {
        W_PER_T_PER_MG * self.rate_mg_per_kg_h(temp_c)
    }

    /// How far a lot may lie from the curve, as a factor on the heat.
    #[must_use]
    pub fn scale(&self) -> Estimate {
        Estimate::new(1.0 / self.factor, 1.0, self.factor)
    }
}

/// Linear between knots, held at the ends.
fn interpolate(knots: &[(f64, f64)], x: f64) -> f64 {
    let (Some(first), Some(last)) = (knots.first(), knots.last()) else {
        return 0.0;
    };
    if x <= first.0 {
        return first.1;
    }
    for pair in knots.windows(2) {
        if let [a, b] = pair
            && x <= b.0
        {
            return a.1 + (b.1 - a.1) * (x - a.0) / (b.0 - a.0);
        }
    }
    last.1
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::CargoTable;

    /// reference/cargo-and-box.md §2.1: factor and test vectors (computed there).
    #[test]
    fn heat_of_respiration() {
        assert!((W_PER_T_PER_MG - 2.972).abs() < 0.0005);
        assert!((21.0 * W_PER_T_PER_MG - 62.4).abs() < 0.05);
        assert!((12.0 * 21.0 * W_PER_T_PER_MG / 1000.0 - 0.75).abs() < 0.005);
        // 20 mL/kg·h at 15 °C by the ideal-gas density 1.8613 mg/mL; printed 37.2 mg, 110.6 W/t.
        assert!((20.0 * 1.8613 - 37.2_f64).abs() < 0.05);
        assert!((20.0 * 1.8613 * W_PER_T_PER_MG - 110.6).abs() < 0.05);
        // 3 mL/kg·h at 0 °C, 1.9635 mg/mL; printed 17.5 W/t.
        assert!((3.0 * 1.9635 * W_PER_T_PER_MG - 17.5).abs() < 0.05);
    }

    /// §2.3: the table's own local Q10 (broccoli 0→10 °C about 3.7, 10→20 °C about 3.6).
    #[test]
    fn interpolation_is_a_local_q10() {
        let table = CargoTable::embedded();
        let curve = Curve::of(table.by_id("broccoli").unwrap()).unwrap();
        let q = |a, b| curve.rate_mg_per_kg_h(b) / curve.rate_mg_per_kg_h(a);
        assert!((q(0.0, 10.0) - 3.7).abs() < 0.05);
        assert!((q(10.0, 20.0) - 3.6).abs() < 0.05);
        assert!((q(5.0, 7.5) - math::sqrt(q(5.0, 10.0))).abs() < 1e-9);
        assert_eq!(curve.heat_w_per_t(-3.0), curve.heat_w_per_t(0.0));
        assert_eq!(curve.heat_w_per_t(40.0), curve.heat_w_per_t(20.0));
    }

    #[test]
    fn who_breathes() {
        let table = CargoTable::embedded();
        assert!(Curve::of(table.by_id("frozen_meat").unwrap()).is_none());
        let bulbs = Curve::of(table.by_id("bulb_tulip").unwrap()).unwrap();
        assert_eq!(bulbs, Curve::assumed());
        assert!((bulbs.rate_mg_per_kg_h(10.0) - 20.0).abs() < 1e-9);
    }
}
