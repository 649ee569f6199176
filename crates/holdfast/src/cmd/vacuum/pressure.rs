//! `holdfast vacuum nitrogen` and `holdfast vacuum standing`: judging, printing, keeping.

use std::fmt::Write as _;

use fluids::{FluidError, Refrigerant};
use record::Act;
use serde_json::{Value, json};
use units::math::round_to;
use vacuum::nitrogen::{PressureResult, PressureTest, PressureVerdict, pressure_test};
use vacuum::standing::{Standing, StandingResult, StandingVerdict, standing_test};
use vacuum::told::{self, Caution, sentence};
use voyage::Voyage;
use voyage::pressure::{nitrogen_act, standing_act};

use super::siblings::Keep;
use crate::fail::Fail;
use crate::{files, out};

/// Judges a nitrogen test; exit status 0 only where no fall was seen.
pub fn nitrogen(t: &PressureTest, keep: Option<&Keep>, as_json: bool) -> Result<u8, Fail> {
    let refuse = |e: FluidError| Fail::refused(format!("vacuum nitrogen: {e}"));
    let r = pressure_test(t).map_err(refuse)?;
    let act = keep.map(|k| nitrogen_act(k.head.clone(), t)).transpose().map_err(refuse)?;
    let kept = entered(keep, act)?;
    let answer = Answer {
        json: nitrogen_json(&r),
        cautions: &told::PRESSURE_TEST,
        told: told::nitrogen(t, &r),
    };
    answer.print(kept, as_json)?;
    Ok(if r.verdict() == PressureVerdict::NoFallSeen { 0 } else { 3 })
}

/// Judges a standing pressure; exit status 3 unless it agrees with saturation.
pub fn standing(fluid: &str, s: &Standing, keep: Option<&Keep>, as_json: bool) -> Result<u8, Fail> {
    let refuse = |e: FluidError| Fail::refused(format!("vacuum standing: {e}"));
    let fluid = Refrigerant::named(fluid).map_err(refuse)?;
    let r = standing_test(fluid, s).map_err(refuse)?;
    let act = keep.map(|k| standing_act(k.head.clone(), fluid, s)).transpose().map_err(refuse)?;
    let kept = entered(keep, act)?;
    let answer = Answer {
        json: standing_json(fluid, &r),
        cautions: &told::STANDING_CHARGE,
        told: told::standing(fluid, s, &r),
    };
    answer.print(kept, as_json)?;
    Ok(if r.verdict == StandingVerdict::Consistent { 0 } else { 3 })
}

/// Enters a test to be kept.
fn entered(keep: Option<&Keep>, act: Option<Act>) -> Result<Option<Kept>, Fail> {
    let (Some(keep), Some(act)) = (keep, act) else { return Ok(None) };
    let mut voyage: Voyage = files::open_voyage(keep.voyage.as_deref())?;
    let wrong = voyage.named_instruments_wrong(&keep.head.gauge, keep.head.at);
    Ok(Some(Kept { seq: voyage.enter(&act, &[], &keep.who, files::now())?, wrong }))
}

/// A test that was entered.
struct Kept {
    /// The number of its entry.
    seq: i64,
    /// What is wrong with the gauge that it names.
    wrong: Vec<String>,
}

/// What is printed.
struct Answer<'a> {
    json: Value,
    cautions: &'a [Caution],
    told: Vec<String>,
}

impl Answer<'_> {
    fn print(self, kept: Option<Kept>, as_json: bool) -> Result<(), Fail> {
        let cautions: Vec<String> = self.cautions.iter().map(sentence).collect();
        if as_json {
            let mut json = self.json;
            if let Value::Object(map) = &mut json {
                map.insert("told".into(), json!(self.told));
                map.insert("kept".into(), json!(kept.is_some()));
                map.insert("entry".into(), json!(kept.as_ref().map(|k| k.seq)));
                map.insert("instruments".into(), json!(kept.map(|k| k.wrong).unwrap_or_default()));
                map.insert("cautions".into(), json!(cautions));
            }
            return out::print_json(&json);
        }
        let mut t = String::from("Mind:\n");
        for c in &cautions {
            let _ = writeln!(t, "  - {c}");
        }
        let wrong = kept.as_ref().map_or(&[][..], |k| k.wrong.as_slice());
        let _ = write!(t, "\n{}{}", out::instruments_wrong(wrong), self.told.join("\n"));
        if let Some(Kept { seq, .. }) = kept {
            let _ = write!(t, "\n\nKept and signed in the voyage file, entry {seq}.");
        }
        out::print(t)
    }
}

fn kpa(pa: f64) -> f64 {
    round_to(pa / 1e3, 3)
}

fn nitrogen_json(r: &PressureResult) -> Value {
    let grams = vacuum::nitrogen::nitrogen_grams_per_year(r.smallest_pa_m3_s);
    json!({
        "verdict": r.verdict().as_str(),
        "expected_kpa": kpa(r.expected_pa),
        "fall_kpa": kpa(r.fall_pa),
        "fall_kpa_p90": r.fall_pa_p90.map(kpa),
        "leak_pa_m3_s": r.leak_pa_m3_s,
        "leak_pa_m3_s_p90": r.leak_pa_m3_s_p90,
        "smallest_seen_pa_m3_s": r.smallest_pa_m3_s,
        "smallest_seen_g_per_year": round_to(grams, 3),
    })
}

fn standing_json(fluid: &Refrigerant, r: &StandingResult) -> Value {
    json!({
        "fluid": fluid.name(),
        "verdict": r.verdict.as_str(),
        "saturation_kpa": kpa(r.p_sat_pa),
        "excess_kpa": kpa(r.excess_pa),
        "excess_kpa_p90": r.excess_pa_p90.map(kpa),
        "excess_k": round_to(r.excess_k, 3),
        "smallest_seen_kpa": kpa(r.smallest_pa),
        "air_g": r.air_g.map(|g| round_to(g, 2)),
    })
}
