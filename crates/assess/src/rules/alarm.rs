//! An alarm on the controller.

use record::{Finding, FindingKind, State};

use crate::defrost_words;
use crate::ground::Ground;
use crate::words::when;

/// Alarms older than this are not taken for present.
const FRESH_H: f64 = 24.0;

/// The finding, when the latest reading of any source shows an alarm. With other trouble found,
/// somebody has to look today.
pub fn finding(g: &Ground<'_>, others: &[Finding]) -> Option<Finding> {
    let mut heard: Vec<&str> = Vec::new();
    let mut found = None;
    for r in g.rows.iter().rev().filter(|r| r.has_observation()) {
        if g.age_h(r.at) > FRESH_H {
            break;
        }
        if heard.contains(&&*r.source) {
            continue;
        }
        heard.push(&r.source);
        if let Some(alarm) = r.alarm.as_deref().filter(|a| !a.trim().is_empty()) {
            found = Some((r, alarm));
            break;
        }
    }
    let (latest, alarm) = found?;
    let since = g
        .rows
        .iter()
        .rev()
        .filter(|r| r.source == latest.source)
        .take_while(|r| r.alarm.as_deref() == Some(alarm))
        .last()
        .map(|r| r.at);
    // What was found from these very words is no second sign.
    let of_defrost = defrost_words::said(alarm).is_some();
    let beside = |f: &&Finding| !(of_defrost && f.kind == FindingKind::LongDefrost);
    let trouble = others.iter().filter(beside).any(|f| f.state >= State::Watch);
    Some(Finding {
        kind: FindingKind::Alarm,
        state: if trouble { State::Act } else { State::Watch },
        what: format!(
            "The controller shows alarm {} since {}.",
            alarm.trim(),
            when(since.unwrap_or(latest.at))
        ),
        action: "Look the alarm up in the maker's manual before clearing it; note when it comes \
                 back."
            .to_owned(),
        since,
    })
}
