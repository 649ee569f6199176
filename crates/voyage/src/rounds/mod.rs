//! Rounds: what to read where in the order a person walks, those walked, those keyed in.

mod keying;
mod walked;

use record::round::in_walking_order;
use record::{RoundLine, WatchList};
use units::Utc;

use crate::{Problem, Voyage};

pub use keying::{RowJudged, answer, judged_row, part_instant, read_figure};
pub use walked::RoundWalked;

/// The last rows of a box that tell where its values lie.
const LAST_ROWS: usize = 60;

impl Voyage {
    /// What a round at `at` finds written beside each box of the watch list, in walking order.
    /// Nothing read later is looked at.
    ///
    /// # Errors
    /// What the journal says.
    pub fn round_lines(&self, list: &WatchList, at: Utc) -> Result<Vec<RoundLine>, Problem> {
        let mut lines = Vec::with_capacity(list.boxes.len());
        for line in &list.boxes {
            let rows = self.journal().last_rows(line.unit.as_str(), at, LAST_ROWS)?;
            let facts = self.facts(&line.unit, &rows)?;
            let treated = self.acts().treatments.get(&line.unit);
            let treated = treated.is_some_and(|t| t.schedule.is_some() && t.released_at.is_none());
            let clock = self.clock(&facts, at);
            lines.push(assess::round_line(&facts, line, treated, clock, self.cargoes()));
        }
        in_walking_order(&mut lines);
        Ok(lines)
    }
}
