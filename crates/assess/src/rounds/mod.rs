//! What a round is to read at a box, beside what was read there last.

mod plausible;

use box_model::CargoTable;
use record::{BoxFacts, BoxLine, Channel, LastValue, Mode, Reading, RoundLine, Usual};
use units::Utc;

use crate::Clock;
use crate::ground::Ground;

pub(crate) use plausible::exchanged_digits;
pub use plausible::{Keyed, questions};

/// Rows older than this tell nothing of where a box stands now. Our estimate: four rounds.
const USUAL_H: f64 = 48.0;

/// This many values make the usual range of a channel at most.
const USUAL_ROWS: usize = 24;

/// After a defrost air is elsewhere for a while.
const AFTER_DEFROST_H: f64 = crate::air::AFTER_DEFROST_H;

/// Channels that a round reads only where the voyage asks for them.
const OTHERS: [Channel; 7] = [
    Channel::Rh,
    Channel::Co2,
    Channel::O2,
    Channel::Probe1,
    Channel::Probe2,
    Channel::Probe3,
    Channel::Probe4,
];

/// One box's line of a round. `treated`: a cold treatment is ordered for it, so its probes are to
/// be read.
#[must_use]
pub fn round_line(
    facts: &BoxFacts,
    line: &BoxLine,
    treated: bool,
    clock: Clock,
    cargoes: &CargoTable,
) -> RoundLine {
    let g = Ground::new(facts, clock, cargoes);
    let listed = facts.listed.as_ref();
    let rows: Vec<&Reading> = facts.readings.iter().filter(|r| r.at <= clock.as_of).collect();
    let also = also(&rows, listed.and_then(|l| l.humidity_pct), treated);
    let mut wanted = vec![Channel::Supply, Channel::Return];
    wanted.extend(&also);
    let last = wanted.iter().filter_map(|c| last(&rows, *c)).collect();
    let usual = wanted.iter().filter_map(|c| usual(&rows, *c)).collect();
    let limits = g.carries().then_some(&g.limits);
    let cold = limits.and_then(|l| l.cold.as_ref().or(l.freezing.as_ref()));
    RoundLine {
        line: line.clone(),
        coldest_c: cold.map(|l| l.temp_c),
        warmest_c: limits.and_then(|l| l.warm.as_ref()).map(|l| l.temp_c),
        vent_m3_h: listed.and_then(|l| l.vent_m3_h),
        humidity_pct: listed.and_then(|l| l.humidity_pct),
        also,
        last,
        usual,
    }
}

/// Humidity where it is ordered or set, gases where they were ever measured, probes where a
/// treatment is ordered or a round has read them.
fn also(rows: &[&Reading], humidity_pct: Option<f64>, treated: bool) -> Vec<Channel> {
    let read = |c: Channel| rows.iter().any(|r| r.get(c).is_some());
    let by_hand =
        |c: Channel| rows.iter().any(|r| r.source.starts_with("round") && r.get(c).is_some());
    let wanted = |c: &Channel| match c {
        Channel::Rh => humidity_pct.is_some() || read(Channel::RhSet),
        Channel::Co2 | Channel::O2 => read(*c),
        // The fourth probe is fitted to few boxes.
        Channel::Probe4 => by_hand(*c) || (treated && read(*c)),
        _ => treated || by_hand(*c),
    };
    OTHERS.into_iter().filter(wanted).collect()
}

fn value(r: &Reading, c: Channel) -> Option<f64> {
    if c.is_temperature() { r.sane_c(c) } else { r.get(c) }
}

fn last(rows: &[&Reading], channel: Channel) -> Option<LastValue> {
    let (at, value) = crate::ground::latest(rows, |r| value(r, channel))?;
    Some(LastValue { channel, value, at })
}

/// Where a channel lay in the last two days, defrosts and the hour after them left out.
fn usual(rows: &[&Reading], channel: Channel) -> Option<Usual> {
    let (latest, _) = crate::ground::latest(rows, |r| value(r, channel))?;
    let air = matches!(channel, Channel::Supply | Channel::Return);
    let defrosts: Vec<Utc> =
        rows.iter().filter(|r| r.mode == Some(Mode::Defrost)).map(|r| r.at).collect();
    let disturbed = |at: Utc| {
        let since = |d: &Utc| at.hours_since(*d);
        air && defrosts.iter().any(|d| (0.0..=AFTER_DEFROST_H).contains(&since(d)))
    };
    let steady: Vec<(Utc, f64)> = rows
        .iter()
        .rev()
        .take_while(|r| latest.hours_since(r.at) <= USUAL_H)
        .filter(|r| !disturbed(r.at))
        .filter_map(|r| value(r, channel).map(|v| (r.at, v)))
        .take(USUAL_ROWS)
        .collect();
    let (at, last) = *steady.first()?;
    let ends = |f: fn(f64, f64) -> f64| steady.iter().map(|(_, v)| *v).reduce(f);
    Some(Usual { channel, range: [ends(f64::min)?, ends(f64::max)?], last, at })
}
