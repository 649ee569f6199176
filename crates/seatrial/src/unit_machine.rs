//! The refrigerating unit: capacity, control, defrost, sensors' view of the coil, alarms.

use crate::alarm::Alarm;
use crate::faults::Effects;

/// Length of one step of the trial, s.
pub const STEP_S: f64 = 300.0;

/// What the controller says it is doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mode {
    /// Chilled set point.
    Chilled,
    /// Frozen set point.
    Frozen,
    /// Defrosting.
    Defrost,
    /// No power.
    Off,
}

/// Air at the unit as it truly is, °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Air {
    /// Return air.
    pub return_c: f64,
    /// Supply air.
    pub supply_c: f64,
}

/// What the controller's own sensors tell it, °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// Supply sensor.
    pub supply_c: f64,
    /// Return sensor.
    pub return_c: f64,
}

/// What the unit does in one step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Act {
    /// Fans, share of the full stream.
    pub fans: f64,
    /// Heat to the air, W.
    pub coil_w: f64,
    /// Power from the plug, kW.
    pub power_kw: f64,
    /// Mode.
    pub mode: Mode,
}

/// A unit and its state.
#[derive(Debug, Clone, PartialEq)]
pub struct Machine {
    /// 1 for 40 ft, less for 20 ft.
    pub size: f64,
    /// How good this unit is, 1 as new.
    pub condition: f64,
    /// Stream of air at full fans, W/K.
    pub stream_w_per_k: f64,
    /// Hours between defrosts.
    pub defrost_every_h: f64,
    /// Water brought to the coil, kg/h.
    pub frost_kg_h: f64,
    /// Coil temperature, °C; followed while it defrosts and until it is cold again.
    pub coil_c: f64,
    /// Ice on the coil, kg.
    pub ice_kg: f64,
    /// Defrosts until one misses its end and runs to the time limit.
    pub defrosts_to_a_long_one: u32,
    trim_k: f64,
    cooling_w: f64,
    compressor: bool,
    since_defrost_s: f64,
    defrosting_s: Option<f64>,
    long_defrost: bool,
    high_s: f64,
    off_supply_s: f64,
    dead_s: f64,
    powered_s: f64,
}

/// Heat capacity of coil and drip tray, J/K.
const COIL_J_PER_K: f64 = 90e3;
/// Coil to air at the unit with fans standing, W/K.
const COIL_W_PER_K: f64 = 25.0;
/// Melting ice, J/kg.
const MELT_J_PER_KG: f64 = 334e3;
/// The coil temperature that ends a defrost, °C.
const DEFROST_END_C: f64 = 13.0;
/// Longest defrost, s.
const DEFROST_LIMIT_S: f64 = 2700.0;
/// Ice that halves the air, kg.
const ICE_HALF_KG: f64 = 7.0;
/// Set points colder than this are held by return air with the compressor switching: −10 °C and
/// below (GDV Container Handbook §8.3.1 says about −10 °C).
pub const FROZEN_BELOW_C: f64 = -9.95;

impl Machine {
    /// A unit at rest with `size` (1 for 40 ft), the first defrost `first_h` hours away.
    #[must_use]
    pub fn new(size: f64, condition: f64, stream_w_per_k: f64, every_h: f64, first_h: f64) -> Self {
        Self {
            size,
            condition,
            stream_w_per_k,
            defrost_every_h: every_h,
            frost_kg_h: 0.1,
            coil_c: -10.0,
            ice_kg: 0.3,
            defrosts_to_a_long_one: u32::MAX,
            trim_k: 0.0,
            cooling_w: 0.0,
            compressor: true,
            since_defrost_s: (every_h - first_h) * 3600.0,
            defrosting_s: None,
            long_defrost: false,
            high_s: 0.0,
            off_supply_s: 0.0,
            dead_s: 0.0,
            powered_s: 0.0,
        }
    }

    /// Cooling the unit can give, W: falls with colder boxes and hotter outside air.
    #[must_use]
    pub fn capacity_w(&self, return_c: f64, outside_c: f64) -> f64 {
        let by_box = (13.0 + 0.35 * (return_c - 2.0)).clamp(1.8, 16.0);
        let by_outside = (1.0 - 0.009 * (outside_c - 30.0)).clamp(0.6, 1.15);
        1000.0 * self.size * self.condition * by_box * by_outside
    }

