//! What is in the boxes: carriage conditions, heat of living cargo, heat capacity.
//!
//! Carriage bands, freezing points, respiration and heat capacities are those of
//! reference/cargo-and-box.md §1.1, §1.2 and §2.4 (low ends of respiration for well cooled fresh
//! cargo). Limits of truth files are named in [`Cargo::warm_limit_c`] and [`Cargo::cold_limit_c`].

use units::math;

/// How a cargo is carried.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Breathes and makes heat.
    Living,
    /// Chilled, not breathing.
    Chilled,
    /// Frozen.
    Frozen,
}

/// A cargo with the figures the ship needs of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cargo {
    /// Row of data/cargoes.csv.
    pub id: &'static str,
    /// Text on the loading list.
    pub text: &'static str,
    /// How it is carried.
    pub kind: Kind,
    /// Set points ordered for it, °C.
    pub set_points_c: &'static [f64],
    /// Net weight in a 40 ft box, lightest and heaviest, t.
    pub mass_40_t: [f64; 2],
    /// Warmest cargo that is still right, °C. Living and chilled: warm end of the carriage band
    /// plus 2 K (common practice, no source), medicines 8 °C; frozen: 3 K over −18 °C carriage
    /// (EU 89/108), ice cream 3 K over −20 °C.
    pub warm_limit_c: f64,
    /// Coldest cargo that is still right, °C: chilling injury where there is one, else freezing.
    /// −60 for frozen cargo: none.
    pub cold_limit_c: f64,
    /// Where freezing begins, °C.
    pub freeze_c: f64,
    /// Heat capacity above freezing, J/(kg K).
    pub c_above: f64,
    /// Water, share of mass.
    pub water: f64,
    /// Protein, share of mass.
    pub protein: f64,
    /// Carbon dioxide given off at 0, 5, 10, 15 and 20 °C, mg/(kg h); zeros for dead cargo.
    pub respiration_mg: [f64; 5],
    /// Fresh air ordered, m³/h; 0 is closed.
    pub vent_m3_h: f64,
    /// Relative humidity written into the instructions, %; 0 when nothing is said.
    pub humidity_pct: f64,
    /// Share of the boxes, in parts.
    pub parts: f64,
}

const DEAD: [f64; 5] = [0.0; 5];

// One line of a table: the arguments are its columns.
#[allow(clippy::too_many_arguments)]
#[rustfmt::skip]
const fn row(
    id: &'static str, text: &'static str, kind: Kind, set_points_c: &'static [f64],
    mass_40_t: [f64; 2], limits: [f64; 3], thermal: [f64; 3], respiration_mg: [f64; 5],
    orders: [f64; 2], parts: f64,
) -> Cargo {
    let [cold_limit_c, warm_limit_c, freeze_c] = limits;
    let [c_above, water, protein] = thermal;
    let [vent_m3_h, humidity_pct] = orders;
    Cargo {
        id, text, kind, set_points_c, mass_40_t, warm_limit_c, cold_limit_c, freeze_c, c_above,
        water, protein, respiration_mg, vent_m3_h, humidity_pct, parts,
    }
}

