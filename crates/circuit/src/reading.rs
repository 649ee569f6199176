//! What a technician hands in: readings, instruments, and how the unit runs.

use std::fmt;

use serde::Deserialize;
use units::ranges::Range;

/// Mode of the unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Mode {
    /// Fresh cargo, high fan speed.
    Chilled,
    /// Frozen cargo, low fan speed.
    Frozen,
}

impl Mode {
    /// As written.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Chilled => "chilled",
            Self::Frozen => "frozen",
        }
    }
}

/// A reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Key {
    /// Gauge at the compressor's suction service valve, kPa gauge.
    Suction,
    /// Discharge gauge, kPa gauge.
    Discharge,
    /// Gauge on the liquid line downstream of the drier, kPa gauge.
    Liquid,
    /// Pipe at the expansion valve's bulb, °C.
    SuctionLine,
    /// Pipe at the compressor's suction service valve, °C.
    CompressorIn,
    /// Discharge pipe, °C.
    DischargeLine,
    /// Pipe at the liquid gauge point, °C.
    LiquidLine,
    /// Pipe at the condenser outlet, before the receiver, °C.
    CondenserOut,
    /// Air leaving the coil, °C.
    Supply,
    /// Air entering the unit, °C.
    Return,
    /// Air entering the condenser, °C.
    Ambient,
    /// Compressor current per phase, A.
    Current,
}

/// Number of readings.
pub const READINGS: usize = 12;

const GAUGE_KPAG: Range = Range {
    name: "gauge pressure",
    unit: "kPa gauge",
    min: -101.0,
    max: 6000.0,
    why: "a perfect vacuum to beyond any relief valve of these units",
};
const PIPE_C: Range = Range {
    name: "pipe temperature",
    unit: "°C",
    min: -70.0,
    max: 180.0,
    why: "colder or hotter than any part of a running circuit; is it in °F?",
};
/// Past any cut-out, but what a failing machine's equations still give.
const DISCHARGE_C: Range = Range {
    name: "pipe temperature",
    unit: "°C",
    min: -70.0,
    max: 230.0,
    why: "hotter than any compressor lives through; is it in °F?",
};
const AIR_C: Range = Range {
    name: "air temperature",
    unit: "°C",
    min: -70.0,
    max: 70.0,
    why: "no deck or box is colder or hotter; is it in °F?",
};
const AMPS: Range = Range {
    name: "compressor current",
    unit: "A",
    min: 0.0,
    max: 200.0,
    why: "a container unit draws some 5 to 25 A",
};

impl Key {
    /// Every reading, in the order of the contract.
    pub const ALL: [Self; READINGS] = [
        Self::Suction,
        Self::Discharge,
        Self::Liquid,
        Self::SuctionLine,
        Self::CompressorIn,
        Self::DischargeLine,
        Self::LiquidLine,
        Self::CondenserOut,
        Self::Supply,
        Self::Return,
        Self::Ambient,
        Self::Current,
    ];

    /// Its place in [`Self::ALL`].
    #[must_use]
    pub fn index(self) -> usize {
        self as usize
    }

    /// The input key of the contract.
    #[must_use]
    pub fn id(self) -> &'static str {
        match self {
            Self::Suction => "suction_kpag",
            Self::Discharge => "discharge_kpag",
            Self::Liquid => "liquid_kpag",
            Self::SuctionLine => "suction_line_c",
            Self::CompressorIn => "compressor_in_c",
            Self::DischargeLine => "discharge_line_c",
            Self::LiquidLine => "liquid_line_c",
            Self::CondenserOut => "condenser_out_c",
            Self::Supply => "supply_c",
            Self::Return => "return_c",
            Self::Ambient => "ambient_c",
            Self::Current => "current_a",
        }
    }

    /// In the trade's words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Suction => "suction pressure",
            Self::Discharge => "discharge pressure",
            Self::Liquid => "liquid pressure after the drier",
            Self::SuctionLine => "suction line at the bulb",
            Self::CompressorIn => "suction pipe at the compressor",
            Self::DischargeLine => "discharge pipe",
            Self::LiquidLine => "liquid line after the drier",
            Self::CondenserOut => "condenser outlet",
            Self::Supply => "supply air",
            Self::Return => "return air",
            Self::Ambient => "ambient air at the condenser",
            Self::Current => "compressor current",
        }
    }

    /// Its unit.
    #[must_use]
    pub fn unit(self) -> &'static str {
        self.range().unit
    }

    /// Whether a clamp on a pipe reads it.
    #[must_use]
    pub fn on_pipe(self) -> bool {
        matches!(
            self,
            Self::SuctionLine
                | Self::CompressorIn
                | Self::DischargeLine
                | Self::LiquidLine
                | Self::CondenserOut
        )
    }

    /// Whether a gauge reads it.
    #[must_use]
    pub fn is_pressure(self) -> bool {
        matches!(self, Self::Suction | Self::Discharge | Self::Liquid)
    }

    fn range(self) -> Range {
        match self {
            Self::Suction | Self::Discharge | Self::Liquid => GAUGE_KPAG,
            Self::Supply | Self::Return | Self::Ambient => AIR_C,
            Self::Current => AMPS,
            Self::DischargeLine => DISCHARGE_C,
            _ => PIPE_C,
        }
    }
}

