//! One box's cold treatment: where it stands, the chart, what broke it, the ledger, what an
//! official decided, and the forms to enter all that.

use figures::treatment::treatment_chart;
use figures::{Look, words};
use maud::{Markup, PreEscaped, html};
use record::treatment::{BreachRecord, ProbeStanding, TreatmentForecast, TreatmentView, WhatIf};

use super::treatments::{met, port, standing_order, to_box, treatment_href, who};
use super::{Live, Shell, Tab, page, state_tag, time};

/// The page.
#[must_use]
pub fn treatment_page(shell: &Shell, v: &TreatmentView) -> Markup {
    let title = format!("Cold treatment of {}", v.unit);
    let content = html! {
        div.box-head {
            h1 { (title) }
            p.where { @if let Some(stow) = &v.stow { (stow) }
                @if let Some(cargo) = &v.cargo { " · " (cargo) } }
        }
        @if v.released_at.is_none() { (standing_order()) }
        (headline(v))
        (clock_figures(v))
        (chart(v))
        (probes(v))
        (breaches(v))
        (forecast(v))
        (ledger(v))
        (rule(v))
        (acts(v))
        (forms(v))
        nav.neighbours { a.button href="/treatments" { "All treatments" } (to_box(&v.unit)) }
    };
    page(shell, Tab::Treatments, Live::Yes, &title, &content)
}

fn headline(v: &TreatmentView) -> Markup {
    html! {
        section class={ "headline " (v.state.as_str()) } aria-label="State and what to do" {
            p.verdict { (state_tag(v.state)) " " strong { (v.standing.words()) } ". " (v.reason) }
            @if v.rehearsal {
                p { strong { "Rehearsal: " } "no source was read for this schedule. Nothing here may \
                    be shown to an authority as a treatment." }
            }
            @if let Some(at) = v.released_at { p { "Released by an authority on " (time(at)) " UTC." } }
            @if !v.action.is_empty() { p.first { strong { "Do first: " } (v.action) } }
            @if let Some(beside) = &v.beside { p { (beside) } }
            @for w in &v.warnings { p.warning { (w) } }
        }
    }
}

fn clock_figures(v: &TreatmentView) -> Markup {
    let blank = || html! { span.blank { "not yet" } };
    html! {
        dl.figures {
            div { dt { "Started" } dd { @match v.started_at { Some(t) => (time(t)), None => (blank()) } } }
            div { dt { "Counted" } dd { (words::hours(v.elapsed_h)) }
                dd.interval { "of " (words::hours(v.required_h))
                    @if v.extension_h > 0.0 { ", " (words::hours(v.extension_h)) " of it added" } } }
            div { dt { "Left" } dd { (words::hours(v.remaining_h)) } }
            div { dt { "Time met" } dd { (met(v)) } }
            div { dt { "Port" } dd { (port(v)) } }
            @if let (Some(a), Some(b)) = (v.planning_restart_at, v.planning_finish_at) {
                div { dt { "If restarted" } dd { (time(b)) }
                    dd.interval { "from " (time(a)) ". Planning figure; an official decides." } }
            }
        }
    }
}

fn chart(v: &TreatmentView) -> Markup {
    let drawn = treatment_chart(v, Look::Wide).zip(treatment_chart(v, Look::Narrow));
    html! {
        h2 #record { "The record" }
        @match drawn {
            Some((wide, narrow)) => figure.history { (PreEscaped(wide)) (PreEscaped(narrow)) },
            None => p.empty { "No pulp probe was read yet." },
        }
    }
}

fn temp2(c: Option<f64>) -> String {
    c.map(|c| format!("{} °C", words::number(c, 2))).unwrap_or_default()
}

fn probes(v: &TreatmentView) -> Markup {
    html! {
        h2 { "Probes" }
        div.scroll { table.readings {
            thead { tr {
                th { "Probe" } th { "In slurry" } th { "Correction" } th { "Accepted" }
                th { "Latest, corrected" } th { "Left to the limit" } th { "Warmest" } th { "Coldest" }
                th { "Heading for" } th { "Largest step, 3 d" }
            } }
            tbody { @for p in &v.probes { (probe(p)) } }
        } }
    }
}

