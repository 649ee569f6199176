//! Set points: display against list, °F taken for °C, a lost sign, outside the cargo's band.

use box_model::{Cargo, Category, FROZEN_SET_MAX_C};
use record::{Finding, FindingKind, State};
use units::temperature::{celsius_from_fahrenheit, fahrenheit_from_celsius};

use crate::ground::Ground;
use crate::words::{set_point, when};

/// Display and list may differ by this much (a list in °F rounds to a tenth).
const SAME_K: f64 = 0.05;
/// A °F figure agrees with the other to this much.
const FAHRENHEIT_K: f64 = 0.6;
/// A set point this far outside the table's band is odd. Our estimate.
const OUTSIDE_K: f64 = 1.5;
/// Further outside somebody has to ask today. Our estimate.
const FAR_OUTSIDE_K: f64 = 4.0;
/// A set point nearer to freezing than this is a risk. Our estimate.
const FREEZING_K: f64 = 0.5;

const ASK: &str = "Do not change it on your own: compare display and list again, then ask the \
                   planner which figure is ordered and get the answer in writing.";

/// Where the display's set point drives the air, when it is not the ordered one.
pub fn wrong_goal_c(g: &Ground<'_>) -> Option<f64> {
    let (_, shown) = g.displayed_c?;
    let ordered = g.ordered_c?;
    ((shown - ordered).abs() > SAME_K + 1e-9).then_some(shown)
}

/// All findings about set points.
pub fn findings(g: &Ground<'_>) -> Vec<Finding> {
    let mut out = Vec::new();
    let wrong = wrong(g);
    let slip = slip(g);
    let explained = wrong.is_some() || slip.is_some();
    // The slip names both figures and how one became the other: it goes first.
    out.extend(slip);
    out.extend(wrong);
    out.extend(near_freezing(g));
    if !explained {
        out.extend(outside_band(g));
    }
    out
}

fn wrong(g: &Ground<'_>) -> Option<Finding> {
    let shown = wrong_goal_c(g)?;
    let (at, _) = g.displayed_c?;
    let ordered = g.ordered_c?;
    Some(Finding {
        kind: FindingKind::WrongSetPoint,
        state: State::Act,
        what: format!(
            "The display's set point is {}, the loading list orders {} (read {}).",
            set_point(shown),
            set_point(ordered),
            when(at)
        ),
        action: "Read the display again; if it stands, ask for the order in writing and set \
                 what is ordered."
            .to_owned(),
        since: first_shown(g, shown),
    })
}

/// Since when the display has shown `shown` without a break.
fn first_shown(g: &Ground<'_>, shown: f64) -> Option<units::Utc> {
    let mut since = None;
    for r in g.rows.iter().rev() {
        match r.sane_c(record::Channel::SetPoint) {
            Some(v) if (v - shown).abs() <= SAME_K => since = Some(r.at),
            Some(_) => break,
            None => {}
        }
    }
    since
}

/// °F taken for °C, or a lost sign.
fn slip(g: &Ground<'_>) -> Option<Finding> {
    let shown = g.displayed_c.map(|(_, c)| c);
    let what = match (shown, g.ordered_c) {
        (Some(d), Some(o)) if (d - o).abs() > SAME_K + 1e-9 => between(d, o),
        _ => None,
    }
    .or_else(|| one_figure(g, "display", shown))
    .or_else(|| one_figure(g, "loading list", g.ordered_c))?;
    Some(Finding {
        kind: FindingKind::OddSetPoint,
        state: State::Act,
        what,
        action: ASK.to_owned(),
        since: shown.and_then(|d| first_shown(g, d)),
    })
}

/// Two figures that differ by a slip.
fn between(shown: f64, ordered: f64) -> Option<String> {
    if (shown + ordered).abs() <= FAHRENHEIT_K && ordered.abs() >= 1.0 {
        return Some(format!(
            "The display's set point {} is the list's {} with the sign lost or added.",
            set_point(shown),
            set_point(ordered)
        ));
    }
    if (shown - fahrenheit_from_celsius(ordered)).abs() <= 2.0 * FAHRENHEIT_K {
        return Some(format!(
            "The display's set point {} looks like °F: {shown:.0} °F is {}, as the list orders.",
            set_point(shown),
            set_point(celsius_from_fahrenheit(shown))
        ));
    }
    if (shown - celsius_from_fahrenheit(ordered)).abs() <= FAHRENHEIT_K && ordered.abs() > 10.0 {
        return Some(format!(
            "The list's {} looks like °F: {ordered:.0} °F is {}, near the display's {}.",
            set_point(ordered),
            set_point(celsius_from_fahrenheit(ordered)),
            set_point(shown)
        ));
    }
    None
}

