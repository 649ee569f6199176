//! What is known of one box as of an instant: the ground on which every rule stands.

use box_model::prior::Size;
use box_model::{CargoTable, Estimate, FROZEN_SET_MAX_C, Limits, Recognition};
use record::size_type::{self, Length};
use record::{BoxFacts, Channel, ListedUnit, Mode, Reading};
use units::Utc;

use crate::Clock;
use crate::air::{self, Judged};
use crate::power::{self, Spell};
use crate::rules::sensors::SensorTrust;

/// Hours of readings that rules look at.
const WINDOW_H: f64 = 96.0;

/// Hours of readings that the box is fitted to.
pub const FIT_WINDOW_H: f64 = 240.0;

/// For a box silent for longer, this many of its last rows.
const LAST_ROWS: usize = 48;

/// Ambient air assumed when nobody measured it: a warm day, with a wide interval. Our estimate.
const AMBIENT_UNKNOWN_C: [f64; 3] = [15.0, 30.0, 42.0];

/// How the unit controls: which air it holds at the set point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Control {
    /// Supply air is held.
    Chilled,
    /// Return air is held.
    Frozen,
}

/// The ground of one box.
pub struct Ground<'a> {
    /// What the list says.
    pub listed: Option<&'a ListedUnit>,
    /// As of when.
    pub clock: Clock,
    /// Readings looked at, by time, none later than `as_of`.
    pub rows: Vec<&'a Reading>,
    /// Cargo as the list's text names it.
    pub cargo: Recognition<'a>,
    /// Limits of that cargo.
    pub limits: Limits,
    /// Set point the list orders.
    pub ordered_c: Option<f64>,
    /// Latest set point on the display, with its time.
    pub displayed_c: Option<(Utc, f64)>,
    /// How the unit controls, as far as it can be told.
    pub control: Option<Control>,
    /// Which sensors can be believed.
    pub trust: SensorTrust,
    /// Air outside defrost, the hour after it and power losses, by time.
    pub judged: Vec<Judged>,
    /// All readings given, by time, none later than `as_of`: what the box is fitted to.
    pub long_rows: Vec<&'a Reading>,
    /// Their air, as `judged`.
    pub long_judged: Vec<Judged>,
    /// Spells without power.
    pub spells: Vec<Spell>,
    /// Outside air.
    pub ambient_c: Estimate,
    /// True when the ambient was measured.
    pub ambient_measured: bool,
    /// Size.
    pub size: Size,
}

impl<'a> Ground<'a> {
    /// Gathers it.
    pub fn new(facts: &'a BoxFacts, clock: Clock, cargoes: &'a CargoTable) -> Self {
        let listed = facts.listed.as_ref();
        let long_rows = rows_until(&facts.readings, clock.as_of, FIT_WINDOW_H);
        let rows = lately(&long_rows, clock.as_of);
        let ordered_c = listed.and_then(|l| l.set_point_c);
        let displayed_c = latest(&rows, |r| r.sane_c(Channel::SetPoint));
        let set_c = ordered_c.or(displayed_c.map(|(_, c)| c));
        let remarks = listed.map_or(&[][..], |l| &l.remarks);
        let cargo = cargoes.recognition(remarks).narrowed(set_c);
        let limits = box_model::limits(&cargo, set_c, listed.and_then(|l| l.range_c));
        let control = control(&rows, displayed_c.map(|(_, c)| c).or(ordered_c));
        let (ambient_c, ambient_measured) = ambient(&rows);
        let spells = power::spells(&long_rows);
        let long_plain = air::judged(&long_rows, &spells, ordered_c);
        let first = rows.first().map_or(clock.as_of, |r| r.at);
        let plain: Vec<Judged> = long_plain.iter().filter(|j| j.at >= first).copied().collect();
        let trust = SensorTrust::of(&plain, control, ambient_measured.then_some(ambient_c.best));
        let judged = trust.applied(plain);
        let long_judged = trust.applied(long_plain);
        Self {
            listed,
            clock,
            rows,
            cargo,
            limits,
            ordered_c,
            displayed_c,
            control,
            trust,
            judged,
            long_rows,
            long_judged,
            spells,
            ambient_c,
            ambient_measured,
            size: size(listed),
        }
    }

    /// Set point that the box should hold: the list's, else the display's.
    pub fn set_c(&self) -> Option<f64> {
        self.ordered_c.or(self.displayed_c.map(|(_, c)| c))
    }

    /// The box is taken to carry cargo: unless the list says empty and orders no temperature.
    pub fn carries(&self) -> bool {
        let empty = self.listed.is_some_and(|l| l.full == Some(false));
        !empty || self.ordered_c.is_some()
    }

