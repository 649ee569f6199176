//! The account as a person reads it: per cylinder, unit and gas, with what is due and what is
//! wrong.

use record::UnitId;
use record::gas::{CylinderCard, GasAct, GasFile, Holder, LeakCheck, Reason, kg};
use units::Utc;

use super::cylinder::{FILL_SHARE, fill_limit_kg, liquid_full_c};
use super::law::{CheckInterval, check_interval, co2e_t, months_later, servicing_words};
use super::ledger::{Balance, Ledger, Totals, added, annualised_pct, rolling_pct};

/// A deck in the sun reaches this, °C (reference §5.2 G13: "60 °C and more").
const HOT_DECK_C: f64 = 65.0;
/// Reporting threshold of 40 CFR 82, % a year.
const REPORT_PCT: f64 = 125.0;

/// The whole account at an instant.
#[derive(Debug, Clone, PartialEq)]
pub struct Account {
    /// The instant.
    pub at: Utc,
    /// Cylinders in the order entered.
    pub cylinders: Vec<CylinderLine>,
    /// Units with a plate or a transfer, by number.
    pub units: Vec<UnitLine>,
    /// Gases by name.
    pub gases: Vec<GasLine>,
}

/// A cylinder.
#[derive(Debug, Clone, PartialEq)]
pub struct CylinderLine {
    /// Its card.
    pub card: CylinderCard,
    /// What it holds; none: never weighed nor supplied.
    pub held: Option<Balance>,
    /// Most it may hold, g, and where the figure is from; none where neither stamp nor volume is
    /// known.
    pub limit: Option<(i64, &'static str)>,
    /// Temperature at which it is full of liquid, °C, with what it holds.
    pub liquid_full_c: Option<f64>,
    /// When it was last held against its name, and what was said.
    pub screened: Option<(Utc, String)>,
    /// What is wrong, in plain words.
    pub cautions: Vec<String>,
}

/// A unit.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitLine {
    /// Number.
    pub unit: UnitId,
    /// Gas of the plate, or of its last transfer.
    pub gas: String,
    /// Full charge by the plate, g.
    pub charge_g: Option<u32>,
    /// What it holds by this account, g.
    pub held: Option<Balance>,
    /// Added for leaks in the 365 days before, g.
    pub added_year_g: u64,
    /// Annualised from the last addition, % of the charge; `true`: at least so much, because no
    /// addition before it is recorded.
    pub annualised_pct: Option<(f64, bool)>,
    /// Rolling 365 days, % of the charge.
    pub rolling_pct: Option<f64>,
    /// t CO2-equivalent of the full charge.
    pub co2e_t: Option<f64>,
    /// How often it is to be checked.
    pub interval: Option<CheckInterval>,
    /// The last check.
    pub last_check: Option<LeakCheck>,
    /// When the next check is due; none: not due, or nothing to count from.
    pub due_at: Option<Utc>,
    /// What is wrong or open.
    pub cautions: Vec<String>,
}

/// A gas.
#[derive(Debug, Clone, PartialEq)]
pub struct GasLine {
    /// Name.
    pub gas: String,
    /// What became of it.
    pub totals: Totals,
    /// t CO2-equivalent of what was lost.
    pub lost_co2e_t: Option<f64>,
}

/// Draws it up.
#[must_use]
pub fn account(file: &GasFile, at: Utc) -> Account {
    let ledger = Ledger::of(file);
    let mut ids: Vec<&str> = Vec::new();
    let mut units: Vec<UnitId> = Vec::new();
    for e in file.standing() {
        if let GasAct::Cylinder(c) = &e.act
            && !ids.contains(&c.id.as_str())
        {
            ids.push(&c.id);
        }
        units.extend(e.act.unit().cloned());
    }
    units.sort_unstable();
    units.dedup();
    let cylinders = ids.iter().filter_map(|id| file.cylinder(id));
    let gases = ledger.totals().iter().map(|(gas, totals)| GasLine {
        gas: gas.clone(),
        totals: *totals,
        lost_co2e_t: co2e_t(gas, totals.loss_g() as f64 / 1000.0),
    });
    Account {
        at,
        cylinders: cylinders.map(|c| cylinder_line(file, &ledger, c)).collect(),
        units: units.iter().filter_map(|u| unit_line(file, &ledger, u, at)).collect(),
        gases: gases.collect(),
    }
}

fn cylinder_line(file: &GasFile, ledger: &Ledger, card: &CylinderCard) -> CylinderLine {
    let held = ledger.balance(&Holder::Cylinder(card.id.clone()), &card.gas);
    let by_volume = || {
        let kg = fill_limit_kg(&card.gas, card.volume_l?, FILL_SHARE).ok()?;
        Some(((kg * 1000.0) as i64, "80 % of its volume at 20 °C"))
    };
    let limit = card.limit_g.map(|g| (i64::from(g), "as stamped")).or_else(by_volume);
    let liquid_full_c = held
        .filter(|h| h.g > 0)
        .and_then(|h| liquid_full_c(&card.gas, card.volume_l?, h.g as f64 / 1000.0).ok().flatten());
    let screened = file
        .standing()
        .filter_map(|e| match &e.act {
            GasAct::Screened { cylinder, at, words, .. } if *cylinder == card.id => {
                Some((*at, words.clone()))
            }
            _ => None,
        })
        .last();
    let mut cautions = Vec::new();
    match (held, limit) {
        (Some(h), Some((most, from))) if h.g > most => cautions.push(format!(
            "overfilled: {} is {} more than it may hold ({from}); keep it out of the sun, \
             recover the excess into another cylinder",
            kg(h.g),
            kg(h.g - most)
        )),
        (_, None) => cautions.push(
            "fill limit not known: enter the stamped limit or the volume before filling".into(),
        ),
        _ => {}
    }
    if let Some(t) = liquid_full_c.filter(|t| *t < HOT_DECK_C) {
        cautions.push(format!(
            "full of liquid at {t:.0} °C: on a hot deck it can burst; keep it shaded and cool"
        ));
    }
    if held.is_none() {
        cautions.push("never weighed: weigh it and enter what it holds".into());
    }
    if screened.is_none() && !card.recovery {
        cautions.push(
            "not yet held against its name: let it stand at one temperature, read pressure and \
             temperature before it is used"
                .into(),
        );
    }
    CylinderLine { card: card.clone(), held, limit, liquid_full_c, screened, cautions }
}

