//! What was found, what is known of the cargo, what the list says.

use maud::{Markup, html};
use record::{BoxLine, BoxView, ListedUnit};

use super::{state_tag, temp_or_blank, time};

/// Everything found, most urgent first.
pub(super) fn findings(b: &BoxLine) -> Markup {
    html! {
        h2 { "What was found" }
        @if b.findings.is_empty() {
            p { "Nothing beyond the state above." }
        } @else {
            ol.findings {
                @for f in &b.findings {
                    li class=(f.state.as_str()) {
                        p { (state_tag(f.state)) " " (f.what)
                            @if let Some(at) = f.since { " Since " (time(at)) " UTC." } }
                        @if !f.action.is_empty() { p.do { (f.action) } }
                    }
                }
            }
        }
    }
}

/// Facts of the cargo, each with its source or the mark that it is unverified.
pub(super) fn cargo_facts(view: &BoxView) -> Markup {
    html! {
        section {
            h2 { "Cargo" }
            p { @match &view.line.cargo {
                Some(cargo) => { strong { (cargo) } ", as read from the list’s text." },
                None => "Not recognised from the list: no limit of a cargo is applied.",
            } }
            @if !view.cargo_facts.is_empty() {
                dl.facts {
                    @for f in &view.cargo_facts {
                        dt { (f.name) }
                        dd {
                            (f.text)
                            @if f.unverified { " " span.mark { "recalled, unverified" } }
                            @else if !f.source.is_empty() {
                                " " span.source { "source " (f.source) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// The list's word on the box, with the text as sent.
pub(super) fn list_facts(view: &BoxView) -> Markup {
    html! {
        section {
            h2 { "Loading list" }
            @match &view.listed {
                Some(l) => (listed(l)),
                None => p { "This box stands on no list. It was read, so it is on board: ask for \
                    the list, or correct the number." },
            }
        }
    }
}

fn listed(l: &ListedUnit) -> Markup {
    let number = |v: Option<f64>, places: usize, unit: &str| {
        v.map(|v| format!("{} {unit}", figures::words::number(v, places)))
    };
    let range = l.range_c.map(|[low, high]| {
        format!("{} to {}", figures::words::temp(low), figures::words::temp(high))
    });
    let rows = [
        ("Ordered temperature", l.set_point_c.map(|c| temp_or_blank(Some(c)))),
        ("as sent", l.set_point_as_sent.clone()),
        ("Allowed range", range),
        ("Humidity", number(l.humidity_pct, 0, "%")),
        ("Fresh air", number(l.vent_m3_h, 0, "m³/h")),
        ("Cell as sent", l.stow.clone()),
        ("Size and type", l.size_type.clone()),
        ("Full", l.full.map(|f| if f { "yes" } else { "no, empty" }.to_owned())),
        ("Gross weight", number(l.weight_kg, 0, "kg")),
        ("From", l.load_port.clone()),
        ("To", l.discharge_port.clone()),
    ];
    html! {
        dl.facts {
            @for (name, value) in rows {
                @if let Some(value) = value {
                    dt { (name) }
                    dd { @if name == "as sent" { code { (value) } } @else { (value) } }
                }
            }
            @if l.check_digit_ok == Some(false) {
                dt { "Check digit" } dd { "does not fit the number; compare with the door" }
            }
        }
        @for r in &l.remarks { p.remark { "“" (r) "”" } }
        @for w in &l.warnings { p.warning { (w) } }
        @if !l.text.is_empty() {
            details { summary { "Text as sent" } pre { (l.text) } }
        }
    }
}