    /// Power of compressor and condenser fan at full cooling, kW.
    #[must_use]
    pub fn full_power_kw(&self, return_c: f64, outside_c: f64) -> f64 {
        let by_box = (7.8 + 0.09 * (return_c - 2.0)).clamp(4.5, 9.5);
        self.size * by_box * (1.0 + 0.008 * (outside_c - 30.0)).clamp(0.75, 1.2)
    }

    fn fan_w(&self, frozen: bool) -> f64 {
        self.size * if frozen { 260.0 } else { 900.0 }
    }

    /// Decides one step from what the sensors say; `air` is the truth the heat obeys.
    pub fn act(
        &mut self,
        set_c: f64,
        air: Air,
        seen: Measured,
        outside_c: f64,
        effects: &Effects,
    ) -> Act {
        if !effects.powered {
            self.powered_s = 0.0;
            self.defrosting_s = None;
            self.coil_c += (air.return_c - self.coil_c) * 0.05;
            return Act { fans: 0.0, coil_w: 0.0, power_kw: 0.0, mode: Mode::Off };
        }
        self.powered_s += STEP_S;
        self.since_defrost_s += STEP_S;
        let frozen = set_c < FROZEN_BELOW_C;
        if let Some(s) = self.defrosting_s {
            return self.defrost(s, air, effects);
        }
        let due = self.since_defrost_s >= self.defrost_every_h * 3600.0;
        // Frost needs a coil under 0 °C, a few kelvin colder than the supply air.
        let frosting = air.supply_c < 6.0;
        if due && frosting && self.powered_s > 1800.0 {
            self.coil_c = self.coil_c.min(air.supply_c - 6.0);
            return self.defrost(0.0, air, effects);
        }
        if frosting {
            self.ice_kg += self.frost_kg_h * effects.frost_factor * STEP_S / 3600.0;
        }
        let ice = self.ice_kg / ICE_HALF_KG;
        let fans = effects.fans / (1.0 + ice * ice);
        let fan_w = self.fan_w(frozen) * effects.fans;
        let capacity = if effects.compressor {
            // Weak air starves the coil.
            self.capacity_w(air.return_c, outside_c) * effects.capacity * (0.35 + 0.65 * fans)
        } else {
            0.0
        };
        let full_kw = self.full_power_kw(air.return_c, outside_c);
        let (cooling, heater, load) = if frozen {
            self.switch(set_c, seen.return_c);
            let on = self.compressor && effects.compressor;
            (if on { capacity } else { 0.0 }, 0.0, f64::from(u8::from(on)))
        } else {
            self.throttle(set_c, air, seen, fans, fan_w, capacity)
        };
        let warm_coil_w = self.cool_coil(air.supply_c, cooling);
        let compressor_kw = if load > 0.0 { full_kw * (0.3 + 0.7 * load) } else { 0.0 };
        Act {
            fans,
            coil_w: fan_w + heater + warm_coil_w - cooling,
            power_kw: fan_w / 1000.0 + heater / 1000.0 + compressor_kw + 0.15,
            mode: if frozen { Mode::Frozen } else { Mode::Chilled },
        }
    }

    /// Frozen: the compressor switches on the return air.
    fn switch(&mut self, set_c: f64, return_c: f64) {
        if return_c > set_c + 0.5 {
            self.compressor = true;
        } else if return_c < set_c - 0.7 {
            self.compressor = false;
        }
    }

    /// Chilled: cooling or heating that brings the supply air to the set point, trimmed by what
    /// the supply sensor says. Returns cooling W, heater W and the share of full load.
    fn throttle(
        &mut self,
        set_c: f64,
        air: Air,
        seen: Measured,
        fans: f64,
        fan_w: f64,
        capacity: f64,
    ) -> (f64, f64, f64) {
        let error = (set_c - seen.supply_c).clamp(-2.0, 2.0);
        self.trim_k = (self.trim_k + error * STEP_S / 5400.0).clamp(-3.5, 3.5);
        let want_w = self.stream_w_per_k * fans * (set_c + self.trim_k - air.return_c);
        // Cooling grows slowly, so that warm air after a defrost does not freeze the cargo.
        let ramp_w = self.cooling_w + 0.08 * capacity;
        let cooling = (fan_w - want_w).clamp(0.0, capacity.max(0.0).min(ramp_w));
        self.cooling_w = cooling;
        let heater = (want_w - fan_w).clamp(0.0, 3500.0 * self.size);
        let load = if cooling > 0.0 { cooling / capacity.max(1.0) } else { 0.0 };
        // No winding up while the machine can do no more.
        if cooling >= capacity || heater >= 3500.0 * self.size {
            self.trim_k *= 0.98;
        }
        (cooling, heater, load)
    }

