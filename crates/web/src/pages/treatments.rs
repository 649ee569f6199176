//! All cold treatments aboard, the tightest to its port first, and the form to order one.

use figures::treatment::{StripAxis, treatment_axis, treatment_strip};
use figures::words;
use maud::{Markup, PreEscaped, html};
use record::UnitId;
use record::treatment::{Standing, TreatmentView};
use voyage::ScheduleLine;

use super::{Live, Shell, Tab, box_href, page, percent, state_tag, time};

/// The address of a treatment's page.
#[must_use]
pub fn treatment_href(unit: &UnitId) -> String {
    format!("/treatment/{}", percent(unit.as_str()))
}

/// What every page about treatments says first.
pub(super) fn standing_order() -> Markup {
    html! {
        p.caution-line {
            strong { "Until an authority releases a box: do not unplug it, do not open it, do not \
                move a probe, do not change its set point." }
            " Only an authority accepts a treatment; this page shows what the record says."
        }
    }
}

/// The page.
#[must_use]
pub fn treatments_page(
    shell: &Shell,
    views: &[TreatmentView],
    schedules: &[ScheduleLine],
    ports: &[(String, Option<units::Utc>)],
) -> Markup {
    let content = html! {
        h1 { "Cold treatments" }
        @if views.is_empty() {
            p.empty { "No cold treatment is ordered for any box aboard. Order one below." }
        } @else {
            (standing_order())
            (table(views))
        }
        div.two-columns {
            (order_form(schedules))
            (arrival_form(ports))
        }
        (schedule_list(schedules))
    };
    page(shell, Tab::Treatments, Live::Yes, "Cold treatments", &content)
}

fn table(views: &[TreatmentView]) -> Markup {
    let axis = StripAxis::of(views);
    html! {
        p.hint {
            "Tightest to its port first. Solid: counted. Hollow: expected, with the 90 % interval. \
             Cross: the rule was broken. Dashed: now. Flag: its port."
        }
        table.lines.treatments {
            thead { tr {
                th { "State" } th { "Box" } th { "Stands" }
                th { "Clock " @if let Some(a) = axis { (PreEscaped(treatment_axis(a))) } }
                th { "Time met" } th { "Before port" } th { "Do first" }
            } }
            tbody { @for v in views { (line(v, axis)) } }
        }
    }
}

fn line(v: &TreatmentView, axis: Option<StripAxis>) -> Markup {
    html! {
        tr class=(v.state.as_str()) {
            td.st { (state_tag(v.state)) }
            th.bx scope="row" {
                a href=(treatment_href(&v.unit)) { (v.unit) }
                span.cell { @if let Some(stow) = &v.stow { (stow) } }
                span { @if let Some(cargo) = &v.cargo { (cargo) } }
                @if v.rehearsal { span.mark { "rehearsal" } }
            }
            td.why { strong { (v.standing.words()) } " " (v.reason) }
            td.left { @if let Some(a) = axis { (PreEscaped(treatment_strip(v, a))) } }
            td.met { (met(v)) }
            td.port { (port(v)) }
            td.do { (v.action) }
        }
    }
}

/// When the time is met, or is expected to be.
pub(super) fn met(v: &TreatmentView) -> Markup {
    if let Some(at) = v.time_met_at {
        return html! { (time(at)) };
    }
    let Some(f) = &v.forecast else {
        return html! {};
    };
    html! {
        @match f.met_at {
            Some(at) => { "about " (time(at)) },
            None => "not in sight",
        }
        // Once the clock runs well the end is a fixed time, and an interval says nothing more.
        @if f.met_p90[0] != f.met_p90[1] {
            span.interval {
                " 90 %: "
                @match f.met_p90[0] { Some(t) => (time(t)), None => "no start in sight" }
                " to "
                @match f.met_p90[1] { Some(t) => (time(t)), None => "open" }
            }
        }
    }
}

