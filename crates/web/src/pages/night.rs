//! Who goes where first tonight; repairs begun and ended.

use figures::lanes::{Lane, LaneBar, LaneKind, lanes_chart};
use figures::{Look, words};
use maud::{Markup, PreEscaped, html};
use record::{RepairUnderWay, UnitId};
use units::Utc;
use voyage::NightPlan;

use super::{Live, Shell, Tab, page, percent, time};

/// Most people the form offers.
const PEOPLE_MAX: usize = 9;

/// How many people are asked for and who: as the address says, else the crew held, else two.
#[must_use]
pub fn people(pairs: &[(String, String)], crew: &[String]) -> Vec<String> {
    let get = |key: &str| pairs.iter().find(|(k, _)| k == key).map(|(_, v)| v.trim());
    let n = get("people").and_then(|v| v.parse().ok()).filter(|n| (1..=PEOPLE_MAX).contains(n));
    let names = get("names").unwrap_or_default();
    let typed = names
        .split(',')
        .map(|name| name.trim().chars().filter(|c| !c.is_control()).take(40).collect::<String>());
    let mut out: Vec<String> = Vec::new();
    for name in typed.chain(crew.iter().cloned()).filter(|n| !n.is_empty()) {
        if !out.contains(&name) {
            out.push(name);
        }
    }
    let usual = if crew.is_empty() { 2 } else { crew.len().min(PEOPLE_MAX) };
    let n = n.unwrap_or(usual);
    out.truncate(n);
    for i in out.len()..n {
        out.push(format!("person {}", i + 1));
    }
    out
}

/// What the page is made from.
pub struct NightData {
    /// The plan, or why there is none.
    pub plan: Result<NightPlan, String>,
    /// Who was asked for.
    pub asked: Vec<String>,
    /// Repairs under way.
    pub under_way: Vec<RepairUnderWay>,
    /// The crew file held, as text.
    pub crew_file: String,
}

/// The repair plan.
#[must_use]
pub fn repairs_page(shell: &Shell, data: &NightData) -> Markup {
    let content = html! {
        h1 { "Who first" }
        form.search method="get" action="/repairs" {
            label { "People " input name="people" size="3" inputmode="numeric"
                value=(data.asked.len()); }
            label { "Names, with commas " input name="names" size="30" maxlength="200"
                value=(data.asked.join(", ")); }
            button.main type="submit" { "Plan" }
        }
        @match &data.plan {
            Err(why) => p.trouble { (why) "." },
            Ok(n) => (repairs(shell, n, data)),
        }
        (under_way(shell, &data.under_way))
        (crew_form(shell, &data.crew_file))
    };
    page(shell, Tab::Repairs, Live::No, "Who first", &content)
}

/// Repairs under way, each with the ways it may end.
fn under_way(shell: &Shell, all: &[RepairUnderWay]) -> Markup {
    html! {
        @if !all.is_empty() {
            h2 #under-way { "Under way" }
            @for u in all {
                form.upload method="post" action="/repairs/end" {
                    p { strong { (u.person) } " on "
                        a href={ "/box/" (percent(u.unit.as_str())) } { (u.unit) }
                        " since " (time(u.since)) " UTC" }
                    (hidden(shell, &u.unit))
                    label { "What was done or found " input name="remark" size="40" maxlength="200"; }
                    label { "Your name " input name="who" size="16" maxlength="60" required
                        value=(u.person); }
                    p.buttons {
                        button.main type="submit" name="outcome" value="done" { "Done" }
                        button type="submit" name="outcome" value="stopped" { "Broken off" }
                        button type="submit" name="outcome" value="beyond_us" {
                            "Beyond what is on board" }
                    }
                }
            }
        }
    }
}

fn hidden(shell: &Shell, unit: &UnitId) -> Markup {
    html! {
        input type="hidden" name="unit" value=(unit.as_str());
        input type="hidden" name="back" value=(shell.here);
    }
}

fn crew_form(shell: &Shell, file: &str) -> Markup {
    html! {
        details {
            summary { "People, skills, rest, parts, values" }
            form.upload method="post" action="/repairs/crew" {
                p.hint { "One part after another; each may be left out. Times are UTC." }
                textarea name="file" rows="16" cols="72" spellcheck="false"
                    aria-label="Crew file" {
                    @if file.is_empty() { (voyage::CREW_EXAMPLE) } @else { (file) }
                }
                input type="hidden" name="back" value=(shell.here);
                label { "Your name " input name="who" size="16" maxlength="60" required; }
                button.main type="submit" { "Hold this from now on" }
            }
        }
    }
}

