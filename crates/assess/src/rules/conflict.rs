//! One instant, one source, two values.

use record::{Channel, Finding, FindingKind, Reading, State};

use crate::ground::Ground;
use crate::words::when;

/// Conflicts older than this have been seen.
const FRESH_H: f64 = 48.0;

/// The finding, for the latest conflict.
pub fn finding(g: &Ground<'_>) -> Option<Finding> {
    let rows = g.rows.as_slice();
    for (i, a) in rows.iter().enumerate().rev() {
        if g.age_h(a.at) > FRESH_H {
            break;
        }
        let earlier = rows.get(..i).unwrap_or(&[]);
        for b in earlier.iter().rev().take_while(|b| b.at == a.at) {
            if let Some((what, x, y)) = differs(b, a).filter(|_| a.source == b.source) {
                return Some(Finding {
                    kind: FindingKind::Conflict,
                    state: State::Watch,
                    what: format!(
                        "Two values for {what} at {} from the same source: {x} and {y}.",
                        when(a.at)
                    ),
                    action: "Find out which is right and write a remark; both are kept.".to_owned(),
                    since: Some(a.at),
                });
            }
        }
    }
    None
}

fn differs(a: &Reading, b: &Reading) -> Option<(String, String, String)> {
    for c in Channel::ALL {
        if let (Some(x), Some(y)) = (a.get(c), b.get(c))
            && x != y
        {
            return Some((c.column(), x.to_string(), y.to_string()));
        }
    }
    if let (Some(x), Some(y)) = (a.on_power, b.on_power)
        && x != y
    {
        return Some(("on_power".to_owned(), x.to_string(), y.to_string()));
    }
    match (a.mode, b.mode) {
        (Some(x), Some(y)) if x != y => {
            Some(("mode".to_owned(), x.as_str().to_owned(), y.as_str().to_owned()))
        }
        _ => None,
    }
}
