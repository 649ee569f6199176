//! Rounds that were missed.

use record::{Finding, FindingKind, State};

use crate::ground::Ground;
use crate::words::when;

/// A box is to be read at least this often (Australian code of practice 2007 §10.6).
const UNREAD_H: f64 = 12.0;

/// The finding, when the box was not read for long or never.
pub fn finding(g: &Ground<'_>) -> Option<Finding> {
    let Some(last) = g.last_read_at() else {
        return never(g);
    };
    let unread_h = g.age_h(last);
    (unread_h > UNREAD_H).then(|| Finding {
        kind: FindingKind::MissedRound,
        state: State::Watch,
        what: format!("Nothing read for {unread_h:.0} h; last read {}.", when(last)),
        action: "Read it now; if weather kept you off deck, write that down.".to_owned(),
        since: Some(last),
    })
}

fn never(g: &Ground<'_>) -> Option<Finding> {
    let listed = g.listed.filter(|l| l.thermal)?;
    // No order and not said to be full: the missing order is the finding.
    if listed.full.is_none() && g.ordered_c.is_none() {
        return None;
    }
    Some(Finding {
        kind: FindingKind::NeverRead,
        state: State::Watch,
        what: "It is on the loading list and was never read.".to_owned(),
        action: "Find it, check that it is plugged in and running, and read it.".to_owned(),
        since: None,
    })
}
