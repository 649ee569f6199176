//! One box in full.

use box_model::CargoTable;
use record::{BoxFacts, BoxView, CargoFact};

use crate::{Clock, box_line};

/// Its line, what the list says, its readings up to the clock, and the facts of its cargo.
/// Where several cargoes fit the list's text, the facts of each, by name.
#[must_use]
pub fn box_view(facts: &BoxFacts, clock: Clock, cargoes: &CargoTable) -> BoxView {
    let line = box_line(facts, clock, cargoes);
    let remarks = facts.listed.as_ref().map_or(&[][..], |l| &l.remarks);
    let known = cargoes.recognition(remarks).narrowed(line.set_point_c);
    let several = known.candidates.len() > 1;
    let mut cargo_facts = Vec::new();
    for cargo in &known.candidates {
        for fact in cargo.facts() {
            cargo_facts.push(CargoFact {
                name: if several {
                    format!("{}: {}", cargo.name, fact.name)
                } else {
                    fact.name.to_owned()
                },
                text: fact.text,
                source: fact.source,
                unverified: fact.unverified,
            });
        }
    }
    let mut readings: Vec<_> =
        facts.readings.iter().filter(|r| r.at <= clock.as_of).cloned().collect();
    readings.sort_by_key(|r| r.at);
    BoxView { line, listed: facts.listed.clone(), readings, cargo_facts }
}
