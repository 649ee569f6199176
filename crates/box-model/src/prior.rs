//! What is assumed of a box before its own readings say better.

use crate::estimate::Estimate;

/// Length and height, as far as the size-type code tells them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Size {
    /// 40 ft and longer; when not known, 40 ft is assumed (most refrigerated boxes are).
    pub twenty: bool,
    /// 9 ft 6 in or higher.
    pub high_cube: bool,
}

/// Age assumed when nobody says, years. Our estimate.
const AGE_Y: f64 = 6.0;

/// Leakage grows by this share per year (mean of 3.1 % per year over 12 years, cited by Heap;
/// reference/cargo-and-box.md §3.1).
const AGEING_PER_Y: f64 = 0.03;

/// New boxes stay under the permitted leakage by this factor. Our estimate.
const NEW_OF_MAX: f64 = 0.8;

impl Size {
    /// Largest heat leakage ISO 1496-2 allows, W/K (reference/cargo-and-box.md §3.1).
    #[must_use]
    pub fn ua_max_w_per_k(self) -> f64 {
        match (self.twenty, self.high_cube) {
            (true, _) => 22.0,
            (false, false) => 40.0,
            (false, true) => 42.0,
        }
    }

    /// GDV's conservative choice, 0.4 W/m²·K on the mean surface (§3.2: 66, 125, 133 m²), W/K.
    fn ua_gdv_w_per_k(self) -> f64 {
        match (self.twenty, self.high_cube) {
            (true, _) => 0.4 * 66.0,
            (false, false) => 0.4 * 125.0,
            (false, true) => 0.4 * 133.0,
        }
    }

    /// Heat leakage of a box of unknown age, W/K.
    #[must_use]
    pub fn ua_w_per_k(self) -> Estimate {
        let new = NEW_OF_MAX * self.ua_max_w_per_k();
        let best = new * (1.0 + AGEING_PER_Y * AGE_Y);
        Estimate::new(new, best, self.ua_gdv_w_per_k())
    }

    /// Heat leakage of a box whose age may be known, W/K: 0.8 × U_max, 3 % more by the year; give
    /// or take a fifth, for makers differ and one year costs 2 to 5 % (§3.1). Our estimate.
    #[must_use]
    pub fn ua_of_age_w_per_k(self, age_years: Option<f64>) -> Estimate {
        let Some(age) = age_years.filter(|a| (0.0..=40.0).contains(a)) else {
            return self.ua_w_per_k();
        };
        let best = NEW_OF_MAX * self.ua_max_w_per_k() * (1.0 + AGEING_PER_Y * age);
        Estimate::new(0.82 * best, best, 1.2 * best)
    }

    /// Empty weight, kg. Our estimate.
    #[must_use]
    pub fn tare_kg(self) -> f64 {
        if self.twenty { 3000.0 } else { 4600.0 }
    }

    /// Cargo with its packaging, kg, from the gross weight; 15 t with a wide interval when the
    /// weight is not known or is no more than an empty box's.
    #[must_use]
    pub fn payload_kg(self, gross_kg: Option<f64>) -> Estimate {
        let known = gross_kg.map(|g| g - self.tare_kg()).filter(|p| (500.0..=40_000.0).contains(p));
        match known {
            // Tare is not known to better than half a tonne.
            Some(p) => Estimate::new((p - 500.0).max(0.8 * p), p, p + 500.0),
            None => Estimate::new(7000.0, 15_000.0, if self.twenty { 22_000.0 } else { 26_000.0 }),
        }
    }

    /// Air to the mean of the cargo with the fans on, W/K. Our estimate.
    ///
    /// Air passes 15 to 25 W/m²·K to the exposed stow, about 100 m² in 40 ft and half of it in
    /// 20 ft (§3.3). Fresh produce stands in vented cartons that let the air through. Into other
    /// stows heat must also be conducted, 3k/L to the mean of a slab of half thickness L, in
    /// series with the air: frozen goods stand as one block (L 1.1 m, k 1.2 W/m·K: 3 W/m²·K)
    /// or in pallets with gaps (L 0.5 m: 7), chilled ones in pallets (k 0.45, L 0.25 m: 5).
    #[must_use]
    pub fn coupling_w_per_k(self, stow: Stow) -> Estimate {
        let per_m2 = match stow {
            Stow::Vented => Estimate::new(10.0, 20.0, 25.0),
            Stow::Chilled => Estimate::new(2.0, 5.0, 15.0),
            Stow::Frozen => Estimate::new(1.5, 4.0, 8.0),
        };
        per_m2.times(if self.twenty { 50.0 } else { 100.0 })
    }
}

/// How a cargo stands in the air.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stow {
    /// Fresh produce in vented cartons.
    Vented,
    /// Chilled goods in closed cartons.
    Chilled,
    /// Frozen goods in closed cartons.
    Frozen,
}

#[cfg(test)]
mod tests {
    use super::*;

    /// §3.1: 0.8 × 42 × (1 + 0.03 × 6) and GDV's 53 W/K.
    #[test]
    fn leakage_of_a_40_ft_high_cube() {
        let size = Size { twenty: false, high_cube: true };
        let ua = size.ua_w_per_k();
        assert!((ua.best - 39.65).abs() < 0.01);
        assert!((ua.low - 33.6).abs() < 0.01);
        assert!((ua.high - 53.2).abs() < 0.01);
    }

    #[test]
    fn payload() {
        let size = Size::default();
        assert_eq!(size.payload_kg(Some(24_600.0)).best, 20_000.0);
        assert_eq!(size.payload_kg(None).best, 15_000.0);
        assert_eq!(size.payload_kg(Some(4_700.0)), size.payload_kg(None));
        let wide = size.payload_kg(None);
        assert!(wide.low < 8000.0 && wide.high > 25_000.0);
    }
}
