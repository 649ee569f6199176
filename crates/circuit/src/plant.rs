//! One machine: a card with the unit's own scatter and its fault.

use fluids::{FluidError, Refrigerant};
use units::math::pow;
use units::temperature::ZERO_C_K;

use crate::card::Card;
use crate::cycle::Cycle;
use crate::props::Props;
use crate::reading::Mode;

/// What the machine stands in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conditions {
    /// Chilled or frozen.
    pub mode: Mode,
    /// Air entering the unit, °C.
    pub return_c: f64,
    /// Air entering the condenser, °C.
    pub ambient_c: f64,
}

/// Number of ways in which sound units differ.
pub const SCATTERS: usize = 13;

/// One unit's place within the card's scatter: each −1 to 1, 0 the card's own figure.
pub type Scatter = [f64; SCATTERS];

/// The scatters in order: UA of condenser, evaporator, subcooler; air of condenser, evaporator;
/// volumetric and isentropic efficiency; static superheat; charge; valve area; heat gain; motor
/// efficiency; voltage. The last two move the current only.
pub mod scatter {
    /// UA of the condenser.
    pub const UA_COND: usize = 0;
    /// UA of the evaporator.
    pub const UA_EVAP: usize = 1;
    /// UA of the subcooling pass.
    pub const UA_SUB: usize = 2;
    /// Condenser air.
    pub const AIR_COND: usize = 3;
    /// Evaporator air.
    pub const AIR_EVAP: usize = 4;
    /// Volumetric efficiency.
    pub const VOLUMETRIC: usize = 5;
    /// Isentropic efficiency.
    pub const ISENTROPIC: usize = 6;
    /// Static superheat.
    pub const STATIC_SUPERHEAT: usize = 7;
    /// Charge.
    pub const CHARGE: usize = 8;
    /// Valve area.
    pub const VALVE_AREA: usize = 9;
    /// Heat gain of the suction line.
    pub const HEAT_GAIN: usize = 10;
    /// Motor efficiency.
    pub const MOTOR: usize = 11;
    /// Voltage.
    pub const VOLTAGE: usize = 12;
    /// Those that move more than the current.
    pub const THERMAL: usize = 11;
}

/// How a real machine may stand off the card's equations. All zero unless a study sets them.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Quirks {
    /// Valve opens with its signal to the power of 1 + this.
    pub valve_power: f64,
    /// Evaporator pressure drop, Pa·(kg/m³)/(kg/s)².
    pub evaporator_drop: f64,
    /// Discharge line pressure drop, share of the condensing pressure.
    pub discharge_drop: f64,
    /// Share of the evaporator's air that goes past the coil.
    pub bypass: f64,
    /// Share of the condenser's warm air that comes back to its intake.
    pub recirculation: f64,
    /// Extra heat capacity of moist evaporator air, share.
    pub moisture: f64,
    /// Discharge pipe cooler by this share of its difference to ambient.
    pub discharge_loss: f64,
    /// Heat picked up by the liquid line, W.
    pub liquid_gain_w: f64,
}

/// A machine ready to be solved, in SI units.
#[derive(Debug, Clone)]
pub struct Plant<'a> {
    /// The card.
    pub card: &'a Card,
    /// What runs in it.
    pub(crate) props: &'static Props,
    /// Air entering the unit, K.
    pub t_return_k: f64,
    /// Air entering the condenser, K.
    pub t_ambient_k: f64,
    /// UA of the condenser at nominal air, W/K.
    pub ua_cond_w_k: f64,
    /// UA of the evaporator at high fan speed, W/K.
    pub ua_evap_w_k: f64,
    /// UA of the subcooling pass at nominal air, W/K.
    pub ua_sub_w_k: f64,
    /// Air through the condenser, m³/s.
    pub air_cond_m3_s: f64,
    /// Air through the evaporator, m³/s.
    pub air_evap_m3_s: f64,
    /// Heat of the evaporator fans, W.
    pub fan_w: f64,
    /// Factor on the volumetric efficiency.
    pub volumetric: f64,
    /// Factor on the isentropic efficiency.
    pub isentropic: f64,
    /// Motor efficiency.
    pub motor: f64,
    /// Line voltage, V.
    pub voltage_v: f64,
    /// Static superheat of the valve, K.
    pub static_superheat_k: f64,
    /// Refrigerant inside, kg.
    pub charge_kg: f64,
    /// Fully open valve, m².
    pub valve_area_m2: f64,
    /// Heat gain of the suction line, W/K.
    pub heat_gain_w_k: f64,
    /// Partial pressure of other gas in the condenser, Pa.
    pub p_air_pa: f64,
    /// Extra resistance at the drier, Pa·(kg/m³)/(kg/s)².
    pub restriction: f64,
    /// Opening of a valve that does not move.
    pub opening_fixed: Option<f64>,
    /// Share of the gross flow returning inside the compressor.
    pub leak: f64,
    /// Share of the flow going straight to the evaporator.
    pub hot_gas: f64,
    /// Extra resistance of the throttle, Pa·(kg/m³)/(kg/s)².
    pub throttle: f64,
    /// What the card does not say.
    pub quirks: Quirks,
}