fn unit_line(file: &GasFile, ledger: &Ledger, unit: &UnitId, at: Utc) -> Option<UnitLine> {
    let plate = file.plate(unit);
    let moved = file.standing().filter_map(|e| match &e.act {
        GasAct::Moved(t) if e.act.unit() == Some(unit) => Some(&t.gas),
        GasAct::Weighed { gas, .. } if e.act.unit() == Some(unit) => Some(gas),
        _ => None,
    });
    let gas = plate.map(|p| &p.gas).or_else(|| moved.last())?.clone();
    let charge_g = plate.map(|p| p.charge_g);
    let charge_kg = charge_g.map(|g| f64::from(g) / 1000.0);
    let interval =
        plate.zip(charge_kg).and_then(|(p, kg)| check_interval(&gas, kg, p.sealed, p.detection));
    let last_check = last_check(file, unit);
    let months = interval.and_then(|i| i.months);
    let due_at = last_check.as_ref().zip(months).and_then(|(c, m)| {
        // After a repair: again within a month (reference §5.2 G10).
        months_later(c.at, if c.leak_at.is_some() && c.repaired { 1 } else { m })
    });
    let top_ups = added(file, unit, false);
    let year_h = 365.0 * 24.0;
    let in_year = top_ups.iter().filter(|(t, _)| (0.0..year_h).contains(&at.hours_since(*t)));
    let mut line = UnitLine {
        unit: unit.clone(),
        held: ledger.balance(&Holder::Unit(unit.clone()), &gas),
        charge_g,
        added_year_g: in_year.map(|(_, g)| u64::from(*g)).sum(),
        annualised_pct: charge_g.and_then(|full| annualised(file, unit, &top_ups, full)),
        rolling_pct: charge_g.and_then(|full| rolling_pct(&top_ups, full, at)),
        co2e_t: charge_kg.and_then(|kg| co2e_t(&gas, kg)),
        interval,
        last_check,
        due_at,
        cautions: Vec::new(),
        gas,
    };
    line.cautions = unit_cautions(file, &line, months, at);
    Some(line)
}

fn last_check(file: &GasFile, unit: &UnitId) -> Option<LeakCheck> {
    let checks = file.standing().filter_map(|e| match &e.act {
        GasAct::Checked(c) if c.unit == *unit => Some(c),
        _ => None,
    });
    checks.max_by_key(|c| c.at).cloned()
}

fn annualised(
    file: &GasFile,
    unit: &UnitId,
    top_ups: &[(Utc, u32)],
    full_g: u32,
) -> Option<(f64, bool)> {
    let (at, g) = *top_ups.last()?;
    let before = added(file, unit, true).into_iter().rev().find(|(t, _)| *t < at);
    match before {
        Some((t, _)) => Some((annualised_pct(g, full_g, at.hours_since(t) / 24.0)?, false)),
        None => Some((annualised_pct(g, full_g, 365.0)?, true)),
    }
}

fn unit_cautions(file: &GasFile, u: &UnitLine, months: Option<u32>, at: Utc) -> Vec<String> {
    let mut out = Vec::new();
    if u.charge_g.is_none() {
        out.push("plate not entered: full charge, rates and check interval are not known".into());
    }
    if let (Some(held), Some(full)) = (u.held, u.charge_g)
        && held.g > i64::from(full)
    {
        out.push(format!(
            "by this account it holds {}, more than its plate says ({}): recover, evacuate and \
             charge by weight",
            kg(held.g),
            kg(full.into())
        ));
    }
    match &u.last_check {
        Some(c) if c.leak_at.is_some() && !c.repaired => {
            out.push("a leak was found and not yet repaired: repair it before gas is added".into());
        }
        None if months.is_some() => out.push("no check for leaks is entered".into()),
        _ => {}
    }
    if let Some(due) = u.due_at.filter(|d| *d < at) {
        out.push(format!("check for leaks overdue since {}", due.to_minute()));
    }
    let worst = u.annualised_pct.map_or(0.0, |(p, _)| p).max(u.rolling_pct.unwrap_or(0.0));
    if worst > REPORT_PCT {
        out.push(format!("loses {worst:.0} % of its charge a year: find the leak"));
    } else if worst > 10.0 {
        out.push(format!(
            "loses {worst:.0} % of its charge a year; 10 % is what class notations commonly allow \
             (from memory)"
        ));
    }
    let source = last_source(file, &u.unit);
    if let Some(words) = source.and_then(|s| servicing_words(&u.gas, s)) {
        out.push(words);
    }
    out
}

/// Where the gas last put into a unit came from; none where none was.
fn last_source(file: &GasFile, unit: &UnitId) -> Option<Option<record::gas::Source>> {
    let charged = file.standing().filter_map(|e| match &e.act {
        GasAct::Moved(t) if t.to.unit() == Some(unit) && t.reason != Reason::Transfer => Some(t),
        _ => None,
    });
    let last = charged.max_by_key(|t| t.at)?;
    Some(match &last.from {
        Holder::Cylinder(id) => file.cylinder(id).and_then(|c| c.source),
        _ => None,
    })
}
