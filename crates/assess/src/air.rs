//! Air that may be judged: outside defrost, the hour after it, and losses of power.

use record::{Channel, Mode, Reading};
use units::Utc;

use crate::ground::Control;
use crate::power::Spell;

/// After a defrost, air is not judged for this long. Our estimate: a full-scale trial saw air
/// near the unit more than 10 K up (reference/cargo-and-box.md §3.2).
pub const AFTER_DEFROST_H: f64 = 1.0;

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

    /// The air that the cargo sees on the whole.
    pub fn around_cargo_c(&self, control: Control) -> Option<f64> {
        match (control, self.supply_c, self.return_c) {
            (_, Some(s), Some(r)) => Some(0.5 * (s + r)),
            (_, Some(s), None) => Some(s + 0.5 * USUAL_SPREAD_K),
            (_, None, Some(r)) => Some(r - 0.5 * USUAL_SPREAD_K),
            (_, None, None) => None,
        }
    }

    /// Return minus supply, K.
    pub fn spread_k(&self) -> Option<f64> {
        Some(self.return_c? - self.supply_c?)
    }
}

/// True when `at` lies in a spell without power.
pub fn without_power(spells: &[Spell], at: Utc) -> bool {
    spells
        .iter()
        .any(|s| at >= s.from && s.back.is_none_or(|b| at < b))
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

/// The air that may be judged, by time.
pub fn judged(rows: &[&Reading], spells: &[Spell], ordered_c: Option<f64>) -> Vec<Judged> {
    let mut quiet_until = Utc::from_ms(i64::MIN);
    let mut set_c = ordered_c;
    let mut out = Vec::with_capacity(rows.len());
    for (i, r) in rows.iter().enumerate() {
        if r.mode == Some(Mode::Defrost) {
            quiet_until = r.at.plus_hours(AFTER_DEFROST_H);
        }
        // A defrost written by another source at the same instant counts for this row too.
        let same_instant = rows.iter().skip(i + 1).take_while(|o| o.at == r.at);
        if same_instant.clone().any(|o| o.mode == Some(Mode::Defrost)) {
            quiet_until = r.at.plus_hours(AFTER_DEFROST_H);
        }
        set_c = r.sane_c(Channel::SetPoint).or(set_c);
        let air = Judged {
            at: r.at,
            supply_c: r.sane_c(Channel::Supply),
            return_c: r.sane_c(Channel::Return),
            set_c,
        };
        let empty = air.supply_c.is_none() && air.return_c.is_none();
        if !empty && r.at > quiet_until && !without_power(spells, r.at) {
            out.push(air);
        }
    }
    out
}
