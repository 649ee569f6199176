//! What one reading time brought to light.

use crate::PROBES;
use crate::policy::Kind;

/// A small set of (kind, probe): what was found at one reading time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Found(u32);

impl Found {
    pub(crate) fn add(&mut self, kind: Kind, probe: Option<usize>) {
        self.0 |= 1 << bit(kind, probe);
    }

    /// True when nothing was found.
    #[must_use]
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// Kinds and probes (0 to 3; none for a gap), in a fixed order.
    pub fn each(self) -> impl Iterator<Item = (Kind, Option<usize>)> {
        Kind::ALL
            .into_iter()
            .flat_map(move |kind| {
                let probes = (0..PROBES).map(Some).filter(move |_| kind != Kind::Gap);
                let none = (kind == Kind::Gap).then_some(None);
                probes.chain(none).map(move |p| (kind, p))
            })
            .filter(move |(kind, p)| self.0 & (1 << bit(*kind, *p)) != 0)
    }
}

fn bit(kind: Kind, probe: Option<usize>) -> u32 {
    let slot = probe.map_or(0, |p| (p % PROBES) as u32);
    kind as u32 * PROBES as u32 + slot
}
