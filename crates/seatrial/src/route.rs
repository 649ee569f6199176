//! Where the ship is and what the weather does to a box.

use units::{Utc, math};

use crate::dice::{Dice, Purpose};

/// Port of departure.
pub const DEPARTURE: &str = "XXSOL";
/// Port of call on the way.
pub const CALL: &str = "XXMAR";
/// Port the voyage ends at.
pub const DESTINATION: &str = "XXNOR";
/// A port beyond it.
pub const BEYOND: &str = "XXKIL";
/// Days at sea left when the data ends.
pub const DAYS_LEFT: u32 = 5;

/// Times of the voyage, all in hours after departure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Route {
    /// Departure.
    pub start: Utc,
    /// Hours of data.
    pub data_h: u32,
    /// Arrival at the port of call; `None` on a short trial.
    pub call_h: Option<u32>,
    /// Arrival at the destination.
    pub arrival_h: u32,
}

/// Hours in the port of call.
pub const CALL_STAY_H: u32 = 14;

impl Route {
    /// The voyage of `days` days of data with [`DAYS_LEFT`] days to go after them. From six days
    /// on the ship calls at a port on the way.
    #[must_use]
    pub fn new(days: u32) -> Self {
        // 2026-03-02T06:00Z.
        let start = Utc::from_ms(1_772_431_200_000);
        let data_h = days.saturating_mul(24);
        // In the morning of a day about a third of the way.
        let call_h = (days >= 6).then(|| (days / 3).saturating_mul(24) + 2);
        let arrival_h = data_h.saturating_add(DAYS_LEFT * 24);
        Self { start, data_h, call_h, arrival_h }
    }

    /// Hours after departure at which the ship leaves the port of call.
    #[must_use]
    pub fn leave_call_h(&self) -> Option<u32> {
        self.call_h.map(|h| h + CALL_STAY_H)
    }

    /// Latitude in degrees north: from 32° south over the equator to 52° north, standing still
    /// in the port of call.
    #[must_use]
    pub fn latitude_deg(&self, hours: f64) -> f64 {
        let (mut sailed, mut whole) = (hours, f64::from(self.arrival_h));
        if let Some(call) = self.call_h {
            let (call, stay) = (f64::from(call), f64::from(CALL_STAY_H));
            sailed -= (hours - call).clamp(0.0, stay);
            whole -= stay;
        }
        -32.0 + 84.0 * (sailed / whole.max(1.0)).clamp(0.0, 1.0)
    }
}

/// Weather of one hour.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Weather {
    /// Air over the sea, °C.
    pub air_c: f64,
    /// Air in the holds, °C.
    pub hold_c: f64,
    /// Rise of a roof in the sun over the air, K.
    pub roof_k: f64,
    /// Rise of a port side in the sun, K.
    pub port_k: f64,
    /// Rise of a starboard side in the sun, K.
    pub starboard_k: f64,
}

/// Hourly weather from departure to arrival and a day beyond.
#[must_use]
pub fn weather(route: &Route, seed: u64) -> Vec<Weather> {
    let mut dice = Dice::new(seed, Purpose::Weather, 0);
    let (mut front_k, mut cloud) = (0.0, 0.4);
    let mut hold_c = 24.0;
    let hours = route.arrival_h + 24;
    let mut out = Vec::with_capacity(hours as usize);
    for h in 0..hours {
        let lat = route.latitude_deg(f64::from(h));
        // Air over the sea in March: warmest a little south of the equator, about 23 °C at 32° S
        // and 6 °C at 52° N (common practice, no source).
        let mean_c = 28.5 - 0.0068 * (lat + 6.0) * (lat + 6.0);
        // Fronts pass in a day or two; clouds in half a day.
        front_k = 0.97 * front_k + 0.35 * dice.normal();
        cloud = (0.94 * cloud + 0.06 * 0.4 + 0.07 * dice.normal()).clamp(0.0, 1.0);
        // The ship keeps to a clock three hours behind UTC.
        let solar_h = f64::from((h + 6 + 21) % 24);
        let day = math::sin((solar_h - 6.0) / 12.0 * std::f64::consts::PI);
        let lat_factor = math::cos((lat + 5.0) / 180.0 * std::f64::consts::PI);
        let sun = day.max(0.0) * lat_factor * (1.0 - 0.75 * cloud);
        let air_c = mean_c
            + front_k
            + 2.2
                * math::sin((solar_h - 9.0) / 24.0 * 2.0 * std::f64::consts::PI)
                * (1.0 - 0.5 * cloud);
        // Holds warm up with the units' condensers and follow the outside slowly.
        hold_c += ((air_c * 0.85 + 12.0).min(43.0) - hold_c) / 12.0;
        // About 20 K over the air on a sunlit roof (reference/cargo-and-box.md §3.3).
        let morning = if solar_h < 12.0 { 1.0 } else { 0.25 };
        out.push(Weather {
            air_c,
            hold_c,
            roof_k: 22.0 * sun - 2.0 * (1.0 - cloud) * f64::from(u8::from(day <= 0.0)),
            port_k: 12.0 * sun * (1.25 - morning),
            starboard_k: 12.0 * sun * morning,
        });
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_voyage_goes_on_after_the_data() {
        for days in [1, 5, 6, 14, 30] {
            let r = Route::new(days);
            assert!(r.arrival_h >= r.data_h + 24 * 3);
            assert_eq!(r.call_h.is_some(), days >= 6);
            assert!(r.leave_call_h().is_none_or(|h| h < r.data_h));
        }
        assert_eq!(Route::new(14).start.to_string(), "2026-03-02T06:00:00Z");
    }

    #[test]
    fn the_tropics_are_warm_and_the_north_is_cool() {
        let route = Route::new(14);
        let w = weather(&route, 1);
        let warmest = w.iter().map(|w| w.air_c).fold(-99.0, f64::max);
        let last = w.last().unwrap().air_c;
        assert!(warmest > 27.0 && warmest < 36.0, "{warmest}");
        assert!(last < 14.0 && last > -5.0, "{last}");
        assert!(w.iter().all(|w| w.hold_c < 45.0 && w.roof_k < 23.0));
    }
}
