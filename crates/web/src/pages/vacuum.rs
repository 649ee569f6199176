//! Vacuum: holds begun and signed, the form to begin one, the plan of an evacuation, and two
//! smaller tests with a gauge.

mod ask;
mod cautions;
pub mod hold;
mod parts;
mod plan;
mod siblings;
mod tests;

use figures::words::number;
use maud::{Markup, html};
use record::{HoldFile, PressureEntry};
use voyage::holds::{CRITERIA, HoldView, PRESSURE_UNITS, criterion, sign_of};

use self::ask::{Sent, fluid_options};
use super::instruments::instruments_wrong;
use super::{Live, Shell, Tab, ago, page, percent, time};

pub use parts::hold_json;
pub(crate) use siblings::to_keep;
pub(crate) use tests::on_box_page;

/// The address of a hold's page.
#[must_use]
pub fn hold_href(id: &str) -> String {
    format!("/vacuum/{}", percent(id))
}

/// The page, and whether everything asked for could be answered.
#[must_use]
pub fn vacuum_page(
    shell: &Shell,
    holds: &[HoldFile],
    tests: &[PressureEntry],
    pairs: &[(String, String)],
    instruments: &[String],
) -> (Markup, bool) {
    let sent = Sent(pairs);
    let kept = pairs.iter().find(|(k, _)| k == "kept").and_then(|(_, v)| v.parse().ok());
    let plan = plan::part(&sent);
    let nitrogen = siblings::nitrogen(&sent);
    let standing = siblings::standing(&sent);
    let content = html! {
        h1 { "Vacuum" }
        nav.ranges aria-label="On this page" {
            a.button href="#begin" { "Begin a hold" }
            a.button href="#plan" { "Plan an evacuation" }
            a.button href="#pressure" { "Nitrogen test" }
            a.button href="#standing" { "Standing pressure" }
        }
        (list(shell, holds))
        @if !tests.is_empty() {
            section aria-labelledby="tests" {
                h2 #tests { "Pressure tests signed" }
                (tests::list(tests, kept))
            }
        }
        (cautions::all())
        (instruments_wrong(instruments))
        (begin(pairs))
        (plan.shown)
        (nitrogen.shown)
        (standing.shown)
    };
    let good = plan.good && nitrogen.good && standing.good;
    (page(shell, Tab::Vacuum, Live::Yes, "Vacuum", &content), good)
}

/// Holds that go on first, then the signed ones, the newest first.
fn list(shell: &Shell, holds: &[HoldFile]) -> Markup {
    let (running, ended): (Vec<&HoldFile>, Vec<&HoldFile>) =
        holds.iter().rev().partition(|h| h.end.is_none());
    html! {
        @if !running.is_empty() {
            section aria-labelledby="running" {
                h2 #running { "Going on" }
                ul.bay-list { @for h in running { li.watch { (line(shell, h)) } } }
            }
        }
        @if !ended.is_empty() {
            section aria-labelledby="ended" {
                h2 #ended { "Signed" }
                ul.bay-list { @for h in ended { li { (line(shell, h)) } } }
            }
        }
        @if holds.is_empty() { p.empty { "No hold has been begun on this voyage." } }
    }
}

fn line(shell: &Shell, h: &HoldFile) -> Markup {
    let counted = h.counted();
    html! {
        a href=(hold_href(&h.start.id)) { strong { (h.start.id) } span { (h.title()) } }
        p {
            "Valve closed " (time(h.start.at)) ", "
            @match &h.end {
                Some((end, who)) => { "signed by " (who) ": " strong { (end.words) } },
                None => {
                    (counted.len()) " readings"
                    @if let Some(last) = counted.last() {
                        ", the last " (last.pressure) " " (sign_of(&h.start.pressure_unit)) " "
                        (ago(last.at, shell.now))
                    }
                    ". Open it to go on."
                }
            }
        }
    }
}

fn plain(key: &str, label: &str, size: u8, hint: &str) -> Markup {
    html! {
        label for={ "begin-" (key) } { (label) }
        input id={ "begin-" (key) } name=(key) size=(size) maxlength="120" autocomplete="off"
            placeholder=(hint);
    }
}

