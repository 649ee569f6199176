//! The weather to come: what people say of it, and where nobody does, the days before again.

use plans::plant::Weather;
use record::WeatherPoint;
use units::{Utc, math};

/// Days of ambient readings that stand for the days to come, h.
const BACK_H: f64 = 72.0;
/// Outside air where nothing was read and nobody said, °C (estimate).
const UNKNOWN_C: f64 = 25.0;
/// Sun where the readings do not tell the time of day (estimate).
const UNKNOWN_SUN: f64 = 0.5;
/// The day's range from which on its warmest hour can be told, K (estimate).
const DAY_RANGE_K: f64 = 1.5;
/// Air is warmest about so long after the sun stands highest, h (common practice, no source).
const LAG_H: f64 = 2.5;

/// Outside air read aboard: when and °C, of any box.
pub type Ambient = (Utc, f64);

/// The weather now and every `step_h` hours until `hours`, and in words what it rests on.
#[must_use]
pub fn weather_ahead(
    read: &[Ambient],
    said: &[WeatherPoint],
    at: Utc,
    hours: f64,
    step_h: f64,
) -> (Vec<Weather>, Vec<String>) {
    let day = Day::of(read, at);
    let mut notes = Vec::new();
    let until = said.last().map(|p| p.at).filter(|t| *t > at);
    match until {
        Some(t) if t >= at.plus_hours(hours) => {}
        Some(t) => notes.push(format!(
            "weather is stated until {} UTC; from then on the ambient of the last 3 days is taken \
             again, hour by hour (estimate)",
            t.to_minute()
        )),
        None => notes.push(
            "no weather is stated: the ambient of the last 3 days is taken again, hour by hour \
             (estimate)"
                .to_owned(),
        ),
    }
    if day.warmest_h.is_none() && said.iter().all(|p| p.sun.is_none()) {
        notes.push("the hour of the sun is not known: half sun is taken throughout".to_owned());
    }
    let steps = (hours / step_h.max(0.1)).ceil().max(0.0) as usize;
    let point = |k: usize| {
        let hour = k as f64 * step_h;
        let t = at.plus_hours(hour);
        let told = between(said, t);
        Weather {
            hour,
            ambient_c: told.map_or_else(|| day.ambient_c(t), |(c, _)| c),
            sun: told.and_then(|(_, sun)| sun).unwrap_or_else(|| day.sun(t)),
        }
    };
    ((0..=steps).map(point).collect(), notes)
}

/// What is said for an instant, straight between two points; `None` outside them.
fn between(said: &[WeatherPoint], t: Utc) -> Option<(f64, Option<f64>)> {
    let after = said.iter().position(|p| p.at >= t)?;
    let b = said.get(after)?;
    if b.at == t {
        return Some((b.ambient_c, b.sun));
    }
    let a = said.get(after.checked_sub(1)?)?;
    let part = t.hours_since(a.at) / b.at.hours_since(a.at);
    let sun = a.sun.zip(b.sun).map(|(x, y)| x + part * (y - x));
    Some((a.ambient_c + part * (b.ambient_c - a.ambient_c), sun))
}

/// The days before, folded into one: the middle of the ambient in each hour of the day UTC.
struct Day {
    by_hour_c: [Option<f64>; 24],
    mean_c: f64,
    warmest_h: Option<f64>,
}

impl Day {
    fn of(read: &[Ambient], at: Utc) -> Self {
        let mut hours: [Vec<f64>; 24] = std::array::from_fn(|_| Vec::new());
        for (t, c) in read.iter().filter(|(t, _)| *t <= at && at.hours_since(*t) <= BACK_H) {
            if let Some(list) = hours.get_mut(hour_of(*t)) {
                list.push(*c);
            }
        }
        let by_hour_c = hours.map(|mut list| crate::robust::median(&mut list));
        let known: Vec<f64> = by_hour_c.iter().flatten().copied().collect();
        let mean_c = if known.is_empty() {
            UNKNOWN_C
        } else {
            known.iter().sum::<f64>() / known.len() as f64
        };
        Self { by_hour_c, mean_c, warmest_h: warmest(&by_hour_c) }
    }

