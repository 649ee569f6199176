//! Machine cards: one refrigeration machine as data. The comments in `data/machines/*.toml` are
//! the definition of the model.

use std::fmt;
use std::sync::OnceLock;

use fluids::Refrigerant;
use serde::Deserialize;

use crate::rating::Rating;

const EMBEDDED: [&str; 2] = [
    include_str!("../../../data/machines/generic-40ft-r134a.toml"),
    include_str!("../../../data/machines/generic-40ft-r404a.toml"),
];

/// A machine.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Card {
    /// Short name; the input's `machine` is one of these.
    pub id: String,
    /// Shown to the user.
    pub title: String,
    /// The refrigerant it is built for.
    pub fluid: String,
    /// Where the figures come from.
    pub source: String,
    /// How far they are to be trusted.
    pub evidence: String,
    /// What the model gives on this card: a check, not an input.
    #[serde(default)]
    pub rating: Rating,
    /// Compressor.
    pub compressor: Compressor,
    /// Supply and motor.
    pub electrical: Electrical,
    /// Condenser.
    pub condenser: Condenser,
    /// Receiver.
    pub receiver: Volume,
    /// Last pass of the condenser coil, after the receiver.
    pub subcooler: Subcooler,
    /// Liquid line with the drier.
    pub liquid_line: LiquidLine,
    /// Liquid to suction gas exchanger.
    pub suction_exchanger: Exchanger,
    /// Thermostatic valve.
    pub expansion_valve: Valve,
    /// Evaporator and its fans.
    pub evaporator: Evaporator,
    /// Suction line with the fully open throttle.
    pub suction_line: SuctionLine,
    /// Discharge line.
    pub discharge_line: Volume,
    /// Refrigerant charge.
    pub charge: Charge,
    /// How the unit sheds capacity.
    pub capacity: Capacity,
    /// Safety cut-outs.
    pub limits: Limits,
    /// How sound units differ: uniform within ± each figure.
    pub scatter: Scatter,
    /// How instruments err where the input does not say.
    pub instruments: Instruments,
    /// What the severity of each fault means.
    pub faults: FaultMeaning,
}

