//! Where a box or a person is, and how long the way is.

use crate::Marked;

/// A spot on the ship.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Along the ship, m, in any one direction.
    pub x_m: f64,
    /// Across the ship, m.
    pub y_m: f64,
    /// Above the level on which people walk from bay to bay, m; negative below it.
    pub z_m: f64,
}

/// Size of the container grid, to turn a cell into metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShipGrid {
    /// Metres along the ship from one bay number to the next. A 40 ft bay is four numbers.
    pub m_per_bay_number: f64,
    /// Metres across the ship from one row to the next.
    pub m_per_row: f64,
    /// Metres from one tier to the next (tiers count in twos).
    pub m_per_tier: f64,
    /// Lowest tier on deck, whose units are reached from the walkway.
    pub first_deck_tier: u8,
    /// Highest tier in the hold.
    pub top_hold_tier: u8,
}

impl Default for ShipGrid {
    /// Estimates: 14 m from one 40 ft bay to the next with its lashing bridge, 2.5 m a row (8 ft
    /// and a gap), 2.9 m a tier (9 ft 6 in).
    fn default() -> Self {
        Self {
            m_per_bay_number: 3.5,
            m_per_row: 2.5,
            m_per_tier: 2.9,
            first_deck_tier: 82,
            top_hold_tier: 16,
        }
    }
}

impl Place {
    /// The place of a cell after ISO 9711: odd rows to starboard, even rows to port, hold tiers
    /// below 70.
    #[must_use]
    pub fn of_cell(bay: u16, row: u8, tier: u8, grid: &ShipGrid) -> Self {
        let half = f64::from(row.div_ceil(2));
        let side = if row % 2 == 1 { half } else { -half };
        let levels = |above: u8| (f64::from(tier) - f64::from(above)) / 2.0;
        let z_m = if tier >= 70 {
            levels(grid.first_deck_tier).max(0.0)
        } else {
            // The top of the hold is one tier under the walkway.
            levels(grid.top_hold_tier).min(0.0) - 1.0
        } * grid.m_per_tier;
        Self { x_m: f64::from(bay) * grid.m_per_bay_number, y_m: side * grid.m_per_row, z_m }
    }
}

/// How people get about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Walk {
    /// Pace on deck with tools, m/h.
    pub deck_m_per_h: Marked,
    /// Climbing and going down ladders, m of height per h.
    pub climb_m_per_h: Marked,
    /// Where parts are kept. A job that needs parts is reached by way of it.
    pub store: Option<Place>,
}

impl Default for Walk {
    /// Estimates: 3 km/h on deck with tools and lashing gear in the way, 600 m/h on ladders.
    fn default() -> Self {
        Self {
            deck_m_per_h: Marked::estimate(3000.0),
            climb_m_per_h: Marked::estimate(600.0),
            store: None,
        }
    }
}

impl Walk {
    /// Hours from `a` to `b`. Within a bay one climbs straight; between bays one goes by the
    /// walkway.
    #[must_use]
    pub fn hours(&self, a: &Place, b: &Place) -> f64 {
        let (dx, dy) = ((a.x_m - b.x_m).abs(), (a.y_m - b.y_m).abs());
        let climb = if dx < 2.0 { (a.z_m - b.z_m).abs() } else { a.z_m.abs() + b.z_m.abs() };
        (dx + dy) / self.deck_m_per_h.value + climb / self.climb_m_per_h.value
    }

    /// Hours from `a` to a job at `b`, by way of the store when `parts` are needed.
    #[must_use]
    pub fn hours_to_job(&self, a: &Place, b: &Place, parts: bool) -> f64 {
        match self.store {
            Some(store) if parts => self.hours(a, &store) + self.hours(&store, b),
            _ => self.hours(a, b),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ways() {
        let grid = ShipGrid::default();
        let deck = Place::of_cell(22, 3, 86, &grid);
        assert_eq!((deck.x_m, deck.y_m, deck.z_m), (77.0, 5.0, 5.8));
        let port = Place::of_cell(22, 4, 82, &grid);
        assert_eq!((port.y_m, port.z_m), (-5.0, 0.0));
        let hold = Place::of_cell(26, 0, 2, &grid);
        assert!((hold.z_m + 8.0 * 2.9).abs() < 1e-12);
        let walk = Walk::default();
        assert!((walk.hours(&deck, &port) - (10.0 / 3000.0 + 5.8 / 600.0)).abs() < 1e-12);
        // Between bays: up and down at both ends.
        assert!((walk.hours(&deck, &hold) - (19.0 / 3000.0 + 29.0 / 600.0)).abs() < 1e-12);
        let with_store = Walk { store: Some(port), ..walk };
        assert!(with_store.hours_to_job(&deck, &deck, true) > 0.0);
        assert_eq!(with_store.hours_to_job(&deck, &deck, false), 0.0);
    }
}