/// Every cargo of the ship.
#[rustfmt::skip]
pub const CARGOES: [Cargo; 20] = [
    row("banana", "BANANAS GREEN", Kind::Living, &[13.3, 13.3, 13.5], [15.0, 21.0],
        [12.0, 16.0, -0.8], [3560.0, 0.75, 0.01], [10.0, 13.0, 17.0, 22.3, 36.6],
        [25.0, 90.0], 16.0),
    row("grape", "TABLE GRAPES", Kind::Living, &[-0.5, -0.5, 0.0], [16.0, 20.0],
        [-2.1, 2.0, -2.1], [3700.0, 0.81, 0.01], [2.0, 5.8, 9.5, 16.0, 22.0], [15.0, 0.0], 10.0),
    row("orange", "ORANGES", Kind::Living, &[4.0, 4.5], [20.0, 24.0],
        [1.0, 10.0, -0.8], [3810.0, 0.87, 0.01], [3.0, 3.9, 5.7, 11.2, 20.1], [25.0, 0.0], 8.0),
    row("apple", "APPLES", Kind::Living, &[0.0, 0.5], [19.0, 22.0],
        [-1.1, 6.0, -1.5], [3810.0, 0.84, 0.00], [3.9, 5.8, 9.5, 15.0, 22.0], [25.0, 90.0], 8.0),
    row("pear", "PEARS", Kind::Living, &[-0.5], [19.0, 22.0],
        [-1.5, 2.0, -1.6], [3810.0, 0.83, 0.00], [2.0, 5.8, 9.5, 16.0, 27.4], [20.0, 0.0], 4.0),
    row("avocado", "AVOCADOS HASS", Kind::Living, &[5.5, 6.0], [15.0, 18.0],
        [4.5, 14.0, -1.6], [3300.0, 0.72, 0.02], [12.0, 19.3, 47.4, 60.0, 73.2],
        [40.0, 90.0], 5.0),
    row("broccoli", "BROCCOLI", Kind::Living, &[0.0, 0.5], [9.0, 12.0],
        [-0.6, 3.0, -0.6], [4010.0, 0.907, 0.03], [19.6, 30.9, 72.0, 149.0, 256.0],
        [40.0, 0.0], 3.0),
    row("lemon", "LEMONS", Kind::Living, &[8.0, 10.0], [20.0, 23.0],
        [5.0, 16.0, -1.4], [3810.0, 0.87, 0.01], [5.0, 7.0, 9.5, 13.0, 18.3], [25.0, 0.0], 4.0),
    row("mango", "MANGOES", Kind::Living, &[11.0], [18.0, 21.0],
        [9.0, 16.0, -0.9], [3700.0, 0.82, 0.01], [10.0, 15.0, 22.7, 35.4, 64.0],
        [30.0, 0.0], 3.0),
    row("kiwifruit", "KIWIFRUIT", Kind::Living, &[0.0], [19.0, 22.0],
        [-0.9, 2.0, -0.9], [3700.0, 0.83, 0.01], [3.0, 6.0, 12.0, 15.0, 19.0], [30.0, 0.0], 3.0),
    row("pepper_bell", "PEPPERS BELL", Kind::Living, &[7.5], [12.0, 15.0],
        [5.5, 12.0, -0.7], [4000.0, 0.92, 0.01], [4.0, 5.8, 9.5, 20.0, 32.9], [25.0, 0.0], 2.0),
    row("onion", "ONIONS DRY", Kind::Living, &[0.5, 1.0], [20.0, 24.0],
        [-0.8, 4.0, -0.8], [3770.0, 0.89, 0.01], [3.0, 5.0, 7.0, 7.0, 8.0], [40.0, 65.0], 2.0),
    row("beef_chilled", "CHILLED BEEF VACUUM PACKED", Kind::Chilled, &[-1.4, -1.0], [18.0, 22.0],
        [-1.7, 2.0, -1.7], [3520.0, 0.70, 0.20], DEAD, [0.0, 0.0], 7.0),
    row("cheese", "CHEESE", Kind::Chilled, &[2.0, 4.0], [18.0, 22.0],
        [-3.0, 12.0, -4.0], [2900.0, 0.40, 0.25], DEAD, [0.0, 0.0], 3.0),
    row("pharma_2_8", "PHARMACEUTICALS 2-8 C", Kind::Chilled, &[5.0], [8.0, 14.0],
        [2.0, 8.0, -0.5], [3200.0, 0.60, 0.05], DEAD, [0.0, 0.0], 2.0),
    row("frozen_meat", "FROZEN MEAT", Kind::Frozen, &[-18.0, -20.0], [24.0, 27.0],
        [-60.0, -15.0, -1.7], [3520.0, 0.70, 0.20], DEAD, [0.0, 0.0], 12.0),
    row("frozen_fish_lean", "FROZEN FISH", Kind::Frozen, &[-20.0, -23.0], [22.0, 26.0],
        [-60.0, -15.0, -2.2], [3770.0, 0.80, 0.18], DEAD, [0.0, 0.0], 10.0),
    row("frozen_poultry", "FROZEN POULTRY", Kind::Frozen, &[-18.0, -20.0], [24.0, 27.0],
        [-60.0, -15.0, -2.8], [3300.0, 0.68, 0.19], DEAD, [0.0, 0.0], 6.0),
    row("frozen_qf", "QUICK FROZEN VEGETABLES", Kind::Frozen, &[-20.0], [18.0, 23.0],
        [-60.0, -15.0, -0.6], [3600.0, 0.79, 0.054], DEAD, [0.0, 0.0], 5.0),
    row("ice_cream", "ICE CREAM", Kind::Frozen, &[-25.0], [12.0, 17.0],
        [-60.0, -17.0, -5.6], [3300.0, 0.62, 0.04], DEAD, [0.0, 0.0], 3.0),
];

