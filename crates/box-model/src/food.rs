//! Specific and latent heat of food.

use crate::cargo_table::{Cargo, Category};
use crate::estimate::Estimate;

/// Frozen goods on average, kJ/kg·K (GDV Container Handbook; range there 1.1 to 2.1).
pub const FROZEN_KJ_PER_KG_K: f64 = 1.7;

/// Fresh produce where no figure of its own is known, kJ/kg·K (Siebel form at 82 % water).
pub const FRESH_KJ_PER_KG_K: f64 = 3.6;

/// Siebel form as printed by Earle, *Unit Operations in Food Processing*, appendix 7: specific
/// heat above freezing in kJ/kg·K from water in per cent.
#[must_use]
pub fn siebel_above_kj_per_kg_k(water_pct: f64) -> f64 {
    (4.19 * water_pct + 0.84 * (100.0 - water_pct)) / 100.0
}

/// The same below freezing.
#[must_use]
pub fn siebel_below_kj_per_kg_k(water_pct: f64) -> f64 {
    (2.1 * water_pct + 0.84 * (100.0 - water_pct)) / 100.0
}

/// Latent heat of freezing in kJ/kg after the same source.
#[must_use]
pub fn latent_kj_per_kg(water_pct: f64) -> f64 {
    335.0 * water_pct / 100.0
}

/// What Chen's form needs of a frozen food.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frozen {
    /// Water, mass fraction.
    pub water: f64,
    /// Protein, mass fraction.
    pub protein: f64,
    /// Initial freezing point, °C (negative).
    pub freeze_c: f64,
}

/// Lean beef (reference/cargo-and-box.md §2.4).
pub const BEEF: Frozen = Frozen { water: 0.70, protein: 0.20, freeze_c: -1.7 };

/// Green peas (same place).
pub const PEAS: Frozen = Frozen { water: 0.79, protein: 0.054, freeze_c: -0.6 };

/// Lean fish: figures under which Chen's form gives the hours printed for cod
/// (reference/cargo-and-box.md §3.3).
pub const LEAN_FISH: Frozen = Frozen { water: 0.81, protein: 0.18, freeze_c: -2.2 };

/// Ice cream: water from its latent heat (222 of 335 kJ/kg, Earle, appendix 7); freezing point
/// and protein from memory, unverified.
pub const ICE_CREAM: Frozen = Frozen { water: 0.66, protein: 0.04, freeze_c: -5.6 };

impl Frozen {
    /// Apparent specific heat in kJ/kg·K at `temp_c`, freezing of more water included: Chen's
    /// form (recalled from memory, unverified). Only for temperatures below the freezing point;
    /// nearer than 0.1 K to it the value at 0.1 K is given.
    #[must_use]
    pub fn apparent_kj_per_kg_k(self, temp_c: f64) -> f64 {
        let t = temp_c.min(self.freeze_c - 0.1);
        let solids = 1.0 - self.water;
        let freezable = self.water - 0.4 * self.protein;
        1.55 + 1.26 * solids - freezable * 333.6 * self.freeze_c / (t * t)
    }
}

/// ASHRAE Refrigeration 2006 ch. 9 table 3, specific heat above freezing, kJ/kg·K
/// (reference/cargo-and-box.md §2.4).
const ABOVE_KJ_PER_KG_K: [(&str, f64); 28] = [
    ("asparagus", 4.03),
    ("bean_snap", 3.99),
    ("broccoli", 4.01),
    ("cabbage", 4.02),
    ("carrot", 3.92),
    ("cauliflower", 4.02),
    ("celery", 4.07),
    ("corn_sweet", 3.62),
    ("cucumber", 4.09),
    ("eggplant", 4.02),
    ("garlic", 3.17),
    ("lettuce", 4.09),
    ("mushroom", 3.99),
    ("apple", 3.81),
    ("apricot", 3.85),
    ("banana", 3.56),
    ("blueberry", 3.81),
    ("cherry_sweet", 3.73),
    ("orange", 3.81),
    ("peach", 3.89),
    ("pear", 3.81),
    ("strawberry", 4.02),
    ("fish_fresh", 3.68),
    ("beef_chilled", 3.52),
    // Earle, appendix 7: eggs, lamb and fish, pork, bread.
    ("eggs_shell", 3.2),
    ("lamb_chilled", 3.18),
    ("pork_chilled", 2.85),
    ("bakery_chilled", 2.93),
];

/// Specific heat of a chilled cargo in kJ/kg·K. Packaging, and lots that differ, make the
/// interval (our estimate).
#[must_use]
pub fn chilled_kj_per_kg_k(cargo: Option<&Cargo>) -> Estimate {
    let known = cargo.and_then(|c| ABOVE_KJ_PER_KG_K.iter().find(|(id, _)| *id == c.id));
    match (known, cargo.map(|c| c.category)) {
        (Some((_, c)), _) => Estimate::new(0.9 * c, *c, 1.05 * c),
        // Medicine: anything from boxed tablets to bottled water solutions.
        (None, Some(Category::Pharma)) => Estimate::new(1.3, 2.5, 3.9),
        _ => Estimate::new(2.9, FRESH_KJ_PER_KG_K, 4.0),
    }
}

/// Specific heat of a frozen cargo in kJ/kg·K, taken as constant: the earlier warning. What
/// apparent heat adds is for [`composition`] to tell.
#[must_use]
pub fn frozen_kj_per_kg_k() -> Estimate {
    Estimate::new(1.5, FROZEN_KJ_PER_KG_K, 2.1)
}

/// Composition that stands for a frozen cargo: the nearest of those known, peas for the rest.
#[must_use]
pub fn composition(cargo: Option<&Cargo>) -> Frozen {
    match cargo.map(|c| c.id.as_str()) {
        Some("frozen_meat" | "frozen_poultry" | "frozen_fish_fatty") => BEEF,
        Some("frozen_fish_lean" | "frozen_shrimp") => LEAN_FISH,
        Some("ice_cream") => ICE_CREAM,
        _ => PEAS,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(got: f64, printed: f64, half_digit: f64) {
        assert!((got - printed).abs() <= half_digit, "{got} is not {printed}");
    }

    /// reference/cargo-and-box.md §2.4: apple, 84 % water (computed there from Earle's form).
    #[test]
    fn siebel_apple() {
        close(siebel_above_kj_per_kg_k(84.0), 3.654, 0.0005);
        close(siebel_below_kj_per_kg_k(84.0), 1.898, 0.0005);
        close(latent_kj_per_kg(84.0), 281.0, 0.5);
    }

    /// Same place: Chen's form for beef and peas.
    #[test]
    fn apparent_heat_of_beef_and_peas() {
        let beef = [
            (-20.0, 2.81, 0.005),
            (-18.0, 3.01, 0.005),
            (-15.0, 3.49, 0.005),
            (-12.0, 4.37, 0.005),
            (-8.0, 7.42, 0.005),
            (-5.0, 16.0, 0.05),
        ];
        for (t, printed, half) in beef {
            close(BEEF.apparent_kj_per_kg_k(t), printed, half);
        }
        close(PEAS.apparent_kj_per_kg_k(-18.0), 2.29, 0.005);
        close(PEAS.apparent_kj_per_kg_k(-12.0), 2.88, 0.005);
    }

    #[test]
    fn table_ids_exist() {
        let table = crate::CargoTable::embedded();
        for (id, _) in ABOVE_KJ_PER_KG_K {
            assert!(table.by_id(id).is_some(), "{id}");
        }
    }
}
