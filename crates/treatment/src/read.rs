//! From the text of a schedule file to a [`Schedule`], or to one line saying what to mend.

use std::fmt;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::exact::Decimal;
use crate::policy::Policy;
use crate::schedule::{Evidence, Extend, Position, Schedule, TempUnit};
use crate::slips::{distance, plain_number, shown};

/// Why a text is no schedule. Displays as one line: file and line, field, what, what to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ScheduleProblem {
    /// File as named by the user.
    pub file: String,
    /// Line, where one is to blame.
    pub line: Option<usize>,
    /// Field, where one is to blame.
    pub field: Option<String>,
    /// What is wrong.
    pub what: String,
    /// What to do.
    pub what_to_do: String,
}

impl fmt::Display for ScheduleProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.file)?;
        if let Some(line) = self.line {
            write!(f, ":{line}")?;
        }
        f.write_str(": ")?;
        if let Some(field) = &self.field {
            write!(f, "{field}: ")?;
        }
        write!(f, "{}; {}", self.what, self.what_to_do)
    }
}

impl std::error::Error for ScheduleProblem {}

/// Fields a schedule may have. Others are kept out of it, and named when they look like a slip.
const KNOWN: [&str; 36] = [
    "id",
    "title",
    "source",
    "evidence",
    "unit",
    "hold_max",
    "hold_min",
    "start_max",
    "days",
    "pulp_probes_min",
    "extra_probes_must_comply",
    "step_max",
    "gap_max_minutes",
    "gap_jitter_s",
    "calibration_limit",
    "calibration_correction",
    "on_excursion",
    "on_step",
    "on_gap",
    "on_fault",
    "on_cold",
    "fault_hours",
    "extend",
    "printed_threshold",
    "commodity",
    "pest",
    "note",
    "precool_max",
    "precool_reject_over",
    "positions",
    "paragraphs",
    "valid_from",
    "valid_to",
    "importer",
    "exporter",
    "code",
];

const EXTEND_KNOWN: [&str; 3] = ["soft_max", "fraction_of_day", "hard_max"];

/// One table of the file with what is needed to complain about it.
struct Fields<'t, 'i> {
    file: &'t str,
    text: &'t str,
    /// `extend.` inside that table.
    prefix: &'static str,
    table: &'t DeTable<'i>,
}

type Found<T> = Result<T, ScheduleProblem>;

impl Schedule {
    /// Reads a schedule. `file` is the name used in messages.
    ///
    /// # Errors
    /// [`ScheduleProblem`] for the first field that is missing or impossible.
    pub fn from_toml(text: &str, file: &str) -> Found<Self> {
        let parsed = DeTable::parse(text).map_err(|e| ScheduleProblem {
            file: file.to_owned(),
            line: e.span().map(|s| line_of(text, s.start)),
            field: None,
            what: format!("is no TOML ({})", one_line(e.message())),
            what_to_do: "mend that line; docs/treatment.md shows a schedule".into(),
        })?;
        let f = Fields { file, text, prefix: "", table: parsed.get_ref() };
        let mut s = f.schedule()?;
        f.check(&mut s)?;
        Ok(s)
    }
}

