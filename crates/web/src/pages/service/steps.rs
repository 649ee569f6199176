//! One step: cautions first, then what to do, then what to read and the form to enter it.

use maud::{Markup, html};
use record::GasFile;
use service::expect::Expect;
use service::words::{cautions, instruction};
use service::{Action, Hazards};
use voyage::works::{StepRefused, Work, is_read};

use super::{Way, booked, work_href};

/// What a form sent and why it was not taken.
#[derive(Debug, Clone, Default)]
pub struct Sent {
    /// The step.
    pub action: String,
    /// Readings as written, by what they are of.
    pub readings: Vec<(String, String)>,
    /// Remark.
    pub remark: String,
    /// What is booked, by field.
    pub booking: Vec<(&'static str, String)>,
    /// Why it was not taken.
    pub trouble: String,
    /// What was read that cannot go with what is taken to be inside.
    pub against: Option<String>,
}

/// Name of a reading's field.
#[must_use]
pub fn field_of(what: &str) -> String {
    format!("read-{}", what.replace(' ', "-"))
}

/// The step that is shown large: as asked for, else the first of the way on.
#[must_use]
pub fn chosen(work: &Work, way: &Way, asked: Option<Action>) -> Option<Action> {
    let Way::Ready(planned) = way else { return asked };
    let first = match (&planned.answer, &planned.strategy) {
        (Some(service::Answer::Possible(steps)), _) => steps.first().map(|s| s.step.action),
        (_, Some(strategy)) => strategy.steps.first().copied(),
        _ => None,
    };
    asked.or(if work.reached() { None } else { first })
}

/// A step that may be taken, with its form; or why it is refused.
#[must_use]
pub fn step(
    work: &Work,
    action: Action,
    planned: bool,
    sent: Option<&Sent>,
    gas: &GasFile,
) -> Markup {
    match work.after(action) {
        Err(refused) => refusal(work, action, &refused),
        Ok(_) => html! {
            section.next.step aria-labelledby="step-head" {
                h2 #step-head {
                    @if planned { "Next step" } @else { "A step that is not on the way, and safe" }
                    " (no. " (work.file.steps() + 1) ")"
                }
                (cautioned(work, action))
                p.instruction { (instruction(action)) }
                (form(work, action, sent, gas))
                @if !planned {
                    p { a.button href=(work_href(&work.file.id)) { "Back to the next step" } }
                }
            }
        },
    }
}

fn cautioned(work: &Work, action: Action) -> Markup {
    let all = cautions(action, true);
    html! {
        @if !all.is_empty() {
            div.caution {
                h3 { "Before this step" }
                ul { @for c in all { li { (c) } } }
            }
        }
        @let dangers = work.dangers();
        @if !dangers.is_empty() { (danger_list(dangers)) }
    }
}

/// Dangers as the plant stands.
#[must_use]
pub fn danger_list(all: Hazards) -> Markup {
    html! {
        div.trouble role="alert" {
            @for h in all.iter() {
                p { strong { "Danger as it stands: " } (h.why()) " (guard " (h.guard()) ")." }
            }
        }
    }
}

fn refusal(work: &Work, action: Action, refused: &StepRefused) -> Markup {
    html! {
        section.next.refused role="alert" aria-labelledby="step-head" {
            h2 #step-head { "Refused" }
            p.instruction { s { (instruction(action)) } }
            p { strong { "Not now: " } (refused.words()) "." }
            p { "Nothing was entered. If the plant does not stand as drawn, say so first." }
            p { a.button.main href=(work_href(&work.file.id)) { "Back to the next step" } " "
                a.button href={ (work_href(&work.file.id)) "/look" } { "It stands otherwise" } }
        }
    }
}

