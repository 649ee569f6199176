//! What the tests build checks from: a rule to vary, and readings hour by hour.

use treatment::{Answer, Calibration, Decimal, Decision, Ledger, Row, Schedule, TempUnit};
use units::Utc;

/// The contract's example schedule, field by field, to be varied.
#[derive(Debug, Clone)]
pub struct Rule(pub Vec<(String, String)>, pub Vec<(String, String)>);

impl Rule {
    /// 14 days at 1.11 °C, three probes, an hour between readings, an official decides.
    pub fn new() -> Self {
        let pairs = [
            ("id", "\"example-14d\""),
            ("title", "\"example\""),
            ("source", "\"a test\""),
            ("evidence", "\"official\""),
            ("unit", "\"c\""),
            ("hold_max", "1.11"),
            ("days", "14"),
            ("pulp_probes_min", "3"),
            ("extra_probes_must_comply", "true"),
            ("gap_max_minutes", "60"),
            ("gap_jitter_s", "0"),
            ("calibration_correction", "true"),
            ("on_excursion", "\"invalid_unless_verified\""),
            ("on_step", "\"invalid_unless_verified\""),
            ("on_gap", "\"invalid_unless_verified\""),
            ("on_fault", "\"invalid_unless_verified\""),
            ("fault_hours", "0"),
        ];
        let own = |(k, v): (&str, &str)| (k.to_owned(), v.to_owned());
        Self(pairs.into_iter().map(own).collect(), Vec::new())
    }

    /// The same with one field changed or added.
    pub fn with(mut self, field: &str, value: impl ToString) -> Self {
        self.0.retain(|(k, _)| k != field);
        self.0.push((field.to_owned(), value.to_string()));
        self
    }

    /// A policy word.
    pub fn policy(self, field: &str, word: &str) -> Self {
        self.with(field, format!("\"{word}\""))
    }

    pub fn without(mut self, field: &str) -> Self {
        self.0.retain(|(k, _)| k != field);
        self
    }

    /// With the extension rule of the contract's example.
    pub fn extending(self, soft: &str, fraction: &str, hard: &str) -> Self {
        let mut out = self.policy("on_excursion", "extend");
        out.1 = [("soft_max", soft), ("fraction_of_day", fraction), ("hard_max", hard)]
            .map(|(k, v)| (k.to_owned(), v.to_owned()))
            .to_vec();
        out
    }

    pub fn toml(&self) -> String {
        let line = |(k, v): &(String, String)| format!("{k} = {v}\n");
        let mut text: String = self.0.iter().map(line).collect();
        if !self.1.is_empty() {
            text += "[extend]\n";
            text.extend(self.1.iter().map(line));
        }
        text
    }

    pub fn schedule(&self) -> Schedule {
        Schedule::from_toml(&self.toml(), "rule.toml").unwrap_or_else(|e| panic!("{e}"))
    }

    pub fn check(&self, rows: &[Row]) -> Answer {
        check(&self.schedule(), None, rows)
    }

    pub fn ledger(&self, rows: &[Row]) -> Ledger {
        treatment::evaluate(&self.schedule(), None, [TempUnit::C; 4], rows, &[])
    }

    pub fn decided(&self, rows: &[Row], decisions: &[Decision]) -> Answer {
        treatment::evaluate(&self.schedule(), None, [TempUnit::C; 4], rows, decisions)
            .answer("QQQU1000011")
    }
}

pub fn check(schedule: &Schedule, calibration: Option<&Calibration>, rows: &[Row]) -> Answer {
    in_units(schedule, calibration, [TempUnit::C; 4], rows)
}

pub fn in_units(
    schedule: &Schedule,
    calibration: Option<&Calibration>,
    units: [TempUnit; 4],
    rows: &[Row],
) -> Answer {
    treatment::evaluate(schedule, calibration, units, rows, &[]).answer("QQQU1000011")
}

pub fn slurry(unit: TempUnit, readings: &[(usize, &str)]) -> Calibration {
    let mut c = Calibration::new(unit);
    for (probe, text) in readings {
        c.add(*probe, d(text)).unwrap();
    }
    c
}

pub fn d(text: &str) -> Decimal {
    Decimal::parse(text).unwrap()
}

/// Hour `h` of the tests' voyage, midnight UTC being hour 0.
pub fn hour(h: f64) -> Utc {
    Utc::parse("2026-03-01T00:00:00Z").unwrap().plus_hours(h)
}

/// A row: cells as written, empty text for an empty cell.
pub fn row(h: f64, cells: &[&str]) -> Row {
    let mut probes = [None; 4];
    for (slot, text) in probes.iter_mut().zip(cells) {
        *slot = (!text.is_empty()).then(|| d(text));
    }
    Row { at: hour(h), probes }
}

/// Hourly rows `0..=last`, three probes at 0.9, with `odd` rows in place of theirs.
pub fn hourly(last: u32, odd: &[(u32, [&str; 3])]) -> Vec<Row> {
    (0..=last)
        .map(|h| {
            let cells = odd.iter().find(|(k, _)| *k == h).map_or(["0.9"; 3], |(_, c)| *c);
            row(f64::from(h), &cells)
        })
        .collect()
}

/// `kind probe from-to effect` of every breach, hours from midnight.
pub fn listed(a: &Answer) -> Vec<String> {
    let h = |at: Utc| at.hours_since(hour(0.0));
    a.breaches
        .iter()
        .map(|b| {
            format!(
                "{} {} {}-{} {}",
                b.kind.as_str(),
                b.probe.as_deref().unwrap_or("-"),
                h(b.from_at),
                h(b.to_at),
                b.effect.as_str()
            )
        })
        .collect()
}

/// An instant as hours from midnight.
pub fn hours(at: Option<Utc>) -> Option<f64> {
    at.map(|t| t.hours_since(hour(0.0)))
}
