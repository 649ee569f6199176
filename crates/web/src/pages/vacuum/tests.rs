//! Nitrogen and standing-pressure tests in the journal, on the page of vacuum and on a box's page.

use maud::{Markup, html};
use record::{HoldFile, PressureEntry, UnitId};

use super::parts::{stale, temperature};
use crate::pages::{box_href, time};

/// The tests, the newest first, each with its whole record; one may stand open.
pub(super) fn list(tests: &[PressureEntry], open: Option<i64>) -> Markup {
    html! {
        div.tests { @for e in tests.iter().rev() { (record(e, open == Some(e.seq))) } }
    }
}

fn record(e: &PressureEntry, open: bool) -> Markup {
    let t = &e.test;
    let first = t.told.first().map_or(t.verdict.as_str(), String::as_str);
    html! {
        details.test-record id={ "test-" (e.seq) } open[open] {
            summary {
                strong { (t.kind.heading()) } " of " (t.subject()) ", " (time(t.at)) ": "
                strong { (first) } " Signed by " (e.who) "."
            }
            dl.facts {
                dt { "Told then" } dd { @for line in &t.told { p { (line) } } }
                dt { "Signed by" } dd { strong { (e.who) } ", entered " (time(e.entered_at)) " UTC, \
                    journal entry " (e.seq) }
                @if let Some(unit) = &t.unit {
                    dt { "Container" } dd { a href=(box_href(unit)) { (unit) } }
                }
                @if !t.place.is_empty() { dt { "What was tested" } dd { (t.place) } }
                dt { "Last reading" } dd { (time(t.at)) " UTC" }
                dt { "Gauge" } dd { (t.gauge) }
                dt { "Calibrated on" } dd {
                    @if t.calibrated_on.is_empty() { "no paper" } @else { (t.calibrated_on) }
                    @if stale(&t.calibrated_on, t.at) { ", more than a year before this test" } }
                dt { "Ambient" } dd { (temperature(t.ambient_c)) }
                @for [what, text] in &t.as_written {
                    dt { (capital(what)) } dd { (text) }
                }
                @if !t.remark.is_empty() { dt { "Remark" } dd { (t.remark) } }
            }
        }
    }
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    let first = chars.next().map(|c| c.to_uppercase().collect::<String>());
    first.unwrap_or_default() + chars.as_str()
}

/// What a box's page tells of its holds and tests.
pub(crate) fn on_box_page(unit: &UnitId, holds: &[HoldFile], tests: &[PressureEntry]) -> Markup {
    html! {
        h2 #vacuum { "Vacuum and pressure tests" }
        @if holds.is_empty() && tests.is_empty() {
            p.empty { "None was entered for this container." }
        }
        @if !holds.is_empty() {
            ul.bay-list { @for h in holds.iter().rev() { li { (hold_line(h)) } } }
        }
        @if !tests.is_empty() { (list(tests, None)) }
        p { a.button href={ "/vacuum?unit=" (crate::pages::percent(unit.as_str())) "#begin" } {
            "Begin a hold or a test of this box"
        } }
    }
}

fn hold_line(h: &HoldFile) -> Markup {
    html! {
        a href=(super::hold_href(&h.start.id)) { strong { "Vacuum hold " (h.start.id) }
            @if !h.start.place.is_empty() { span { (h.start.place) } } }
        p {
            "Valve closed " (time(h.start.at)) ", "
            @match &h.end {
                Some((end, who)) => { "signed by " (who) ": " strong { (end.words) } },
                None => { strong { "going on" } ", " (h.counted().len()) " readings" },
            }
            "."
        }
    }
}
