//! How long a clock must run: days, and the extension that warm days earn.

use crate::exact::Ratio;
use crate::schedule::Schedule;

const DAY_MS: i64 = 86_400_000;

/// The time a schedule asks for, in exact milliseconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Required {
    base_ms: Ratio,
    per_day_ms: Ratio,
}

impl Required {
    pub(crate) fn of(s: &Schedule) -> Option<Self> {
        let day = Ratio::whole(i128::from(DAY_MS));
        let fraction = s.extension().map_or(Ratio::ZERO, |e| e.fraction_of_day.ratio());
        Some(Self { base_ms: s.days.ratio().mul(day)?, per_day_ms: fraction.mul(day)? })
    }

    fn total(self, warm_days: u32) -> Ratio {
        let all = self.per_day_ms.mul(Ratio::whole(i128::from(warm_days)));
        all.and_then(|e| self.base_ms.add(e)).unwrap_or(self.base_ms)
    }

    /// The first whole millisecond after a start at which the time has run.
    pub(crate) fn need_ms(self, warm_days: u32) -> i64 {
        i64::try_from(self.total(warm_days).ceil()).unwrap_or(i64::MAX / 4)
    }

    /// Hours asked for, extension included.
    pub(crate) fn hours(self, warm_days: u32) -> f64 {
        let hour = Ratio::whole(3_600_000);
        self.total(warm_days).div(hour).unwrap_or(Ratio::ZERO).to_f64()
    }

    /// Hours of extension.
    pub(crate) fn extension_hours(self, warm_days: u32) -> f64 {
        let hour = Ratio::whole(3_600_000);
        let all = self.per_day_ms.mul(Ratio::whole(i128::from(warm_days)));
        all.and_then(|e| e.div(hour)).unwrap_or(Ratio::ZERO).to_f64()
    }
}

/// Counts days with a warm reading both ways: UTC calendar days, and 24 h periods from a start.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct WarmDays {
    start_ms: i64,
    last: Option<(i64, i64)>,
    calendar: u32,
    periods: u32,
}

impl WarmDays {
    pub(crate) fn from_start(start_ms: i64) -> Self {
        Self { start_ms, ..Self::default() }
    }

    /// A warm reading at this time, later than any counted before.
    pub(crate) fn count(&mut self, at_ms: i64) {
        let day = at_ms.div_euclid(DAY_MS);
        let period = at_ms.saturating_sub(self.start_ms).div_euclid(DAY_MS);
        let (last_day, last_period) = match self.last {
            Some((d, p)) => (Some(d), Some(p)),
            None => (None, None),
        };
        self.calendar += u32::from(last_day != Some(day));
        self.periods += u32::from(last_period != Some(period));
        self.last = Some((day, period));
    }

    /// The larger of the two counts (contract 3.1.13).
    pub(crate) fn larger(self) -> u32 {
        self.calendar.max(self.periods)
    }
}