fn line_of(text: &str, byte: usize) -> usize {
    text.bytes().take(byte).filter(|b| *b == b'\n').count() + 1
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

impl<'t, 'i> Fields<'t, 'i> {
    fn schedule(&self) -> Found<Schedule> {
        let mut warnings = self.slips(&KNOWN);
        let hold_max = self.needed_number("hold_max", "the warmest pulp that complies")?;
        let evidence = self.evidence(&mut warnings)?;
        let id = self.needed_text("id", "a short name, unique among schedules")?;
        for field in ["title", "source"] {
            if self.table.get(field).is_none() {
                warnings.push(format!(
                    "{}: {field} is missing; write it, so that a reader can check the rule",
                    self.file
                ));
            }
        }
        Ok(Schedule {
            title: self.text("title")?.unwrap_or_else(|| id.clone()),
            source: self.text("source")?.unwrap_or_else(|| "not said".into()),
            id,
            evidence,
            printed_threshold: self.text("printed_threshold")?,
            commodity: self.text("commodity")?,
            pest: self.text("pest")?,
            note: self.text("note")?,
            unit: self.unit()?,
            hold_max,
            hold_min: self.number("hold_min")?,
            start_max: self.number("start_max")?.unwrap_or(hold_max),
            days: self.needed_number("days", "the days of 24 h that the rule asks for")?,
            pulp_probes_min: self.probes_min()?,
            extra_probes_must_comply: self.switch("extra_probes_must_comply")?.unwrap_or(true),
            step_max: self.number("step_max")?,
            gap_max_minutes: self
                .needed_number("gap_max_minutes", "the longest time between two readings")?,
            gap_jitter_s: self.number_or_zero("gap_jitter_s")?,
            calibration_limit: self.number("calibration_limit")?,
            calibration_correction: self.switch("calibration_correction")?.unwrap_or(true),
            on_excursion: self.policy("on_excursion", true, &mut warnings)?,
            on_step: self.policy("on_step", self.has("step_max"), &mut warnings)?,
            on_gap: self.policy("on_gap", true, &mut warnings)?,
            on_fault: self.policy("on_fault", true, &mut warnings)?,
            on_cold: self
                .word("on_cold")?
                .map_or(Ok(Policy::Warn), |w| self.known("on_cold", w))?,
            fault_hours: self.number_or_zero("fault_hours")?,
            extend: self.extend(&mut warnings)?,
            precool_max: self.number("precool_max")?,
            precool_reject_over: self.number("precool_reject_over")?,
            positions: self.positions()?,
            paragraphs: self.paragraphs()?,
            warnings,
        })
    }

    /// What each field allows alone is settled; here is what they say together.
    fn check(&self, s: &mut Schedule) -> Found<()> {
        let zero = Decimal::new(0, 0).unwrap_or(s.days);
        if s.days <= zero {
            return Err(self.bad("days", "must be more than 0", "write the days of the rule"));
        }
        for (field, value) in [
            ("gap_max_minutes", Some(s.gap_max_minutes)),
            ("gap_jitter_s", Some(s.gap_jitter_s)),
            ("fault_hours", Some(s.fault_hours)),
            ("step_max", s.step_max),
            ("calibration_limit", s.calibration_limit),
            ("precool_reject_over", s.precool_reject_over),
        ] {
            if value.is_some_and(|v| v < zero) {
                return Err(self.bad(field, "is negative", "write 0 or more"));
            }
        }
        if s.gap_max_minutes == zero {
            return Err(self.bad("gap_max_minutes", "is 0", "write the minutes the rule allows"));
        }
        if s.start_max > s.hold_max {
            let what = format!("{} is above hold_max {}", s.start_max, s.hold_max);
            return Err(self.bad("start_max", &what, "a clock cannot start outside its limit"));
        }
        if s.hold_min.is_some_and(|low| low > s.start_max) {
            let what = "is above the temperature the clock starts at";
            return Err(self.bad("hold_min", what, "write the cold side below start_max"));
        }
        self.check_policies(s)
    }

    fn check_policies(&self, s: &mut Schedule) -> Found<()> {
        for (field, policy) in [
            ("on_step", s.on_step),
            ("on_gap", s.on_gap),
            ("on_fault", s.on_fault),
            ("on_cold", s.on_cold),
        ] {
            if policy == Policy::Extend {
                let what = "\"extend\" counts warm days, so it can only stand with on_excursion";
                return Err(self.bad(field, what, &format!("write {}", words(field))));
            }
        }
        match (s.on_excursion == Policy::Extend, s.extend) {
            (true, None) => Err(self.bad(
                "on_excursion",
                "is \"extend\" but there is no [extend] table",
                "add [extend] with soft_max, fraction_of_day and hard_max",
            )),
            (true, Some(e)) if e.hard_max < s.start_max => {
                let what = "hard_max is below start_max";
                Err(self.bad("extend", what, "a clock would be cancelled as it starts; mend one"))
            }
            (false, Some(_)) => {
                s.warnings.push(format!(
                    "{}: [extend] has no part while on_excursion is \"{}\"",
                    self.file,
                    s.on_excursion.as_str()
                ));
                Ok(())
            }
            _ => Ok(()),
        }
    }

    fn extend(&self, warnings: &mut Vec<String>) -> Found<Option<Extend>> {
        let Some(value) = self.table.get("extend") else { return Ok(None) };
        let Some(table) = value.get_ref().as_table() else {
            return Err(self.wrong_type("extend", value, "a table, [extend]"));
        };
        let inner = Fields { prefix: "extend.", table, ..*self };
        warnings.extend(inner.slips(&EXTEND_KNOWN));
        let e = Extend {
            soft_max: inner.needed_number("soft_max", "a day over this counts")?,
            fraction_of_day: inner.needed_number("fraction_of_day", "what such a day adds")?,
            hard_max: inner.needed_number("hard_max", "a reading over this cancels")?,
        };
        let zero = Decimal::new(0, 0).unwrap_or(e.soft_max);
        if e.fraction_of_day < zero {
            return Err(inner.bad("fraction_of_day", "is negative", "write a part of a day"));
        }
        if e.soft_max > e.hard_max {
            return Err(inner.bad("soft_max", "is above hard_max", "exchange the two"));
        }
        Ok(Some(e))
    }

    fn evidence(&self, warnings: &mut Vec<String>) -> Found<Evidence> {
        let all = [Evidence::Official, Evidence::Secondary, Evidence::Unverified];
        let Some(word) = self.word("evidence")? else {
            warnings.push(format!(
                "{}: evidence is missing; taken as unverified, for rehearsal only",
                self.file
            ));
            return Ok(Evidence::Unverified);
        };
        all.into_iter().find(|e| e.as_str() == word).ok_or_else(|| {
            let what = format!("\"{}\" is no trust mark", shown(word));
            self.bad("evidence", &what, "write official, secondary or unverified")
        })
    }

    fn unit(&self) -> Found<TempUnit> {
        match self.word("unit")? {
            Some("c") => Ok(TempUnit::C),
            Some("f") => Ok(TempUnit::F),
            Some(other) => {
                let what = format!("\"{}\" is no unit of a schedule", shown(other));
                Err(self.bad("unit", &what, "write \"c\" or \"f\", as the rule is published"))
            }
            None => Err(self.bad("unit", "is missing", "write \"c\" or \"f\"")),
        }
    }

    fn probes_min(&self) -> Found<u8> {
        let n = self.needed_number("pulp_probes_min", "how many pulp probes the rule asks for")?;
        (1..=crate::PROBES as u8)
            .find(|k| Decimal::new(i64::from(*k), 0) == Some(n))
            .ok_or_else(|| self.bad("pulp_probes_min", &format!("is {n}"), "write 1, 2, 3 or 4"))
    }

    /// A policy; without it an official decides, and the file is told so.
    fn policy(&self, field: &str, matters: bool, warnings: &mut Vec<String>) -> Found<Policy> {
        if let Some(word) = self.word(field)? {
            return self.known(field, word);
        }
        if matters {
            warnings.push(format!(
                "{}: {field} is missing; taken as invalid_unless_verified",
                self.file
            ));
        }
        Ok(Policy::InvalidUnlessVerified)
    }

    fn known(&self, field: &str, word: &str) -> Found<Policy> {
        Policy::parse(word).ok_or_else(|| {
            let what = format!("\"{}\" is no policy", shown(word));
            self.bad(field, &what, &format!("write {}", words(field)))
        })
    }

    fn positions(&self) -> Found<Vec<Position>> {
        let Some(value) = self.table.get("positions") else { return Ok(Vec::new()) };
        let wrong = || self.wrong_type("positions", value, "[[positions]] with probe and place");
        let list = value.get_ref().as_array().ok_or_else(wrong)?;
        let mut out = Vec::new();
        for item in list.iter() {
            let table = item.get_ref().as_table().ok_or_else(wrong)?;
            let inner = Fields { prefix: "positions.", table, ..*self };
            out.push(Position {
                probe: inner.needed_text("probe", "which probe this is")?,
                place: inner.needed_text("place", "where it goes")?,
            });
        }
        Ok(out)
    }

    fn paragraphs(&self) -> Found<Vec<(String, String)>> {
        let Some(value) = self.table.get("paragraphs") else { return Ok(Vec::new()) };
        let Some(table) = value.get_ref().as_table() else {
            return Err(self.wrong_type("paragraphs", value, "a table, [paragraphs]"));
        };
        let inner = Fields { prefix: "paragraphs.", table, ..*self };
        let mut out = Vec::new();
        for key in table.keys() {
            let subject = key.get_ref().to_string();
            if let Some(text) = inner.text(&subject)? {
                out.push((subject, text));
            }
        }
        Ok(out)
    }

    fn has(&self, field: &str) -> bool {
        self.table.get(field).is_some()
    }

    fn word(&self, field: &str) -> Found<Option<&'t str>> {
        let Some(value) = self.table.get(field) else { return Ok(None) };
        match value.get_ref().as_str() {
            Some(text) => Ok(Some(text)),
            None => Err(self.wrong_type(field, value, "a text in quotes")),
        }
    }

    fn text(&self, field: &str) -> Found<Option<String>> {
        Ok(self.word(field)?.map(str::to_owned))
    }

    fn needed_text(&self, field: &str, meaning: &str) -> Found<String> {
        match self.word(field)? {
            Some(t) if !t.trim().is_empty() => Ok(t.to_owned()),
            Some(_) => Err(self.bad(field, "is empty", &format!("write {meaning}"))),
            None => Err(self.bad(field, "is missing", &format!("write {meaning}"))),
        }
    }

    fn switch(&self, field: &str) -> Found<Option<bool>> {
        let Some(value) = self.table.get(field) else { return Ok(None) };
        match value.get_ref().as_bool() {
            Some(b) => Ok(Some(b)),
            None => Err(self.wrong_type(field, value, "true or false, without quotes")),
        }
    }

    fn needed_number(&self, field: &str, meaning: &str) -> Found<Decimal> {
        let what_to_do = format!("write {field} = a number: {meaning}");
        self.number(field)?.ok_or_else(|| self.bad(field, "is missing", &what_to_do))
    }

    fn number_or_zero(&self, field: &str) -> Found<Decimal> {
        let zero = Decimal::new(0, 0);
        match self.number(field)? {
            Some(v) => Ok(v),
            None => zero.ok_or_else(|| self.bad(field, "is missing", "write 0")),
        }
    }

    /// A number as written in the file, never through a floating-point value.
    fn number(&self, field: &str) -> Found<Option<Decimal>> {
        let Some(value) = self.table.get(field) else { return Ok(None) };
        let written = match value.get_ref() {
            DeValue::Integer(i) if i.radix() == 10 => i.as_str(),
            DeValue::Float(x) => x.as_str(),
            _ => return Err(self.wrong_type(field, value, "a number, without quotes")),
        };
        let plain = Decimal::parse_rule(&plain_number(written)).ok();
        match plain {
            Some(v) if v.to_f64().abs() <= LARGEST => Ok(Some(v)),
            _ => {
                let what = format!("\"{}\" is no number that can be kept exactly", shown(written));
                Err(self.bad(field, &what, "write a plain decimal of at most 17 digits"))
            }
        }
    }

    fn wrong_type(
        &self,
        field: &str,
        value: &Spanned<DeValue<'_>>,
        wanted: &str,
    ) -> ScheduleProblem {
        let what = format!("is of type {}", value.get_ref().type_str());
        self.bad(field, &what, &format!("write {wanted}"))
    }

    fn bad(&self, field: &str, what: &str, what_to_do: &str) -> ScheduleProblem {
        let line = self.table.get(field).map(|v| line_of(self.text, v.span().start));
        ScheduleProblem {
            file: self.file.to_owned(),
            line,
            field: Some(format!("{}{field}", self.prefix)),
            what: what.to_owned(),
            what_to_do: what_to_do.to_owned(),
        }
    }

    /// Unknown fields that are nearly a known one.
    fn slips(&self, known: &[&str]) -> Vec<String> {
        let mut out = Vec::new();
        for key in self.table.keys() {
            let name: &str = key.get_ref();
            if known.contains(&name) {
                continue;
            }
            let near = known.iter().find(|k| distance(name, k) <= 2.min(k.len() / 2));
            if let Some(near) = near {
                out.push(format!(
                    "{}:{}: {}{name} is not known; did you mean {near}?",
                    self.file,
                    line_of(self.text, key.span().start),
                    self.prefix
                ));
            }
        }
        out
    }
}

/// Beyond this a figure of a schedule is a slip of the pen.
const LARGEST: f64 = 1.0e6;

fn words(field: &str) -> String {
    let all: Vec<&str> = Policy::ALL
        .iter()
        .filter(|p| field == "on_excursion" || **p != Policy::Extend)
        .map(|p| p.as_str())
        .collect();
    all.join(", ")
}
