//! One work: the plant drawn, the step to take, and what else can be entered.

use maud::{Markup, PreEscaped, html};
use record::{GasFile, WorkStanding};
use service::belief::{Reading, Strategy};
use service::words::instruction;
use service::{Action, Answer, Content, ToldStep, Volume, WhyNot};
use voyage::works::Work;

use super::drawing::{drawn, key_of};
use super::history::history;
use super::steps::{self, Sent, danger_list};
use super::{Live, Shell, Tab, Way, authority, page, work_head, work_href};

/// What the page is made from.
pub struct WorkData {
    /// The work.
    pub work: Work,
    /// The way on.
    pub way: Way,
    /// The step asked for in the address.
    pub asked: Option<Action>,
    /// What a form sent and why it was not taken.
    pub sent: Option<Sent>,
    /// The refrigerant account.
    pub gas: GasFile,
}

/// The page.
#[must_use]
pub fn work_page(shell: &Shell, d: &WorkData) -> Markup {
    let w = &d.work;
    let shown = steps::chosen(w, &d.way, d.asked);
    let marked = shown.map_or("", key_of);
    let working = matches!(d.way, Way::Working(_));
    let content = html! {
        @if working && d.sent.is_none() { meta http-equiv="refresh" content="2"; }
        (work_head(shell, &w.file))
        div.service-columns {
            figure.pipework-figure {
                (PreEscaped(figures::pipework(&drawn(
                    &w.stated, &|v| agreed(w, v), &|_| None, marked,
                ))))
                figcaption.hint {
                    "As the entries leave it. " (w.stated.site.fluid) ", air "
                    (format!("{:.0}", w.stated.site.ambient_c)) " °C."
                    @if !marked.is_empty() { " The thick frame is the next step’s." }
                    @if !w.is_known() {
                        " What is inside is not known: " (w.fillings.len()) " ways fit."
                    }
                }
                @if !w.file.standing.is_over() {
                    p { a.button href={ (work_href(&w.file.id)) "/look" } {
                        "It stands otherwise, or something else is at hand, or gas or air are \
                            others" } }
                }
            }
            div { (right(d, shown)) }
        }
        (history(w, &d.gas))
        (authority())
    };
    // A page in the middle of which somebody types must not be replaced.
    page(shell, Tab::Service, Live::No, &format!("Service work {}", w.file.id), &content)
}

/// Whether all ways of filling agree on a volume.
#[must_use]
pub fn agreed(w: &Work, v: Volume) -> bool {
    let first = w.stated.state.of(v);
    w.fillings.iter().all(|s| s.of(v) == first)
}

fn right(d: &WorkData, shown: Option<Action>) -> Markup {
    let w = &d.work;
    html! {
        @match w.file.standing {
            WorkStanding::Reached | WorkStanding::GivenUp => {
                p.kept-note { "This work is over: " (w.file.standing.words()) "." }
                p { (signed(w)) }
            }
            WorkStanding::Stopped => {
                p.kept-note #stopped { strong { "Stopped. " } "Look at every valve, hose and \
                    machine before going on; if anything is not as drawn, say so first." }
                @if !w.dangers().is_empty() { (danger_list(w.dangers())) }
                (resume(w))
            }
            WorkStanding::UnderWay => {
                (under_way(d, shown))
            }
        }
        @if !w.file.standing.is_over() { (end(w)) }
    }
}

fn under_way(d: &WorkData, shown: Option<Action>) -> Markup {
    let w = &d.work;
    let planned = d.asked.is_none() || Some(first(&d.way)) == Some(d.asked);
    html! {
        @if w.reached() && d.asked.is_none() {
            section.next { h2 { "The goal is reached" }
                p { (w.file.goal_words) "." }
                p { "Enter below that the work is finished." } }
        } @else if let Some(action) = shown {
            (steps::step(w, action, planned, d.sent.as_ref(), &d.gas))
        }
        @match &d.way {
            Way::Working(s) => {
                p.kept-note role="status" {
                    "Looking for the shortest safe way on, for " (format!("{s:.0}")) " s now: \
                     every state that can be reached is looked at. This page renews itself; what \
                     is drawn and entered stands." }
            }
            Way::Failed(why) => p.trouble { (why) "." },
            Way::Ready(p) => {
                @if let Some(Answer::Impossible(why)) = &p.answer {
                    (impossible(why))
                    p { a.button href={ (work_href(&w.file.id)) "/look#at-hand" } {
                        "Say what else is at hand" } }
                }
                @if let Some(Answer::Possible(all)) = &p.answer { (rest(w, all)) }
                @if let Some(s) = &p.strategy { (strategy(w, s)) }
            }
        }
        (steps::others(w, shown))
        (stop(w))
    }
}

/// The signed paper.
pub(super) fn signed(w: &Work) -> Markup {
    html! { a.button href={ "/paper/work-" (w.file.id) ".pdf" } { "The work as a signed PDF" } }
}

/// The first step of the way on.
#[must_use]
pub fn first(way: &Way) -> Option<Action> {
    let Way::Ready(p) = way else { return None };
    match (&p.answer, &p.strategy) {
        (Some(Answer::Possible(all)), _) => all.first().map(|s| s.step.action),
        (_, Some(s)) => s.steps.first().copied(),
        _ => None,
    }
}