    /// Heat that a coil still warm from defrost gives to the air, W.
    fn cool_coil(&mut self, supply_c: f64, cooling_w: f64) -> f64 {
        let target = supply_c - if cooling_w > 0.0 { 5.0 } else { 0.0 };
        if self.coil_c <= target + 2.0 {
            self.coil_c = target;
            return 0.0;
        }
        let drop = 0.6 * (self.coil_c - target);
        self.coil_c -= drop;
        drop * COIL_J_PER_K * self.size / STEP_S
    }

    /// One step of a defrost that has lasted `so_far_s`.
    fn defrost(&mut self, so_far_s: f64, air: Air, effects: &Effects) -> Act {
        if so_far_s <= 0.0 {
            self.defrosts_to_a_long_one = match self.defrosts_to_a_long_one {
                0 => u32::MAX,
                n => n - 1,
            };
        }
        let misses_its_end = self.defrosts_to_a_long_one == 0;
        let heater_w = 2600.0 * self.size;
        let to_air_w = COIL_W_PER_K * self.size * (self.coil_c - air.return_c);
        let mut heat_j = (heater_w - to_air_w) * STEP_S;
        let capacity = COIL_J_PER_K * self.size;
        if self.coil_c < 0.0 {
            let used = (-self.coil_c * capacity).min(heat_j);
            self.coil_c += used / capacity;
            heat_j -= used;
        }
        let keep_kg = self.ice_kg * effects.ice_kept;
        let melted = ((self.ice_kg - keep_kg).max(0.0)).min(heat_j.max(0.0) / MELT_J_PER_KG);
        self.ice_kg -= melted;
        heat_j -= melted * MELT_J_PER_KG;
        self.coil_c += heat_j.max(0.0) / capacity;
        let lasted = so_far_s + STEP_S;
        let done = self.coil_c >= DEFROST_END_C && effects.ice_kept <= 0.0 && !misses_its_end;
        if done || lasted >= DEFROST_LIMIT_S {
            self.defrosting_s = None;
            self.since_defrost_s = 0.0;
            self.long_defrost = !done;
        } else {
            self.defrosting_s = Some(lasted);
        }
        Act { fans: 0.0, coil_w: to_air_w, power_kw: heater_w / 1000.0 + 0.15, mode: Mode::Defrost }
    }

    /// Air at the sensors: beside a warm coil both read more than the air of the box.
    #[must_use]
    pub fn at_sensors(&self, air: Air, mode: Mode) -> Air {
        if mode != Mode::Defrost {
            return air;
        }
        let near = self.coil_c.max(air.return_c) - air.return_c;
        Air { return_c: air.return_c + 0.45 * near, supply_c: air.return_c + 0.8 * near }
    }

