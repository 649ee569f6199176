//! The steps to go on paper: a box to tick, cautions before the step, room for reading and time.

use figures::pipework;
use maud::{Markup, PreEscaped, html};
use record::GasFile;
use service::words::{cautions, instruction};
use service::{Answer, ToldStep};
use voyage::works::{Work, is_read};

use super::drawing::drawn;
use super::history::history;
use super::work::{impossible, signed};
use super::{Live, Shell, Tab, Way, authority, page, work_head, work_href};

/// The page, to be printed.
#[must_use]
pub fn paper_page(shell: &Shell, work: &Work, way: &Way, gas: &GasFile) -> Markup {
    let w = &work.file;
    let content = html! {
        @if matches!(way, Way::Working(_)) { meta http-equiv="refresh" content="2"; }
        (work_head(shell, w))
        p.ranges { a.button href=(work_href(&w.id)) { "Back to the work" } " "
            (signed(work))
            span.hint { "Print this page from the browser (Ctrl P)." } }
        (authority())
        div.service-columns.on-paper {
            figure.pipework-figure {
                (PreEscaped(pipework(&drawn(&work.stated, &|_| work.is_known(), &|_| None, ""))))
                figcaption { "As it stands before the first step below." }
            }
            div {
                dl.facts {
                    dt { "Gas" } dd { (work.stated.site.fluid) }
                    dt { "Air" } dd { (format!("{:.0} °C", work.stated.site.ambient_c))
                        "; the readings below hold for it" }
                    dt { "Barometer" } dd { (format!("{:.1} kPa", work.stated.site.barometer_kpa)) }
                    dt { "Permit to work" } dd.blank-line {}
                    dt { "Second person" } dd.blank-line {}
                    dt { "Date" } dd.blank-line {}
                }
                p { strong { "Stop " } "when a reading is not as told, when a step cannot be done \
                    as written, or when the plant does not stand as drawn. Enter what was ticked \
                    here into the page afterwards, in this order." }
            }
        }
        @match way {
            Way::Working(_) => p.kept-note { "The way on is being looked for; this page renews itself." },
            Way::Failed(why) => p.trouble { (why) "." },
            Way::Ready(p) => @match &p.answer {
                Some(Answer::Possible(all)) => (table(work, all)),
                Some(Answer::Impossible(why)) => (impossible(why)),
                None => p.trouble { "What is inside is not known: after each reading the way on is \
                    another. Work from the page, not from paper." },
            },
        }
        (history(work, gas))
    };
    page(shell, Tab::Service, Live::No, &format!("Service work {} on paper", w.id), &content)
}

fn table(work: &Work, all: &[ToldStep]) -> Markup {
    let done = work.file.steps();
    html! {
        h2 { "Steps to go" }
        @if all.is_empty() { p { "None: the goal is reached." } }
        @else {
            table.tick-list {
                thead { tr {
                    th scope="col" { "Done" } th scope="col" { "Step" }
                    th scope="col" { "Should read" } th scope="col" { "Read" }
                    th scope="col" { "Who, time" }
                } }
                tbody { @for s in all { (row(s, done)) } }
            }
        }
    }
}

fn row(s: &ToldStep, done: usize) -> Markup {
    let before = cautions(s.step.action, true);
    html! {
        tr {
            td { span.tick-box aria-hidden="true" { "☐" } }
            td {
                @for c in before { p.tick-caution { strong { "! " } (c) } }
                p { strong { (done + s.n) ". " } (instruction(s.step.action)) }
                @if let Some(h) = s.guards.iter().next() {
                    p.hint { "Left out: " (h.why()) " (" (h.guard()) ")." }
                }
            }
            td { @for e in &s.expect { p { (e.what) ": " (e.range_words()) } } }
            td { @for e in s.expect.iter().filter(|e| is_read(e)) { p.blank-line { (e.unit_sign()) } } }
            td { p.blank-line {} }
        }
    }
}
