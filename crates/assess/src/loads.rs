//! What each box draws from the ship's plant, out of its own readings; an assumption where nothing
//! was read, and said so.

use box_model::{CargoTable, FROZEN_SET_MAX_C};
use plans::plant::{BoxLoad, Mode};
use plans::restart::RestartBox;
use plans::{Loss, Marked, Refused};
use record::{BoxFacts, BoxLine, Channel, Reading};
use units::Utc;

use crate::ground::Ground;
use crate::{Clock, forecast};

/// Readings of the last day speak for the load, h.
const WINDOW_H: f64 = 24.0;
/// Load of a box whose power was never read, kW: running frozen, steady chilled, steady banana
/// (estimates, from the rejected heat of the GDV Container Handbook §8.3.1-2: 4 to 5 frozen, 12 to
/// 13 bananas, 7 to 15 in general).
const FROZEN_KW: f64 = 4.5;
const CHILLED_KW: f64 = 5.5;
/// Share of the time a frozen box runs where that was not read (estimate).
const FROZEN_DUTY: f64 = 0.55;
/// Power factor of a running box (estimate).
const POWER_FACTOR: f64 = 0.85;
/// Share of the load that follows the air outside (estimate).
const LEAK_SHARE: f64 = 0.5;
/// Warmer air where the sun stands on a box on deck at full sun, K (estimate).
const SUN_K: f64 = 8.0;

/// The load of one box; `None` for a box that is dry, empty or not asked to hold a temperature.
#[must_use]
pub fn box_load(facts: &BoxFacts, line: &BoxLine, at: Utc) -> Option<BoxLoad> {
    let set_c = line.set_point_c?;
    if line.full == Some(false) {
        return None;
    }
    let frozen = set_c <= FROZEN_SET_MAX_C;
    let recent: Vec<&Reading> =
        facts.readings.iter().filter(|r| r.at <= at && at.hours_since(r.at) <= WINDOW_H).collect();
    let kw: Vec<f64> = recent
        .iter()
        .filter(|r| r.on_power != Some(false))
        .filter_map(|r| r.get(Channel::Power))
        .filter(|kw| (0.0..=plans::plant::PLUG_MAX_KW).contains(kw))
        .collect();
    let off = line.on_power == Some(false);
    let (running_kw, running_sd_kw, duty) =
        if frozen { frozen_load(&kw) } else { chilled_load(&kw) };
    let bay = line.cell.map_or(0, |c| c.bay);
    Some(BoxLoad {
        id: line.unit.to_string(),
        bay,
        feeder: plans::plant::bay_words(bay),
        mode: match (off, frozen) {
            (true, _) => Mode::Off,
            (_, true) => Mode::Frozen,
            (_, false) => Mode::Chilled,
        },
        running_kw,
        running_sd_kw,
        duty,
        power_factor: POWER_FACTOR,
        leak_share: LEAK_SHARE,
        inside_c: set_c,
        sun_k: if line.cell.is_some_and(|c| c.on_deck()) { SUN_K } else { 0.0 },
    })
}

/// A frozen box: its hourly means say how long it ran. The highest stands for an hour of running
/// without a stop.
fn frozen_load(kw: &[f64]) -> (Marked, f64, Marked) {
    let most = kw.iter().copied().fold(0.0, f64::max);
    if kw.len() < 3 || most < 1.0 {
        return (Marked::estimate(FROZEN_KW), 1.0, Marked::estimate(FROZEN_DUTY));
    }
    let mean = kw.iter().sum::<f64>() / kw.len() as f64;
    let running = most.max(FROZEN_KW.min(2.0 * mean));
    (Marked::measured(running), 0.1 * running, Marked::measured((mean / running).clamp(0.0, 1.0)))
}

fn chilled_load(kw: &[f64]) -> (Marked, f64, Marked) {
    if kw.is_empty() {
        return (Marked::estimate(CHILLED_KW), 2.0, Marked::estimate(1.0));
    }
    let n = kw.len() as f64;
    let mean = kw.iter().sum::<f64>() / n;
    let var = kw.iter().map(|k| (k - mean) * (k - mean)).sum::<f64>() / n.max(2.0);
    (Marked::measured(mean), units::math::sqrt(var / n) + 0.05 * mean, Marked::measured(1.0))
}

/// The same facts with the plug dead from now on: what a blackout would mean for this box.
fn without_power(facts: &BoxFacts, at: Utc) -> BoxFacts {
    let mut dead = Reading::new(facts.unit.clone(), at, "if power is lost".into());
    dead.on_power = Some(false);
    let mut out = facts.clone();
    out.readings.retain(|r| r.at <= at);
    out.readings.push(dead);
    out
}

/// Hours to the first limit with their 90 % interval if the plug went dead now: low, best, high;
/// `None` where none is in sight. The figures that the box's line would show then.
#[must_use]
pub fn hours_without_power(
    facts: &BoxFacts,
    clock: Clock,
    cargoes: &CargoTable,
) -> Option<[f64; 3]> {
    let dead = without_power(facts, clock.as_of);
    let hours = forecast::hours_unpowered(&Ground::new(&dead, clock, cargoes))?;
    let [low, high] = hours.p90;
    Some([low, hours.best, high].map(|h| units::math::round_to(h, 2)))
}

/// A box waiting to be switched on again. `dead_h` are the hours to its first limit without power:
/// low, best, high.
///
/// # Errors
/// [`Refused`] when its hours are no numbers.
pub fn restart_box(
    load: &BoxLoad,
    dead_h: Option<[f64; 3]>,
    feeder: usize,
) -> Result<RestartBox, Refused> {
    let start_kw = match load.mode {
        Mode::Frozen => load.running_kw.value.max(FROZEN_KW),
        _ => load.running_kw.value.max(CHILLED_KW),
    };
    let loss = match dead_h {
        Some([low, h, high]) => {
            Loss::from_limit(&load.id, 1.0, [low.min(h).max(0.0), h.max(0.0), high.max(h)])?
        }
        None => Loss::none(),
    };
    let settled = load.mean_kw().clamp(0.0, start_kw);
    Ok(RestartBox {
        id: load.id.clone(),
        feeder,
        start_kw,
        start_kva: start_kw / load.power_factor,
        inrush_kva: Marked::estimate(plans::plant::kva_of(plans::plant::INRUSH_MAX_A, 440.0) * 0.5),
        pull_down_h: if load.mode == Mode::Frozen { 2.0 } else { 4.0 },
        settled_kw: settled,
        settled_kva: settled / load.power_factor,
        loss,
    })
}
