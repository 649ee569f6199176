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

/// How a unit's display words a defrost that ran to its time limit: not all units say it alike,
/// and some keep quiet about it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Wording {
    /// In full.
    #[default]
    Plain,
    /// How it ended.
    Ended,
    /// Cut short, in capitals.
    Short,
    /// Cut short, with the minutes.
    Minutes,
    /// Nothing.
    Quiet,
}

impl Wording {
    /// All of them, equally common.
    pub const ALL: [Self; 5] = [Self::Plain, Self::Ended, Self::Short, Self::Minutes, Self::Quiet];
}

impl Alarm {
    /// As a display of this wording shows it.
    #[must_use]
    pub fn text(self, wording: Wording) -> &'static str {
        match self {
            Self::DefrostLong => match wording {
                Wording::Plain => "defrost too long",
                Wording::Ended => "defrost ended by time limit",
                Wording::Short => "DEFR TIMEOUT",
                Wording::Minutes => "defr. not complete 45 min",
                Wording::Quiet => "",
            },
            Self::None => "",
            Self::ReturnHigh => "return air high",
            Self::SupplyOff => "supply air off set point",
            Self::FanLow => "fan current low",
            Self::NoCompressor => "compressor not running",
            Self::PressureLow => "refrigerant pressure low",
            Self::SensorRange => "probe out of range",
        }
    }
}
