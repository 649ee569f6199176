//! The refrigerant account: cylinders, units, what was lost, what is due, and forms for entries.

mod books;
mod forms;

pub use books::{ozone_page, record_page};

use maud::{Markup, html};
use record::GasFile;
use record::gas::{GasEntry, Source, kg};
use service::account::{Account, CylinderLine, GasLine, UnitLine};

use super::{Live, Shell, Tab, box_href, page, percent, time};

/// The page; `filled` is what the form for gas moved is opened with.
#[must_use]
pub fn gas_page(
    shell: &Shell,
    account: &Account,
    file: &GasFile,
    filled: &[(String, String)],
) -> Markup {
    let content = html! {
        h1 { "Refrigerant account" }
        (cautions())
        @if account.cylinders.is_empty() && account.units.is_empty() {
            p.empty { "Nothing is entered yet. Begin with the cylinders on board and the plate of a \
                unit, below." }
        }
        @if !account.cylinders.is_empty() { (cylinders(&account.cylinders)) }
        @if !account.units.is_empty() { (units(&account.units)) }
        @if !account.gases.is_empty() { (gases(&account.gases)) }
        p.neighbours { a.button href="/gas/ozone" { "Record book of ozone-depleting gases" }
            " " a.button href="/spares" { "Spare parts" } }
        h2 #enter { "Enter" }
        div.two-columns.log-forms { (forms::all(shell, account, filled)) }
        (entries(&file.entries))
    };
    page(shell, Tab::Gas, Live::No, "Refrigerant account", &content)
}

fn cautions() -> Markup {
    html! {
        div.caution {
            h2 { "Before gas is handled" }
            ul {
                li { "It burns the skin with cold and suffocates in holds and alleyways: gloves, \
                    goggles, air. R290 and R1234yf burn." }
                li { "A cylinder too full bursts when it warms: never beyond its stamp, or 80 % of \
                    its volume; shade." }
                li { "Who may handle gas, and what must be recorded: maker’s instructions, ship’s \
                    procedures, local law, licensed practice." }
            }
        }
    }
}

fn cylinders(all: &[CylinderLine]) -> Markup {
    html! {
        h2 { "Cylinders" }
        table.lines {
            thead { tr { th { "Cylinder" } th { "Gas" } th { "Holds" } th { "May hold" }
                th { "Open" } } }
            tbody { @for c in all { tr {
                th.bx { strong { (c.card.id) } " " @if c.card.recovery { span { "for recovered gas" } }
                    @if let Some(s) = c.card.source { span.cell { (source(s)) } } }
                td { (c.card.gas) }
                td { @match c.held {
                    Some(h) => { strong { (kg(h.g)) }
                        @if let Some(at) = h.known_since { " " span.ago { "weighed " (time(at)) } } }
                    None => span.blank { "not weighed" },
                } }
                td { @if let Some((g, from)) = c.limit { (kg(g)) " " span.limit { (from) } } }
                td.why {
                    @if let Some((at, words)) = &c.screened {
                        p { "Held against its name " (time(*at)) ": " (words) "." } }
                    (warnings(&c.cautions)) }
            } } }
        }
    }
}

fn source(s: Source) -> &'static str {
    match s {
        Source::Virgin => "newly made (virgin)",
        Source::Recycled => "recycled",
        Source::Reclaimed => "reclaimed",
    }
}

fn warnings(all: &[String]) -> Markup {
    html! { @for w in all { p.warning { (sentence(w)) } } }
}

/// With a capital and a full stop.
fn sentence(words: &str) -> String {
    let mut chars = words.chars();
    let first = chars.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
    format!("{first}{}.", chars.as_str())
}

fn units(all: &[UnitLine]) -> Markup {
    html! {
        h2 { "Units" }
        table.lines {
            thead { tr { th { "Unit" } th { "Charge by the plate" } th { "Added in 365 days" }
                th { "Loss a year" } th { "Leak check" } th { "Open" } } }
            tbody { @for u in all { tr {
                th.bx { a href=(box_href(&u.unit)) { (u.unit) } " " span.cell { (u.gas) } " "
                    a href={ "/gas/unit/" (percent(u.unit.as_str())) } { "its record" } }
                td { @match u.charge_g {
                    Some(g) => { (kg(g.into()))
                        @if let Some(t) = u.co2e_t { " " span.limit { (format!("{t:.2} t CO₂e")) } } }
                    None => span.blank { "not entered" },
                } }
                td { @if u.added_year_g > 0 { (kg(i64::try_from(u.added_year_g).unwrap_or(i64::MAX))) } }
                td { (rates(u)) }
                td { (check(u)) }
                td.why { (warnings(&u.cautions)) }
            } } }
        }
        p.hint { "Loss a year two ways (40 CFR 82.152): the last addition spread over the days since \
            the one before; everything added in 365 days. A top-up is taken for what had leaked." }
    }
}

fn rates(u: &UnitLine) -> Markup {
    html! {
        @if let Some((p, least)) = u.annualised_pct {
            p { "last addition: " @if least { "at least " } strong { (format!("{p:.1} %")) } }
        }
        @if let Some(p) = u.rolling_pct.filter(|p| *p > 0.0) {
            p { "365 days: " strong { (format!("{p:.1} %")) } }
        }
    }
}

fn check(u: &UnitLine) -> Markup {
    html! {
        @if let Some(i) = u.interval {
            @match i.months {
                Some(m) => p { "every " (m) " months" },
                None => p { "not asked for: " (i.why) },
            }
        }
        @if let Some(c) = &u.last_check { p { "last " (c.at.to_day()) } }
        @if let Some(due) = u.due_at { p { "next by " (due.to_day()) } }
    }
}

fn gases(all: &[GasLine]) -> Markup {
    html! {
        h2 { "What became of it" }
        div.scroll { table.readings {
            thead { tr { th { "Gas" } th.n { "At the beginning" } th.n { "Came" } th.n { "Landed" }
                th.n { "Held" } th.n { "Lost" } th.n { "leaked" } th.n { "released" }
                th.n { "unexplained" } th.n { "t CO₂e lost" } } }
            tbody { @for g in all { tr {
                th { (g.gas) }
                @let t = &g.totals;
                @for v in [t.opening_g, t.came_g, t.landed_g, t.held_g, t.loss_g(), t.leaked_g,
                    t.released_g, t.unexplained_g] { td.n { (kg(v)) } }
                td.n { @if let Some(c) = g.lost_co2e_t { (format!("{c:.2}")) } }
            } } }
        } }
        p.hint { "Lost is what was there and came, less what was landed and is held. Unexplained is \
            what a scale found missing; below zero, more was there than the account said." }
    }
}

fn entries(all: &[GasEntry]) -> Markup {
    html! {
        h2 { "Entries" }
        @if all.is_empty() { p.hint { "None." } }
        ol.log-lines { @for e in all.iter().rev().take(200) { li {
            span.when { (time(e.act.at().unwrap_or(e.entered_at))) }
            span.what {
                @if let Some(why) = &e.struck { s { (e.act.title()) } " struck out: " (why) }
                @else { (e.act.title()) }
            }
            span.by { "entry " (e.seq) ", " (e.who) }
        } } }
    }
}