fn repairs(shell: &Shell, n: &NightPlan, data: &NightData) -> Markup {
    let (under_way, asked) = (&data.under_way, &data.asked);
    let p = &n.plan;
    let lanes = lanes(p);
    let drawn = lanes_chart(&lanes, Look::Wide).zip(lanes_chart(&lanes, Look::Narrow));
    html! {
        (super::watch::as_of_instant(shell, n.at))
        div.caution { h2 { "Before anybody goes" } ul { @for c in &p.cautions { li { (c) } } } }
        @match drawn {
            None => p.empty { "No box has a limit in sight that hands could keep." },
            Some((wide, narrow)) => {
                p { "Expected loss " strong { (words::number(p.expected_loss, 2)) } " "
                    (p.value_unit) " (90 %: " (words::number(p.expected_loss_p90[0], 2)) " to "
                    (words::number(p.expected_loss_p90[1], 2)) "); "
                    (words::number(p.loss_if_idle, 2)) " if nobody goes. " (p.quality) }
                figure.history { (PreEscaped(wide)) (PreEscaped(narrow)) }
                (on_paper(&sheet_href(asked), "The plan on paper (PDF)"))
            },
        }
        @for l in p.lanes.iter().filter(|l| !l.steps.is_empty()) {
            h2 { (l.person) }
            ol.findings { @for s in &l.steps { li {
                p { a href={ "/box/" (percent(&s.job)) } { (s.job) } ", " (s.at) }
                p { "Done after " strong { (words::hours(s.finish_h[1])) } ", 80 %: "
                    (words::hours(s.finish_h[0])) " to " (words::hours(s.finish_h[2])) "." }
                p.do { (s.why) }
                @if !under_way.iter().any(|u| u.unit.as_str() == s.job) {
                    (begin(shell, n.at, &l.person, &s.job))
                }
            } } }
        }
        @if !p.not_done.is_empty() {
            h2 { "Left for later" }
            ul.troubles { @for d in &p.not_done { li {
                a href={ "/box/" (percent(&d.job)) } { (d.job) } ", " (d.at) ". " (d.why)
            } } }
        }
        (assumed(n.notes.iter().chain(&p.estimates)))
    }
}

/// Where the same plan is had on paper.
fn sheet_href(asked: &[String]) -> String {
    let names: Vec<String> = asked.iter().map(|n| percent(n)).collect();
    format!("/paper/repairs.pdf?people={}&names={}", asked.len(), names.join(","))
}

/// A link to a page on paper.
pub(super) fn on_paper(href: &str, text: &str) -> Markup {
    html! { p { a.button download href=(href) { (text) } } }
}

/// The button with which a repair begins.
fn begin(shell: &Shell, at: Option<Utc>, person: &str, job: &str) -> Markup {
    let unit = at.and_then(|_| UnitId::from_text(job));
    html! {
        @if let Some(unit) = unit {
            form.inline method="post" action="/repairs/begin" {
                (hidden(shell, &unit))
                input type="hidden" name="person" value=(person);
                button type="submit" { (person) " begins on " (unit) }
            }
        }
    }
}

/// The plan as a time chart.
#[must_use]
pub fn lanes(plan: &plans::repair::RepairPlan) -> Vec<Lane> {
    plan.lanes.iter().map(lane).collect()
}

fn lane(l: &plans::repair::Lane) -> Lane {
    use plans::repair::SpanKind;
    let bars = l.spans.iter().map(|s| LaneBar {
        kind: match s.kind {
            SpanKind::Walk => LaneKind::Walk,
            SpanKind::Wait => LaneKind::Wait,
            SpanKind::Work => LaneKind::Work,
            SpanKind::Rest => LaneKind::Rest,
        },
        from_h: s.from_h,
        to_h: s.to_h,
        done_h: s.to_p10_p90_h,
        label: s.job.clone(),
    });
    Lane { name: l.person.clone(), bars: bars.collect() }
}

pub(super) fn assumed<'a>(notes: impl Iterator<Item = &'a String>) -> Markup {
    html! {
        details {
            summary { "What was assumed" }
            ul.troubles { @for n in notes { li { (n) } } }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn people_are_named_or_numbered() {
        let pairs = |n: &str, names: &str| {
            vec![("people".to_owned(), n.to_owned()), ("names".to_owned(), names.to_owned())]
        };
        let crew = ["Cy".to_owned()];
        assert_eq!(people(&[], &[]), ["person 1", "person 2"]);
        assert_eq!(people(&[], &crew), ["Cy"]);
        assert_eq!(people(&pairs("3", "Ann, Ann,Bo"), &[]), ["Ann", "Bo", "person 3"]);
        assert_eq!(people(&pairs("2", "Ann"), &crew), ["Ann", "Cy"]);
        assert_eq!(people(&pairs("99", ""), &[]).len(), 2);
    }
}
