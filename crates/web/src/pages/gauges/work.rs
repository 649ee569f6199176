//! From what was written to what follows from it.

use std::collections::BTreeMap;

use circuit::derived::KEYS;
use circuit::picture::{Cycles, cycles};
use circuit::reading::Value;
use circuit::{Card, Diagnosis, Fault, Input};
use record::{GaugesEntry, GaugesRead, ToldFault, UnitId};
use serde_json::{Map, Value as Json};
use units::Utc;
use units::math::round_to;

use super::baseline::judged;
use super::fields::{Asked, Wrong, heard, in_words, named_first};

/// Shares below this are not told in the journal.
const TOLD_FROM: f64 = 0.02;

/// What came of the form.
pub enum Outcome {
    /// Nothing was asked.
    Empty,
    /// It cannot be judged.
    Refused(Vec<Wrong>),
    /// It was judged.
    Told(Box<Told>),
}

/// An answer.
pub struct Told {
    /// The readings.
    pub input: Input,
    /// The same as JSON.
    pub json: String,
    /// What follows.
    pub diagnosis: Diagnosis,
    /// Times of the earlier sound readings that it rests on.
    pub rests_on: Vec<Utc>,
    /// The cycle that fits best, and the sound one; none without a card.
    pub cycles: Option<Cycles>,
}

/// Judges what was asked on top of what the journal holds of the box. Takes some tenths of a
/// second.
#[must_use]
pub fn work_out(asked: &Asked, kept: &[GaugesEntry]) -> Outcome {
    if asked.is_empty() {
        return Outcome::Empty;
    }
    let values = match heard(asked) {
        Ok(values) => values,
        Err(wrong) => return Outcome::Refused(wrong),
    };
    let mut input = Input::default();
    let refusals = values.iter().filter_map(|(key, value)| input.put(key, value).err());
    let wrong: Vec<Wrong> = refusals.map(|e| placed(&e.0)).collect();
    if !wrong.is_empty() {
        return Outcome::Refused(wrong);
    }
    let cards: Vec<&Card> = Card::embedded().iter().collect();
    match judged(&mut input, kept, &cards) {
        Err(e) => Outcome::Refused(vec![placed(&e.0)]),
        Ok((diagnosis, rests_on)) => Outcome::Told(Box::new(Told {
            cycles: picture(&input, &diagnosis),
            json: as_json(&values),
            input,
            diagnosis,
            rests_on,
        })),
    }
}

/// A message of the engine at the field it begins with, in people's words.
fn placed(message: &str) -> Wrong {
    let key = named_first(message);
    let text = match key {
        Some(k) => message.strip_prefix(&format!("{k}:")).unwrap_or(message).trim(),
        None => message,
    };
    (key, format!("{}.", in_words(text).trim_end_matches('.')))
}

fn picture(input: &Input, d: &Diagnosis) -> Option<Cycles> {
    let card = Card::named(d.machine.as_deref()?)?;
    // The plate counts: another refrigerant may have been filled on purpose.
    let card = Card { fluid: input.fluid.clone(), ..card.clone() };
    let fault = d.faults.first().map_or(Fault::None, |f| f.fault);
    cycles(input, &card, d.mode?, fault)
}

fn as_json(values: &[(&'static str, Value)]) -> String {
    let json = |v: &Value| match v {
        Value::Number(n) => serde_json::Number::from_f64(*n).map_or(Json::Null, Json::Number),
        Value::Text(t) => Json::String(t.clone()),
        Value::Flag(b) => Json::Bool(*b),
        Value::Null | Value::Other => Json::Null,
    };
    let map: Map<String, Json> = values.iter().map(|(k, v)| ((*k).to_owned(), json(v))).collect();
    Json::Object(map).to_string()
}

/// The answer as it is kept in the journal.
#[must_use]
pub fn to_keep(told: &Told, asked: &Asked, unit: UnitId, at: Utc, note: String) -> GaugesRead {
    let read = as_told(&told.diagnosis, &told.rests_on, told.json.clone(), unit, at);
    GaugesRead { as_written: asked.written.clone(), note, ..read }
}

/// Readings (as JSON) and the answer to them, without what a person wrote beside.
#[must_use]
pub fn as_told(
    d: &Diagnosis,
    rests_on: &[Utc],
    input: String,
    unit: UnitId,
    at: Utc,
) -> GaugesRead {
    let shares = d.faults.iter().filter(|f| f.probability >= TOLD_FROM).map(|f| ToldFault {
        fault: f.fault.id().to_owned(),
        words: f.fault.words().to_owned(),
        probability: round_to(f.probability, 4),
        severity: f.severity.map(|s| round_to(s, 3)),
        severity_p90: f.severity_p90.map(|i| i.map(|s| round_to(s, 3))),
    });
    let value = |key: &str| {
        let e = d.derived.get(key)?;
        let [low, high] = e.p90;
        Some((key.to_owned(), [e.value, low, high].map(|v| round_to(v, 3))))
    };
    let derived: BTreeMap<String, [f64; 3]> = KEYS.into_iter().filter_map(value).collect();
    GaugesRead {
        unit,
        at,
        input,
        as_written: BTreeMap::new(),
        told: shares.collect(),
        derived,
        rests_on: rests_on.iter().map(|t| t.to_minute()).collect(),
        version: env!("CARGO_PKG_VERSION").to_owned(),
        note: String::new(),
    }
}
