//! Air that may be judged: outside defrost, the hour after it, and losses of power.

use record::{Channel, Mode, Reading};
use units::Utc;

use crate::ground::Control;
use crate::power::Spell;

/// After a defrost, air is not judged for this long. Our estimate: a full-scale trial saw air
/// near the unit more than 10 K up (reference/cargo-and-box.md §3.2).
pub const AFTER_DEFROST_H: f64 = 1.0;

/// Supply over return and return over set point by which an unnoted defrost shows. Our estimate.
const DEFROSTED_SPREAD_K: f64 = 0.7;
const DEFROSTED_OVER_K: f64 = 0.8;

/// Frozen cargo lies about this far under return air. Our estimate.
const FROZEN_UNDER_RETURN_K: f64 = 0.5;

/// A smaller rise from supply to return than this shows no cooling. Our estimate.
const NO_COOLING_K: f64 = 0.3;

/// Normal rise from supply to return air, middle of 0.5 to 3 K (GDV Container Handbook §8.4.2).
const USUAL_SPREAD_K: f64 = 1.5;

/// One instant's air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judged {
    /// When.
    pub at: Utc,
    /// Supply air, °C.
    pub supply_c: Option<f64>,
    /// Return air, °C.
    pub return_c: Option<f64>,
    /// Set point in force on the display then, else the list's, °C.
    pub set_c: Option<f64>,
    /// Ambient air, °C.
    pub ambient_c: Option<f64>,
    /// Power drawn, kW.
    pub power_kw: Option<f64>,
}

impl Judged {
    /// The air that the unit holds at the set point: supply when chilled, return when frozen.
    /// Where that was not read, the other one less (or plus) the usual spread.
    pub fn held_c(&self, control: Control) -> Option<f64> {
        match control {
            Control::Chilled => self.supply_c.or(self.return_c.map(|r| r - USUAL_SPREAD_K)),
            Control::Frozen => self.return_c.or(self.supply_c.map(|s| s + USUAL_SPREAD_K)),
        }
    }

    /// The sensor that belongs to [`Judged::held_c`] was read itself.
    pub fn held_was_read(&self, control: Control) -> bool {
        match control {
            Control::Chilled => self.supply_c.is_some(),
            Control::Frozen => self.return_c.is_some(),
        }
    }

    /// The air that the cargo sees on the whole: between supply and return when chilled, near
    /// return when little air comes through; a little under return when frozen, where supply
    /// jumps by several kelvin as the compressor cycles.
    pub fn around_cargo_c(&self, control: Control) -> Option<f64> {
        let half = 0.5 * USUAL_SPREAD_K;
        match (control, self.supply_c, self.return_c) {
            (Control::Frozen, _, Some(r)) => Some(r - FROZEN_UNDER_RETURN_K),
            (Control::Frozen, Some(s), None) => Some(s + half),
            (Control::Chilled, Some(s), Some(r)) => Some((0.5 * (s + r)).max(r - USUAL_SPREAD_K)),
            (Control::Chilled, Some(s), None) => Some(s + half),
            (Control::Chilled, None, Some(r)) => Some(r - half),
            (_, None, None) => None,
        }
    }

    /// Supply no colder than return: nothing cools.
    pub fn shows_no_cooling(&self) -> bool {
        self.spread_k().is_some_and(|k| k < NO_COOLING_K)
    }

    /// The colder of supply and return.
    pub fn coldest_c(&self) -> Option<f64> {
        match (self.supply_c, self.return_c) {
            (Some(s), Some(r)) => Some(s.min(r)),
            (s, r) => s.or(r),
        }
    }

    /// Air as just after a defrost that nobody noted: both above the set point and supply the
    /// warmer, heated by the coil. (Swapped sensors show the lower one at the set point.)
    fn looks_defrosted(&self) -> bool {
        let (Some(s), Some(r), Some(set)) = (self.supply_c, self.return_c, self.set_c) else {
            return false;
        };
        s - r > DEFROSTED_SPREAD_K && r > set + DEFROSTED_OVER_K
    }

    /// Return minus supply, K.
    pub fn spread_k(&self) -> Option<f64> {
        Some(self.return_c? - self.supply_c?)
    }
}

/// True when `at` lies in a spell without power.
pub fn without_power(spells: &[Spell], at: Utc) -> bool {
    spells.iter().any(|s| at >= s.from && s.back.is_none_or(|b| at < b))
}

/// Defrosts with the hour after them, merged, oldest first. Rows must be by time.
pub fn defrosts(rows: &[&Reading]) -> Vec<(Utc, Utc)> {
    let mut out: Vec<(Utc, Utc)> = Vec::new();
    for r in rows.iter().filter(|r| r.mode == Some(Mode::Defrost)) {
        let end = r.at.plus_hours(AFTER_DEFROST_H);
        match out.last_mut() {
            Some(last) if r.at <= last.1 => last.1 = end,
            _ => out.push((r.at, end)),
        }
    }
    out
}

/// The air that may be judged, by time. Air that looks as after an unnoted defrost is left out,
/// unless it stays so for longer than such an hour.
pub fn judged(rows: &[&Reading], spells: &[Spell], ordered_c: Option<f64>) -> Vec<Judged> {
    let mut quiet_until = Utc::from_ms(i64::MIN);
    let mut set_c = ordered_c;
    let mut defrosted_since: Option<Utc> = None;
    let mut out = Vec::with_capacity(rows.len());
    for (i, r) in rows.iter().enumerate() {
        if r.mode == Some(Mode::Defrost) {
            quiet_until = r.at.plus_hours(AFTER_DEFROST_H);
        }
        // A defrost written by another source at the same instant counts for this row too.
        let mut same_instant = rows.iter().skip(i + 1).take_while(|o| o.at == r.at);
        if same_instant.any(|o| o.mode == Some(Mode::Defrost)) {
            quiet_until = r.at.plus_hours(AFTER_DEFROST_H);
        }
        set_c = r.sane_c(Channel::SetPoint).or(set_c);
        let air = Judged {
            at: r.at,
            supply_c: r.sane_c(Channel::Supply),
            return_c: r.sane_c(Channel::Return),
            set_c,
            ambient_c: r.sane_c(Channel::Ambient),
            power_kw: r.get(Channel::Power),
        };
        let nothing = air.supply_c.is_none() && air.return_c.is_none();
        if nothing || r.at <= quiet_until || without_power(spells, r.at) {
            continue;
        }
        if air.looks_defrosted() {
            let since = *defrosted_since.get_or_insert(r.at);
            if r.at.hours_since(since) <= AFTER_DEFROST_H {
                continue;
            }
        } else {
            defrosted_since = None;
        }
        out.push(air);
    }
    out
}
