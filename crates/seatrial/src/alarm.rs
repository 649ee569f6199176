//! What a unit's display says when something is wrong: plain words of our own.

/// Alarms in plain words.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Alarm {
    /// None.
    None,
    /// Return air high.
    ReturnHigh,
    /// Supply air off the set point.
    SupplyOff,
    /// Fan current low.
    FanLow,
    /// Defrost too long.
    DefrostLong,
    /// Compressor not running.
    NoCompressor,
    /// Refrigerant pressure low.
    PressureLow,
    /// Sensor reading out of range.
    SensorRange,
}

impl Alarm {
    /// As the display shows it.
    #[must_use]
    pub fn text(self) -> &'static str {
        match self {
            Self::None => "",
            Self::ReturnHigh => "return air high",
            Self::SupplyOff => "supply air off set point",
            Self::FanLow => "fan current low",
            Self::DefrostLong => "defrost too long",
            Self::NoCompressor => "compressor not running",
            Self::PressureLow => "refrigerant pressure low",
            Self::SensorRange => "probe out of range",
        }
    }
}