/// The cargo with this id of data/cargoes.csv.
#[must_use]
pub fn by_id(id: &str) -> Option<&'static Cargo> {
    CARGOES.iter().find(|c| c.id == id)
}

impl Cargo {
    /// Heat made by one kilogram at `temp_c`, W/kg. Log-linear between the table's temperatures,
    /// held outside −2 to 25 °C (reference/cargo-and-box.md §2.2); 10.7 J per mg CO₂.
    #[must_use]
    pub fn respiration_w_per_kg(&self, temp_c: f64) -> f64 {
        if self.kind != Kind::Living {
            return 0.0;
        }
        let x = temp_c.clamp(-2.0, 25.0) / 5.0;
        let i = (x.max(0.0) as usize).min(3);
        let (a, b) = match (self.respiration_mg.get(i), self.respiration_mg.get(i + 1)) {
            (Some(a), Some(b)) => (*a, *b),
            _ => return 0.0,
        };
        let mg_per_kg_h = a * math::exp((x - i as f64) * math::ln(b / a));
        10.7 / 3600.0 * mg_per_kg_h
    }

    /// Heat capacity at `temp_c`, J/(kg K): constant above the freezing point, below it Chen's
    /// apparent heat capacity (reference/cargo-and-box.md §2.4), which holds the latent heat.
    #[must_use]
    pub fn heat_capacity(&self, temp_c: f64) -> f64 {
        if temp_c >= self.freeze_c {
            return self.c_above;
        }
        let solids = 1.0 - self.water;
        let freezable = self.water - 0.4 * self.protein;
        let c = 1.55 + 1.26 * solids - freezable * 333.6 * self.freeze_c / (temp_c * temp_c);
        1000.0 * c
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Chen's form for beef (0.70 water, 0.20 protein, −1.7 °C), table "[calc]" of
    /// reference/cargo-and-box.md §2.4.
    #[test]
    fn apparent_heat_capacity_of_frozen_beef() {
        let beef = by_id("frozen_meat").unwrap();
        for (temp_c, kj) in [(-20.0, 2.81), (-18.0, 3.01), (-15.0, 3.49), (-12.0, 4.37)] {
            let c = beef.heat_capacity(temp_c) / 1000.0;
            assert!((c - kj).abs() < 0.01, "{temp_c}: {c}");
        }
    }

    /// Broccoli 21 mg/(kg h) is 62.4 W/t (reference/cargo-and-box.md §2.1, "[calc]"); the table
    /// here has 19.6 at 0 °C, so 58.3.
    #[test]
    fn respiration_heat_of_broccoli() {
        let b = by_id("broccoli").unwrap();
        let w_per_t = 1000.0 * b.respiration_w_per_kg(0.0);
        assert!((w_per_t * 21.0 / 19.6 - 62.4).abs() < 0.1, "{w_per_t}");
        // Between the table's temperatures the rate lies between its neighbours.
        let mid = b.respiration_w_per_kg(7.5);
        assert!(mid > b.respiration_w_per_kg(5.0) && mid < b.respiration_w_per_kg(10.0));
    }

    #[test]
    fn set_points_lie_between_the_limits() {
        for c in CARGOES {
            for s in c.set_points_c {
                assert!(*s > c.cold_limit_c && *s < c.warm_limit_c, "{} {s}", c.id);
            }
        }
    }
}