fn in_band(c: &Cargo, temp_c: f64, margin_k: f64) -> bool {
    let low = c.t_min_c.unwrap_or(f64::NEG_INFINITY);
    temp_c >= low - margin_k && temp_c <= c.t_max_c + margin_k
}

/// One figure that only makes sense for the cargo as °F, or with the other sign.
fn one_figure(g: &Ground<'_>, place: &str, figure: Option<f64>) -> Option<String> {
    let v = figure?;
    let fits = |t: f64| g.cargo.candidates.iter().any(|c| in_band(c, t, 1.0));
    if fits(v) {
        return None;
    }
    let as_c = celsius_from_fahrenheit(v);
    // Without a cargo name only figures that no chilled cargo is carried at are suspect.
    let plausible = if g.cargo.is_unknown() {
        (30.0..=80.0).contains(&v)
    } else {
        fits(as_c) && (v >= 28.0 || v <= 0.0)
    };
    if plausible {
        return Some(format!(
            "The set point {} of the {place} looks like °F: {v:.0} °F is {}.",
            set_point(v),
            set_point(as_c)
        ));
    }
    (v.abs() >= 1.0 && fits(-v)).then(|| {
        format!(
            "The set point {} of the {place} looks as if it had lost its sign: {} would suit {}.",
            set_point(v),
            set_point(-v),
            g.cargo_name()
        )
    })
}

/// Outside the carriage band of every cargo it may be.
fn outside_band(g: &Ground<'_>) -> Option<Finding> {
    let set = g.set_c()?;
    let off_k = g.cargo.candidates.iter().map(|c| outside_k(c, set));
    let off_k = off_k.reduce(f64::min).filter(|k| *k > OUTSIDE_K)?;
    let first = g.cargo.candidates.first()?;
    let band = match first.t_min_c {
        Some(low) => format!("{low} to {} °C", first.t_max_c),
        None => format!("{} °C or colder", first.t_max_c),
    };
    let mark = if first.sources.temp.contains("MEM") { ", unverified" } else { "" };
    let source = if g.ordered_c.is_some() { "loading list" } else { "display" };
    Some(Finding {
        kind: FindingKind::OddSetPoint,
        state: if off_k > FAR_OUTSIDE_K { State::Act } else { State::Watch },
        what: format!(
            "The {source} sets {} for {}; the table carries it at {band}{mark}.",
            set_point(set),
            g.cargo_name()
        ),
        action: "Hold what is ordered: the shipper's instruction outranks the table. Ask the \
                 planner to confirm it."
            .to_owned(),
        since: None,
    })
}

/// How far a set point lies outside a cargo's band; colder than usual does no harm to frozen
/// cargo.
fn outside_k(c: &Cargo, set: f64) -> f64 {
    let under = c.t_min_c.filter(|_| c.category != Category::Frozen);
    let under = under.map_or(0.0, |low| low - set);
    under.max(set - c.t_max_c).max(0.0)
}

/// Set point at or under freezing. A figure inside the carriage band and above the freezing
/// point is the trade's usual one (chilled meat at -1.4 °C) and is left alone.
fn near_freezing(g: &Ground<'_>) -> Option<Finding> {
    let shown = g.displayed_c.map(|(_, c)| c);
    let set = shown.or(g.ordered_c)?;
    let near = |c: &&&Cargo| {
        let usual = |f: f64| in_band(c, set, 0.0) && set > f;
        c.category != Category::Frozen
            && c.freezing_c().is_some_and(|f| set < f + FREEZING_K && !usual(f))
    };
    let all_near = g.cargo.candidates.iter().filter(near).count() == g.cargo.candidates.len();
    let cargo = g.cargo.candidates.iter().find(near).filter(|_| all_near)?;
    if set <= FROZEN_SET_MAX_C && g.cargo.one().is_none() {
        return None;
    }
    let freeze = cargo.freezing_c()?;
    let mark = if cargo.sources.freeze.contains("MEM") { ", unverified" } else { "" };
    Some(Finding {
        kind: FindingKind::FreezingRisk,
        state: State::Act,
        what: format!(
            "The set point {} is at or within {FREEZING_K} K of the freezing point of {}, \
             {freeze} °C (table{mark}).",
            set_point(set),
            g.cargo_name()
        ),
        action: ASK.to_owned(),
        since: shown.and_then(|d| first_shown(g, d)),
    })
}
