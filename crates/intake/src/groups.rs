//! From the segments of a message to the segments of each unit.
//!
//! Senders put segments in other places than the directories say, so everything between two
//! group heads is collected and later told apart by tag and qualifier, never by position
//! (reference/interchange.md §1.5).

use crate::edifact::Segment;
use crate::messages::{Kind, Message};

/// The segments that speak of one piece of equipment in one cell.
#[derive(Debug)]
pub(crate) struct Group<'t, 'a> {
    /// Its EQD.
    pub(crate) equipment: &'t Segment<'a>,
    /// Segments of its own: in the order they are asked, before the shared ones.
    pub(crate) own: Vec<&'t Segment<'a>>,
    /// Segments of the cell that stand before the first EQD, shared by all units of the cell.
    pub(crate) shared: Vec<&'t Segment<'a>>,
    /// Number of the cell group in the message: units with the same number share a location.
    pub(crate) place: usize,
    /// The message ends inside this group.
    pub(crate) cut: bool,
}

/// A message in parts: what stands before the first group, and the groups.
pub(crate) struct Parts<'t, 'a> {
    pub(crate) head: &'t [Segment<'a>],
    pub(crate) groups: Vec<Group<'t, 'a>>,
}

/// Divides a message.
pub(crate) fn divide<'t, 'a>(message: &Message<'t, 'a>) -> Parts<'t, 'a> {
    let segments = message.segments;
    let has = |tag: &str, q: Option<&str>| {
        segments.iter().any(|s| s.tag() == tag && q.is_none_or(|q| s.at(1, 0) == q))
    };
    let cells_lead = message.kind != Kind::Units && has("LOC", Some("147"));
    let starts = |s: &Segment<'_>| match message.kind {
        Kind::Moves if has("HAN", None) => s.tag() == "HAN",
        _ if cells_lead => s.is("LOC", "147"),
        _ => s.tag() == "EQD",
    };
    let heads: Vec<usize> =
        segments.iter().enumerate().filter(|(_, s)| starts(s)).map(|(i, _)| i).collect();
    let first = heads.first().copied().unwrap_or(segments.len());
    let mut groups = Vec::new();
    for (place, from) in heads.iter().enumerate() {
        let to = heads.get(place + 1).copied().unwrap_or(segments.len());
        let last = to == segments.len();
        let piece = segments.get(*from..to).unwrap_or(&[]);
        add_units(&mut groups, up_to_count(piece), place, message.cut && last);
    }
    Parts { head: segments.get(..first).unwrap_or(&[]), groups }
}

/// A control total (CNT) closes a group; what stands after it belongs to nobody.
fn up_to_count<'t, 'a>(piece: &'t [Segment<'a>]) -> &'t [Segment<'a>] {
    let end = piece.iter().position(|s| s.tag() == "CNT").unwrap_or(piece.len());
    piece.get(..end).unwrap_or(piece)
}

/// One group for each EQD of the piece; none for a cell without equipment.
fn add_units<'t, 'a>(
    groups: &mut Vec<Group<'t, 'a>>,
    piece: &'t [Segment<'a>],
    place: usize,
    cut: bool,
) {
    let equipment: Vec<usize> =
        piece.iter().enumerate().filter(|(_, s)| s.tag() == "EQD").map(|(i, _)| i).collect();
    for (k, at) in equipment.iter().enumerate() {
        let Some(eqd) = piece.get(*at) else { continue };
        let first = equipment.first().copied().unwrap_or(0);
        let next = equipment.get(k + 1).copied();
        // One unit in the cell: every segment is its own, in the order sent.
        let alone = equipment.len() == 1;
        let from = if alone { 0 } else { *at };
        let own = piece.get(from..next.unwrap_or(piece.len())).unwrap_or(&[]);
        let shared = if alone { &[] } else { piece.get(..first).unwrap_or(&[]) };
        groups.push(Group {
            equipment: eqd,
            own: own.iter().collect(),
            shared: shared.iter().collect(),
            place,
            cut: cut && next.is_none(),
        });
    }
}