impl<'a> Plant<'a> {
    /// A sound unit.
    ///
    /// # Errors
    /// [`FluidError`] when the card's fluid is unknown.
    pub fn sound(card: &'a Card, at: &Conditions, unit: &Scatter) -> Result<Self, FluidError> {
        let fluid = Refrigerant::named(&card.fluid)?;
        let s = &card.scatter;
        let by = |i: usize, fraction: f64| 1.0 + fraction * unit.get(i).copied().unwrap_or(0.0);
        let e = &card.evaporator;
        let (air, fan_w) = match at.mode {
            Mode::Chilled => (e.air_high_m3_s, e.fan_high_w),
            Mode::Frozen => (e.air_low_m3_s, e.fan_low_w),
        };
        let superheat = unit.get(scatter::STATIC_SUPERHEAT).copied().unwrap_or(0.0);
        let efficiency = s.efficiency_fraction;
        let charge = by(scatter::CHARGE, s.charge_fraction);
        Ok(Self {
            card,
            props: Props::of(fluid),
            t_return_k: at.return_c + ZERO_C_K,
            t_ambient_k: at.ambient_c + ZERO_C_K,
            ua_cond_w_k: card.condenser.ua_w_k * by(scatter::UA_COND, s.ua_fraction),
            ua_evap_w_k: e.ua_w_k * by(scatter::UA_EVAP, s.ua_fraction),
            ua_sub_w_k: card.subcooler.ua_w_k * by(scatter::UA_SUB, s.ua_fraction),
            air_cond_m3_s: card.condenser.air_m3_s * by(scatter::AIR_COND, s.airflow_fraction),
            air_evap_m3_s: air * by(scatter::AIR_EVAP, s.airflow_fraction),
            fan_w,
            volumetric: by(scatter::VOLUMETRIC, efficiency),
            isentropic: by(scatter::ISENTROPIC, efficiency),
            motor: card.compressor.motor_efficiency * by(scatter::MOTOR, efficiency),
            voltage_v: card.electrical.voltage_v * by(scatter::VOLTAGE, s.voltage_fraction),
            static_superheat_k: card.expansion_valve.static_superheat_k
                + s.static_superheat_k * superheat,
            charge_kg: card.charge.nameplate_kg * charge,
            valve_area_m2: card.expansion_valve.area_max_mm2
                * 1e-6
                * by(scatter::VALVE_AREA, s.valve_area_fraction),
            heat_gain_w_k: card.suction_line.heat_gain_ua_w_k
                * by(scatter::HEAT_GAIN, s.heat_gain_fraction),
            p_air_pa: 0.0,
            restriction: 0.0,
            opening_fixed: None,
            leak: 0.0,
            hot_gas: 0.0,
            throttle: 0.0,
            quirks: Quirks::default(),
        })
    }

    /// Fills it with another refrigerant.
    pub fn fill_with(&mut self, fluid: &'static Refrigerant) {
        self.props = Props::of(fluid);
    }

    /// Closes the throttle so far that it drops `share` of the evaporating pressure at the sound
    /// unit's flow.
    pub fn close_throttle(&mut self, share: f64, sound: &Cycle) {
        let m = sound.flow_kg_s;
        self.throttle = share * sound.pe_pa * sound.rho_suction_line / (m * m);
    }

    /// Factor on the UA of the condenser coil for the air it gets.
    pub(crate) fn condenser_air_factor(&self) -> f64 {
        let c = &self.card.condenser;
        pow((self.air_cond_m3_s / c.air_m3_s).max(1e-6), c.air_exponent)
    }

    /// Factor on the UA of the evaporator for the air it gets.
    pub(crate) fn evaporator_air_factor(&self) -> f64 {
        let e = &self.card.evaporator;
        pow((self.air_evap_m3_s / e.air_high_m3_s).max(1e-6), e.air_exponent)
    }
}
