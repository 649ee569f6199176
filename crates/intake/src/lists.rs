//! Loading lists: every file of one command together.

use std::collections::BTreeMap;

use record::{ListReport, ListedUnit, Scope, VoyageHead};
use units::Utc;

use crate::edifact::{Segment, tokenize};
use crate::fields::{self, Equipment, MessagePorts};
use crate::groups::divide;
use crate::list_csv;
use crate::messages::{Kind, open};
use crate::text::{Unreadable, decode};

/// What one file gave.
#[derive(Default)]
pub(crate) struct FileList {
    pub(crate) messages: usize,
    pub(crate) units: Vec<PlacedUnit>,
    pub(crate) warnings: Vec<String>,
    pub(crate) scope: Scope,
    pub(crate) head: VoyageHead,
}

/// A unit with the place it was listed in, so that two units of one location are not taken for
/// two boxes in one cell.
pub(crate) struct PlacedUnit {
    pub(crate) unit: ListedUnit,
    pub(crate) place: (usize, usize),
}

/// Reads the loading lists of one command, EDIFACT or CSV, each `(name, bytes)`.
///
/// # Errors
/// [`Unreadable`] for the first file that is neither; nothing of the others is given then.
pub fn read_lists(files: &[(&str, &[u8])]) -> Result<ListReport, Unreadable> {
    let mut report = ListReport { files: files.len(), ..ListReport::default() };
    let mut placed: Vec<PlacedUnit> = Vec::new();
    let mut scopes = Vec::new();
    for (n, (name, bytes)) in files.iter().enumerate() {
        let text = decode(name, bytes)?;
        let list = if looks_like_edifact(&text) {
            read_edifact(name, &text)?
        } else {
            list_csv::read(name, &text)?
        };
        report.messages += list.messages;
        let prefix = |w: String| format!("{name}: {w}");
        report.warnings.extend(list.warnings.into_iter().map(prefix));
        placed.extend(list.units.into_iter().map(|p| {
            // Places are counted per file; files never share one.
            PlacedUnit { place: (n * 1_000_000 + p.place.0, p.place.1), ..p }
        }));
        scopes.push(list.scope);
        merge_head(&mut report.head, list.head);
    }
    report.scope = if scopes.contains(&Scope::Cut) {
        Scope::Cut
    } else if scopes.contains(&Scope::WholeShip) {
        Scope::WholeShip
    } else {
        Scope::Part
    };
    report.warnings.extend(mark_doubles(&mut placed));
    report.units = placed.into_iter().map(|p| p.unit).collect();
    Ok(report)
}

fn merge_head(into: &mut VoyageHead, from: VoyageHead) {
    into.ship = from.ship.or(into.ship.take());
    into.voyage = from.voyage.or(into.voyage.take());
    into.departure_port = from.departure_port.or(into.departure_port.take());
    into.next_port = from.next_port.or(into.next_port.take());
    into.next_port_eta_ms = from.next_port_eta_ms.or(into.next_port_eta_ms);
}

fn looks_like_edifact(text: &str) -> bool {
    let t = text.trim_start();
    let starts = |tag: &str| t.get(..3) == Some(tag);
    starts("UNA") || ["UNB", "UNG", "UNH"].into_iter().any(starts) || {
        // The head may be lost: a segment tag, an element separator, a terminator later on.
        let b = t.as_bytes();
        b.len() > 4
            && b.iter().take(3).all(u8::is_ascii_uppercase)
            && b.get(3) == Some(&b'+')
            && t.contains('\'')
    }
}

