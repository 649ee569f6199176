//! Air off the set point: supply by more than 1 K when chilled, return by more than 3 K too
//! warm when frozen.

use record::{Finding, FindingKind, State};
use units::Utc;

use crate::air::Judged;
use crate::forecast::Forecast;
use crate::ground::{Control, Ground};
use crate::rules::set_point;
use crate::trend;
use crate::words::{self, celsius, when};

/// Supply air from the set point (Australian code of practice 2007 §10.5, within 1 K).
const CHILLED_K: f64 = 1.0;
/// Return air over the set point (deviation that EU 89/108/EEC allows in transport).
const FROZEN_K: f64 = 3.0;
/// A single reading of a round counts from here.
const SINGLE_K: f64 = 2.0;
/// A smaller one counts once this old with nothing read after it.
const SINGLE_AGE_H: f64 = 2.0;
/// Readings at least this far apart are rounds; a logger's single odd reading is the hour after
/// a defrost that fell between two of its rows.
const ROUND_GAP_H: f64 = 3.0;
/// Several readings count when they span this long.
const SUSTAINED_H: f64 = 1.0;
/// Less than this much better over the run is no coming back.
const BETTER_K: f64 = 0.3;

/// Air off the set point up to the latest judged reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OffRun {
    /// First reading off.
    pub since: Utc,
    /// Latest air.
    pub air_c: f64,
    /// Set point it is off.
    pub set_c: f64,
    /// How many readings.
    pub readings: usize,
    /// The deviation shrinks.
    pub coming_back: bool,
    /// The sensor that is held was not read; told from the other one.
    pub indirect: bool,
    /// Too warm, and supply no colder than return: nothing cools.
    pub not_cooling: bool,
    /// One reading, and not even supply and return bear each other out: it may be a slip of the
    /// pen, and nothing is foretold from it.
    pub doubtful: bool,
}

/// Supply and return of one reading lie off on the same side: two figures, one story.
fn both_off(j: &Judged) -> bool {
    let off = |t: Option<f64>| Some(t? - j.set_c?);
    match (off(j.supply_c), off(j.return_c)) {
        (Some(s), Some(r)) => s.signum() == r.signum() && s.abs() > SINGLE_K && r.abs() > SINGLE_K,
        _ => false,
    }
}

/// How far a reading is off, signed; `None` when in band or not known.
fn off_k(j: &Judged, control: Control) -> Option<f64> {
    let dev = j.held_c(control)? - j.set_c?;
    // What is told from the other sensor may differ by the usual spread.
    let slack = if j.held_was_read(control) { 0.0 } else { 1.5 };
    let off = match control {
        Control::Chilled => dev.abs() > CHILLED_K + slack,
        Control::Frozen => dev > FROZEN_K + slack,
    };
    off.then_some(dev)
}

/// The run that lasts to the latest judged reading, when it is sustained.
pub fn run(g: &Ground<'_>) -> Option<OffRun> {
    let control = g.control?;
    if g.trust.doubts_held_air() {
        return None;
    }
    let air = trend::present(g);
    let last = air.last()?;
    let last_k = off_k(last, control)?;
    let run: Vec<(&Judged, f64)> = air
        .iter()
        .rev()
        .map_while(|j| off_k(j, control).filter(|k| k.signum() == last_k.signum()).map(|k| (j, k)))
        .collect();
    let (first, _) = run.last()?;
    // A few readings only: over a long run the worst may be days ago.
    let lately = run.iter().take_while(|(j, _)| last.at.hours_since(j.at) <= 12.0);
    let worst_k = lately.map(|(_, k)| k.abs()).fold(0.0, f64::max);
    let counts = if last.at.hours_since(first.at) >= SUSTAINED_H {
        true
    } else {
        let before = air.len().checked_sub(run.len() + 1).and_then(|i| air.get(i));
        let lone = before.is_none_or(|b| first.at.hours_since(b.at) >= ROUND_GAP_H);
        lone && (last_k.abs() > SINGLE_K || g.age_h(last.at) >= SINGLE_AGE_H)
    };
    counts.then_some(OffRun {
        since: first.at,
        air_c: last.held_c(control)?,
        set_c: last.set_c?,
        readings: run.len(),
        coming_back: worst_k - last_k.abs() >= BETTER_K,
        indirect: !last.held_was_read(control),
        not_cooling: last_k > 0.0 && not_cooling(g, air),
        doubtful: run.len() == 1 && !both_off(last),
    })
}

/// The latest readings show no cooling for hours, in a box that is neither set warmer nor in
/// air colder than its own.
fn not_cooling(g: &Ground<'_>, air: &[Judged]) -> bool {
    let Some(last) = air.last() else { return false };
    let idle = air.iter().rev().take_while(|j| j.shows_no_cooling());
    let (n, first) = idle.fold((0, last), |(n, _), j| (n + 1, j));
    let cold_outside = last.supply_c.is_some_and(|s| g.ambient_c.best < s);
    let heating = set_point::wrong_goal_c(g).is_some();
    n >= 2 && last.at.hours_since(first.at) >= SUSTAINED_H && !cold_outside && !heating
}

/// The finding.
pub fn finding(g: &Ground<'_>, f: &Forecast) -> Option<Finding> {
    let run = f.off?;
    // Beside a wrong set point the deviation from it says nothing.
    if g.power_lost().is_some() || set_point::wrong_goal_c(g).is_some() {
        return None;
    }
    let control = g.control?;
    let name = match (control, run.indirect) {
        (Control::Chilled, false) => "Supply air",
        (Control::Frozen, false) => "Return air",
        (Control::Chilled, true) => "Supply air (told from return air)",
        (Control::Frozen, true) => "Return air (told from supply air)",
    };
    let dev = run.air_c - run.set_c;
    let side = if dev > 0.0 { "over" } else { "under" };
    let tail = match (run.readings, run.coming_back) {
        _ if run.not_cooling => "; supply is no colder than return, so nothing cools",
        (1, _) => "; one reading: read it again",
        (_, true) => "; it is coming back",
        _ => "",
    };
    let what = format!(
        "{name} {} is {:.1} K {side} the set point {} since {}{tail}.",
        celsius(run.air_c),
        dev.abs(),
        words::set_point(run.set_c),
        when(run.since)
    );
    Some(Finding {
        kind: FindingKind::OffSetPoint,
        state: if run.coming_back { State::Watch } else { State::Act },
        what,
        action: action(dev, run).to_owned(),
        since: Some(run.since),
    })
}

fn action(dev: f64, run: OffRun) -> &'static str {
    if run.not_cooling {
        return "See whether the compressor runs and what the alarms say; follow the maker's \
                fault steps. Isolate and lock off before opening (440 V); refrigerant under \
                pressure.";
    }
    if run.coming_back {
        return "See on the next round that it goes on coming back.";
    }
    if run.readings == 1 {
        return "Read supply, return and set point again now; note a defrost or an open door.";
    }
    if dev < 0.0 {
        return "Read supply air with a hand-held thermometer; if it is that cold, raise it with \
                the office at once: chilled cargo freezes at the supply end first.";
    }
    "Look at alarms, fans and air flow, and whether the compressor runs; start a manual defrost \
     if the coil may be iced. Isolate and lock off before opening the unit (440 V)."
}
