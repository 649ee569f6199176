//! What the readings say by themselves: saturation temperatures, superheats, subcooling, split,
//! each with the 90 % interval that the instruments allow.

use fluids::{Refrigerant, Side};
use units::temperature::ZERO_C_K;

use crate::card::Instruments;
use crate::evidence::Noise;
use crate::normal::Dice;
use crate::reading::{Input, Key};

/// Barometer where nobody read one, kPa.
pub const STANDARD_KPA: f64 = 101.325;

/// A value from readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The value as worked out from the readings.
    pub value: f64,
    /// Where the true value lies in nine of ten cases.
    pub p90: [f64; 2],
}

/// Number of derived values.
pub const DERIVED: usize = 11;

/// Their keys in the order of [`Derived::values`]; the unit is in the key.
pub const KEYS: [&str; DERIVED] = [
    "evaporating_dew_c",
    "condensing_bubble_c",
    "superheat_k",
    "compressor_superheat_k",
    "subcooling_k",
    "condenser_split_k",
    "pressure_ratio",
    "discharge_superheat_k",
    "evaporator_td_k",
    "air_difference_k",
    "liquid_drop_kpa",
];

/// In the trade's words, same order.
pub const WORDS: [&str; DERIVED] = [
    "evaporating (dew)",
    "condensing (bubble)",
    "superheat at the bulb",
    "superheat at the compressor",
    "subcooling",
    "condenser split",
    "pressure ratio",
    "discharge superheat",
    "return air less evaporating",
    "return less supply air",
    "pressure drop to the liquid gauge",
];

/// All derived values; none where an input is lacking.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Derived {
    /// In the order of [`KEYS`].
    pub values: [Option<Estimate>; DERIVED],
}

impl Derived {
    /// The value of this key.
    #[must_use]
    pub fn get(&self, key: &str) -> Option<Estimate> {
        let i = KEYS.iter().position(|k| *k == key)?;
        self.values.get(i).copied().flatten()
    }
}

/// How the instruments err: as the input says, else as the card says.
#[must_use]
pub fn noise(input: &Input, card: &Instruments, extra_current: f64) -> Noise {
    let low = input.gauge_class_low.unwrap_or(card.gauge_class_low) / 100.0
        * input.gauge_span_low_kpa.unwrap_or(card.gauge_span_low_kpa);
    let high = input.gauge_class_high.unwrap_or(card.gauge_class_high) / 100.0
        * input.gauge_span_high_kpa.unwrap_or(card.gauge_span_high_kpa);
    // A perfect gauge would make one reading decide alone: keep what a dial can show.
    let half = |v: f64| v.max(0.05);
    Noise {
        gauge_half_kpa: [half(low), half(high), half(high)],
        barometer_kpa: input.barometer_kpa.unwrap_or(STANDARD_KPA),
        weather_kpa: if input.barometer_kpa.is_some() { 0.0 } else { card.weather_sd_kpa },
        thermometer_k: input.thermometer_k.unwrap_or(card.thermometer_k).max(0.01),
        contact: card.pipe_contact_fraction,
        current: (card.current_fraction * card.current_fraction + extra_current).sqrt().max(1e-3),
    }
}

/// All values from one set of numbers (absolute kPa and °C).
pub fn values(
    fluid: &Refrigerant,
    barometer_kpa: f64,
    get: impl Fn(Key) -> Option<f64>,
) -> [Option<f64>; DERIVED] {
    let p = |k: Key| get(k).map(|g| g + barometer_kpa).filter(|p| *p > 0.0);
    let sat = |p: Option<f64>, side: Side| {
        p.and_then(|p| fluid.t_sat_k(p * 1e3, side).ok()).map(|t| t - ZERO_C_K)
    };
    let less = |a: Option<f64>, b: Option<f64>| a.zip(b).map(|(a, b)| a - b);
    let (suction, discharge, liquid) = (p(Key::Suction), p(Key::Discharge), p(Key::Liquid));
    let evaporating = sat(suction, Side::Dew);
    let condensing = sat(discharge, Side::Bubble);
    let subcooling = if get(Key::LiquidLine).is_some() {
        less(sat(liquid.or(discharge), Side::Bubble), get(Key::LiquidLine))
    } else {
        less(condensing, get(Key::CondenserOut))
    };
    [
        evaporating,
        condensing,
        less(get(Key::SuctionLine), evaporating),
        less(get(Key::CompressorIn), evaporating),
        subcooling,
        less(condensing, get(Key::Ambient)),
        discharge.zip(suction).map(|(d, s)| d / s),
        less(get(Key::DischargeLine), sat(discharge, Side::Dew)),
        less(get(Key::Return), evaporating),
        less(get(Key::Return), get(Key::Supply)),
        less(discharge, liquid),
    ]
}

/// Draws for the intervals; the 5th and 95th hundredths then stand within some 2 % of the width.
const DRAWS: usize = 3000;

/// The derived values of a set of readings.
#[must_use]
pub fn derive(fluid: &Refrigerant, input: &Input, noise: &Noise) -> Derived {
    let plain = values(fluid, noise.barometer_kpa, |k| input.get(k));
    let mut dice = Dice::new(7);
    let mut clouds: Vec<Vec<f64>> = (0..DERIVED).map(|_| Vec::with_capacity(DRAWS)).collect();
    for _ in 0..DRAWS {
        let barometer = noise.barometer_kpa + noise.weather_kpa * dice.normal();
        let contact = noise.contact * dice.uniform();
        let mut errors = [0.0; crate::reading::READINGS];
        for (k, e) in Key::ALL.iter().zip(&mut errors) {
            *e = if k.is_pressure() {
                noise.gauge_half_kpa.get(k.index()).copied().unwrap_or(0.0)
                    * (2.0 * dice.uniform() - 1.0)
            } else {
                noise.thermometer_k * dice.normal()
            };
        }
        let truth = |k: Key| {
            let read = input.get(k)? - errors.get(k.index()).copied().unwrap_or(0.0);
            match input.get(Key::Ambient) {
                Some(a) if k.on_pipe() => {
                    let a = a - errors.get(Key::Ambient.index()).copied().unwrap_or(0.0);
                    Some((read - contact * a) / (1.0 - contact))
                }
                _ => Some(read),
            }
        };
        for (cloud, v) in clouds.iter_mut().zip(values(fluid, barometer, truth)) {
            cloud.extend(v.filter(|v| v.is_finite()));
        }
    }
    let mut out = Derived::default();
    for ((slot, v), cloud) in out.values.iter_mut().zip(plain).zip(&mut clouds) {
        cloud.sort_by(f64::total_cmp);
        let at = |share: f64| {
            let i = (share * cloud.len() as f64) as usize;
            cloud.get(i.min(cloud.len().saturating_sub(1))).copied()
        };
        *slot = v.and_then(|value| Some(Estimate { value, p90: [at(0.05)?, at(0.95)?] }));
    }
    out
}
