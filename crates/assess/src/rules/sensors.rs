//! Sensors that cannot be believed: impossible values, stuck, swapped.

use record::{Channel, Finding, FindingKind, Mode, Reading, State};
use units::Utc;

use crate::air::Judged;
use crate::fitted::probes_c;
use crate::ground::{Control, Ground};
use crate::rounds::exchanged_digits;
use crate::words::{celsius, when};

/// Equal readings for longer than this, while the other air moves, mean a stuck sensor.
const STUCK_H: f64 = 24.0;
/// As many equal readings at least: on rounds twice a day, equal figures are nothing odd.
const STUCK_READINGS: usize = 12;
/// The other air must have moved by this much.
const OTHER_MOVED_K: f64 = 1.0;
/// Supply above return by more than this in cooling: the sensors may be swapped. Our estimate.
const SWAPPED_K: f64 = 0.4;
/// In as many readings in a row.
const SWAPPED_READINGS: usize = 6;
/// Supply this near the set point is held there.
const HELD_K: f64 = 0.5;
/// A frozen unit's supply is a little warmer whenever its compressor rests; with it running the
/// two lie further apart than this.
const SWAPPED_FROZEN_K: f64 = 3.0;
/// A probe that leaves the others by this much, while they stay within that. Our estimate.
const WANDER_K: f64 = 0.8;
const WANDER_STEADY_K: f64 = 0.5;
/// Rows averaged at either end.
const WANDER_ROWS: usize = 6;
/// A figure is a slip for one that lies so near the last sane one of its channel, no older than so
/// many hours. Our estimate.
const SLIP_K: f64 = 2.5;
const SLIP_AGE_H: f64 = 36.0;
/// A fault code older than this is no longer news.
const CODE_AGE_H: f64 = 24.0;

/// A sensor that shows one figure hour after hour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stuck {
    channel: Channel,
    since: Utc,
    value_c: f64,
}

/// Which air sensors can be believed.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SensorTrust {
    swapped_since: Option<Utc>,
    stuck: Option<Stuck>,
}

impl SensorTrust {
    /// Judges the sensors by their own air; `ambient_c` where it was measured.
    pub fn of(air: &[Judged], control: Option<Control>, ambient_c: Option<f64>) -> Self {
        let frozen = control == Some(Control::Frozen);
        Self {
            swapped_since: swapped_since(air, frozen, ambient_c),
            stuck: stuck(air, Channel::Supply, |j| j.supply_c, |j| j.return_c)
                .or_else(|| stuck(air, Channel::Return, |j| j.return_c, |j| j.supply_c)),
        }
    }

    /// The sensor that the unit controls by cannot be believed.
    pub fn doubts_held_air(self) -> bool {
        self.stuck.is_some()
    }

    /// The air as it is to be judged: swapped readings put right, stuck ones left out.
    pub fn applied(self, mut air: Vec<Judged>) -> Vec<Judged> {
        for j in &mut air {
            if self.swapped_since.is_some_and(|t| j.at >= t) {
                (j.supply_c, j.return_c) = (j.return_c, j.supply_c);
            }
            match self.stuck {
                Some(s) if j.at >= s.since && s.channel == Channel::Supply => j.supply_c = None,
                Some(s) if j.at >= s.since && s.channel == Channel::Return => j.return_c = None,
                _ => {}
            }
        }
        air.retain(|j| j.supply_c.is_some() || j.return_c.is_some());
        air
    }
}

/// A unit that cools, holds its supply at the set point and shows return the colder: that
/// cannot be. (It can after the set point was raised, or in colder air: then the unit heats.)
fn swapped_since(air: &[Judged], frozen: bool, ambient_c: Option<f64>) -> Option<Utc> {
    let set_c = air.last()?.set_c?;
    let same_set = |j: &Judged| j.set_c.is_none_or(|s| (s - set_c).abs() < 0.05);
    if !air.iter().all(same_set) {
        return None;
    }
    let mut since = None;
    let (mut n, mut widest_k) = (0, 0.0_f64);
    for j in air.iter().rev() {
        let (Some(spread), Some(supply)) = (j.spread_k(), j.supply_c) else {
            continue;
        };
        let heating = ambient_c.is_some_and(|a| a < supply + 2.0);
        let held = frozen || (supply - set_c).abs() <= HELD_K;
        if spread >= -SWAPPED_K || heating || !held {
            break;
        }
        since = Some(j.at);
        n += 1;
        widest_k = widest_k.max(-spread);
    }
    let far_enough = !frozen || widest_k > SWAPPED_FROZEN_K;
    since.filter(|_| n >= SWAPPED_READINGS && far_enough)
}

