//! A round: the boxes in the order a person walks, what to read at each, what was read last.

use units::Utc;

use crate::{BoxLine, Cell, Channel, UnitId};

/// Every box aboard is read at least this often (interval between checks in the Australian code of
/// practice of 2007, §10.6).
pub const ROUND_H: f64 = 12.0;

/// A value read before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LastValue {
    /// Of what.
    pub channel: Channel,
    /// The value, °C or %.
    pub value: f64,
    /// When it was read.
    pub at: Utc,
}

/// Where a channel's values lay lately.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Usual {
    /// Of what.
    pub channel: Channel,
    /// Lowest and highest.
    pub range: [f64; 2],
    /// The latest of them.
    pub last: f64,
    /// When that was read.
    pub at: Utc,
}

/// What a round sheet and its keying in say of one box.
#[derive(Debug, Clone, PartialEq)]
pub struct RoundLine {
    /// The box, as on the watch list.
    pub line: BoxLine,
    /// Coldest air allowed, °C: the list's range, else the cargo's limit.
    pub coldest_c: Option<f64>,
    /// Warmest cargo allowed, °C.
    pub warmest_c: Option<f64>,
    /// Fresh air ordered, m³/h; 0 means closed.
    pub vent_m3_h: Option<f64>,
    /// Humidity ordered, %.
    pub humidity_pct: Option<f64>,
    /// What to read beside supply and return air.
    pub also: Vec<Channel>,
    /// Latest value of each channel that is to be read.
    pub last: Vec<LastValue>,
    /// Where its values lay lately.
    pub usual: Vec<Usual>,
}

impl RoundLine {
    /// What to read: supply, return, then the others.
    #[must_use]
    pub fn to_read(&self) -> Vec<Channel> {
        let mut all = vec![Channel::Supply, Channel::Return];
        all.extend(&self.also);
        all
    }

    /// The latest value of a channel.
    #[must_use]
    pub fn last_of(&self, channel: Channel) -> Option<LastValue> {
        self.last.iter().find(|l| l.channel == channel).copied()
    }

    /// Where a channel's values lay lately.
    #[must_use]
    pub fn usual_of(&self, channel: Channel) -> Option<Usual> {
        self.usual.iter().find(|u| u.channel == channel).copied()
    }

    /// The part of the walk it belongs to.
    #[must_use]
    pub fn part(&self) -> Part {
        Part::of(self.line.cell)
    }

    /// The box.
    #[must_use]
    pub fn unit(&self) -> &UnitId {
        &self.line.unit
    }
}

/// A part of the walk: one bay on deck, or in the hold; last, what has no readable cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Part {
    /// A bay of 40 ft boxes with the two bays of 20 ft boxes in it.
    Bay {
        /// Its number.
        bay: u16,
        /// Below the hatch covers.
        hold: bool,
    },
    /// Boxes whose cell is not known.
    NoCell,
}

impl Part {
    /// Bays 001, 002 and 003 are walked together, as the 20 ft boxes of 001 and 003 stand on the
    /// place of a 40 ft box of 002 (ISO 9711).
    #[must_use]
    pub fn of(cell: Option<Cell>) -> Self {
        match cell {
            Some(c) => Self::Bay { bay: walked_bay(c.bay), hold: !c.on_deck() },
            None => Self::NoCell,
        }
    }

    /// As it stands in an address: `22`, `22h`, `none`.
    #[must_use]
    pub fn key(self) -> String {
        match self {
            Self::Bay { bay, hold: false } => bay.to_string(),
            Self::Bay { bay, hold: true } => format!("{bay}h"),
            Self::NoCell => "none".to_owned(),
        }
    }

    /// `Bay 022 on deck`.
    #[must_use]
    pub fn title(self) -> String {
        match self {
            Self::Bay { bay, hold } => {
                format!("Bay {bay:03} {}", if hold { "in the hold" } else { "on deck" })
            }
            Self::NoCell => "Cell not known".to_owned(),
        }
    }
}

/// The 40 ft bay in whose length a bay lies: 2 for 1, 2, 3; 6 for 5, 6, 7.
#[must_use]
pub fn walked_bay(bay: u16) -> u16 {
    (bay / 4).saturating_mul(4).saturating_add(2)
}

