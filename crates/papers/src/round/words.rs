//! How a round sheet words what it prints.

use figures::words::number;
use record::{Channel, Part, RoundLine, UnitId};
use units::Utc;

/// The name of a channel on the display, short.
#[must_use]
pub fn channel_name(c: Channel) -> &'static str {
    match c {
        Channel::SetPoint => "set point",
        Channel::Supply => "supply",
        Channel::Return => "return",
        Channel::Ambient => "ambient",
        Channel::Probe1 => "probe 1",
        Channel::Probe2 => "probe 2",
        Channel::Probe3 => "probe 3",
        Channel::Probe4 => "probe 4",
        Channel::RhSet => "RH set %",
        Channel::Rh => "RH %",
        Channel::Co2 => "CO₂ %",
        Channel::O2 => "O₂ %",
        Channel::Power => "kW",
    }
}

/// A number as it is painted: `QQQU 310023 6`.
pub(super) fn painted(unit: &UnitId) -> String {
    let text = unit.as_str();
    match (text.get(..4), text.get(4..10), text.get(10..)) {
        (Some(owner), Some(serial), Some(check)) if unit.has_iso_form() => {
            format!("{owner}\u{a0}{serial}\u{a0}{check}")
        }
        _ => text.to_owned(),
    }
}

/// Set point, then what the air may not pass and what else is ordered.
pub(super) fn limits(l: &RoundLine) -> Vec<String> {
    let mut out = vec![match l.line.set_point_c {
        Some(c) => format!("set {}", number(c, places(c))),
        None => "set point?".to_owned(),
    }];
    out.push(match (l.coldest_c, l.warmest_c) {
        (Some(a), Some(b)) => format!("{} to {}", number(a, 1), number(b, 1)),
        (Some(a), None) => format!("not under {}", number(a, 1)),
        (None, Some(b)) => format!("not over {}", number(b, 1)),
        (None, None) => String::new(),
    });
    out.push(match l.vent_m3_h {
        Some(0.0) => "vent shut".to_owned(),
        Some(v) => format!("vent {}\u{a0}m³/h", number(v, 0)),
        None => String::new(),
    });
    out.push(l.humidity_pct.map(|h| format!("RH {}\u{a0}%", number(h, 0))).unwrap_or_default());
    out
}

fn places(value: f64) -> usize {
    let tenths = value * 10.0;
    if (tenths - tenths.round()).abs() < 1e-6 { 1 } else { 2 }
}

/// Last supply and return air, and their age.
pub(super) fn last_words(l: &RoundLine, as_of: Option<Utc>) -> Vec<String> {
    let (supply, back) = (l.last_of(Channel::Supply), l.last_of(Channel::Return));
    let Some(at) = supply.map(|v| v.at).max(back.map(|v| v.at)) else {
        return vec![String::new(), "never read".to_owned()];
    };
    let text =
        |v: Option<record::LastValue>| v.map_or_else(|| "–".to_owned(), |v| number(v.value, 1));
    let when = format!("{} {}", figures::words::day(at), figures::words::clock(at));
    vec![format!("{} / {}", text(supply), text(back)), when, age(at, as_of)]
}

/// `4 h before`: how old a value is at the instant that the sheet speaks of.
pub(super) fn age(at: Utc, as_of: Option<Utc>) -> String {
    let hours = as_of.map_or(0.0, |t| t.hours_since(at));
    if hours * 60.0 < 1.0 {
        return "newest".to_owned();
    }
    format!("{} before", figures::words::hours(hours))
}

/// The bays of 20 ft boxes in a part, where it has any beside the 40 ft bay: ` (021, 023)`.
pub(super) fn bays(part: Part, lines: &[RoundLine]) -> String {
    let Part::Bay { bay, .. } = part else { return String::new() };
    let mut other: Vec<u16> =
        lines.iter().filter_map(|l| l.line.cell).map(|c| c.bay).filter(|b| *b != bay).collect();
    other.sort_unstable();
    other.dedup();
    if other.is_empty() {
        return String::new();
    }
    let names: Vec<String> = other.iter().map(|b| format!("{b:03}")).collect();
    format!(" with {}", names.join(", "))
}
