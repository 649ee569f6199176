//! One box in full: its rows read once for everything that is asked about it.

use assess::{Clock, Depth};
use record::{BoxFacts, BoxHistory, BoxView, Fan, Span, UnitId};
use units::Utc;

use crate::look::AsOf;
use crate::{Problem, Voyage};

/// A box as of an instant.
pub struct OneBox<'v> {
    voyage: &'v Voyage,
    facts: BoxFacts,
    clock: Clock,
    /// State, facts and readings.
    pub view: BoxView,
    /// For each reading, the journal entry that brought it.
    pub entries: Vec<i64>,
}

impl Voyage {
    /// One box; `None` when it is neither listed nor read.
    ///
    /// # Errors
    /// What the journal says.
    pub fn one_box(&self, unit: &UnitId, as_of: AsOf) -> Result<Option<OneBox<'_>>, Problem> {
        let at = self.instant(as_of)?.unwrap_or(Utc::from_ms(0));
        let rows = self.journal().rows(unit.as_str(), Utc::from_ms(i64::MIN), at)?;
        let facts = self.facts(unit, &rows)?;
        if facts.listed.is_none() && facts.readings.is_empty() {
            return Ok(None);
        }
        let clock = self.clock(&facts, at);
        let mut view = assess::box_view(&facts, clock, self.cargoes());
        if let Some(treatment) = self.treatment_of(&view.line, at, Depth::List)? {
            view.line = assess::with_treatment(view.line, &treatment);
        }
        let entries = rows.iter().map(|row| row.entry).collect();
        Ok(Some(OneBox { voyage: self, facts, clock, view, entries }))
    }
}

impl OneBox<'_> {
    /// Its past, ready to be drawn: the given span, or all there is.
    #[must_use]
    pub fn history(&self, span: Option<Span>) -> BoxHistory {
        let at = self.clock.as_of;
        let from = self.facts.readings.first().map_or(at, |r| r.at);
        let span = span.unwrap_or(Span { from, to: at.max(from) });
        assess::history(&self.facts, &self.view.line, span, self.voyage.cargoes())
    }

    /// What may lie ahead: present course, power lost now, repaired in `repair_in_h`. `None` for
    /// an empty box and for one of which nothing was read.
    #[must_use]
    pub fn fan(&self, repair_in_h: f64) -> Option<Fan> {
        assess::fan(&self.facts, self.clock, self.voyage.cargoes(), repair_in_h)
    }
}
