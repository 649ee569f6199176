//! Spare parts on board and what will be short.

use ::service::spares::{PartLine, USUAL_DAYS, shelf};
use units::Utc;

use crate::Voyage;

/// The shelf, and how far ahead it was looked.
#[derive(Debug, Clone, PartialEq)]
pub struct Shelf {
    /// The instant.
    pub at: Utc,
    /// Days ahead.
    pub days_ahead: f64,
    /// What they reach to, in words.
    pub until: String,
    /// Parts, short ones first.
    pub parts: Vec<PartLine>,
}

impl Voyage {
    /// The shelf, looking ahead to the last arrival expected, else so many days.
    #[must_use]
    pub fn shelf(&self, at: Utc) -> Shelf {
        let last = self.acts.arrivals.iter().max_by_key(|(_, eta)| **eta);
        let ahead = last.filter(|(_, eta)| **eta > at);
        let (days_ahead, until) = match ahead {
            Some((port, eta)) => (
                eta.hours_since(at) / 24.0,
                format!("arrival at {port} on {} UTC", eta.to_minute()),
            ),
            None => (USUAL_DAYS, "no later arrival is entered".to_owned()),
        };
        let parts = shelf(&self.acts.spares, at, days_ahead);
        Shelf { at, days_ahead, until, parts }
    }
}
