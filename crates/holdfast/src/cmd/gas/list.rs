//! The account as it stands.

use std::fmt::Write as _;

use record::gas::kg;
use serde_json::{Value, json};
use service::account::{Account, CylinderLine, GasLine, UnitLine};
use units::math::round_to;

use super::Gas;
use crate::fail::Fail;
use crate::{files, out};

/// Prints it.
pub fn run(c: &Gas) -> Result<u8, Fail> {
    let v = files::open_voyage(c.voyage.as_deref())?;
    let account = v.gas_account(files::now());
    if c.json {
        out::print_json(&as_json(&account))?;
    } else {
        out::print(text(&account).trim_end())?;
    }
    Ok(0)
}

fn text(a: &Account) -> String {
    if a.cylinders.is_empty() && a.units.is_empty() {
        return "Nothing is entered yet. Begin with a cylinder and a plate: holdfast gas --help"
            .to_owned();
    }
    let mut t = String::new();
    for c in &a.cylinders {
        cylinder(&mut t, c);
    }
    for u in &a.units {
        unit(&mut t, u);
    }
    for g in &a.gases {
        gas(&mut t, g);
    }
    t
}

fn cylinder(t: &mut String, c: &CylinderLine) {
    let held = c.held.map_or_else(|| "not weighed".to_owned(), |h| kg(h.g));
    let limit = c.limit.map_or_else(String::new, |(g, from)| format!(" of {} {from}", kg(g)));
    let _ = writeln!(t, "cylinder {}  {}  {held}{limit}", c.card.id, c.card.gas);
    if let Some((at, words)) = &c.screened {
        let _ = writeln!(t, "    held against its name {}: {words}", at.to_minute());
    }
    for w in &c.cautions {
        let _ = writeln!(t, "  ! {w}");
    }
}

fn unit(t: &mut String, u: &UnitLine) {
    let charge = u.charge_g.map_or_else(|| "no plate".to_owned(), |g| kg(g.into()));
    let _ = write!(t, "{}  {}  {charge}", u.unit, u.gas);
    if let Some(c) = u.co2e_t {
        let _ = write!(t, " = {c:.2} t CO2e");
    }
    if u.added_year_g > 0 {
        let _ = write!(t, "  added in 365 days {}", kg(u.added_year_g as i64));
    }
    if let Some((p, least)) = u.annualised_pct {
        let _ = write!(t, "  annualised {}{p:.1} %", if least { "at least " } else { "" });
    }
    if let Some(p) = u.rolling_pct {
        let _ = write!(t, "  rolling {p:.1} %");
    }
    let _ = writeln!(t);
    match (&u.interval, u.due_at) {
        (Some(i), due) if i.months.is_some() => {
            let months = i.months.unwrap_or_default();
            let due = due.map_or_else(String::new, |d| format!(", next {}", d.to_minute()));
            let _ = writeln!(t, "    leak check every {months} months ({}){due}", i.why);
        }
        (Some(i), _) => {
            let _ = writeln!(t, "    no leak check asked for: {}", i.why);
        }
        (None, _) => {}
    }
    for w in &u.cautions {
        let _ = writeln!(t, "  ! {w}");
    }
}

fn gas(t: &mut String, g: &GasLine) {
    let s = &g.totals;
    let _ = writeln!(
        t,
        "{}: at the beginning {}, came {}, landed {}, held {}; lost {} (leaked {}, released {}, \
         unexplained {})",
        g.gas,
        kg(s.opening_g),
        kg(s.came_g),
        kg(s.landed_g),
        kg(s.held_g),
        kg(s.loss_g()),
        kg(s.leaked_g),
        kg(s.released_g),
        kg(s.unexplained_g)
    );
}

fn in_kg(g: i64) -> f64 {
    round_to(g as f64 / 1000.0, 3)
}

fn as_json(a: &Account) -> Value {
    json!({
        "as_of_at": a.at.to_string(),
        "cylinders": a.cylinders.iter().map(cylinder_json).collect::<Vec<_>>(),
        "units": a.units.iter().map(unit_json).collect::<Vec<_>>(),
        "gases": a.gases.iter().map(gas_json).collect::<Vec<_>>(),
    })
}

fn cylinder_json(c: &CylinderLine) -> Value {
    json!({
        "cylinder": c.card.id,
        "gas": c.card.gas,
        "held_kg": c.held.map(|h| in_kg(h.g)),
        "weighed_at": c.held.and_then(|h| h.known_since).map(|t| t.to_string()),
        "limit_kg": c.limit.map(|(g, _)| in_kg(g)),
        "limit_from": c.limit.map(|(_, from)| from),
        "liquid_full_c": c.liquid_full_c.map(|t| round_to(t, 1)),
        "source": c.card.source.map(record::gas::Source::as_str),
        "screened_at": c.screened.as_ref().map(|(t, _)| t.to_string()),
        "screened": c.screened.as_ref().map(|(_, w)| w),
        "cautions": c.cautions,
    })
}

fn unit_json(u: &UnitLine) -> Value {
    json!({
        "unit": u.unit.as_str(),
        "gas": u.gas,
        "charge_kg": u.charge_g.map(|g| in_kg(g.into())),
        "held_kg": u.held.map(|h| in_kg(h.g)),
        "added_365_days_kg": in_kg(u.added_year_g as i64),
        "annualised_pct": u.annualised_pct.map(|(p, _)| round_to(p, 2)),
        "annualised_is_at_least": u.annualised_pct.map(|(_, least)| least),
        "rolling_pct": u.rolling_pct.map(|p| round_to(p, 2)),
        "co2e_t": u.co2e_t.map(|t| round_to(t, 3)),
        "check_months": u.interval.and_then(|i| i.months),
        "check_rule": u.interval.map(|i| i.why),
        "last_check_at": u.last_check.as_ref().map(|c| c.at.to_string()),
        "check_due_at": u.due_at.map(|t| t.to_string()),
        "cautions": u.cautions,
    })
}

fn gas_json(g: &GasLine) -> Value {
    let s = &g.totals;
    json!({
        "gas": g.gas,
        "opening_kg": in_kg(s.opening_g),
        "came_kg": in_kg(s.came_g),
        "landed_kg": in_kg(s.landed_g),
        "held_kg": in_kg(s.held_g),
        "lost_kg": in_kg(s.loss_g()),
        "leaked_kg": in_kg(s.leaked_g),
        "released_kg": in_kg(s.released_g),
        "unexplained_kg": in_kg(s.unexplained_g),
        "lost_co2e_t": g.lost_co2e_t.map(|t| round_to(t, 3)),
    })
}