    /// The nearest hour of the day that was read.
    fn ambient_c(&self, t: Utc) -> f64 {
        let hour = hour_of(t);
        let near = |back: usize| self.by_hour_c.get((hour + 24 - back) % 24).copied().flatten();
        let far = |on: usize| self.by_hour_c.get((hour + on) % 24).copied().flatten();
        (0..=12).find_map(|d| near(d).or_else(|| far(d))).unwrap_or(self.mean_c)
    }

    fn sun(&self, t: Utc) -> f64 {
        let Some(warmest) = self.warmest_h else { return UNKNOWN_SUN };
        let (.., hour, minute, _) = t.civil();
        let from_noon = f64::from(hour) + f64::from(minute) / 60.0 - (warmest - LAG_H);
        math::cos(std::f64::consts::TAU * from_noon / 24.0).max(0.0)
    }
}

fn hour_of(t: Utc) -> usize {
    let (.., hour, _, _) = t.civil();
    usize::try_from(hour).unwrap_or(0)
}

/// The warmest hour of the day: the phase of the day's first harmonic. `None` where most hours
/// were not read or the day has hardly any range.
fn warmest(by_hour_c: &[Option<f64>; 24]) -> Option<f64> {
    let known: Vec<(f64, f64)> =
        by_hour_c.iter().enumerate().filter_map(|(h, c)| c.map(|c| (h as f64, c))).collect();
    if known.len() < 16 {
        return None;
    }
    let n = known.len() as f64;
    let mean = known.iter().map(|(_, c)| c).sum::<f64>() / n;
    let wave = |f: fn(f64) -> f64| {
        let turn = std::f64::consts::TAU / 24.0;
        2.0 / n * known.iter().map(|(h, c)| (c - mean) * f(turn * (h + 0.5))).sum::<f64>()
    };
    let (a, b) = (wave(math::cos), wave(math::sin));
    let height = math::sqrt(a * a + b * b);
    if 2.0 * height < DAY_RANGE_K {
        return None;
    }
    // The angle of the peak by halving: the cosine of the distance is largest there.
    (0..240).map(|k| 0.1 * f64::from(k)).max_by(|x, y| {
        let value = |h: f64| {
            let angle = std::f64::consts::TAU * h / 24.0;
            a * math::cos(angle) + b * math::sin(angle)
        };
        value(*x).total_cmp(&value(*y))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> Utc {
        Utc::parse(text).unwrap()
    }

    /// Three days with the highest air at 18:30 UTC come again, with the sun highest 2.5 h before.
    #[test]
    fn the_days_before_come_again() {
        let now = at("2026-03-16T06:00:00Z");
        let read: Vec<Ambient> = (0..72)
            .map(|h| {
                let t = now.plus_hours(-f64::from(h));
                let (.., hour, _, _) = t.civil();
                let turn = std::f64::consts::TAU / 24.0;
                (t, 28.0 + 4.0 * math::cos(turn * (f64::from(hour) + 0.5 - 18.5)))
            })
            .collect();
        let (ahead, notes) = weather_ahead(&read, &[], now, 24.0, 1.0);
        assert_eq!(ahead.len(), 25);
        let hottest = ahead.iter().max_by(|a, b| a.ambient_c.total_cmp(&b.ambient_c)).unwrap();
        assert!((hottest.ambient_c - 32.0).abs() < 0.2 && (hottest.hour - 12.0).abs() < 1.1);
        let sunny = ahead.iter().max_by(|a, b| a.sun.total_cmp(&b.sun)).unwrap();
        assert!((sunny.hour - 10.0).abs() < 1.1, "{}", sunny.hour);
        assert!(ahead.iter().any(|w| w.sun == 0.0));
        assert!(notes[0].contains("no weather is stated"));
    }

    #[test]
    fn what_is_said_goes_before() {
        let now = at("2026-03-16T06:00:00Z");
        let point =
            |h: f64, ambient_c| WeatherPoint { at: now.plus_hours(h), ambient_c, sun: Some(0.0) };
        let (ahead, notes) =
            weather_ahead(&[], &[point(0.0, 30.0), point(10.0, 40.0)], now, 20.0, 5.0);
        let air: Vec<f64> = ahead.iter().map(|w| w.ambient_c).collect();
        assert_eq!(air, [30.0, 35.0, 40.0, UNKNOWN_C, UNKNOWN_C]);
        assert!(notes[0].contains("2026-03-16 16:00"));
    }
}