/// Puts lines in the order in which a person walks: bay by bay from the bow, deck before hold,
/// tier by tier upward, the lowest tier from port to starboard, the next one back, and so on;
/// boxes without a known cell last, by number. Common practice, no source.
pub fn in_walking_order(lines: &mut Vec<RoundLine>) {
    lines.sort_by(|a, b| {
        let at = |l: &RoundLine| (l.part(), l.line.cell.map(|c| c.tier));
        at(a).cmp(&at(b)).then_with(|| across(a).cmp(&across(b))).then(a.unit().cmp(b.unit()))
    });
    // Every other tier is walked back.
    let mut out: Vec<RoundLine> = Vec::with_capacity(lines.len());
    for part in lines.chunk_by(|a, b| a.part() == b.part()) {
        let tiers =
            part.chunk_by(|a, b| a.line.cell.map(|c| c.tier) == b.line.cell.map(|c| c.tier));
        for (n, tier) in tiers.enumerate() {
            if n % 2 == 1 && part.first().is_some_and(|l| l.line.cell.is_some()) {
                out.extend(tier.iter().rev().cloned());
            } else {
                out.extend(tier.iter().cloned());
            }
        }
    }
    *lines = out;
}

fn across(l: &RoundLine) -> Option<(i16, u16)> {
    l.line.cell.map(|c| (c.rows_from_centre(), c.bay))
}

/// The parts of a walk in order, each with how many of the lines lie before it and in it.
#[must_use]
pub fn parts(lines: &[RoundLine]) -> Vec<(Part, std::ops::Range<usize>)> {
    let mut out = Vec::new();
    let mut from = 0;
    for part in lines.chunk_by(|a, b| a.part() == b.part()) {
        if let Some(first) = part.first() {
            out.push((first.part(), from..from + part.len()));
        }
        from += part.len();
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::State;

    pub(crate) fn line(unit: &str, stow: &str) -> RoundLine {
        RoundLine {
            line: BoxLine {
                unit: UnitId::from_text(unit).unwrap(),
                stow: Some(stow.to_owned()),
                cell: Cell::parse(stow),
                size_type: None,
                cargo: None,
                discharge_port: None,
                full: Some(true),
                state: State::Ok,
                reason: String::new(),
                hours_to_limit: None,
                hours_to_limit_p90: None,
                limit: None,
                action: String::new(),
                findings: Vec::new(),
                set_point_c: None,
                supply_c: None,
                return_c: None,
                cargo_c: None,
                cargo_c_p90: None,
                on_power: None,
                last_read_at: None,
            },
            coldest_c: None,
            warmest_c: None,
            vent_m3_h: None,
            humidity_pct: None,
            also: Vec::new(),
            last: Vec::new(),
            usual: Vec::new(),
        }
    }

    /// From the definition above, drawn by hand: rows 04 02 00 01 03 lie from port to starboard.
    #[test]
    fn the_walk_goes_out_and_back() {
        let stows = [
            "0220384", "0220484", "0220084", "0220182", "0220282", "0210382", "0230382", "0220302",
            "0060182", "", "0220202",
        ];
        let mut lines: Vec<RoundLine> =
            stows.iter().enumerate().map(|(n, s)| line(&format!("QQQU{n:07}"), s)).collect();
        in_walking_order(&mut lines);
        let walked: Vec<&str> = lines.iter().map(|l| l.line.stow.as_deref().unwrap()).collect();
        assert_eq!(
            walked,
            [
                "0060182", "0220282", "0220182", "0210382", "0230382", "0220384", "0220084",
                "0220484", "0220202", "0220302", ""
            ]
        );
        let parts = parts(&lines);
        let keys: Vec<String> = parts.iter().map(|(p, _)| p.key()).collect();
        assert_eq!(keys, ["6", "22", "22h", "none"]);
        assert_eq!(parts.last().map(|(_, r)| r.clone()), Some(10..11));
        assert_eq!(parts[1].0.title(), "Bay 022 on deck");
        assert_eq!(parts[2].0.title(), "Bay 022 in the hold");
    }

    #[test]
    fn twenty_foot_bays_are_walked_with_the_forty_foot_bay_between_them() {
        let of: Vec<u16> = [1, 2, 3, 5, 6, 7, 77, 78, 79].into_iter().map(walked_bay).collect();
        assert_eq!(of, [2, 2, 2, 6, 6, 6, 78, 78, 78]);
        assert_eq!(walked_bay(u16::MAX), u16::MAX - 1);
    }
}
