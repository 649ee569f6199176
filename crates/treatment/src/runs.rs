//! Breaches as they are listed, and the runs still open.

use crate::policy::{Effect, Kind};

/// A breach as it is listed. Times in milliseconds, `worst` in raw steps of the probe's column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Breach {
    pub(crate) kind: Kind,
    /// Probe, from 0; none for a gap.
    pub(crate) probe: Option<usize>,
    pub(crate) from: i64,
    pub(crate) to: i64,
    pub(crate) worst: Option<i64>,
    pub(crate) readings: u32,
    pub(crate) effect: Effect,
}

/// A run of bad readings of one probe that the next reading may lengthen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Open {
    /// Where it is listed; nowhere yet for an abnormal run that is still short.
    pub(crate) slot: Option<usize>,
    pub(crate) breach: Breach,
}

impl Open {
    /// The first bad reading of a run.
    pub(crate) fn begin(kind: Kind, probe: usize, at: i64, worst: Option<i64>) -> Self {
        let effect = Effect::Warn;
        let breach =
            Breach { kind, probe: Some(probe), from: at, to: at, worst, readings: 1, effect };
        Self { slot: None, breach }
    }

    /// One more bad reading.
    pub(crate) fn extend(&mut self, at: i64, value: Option<i64>) {
        let b = &mut self.breach;
        b.to = at;
        b.readings = b.readings.saturating_add(1);
        if let (Some(worst), Some(v)) = (b.worst, value) {
            b.worst = Some(if b.kind == Kind::Cold { worst.min(v) } else { worst.max(v) });
        }
    }

    /// Lists the run as it stands now, with the stronger of its effects.
    pub(crate) fn list(&mut self, effect: Effect, log: &mut Vec<Breach>) {
        self.breach.effect = self.breach.effect.max(effect);
        self.write(log);
    }

    /// Brings the listed line up to date; a run not listed yet gets its line.
    pub(crate) fn write(&mut self, log: &mut Vec<Breach>) {
        match self.slot.and_then(|i| log.get_mut(i)) {
            Some(line) => *line = self.breach,
            None => {
                self.slot = Some(log.len());
                log.push(self.breach);
            }
        }
    }
}
