//! `holdfast treatment schedules`

use serde_json::{Value, json};
use treatment::{Schedule, words};

use crate::fail::Fail;
use crate::out;

/// Lists the schedules that ship, with their trust marks.
pub fn run(as_json: bool) -> Result<u8, Fail> {
    let mut all = Vec::new();
    for s in treatment::shipped() {
        all.push(s.schedule().map_err(|e| Fail::refused(e.to_string()))?);
    }
    if as_json {
        let list: Vec<Value> = all.iter().map(line_json).collect();
        out::print_json(&json!({ "schedules": list }))?;
    } else {
        let lines: Vec<String> = all.iter().map(words::listed).collect();
        out::print(format!("{}\n{FOOT}", lines.join("\n")))?;
    }
    Ok(0)
}

const FOOT: &str = "official: read in the rule itself. secondary: read about the rule; compare with \
                    the authority's own text.\nREHEARSAL: no source was read, or the row is not \
                    whole; never for a real treatment. Rules change: check the date.";

fn line_json(s: &Schedule) -> Value {
    json!({
        "id": s.id,
        "title": s.title,
        "source": s.source,
        "evidence": s.evidence.as_str(),
        "rehearsal": s.is_rehearsal(),
        "printed_threshold": s.printed_threshold,
        "commodity": s.commodity,
        "pest": s.pest,
        "unit": s.unit.suffix(),
        "hold_max": s.hold_max.to_f64(),
        "days": s.days.to_f64(),
        "note": s.note,
    })
}
