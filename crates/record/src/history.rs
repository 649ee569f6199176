//! One box's past, ready to be drawn: an assessment computes it, a figure only draws it.

use units::Utc;

use crate::{BoxLine, Channel, ListedUnit, Reading, UnitId};

/// A span of time, both ends included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Span {
    /// First instant.
    pub from: Utc,
    /// Last instant.
    pub to: Utc,
}

/// One channel's points, in pieces: a gap in the record ends a piece, and no line may join two.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// Which channel.
    pub channel: Channel,
    /// Pieces without a gap, oldest first, each by time.
    pub pieces: Vec<Vec<(Utc, f64)>>,
}

/// Everything a history chart shows.
#[derive(Debug, Clone, PartialEq)]
pub struct BoxHistory {
    /// The box.
    pub unit: UnitId,
    /// The range drawn.
    pub span: Span,
    /// Traces with at least one point.
    pub traces: Vec<Trace>,
    /// The list's set point, where there is one.
    pub ordered_c: Option<f64>,
    /// Upper and lower limits of the cargo, with their wording, as horizontal lines.
    pub limits_c: Vec<(f64, String)>,
    /// Defrosts with the hour after, in which air is not judged.
    pub defrosts: Vec<Span>,
    /// Spells without power.
    pub power_off: Vec<Span>,
    /// Spans longer than the record's usual interval in which nothing was read.
    pub gaps: Vec<Span>,
    /// Alarms as written, when they were first seen.
    pub alarms: Vec<(Utc, String)>,
}

/// One box in full: what a page or a command shows of it.
#[derive(Debug, Clone, PartialEq)]
pub struct BoxView {
    /// Its line on the watch list.
    pub line: BoxLine,
    /// What the list says.
    pub listed: Option<ListedUnit>,
    /// Its readings over the whole voyage, oldest first.
    pub readings: Vec<Reading>,
    /// Facts of the cargo with their trust marks, one line each: name, text, source.
    pub cargo_facts: Vec<CargoFact>,
}

/// A fact of the cargo table with its trust mark.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CargoFact {
    /// What it is, for example `carriage temperature`.
    pub name: String,
    /// Value with unit.
    pub text: String,
    /// Source code of the table (data/cargoes.csv), empty where none is given.
    pub source: String,
    /// True when the table marks it as recalled from memory, unverified.
    pub unverified: bool,
}