fn stuck(
    air: &[Judged],
    channel: Channel,
    this: impl Fn(&Judged) -> Option<f64>,
    other: impl Fn(&Judged) -> Option<f64>,
) -> Option<Stuck> {
    let last = air.iter().rev().find(|j| this(j).is_some())?;
    let value_c = this(last)?;
    let (mut n, mut since) = (0, last.at);
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for j in air.iter().rev() {
        match this(j) {
            Some(v) if v == value_c => {
                n += 1;
                since = j.at;
            }
            Some(_) => break,
            None => continue,
        }
        if let Some(o) = other(j) {
            low = low.min(o);
            high = high.max(o);
        }
    }
    let long = last.at.hours_since(since) > STUCK_H && n >= STUCK_READINGS;
    (long && high - low >= OTHER_MOVED_K).then_some(Stuck { channel, since, value_c })
}

/// All sensor findings.
pub fn findings(g: &Ground<'_>) -> Vec<Finding> {
    let mut out: Vec<Finding> = codes(g).into_iter().chain(wandering(g)).collect();
    if let Some(since) = g.trust.swapped_since {
        out.push(Finding {
            kind: FindingKind::ProbeFault,
            state: State::Watch,
            what: format!(
                "Supply air is shown warmer than return air since {}, though the unit cools: \
                 the two sensors may be swapped; they are judged the other way round.",
                when(since)
            ),
            action: "Compare both air sensors with a hand-held thermometer; check their plugs \
                     on the controller."
                .to_owned(),
            since: Some(since),
        });
    }
    if let Some(s) = g.trust.stuck {
        let name = s.channel.stem();
        out.push(Finding {
            kind: FindingKind::ProbeFault,
            state: State::Act,
            what: format!(
                "The {name} air sensor shows {} without any change since {}, while the other \
                 air moved: it may be stuck and is not judged.",
                celsius(s.value_c),
                when(s.since)
            ),
            action: format!(
                "Measure the {name} air with a hand-held thermometer; the unit may be \
                 controlling on a false figure."
            ),
            since: Some(s.since),
        });
    }
    out
}

/// Probe deviations from the middle of all, over the first or last rows with three probes.
fn deviations(rows: &[&Reading]) -> ([f64; 4], f64) {
    let (mut sum, mut n, mut middle) = ([0.0; 4], [0.0_f64; 4], Vec::new());
    for r in rows {
        let Some(mid) = probes_c(r) else { continue };
        middle.push(mid);
        for (i, c) in Channel::PROBES.into_iter().enumerate() {
            if let (Some(v), Some(s), Some(k)) = (r.sane_c(c), sum.get_mut(i), n.get_mut(i)) {
                *s += v - mid;
                *k += 1.0;
            }
        }
    }
    for (s, k) in sum.iter_mut().zip(n) {
        *s = if k > 0.0 { *s / k } else { f64::NAN };
    }
    (sum, crate::robust::median(&mut middle).unwrap_or(f64::NAN))
}

