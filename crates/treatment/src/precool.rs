//! Is the fruit cold enough to load, and cold enough to begin?

use crate::exact::Decimal;
use crate::schedule::Schedule;

/// What a pulp sample before loading means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Precool {
    /// The sample's pallet may be loaded.
    pub load: bool,
    /// The fruit is cold enough for the treatment to begin.
    pub begin: bool,
}

/// Judges a pulp sample, in the schedule's unit, against the precooling ceiling. `None` where the
/// schedule has none.
#[must_use]
pub fn precool(schedule: &Schedule, sample: Decimal) -> Option<Precool> {
    let max = schedule.precool_max?;
    let over = sample.ratio().sub(max.ratio())?;
    let load = match schedule.precool_reject_over {
        Some(reject) => over.compare(reject.ratio())?.is_lt(),
        None => sample <= max,
    };
    Some(Precool { load, begin: sample <= max })
}