macro_rules! numbers {
    ($(#[$doc:meta])* $name:ident { $($(#[$fdoc:meta])* $field:ident),* $(,)? }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
        #[serde(deny_unknown_fields)]
        pub struct $name { $($(#[$fdoc])* pub $field: f64,)* }

        impl $name {
            fn fields(&self) -> Vec<(&'static str, f64)> {
                vec![$((stringify!($field), self.$field)),*]
            }
        }
    };
}

/// Hermetic compressor at fixed speed.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Compressor {
    /// Swept volume per second, m³/s.
    pub swept_m3_s: f64,
    /// Volumetric efficiency at pressure ratio 1.
    pub eta_v0: f64,
    /// Clearance fraction.
    pub clearance: f64,
    /// Exponent of re-expansion.
    pub kappa: f64,
    /// Isentropic efficiency a + b·PR + c·PR².
    pub eta_is: [f64; 3],
    /// Its lower limit.
    pub eta_is_min: f64,
    /// Share of the work lost as heat.
    pub heat_loss_fraction: f64,
    /// Motor efficiency.
    pub motor_efficiency: f64,
}

impl Compressor {
    fn fields(&self) -> Vec<(&'static str, f64)> {
        vec![
            ("swept_m3_s", self.swept_m3_s),
            ("eta_v0", self.eta_v0),
            ("clearance", self.clearance),
            ("kappa", self.kappa),
            ("eta_is_min", self.eta_is_min),
            ("heat_loss_fraction", self.heat_loss_fraction),
            ("motor_efficiency", self.motor_efficiency),
        ]
    }
}

numbers! {
    /// Supply and motor.
    Electrical {
        /// Line to line, V.
        voltage_v,
        /// Power factor.
        power_factor,
    }
}
numbers! {
    /// Air-cooled condenser.
    Condenser {
        /// UA at the nominal air flow, W/K.
        ua_w_k,
        /// Nominal air flow, m³/s.
        air_m3_s,
        /// UA goes with (air/nominal) to this power.
        air_exponent,
        /// UA of the flooded part over that of the condensing part.
        liquid_ua_ratio,
        /// Refrigerant side, litres.
        volume_l,
    }
}
numbers! {
    /// A plain volume.
    Volume {
        /// Litres.
        volume_l,
    }
}
numbers! {
    /// Subcooling pass.
    Subcooler {
        /// UA at nominal condenser air, W/K.
        ua_w_k,
    }
}
numbers! {
    /// Liquid line with the drier.
    LiquidLine {
        /// kPa per (kg/s)² per (m³/kg).
        resistance,
        /// Litres.
        volume_l,
    }
}
numbers! {
    /// Liquid to suction gas exchanger.
    Exchanger {
        /// 0 = not fitted.
        effectiveness,
    }
}
numbers! {
    /// Thermostatic expansion valve.
    Valve {
        /// Superheat at which it starts to open, K.
        static_superheat_k,
        /// Opening per kelvin.
        gain_per_k,
        /// Least opening.
        opening_min,
        /// Fully open, mm².
        area_max_mm2,
        /// Discharge coefficient.
        discharge_coefficient,
    }
}
numbers! {
    /// Evaporator with its fans.
    Evaporator {
        /// UA at high fan speed, W/K.
        ua_w_k,
        /// Chilled, m³/s.
        air_high_m3_s,
        /// Frozen, m³/s.
        air_low_m3_s,
        /// Heat of the fans into the air, chilled, W.
        fan_high_w,
        /// Frozen, W.
        fan_low_w,
        /// UA goes with (air/high) to this power.
        air_exponent,
        /// UA of the superheating part over that of the wet part.
        superheat_ua_ratio,
        /// Refrigerant side, litres.
        volume_l,
    }
}
numbers! {
    /// Suction line.
    SuctionLine {
        /// Heat gain from ambient, W/K.
        heat_gain_ua_w_k,
        /// kPa per (kg/s)² per (m³/kg).
        resistance,
        /// Litres.
        volume_l,
    }
}
numbers! {
    /// Charge.
    Charge {
        /// As on the plate, kg.
        nameplate_kg,
    }
}
numbers! {
    /// Cut-outs.
    Limits {
        /// kPa gauge.
        high_pressure_trip_kpag,
        /// kPa absolute.
        low_pressure_trip_kpa,
        /// °C.
        discharge_trip_c,
    }
}
numbers! {
    /// How sound units differ: uniform within ± the figure.
    Scatter {
        /// Condenser, evaporator, subcooler: one draw each.
        ua_fraction,
        /// Condenser, evaporator air.
        airflow_fraction,
        /// Volumetric, isentropic, motor.
        efficiency_fraction,
        /// K.
        static_superheat_k,
        /// Of nameplate.
        charge_fraction,
        /// Of the valve's area.
        valve_area_fraction,
        /// Of the suction line's heat gain.
        heat_gain_fraction,
        /// Of the voltage.
        voltage_fraction,
    }
}
numbers! {
    /// How instruments err.
    Instruments {
        /// Suction gauge, ± % of span.
        gauge_class_low,
        /// kPa.
        gauge_span_low_kpa,
        /// Discharge and liquid gauges, ± % of span.
        gauge_class_high,
        /// kPa.
        gauge_span_high_kpa,
        /// One standard deviation, K.
        thermometer_k,
        /// A clamp reads T + c·(ambient − T), c uniform from 0 to this.
        pipe_contact_fraction,
        /// One standard deviation, share of the current.
        current_fraction,
        /// Barometer not read: standard deviation about 101.325 kPa.
        weather_sd_kpa,
    }
}
numbers! {
    /// What severity means.
    FaultMeaning {
        /// charge = nameplate·(1 − this·s).
        undercharge_fraction,
        /// charge = nameplate·(1 + this·s).
        overcharge_fraction,
        /// Partial pressure this·s, kPa.
        non_condensables_kpa,
        /// Condenser UA·(1 − this·s).
        non_condensables_ua_loss,
        /// Extra drop this·s·(pc − pe) at the sound unit's flow.
        restriction_fraction,
        /// Opening (1 − this·s) of the sound unit's.
        stuck_closed_fraction,
        /// Opening (1 + this·s) of it, at most 1.
        stuck_open_fraction,
        /// Share of the gross flow leaking back.
        compressor_leak_fraction,
        /// Share of the flow going straight to the evaporator.
        hot_gas_fraction,
        /// Extra suction drop this·s·pe at the sound unit's flow.
        throttle_fraction,
        /// ± this·s on one sensor, K.
        sensor_offset_k,
    }
}

/// How a unit sheds capacity in one mode.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Shedding {
    /// A throttle in the suction line closes.
    SuctionThrottle,
    /// The compressor stops.
    OnOff,
    /// Not at all.
    None,
}

/// How the unit sheds capacity.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Capacity {
    /// In chilled mode.
    pub chilled: Shedding,
    /// In frozen mode.
    pub frozen: Shedding,
    /// Return air this far above set point or more: full capacity, K.
    pub pull_down_k: f64,
    /// Set point below this: frozen mode, °C.
    pub frozen_below_c: f64,
}

/// Why a card is refused.
#[derive(Debug, Clone, PartialEq)]
pub struct CardError {
    /// Line of the card, counted from 1; none when the fault has no place.
    pub line: Option<usize>,
    /// What is wrong, with the field.
    pub what: String,
}

impl fmt::Display for CardError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(line) = self.line {
            write!(f, "line {line}: ")?;
        }
        write!(f, "{}; compare with data/machines/generic-40ft-r134a.toml", self.what)
    }
}

