//! What time at a temperature costs a cargo: Arrhenius rates, shelf life used, mean kinetic
//! temperature, chilling dose.
//!
//! Energies are published for the products named and are marked; for the rest of a group they
//! are an analogy. A figure here ranks boxes and says how serious an excursion is; it passes no
//! judgement on a cargo.

use units::math;
use units::temperature::kelvin_from_celsius;

use crate::cargo_table::{Cargo, Category};
use crate::respiration::Curve;

/// Gas constant, kJ/mol·K (exact since the SI of 2019).
const R_KJ: f64 = 8.314_462_618e-3;

/// Activation energy over the gas constant that the mean kinetic temperature of medicines is
/// worked out with: 83.144 kJ/mol (reference/cargo-and-box.md §4.4, from memory, unverified), K.
const MKT_K: f64 = 10_000.0;

/// How a quality is lost with temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Decay {
    /// What is lost.
    pub index: &'static str,
    /// Activation energy, kJ/mol.
    pub energy_kj_per_mol: f64,
    /// Temperature at which the life is given, °C.
    pub at_c: f64,
    /// Life there, days, shortest and longest; `None` where none is published.
    pub life_d: Option<[f64; 2]>,
    /// Where it was read.
    pub source: &'static str,
}

/// Frozen spinach, sensory quality; life 400 to 500 d at -18 °C (Dermesonluoglu et al., J. Food
/// Eng. 148 (2015) 13; reference §4.2). Stands for frozen vegetables.
pub const FROZEN_VEGETABLES: Decay = Decay {
    index: "sensory quality of frozen spinach",
    energy_kj_per_mol: 61.0,
    at_c: -18.0,
    life_d: Some([400.0, 500.0]),
    source: "Dermesonluoglu et al. 2015",
};

/// The same, vitamin C.
pub const FROZEN_VITAMIN_C: Decay = Decay {
    index: "vitamin C of frozen spinach",
    energy_kj_per_mol: 132.0,
    life_d: None,
    ..FROZEN_VEGETABLES
};

/// Frozen sea fish, middle of 49 to 84 kJ/mol (Tsironi et al., Foods 9 (2020) 1893; §4.2).
pub const FROZEN_FISH: Decay = Decay {
    index: "quality of frozen sea fish",
    energy_kj_per_mol: 66.0,
    at_c: -18.0,
    life_d: None,
    source: "Tsironi et al. 2020",
};

impl Decay {
    /// Rate at `temp_c` over the rate at the reference temperature.
    #[must_use]
    pub fn rate(&self, temp_c: f64) -> f64 {
        let (t, t0) = (kelvin_from_celsius(temp_c), kelvin_from_celsius(self.at_c));
        math::exp(-self.energy_kj_per_mol / R_KJ * (1.0 / t - 1.0 / t0))
    }

    /// Days at the reference temperature that cost as much as the given spans, each (days, °C).
    #[must_use]
    pub fn days_used(&self, spans: &[(f64, f64)]) -> f64 {
        spans.iter().map(|(days, temp_c)| days * self.rate(*temp_c)).sum()
    }

    /// Factor on the rate from 10 K more, around `temp_c`.
    #[must_use]
    pub fn q10(&self, temp_c: f64) -> f64 {
        self.rate(temp_c + 5.0) / self.rate(temp_c - 5.0)
    }
}

/// What a cargo's loss of quality is measured by.
#[derive(Debug, Clone, PartialEq)]
pub enum Yardstick {
    /// Published kinetics of this product, or of one of its group.
    Published(Decay),
    /// Chilled fish against 0 °C (from memory, unverified; reference §4.2).
    ChilledFish,
    /// Living cargo: its own respiration against that at its carriage temperature, a common
    /// yardstick (estimate; reference §4.2).
    Respiration {
        /// Its respiration.
        curve: Curve,
        /// Carriage temperature, °C.
        at_c: f64,
        /// Published storage life there, days.
        life_d: [Option<f64>; 2],
    },
    /// Medicines: mean kinetic temperature, no rate.
    MeanKinetic,
}

impl Yardstick {
    /// The one that serves for a cargo; `None` where nothing readable is published.
    #[must_use]
    pub fn of(cargo: &Cargo) -> Option<Self> {
        match (cargo.category, cargo.id.as_str()) {
            (Category::Pharma, _) => Some(Self::MeanKinetic),
            (Category::Frozen, "frozen_qf") => Some(Self::Published(FROZEN_VEGETABLES)),
            (Category::Frozen, id) if id.contains("fish") || id.contains("shrimp") => {
                Some(Self::Published(FROZEN_FISH))
            }
            (Category::Chilled, "fish_fresh") => Some(Self::ChilledFish),
            _ => {
                let curve = Curve::of(cargo)?;
                let at_c = cargo.t_min_c?;
                Some(Self::Respiration { curve, at_c, life_d: cargo.life_d })
            }
        }
    }

    /// How many times as fast quality is lost at `temp_c` as where it is measured from; `None` for
    /// medicines.
    #[must_use]
    pub fn rate(&self, temp_c: f64) -> Option<f64> {
        match self {
            Self::Published(decay) => Some(decay.rate(temp_c)),
            Self::ChilledFish => Some(chilled_fish_rate(temp_c)),
            Self::Respiration { curve, at_c, .. } => {
                let base = curve.heat_w_per_t(*at_c);
                (base > 0.0).then(|| curve.heat_w_per_t(temp_c) / base)
            }
            Self::MeanKinetic => None,
        }
    }