/// Input that cannot be used: what, where, what to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal(pub String);

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for Refusal {}

/// A value as it stood in the input.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// Nothing: as if the key were not there.
    Null,
    /// A number.
    Number(f64),
    /// A text.
    Text(String),
    /// true or false.
    Flag(bool),
    /// A list or a group.
    Other,
}

/// One set of readings.
#[derive(Debug, Clone, PartialEq)]
pub struct Input {
    /// The refrigerant on the plate.
    pub fluid: String,
    /// Barometer, kPa; none when not read.
    pub barometer_kpa: Option<f64>,
    /// The readings in the order of [`Key::ALL`].
    pub readings: [Option<f64>; READINGS],
    /// Set point, °C.
    pub set_point_c: Option<f64>,
    /// Mode, when said.
    pub mode: Option<Mode>,
    /// A machine card's id.
    pub machine: Option<String>,
    /// Whether the compressor runs.
    pub compressor_on: bool,
    /// Class of the suction gauge, ± % of span.
    pub gauge_class_low: Option<f64>,
    /// Class of the discharge and liquid gauges.
    pub gauge_class_high: Option<f64>,
    /// Span of the suction gauge, kPa.
    pub gauge_span_low_kpa: Option<f64>,
    /// Span of the discharge and liquid gauges, kPa.
    pub gauge_span_high_kpa: Option<f64>,
    /// Thermometer's standard deviation, K.
    pub thermometer_k: Option<f64>,
    /// Earlier readings of the same unit when it was sound.
    pub baseline: Vec<Input>,
}

impl Default for Input {
    fn default() -> Self {
        Self {
            fluid: String::new(),
            barometer_kpa: None,
            readings: [None; READINGS],
            set_point_c: None,
            mode: None,
            machine: None,
            compressor_on: true,
            gauge_class_low: None,
            gauge_class_high: None,
            gauge_span_low_kpa: None,
            gauge_span_high_kpa: None,
            thermometer_k: None,
            baseline: Vec::new(),
        }
    }
}

/// Keys that are no reading.
const OTHER_KEYS: [&str; 12] = [
    "fluid",
    "barometer_kpa",
    "set_point_c",
    "mode",
    "machine",
    "compressor_on",
    "gauge_class_low",
    "gauge_class_high",
    "gauge_span_low_kpa",
    "gauge_span_high_kpa",
    "thermometer_k",
    "baseline",
];

impl Input {
    /// A reading.
    #[must_use]
    pub fn get(&self, key: Key) -> Option<f64> {
        self.readings.get(key.index()).copied().flatten()
    }

    /// Sets a reading.
    pub fn set(&mut self, key: Key, value: Option<f64>) {
        if let Some(slot) = self.readings.get_mut(key.index()) {
            *slot = value;
        }
    }

