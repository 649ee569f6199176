//! What was entered of a work, in order.

use maud::{Markup, html};
use record::{InRange, ServiceDeed, ServiceEntry, StepReading, WorkFile};

use service::expect::range_words;

use super::super::time;

/// All entries, the newest last.
#[must_use]
pub fn history(w: &WorkFile) -> Markup {
    let mut step = 0;
    let mut numbered: Vec<(usize, &ServiceEntry)> = Vec::new();
    for e in &w.entries {
        step += usize::from(matches!(e.act.deed, ServiceDeed::StepDone { .. }));
        numbered.push((step, e));
    }
    html! {
        h2 #entered { "Entered so far" }
        ol.log-lines {
            @for (step, e) in numbered {
                li {
                    span.when { (time(e.act.at)) }
                    div.what {
                        @if matches!(e.act.deed, ServiceDeed::StepDone { .. }) {
                            span.kind { "step " (step) } ": "
                        }
                        (told(e))
                    }
                    p.by { "by " (e.who) }
                }
            }
        }
    }
}

fn told(e: &ServiceEntry) -> Markup {
    html! {
        @match &e.act.deed {
            ServiceDeed::Begun { goal_words, remark, .. } => {
                "Begun: " (goal_words) "." (beside(remark))
            }
            ServiceDeed::StepDone { instruction, readings, remark, .. } => {
                (instruction)
                @if !readings.is_empty() {
                    ul.step-readings { @for r in readings { li { (read(r)) } } }
                }
                (beside(remark))
            }
            ServiceDeed::Corrected { why, .. } => { "It stands otherwise: " (why) }
            ServiceDeed::Stopped { why } => { "Stopped: " (why) }
            ServiceDeed::Resumed { remark } => { "Resumed." (beside(remark)) }
            ServiceDeed::HandedOver { from, to, remark } => {
                "Handed over from " (from) " to " (to) "." (beside(remark))
            }
            ServiceDeed::Finished { reached, remark } => {
                @if *reached { "Finished: the goal is reached." }
                @else { "Ended before its goal." }
                (beside(remark))
            }
        }
    }
}

fn beside(remark: &str) -> Markup {
    html! { @if !remark.is_empty() { " " em { (remark) } } }
}

fn read(r: &StepReading) -> Markup {
    let told = range_words(r.from, r.to, &r.unit);
    html! {
        (r.what) ": "
        @if r.value.is_some() { strong { (r.as_written) } } @else { "not read" }
        " (told: " (told) ")"
        @match r.stands() {
            InRange::Below => strong.breach { " BELOW" },
            InRange::Above => strong.breach { " ABOVE" },
            _ => {},
        }
    }
}
