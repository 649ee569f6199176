//! What rules make of an amount: CO2-equivalent and leak-check intervals, as data with their trust
//! marks (reference/refrigeration-service.md §1.1, §6.4, §6.5).

use record::gas::Source;
use units::Utc;

/// How far a figure can be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Trust {
    /// Read in a stored copy of the text named.
    Verified,
    /// Computed from verified parts.
    Computed,
    /// From memory: shown as such, never a rule.
    Unverified,
}

/// Global warming potential over 100 years, on the basis the European rule names (AR4).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gwp {
    /// Gas.
    pub gas: &'static str,
    /// kg CO2 per kg.
    pub value: f64,
    /// How far it can be trusted.
    pub trust: Trust,
    /// Unsaturated HFC: its thresholds are in kg.
    pub hfo: bool,
}

/// Known gases.
pub const GWPS: [Gwp; 7] = [
    Gwp { gas: "R134a", value: 1430.0, trust: Trust::Verified, hfo: false },
    Gwp { gas: "R404A", value: 3922.0, trust: Trust::Verified, hfo: false },
    Gwp { gas: "R452A", value: 2140.0, trust: Trust::Computed, hfo: false },
    Gwp { gas: "R513A", value: 631.0, trust: Trust::Computed, hfo: false },
    Gwp { gas: "R744", value: 1.0, trust: Trust::Verified, hfo: false },
    Gwp { gas: "R290", value: 3.0, trust: Trust::Unverified, hfo: false },
    Gwp { gas: "R1234yf", value: 0.501, trust: Trust::Unverified, hfo: true },
];

/// GWP of a gas, where it is known here.
#[must_use]
pub fn gwp(gas: &str) -> Option<Gwp> {
    GWPS.into_iter().find(|g| g.gas == gas)
}

/// Tonnes of CO2-equivalent of a mass, kg.
#[must_use]
pub fn co2e_t(gas: &str, kg: f64) -> Option<f64> {
    Some(gwp(gas)?.value * kg / 1000.0)
}

/// How often a unit is to be checked for leaks under Regulation (EU) 2024/573 Art. 5.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CheckInterval {
    /// Months between checks; none: below the threshold or exempt.
    pub months: Option<u32>,
    /// Why.
    pub why: &'static str,
    /// Trust of the decisive figure: the 5 t threshold and the date from which container units
    /// are meant (12 March 2027) are from memory; the intervals were read.
    pub trust: Trust,
}

/// Interval for a charge. `sealed`: labelled hermetically sealed; `detection`: a leak detection
/// system is fitted. None when the gas is not known here.
#[must_use]
pub fn check_interval(gas: &str, kg: f64, sealed: bool, detection: bool) -> Option<CheckInterval> {
    let g = gwp(gas)?;
    // HFOs count in kg: 1, 2 (sealed), 10, 100; the others in t CO2e: 5, 10 (sealed), 50, 500.
    let (amount, [least, sealed_least, more, most]) = if g.hfo {
        (kg, [1.0, 2.0, 10.0, 100.0])
    } else {
        (co2e_t(gas, kg)?, [5.0, 10.0, 50.0, 500.0])
    };
    let none = |why| CheckInterval { months: None, why, trust: Trust::Unverified };
    if amount < least {
        return Some(none("below the threshold of 5 t CO2e or 1 kg HFO (from memory)"));
    }
    if sealed && amount < sealed_least {
        let why = "labelled hermetically sealed and below 10 t CO2e or 2 kg HFO";
        return Some(CheckInterval { trust: Trust::Verified, ..none(why) });
    }
    let base = if amount < more {
        12
    } else if amount < most {
        6
    } else {
        3
    };
    let months = if detection { base * 2 } else { base };
    let why = "Regulation (EU) 2024/573 Art. 5";
    Some(CheckInterval { months: Some(months), why, trust: Trust::Verified })
}

/// The same day and hour so many months later; the month's last day where it has no such day.
#[must_use]
pub fn months_later(at: Utc, months: u32) -> Option<Utc> {
    let (year, month, day, hour, minute, _) = at.civil();
    let ahead = i64::from(month) - 1 + i64::from(months);
    let (year, month) = (i64::from(year) + ahead / 12, ahead % 12 + 1);
    (0..4).find_map(|back| {
        let text =
            format!("{year:04}-{month:02}-{:02} {hour:02}:{minute:02}", i64::from(day) - back);
        Utc::parse(&text).ok()
    })
}

/// GWP from which new gas is barred for servicing under Regulation (EU) 2024/573 Art. 13.
const SERVICING_GWP: f64 = 2500.0;

/// What the European rule says about putting this gas into a unit; none where it says nothing.
/// That new gas is barred since 1 January 2025 is from memory; the end of recycled and reclaimed
/// gas on 1 January 2030 was read.
#[must_use]
pub fn servicing_words(gas: &str, source: Option<Source>) -> Option<String> {
    let value = gwp(gas)?.value;
    if value < SERVICING_GWP {
        return None;
    }
    let rule = format!("GWP of {gas} is {value:.0}; where Regulation (EU) 2024/573 applies");
    Some(match source {
        Some(Source::Virgin) => format!(
            "{rule}, newly made gas is barred for servicing since 1 January 2025 (date from memory)"
        ),
        Some(Source::Recycled | Source::Reclaimed) => {
            format!("{rule}, recycled and reclaimed gas is allowed until 1 January 2030")
        }
        None => format!(
            "{rule}, only recycled or reclaimed gas may be used; enter where the cylinder's gas \
             comes from"
        ),
    })
}
