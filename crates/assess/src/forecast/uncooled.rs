//! Nothing cools: no power at all, or fans without a compressor.

use box_model::{Capacity, Limit, Lump};
use record::Channel;

use super::uncertain::Spread;
use super::{Driver, Hours, cold_limit, past};
use crate::ground::{Ground, latest};
use crate::track::{CargoAt, FAN_W, Knob, Priors};

/// Hours to the first limit, warm or cold.
pub fn hours(g: &Ground<'_>, priors: &Priors, cargo: CargoAt, driver: Driver) -> Option<Hours> {
    let fans_w = match driver {
        Driver::NotCooling => fans_w(g),
        _ => [0.0; 3],
    };
    let to = |limit: Limit| Run::new(g, priors, cargo, limit, fans_w).hours(driver);
    let warm = g.limits.warm.clone().and_then(to);
    let cold = cold_limit(g).and_then(to);
    match (warm, cold) {
        (Some(a), Some(b)) => Some(if b.best < a.best { b } else { a }),
        (a, b) => a.or(b),
    }
}

/// Heat of the fans: the power drawn, where it was read and can be the fans' alone.
fn fans_w(g: &Ground<'_>) -> [f64; 3] {
    let drawn = latest(&g.rows, |r| r.get(Channel::Power)).map(|(_, kw)| 1000.0 * kw);
    match drawn.filter(|w| *w <= FAN_W[2]) {
        Some(w) => [0.8 * w, w, 1.1 * w],
        None => FAN_W,
    }
}

struct Run<'a> {
    g: &'a Ground<'a>,
    priors: &'a Priors,
    cargo: CargoAt,
    limit: Limit,
    fans_w: [f64; 3],
    elapsed_h: f64,
}

impl<'a> Run<'a> {
    fn new(
        g: &'a Ground<'a>,
        priors: &'a Priors,
        cargo: CargoAt,
        limit: Limit,
        fans_w: [f64; 3],
    ) -> Self {
        Self { g, priors, cargo, limit, fans_w, elapsed_h: g.age_h(cargo.at).max(0.0) }
    }

    /// Hours from now for one choice of the unknowns.
    fn of(&self, lump: Lump<'_>, start_c: f64, ambient_c: f64) -> Option<f64> {
        if past(&self.limit, start_c) {
            return Some(0.0);
        }
        let hours = lump.hours_without_power(start_c, self.limit.temp_c, ambient_c)?;
        Some((hours - self.elapsed_h).max(0.0))
    }

    fn lump(&self, knob: Option<(Knob, f64)>, fans_w: f64) -> Lump<'_> {
        Lump { extra_w: fans_w, ..self.priors.lump(knob) }
    }

    fn hours(self, driver: Driver) -> Option<Hours> {
        let horizon_h = self.g.clock.horizon_h;
        let (start, ambient) = (self.cargo.temp_c, self.g.ambient_c);
        let [fans_low, fans, fans_high] = self.fans_w;
        let plain = self.lump(None, fans);
        let best = self.of(plain, start, ambient.best)?;
        if best > horizon_h {
            return None;
        }
        let mut spread = Spread::new(best, horizon_h);
        for knob in Knob::ALL {
            let e = self.priors.knob(knob);
            let end = |v| self.of(self.lump(Some((knob, v)), fans), start, ambient.best);
            spread.add(end(e.low), end(e.high));
        }
        spread.add(self.of(plain, start, ambient.low), self.of(plain, start, ambient.high));
        let half = self.cargo.half_k;
        spread.add(
            self.of(plain, start - half, ambient.best),
            self.of(plain, start + half, ambient.best),
        );
        if fans_high > 0.0 {
            let end = |w| self.of(self.lump(None, w), start, ambient.best);
            spread.add(end(fans_low), end(fans_high));
        }
        if let Some(loss) = self.g.power_lost()
            && self.cargo.at < loss.from
        {
            // The loss may lie anywhere between the two readings around it.
            let half_gap_h = loss.from.hours_since(self.cargo.at);
            spread.add(Some((best - half_gap_h).max(0.0)), Some(best + half_gap_h));
        }
        if let Some(food) = self.priors.frozen {
            // Melting ice takes up heat: the real time may be much longer than the warning.
            let melting = Lump { capacity: Capacity::Apparent(food), ..plain };
            spread.add(Some(best), self.of(melting, start, ambient.best));
        }
        Some(Hours { best, p90: spread.p90(), limit: self.limit, course: driver })
    }
}
