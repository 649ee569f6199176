//! Power: off since when, as the readings say.

use record::{Mode, Reading};
use units::Utc;

/// What one reading says of power: `Some(true)` running, `Some(false)` dead plug or switched
/// off, `None` nothing.
pub fn says(r: &Reading) -> Option<bool> {
    match (r.on_power, r.mode) {
        (Some(false), _) | (_, Some(Mode::Off)) => Some(false),
        (Some(true), _) | (_, Some(Mode::Chilled | Mode::Frozen | Mode::Defrost)) => Some(true),
        (None, None) => None,
    }
}

/// A spell without power: first and last reading that say so, and the reading that saw it back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Spell {
    /// First reading without power.
    pub from: Utc,
    /// Last reading before the spell that saw power, where there is one.
    pub seen_on: Option<Utc>,
    /// First reading that saw power back; `None` while it is off.
    pub back: Option<Utc>,
    /// Switched off at the controller rather than dead at the plug, as far as it was said.
    pub switched_off: bool,
}

/// All spells, oldest first. Rows must be by time. Of rows at one instant, "off" counts.
pub fn spells(rows: &[&Reading]) -> Vec<Spell> {
    let mut out: Vec<Spell> = Vec::new();
    let mut last_on = None;
    for r in rows {
        let open = out.last_mut().filter(|s| s.back.is_none());
        match (says(r), open) {
            (Some(true), Some(spell)) if r.at > spell.from || last_on == Some(r.at) => {
                spell.back = Some(r.at);
                last_on = Some(r.at);
            }
            (Some(true), None) => last_on = Some(r.at),
            (Some(false), None) => out.push(Spell {
                from: r.at,
                seen_on: last_on.filter(|t| *t < r.at),
                back: None,
                switched_off: r.mode == Some(Mode::Off) && r.on_power != Some(false),
            }),
            (Some(false), Some(spell)) => spell.switched_off &= r.on_power != Some(false),
            _ => {}
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use record::UnitId;

    #[test]
    fn spells_open_and_close() {
        let unit = UnitId::from_text("QQQU1000011").unwrap();
        let rows: Vec<Reading> = [Some(true), Some(false), None, Some(false), Some(true)]
            .into_iter()
            .enumerate()
            .map(|(i, on)| {
                let mut r =
                    Reading::new(unit.clone(), Utc::from_ms(i as i64 * 3_600_000), "".into());
                r.on_power = on;
                r
            })
            .collect();
        let rows: Vec<&Reading> = rows.iter().collect();
        let all = spells(&rows);
        assert_eq!(all.len(), 1);
        assert_eq!(all[0].seen_on, Some(Utc::from_ms(0)));
        assert_eq!(all[0].from, Utc::from_ms(3_600_000));
        assert_eq!(all[0].back, Some(Utc::from_ms(4 * 3_600_000)));
        assert_eq!(spells(&rows[..4])[0].back, None);
    }
}
