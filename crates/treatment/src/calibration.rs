//! Slurry readings, and what they say of each probe.

use std::fmt;

use crate::PROBES;
use crate::exact::{Decimal, Ratio};
use crate::schedule::{Schedule, TempUnit};

/// Slurry readings of the probes, in one unit, as written in the calibration file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Calibration {
    unit: TempUnit,
    readings: [Vec<Decimal>; PROBES],
}

/// Why a slurry reading was not taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotSlurry {
    /// Not `probe1` to `probe4`.
    Probe,
    /// Farther from the ice point than any sensor in ice water can be.
    Impossible,
    /// More readings of one probe than anybody takes.
    TooMany,
}

impl fmt::Display for NotSlurry {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Probe => "is no probe; write probe1, probe2, probe3 or probe4",
            Self::Impossible => {
                "is no reading in ice slurry (−40 to +60 °C); check the file's unit"
            }
            Self::TooMany => "is one slurry reading too many; 200 of a probe are enough",
        })
    }
}

/// Slurry readings of one probe that are kept: more would only lengthen the fractions.
const READINGS_MAX: usize = 200;

impl Calibration {
    /// No readings yet; all will be in `unit`.
    #[must_use]
    pub fn new(unit: TempUnit) -> Self {
        Self { unit, readings: Default::default() }
    }

    /// Adds a slurry reading of `probe` (1 to 4).
    ///
    /// # Errors
    /// [`NotSlurry`].
    pub fn add(&mut self, probe: usize, reading: Decimal) -> Result<(), NotSlurry> {
        let (low, high) = crate::limits::normal(self.unit);
        if !(low..=high).contains(&reading.raw()) {
            return Err(NotSlurry::Impossible);
        }
        let index = probe.checked_sub(1).ok_or(NotSlurry::Probe)?;
        let list = self.readings.get_mut(index).ok_or(NotSlurry::Probe)?;
        if list.len() >= READINGS_MAX {
            return Err(NotSlurry::TooMany);
        }
        list.push(reading);
        Ok(())
    }

    /// Probe number in a calibration file's `probe` cell.
    #[must_use]
    pub fn probe_number(cell: &str) -> Option<usize> {
        let name = cell.trim().to_ascii_lowercase();
        (1..=PROBES).find(|n| name == format!("probe{n}"))
    }

    /// True when the file has a reading of this probe (1 to 4).
    #[must_use]
    pub fn has(&self, probe: usize) -> bool {
        let list = probe.checked_sub(1).and_then(|i| self.readings.get(i));
        list.is_some_and(|l| !l.is_empty())
    }

    /// What the readings say of probe `index` (from 0) under a schedule.
    pub(crate) fn judge(&self, index: usize, s: &Schedule) -> Option<Judged> {
        let list = self.readings.get(index)?;
        if list.is_empty() {
            return None;
        }
        let (a, b) = self.unit.conversion(s.unit);
        let ice = s.unit.ice_point();
        let mut acceptable = true;
        for reading in list {
            let value = a.mul(reading.ratio())?.add(b)?;
            let off = value.sub(ice)?;
            if let Some(limit) = s.calibration_limit {
                acceptable &= off.abs().compare(limit.ratio())?.is_le();
            }
            acceptable &= s.calibration_correction || off.is_zero();
        }
        let (mean, correction) = off_ice(list, self.unit, s.unit)?;
        Some(Judged { mean, correction, acceptable })
    }
}

/// Mean of slurry readings and correction (ice point less mean), in `to`, without rounding.
fn off_ice(list: &[Decimal], unit: TempUnit, to: TempUnit) -> Option<(Ratio, Ratio)> {
    let (a, b) = unit.conversion(to);
    let mut sum = Ratio::ZERO;
    for reading in list {
        sum = sum.add(a.mul(reading.ratio())?.add(b)?)?;
    }
    let mean = sum.div(Ratio::whole(i128::try_from(list.len()).ok()?))?;
    Some((mean, to.ice_point().sub(mean)?))
}

/// What slurry readings say of any thermometer: mean, °C, and correction, K, by the same
/// arithmetic as a probe's under a schedule. `None` without a reading, and for numbers too long
/// to be added exactly.
///
/// # Errors
/// [`NotSlurry`] for a reading that no sensor in ice water shows, and for too many.
pub fn ice_point(list: &[Decimal], unit: TempUnit) -> Result<Option<(f64, f64)>, NotSlurry> {
    let mut checked = Calibration::new(unit);
    for reading in list {
        checked.add(1, *reading)?;
    }
    let found = off_ice(list, unit, TempUnit::C);
    Ok(found.filter(|_| !list.is_empty()).map(|(m, c)| (m.to_f64(), c.to_f64())))
}

/// A probe's calibration, in the schedule's unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Judged {
    pub(crate) mean: Ratio,
    pub(crate) correction: Ratio,
    pub(crate) acceptable: bool,
}