    /// The alarm on the display after this step, the most telling first.
    pub fn alarm(
        &mut self,
        set_c: f64,
        seen: Measured,
        mode: Mode,
        hours_aboard: f64,
        effects: &Effects,
    ) -> Alarm {
        if mode == Mode::Off {
            return Alarm::None;
        }
        if mode != Mode::Defrost {
            let margin = if mode == Mode::Frozen { 6.0 } else { 4.0 };
            let high = seen.return_c > set_c + margin && hours_aboard > 60.0;
            self.high_s = if high { self.high_s + STEP_S } else { 0.0 };
            let off = mode == Mode::Chilled && (seen.supply_c - set_c).abs() > 3.0;
            self.off_supply_s =
                if off && hours_aboard > 24.0 { self.off_supply_s + STEP_S } else { 0.0 };
        }
        self.dead_s = if effects.compressor { 0.0 } else { self.dead_s + STEP_S };
        if self.dead_s > 1800.0 {
            Alarm::NoCompressor
        } else if effects.fans < 0.95 {
            Alarm::FanLow
        } else if effects.capacity < 0.3 {
            Alarm::PressureLow
        } else if effects.probe_code {
            Alarm::SensorRange
        } else if self.long_defrost {
            Alarm::DefrostLong
        } else if self.high_s > 4.0 * 3600.0 {
            Alarm::ReturnHigh
        } else if self.off_supply_s > 2.0 * 3600.0 {
            Alarm::SupplyOff
        } else {
            Alarm::None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Heat given to the surroundings by a 40 ft unit at full capacity: cooling and power
    /// together, kW (GDV Container Handbook §8.3.1, read in reference/cargo-and-box.md §3.4).
    #[test]
    fn heat_rejected_at_full_capacity() {
        let m = Machine::new(1.0, 1.0, 1900.0, 8.0, 4.0);
        for (box_c, low, high) in
            [(21.0, 24.5, 26.0), (2.0, 20.5, 22.0), (-18.0, 11.6, 12.0), (-29.0, 7.5, 9.1)]
        {
            let kw = m.capacity_w(box_c, 30.0) / 1000.0 + m.full_power_kw(box_c, 30.0);
            assert!(kw > 0.95 * low && kw < 1.05 * high, "{box_c} °C: {kw} kW");
        }
    }

    /// Sound air at a frozen set point; runs the machine alone against fixed air.
    fn frozen_air() -> (Air, Measured) {
        let air = Air { return_c: -19.0, supply_c: -19.0 };
        (air, Measured { supply_c: -19.0, return_c: -19.0 })
    }

    #[test]
    fn a_defrost_comes_due_and_ends() {
        let mut m = Machine::new(1.0, 1.0, 950.0, 8.0, 4.0);
        let (air, seen) = frozen_air();
        let sound = Effects::default();
        let modes: Vec<Mode> =
            (0..12 * 48).map(|_| m.act(-18.0, air, seen, 30.0, &sound).mode).collect();
        let starts =
            modes.windows(2).filter(|w| w[0] != Mode::Defrost && w[1] == Mode::Defrost).count();
        assert!((5..=7).contains(&starts), "{starts} in 48 h");
        for run in modes.split(|m| *m != Mode::Defrost).filter(|r| !r.is_empty()) {
            assert!((2..=8).contains(&run.len()), "{} minutes", 5 * run.len());
        }
        assert!(m.ice_kg < 2.0);
    }

    #[test]
    fn ice_that_stays_chokes_the_air() {
        let mut m = Machine::new(1.0, 1.0, 950.0, 8.0, 4.0);
        let (air, seen) = frozen_air();
        let iced = Effects { ice_kept: 1.0, frost_factor: 2.0, ..Effects::default() };
        let mut fans = 1.0;
        let mut alarm = Alarm::None;
        for _ in 0..12 * 72 {
            let act = m.act(-18.0, air, seen, 30.0, &iced);
            if act.mode != Mode::Defrost {
                fans = act.fans;
            }
            alarm = m.alarm(-18.0, seen, act.mode, 100.0, &iced);
        }
        assert!(fans < 0.5, "{fans}");
        assert_eq!(alarm, Alarm::DefrostLong);
    }

    #[test]
    fn the_compressor_switches_on_the_return_air() {
        let mut m = Machine::new(1.0, 1.0, 950.0, 8.0, 8.0);
        let sound = Effects::default();
        let mut cools = |return_c: f64| {
            let air = Air { return_c, supply_c: return_c };
            let seen = Measured { supply_c: return_c, return_c };
            m.act(-18.0, air, seen, 30.0, &sound).coil_w < 0.0
        };
        assert!(cools(-17.0) && cools(-18.0) && cools(-18.6));
        assert!(!cools(-18.8) && !cools(-18.0) && !cools(-17.6));
        assert!(cools(-17.4));
    }

    #[test]
    fn without_power_nothing_runs() {
        let mut m = Machine::new(1.0, 1.0, 950.0, 8.0, 4.0);
        let (air, seen) = frozen_air();
        let dead = Effects { powered: false, ..Effects::default() };
        let act = m.act(-18.0, air, seen, 30.0, &dead);
        assert_eq!((act.fans, act.coil_w, act.power_kw, act.mode), (0.0, 0.0, 0.0, Mode::Off));
    }
}