fn begin(pairs: &[(String, String)]) -> Markup {
    html! {
        section #begin aria-labelledby="begin-head" {
            h2 #begin-head { "Begin a hold" }
            p.hint {
                "Pump down, close the valve to the pump, then begin. The gauge stands on the \
                 circuit, far from the pump. After that a reading is its figure and Enter; each is \
                 stored at once."
            }
            form.upload.begin method="post" action="/vacuum/begin" {
                div.two-columns {
                    div { (begin_place(pairs)) }
                    div { (begin_gauge()) }
                }
                (begin_criterion())
                label for="begin-who" { "Entered by" }
                input #begin-who name="who" required maxlength="80" autocomplete="name";
                button.main type="submit" { "Valve closed: begin" }
            }
        }
    }
}

fn begin_place(pairs: &[(String, String)]) -> Markup {
    let unit = pairs.iter().find(|(k, _)| k == "unit").map_or("", |(_, v)| v.trim());
    let unit: String = unit.chars().take(20).collect();
    html! {
        h3 { "What is held" }
        label for="begin-unit_no" { "Container, if it is one’s circuit" }
        input #begin-unit_no name="unit_no" size="14" maxlength="20" autocomplete="off" value=(unit)
            placeholder="QQQU1000011";
        (plain("place", "Place or part", 30, "whole circuit; low side; hose and gauge alone"))
        label for="begin-fluid" { "Refrigerant it is meant for" }
        select #begin-fluid name="fluid" {
            option value="" { "not said: no loss in operation is worked out" }
            (fluid_options(""))
        }
        (plain("volume_l", "Volume, l (empty: no leak rate)", 8, "15"))
        (plain("coldest_c", "Coldest surface, °C (empty: ice cannot be told)", 8, "18.5"))
        (plain("ambient_c", "Ambient, °C", 8, "24"))
        (plain("at", "Valve closed at, UTC (empty: now)", 16, "now"))
    }
}

fn begin_gauge() -> Markup {
    html! {
        h3 { "The gauge" }
        label for="begin-gauge" { "Which gauge (kind and number)" }
        input #begin-gauge name="gauge" required maxlength="120" autocomplete="off"
            placeholder="electronic vacuum gauge no. 4";
        label for="begin-unit" { "It shows" }
        select #begin-unit name="pressure_unit" {
            @for (id, sign, _) in PRESSURE_UNITS { option value=(id) { (sign) " absolute" } }
        }
        (plain("gauge_step", "Step of its display, in that unit", 6, "1"))
        label for="begin-cal" { "Calibrated on (empty: no paper)" }
        input #begin-cal name="calibrated_on" type="date";
        p.hint { "A compound gauge on a scale to −1 bar is blind here: 500 µm is 0.0007 bar." }
    }
}

fn begin_criterion() -> Markup {
    html! {
        h3 { "Criterion" }
        label for="begin-criterion" { "Held against" }
        select #begin-criterion name="criterion" {
            @for c in &CRITERIA { option value=(c.id) { (c.name) " (" (c.mark()) ")" } }
        }
        details {
            summary { "What each asks, and how far its text was read" }
            ul.troubles {
                @for c in &CRITERIA {
                    li { strong { (c.name) } " " span.mark { (c.mark()) }
                        p.source { (c.note) "." } }
                }
            }
        }
        (plain("rise_um", "Rise you accept over its time, µm (empty: as the criterion says)", 8, ""))
    }
}

/// The criterion's own terms in words.
pub(super) fn criterion_words(v: &HoldView) -> String {
    let c = criterion(&v.file.start.criterion);
    let mut out = format!("below {} µm when the valve is closed", number(c.start_um, 0));
    if let Some(b) = c.below_um {
        out += &format!(", below {} µm all the time", number(b, 0));
    }
    out += &match c.minutes {
        Some(m) => format!(", for {} min", number(m, 0)),
        None => format!("; it names no time, {} min are taken", number(v.standing.minutes, 0)),
    };
    if let Some(r) = v.file.start.rise_um {
        out += &format!("; rise accepted by you: {} µm", number(r, 0));
    }
    out
}