    /// Living cargo as far as it can be told. A chilled cargo that nobody named is taken as
    /// living, unless the list orders the vents closed.
    pub fn living(&self) -> bool {
        let vent = self.listed.and_then(|l| l.vent_m3_h);
        if !self.cargo.is_unknown() {
            return self.cargo.respires();
        }
        let chilled = self.set_c().is_some_and(|s| s > FROZEN_SET_MAX_C);
        chilled && vent != Some(0.0)
    }

    /// When the box was last read.
    pub fn last_read_at(&self) -> Option<Utc> {
        self.rows.iter().rev().find(|r| r.has_observation()).map(|r| r.at)
    }

    /// The spell without power that is still open.
    pub fn power_lost(&self) -> Option<&Spell> {
        self.spells.last().filter(|s| s.back.is_none())
    }

    /// Hours from `at` to `as_of`.
    pub fn age_h(&self, at: Utc) -> f64 {
        self.clock.as_of.hours_since(at)
    }

    /// The name of the cargo in a sentence.
    pub fn cargo_name(&self) -> String {
        self.cargo
            .label()
            .map_or_else(|| "cargo (not named on the list)".to_owned(), |l| l.to_lowercase())
    }
}

/// Of the rows of a longer window those of the last days.
fn lately<'a>(rows: &[&'a Reading], as_of: Utc) -> Vec<&'a Reading> {
    let from = as_of.plus_hours(-WINDOW_H);
    let first_inside = rows.partition_point(|r| r.at < from);
    let cut = if rows.len() - first_inside < 2 {
        rows.len().saturating_sub(LAST_ROWS)
    } else {
        first_inside
    };
    rows.get(cut..).unwrap_or(&[]).to_vec()
}

/// Rows of a window, by time; for a box silent through it, its last rows.
fn rows_until(readings: &[Reading], as_of: Utc, window_h: f64) -> Vec<&Reading> {
    let mut rows: Vec<&Reading> = readings.iter().filter(|r| r.at <= as_of).collect();
    if !rows.is_sorted_by_key(|r| r.at) {
        rows.sort_by_key(|r| r.at);
    }
    let from = as_of.plus_hours(-window_h);
    let first_inside = rows.partition_point(|r| r.at < from);
    let cut = if rows.len() - first_inside < 2 {
        rows.len().saturating_sub(LAST_ROWS)
    } else {
        first_inside
    };
    rows.drain(..cut);
    rows
}

/// The latest value of something, with its time.
pub fn latest<T>(rows: &[&Reading], get: impl Fn(&Reading) -> Option<T>) -> Option<(Utc, T)> {
    rows.iter().rev().find_map(|r| get(r).map(|v| (r.at, v)))
}

/// Whether rows follow each other without a longer wait than so many hours.
pub fn within(rows: &[&Reading], hours: f64) -> bool {
    rows.windows(2).all(|w| match w {
        [a, b] => b.at.hours_since(a.at) <= hours,
        _ => true,
    })
}

fn control(rows: &[&Reading], set_c: Option<f64>) -> Option<Control> {
    let said = latest(rows, |r| match r.mode {
        Some(Mode::Chilled) => Some(Control::Chilled),
        Some(Mode::Frozen) => Some(Control::Frozen),
        _ => None,
    });
    said.map(|(_, c)| c).or_else(|| {
        set_c.map(|s| if s <= FROZEN_SET_MAX_C { Control::Frozen } else { Control::Chilled })
    })
}

/// Mean of the last day's ambient readings, give or take 5 K; else the assumption.
fn ambient(rows: &[&Reading]) -> (Estimate, bool) {
    let last = latest(rows, |r| r.sane_c(Channel::Ambient)).map(|(at, _)| at);
    let (mut sum, mut n) = (0.0, 0.0);
    for r in rows.iter().rev() {
        if last.is_some_and(|l| l.hours_since(r.at) > 24.0) {
            break;
        }
        if let Some(v) = r.sane_c(Channel::Ambient) {
            sum += v;
            n += 1.0;
        }
    }
    if n > 0.0 {
        return (Estimate::plus_minus(sum / n, 5.0), true);
    }
    let [low, best, high] = AMBIENT_UNKNOWN_C;
    (Estimate::new(low, best, high), false)
}

fn size(listed: Option<&ListedUnit>) -> Size {
    let code = listed.and_then(|l| l.size_type.as_deref());
    code.map_or_else(
        || Size { twenty: false, high_cube: true },
        |c| Size {
            twenty: size_type::length(c) == Some(Length::Twenty),
            high_cube: size_type::is_high_cube(c),
        },
    )
}