fn probe(p: &ProbeStanding) -> Markup {
    let accepted = match (p.fitted, p.acceptable) {
        (false, _) => "not fitted",
        (_, Some(true)) => "yes",
        (_, Some(false)) => "NO",
        (_, None) => "not judged",
    };
    let kelvin = |k: Option<f64>, places| {
        k.map(|k| format!("{} K", words::number(k, places))).unwrap_or_default()
    };
    html! {
        tr {
            th { "probe " (p.number) }
            td.n { (temp2(p.slurry_mean_c)) }
            td.n { (kelvin(p.correction_k, 2)) }
            td { (accepted) }
            td.n { (temp2(p.latest_c)) }
            td.n { @if p.margin_k.is_some_and(|m| m < 0.0) { strong { "over by " (kelvin(p.margin_k.map(|m| -m), 2)) } }
                @else { (kelvin(p.margin_k, 2)) } }
            td.n { (temp2(p.max_c)) }
            td.n { (temp2(p.min_c)) }
            td.n { (temp2(p.heading_c))
                @if let Some([a, b]) = p.heading_c_p90 {
                    " " span.interval { (words::number(a, 2)) " to " (words::number(b, 2)) }
                } }
            td.n { (kelvin(p.largest_step_k, 2)) }
        }
    }
}

fn breaches(v: &TreatmentView) -> Markup {
    html! {
        h2 { "What broke the rule" }
        @if v.breaches.is_empty() {
            p { "Nothing so far." }
        } @else {
            ol.findings { @for b in &v.breaches { (breach(v, b)) } }
        }
    }
}

fn breach(v: &TreatmentView, b: &BreachRecord) -> Markup {
    let pending = b.effect == "invalid_unless_verified" && b.decided.is_none();
    html! {
        li {
            p { strong { (b.kind) } ", " (time(b.from_at)) " to " (time(b.to_at)) " UTC. " (b.words) }
            @if let Some(p) = &b.paragraph { p.source { "Under " (p) "." } }
            @if let Some(d) = &b.decided { p { (d) } }
            @if pending {
                details {
                    summary { "Enter an official's decision" }
                    form.upload method="post" action={ (treatment_href(&v.unit)) "/decision" } {
                        input type="hidden" name="from" value=(b.from_at);
                        input type="hidden" name="to" value=(b.to_at);
                        input type="hidden" name="kind" value=(b.kind);
                        @if let Some(p) = b.probe { input type="hidden" name="probe" value=(p); }
                        label { "Decision "
                            select name="verified" {
                                option value="no" { "not verified: the breach stands" }
                                option value="yes" { "verified: pulp was at or below throughout" }
                            } }
                        (official_fields())
                        (who(&format!("decision-{}-{}", b.kind, b.from_at.ms())))
                        button.main type="submit" { "Enter the decision" }
                    }
                }
            }
        }
    }
}

fn official_fields() -> Markup {
    html! {
        label { "Official's name " input name="official" required maxlength="80"; }
        label { "Authority " input name="authority" required maxlength="80"; }
        label { "Document " input name="document" required maxlength="120"; }
        label { "When (UTC) " input name="at" required size="16" placeholder="2026-03-20 06:00"; }
    }
}

fn forecast(v: &TreatmentView) -> Markup {
    let Some(f) = &v.forecast else {
        return html! {};
    };
    html! {
        h2 { "Forecast" }
        @if v.started_at.is_none() {
            p { "Start: "
                @match f.start_at { Some(t) => { "about " (time(t)) }, None => "not in sight" }
                @if let Some([a, b]) = f.start_p90 { (interval(a, b)) }
                ", probability " (words::percent(f.p_start)) "." }
        }
        p { "Another breach before the time is met: " (words::percent(f.p_breach)) "."
            @if let Some(p) = f.p_freezing { " Fruit at its freezing point: " (words::percent(p)) "." } }
        p.hint { (f.assumes) }
        @if !v.what_if.is_empty() {
            h3 { "What if" }
            p.hint { "A suggestion to shore. Nobody on board changes a set point without authority." }
            div.scroll { table.readings {
                thead { tr { th { "Change" } th { "Time met" } th { "90 % interval" }
                    th { "Before port" } th { "Breach" } th { "Freezing" } } }
                tbody { @for w in &v.what_if { (what_if(w)) } }
            } }
        }
    }
}

fn interval(a: Option<units::Utc>, b: Option<units::Utc>) -> Markup {
    html! {
        span.interval { " 90 %: "
            @match a { Some(t) => (time(t)), None => "not in sight" } " to "
            @match b { Some(t) => (time(t)), None => "open" } }
    }
}

fn what_if(w: &WhatIf) -> Markup {
    let f: &TreatmentForecast = &w.forecast;
    let change = match (w.set_point_k, w.eta_h) {
        (0.0, 0.0) => "nothing changed".to_owned(),
        (k, 0.0) => format!("set point lower by {} K", words::number(-k, 1)),
        (_, h) if h > 0.0 => format!("arrival {} later", words::hours(h)),
        (_, h) => format!("arrival {} earlier", words::hours(-h)),
    };
    html! {
        tr {
            th { (change) }
            td { @match f.met_at { Some(t) => (time(t)), None => "not in sight" } }
            td { (interval(f.met_p90[0], f.met_p90[1])) }
            td { @if let Some(p) = f.p_before_port { (words::percent(p)) } }
            td { (words::percent(f.p_breach)) }
            td { @if let Some(p) = f.p_freezing { (words::percent(p)) } }
        }
    }
}

