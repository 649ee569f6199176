//! What was read from one box at one instant.

use std::fmt;
use std::sync::Arc;

use units::Utc;

use crate::{ListedUnit, UnitId};

/// A numeric channel of a reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[repr(u8)]
pub enum Channel {
    /// Set point on the display, °C.
    SetPoint,
    /// Supply (delivery) air, °C.
    Supply,
    /// Return air, °C.
    Return,
    /// Ambient air, °C.
    Ambient,
    /// Pulp probe 1, °C.
    Probe1,
    /// Pulp probe 2, °C.
    Probe2,
    /// Pulp probe 3, °C.
    Probe3,
    /// Pulp or cargo probe 4, °C.
    Probe4,
    /// Humidity set point, % RH.
    RhSet,
    /// Relative humidity, %.
    Rh,
    /// Carbon dioxide, % by volume.
    Co2,
    /// Oxygen, % by volume.
    O2,
    /// Power drawn, kW.
    Power,
}

impl Channel {
    /// All channels, in their stored order.
    pub const ALL: [Self; 13] = [
        Self::SetPoint,
        Self::Supply,
        Self::Return,
        Self::Ambient,
        Self::Probe1,
        Self::Probe2,
        Self::Probe3,
        Self::Probe4,
        Self::RhSet,
        Self::Rh,
        Self::Co2,
        Self::O2,
        Self::Power,
    ];

    /// The pulp probes.
    pub const PROBES: [Self; 4] = [Self::Probe1, Self::Probe2, Self::Probe3, Self::Probe4];

    /// Column name without its unit: `supply`, `probe1`, …
    #[must_use]
    pub fn stem(self) -> &'static str {
        match self {
            Self::SetPoint => "set_point",
            Self::Supply => "supply",
            Self::Return => "return",
            Self::Ambient => "ambient",
            Self::Probe1 => "probe1",
            Self::Probe2 => "probe2",
            Self::Probe3 => "probe3",
            Self::Probe4 => "probe4",
            Self::RhSet => "rh_set",
            Self::Rh => "rh",
            Self::Co2 => "co2",
            Self::O2 => "o2",
            Self::Power => "power",
        }
    }

    /// Unit suffix of the column name: `c`, `pct` or `kw`.
    #[must_use]
    pub fn unit_suffix(self) -> &'static str {
        match self {
            Self::RhSet | Self::Rh | Self::Co2 | Self::O2 => "pct",
            Self::Power => "kw",
            _ => "c",
        }
    }

    /// True for temperatures.
    #[must_use]
    pub fn is_temperature(self) -> bool {
        self.unit_suffix() == "c"
    }

    /// Column name as in a readings file: `supply_c`, `rh_pct`, `power_kw`.
    #[must_use]
    pub fn column(self) -> String {
        format!("{}_{}", self.stem(), self.unit_suffix())
    }

    fn bit(self) -> u16 {
        1 << (self as u8)
    }
}

/// What the unit's controller says it is doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[repr(u8)]
pub enum Mode {
    /// Holding a chilled set point.
    Chilled,
    /// Holding a frozen set point.
    Frozen,
    /// Defrosting: air temperatures are not judged, nor for an hour after.
    Defrost,
    /// Switched off at the controller.
    Off,
}

impl Mode {
    /// As written in a readings file.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Chilled => "chilled",
            Self::Frozen => "frozen",
            Self::Defrost => "defrost",
            Self::Off => "off",
        }
    }

    /// Reads the word, in any case.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        [Self::Chilled, Self::Frozen, Self::Defrost, Self::Off]
            .into_iter()
            .find(|m| m.as_str().eq_ignore_ascii_case(text))
    }
}

/// Where a reading came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Origin {
    /// Number of the file among the files of its journal entry, from 0.
    pub file: u16,
    /// Physical line in that file, header = 1.
    pub line: u32,
}

/// One row: what was read from one box at one instant by one source. Nothing that was not read
/// is in it.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// The box.
    pub unit: UnitId,
    /// When it was read.
    pub at: Utc,
    /// Who or what read it (`round`, a logger's name); empty when not said.
    pub source: Arc<str>,
    /// Where the row stands in the original file.
    pub origin: Origin,
    /// Plug energised, as seen.
    pub on_power: Option<bool>,
    /// Controller's mode.
    pub mode: Option<Mode>,
    /// Alarm as written.
    pub alarm: Option<Arc<str>>,
    /// Remark as written.
    pub remark: Option<Arc<str>>,
    /// Columns that were converted, as written: `supply_f=34.0;return_f=36.1`.
    pub raw: Option<Arc<str>>,
    present: u16,
    numbers: [f64; 13],
}

impl Reading {
    /// A reading with nothing read yet.
    #[must_use]
    pub fn new(unit: UnitId, at: Utc, source: Arc<str>) -> Self {
        Self {
            unit,
            at,
            source,
            origin: Origin::default(),
            on_power: None,
            mode: None,
            alarm: None,
            remark: None,
            raw: None,
            present: 0,
            numbers: [0.0; 13],
        }
    }

