//! Service work: works under way, the plant entered by tapping, one step after the other, paper.

pub mod booked;
pub mod drawing;
pub mod entry;
pub mod history;
pub mod paper;
pub mod steps;
pub mod work;

use maud::{Markup, html};
use record::{UnitId, WorkFile};
use service::belief::Strategy;
use service::{Answer, State};

use super::{Live, Shell, Tab, ago, box_href, page, percent, time};

/// The way on, worked out off the pages.
#[derive(Debug, Clone)]
pub struct Planned {
    /// Every way in which the plant can be filled.
    pub fillings: Vec<State>,
    /// The way where what is inside is known, or why there is none.
    pub answer: Option<Answer>,
    /// What to do where it is not.
    pub strategy: Option<Strategy>,
}

/// The way on, or that it is still being looked for.
#[derive(Debug, Clone)]
pub enum Way {
    /// Found.
    Ready(std::sync::Arc<Planned>),
    /// Looked for since so many seconds.
    Working(f64),
    /// Not to be worked out.
    Failed(String),
}

/// The address of a work's page.
#[must_use]
pub fn work_href(id: &str) -> String {
    format!("/service/{}", percent(id))
}

/// Said on every page of this part.
#[must_use]
pub fn authority() -> Markup {
    html! {
        p.caution-line {
            strong { "Pressure, cold burns, 440 V, gas that chokes: " }
            "goggles and gloves on, place aired, permit to work and lock-out first, never alone. \
             Refrigerant work needs a certificate. This page advises and has no authority: the \
             maker’s instructions, the ship’s procedures, local codes and licensed practice come \
             first. Where a reading is not as told, stop."
        }
    }
}

/// Works under way, and those that are over.
#[must_use]
pub fn list_page(shell: &Shell, works: &[WorkFile]) -> Markup {
    let (over, open): (Vec<&WorkFile>, Vec<&WorkFile>) =
        works.iter().rev().partition(|w| w.standing.is_over());
    let content = html! {
        h1 { "Service work" }
        (authority())
        p { a.button.main href="/service/new" { "Begin a work" } }
        @if !open.is_empty() {
            h2 { "Not finished" }
            ul.bay-list { @for w in open { li.watch { (line(shell, w)) } } }
        }
        @if !over.is_empty() {
            h2 { "Over" }
            ul.bay-list { @for w in over { li { (line(shell, w)) } } }
        }
        @if works.is_empty() { p.empty { "No service work was begun on this voyage." } }
        p.hint {
            "A work leads step by step from where the valves stand to a goal: gauges on, pumped \
             down, part changed, charged, back in service. Each step is held against what it would \
             bring about; one that harms is refused. It can be stopped after any step and gone on \
             with by somebody else."
        }
    };
    page(shell, Tab::Service, Live::Yes, "Service work", &content)
}

fn line(shell: &Shell, w: &WorkFile) -> Markup {
    html! {
        a href=(work_href(&w.id)) { strong { (w.id) } span { (w.unit) " · " (w.goal_words) } }
        p {
            strong { (w.standing.words()) } ", in the hands of " (w.person) ", " (w.steps())
            " steps; begun " (time(w.since())) ", last entry " (ago(w.last_at(), shell.now)) "."
        }
    }
}

/// The box's own works, short, for its page.
#[must_use]
pub fn on_box_page(shell: &Shell, unit: &UnitId, works: &[WorkFile]) -> Markup {
    html! {
        h2 #service { "Service work" }
        @if !works.is_empty() {
            ul.bay-list { @for w in works.iter().rev() { li { (line(shell, w)) } } }
        }
        @if works.iter().all(|w| w.standing.is_over()) {
            p { a.button href={ "/service/new?unit=" (percent(unit.as_str())) } {
                "Begin service work on it"
            } }
        }
    }
}

/// Head of a page about one work.
pub(super) fn work_head(shell: &Shell, w: &WorkFile) -> Markup {
    html! {
        div.box-head {
            h1 { "Service work " (w.id) }
            p.where { a href=(box_href(&w.unit)) { (w.unit) } " · " (w.goal_words) }
        }
        p.as-of {
            strong { (w.standing.words()) } ", in the hands of " strong { (w.person) } ". Begun "
            (time(w.since())) " UTC, " (w.steps()) " steps done, last entry "
            (ago(w.last_at(), shell.now)) "."
        }
    }
}