/// The probability of being done in time.
pub(super) fn port(v: &TreatmentView) -> Markup {
    let name = v.discharge_port.as_deref().unwrap_or("port not listed");
    html! {
        (name)
        @match v.eta {
            Some(eta) => { " " span.ago { (time(eta)) } },
            None => { " " span.ago { "no arrival known" } },
        }
        @if v.time_met_at.is_none() && let Some(p) = v.forecast.as_ref().and_then(|f| f.p_before_port) {
            br; " " strong { (words::percent(p)) }
        }
    }
}

fn order_form(schedules: &[ScheduleLine]) -> Markup {
    html! {
        form.upload method="post" action="/treatments/order" {
            h2 { "Order a treatment" }
            p.hint {
                "The schedule is the importing authority's, as named in the papers of the cargo. Its \
                 text is kept with the order."
            }
            label for="order-units" { "Boxes, one or several" }
            textarea #order-units name="units" rows="2" required
                placeholder="QQQU1000011 QQQU1000027" {}
            label for="order-schedule" { "Schedule" }
            select #order-schedule name="schedule" {
                @for s in schedules {
                    option value=(s.id) {
                        (s.title) " (" (s.evidence) ")"
                    }
                }
                option value="" { "another: paste its text below" }
            }
            label for="order-text" { "Another schedule's text (TOML)" }
            textarea #order-text name="text" rows="3" spellcheck="false" {}
            label for="order-from" { "The record counts from (UTC); empty: from the first reading" }
            input #order-from name="from" size="16" placeholder="2026-03-02 08:00" autocomplete="off";
            (who("order"))
            button.main type="submit" { "Order" }
        }
    }
}

fn arrival_form(ports: &[(String, Option<units::Utc>)]) -> Markup {
    html! {
        form.upload method="post" action="/arrivals" {
            h2 { "Expected arrivals" }
            p.hint { "The latest word counts. The loading list brings the next port's by itself." }
            @if !ports.is_empty() {
                ul { @for (port, eta) in ports {
                    li { strong { (port) } " "
                        @match eta { Some(t) => { (time(*t)) " UTC" }, None => "not known" } }
                } }
            }
            label for="arrival-port" { "Port (five letters)" }
            input #arrival-port name="port" required maxlength="5" size="6" autocomplete="off";
            label for="arrival-eta" { "Expected (UTC)" }
            input #arrival-eta name="eta" required size="16" placeholder="2026-03-20 06:00"
                autocomplete="off";
            (who("arrival"))
            button.main type="submit" { "Enter" }
        }
    }
}

/// The field every form about a decision has.
pub(super) fn who(form: &str) -> Markup {
    html! {
        label for={ (form) "-who" } { "Entered by" }
        input id={ (form) "-who" } name="who" required maxlength="80" autocomplete="name"
            placeholder="name and rank";
    }
}

fn schedule_list(schedules: &[ScheduleLine]) -> Markup {
    html! {
        details {
            summary { "Schedules that come with the program, with their sources" }
            ul.troubles {
                @for s in schedules {
                    li { strong { (s.title) } " " span.mark { (s.evidence) }
                        p.source { (s.id) " · " (s.source) } }
                }
            }
        }
    }
}

/// The line on a box's own page that leads here.
#[must_use]
pub fn on_box_page(v: &TreatmentView) -> Markup {
    html! {
        section class={ "headline treatment " (v.state.as_str()) } aria-label="Cold treatment" {
            p { (state_tag(v.state)) " " strong { "Cold treatment: " (v.standing.words()) "." } " "
                (v.reason) " " a href=(treatment_href(&v.unit)) { "Ledger and forecast" } }
            @if v.released_at.is_none() && v.standing != Standing::NoSchedule {
                p { strong { "Do not unplug, do not open, do not change the set point." } }
            }
        }
    }
}

/// Back to the box.
pub(super) fn to_box(unit: &UnitId) -> Markup {
    html! { a.button href=(box_href(unit)) { "The box itself" } }
}