    /// The value of a channel, where it was read.
    #[must_use]
    pub fn get(&self, channel: Channel) -> Option<f64> {
        if self.present & channel.bit() == 0 {
            return None;
        }
        self.numbers.get(channel as usize).copied()
    }

    /// The temperature of a channel, where it was read and can be a measurement at all: fault
    /// codes such as 999.9 are `None` here (see [`units::ranges::SENSOR_C`]).
    #[must_use]
    pub fn sane_c(&self, channel: Channel) -> Option<f64> {
        self.get(channel).filter(|v| units::ranges::SENSOR_C.check(*v).is_ok())
    }

    /// Sets a channel. NaN is not a reading and is left out.
    pub fn set(&mut self, channel: Channel, value: f64) {
        if value.is_nan() {
            return;
        }
        if let Some(slot) = self.numbers.get_mut(channel as usize) {
            // One zero only, so that equal values have equal bytes.
            *slot = if value == 0.0 { 0.0 } else { value };
            self.present |= channel.bit();
        }
    }

    /// True when the row holds any observation (a remark alone is not one).
    #[must_use]
    pub fn has_observation(&self) -> bool {
        self.present != 0 || self.on_power.is_some() || self.mode.is_some() || self.alarm.is_some()
    }
}

/// How a new row stands to the rows already held for the same box, instant and source.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Novelty {
    /// Every value of it is held already.
    Held,
    /// It brings something; `conflicts` of its values differ from one held.
    New {
        /// Values that differ from a held value of the same column.
        conflicts: u32,
    },
}

/// Compares `new` with `held`, the rows of the same box and instant. Rows of other sources are
/// passed over.
#[must_use]
pub fn novelty<'a>(held: impl Iterator<Item = &'a Reading> + Clone, new: &Reading) -> Novelty {
    let same = held.filter(|h| h.source == new.source);
    let (mut known, mut fresh, mut conflicts) = (same.clone().next().is_some(), false, 0);
    let mut judge = |other_seen: bool, equal_seen: bool| {
        if !equal_seen {
            fresh = true;
            conflicts += u32::from(other_seen);
        }
    };
    for c in Channel::ALL {
        if let Some(v) = new.get(c) {
            let seen = same.clone().filter_map(|h| h.get(c));
            judge(seen.clone().next().is_some(), seen.clone().any(|h| h == v));
        }
    }
    judge_field(&same, new, |r| r.on_power, &mut judge);
    judge_field(&same, new, |r| r.mode, &mut judge);
    judge_field(&same, new, |r| r.alarm.clone(), &mut judge);
    judge_field(&same, new, |r| r.remark.clone(), &mut judge);
    known &= !fresh;
    if known { Novelty::Held } else { Novelty::New { conflicts } }
}

fn judge_field<'a, T: PartialEq>(
    same: &(impl Iterator<Item = &'a Reading> + Clone),
    new: &Reading,
    field: impl Fn(&Reading) -> Option<T>,
    judge: &mut impl FnMut(bool, bool),
) {
    if let Some(v) = field(new) {
        let seen: Vec<T> = same.clone().filter_map(field).collect();
        judge(!seen.is_empty(), seen.contains(&v));
    }
}

/// Why stored bytes are no reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NotAReading;

impl fmt::Display for NotAReading {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("stored bytes are no reading of a version this program knows")
    }
}

/// Version byte of the canonical form.
const CANONICAL_VERSION: u8 = 1;

impl Reading {
    /// The canonical bytes of everything but unit and instant, which the journal keeps beside
    /// them. The same reading always gives the same bytes.
    pub fn write_canonical(&self, out: &mut Vec<u8>) {
        out.push(CANONICAL_VERSION);
        out.extend_from_slice(&self.present.to_le_bytes());
        for c in Channel::ALL {
            if let Some(v) = self.get(c) {
                out.extend_from_slice(&v.to_le_bytes());
            }
        }
        let power = self.on_power.map_or(2, u8::from);
        let mode = self.mode.map_or(0xF, |m| m as u8);
        out.push(power << 4 | mode);
        out.extend_from_slice(&self.origin.file.to_le_bytes());
        out.extend_from_slice(&self.origin.line.to_le_bytes());
        for text in
            [Some(&self.source), self.alarm.as_ref(), self.remark.as_ref(), self.raw.as_ref()]
        {
            let bytes = text.map_or(&[][..], |t| t.as_bytes());
            let len = u16::try_from(bytes.len()).unwrap_or(u16::MAX);
            out.extend_from_slice(&len.to_le_bytes());
            out.extend_from_slice(bytes.get(..usize::from(len)).unwrap_or(bytes));
        }
    }

