//! The cargo itself over its limit, in a box whose air is not.

use record::{Finding, FindingKind, State};

use crate::forecast::{Forecast, Over};
use crate::ground::Ground;
use crate::words::{celsius, when};

/// The finding, when probes (or long air) put the cargo over its limit.
pub fn finding(g: &Ground<'_>, f: &Forecast) -> Option<Finding> {
    let over = f.over?;
    let cargo = f.cargo?;
    // Told from air alone, a small step over the limit is no more than the usual spread.
    if !cargo.by_probes && over == Over::Steady {
        return None;
    }
    let limit = g.limits.warm.as_ref()?;
    let source = if cargo.by_probes { "by its probes" } else { "told from its air" };
    let way = match over {
        Over::ComingDown => "and coming down",
        Over::Steady => "and steady",
    };
    Some(Finding {
        kind: FindingKind::OffSetPoint,
        state: if over == Over::Steady && cargo.temp_c >= limit.temp_c + 1.0 {
            State::Act
        } else {
            State::Watch
        },
        what: format!(
            "Cargo {} {source} is over its limit {} {way} (read {}).",
            celsius(cargo.temp_c),
            limit.text,
            when(cargo.at)
        ),
        action: match over {
            Over::ComingDown => {
                "Log probes and return air on every round and see that they go on falling."
            }
            Over::Steady => {
                "Compare the probes with a hand-held thermometer; report the figures and ask \
                 whether the cargo may stay so."
            }
        }
        .to_owned(),
        since: Some(cargo.at),
    })
}
