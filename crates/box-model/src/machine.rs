//! What a unit can do: cooling at full capacity by box and outside temperature, heating, fans.
//!
//! Heat rejected at full capacity is published for a 40 ft unit (GDV Container Handbook §8.3.1:
//! 24.5 to 25.5 kW at 21 °C in the box, 20.5 to 22 at 2 °C, 11.6 to 12 at -18 °C, 7.5 to 9.1 at
//! -29 °C). How much of it is cooling and how much the machine's own power is our estimate.

use crate::estimate::Estimate;

/// Box temperature, cooling and power of a 40 ft unit at full capacity: °C, kW, kW.
const FULL: [(f64, f64, f64); 4] =
    [(-29.0, 3.5, 4.8), (-18.0, 6.0, 5.8), (2.0, 13.4, 7.9), (21.0, 16.0, 9.0)];
/// Cooling falls and power grows by about this share per kelvin of hotter outside air; the
/// table above stands at 30 °C. Our estimate.
const PER_K_OUTSIDE: f64 = 0.009;
/// Two units in ten thousand are alike; age takes its part. Our estimate.
const UNITS_DIFFER: [f64; 2] = [0.75, 1.15];
/// 20 ft units are smaller. Our estimate.
const TWENTY: f64 = 0.65;

/// Heat of the fans at high speed, W (reference/cargo-and-box.md §3.2, from memory, unverified);
/// low speed for frozen cargo takes 1/6 to 1/8 (same place), not less than 120 W.
pub const FANS_HIGH_W: Estimate = Estimate { best: 900.0, low: 500.0, high: 1600.0 };
/// The same at low speed.
pub const FANS_LOW_W: Estimate = Estimate { best: 240.0, low: 120.0, high: 500.0 };
/// Heaters of a unit that warms a chilled box, W, fans left out. Our estimate.
pub const HEATERS_W: Estimate = Estimate { best: 3300.0, low: 2000.0, high: 5500.0 };

fn between(box_c: f64, pick: fn(&(f64, f64, f64)) -> f64) -> f64 {
    let (first, last) = (FULL[0], FULL[FULL.len() - 1]);
    if box_c <= first.0 {
        return pick(&first);
    }
    for pair in FULL.windows(2) {
        if let [a, b] = pair
            && box_c <= b.0
        {
            return pick(a) + (pick(b) - pick(a)) * (box_c - a.0) / (b.0 - a.0);
        }
    }
    pick(&last)
}

/// Cooling at full capacity, W.
#[must_use]
pub fn full_cooling_w(twenty: bool, box_c: f64, outside_c: f64) -> Estimate {
    let part = if twenty { TWENTY } else { 1.0 };
    let outside = (1.0 - PER_K_OUTSIDE * (outside_c - 30.0)).clamp(0.6, 1.2);
    let best = 0.93 * 1000.0 * part * outside * between(box_c, |r| r.1);
    Estimate::new(UNITS_DIFFER[0] * best, best, UNITS_DIFFER[1] * best)
}

/// Power of compressor and condenser fan at full capacity, W.
#[must_use]
pub fn full_power_w(twenty: bool, box_c: f64, outside_c: f64) -> f64 {
    let part = if twenty { TWENTY } else { 1.0 };
    let outside = (1.0 + PER_K_OUTSIDE * (outside_c - 30.0)).clamp(0.7, 1.25);
    1000.0 * part * outside * between(box_c, |r| r.2)
}

/// Heat of the fans, W.
#[must_use]
pub fn fans_w(frozen: bool, twenty: bool) -> Estimate {
    let high = if frozen { FANS_LOW_W } else { FANS_HIGH_W };
    high.times(if twenty { TWENTY } else { 1.0 })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// GDV Container Handbook §8.3.1: cooling and power together are the heat rejected.
    #[test]
    fn cooling_and_power_are_the_published_heat() {
        for (c, low, high) in
            [(21.0, 24.5, 26.0), (2.0, 20.5, 22.0), (-18.0, 11.6, 12.0), (-29.0, 7.5, 9.1)]
        {
            let kw = between(c, |r| r.1) + between(c, |r| r.2);
            assert!(kw >= low && kw <= high, "{c}: {kw}");
        }
        let hot = full_cooling_w(false, -18.0, 40.0).best;
        assert!(hot < full_cooling_w(false, -18.0, 30.0).best);
    }
}