fn ledger(v: &TreatmentView) -> Markup {
    html! {
        h2 #ledger { "Ledger" }
        @if v.ledger.is_empty() {
            p.empty { "No reading time yet." }
        } @else {
            p.hint { "Every reading time of the recorder; hours of the same kind are one line." }
            div.scroll { table.readings {
                thead { tr { th { "From (UTC)" } th { "To (UTC)" } th { "Readings" } th { "Clock at its end" } th { "What" } } }
                tbody { @for l in &v.ledger { tr {
                    td { (time(l.from_at)) } td { (time(l.to_at)) } td.n { (l.readings) }
                    td.n { @if let Some(h) = l.elapsed_h { (h) " h" } }
                    td.wrap { (l.what) }
                } } }
            } }
        }
    }
}

fn rule(v: &TreatmentView) -> Markup {
    html! {
        h2 { "The rule" }
        dl.facts {
            dt { "Schedule" } dd { (v.title) " (" (v.schedule_id) ")" }
            dt { "Source" } dd { (v.source) }
            dt { "Trust" } dd { (v.evidence) }
            dt { "Pulp at or below" } dd { (v.hold_max_text) }
            @for p in &v.precool { dt { "Precooling" } dd { (p) } }
        }
    }
}

fn acts(v: &TreatmentView) -> Markup {
    html! {
        h2 { "What was entered" }
        ul.troubles {
            @for a in &v.acts {
                li { (time(a.entered_at)) " UTC, " (a.who) ": " (a.act.title()) "." }
            }
        }
    }
}

fn forms(v: &TreatmentView) -> Markup {
    let action = |what: &str| format!("{}/{what}", treatment_href(&v.unit));
    html! {
        h2 { "Enter" }
        div.two-columns {
            details {
                summary { "Probe readings in ice slurry" }
                form.upload method="post" action=(action("slurry")) {
                    (slurry_practice())
                    div.scroll { table.slurry {
                        thead { tr { th { "Probe" } @for n in 1..=4 { th { "Reading " (n) } } } }
                        tbody { @for p in 1..=4 { tr {
                            th { (p) }
                            @for n in 1..=4 { td {
                                input name={ "p" (p) "-" (n) } size="5" inputmode="text"
                                    aria-label={ "probe " (p) ", reading " (n) };
                            } }
                        } } }
                    } }
                    label { "Unit " select name="unit" { option value="c" { "°C" } option value="f" { "°F" } } }
                    label { "When (UTC) " input name="at" required size="16" placeholder="2026-03-02 06:00"; }
                    label { "Thermometer, remarks " input name="remark" maxlength="200"; }
                    (who("slurry"))
                    button.main type="submit" { "Enter the readings" }
                }
            }
            details {
                summary { "Fruit sampled before the start" }
                form.upload method="post" action=(action("precool")) {
                    label { "Pulp temperatures, separated by spaces " input name="samples" required; }
                    label { "Unit " select name="unit" { option value="c" { "°C" } option value="f" { "°F" } } }
                    label { "When (UTC) " input name="at" required size="16" placeholder="2026-03-02 06:00"; }
                    label { "Pallet, place, who was there " input name="remark" maxlength="200"; }
                    (who("precool"))
                    button.main type="submit" { "Enter the samples" }
                }
            }
            details {
                summary { "Release by an authority" }
                form.upload method="post" action=(action("release")) {
                    label { "Outcome "
                        select name="accepted" {
                            option value="yes" { "the authority accepted the treatment" }
                            option value="no" { "the authority did not accept it" }
                        } }
                    (official_fields())
                    (who("release"))
                    button.main type="submit" { "Enter the release" }
                }
            }
            details {
                summary { "Treatment no longer asked for" }
                form.upload method="post" action=(action("withdraw")) {
                    label { "Why, and who said so " input name="why" required maxlength="200"; }
                    (who("withdraw"))
                    button type="submit" { "Take it off the list" }
                }
            }
        }
    }
}

fn slurry_practice() -> Markup {
    html! {
        ul.hint {
            li { "Before loading, with the box empty and the door open and hooked back. A box may hold \
                bad air: ventilate and have it checked before anybody goes in." }
            li { "Clean ice crushed small and clean fresh water, more ice than water, stirred; let it \
                stand ten minutes." }
            li { "Hold all probes in the middle of it, off the bottom and the sides, and keep stirring." }
            li { "Read each probe every minute until two readings agree. Write what it shows, sign too." }
            li { "What the rule asks for beyond this, and who must be there, goes first." }
        }
    }
}
