//! The check values that a card carries: what the model gives on it.

use serde::Deserialize;

use crate::reading::Mode;

/// Check values on the card.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
pub struct Rating {
    /// Sound unit at several conditions.
    #[serde(default)]
    pub points: Vec<RatingPoint>,
    /// One fault each.
    #[serde(default)]
    pub faults: Vec<FaultPoint>,
}

/// A sound unit at one condition.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct RatingPoint {
    /// chilled or frozen.
    pub mode: Mode,
    /// Air entering the condenser, °C.
    pub ambient_c: f64,
    /// Air entering the unit, °C.
    pub return_c: f64,
    /// Net cooling, kW.
    pub net_kw: f64,
    /// Compressor power, kW.
    pub power_kw: f64,
    /// Compressor current, A per phase.
    pub current_a: f64,
    /// Compressor suction, kPa absolute.
    pub suction_kpa: f64,
    /// Discharge, kPa absolute.
    pub discharge_kpa: f64,
    /// At the bulb against the evaporator's pressure, K.
    pub superheat_k: f64,
    /// At the compressor, K.
    pub compressor_superheat_k: f64,
    /// At the liquid gauge point, K.
    pub subcooling_k: f64,
    /// Condensing less ambient, K.
    pub condenser_split_k: f64,
    /// Discharge, °C.
    pub discharge_line_c: f64,
    /// Air leaving, °C.
    pub supply_c: f64,
    /// Liquid line, °C.
    pub liquid_line_c: f64,
    /// Valve opening, 0 to 1.
    pub opening: f64,
    /// Refrigerant flow, kg/s.
    pub flow_kg_s: f64,
    /// Receiver level, 0 to 1.
    pub receiver_level: f64,
}

/// A unit with one fault at severity 0.4, ambient 38 °C, return 8 °C, chilled.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct FaultPoint {
    /// Fault id.
    pub fault: String,
    /// Compressor suction, kPa absolute.
    pub suction_kpa: f64,
    /// Discharge, kPa absolute.
    pub discharge_kpa: f64,
    /// Liquid gauge point, kPa absolute.
    pub liquid_kpa: f64,
    /// At the bulb, °C.
    pub suction_line_c: f64,
    /// At the compressor's suction valve, °C.
    pub compressor_in_c: f64,
    /// Discharge, °C.
    pub discharge_line_c: f64,
    /// Liquid gauge point, °C.
    pub liquid_line_c: f64,
    /// Condenser outlet, °C.
    pub condenser_out_c: f64,
    /// Air leaving, °C.
    pub supply_c: f64,
    /// Current, A.
    pub current_a: f64,
    /// The high-side fill z.
    pub fill: f64,
}
