//! Earlier readings of the same unit that were judged sound: they narrow what is expected of it.

use circuit::reading::Value;
use circuit::{Card, Diagnosis, Input, Refusal, diagnose};
use record::GaugesEntry;
use serde_json::{Map, Value as Json};
use units::Utc;

/// Most earlier readings used, the latest.
const MOST: usize = 6;

/// A value of stored JSON as the engine takes it.
fn plain(value: &Json) -> Value {
    match value {
        Json::Null => Value::Null,
        Json::Bool(b) => Value::Flag(*b),
        Json::Number(n) => n.as_f64().map_or(Value::Other, Value::Number),
        Json::String(t) => Value::Text(t.clone()),
        _ => Value::Other,
    }
}

/// Stored readings; none where a later program cannot take them any more.
fn stored(text: &str) -> Option<Input> {
    let map: Map<String, Json> = serde_json::from_str(text).ok()?;
    let mut input = Input::default();
    for (key, value) in &map {
        input.put(key, &plain(value)).ok()?;
    }
    Some(input)
}

/// Those of `kept` that a judge of `now` may rest on: the same machine and refrigerant, running,
/// `none` most probable as told then, and not these very readings.
#[must_use]
pub fn sound_before(kept: &[GaugesEntry], now: &Input) -> Vec<(Utc, Input)> {
    if now.machine.is_none() || !now.compressor_on {
        return Vec::new();
    }
    let one = |e: &GaugesEntry| {
        let sound = e.read.told.first().is_some_and(|t| t.fault == "none");
        let input = stored(&e.read.input).filter(|_| sound)?;
        let same = input.machine == now.machine
            && input.fluid == now.fluid
            && input.compressor_on
            && input.readings != now.readings;
        same.then_some((e.read.at, input))
    };
    let mut found: Vec<(Utc, Input)> = kept.iter().filter_map(one).collect();
    found.sort_by_key(|(at, _)| *at);
    found.split_off(found.len().saturating_sub(MOST))
}

/// Diagnoses `input` on top of what the journal holds of the unit; with the times of the earlier
/// readings that the answer rests on. Earlier readings that no sound machine fits are left out.
///
/// # Errors
/// [`Refusal`] when the readings cannot be used.
pub fn judged(
    input: &mut Input,
    kept: &[GaugesEntry],
    cards: &[&Card],
) -> Result<(Diagnosis, Vec<Utc>), Refusal> {
    let before = sound_before(kept, input);
    if !before.is_empty() {
        let (times, inputs): (Vec<Utc>, Vec<Input>) = before.into_iter().unzip();
        let own = std::mem::take(&mut input.baseline);
        input.baseline = own.iter().cloned().chain(inputs).collect();
        match diagnose(input, cards) {
            Err(e) if e.0.starts_with("baseline entry") => input.baseline = own,
            done => return done.map(|d| (d, times)),
        }
    }
    diagnose(input, cards).map(|d| (d, Vec::new()))
}

/// One line that says what an answer rests on; none when on these readings alone.
#[must_use]
pub fn rests_line(times: &[Utc]) -> Option<String> {
    let list: Vec<String> = times.iter().map(|t| t.to_minute()).collect();
    match list.as_slice() {
        [] => None,
        [one] => Some(format!("Rests also on one earlier reading judged sound: {one}.")),
        more => Some(format!(
            "Rests also on {} earlier readings judged sound: {}.",
            more.len(),
            more.join(", ")
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use record::{GaugesRead, ToldFault, UnitId};

    /// Readings of a sound unit: the R134a card's own [rating] point at 38 °C ambient, 8 °C return
    /// air, less one standard atmosphere.
    const SOUND: &str = r#"{"fluid":"R134a","machine":"generic-40ft-r134a","suction_kpag":126,
        "return_c":8,"ambient_c":38}"#;

    fn entry(input: &str, fault: &str) -> GaugesEntry {
        let at = Utc::parse("2026-03-20T10:00Z").unwrap();
        let told = ToldFault {
            fault: fault.to_owned(),
            words: fault.to_owned(),
            probability: 0.8,
            severity: None,
            severity_p90: None,
        };
        GaugesEntry {
            read: GaugesRead {
                unit: UnitId::from_text("QQQU1000011").unwrap(),
                at,
                input: input.to_owned(),
                as_written: Default::default(),
                told: vec![told],
                derived: Default::default(),
                rests_on: Vec::new(),
                version: String::new(),
                note: String::new(),
            },
            who: "A. Person".to_owned(),
            entered_at: at,
        }
    }

    #[test]
    fn only_sound_readings_of_the_same_machine_count() {
        let mut now = stored(SOUND).unwrap();
        let other = SOUND.replace("126", "131");
        assert_eq!(sound_before(&[entry(&other, "none")], &now).len(), 1);
        let not = [
            entry(SOUND, "none"),
            entry(&other, "undercharge"),
            entry(&other.replace("r134a", "r404a"), "none"),
            entry(&other.replace("R134a", "R513A"), "none"),
            entry(&other.replace("}", ",\"compressor_on\":false}"), "none"),
            entry("no JSON", "none"),
        ];
        assert!(sound_before(&not, &now).is_empty());
        now.machine = None;
        assert!(sound_before(&[entry(&other, "none")], &now).is_empty());
    }

    #[test]
    fn the_answer_says_what_it_rests_on() {
        let mut now = stored(SOUND).unwrap();
        let cards: Vec<&Card> = Card::embedded().iter().collect();
        let kept = [entry(&SOUND.replace("126", "131"), "none")];
        let (_, times) = judged(&mut now, &kept, &cards).unwrap();
        assert_eq!(times, [kept[0].read.at]);
        assert!(rests_line(&times).unwrap().contains("2026-03-20"));
        assert_eq!(rests_line(&[]), None);
    }
}