fn form(work: &Work, action: Action, sent: Option<&Sent>, gas: &GasFile) -> Markup {
    let sent = sent.filter(|s| s.action == action.id());
    let expects = work.expects(action);
    let written = |what: &str| {
        sent.and_then(|s| s.readings.iter().find(|(w, _)| w == what)).map_or("", |(_, v)| v)
    };
    let asks = sent.is_some_and(|s| !s.trouble.is_empty());
    html! {
        form.upload.step-form method="post" action={ (work_href(&work.file.id)) "/step" } {
            input type="hidden" name="action" value=(action.id());
            input type="hidden" name="entries" value=(work.file.entries.len());
            @match &expects {
                Err(why) => p.field-error { (why) },
                Ok(all) => @for e in all { (reading(e, written(e.what))) },
            }
            (booked::fields(work, action, &expects, sent, gas))
            @if let Some(s) = sent.filter(|s| !s.trouble.is_empty()) {
                p.field-error #step-trouble role="alert" { (s.trouble) }
                @if let Some(seen) = &s.against { (look_again(work, seen)) }
            }
            label for="step-remark" {
                @if asks { "Why the work goes on all the same" } @else { "Remark, if any" }
            }
            input #step-remark name="remark" maxlength="200" autocomplete="off"
                value=(sent.map_or("", |s| &s.remark))
                aria-describedby=[asks.then_some("step-trouble")] autofocus[asks];
            label for="step-who" { "Done by" }
            input #step-who name="who" required maxlength="60" autocomplete="name"
                value=(work.file.person);
            button.main type="submit" { "Done: enter it" }
        }
    }
}

/// Where a reading leads that cannot go with what is taken to be inside.
fn look_again(work: &Work, seen: &str) -> Markup {
    let look = format!("{}/look?why={}", work_href(&work.file.id), super::percent(seen));
    html! {
        p.buttons #look-again {
            a.button.main href={ (look) "&contents=unknown" } { "Nobody knows what is inside" } " "
            a.button href=(look) { "It stands otherwise" }
        }
        p.hint { "Or read the gauge again and write what it shows." }
    }
}

/// A reading: what it should be, and the field for what it is.
fn reading(e: &Expect, written: &str) -> Markup {
    let id = field_of(e.what);
    let hint = match e.unit {
        "kpag" => "kPa gauge, or with its unit: 2.2psig, 0.15barg",
        "um" => "µm, or with its unit: 40Pa, 0.4mbar",
        "min" => "minutes waited",
        "kg" => "kg on the scale",
        _ => "",
    };
    html! {
        div.expected {
            p { (first_upper(e.what)) ": " strong { (e.range_words()) } }
            p.hint { (e.note) }
            @if is_read(e) {
                label for=(id) { "Read: " (e.what) }
                input id=(id) name=(id) value=(written) maxlength="40" autocomplete="off"
                    spellcheck="false" autocapitalize="none" placeholder=(hint);
            }
        }
    }
}

/// With a capital.
#[must_use]
pub fn first_upper(text: &str) -> String {
    let mut chars = text.chars();
    let first = chars.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
    first + chars.as_str()
}

/// Every other step: those that may be taken as links, the rest with why not.
#[must_use]
pub fn others(work: &Work, shown: Option<Action>) -> Markup {
    let mut allowed = Vec::new();
    let mut refused = Vec::new();
    for action in service::action::all().filter(|a| Some(*a) != shown) {
        match work.after(action) {
            Ok(after) if after == work.fillings => {}
            Ok(_) => allowed.push(action),
            Err(StepRefused::Cannot(why)) => refused.push((action, format!("cannot: {why}"))),
            Err(r) => refused.push((action, r.words())),
        }
    }
    // What harms comes before what merely cannot be done.
    refused.sort_by_key(|(_, why)| why.starts_with("cannot"));
    let href = |a: Action| format!("{}?step={}#step-head", work_href(&work.file.id), a.id());
    html! {
        details.others {
            summary { "Another step: " (allowed.len()) " are safe from here, " (refused.len())
                " are refused" }
            h3 { "Safe from here" }
            ul.other-steps { @for a in &allowed {
                li { a.button href=(href(*a)) { (instruction(*a)) } }
            } }
            h3 { "Refused, and why" }
            ul.other-steps { @for (a, why) in &refused {
                li { a href=(href(*a)) { (instruction(*a)) } p.hint { (why) } }
            } }
        }
    }
}
