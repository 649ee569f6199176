//! Spare parts: what is on board, what was used, what will be short.

use maud::{Markup, html};
use record::SparesFile;
use service::spares::PartLine;
use voyage::Shelf;

use super::{Live, Shell, Tab, page, time};

/// The page.
#[must_use]
pub fn spares_page(shell: &Shell, shelf: &Shelf, file: &SparesFile) -> Markup {
    let content = html! {
        h1 { "Spare parts" }
        @if shelf.parts.is_empty() {
            p.empty { "Nothing is entered yet. Begin by counting the shelf, below." }
        } @else {
            p.as-of { "Ahead: " (format!("{:.0}", shelf.days_ahead)) " days, " (shelf.until) "." }
            (table(&shelf.parts))
            p.hint { "Ahead is what the rate of use so far makes likely (5 and 95 % bounds); little \
                seen makes it wide. Short: fewer than wanted, or a chance of one in five and more \
                to run out." }
        }
        h2 #enter { "Enter" }
        datalist #parts { @for p in &shelf.parts { option value=(p.part) {} } }
        div.two-columns.log-forms { (forms(shell)) }
        h2 { "Entries" }
        @if file.entries.is_empty() { p.hint { "None." } }
        ol.log-lines { @for e in file.entries.iter().rev().take(200) { li {
            span.when { (time(e.act.at())) }
            span.what { (e.act.title()) }
            span.by { "entry " (e.seq) ", " (e.who) }
        } } }
    };
    page(shell, Tab::Spares, Live::No, "Spare parts", &content)
}

fn table(parts: &[PartLine]) -> Markup {
    html! {
        table.lines {
            thead { tr { th { "Part" } th { "On board" } th { "Wanted" } th { "Used" }
                th { "Ahead" } th { "Runs out" } } }
            tbody { @for p in parts { tr class=[p.short().then_some("act")] {
                th.bx.st { strong { (p.part) } @if p.short() { " " strong { "short" } } }
                td { @match p.on_board {
                    Some(n) => { (n) " on board" },
                    None => span.blank { "not counted" },
                } }
                td { @if let Some(n) = p.least { "at least " (n) " wanted" } }
                td { (p.used) " used in " (format!("{:.0}", p.days)) " days" }
                td { @if let Some([low, _, high]) = p.ahead { (low) " to " (high) " ahead" } }
                td { @if let Some(x) = p.runs_out { (format!("{:.0} %", 100.0 * x)) " to run out" } }
            } } }
        }
    }
}

fn forms(shell: &Shell) -> Markup {
    let form = |what: &str, summary: &str, open: bool, fields: Markup| {
        html! {
            details.write-down open[open] {
                summary { (summary) }
                form.upload method="post" action={ "/spares/" (what) } {
                    label { "Part " input name="part" required list="parts" maxlength="80"; }
                    label { "How many " input name="count" required inputmode="numeric" size="6"; }
                    (fields)
                    label { "When (UTC) "
                        input name="at" required size="16" value=(shell.now.to_minute()); }
                    label { "Entered by " input name="who" required maxlength="80"
                        autocomplete="name" placeholder="name and rank"; }
                    button.main type="submit" { "Enter it" }
                }
            }
        }
    };
    html! {
        (form("use", "Used", true, html! {
            label { "For what job " input name="job" required maxlength="120"; }
            label { "Unit " input name="unit" size="13" maxlength="20"
                autocapitalize="characters"; }
        }))
        (form("count", "Counted on the shelf", false, html! {
            label { "Fewest wanted " input name="least" inputmode="numeric" size="6"; }
        }))
        (form("receive", "Came on board", false, html! {
            label { "Remark " input name="remark" maxlength="200"; }
        }))
    }
}