    /// Reads canonical bytes back.
    ///
    /// # Errors
    /// [`NotAReading`] when the bytes are cut, too long, or of an unknown version.
    pub fn from_canonical(unit: UnitId, at: Utc, bytes: &[u8]) -> Result<Self, NotAReading> {
        let mut cursor = Cursor(bytes);
        if cursor.take::<1>()? != [CANONICAL_VERSION] {
            return Err(NotAReading);
        }
        let present = u16::from_le_bytes(cursor.take()?);
        let mut r = Self::new(unit, at, "".into());
        for c in Channel::ALL {
            if present & c.bit() != 0 {
                r.set(c, f64::from_le_bytes(cursor.take()?));
            }
        }
        let [flags] = cursor.take()?;
        r.on_power = match flags >> 4 {
            0 => Some(false),
            1 => Some(true),
            _ => None,
        };
        r.mode = [Mode::Chilled, Mode::Frozen, Mode::Defrost, Mode::Off]
            .into_iter()
            .find(|m| *m as u8 == flags & 0xF);
        r.origin.file = u16::from_le_bytes(cursor.take()?);
        r.origin.line = u32::from_le_bytes(cursor.take()?);
        r.source = cursor.text()?.unwrap_or_default();
        r.alarm = cursor.text()?;
        r.remark = cursor.text()?;
        r.raw = cursor.text()?;
        if cursor.0.is_empty() { Ok(r) } else { Err(NotAReading) }
    }
}

struct Cursor<'a>(&'a [u8]);

impl Cursor<'_> {
    fn take<const N: usize>(&mut self) -> Result<[u8; N], NotAReading> {
        let (head, tail) = self.0.split_first_chunk::<N>().ok_or(NotAReading)?;
        self.0 = tail;
        Ok(*head)
    }

    fn text(&mut self) -> Result<Option<Arc<str>>, NotAReading> {
        let len = usize::from(u16::from_le_bytes(self.take()?));
        let (head, tail) = self.0.split_at_checked(len).ok_or(NotAReading)?;
        self.0 = tail;
        let text = std::str::from_utf8(head).map_err(|_| NotAReading)?;
        Ok((!text.is_empty()).then(|| text.into()))
    }
}

/// Everything known of one box: what assessments are made from.
#[derive(Debug, Clone, PartialEq)]
pub struct BoxFacts {
    /// The box.
    pub unit: UnitId,
    /// What the list in force says of it; `None` for a box that was read but not listed.
    pub listed: Option<ListedUnit>,
    /// Its readings by time, oldest first; the span is the caller's choice.
    pub readings: Vec<Reading>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn reading(supply_c: f64) -> Reading {
        let unit = UnitId::from_text("QQQU1000011").unwrap();
        let mut r = Reading::new(unit, Utc::from_ms(1_767_600_000_000), "round".into());
        r.set(Channel::Supply, supply_c);
        r
    }

    #[test]
    fn novelty_counts_values() {
        let a = reading(-18.0);
        let mut b = reading(-17.0);
        b.set(Channel::Return, -16.0);
        let mut other = reading(-17.0);
        other.source = "logger".into();
        let none: [Reading; 0] = [];
        assert_eq!(novelty(none.iter(), &a), Novelty::New { conflicts: 0 });
        assert_eq!(novelty([a.clone()].iter(), &a), Novelty::Held);
        assert_eq!(novelty([a.clone()].iter(), &b), Novelty::New { conflicts: 1 });
        assert_eq!(novelty([a.clone()].iter(), &other), Novelty::New { conflicts: 0 });
        // Repeats of either value are held.
        assert_eq!(novelty([a.clone(), b.clone()].iter(), &a), Novelty::Held);
        assert_eq!(novelty([a.clone(), b.clone()].iter(), &reading(-17.0)), Novelty::Held);
    }

    #[test]
    fn an_empty_row_is_held_once() {
        let empty = Reading::new(reading(0.0).unit, reading(0.0).at, "round".into());
        let none: [Reading; 0] = [];
        assert_eq!(novelty(none.iter(), &empty), Novelty::New { conflicts: 0 });
        assert_eq!(novelty([empty.clone()].iter(), &empty), Novelty::Held);
        assert!(!empty.has_observation());
    }

    proptest! {
        #[test]
        fn canonical_bytes_round_trip(
            values in proptest::collection::vec(proptest::option::of(-300.0f64..3000.0), 13),
            power in proptest::option::of(any::<bool>()),
            mode in 0usize..5,
            texts in proptest::collection::vec("[a-zé=;]{0,12}", 4),
            line in any::<u32>(),
        ) {
            let mut r = reading(1.0);
            for (c, v) in Channel::ALL.into_iter().zip(values) {
                if let Some(v) = v { r.set(c, v); }
            }
            r.on_power = power;
            let modes = [Mode::Chilled, Mode::Frozen, Mode::Defrost, Mode::Off];
            r.mode = modes.get(mode).copied();
            let text = |i: usize| (!texts[i].is_empty()).then(|| Arc::from(texts[i].as_str()));
            r.source = text(0).unwrap_or_default();
            r.alarm = text(1);
            r.remark = text(2);
            r.raw = text(3);
            r.origin = Origin { file: 3, line };
            let mut bytes = Vec::new();
            r.write_canonical(&mut bytes);
            prop_assert_eq!(Reading::from_canonical(r.unit.clone(), r.at, &bytes), Ok(r.clone()));
            bytes.pop();
            prop_assert!(Reading::from_canonical(r.unit.clone(), r.at, &bytes).is_err());
        }

        #[test]
        fn no_bytes_panic(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
            let _ = Reading::from_canonical(reading(0.0).unit, reading(0.0).at, &bytes);
        }
    }
}
