//! What an official decided about a breach that only an official can settle.

use std::fmt;

use units::Utc;

use crate::policy::Kind;

/// An official's decision on breaches with the effect `invalid_unless_verified`. It covers the bad
/// readings from `from` to `to`, both included; a step or gap when both its readings lie there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Decision {
    /// The kind it speaks of; `None` is every kind.
    pub kind: Option<Kind>,
    /// The probe (1 to 4) it speaks of; `None` is every probe, and the gaps.
    pub probe: Option<u8>,
    /// First instant covered.
    pub from: Utc,
    /// Last instant covered.
    pub to: Utc,
    /// True: pulp was verified to have complied. False: refused, the clock starts again.
    pub verified: bool,
    /// The official: name and authority.
    pub who: String,
    /// When it was decided.
    pub decided_at: Utc,
    /// The document it stands in.
    pub document: String,
}

/// Why a decision cannot be used.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotDecisive {
    /// Nobody, or no document, is named.
    Unsigned,
    /// It ends before it begins.
    Backwards,
    /// No probe of that number.
    Probe,
}

impl fmt::Display for NotDecisive {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Unsigned => "a decision needs the official and the document; write both",
            Self::Backwards => "the decision ends before it begins; exchange from and to",
            Self::Probe => "the decision names no probe 1 to 4; write the probe's number",
        })
    }
}

impl Decision {
    /// Refuses a decision that nobody signed or that can mean nothing.
    ///
    /// # Errors
    /// [`NotDecisive`].
    pub fn check(&self) -> Result<(), NotDecisive> {
        if self.who.trim().is_empty() || self.document.trim().is_empty() {
            return Err(NotDecisive::Unsigned);
        }
        if self.to < self.from {
            return Err(NotDecisive::Backwards);
        }
        match self.probe {
            Some(0 | 5..) => Err(NotDecisive::Probe),
            _ => Ok(()),
        }
    }

    pub(crate) fn covers(&self, kind: Kind, probe: Option<usize>, from: i64, to: i64) -> bool {
        let kind_fits = self.kind.is_none_or(|k| k == kind);
        let number = probe.and_then(|i| u8::try_from(i + 1).ok());
        let probe_fits = self.probe.is_none_or(|p| Some(p) == number);
        kind_fits && probe_fits && self.from.ms() <= from && to <= self.to.ms()
    }
}

/// The decision that stands for bad readings from `from` to `to`: the latest that covers them.
pub(crate) fn standing(
    decisions: &[Decision],
    kind: Kind,
    probe: Option<usize>,
    from: i64,
    to: i64,
) -> Option<bool> {
    let latest = decisions.iter().rev().find(|d| d.covers(kind, probe, from, to));
    latest.map(|d| d.verified)
}
