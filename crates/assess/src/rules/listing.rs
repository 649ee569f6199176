//! What the list leaves open: no set point, nobody knows whether it is full, not on the list.

use record::{Finding, FindingKind, State};

use crate::ground::Ground;

/// Findings about the list.
pub fn findings(g: &Ground<'_>) -> Vec<Finding> {
    let Some(listed) = g.listed else {
        return not_listed(g).into_iter().collect();
    };
    if !listed.thermal || g.ordered_c.is_some() || listed.full == Some(false) {
        return Vec::new();
    }
    let (state, what) = match listed.full {
        Some(true) => {
            (State::Act, "Full, refrigerated, and the loading list orders no temperature.")
        }
        _ => (
            State::Watch,
            "Refrigerated, no temperature ordered, and the loading list does not say whether \
             it is full.",
        ),
    };
    vec![Finding {
        kind: FindingKind::NoSetPoint,
        state,
        what: what.to_owned(),
        action: "Ask the planner for the carriage temperature in writing; until then do not \
                 take it for a box that may stay off."
            .to_owned(),
        since: None,
    }]
}

fn not_listed(g: &Ground<'_>) -> Option<Finding> {
    let first = g.rows.first()?;
    Some(Finding {
        kind: FindingKind::NotListed,
        state: State::Watch,
        what: "It was read but stands on no loading list; it is judged by its display's set \
               point alone."
            .to_owned(),
        action: "Check the number on the door against the list; load the list that names it."
            .to_owned(),
        since: Some(first.at),
    })
}