fn read_edifact(name: &str, text: &str) -> Result<FileList, Unreadable> {
    let tokens = tokenize(text);
    let envelopes = open(&tokens);
    let mut out = FileList {
        messages: envelopes.messages.len(),
        warnings: envelopes.warnings,
        scope: Scope::Part,
        ..FileList::default()
    };
    if envelopes.messages.is_empty() {
        let why = "holds no stowage or load/discharge message; give the bayplan or the load list";
        return Err(Unreadable::new(name, None, why));
    }
    for (m, message) in envelopes.messages.iter().enumerate() {
        let parts = divide(message);
        let ports = match message.kind {
            Kind::Units => message_ports(parts.head),
            Kind::Bayplan | Kind::Moves => MessagePorts::default(),
        };
        merge_head(&mut out.head, voyage_head(parts.head));
        if message.kind == Kind::Bayplan && !is_partial_plan(parts.head) {
            out.scope = Scope::WholeShip;
        }
        for (n, group) in parts.groups.iter().enumerate() {
            let kind = fields::equipment(group.equipment);
            if kind != Equipment::Other {
                let unit = fields::unit(group, kind, &ports);
                let place = if message.shares_cells { group.place } else { n };
                out.units.push(PlacedUnit { unit, place: (m, place) });
            }
        }
    }
    if out.units.is_empty() {
        out.warnings.push(NO_CONTAINER.into());
    }
    // A list that names nobody proves nothing about anybody.
    if envelopes.cut || out.units.is_empty() {
        out.scope = Scope::Cut;
    }
    Ok(out)
}

/// Said of a list without containers.
pub(crate) const NO_CONTAINER: &str =
    "the list names no container, so nothing is removed; check that it is the right file";

/// Document code 659 is a partial bayplan (D.13B code list 1001).
fn is_partial_plan(head: &[Segment<'_>]) -> bool {
    head.iter().any(|s| s.is("BGM", "659"))
}

/// In load and discharge messages the header's port holds for units that name none.
fn message_ports(head: &[Segment<'_>]) -> MessagePorts {
    let port = |q: &str| {
        head.iter()
            .find(|s| s.is("LOC", q))
            .map(|s| s.at(2, 0).to_owned())
            .filter(|p| !p.is_empty() && !p.contains('*'))
    };
    MessagePorts { load: port("9"), discharge: port("11") }
}

/// Ship, voyage and next port from the header.
fn voyage_head(head: &[Segment<'_>]) -> VoyageHead {
    let tdt = head.iter().find(|s| s.is("TDT", "20"));
    let text = |t: &str| (!t.is_empty() && !t.contains('*')).then(|| t.to_owned());
    let loc = |q: &str| head.iter().find(|s| s.is("LOC", q)).and_then(|s| text(s.at(2, 0)));
    let next_port = loc("61");
    // Without a next port the time belongs to the port the message was made in.
    let eta = next_port.as_ref().and_then(|_| {
        let dtm = head.iter().find(|s| s.is("DTM", "132") && !s.at(1, 1).is_empty())?;
        Utc::from_edifact_digits(dtm.at(1, 1)).map(Utc::ms)
    });
    VoyageHead {
        ship: tdt.and_then(|s| text(s.at(8, 3))),
        voyage: tdt.and_then(|s| text(s.at(2, 0))),
        departure_port: loc("5"),
        next_port,
        next_port_eta_ms: eta,
    }
}

/// Marks units listed twice and cells given to two boxes; both stay listed.
fn mark_doubles(placed: &mut [PlacedUnit]) -> Vec<String> {
    let mut by_number: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    let mut by_cell: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    for (i, p) in placed.iter().enumerate() {
        if let Some(u) = &p.unit.unit {
            by_number.entry(u.to_string()).or_default().push(i);
        }
        if let (Some(_), Some(stow)) = (&p.unit.cell, &p.unit.stow) {
            by_cell.entry(format!("{stow:0>7}")).or_default().push(i);
        }
    }
    let mut warnings = Vec::new();
    for (number, at) in by_number.iter().filter(|(_, at)| at.len() > 1) {
        let text = format!("{number} is listed {} times; find out where it stands", at.len());
        mark(placed, at, &text);
        warnings.push(text);
    }
    for (stow, at) in &by_cell {
        let first_place = at.first().and_then(|i| placed.get(*i)).map(|p| p.place);
        let elsewhere = at.iter().any(|i| placed.get(*i).map(|p| p.place) != first_place);
        if at.len() > 1 && elsewhere {
            let text =
                format!("cell {stow} is given to {} units; find out which is there", at.len());
            mark(placed, at, &text);
            warnings.push(text);
        }
    }
    warnings
}

fn mark(placed: &mut [PlacedUnit], at: &[usize], text: &str) {
    for i in at {
        if let Some(p) = placed.get_mut(*i) {
            p.unit.warnings.push(text.to_owned());
        }
    }
}