    /// The temperature it is measured from, °C.
    #[must_use]
    pub fn at_c(&self) -> Option<f64> {
        match self {
            Self::Published(decay) => Some(decay.at_c),
            Self::ChilledFish => Some(0.0),
            Self::Respiration { at_c, .. } => Some(*at_c),
            Self::MeanKinetic => None,
        }
    }
}

/// Rate of spoilage of chilled fish from temperate waters over that at 0 °C: (1 + 0.1·T)² (from
/// memory, unverified; reference §4.2).
#[must_use]
pub fn chilled_fish_rate(temp_c: f64) -> f64 {
    let root = (1.0 + 0.1 * temp_c).max(0.0);
    root * root
}

/// Mean kinetic temperature of equally long spans, °C; `None` of nothing.
#[must_use]
pub fn mean_kinetic_c(temps_c: &[f64]) -> Option<f64> {
    if temps_c.is_empty() {
        return None;
    }
    let sum: f64 = temps_c.iter().map(|t| math::exp(-MKT_K / kelvin_from_celsius(*t))).sum();
    let mean = sum / temps_c.len() as f64;
    Some(MKT_K / -math::ln(mean) - kelvin_from_celsius(0.0))
}

/// Chilling dose: kelvin below the limit times hours, of points (hours, °C) by time.
#[must_use]
pub fn chilling_dose_k_h(points: &[(f64, f64)], limit_c: f64) -> f64 {
    let under = |t: f64| (limit_c - t).max(0.0);
    points
        .windows(2)
        .map(|pair| match pair {
            [a, b] => 0.5 * (under(a.1) + under(b.1)) * (b.0 - a.0),
            _ => 0.0,
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(got: f64, printed: f64, half_digit: f64) {
        assert!((got - printed).abs() <= 1.02 * half_digit, "{got} is not {printed}");
    }

    /// reference/cargo-and-box.md §4.2, computed there: rates against -18 °C at -12 and -5 °C.
    #[test]
    fn rates_of_frozen_goods() {
        let with = |energy_kj_per_mol| Decay { energy_kj_per_mol, ..FROZEN_VEGETABLES };
        for (ea, at_12, at_5) in
            [(43.0, 1.59, 2.67), (61.0, 1.94, 4.03), (72.0, 2.18, 5.18), (132.0, 4.18, 20.4)]
        {
            close(with(ea).rate(-12.0), at_12, 0.005);
            close(with(ea).rate(-5.0), at_5, if at_5 > 10.0 { 0.05 } else { 0.005 });
        }
        close(with(49.0).rate(-12.0), 1.70, 0.005);
        close(with(84.0).rate(-12.0), 2.48, 0.005);
        close(with(98.0).rate(-12.0), 2.89, 0.005);
    }

    /// Same place: 10 d at -12 °C cost 19.4 d at -18 °C, 5 d at -5 °C cost 20.2 d (spinach).
    #[test]
    fn days_used_by_excursions() {
        close(FROZEN_VEGETABLES.days_used(&[(10.0, -12.0)]), 19.4, 0.05);
        close(FROZEN_VEGETABLES.days_used(&[(5.0, -5.0)]), 20.2, 0.05);
        let both = FROZEN_VEGETABLES.days_used(&[(10.0, -12.0), (5.0, -5.0)]);
        close(both, 39.6, 0.1);
        assert!(FROZEN_VEGETABLES.q10(-15.0) > 2.5 && FROZEN_VEGETABLES.q10(-15.0) < 3.5);
    }

    /// Same place: relative rate of spoilage of temperate fish.
    #[test]
    fn fish() {
        for (t, rate) in [(-1.0, 0.81), (2.0, 1.44), (5.0, 2.25), (10.0, 4.0)] {
            close(chilled_fish_rate(t), rate, 1e-9);
        }
    }

    /// reference §4.2 [calc]: frozen vegetables at -12 °C lose 1.94 times as fast; broccoli keeps
    /// 21 to 28 d at 0, about 5 d at 10 °C (UC Davis), and its respiration grows accordingly.
    #[test]
    fn each_cargo_has_its_yardstick() {
        let table = crate::CargoTable::embedded();
        let of = |id: &str| Yardstick::of(table.by_id(id).unwrap());
        close(of("frozen_qf").unwrap().rate(-12.0).unwrap(), 1.94, 0.005);
        assert_eq!(of("pharma_2_8"), Some(Yardstick::MeanKinetic));
        let broccoli = of("broccoli").unwrap();
        let ratio = broccoli.rate(10.0).unwrap();
        assert!((2.5..6.5).contains(&ratio), "{ratio}");
        assert_eq!(of("cheese"), None);
    }

    /// §4.4, computed there.
    #[test]
    fn mean_kinetic_temperature() {
        let day = |n: usize, t: f64, m: usize, u: f64| {
            let mut all = vec![t; n];
            all.extend(vec![u; m]);
            mean_kinetic_c(&all).unwrap()
        };
        close(day(20, 5.0, 4, 14.0), 7.33, 0.005);
        close(day(22, 5.0, 2, 15.0), 6.46, 0.005);
        close(day(29, 22.0, 1, 32.0), 22.57, 0.005);
        assert_eq!(mean_kinetic_c(&[]), None);
    }

    #[test]
    fn dose_under_a_limit() {
        // A triangle of 2 K over 10 h is 10 K·h; above the limit nothing is paid back.
        close(chilling_dose_k_h(&[(0.0, 13.0), (10.0, 11.0), (20.0, 15.0)], 13.0), 20.0, 1e-9);
        close(chilling_dose_k_h(&[(0.0, 20.0), (9.0, 20.0)], 13.0), 0.0, 1e-9);
    }
}