impl std::error::Error for CardError {}

impl Card {
    /// Reads a card.
    ///
    /// # Errors
    /// [`CardError`] with line and field.
    pub fn from_toml(text: &str) -> Result<Self, CardError> {
        let card: Self = toml::from_str(text).map_err(|e| CardError {
            line: e.span().map(|s| line_of(text, s.start)),
            what: e.message().split_whitespace().collect::<Vec<_>>().join(" "),
        })?;
        card.sensible().map_err(|(table, field, what)| CardError {
            line: line_of_field(text, table, field),
            what: format!("{table}.{field} {what}").trim_start_matches('.').to_owned(),
        })?;
        Ok(card)
    }

    /// The cards that come with the program.
    #[must_use]
    pub fn embedded() -> &'static [Self] {
        static READ: OnceLock<Vec<Card>> = OnceLock::new();
        READ.get_or_init(|| EMBEDDED.iter().filter_map(|t| Self::from_toml(t).ok()).collect())
    }

    /// The embedded card of this id.
    #[must_use]
    pub fn named(id: &str) -> Option<&'static Self> {
        Self::embedded().iter().find(|c| c.id == id)
    }

    fn sensible(&self) -> Result<(), (&'static str, &'static str, String)> {
        if self.id.trim().is_empty() {
            return Err(("", "id", "is empty: give the card a short name".into()));
        }
        Refrigerant::named(&self.fluid).map_err(|e| ("", "fluid", format!("\"{e}\"")))?;
        let tables = [
            ("compressor", self.compressor.fields()),
            ("electrical", self.electrical.fields()),
            ("condenser", self.condenser.fields()),
            ("receiver", self.receiver.fields()),
            ("subcooler", self.subcooler.fields()),
            ("liquid_line", self.liquid_line.fields()),
            ("suction_exchanger", self.suction_exchanger.fields()),
            ("expansion_valve", self.expansion_valve.fields()),
            ("evaporator", self.evaporator.fields()),
            ("suction_line", self.suction_line.fields()),
            ("discharge_line", self.discharge_line.fields()),
            ("charge", self.charge.fields()),
            ("limits", self.limits.fields()),
            ("scatter", self.scatter.fields()),
            ("instruments", self.instruments.fields()),
            ("faults", self.faults.fields()),
        ];
        for (table, fields) in tables {
            for (field, value) in fields {
                let (low, high) = range(table, field);
                if !(value >= low && value <= high) {
                    let what = format!("= {value} is not within {low} to {high}");
                    return Err((table, field, what));
                }
            }
        }
        Ok(())
    }
}

/// What a figure may be: wide, to catch a misplaced point or a wrong unit, not to judge.
fn range(table: &str, field: &str) -> (f64, f64) {
    const TINY: f64 = 1e-9;
    match (table, field) {
        ("scatter", "static_superheat_k") => (0.0, 10.0),
        ("scatter", _) => (0.0, 0.8),
        ("faults", "non_condensables_kpa" | "sensor_offset_k") => (0.0, 2000.0),
        ("faults", "restriction_fraction" | "throttle_fraction") => (0.0, 5.0),
        ("faults", _) => (0.0, 1.4),
        (_, "effectiveness" | "opening_min" | "clearance" | "heat_loss_fraction") => (0.0, 0.95),
        (_, "pipe_contact_fraction" | "current_fraction") => (0.0, 0.5),
        (_, "motor_efficiency" | "power_factor" | "eta_v0" | "eta_is_min") => (0.01, 1.0),
        (_, "discharge_coefficient" | "air_exponent") => (0.0, 1.0),
        (_, "resistance" | "heat_gain_ua_w_k" | "fan_high_w" | "fan_low_w") => (0.0, 1e9),
        (_, "volume_l") => (0.0, 1000.0),
        ("subcooler", "ua_w_k") => (0.0, 1e6),
        ("instruments", _) => (0.0, 1e5),
        _ => (TINY, 1e6),
    }
}

fn line_of(text: &str, at: usize) -> usize {
    1 + text.bytes().take(at).filter(|b| *b == b'\n').count()
}

/// The line on which a field stands in its table.
fn line_of_field(text: &str, table: &str, field: &str) -> Option<usize> {
    let mut inside = table.is_empty();
    for (i, line) in text.lines().enumerate() {
        let line = line.trim();
        if let Some(head) = line.strip_prefix('[') {
            inside = head.split(']').next().is_some_and(|name| name.trim() == table);
        } else if inside && line.split('=').next().is_some_and(|k| k.trim() == field) {
            return Some(i + 1);
        }
    }
    None
}