    /// Takes one key of the input.
    ///
    /// # Errors
    /// [`Refusal`] naming the key: unknown, not a number, out of any possible range.
    pub fn put(&mut self, key: &str, value: &Value) -> Result<(), Refusal> {
        if let Some(k) = Key::ALL.into_iter().find(|k| k.id() == key) {
            self.set(k, number(key, value, k.range())?);
            return Ok(());
        }
        match key {
            "fluid" => self.fluid = text(key, value)?.unwrap_or_default(),
            "machine" => self.machine = text(key, value)?,
            "mode" => self.mode = text(key, value)?.map(|m| mode(&m)).transpose()?,
            "compressor_on" => match value {
                Value::Flag(on) => self.compressor_on = *on,
                Value::Null => {}
                _ => return Err(Refusal(format!("{key}: write true or false"))),
            },
            "barometer_kpa" => self.barometer_kpa = number(key, value, BAROMETER)?,
            "set_point_c" => {
                self.set_point_c = number(key, value, units::ranges::SET_POINT_C)?;
            }
            "gauge_class_low" => self.gauge_class_low = number(key, value, CLASS)?,
            "gauge_class_high" => self.gauge_class_high = number(key, value, CLASS)?,
            "gauge_span_low_kpa" => self.gauge_span_low_kpa = number(key, value, SPAN)?,
            "gauge_span_high_kpa" => self.gauge_span_high_kpa = number(key, value, SPAN)?,
            "thermometer_k" => self.thermometer_k = number(key, value, THERMOMETER)?,
            _ => return Err(unknown_key(key)),
        }
        Ok(())
    }
}

const BAROMETER: Range = Range {
    name: "barometer reading",
    unit: "kPa",
    min: 85.0,
    max: 110.0,
    why: "the lowest and highest ever read at sea are 87 and 108.5 kPa; 1013 hPa is 101.3 kPa",
};
const CLASS: Range = Range {
    name: "gauge class",
    unit: "% of span",
    min: 0.01,
    max: 10.0,
    why: "EN 837-1 has 0.1 to 4",
};
const SPAN: Range = Range {
    name: "gauge span",
    unit: "kPa",
    min: 50.0,
    max: 20000.0,
    why: "from the lowest to the highest mark",
};
const THERMOMETER: Range = Range {
    name: "thermometer error",
    unit: "K (one standard deviation)",
    min: 0.001,
    max: 10.0,
    why: "0.5 is usual",
};

fn number(key: &str, value: &Value, range: Range) -> Result<Option<f64>, Refusal> {
    match value {
        Value::Null => Ok(None),
        Value::Number(v) => {
            range.check(*v).map(Some).map_err(|e| Refusal(format!("{key}: {e}; read it again")))
        }
        Value::Text(t) => Err(Refusal(format!(
            "{key}: \"{t}\" is a text, not a number; write a plain number in {}",
            range.unit
        ))),
        _ => Err(Refusal(format!("{key}: no number; write a plain number in {}", range.unit))),
    }
}

fn text(key: &str, value: &Value) -> Result<Option<String>, Refusal> {
    match value {
        Value::Null => Ok(None),
        Value::Text(t) => Ok(Some(t.trim().to_owned())),
        _ => Err(Refusal(format!("{key}: write a text in quotes"))),
    }
}

fn mode(text: &str) -> Result<Mode, Refusal> {
    match text {
        "chilled" => Ok(Mode::Chilled),
        "frozen" => Ok(Mode::Frozen),
        "defrost" | "off" => Err(Refusal(format!(
            "mode: \"{text}\" is no cooling; read the gauges when the unit cools, or set \
             compressor_on to false for a standing circuit"
        ))),
        other => Err(Refusal(format!("mode: \"{other}\" is not known; write chilled or frozen"))),
    }
}

/// Names the key, and the nearest that is known.
fn unknown_key(key: &str) -> Refusal {
    let known = Key::ALL.iter().map(|k| k.id()).chain(OTHER_KEYS);
    let near = known.min_by_key(|k| distance(key, k)).filter(|k| distance(key, k) <= 5);
    let hint = near.map_or_else(
        || "holdfast gauge --help lists the keys".to_owned(),
        |k| format!("did you mean {k}?"),
    );
    Refusal(format!("{key}: this key is not known; {hint}"))
}

/// Edit distance.
fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, ca) in a.chars().enumerate() {
        let mut next = vec![i + 1];
        for (j, cb) in b.iter().enumerate() {
            let swap = row.get(j).copied().unwrap_or(0) + usize::from(ca != *cb);
            let gap = row.get(j + 1).copied().unwrap_or(0).min(next.get(j).copied().unwrap_or(0));
            next.push(swap.min(gap + 1));
        }
        row = next;
    }
    row.last().copied().unwrap_or(0)
}
