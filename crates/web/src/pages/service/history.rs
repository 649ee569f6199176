//! What was entered of a work, in order.

use maud::{Markup, html};
use record::{GasFile, InRange, PlantWords, ServiceDeed, ServiceEntry, StepReading};

use service::expect::range_words;
use voyage::works::Work;

use super::super::time;
use super::booked;
use super::entry::key_words;

/// All entries, the newest last.
#[must_use]
pub fn history(w: &Work, gas: &GasFile) -> Markup {
    let mut step = 0;
    let mut plant = PlantWords::default();
    let mut numbered: Vec<(usize, &ServiceEntry, Vec<String>)> = Vec::new();
    for e in &w.file.entries {
        step += usize::from(matches!(e.act.deed, ServiceDeed::StepDone { .. }));
        numbered.push((step, e, changed(&mut plant, &e.act.deed)));
    }
    html! {
        h2 #entered { "Entered so far" }
        ol.log-lines {
            @for (step, e, changed) in numbered {
                li {
                    span.when { (time(e.act.at)) }
                    div.what {
                        @if matches!(e.act.deed, ServiceDeed::StepDone { .. }) {
                            span.kind { "step " (step) } ": "
                        }
                        (told(e))
                        @if !changed.is_empty() {
                            ul.step-readings { @for c in changed { li { (c) } } }
                        }
                        (booked::told(w, e, gas))
                    }
                    p.by { "by " (e.who) }
                }
            }
        }
    }
}

/// What a correction changed, valve by valve and thing by thing.
fn changed(plant: &mut PlantWords, deed: &ServiceDeed) -> Vec<String> {
    let (newer, tell) = match deed {
        ServiceDeed::Begun { plant, .. } => (plant, false),
        ServiceDeed::StepDone { after, .. } => (after, false),
        ServiceDeed::Corrected { plant, .. } => (plant, true),
        _ => return Vec::new(),
    };
    let other = newer.keys.iter().filter(|(k, v)| tell && plant.keys.get(*k) != Some(*v));
    let out = other.map(|(k, v)| key_words(k, v)).collect();
    plant.overlay(newer);
    out
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
