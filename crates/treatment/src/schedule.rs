//! A published schedule and its regime, as data.

use crate::exact::{Decimal, Ratio};
use crate::policy::{Kind, Policy};

/// Unit of a temperature.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum TempUnit {
    /// Degrees Celsius.
    C,
    /// Degrees Fahrenheit.
    F,
}

impl TempUnit {
    /// Column suffix and schedule word: `c` or `f`.
    #[must_use]
    pub fn suffix(self) -> &'static str {
        match self {
            Self::C => "c",
            Self::F => "f",
        }
    }

    /// Sign for people.
    #[must_use]
    pub fn sign(self) -> &'static str {
        match self {
            Self::C => "°C",
            Self::F => "°F",
        }
    }

    /// Melting ice in this unit.
    pub(crate) fn ice_point(self) -> Ratio {
        match self {
            Self::C => Ratio::ZERO,
            Self::F => Ratio::whole(32),
        }
    }

    /// `(a, b)` with value in `to` = a · value in `self` + b, exact.
    pub(crate) fn conversion(self, to: Self) -> (Ratio, Ratio) {
        let ratio = |n, d| Ratio::new(n, d).unwrap_or(Ratio::ONE);
        match (self, to) {
            (Self::F, Self::C) => (ratio(5, 9), ratio(-160, 9)),
            (Self::C, Self::F) => (ratio(9, 5), Ratio::whole(32)),
            _ => (Ratio::ONE, Ratio::ZERO),
        }
    }
}

/// How far the row can be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Evidence {
    /// Read in the rule, the regulator's page or the official procedure itself.
    Official,
    /// Read in a secondary text: a paper, a bulletin, the trade press.
    Secondary,
    /// Nobody read it in a source: rehearsal only.
    Unverified,
}

impl Evidence {
    /// As written in a schedule.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Official => "official",
            Self::Secondary => "secondary",
            Self::Unverified => "unverified",
        }
    }

    /// For a person.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Official => "official: read in the rule itself",
            Self::Secondary => {
                "secondary: read about the rule, not in it; compare with the authority's own text"
            }
            Self::Unverified => "unverified: rehearsal only, no source was read",
        }
    }
}

/// The extension rule of a schedule with `on_excursion = "extend"`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Extend {
    /// A day with a reading over this counts.
    pub soft_max: Decimal,
    /// Part of a day that each such day adds.
    pub fraction_of_day: Decimal,
    /// A reading over this ends the treatment.
    pub hard_max: Decimal,
}

/// Where a probe goes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Position {
    /// Which probe, as the rule counts them.
    pub probe: String,
    /// Where.
    pub place: String,
}

/// A schedule and its regime. Temperatures are in `unit`, as published.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Schedule {
    /// Short name, unique.
    pub id: String,
    /// Name for people.
    pub title: String,
    /// Published source: title, section, date.
    pub source: String,
    /// Trust mark.
    pub evidence: Evidence,
    /// Threshold as printed in the source.
    pub printed_threshold: Option<String>,
    /// Fruit.
    pub commodity: Option<String>,
    /// Pest.
    pub pest: Option<String>,
    /// What a user should know of the row beyond its numbers.
    pub note: Option<String>,
    /// Unit in which limits are published and compared.
    pub unit: TempUnit,
    /// Pulp at or below this.
    pub hold_max: Decimal,
    /// Pulp not below this.
    pub hold_min: Option<Decimal>,
    /// The clock starts when every fitted probe is at or below this.
    pub start_max: Decimal,
    /// Days of 24 h.
    pub days: Decimal,
    /// Pulp probes that must be fitted.
    pub pulp_probes_min: u8,
    /// Probes beyond that number must comply too.
    pub extra_probes_must_comply: bool,
    /// Largest change between two readings of a probe.
    pub step_max: Option<Decimal>,
    /// Longest time between two reading times, minutes.
    pub gap_max_minutes: Decimal,
    /// Allowance for the recorder's clock, seconds; widens the gap test only.
    pub gap_jitter_s: Decimal,
    /// Largest distance of a slurry reading from the ice point.
    pub calibration_limit: Option<Decimal>,
    /// False: a slurry reading other than the ice point is not acceptable.
    pub calibration_correction: bool,
    /// Excursion.
    pub on_excursion: Policy,
    /// Step.
    pub on_step: Policy,
    /// Gap.
    pub on_gap: Policy,
    /// Probe at fault.
    pub on_fault: Policy,
    /// Cold side.
    pub on_cold: Policy,
    /// A probe is at fault when abnormal for more than this many hours.
    pub fault_hours: Decimal,
    /// Only with `on_excursion = "extend"`.
    pub extend: Option<Extend>,
    /// Fruit at or below this before treatment begins.
    pub precool_max: Option<Decimal>,
    /// A sample this far or farther above `precool_max` goes back.
    pub precool_reject_over: Option<Decimal>,
    /// Where the probes go, as far as the source says.
    pub positions: Vec<Position>,
    /// Paragraph of the rule by subject (`excursion`, `step`, `gap`, `fault`, `start`, …).
    pub paragraphs: Vec<(String, String)>,
    /// What is odd about the text of the schedule, one line each.
    pub warnings: Vec<String>,
}

impl Schedule {
    /// The policy for a kind of breach.
    #[must_use]
    pub fn policy(&self, kind: Kind) -> Policy {
        match kind {
            Kind::Excursion => self.on_excursion,
            Kind::Cold => self.on_cold,
            Kind::Step => self.on_step,
            Kind::Gap => self.on_gap,
            Kind::Fault => self.on_fault,
        }
    }

    /// The rule's paragraph on a subject, where the schedule names it.
    #[must_use]
    pub fn paragraph(&self, subject: &str) -> Option<&str> {
        self.paragraphs.iter().find(|(s, _)| s == subject).map(|(_, p)| p.as_str())
    }

    /// True for rows that may only be rehearsed with.
    #[must_use]
    pub fn is_rehearsal(&self) -> bool {
        self.evidence == Evidence::Unverified
    }

    /// Readings above this are excursions: the limit, or the extension rule's soft limit where
    /// that is lower (contract 3.1.13).
    #[must_use]
    pub fn excursion_over(&self) -> Decimal {
        match self.extension() {
            Some(e) => self.hold_max.min(e.soft_max),
            None => self.hold_max,
        }
    }

    /// The extension rule, where excursions follow it.
    #[must_use]
    pub fn extension(&self) -> Option<&Extend> {
        self.extend.as_ref().filter(|_| self.on_excursion == Policy::Extend)
    }

    /// The cold side, where falling below it does more than warn.
    #[must_use]
    pub fn start_min(&self) -> Option<Decimal> {
        self.hold_min.filter(|_| self.on_cold != Policy::Warn)
    }
}
