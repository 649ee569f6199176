//! The two record books as pages to print.

use maud::{Markup, html};
use record::gas::kg;
use service::account::{FGasRecord, OzoneEntry};

use super::super::{Live, Shell, Tab, box_href, page};

/// The record book of ozone-depleting substances.
#[must_use]
pub fn ozone_page(shell: &Shell, book: &[OzoneEntry]) -> Markup {
    let content = html! {
        h1 { "Ozone-depleting substances record book" }
        p.where { (shell.ship) ". MARPOL Annex VI regulation 12; masses in kg, entered without \
            delay. Whether it may be kept so is the flag’s to say." }
        p.hint { "R134a, R404A, R452A, R513A, R744, R290 and R1234yf are none and do not belong \
            here; their records are those of each unit. (Regulation 12: read in several texts.)" }
        @if book.is_empty() {
            p.empty { "No entry: nothing was entered about an ozone-depleting gas." }
        } @else {
            table.lines.book {
                thead { tr { th { "When (UTC)" } th { "Where" } th { "Equipment" }
                    th { "Substance" } th { "What" } th { "kg" } th { "By" } th { "Signature" } } }
                tbody { @for e in book { tr {
                    td { (e.at.to_minute()) } td { (e.place) } td { (e.equipment) } td { (e.substance) }
                    td { (e.kind.words()) }
                    td { @if let Some(kg) = e.kg { (format!("{kg:.3}")) } }
                    td { (e.person) } td {}
                } } }
            }
        }
        p.neighbours { a.button href="/gas" { "Refrigerant account" } " "
            a.button href="/paper/ozone.pdf" { "The book as a signed PDF" } }
    };
    page(shell, Tab::Gas, Live::No, "Ozone-depleting substances", &content)
}

/// The record of a unit.
#[must_use]
pub fn record_page(shell: &Shell, r: &FGasRecord) -> Markup {
    let none = || html! { p.blank { "nothing entered" } };
    let content = html! {
        h1 { "Refrigerant record of " a href=(box_href(&r.unit)) { (r.unit) } }
        p.where { "The fields of Regulation (EU) 2024/573 Art. 7 (read); to be kept for at least 5 \
            years by operator and contractor. Blank: nobody entered it. Times are UTC." }
        h2 { "(a) Gas and quantity contained" }
        @match &r.plate {
            Some(p) => p { strong { (kg(p.charge_g.into())) " " (p.gas) } " by the plate"
                @if !p.serial.is_empty() { ", serial number " (p.serial) }
                @if p.sealed { ", labelled hermetically sealed" }
                @if p.detection { ", with leak detection" } "." },
            None => (none()),
        }
        h2 { "(b), (d) Added" }
        @if r.added.is_empty() { (none()) }
        ul { @for a in &r.added { li { (a.at.to_minute()) " " strong { (format!("{:.3} kg ", a.kg)) (a.gas) }
            @if a.for_leak { ", for a leak" } @else { ", in service" } "; " (a.source_words()) } } }
        h2 { "(c) Recovered" }
        @if r.recovered.is_empty() { (none()) }
        ul { @for (at, kg, into) in &r.recovered {
            li { (at.to_minute()) " " strong { (format!("{kg:.3} kg")) } " into " (into) } } }
        h2 { "(e) Who worked on it" }
        @if r.people.is_empty() { (none()) }
        ul { @for (name, certificate) in &r.people { li { (name) ", "
            @match certificate {
                Some(c) => { "certificate " (c) },
                None => span.blank { "certificate not entered" },
            } } } }
        h2 { "(f) Checks and repairs of leaks" }
        @if r.checks.is_empty() { (none()) }
        ul { @for (at, words) in &r.checks { li { (at.to_minute()) " " (words) } } }
        h2 { "(g) Taken out of use" }
        @match &r.decommissioned {
            Some((at, measures)) => p { (at.to_minute()) " " (measures) },
            None => (none()),
        }
        p.neighbours { a.button href="/gas" { "Refrigerant account" } " "
            a.button href={ "/paper/refrigerant-" (r.unit) ".pdf" } {
                "The record as a signed PDF" } }
    };
    page(shell, Tab::Gas, Live::No, "Refrigerant record", &content)
}
