//! What has to be shown at a port: on the screen and on paper.

use maud::{Markup, html};
use record::handover::{Handover, Part};
use units::Utc;

use super::{Live, Shell, Tab, page, percent, time};

/// The ports to choose from.
#[must_use]
pub fn ports_page(shell: &Shell, ports: &[(String, Option<Utc>)]) -> Markup {
    let content = html! {
        h1 { "What to show at a port" }
        @if ports.is_empty() {
            p.empty { "No list names a port of discharge. Load a list under Files." }
        } @else {
            p.hint { "One list for each port of discharge: what has to be shown there, what of it is \
                held, what is still open." }
            ul.entries { @for (port, eta) in ports {
                li { p { a.button href={ "/handover/" (percent(port)) } { (port) } " "
                    @match eta { Some(t) => { "expected " (time(*t)) },
                        None => span.hint { "arrival not known; enter it under Treatments" } } } }
            } }
        }
    };
    page(shell, Tab::Handover, Live::Yes, "What to show at a port", &content)
}

/// The list of one port.
#[must_use]
pub fn handover_page(shell: &Shell, h: &Handover) -> Markup {
    let content = html! {
        h1 { "What to show at " (h.port) }
        p { (h.ship_line) ". "
            @match h.eta { Some(t) => { "Expected " (time(t)) ". " }, None => "Arrival not known. " }
            (h.boxes) @if h.boxes == 1 { " container" } @else { " containers" }
            " to discharge there. Made " (time(h.made_at)) "." }
        p.no-print {
            a.button.main download href={ "/handover/" (percent(&h.port)) "/list.pdf" } {
                "As a signed PDF" }
            " " a.button href="/handover" { "Other ports" } }
        p.hint { "Blank: nobody entered it. An authority, the cargo’s papers and the ship’s own \
            procedures may ask for more." }
        h2 { "Still open" }
        @if h.open.is_empty() {
            p { "Nothing that is entered is open." }
        } @else {
            ul.tick { @for line in &h.open { li { span.box aria-hidden="true" { "☐ " } (minus(line)) } } }
        }
        @for p in &h.parts { (part(p)) }
        p.source { "Journal root " span.hash { (h.root) } " over " (h.entries) " entries" }
    };
    page(shell, Tab::Handover, Live::Yes, &format!("What to show at {}", h.port), &content)
}

/// Real minus signs before figures.
fn minus(text: &str) -> String {
    let text = text.replace(" -", " \u{2212}");
    let figure = text.strip_prefix('-').filter(|t| t.starts_with(|c: char| c.is_ascii_digit()));
    figure.map_or_else(|| text.clone(), |t| format!("\u{2212}{t}"))
}

fn part(p: &Part) -> Markup {
    html! {
        h2 id=(p.key) { (p.title) }
        @for m in p.musts {
            p.must { "To be shown: " (m.what) " " span.source { (m.source) } " "
                span.mark { (m.trust) } }
        }
        @if p.rows.is_empty() {
            p.empty { (p.empty) }
        } @else {
            div.scroll tabindex="0" role="region" aria-label=(p.title) {
                table.readings {
                    thead { tr { @for (_, head) in p.columns {
                        th.n[head.starts_with('>')] { (head.trim_start_matches('>')) } } } }
                    tbody { @for row in &p.rows { tr {
                        @for ((_, head), cell) in p.columns.iter().zip(row) {
                            td.n[head.starts_with('>')].wrap[cell.chars().count() > 24] {
                                (minus(cell)) } }
                    } } }
                }
            }
        }
    }
}