/// One probe that leaves the others while they stand still.
fn wandering(g: &Ground<'_>) -> Option<Finding> {
    let three = |r: &&&Reading| {
        let sane = Channel::PROBES.into_iter().filter(|c| r.sane_c(*c).is_some());
        sane.count() >= 3
    };
    let rows: Vec<&Reading> = g.rows.iter().filter(three).copied().collect();
    let (first, last) = (rows.first()?, rows.last()?);
    let n = WANDER_ROWS.min(rows.len() / 2);
    if n == 0 || last.at.hours_since(first.at) < STUCK_H {
        return None;
    }
    let (before, middle_before) = deviations(rows.get(..n)?);
    let (now, middle_now) = deviations(rows.get(rows.len() - n..)?);
    if (middle_now - middle_before).abs() > WANDER_STEADY_K {
        return None;
    }
    let (i, grown_k) = before
        .iter()
        .zip(now)
        .map(|(b, n)| n.abs() - b.abs())
        .enumerate()
        .filter(|(_, k)| !k.is_nan())
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    if grown_k < WANDER_K {
        return None;
    }
    Some(Finding {
        kind: FindingKind::ProbeFault,
        state: State::Watch,
        what: format!(
            "Probe {} has moved to {:+.1} K from the others since {}, while they stood still.",
            i + 1,
            now.get(i)?,
            when(first.at)
        ),
        action: "Check it in an ice slurry when it can be reached; until then go by the other \
                 probes."
            .to_owned(),
        since: Some(first.at),
    })
}

/// A figure that comes back to the last sane one of its channel by a slip is the slip, when it was
/// read once: two digits exchanged, or the point forgotten.
fn slip_of_the_pen(g: &Ground<'_>, (channel, value, at): (Channel, f64, Utc)) -> Option<f64> {
    let code = |r: &&&Reading| r.get(channel).is_some() && r.sane_c(channel).is_none();
    if g.rows.iter().filter(code).count() != 1 {
        return None;
    }
    let age_h = |r: &Reading| at.hours_since(r.at);
    let before = g.rows.iter().rev().filter(|r| (0.0..=SLIP_AGE_H).contains(&age_h(r)));
    let last_c =
        before.filter(|r| r.mode != Some(Mode::Defrost)).find_map(|r| r.sane_c(channel))?;
    let meant = exchanged_digits(&value.to_string()).into_iter().chain([value / 10.0]);
    let off = |v: f64| (v - last_c).abs();
    meant.filter(|v| off(*v) <= SLIP_K).min_by(|a, b| off(*a).total_cmp(&off(*b)))
}

fn misread((channel, value, at): (Channel, f64, Utc), meant_c: f64) -> Finding {
    let name = channel.stem();
    Finding {
        kind: FindingKind::ProbeFault,
        state: State::Watch,
        what: format!(
            "{name} was written {value} on {}: no temperature a sensor can measure. A slip for {}?",
            when(at),
            celsius(meant_c)
        ),
        action: "Read it again. If the display shows it so, check the sensor's plug and cable."
            .to_owned(),
        since: Some(at),
    }
}

/// Values that no sensor can measure, in the last day.
fn codes(g: &Ground<'_>) -> Option<Finding> {
    let mut bad: Vec<(Channel, f64, Utc)> = Vec::new();
    for r in g.rows.iter().rev().take_while(|r| g.age_h(r.at) <= CODE_AGE_H) {
        for c in Channel::ALL.into_iter().filter(|c| c.is_temperature()) {
            let code = r.get(c).filter(|_| r.sane_c(c).is_none());
            match (code, bad.iter_mut().find(|(k, ..)| *k == c)) {
                (Some(v), None) => bad.push((c, v, r.at)),
                (Some(_), Some(known)) => known.2 = r.at,
                _ => {}
            }
        }
    }
    let first = bad.iter().map(|(_, _, at)| *at).min()?;
    bad.sort_by_key(|(c, ..)| *c);
    if let [one] = bad.as_slice()
        && let Some(meant) = slip_of_the_pen(g, *one)
    {
        return Some(misread(*one, meant));
    }
    let list: Vec<String> = bad.iter().map(|(c, v, _)| format!("{} shows {v}", c.stem())).collect();
    let air = bad.iter().any(|(c, ..)| matches!(c, Channel::Supply | Channel::Return));
    Some(Finding {
        kind: FindingKind::ProbeFault,
        state: if air { State::Act } else { State::Watch },
        what: format!(
            "{}: no temperature a sensor can measure (seen since {}).",
            list.join(", "),
            when(first)
        ),
        action: "Check the sensor's plug and cable for water and breaks; read the air or pulp \
                 with a hand-held thermometer until it is put right."
            .to_owned(),
        since: Some(first),
    })
}