/// Why there is no way.
#[must_use]
pub fn impossible(why: &WhyNot) -> Markup {
    html! {
        section.trouble aria-label="No safe way" {
            p { strong { "No safe way from here. " } "All " (why.reached)
                " states that can be reached safely were looked at." }
            @for h in &why.hazards { p { "In the way: " (h.why()) " (guard " (h.guard()) ")." } }
            @for help in &why.would_help { p { strong { "Would help: " } (help) "." } }
            @if why.hazards.is_empty() && why.would_help.is_empty() {
                p { "No single thing known here would open a way. Leave it shut and ask ashore." }
            }
        }
    }
}

fn rest(w: &Work, all: &[ToldStep]) -> Markup {
    let minutes: u32 = all.iter().map(|s| s.step.effort).sum();
    html! {
        @if all.len() > 1 {
            details.rest {
                summary { (all.len()) " steps to go, about " (minutes) " minutes of work" }
                ol.findings { @for s in all { li { (s.instruction)
                    @for e in &s.expect { p.hint { (e.what) ": " (e.range_words()) } }
                } } }
            }
        }
        p { a.button href={ (work_href(&w.file.id)) "/paper" } {
            "The steps to go on paper, with boxes to tick" } " " (signed(w)) }
    }
}

fn strategy(w: &Work, s: &Strategy) -> Markup {
    html! {
        section.next aria-label="What is inside is not known" {
            h2 { "What is inside is not known" }
            p { (s.fillings) " ways of filling fit what is seen; a safe way is known for "
                (s.solved) " of them." }
            @if !s.steps.is_empty() {
                p { "First, safe whatever is inside:" }
                ol { @for a in &s.steps { li { (instruction(*a)) } } }
            }
            @if !s.readings.is_empty() {
                @if s.steps.is_empty() { p { strong { "Read now" } ", at the manifold, with gauge, \
                    vacuum gauge, gas detector and oxygen meter, and tap what they show:" } }
                @else { p { "Then read at the manifold. It can show:" } }
                ul.other-steps { @for (i, r) in s.readings.iter().enumerate() {
                    li { (outcome(w, s, i, r)) }
                } }
            }
        }
    }
}

fn outcome(w: &Work, s: &Strategy, i: usize, r: &Reading) -> Markup {
    let [low, high, centre] = r.shows.map(Content::id);
    let words = format!("low: {low}; high: {high}; centre: {centre}");
    let sure = r.then.solved == r.then.fillings;
    html! {
        @if s.steps.is_empty() {
            form.inline method="post" action={ (work_href(&w.file.id)) "/shown" } {
                input type="hidden" name="entries" value=(w.file.entries.len());
                input type="hidden" name="outcome" value=(i);
                input type="hidden" name="who" value=(w.file.person);
                button type="submit" { (words) }
            }
        } @else { (words) }
        @if !sure { p.hint { "For this no safe way is known for all ways of filling." } }
    }
}

fn hidden(w: &Work) -> Markup {
    html! { input type="hidden" name="entries" value=(w.file.entries.len()); }
}

fn who(id: &str, label: &str, name: &str) -> Markup {
    html! {
        label for=(id) { (label) }
        input id=(id) name="who" required maxlength="60" autocomplete="name" value=(name);
    }
}

fn resume(w: &Work) -> Markup {
    html! {
        form.upload method="post" action={ (work_href(&w.file.id)) "/resume" } {
            (hidden(w))
            h2 { "Go on" }
            label for="resume-remark" { "What was looked at" }
            input #resume-remark name="remark" maxlength="200" autocomplete="off";
            (who("resume-who", "Who goes on", ""))
            button.main type="submit" { "It stands as drawn: resume" }
        }
    }
}

fn stop(w: &Work) -> Markup {
    html! {
        details {
            summary { "Stop here, or hand over" }
            form.upload method="post" action={ (work_href(&w.file.id)) "/stop" } {
                (hidden(w))
                h2 { "Stop" }
                @if w.dangers().is_empty() {
                    p { "Nothing that stands so is a danger known here." }
                } @else { (danger_list(w.dangers())) }
                label for="stop-why" { "Why, and what the next person must know" }
                input #stop-why name="why" required maxlength="200" autocomplete="off";
                (who("stop-who", "Entered by", &w.file.person))
                button type="submit" { "Stop the work" }
            }
            form.upload method="post" action={ (work_href(&w.file.id)) "/hand-over" } {
                (hidden(w))
                h2 { "Hand over" }
                label for="to" { "To" }
                input #to name="to" required maxlength="60" autocomplete="off";
                label for="over-remark" { "What was said" }
                input #over-remark name="remark" maxlength="200" autocomplete="off";
                (who("over-who", "Entered by", &w.file.person))
                button type="submit" { "Hand it over" }
            }
        }
    }
}

fn end(w: &Work) -> Markup {
    let reached = w.reached();
    html! {
        details open[reached] {
            summary { @if reached { "Finish the work" } @else { "End it before its goal" } }
            form.upload method="post" action={ (work_href(&w.file.id)) "/finish" } {
                (hidden(w))
                label for="end-remark" { "What is left, what was found, parts used" }
                input #end-remark name="remark" maxlength="200" autocomplete="off"
                    required[!reached];
                (who("end-who", "Entered by", &w.file.person))
                button.main[reached] type="submit" {
                    @if reached { "Finished" } @else { "End it here" } }
            }
        }
    }
}
