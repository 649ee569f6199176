//! Rounds that were missed.

use record::{Channel, Finding, FindingKind, Reading, State};

use crate::ground::Ground;
use crate::words::when;

/// A box is to be read at least this often (Australian code of practice 2007 §10.6).
pub const UNREAD_H: f64 = 12.0;

/// The finding, when the box was not read for long or never.
pub fn finding(g: &Ground<'_>) -> Option<Finding> {
    let Some(last) = g.last_read_at() else {
        return never(g);
    };
    let unread_h = g.age_h(last);
    if unread_h <= UNREAD_H {
        return no_temperature(g);
    }
    (unread_h > UNREAD_H).then(|| Finding {
        kind: FindingKind::MissedRound,
        state: State::Watch,
        what: format!("Nothing read for {unread_h:.0} h; last read {}.", when(last)),
        action: "Read it now; if weather kept you off deck, write that down.".to_owned(),
        since: Some(last),
    })
}

/// Somebody was there, but no temperature was written down for a round.
fn no_temperature(g: &Ground<'_>) -> Option<Finding> {
    const AIR_AND_PROBES: [Channel; 6] = [
        Channel::Supply,
        Channel::Return,
        Channel::Probe1,
        Channel::Probe2,
        Channel::Probe3,
        Channel::Probe4,
    ];
    if g.power_lost().is_some() {
        return None;
    }
    let with_air = |r: &&&Reading| AIR_AND_PROBES.iter().any(|c| r.get(*c).is_some());
    let last = g.rows.iter().rev().find(with_air).map(|r| r.at);
    let what = match last {
        Some(t) if g.age_h(t) <= UNREAD_H => return None,
        Some(t) => format!("It is read, but no temperature since {}.", when(t)),
        // Once or twice may be all that could be read in passing.
        None if g.rows.len() < 3 => return None,
        None => "It is read, but no temperature was ever noted.".to_owned(),
    };
    Some(Finding {
        kind: FindingKind::MissedRound,
        state: State::Watch,
        what,
        action: "Read set point, supply and return air on the display and write them down."
            .to_owned(),
        since: last,
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
