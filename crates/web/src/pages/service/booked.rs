//! Gas weighed at a step: the fields by which it goes into the refrigerant account, and what was
//! booked.

use maud::{Markup, html};
use record::gas::CylinderCard;
use record::gas::{gas_name, kg};
use record::{GasFile, ServiceEntry};
use service::Action;
use service::expect::Expect;
use voyage::booking::{SCALE, entry_of, form_for, moves, weighed_g};
use voyage::works::Work;

use super::super::percent;
use super::steps::Sent;

/// Fields of a step's form that say what is booked.
pub const BOOKING: [&str; 4] = ["cylinder", "kg", "certificate", "place"];

/// Cylinders that the account knows with this gas.
fn cylinders<'a>(work: &Work, gas: &'a GasFile) -> Vec<&'a CylinderCard> {
    let name = gas_name(&work.stated.site.fluid);
    let mut ids: Vec<&str> = Vec::new();
    for e in gas.standing() {
        if let record::GasAct::Cylinder(c) = &e.act
            && !ids.contains(&c.id.as_str())
        {
            ids.push(&c.id);
        }
    }
    let cards = ids.into_iter().filter_map(|id| gas.cylinder(id));
    cards.filter(|c| Some(&c.gas) == name.as_ref()).collect()
}

/// The fields, where gas is weighed at this step.
#[must_use]
pub fn fields(
    work: &Work,
    action: Action,
    expects: &Result<Vec<Expect>, String>,
    sent: Option<&Sent>,
    gas: &GasFile,
) -> Markup {
    let Some(reason) = moves(action) else { return html! {} };
    let scale = expects.as_ref().is_ok_and(|all| all.iter().any(|e| e.what == SCALE));
    let was = |key: &str| {
        let find = |s: &Sent| s.booking.iter().find(|(k, _)| *k == key).map(|(_, v)| v.clone());
        sent.and_then(find).unwrap_or_default()
    };
    html! {
        fieldset.booking {
            legend { "Into the refrigerant account, with this step" }
            p.hint {
                @if scale { "The kilograms are the scale’s, above. " }
                "Entered as: " (reason.words()) ". A second cylinder is entered under "
                a href="/gas#enter" { "Refrigerant" } "."
            }
            label for="book-cylinder" { "Number of the cylinder" }
            input #book-cylinder name="cylinder" maxlength="40" autocomplete="off"
                list="book-cylinders" value=(was("cylinder"));
            datalist #book-cylinders { @for c in cylinders(work, gas) {
                option value=(c.id) { (c.gas) @if c.recovery { ", for recovered gas" } }
            } }
            @if !scale {
                label for="book-kg" { "Kilograms by the scale, if it was weighed" }
                input #book-kg name="kg" maxlength="12" inputmode="decimal" autocomplete="off"
                    value=(was("kg"));
            }
            label for="book-certificate" { "Certificate of who does it" }
            input #book-certificate name="certificate" maxlength="60" autocomplete="off"
                value=(was("certificate"));
            label for="book-place" { "Place" }
            input #book-place name="place" maxlength="80" autocomplete="off"
                value=(was("place"));
        }
    }
}

/// What an entry booked, or that what was weighed is not in the account.
#[must_use]
pub fn told(work: &Work, e: &ServiceEntry, gas: &GasFile) -> Markup {
    let entry = entry_of(gas, &e.act);
    html! {
        @if let Some(found) = entry {
            p.booked {
                strong { "Booked: " }
                @if let Some(why) = &found.struck { s { (found.act.title()) } " struck out: " (why) }
                @else { (found.act.title()) }
                " (" a href="/gas" { "refrigerant account" } ", entry " (found.seq) ")"
            }
        } @else if let Some(g) = weighed_g(&e.act.deed) {
            @let pairs: Vec<String> = form_for(work, &e.act, &e.who)
                .iter().map(|(k, v)| format!("{k}={}", percent(v))).collect();
            p.booked {
                strong { "Not booked: " } (kg(g.into())) ". "
                a href={ "/gas?" (pairs.join("&")) "#enter" } {
                    "Book it: the account’s form, filled in" }
            }
        }
    }
}
