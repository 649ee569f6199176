//! Gauges and thermometers on a circuit: what it can be, and what to measure next.

mod answer;
mod baseline;
mod diagram;
mod fields;
mod kept;
mod work;

use circuit::Card;
use fluids::Refrigerant;
use maud::{Markup, html};
use record::{GaugesEntry, UnitId};

use super::fluid::cautions;
use super::instruments::instruments_wrong;
use super::{Live, Shell, Tab, page, percent};
use fields::{CHOSEN, Field, LONGEST, MORE, USUAL, Wrong};

pub use baseline::{judged, rests_line};
pub use fields::Asked;
pub use kept::{NotKept, on_box_page};
pub use work::{Outcome, Told, as_told, to_keep, work_out};

/// The address of the form filled so.
#[must_use]
pub fn gauges_href(asked: &Asked) -> String {
    let mut pairs = Vec::new();
    if !asked.unit.is_empty() {
        pairs.push(format!("unit={}", percent(&asked.unit)));
    }
    pairs.extend(asked.written.iter().map(|(k, v)| format!("{k}={}", percent(v))));
    format!("/gauges?{}", pairs.join("&"))
}

/// The page. `kept` is what the journal holds of the box named, none when no box is; `not_kept`
/// what was typed into the form below and refused.
#[must_use]
pub fn gauges_page(
    shell: &Shell,
    asked: &Asked,
    outcome: &Outcome,
    kept: Option<&[GaugesEntry]>,
    not_kept: Option<&NotKept>,
    instruments: &[String],
) -> Markup {
    let unit = UnitId::from_text(&asked.unit);
    let none: &[Wrong] = &[];
    let (told, wrong) = match outcome {
        Outcome::Told(t) => (Some(t), none),
        Outcome::Refused(w) => (None, w.as_slice()),
        Outcome::Empty => (None, none),
    };
    let content = html! {
        h1 { "Gauges" @if let Some(u) = &unit { " of " (u) } }
        @if let Some(t) = told {
            p.neighbours {
                a.button href="#readings" { "Change the readings" }
                a.button href="#keep" { "Keep in the journal" }
            }
            (instruments_wrong(instruments))
            (answer::answer(t, asked))
            (answer::derived(t))
            (diagram::diagram(t))
            (kept::keep(asked, kept.unwrap_or_default(), shell.now, not_kept))
        } @else {
            (lead(wrong))
            (instruments_wrong(instruments))
        }
        h2 #readings { "Readings" }
        (form(asked, wrong, told.is_some()))
        @if told.is_none() { (cautions(Some(asked.get("fluid")))) }
        @if let (Some(u), Some(list)) = (&unit, kept) {
            h2 { "Earlier gauge readings of " (u) }
            (kept::earlier(list))
        }
    };
    page(shell, Tab::Gauges, Live::No, "Gauges", &content)
}

fn lead(wrong: &[Wrong]) -> Markup {
    html! {
        @if wrong.is_empty() {
            p.hint {
                "What gauges and thermometers say about a circuit: what it can be, and what to \
                 measure next. Leave blank what was not read; the refrigerant and one pressure \
                 are enough to begin. Read after 15 minutes of steady cooling."
            }
        } @else {
            div.trouble role="alert" {
                p { strong { "Not judged yet. " } "Everything you wrote is still below." }
                ul { @for (key, what) in wrong { li {
                    @if let Some((k, label)) = key.and_then(|k| Some((k, label(k)?))) {
                        a href={ "#" (k) } { (label) } ": "
                    }
                    (what)
                } } }
            }
        }
    }
}

fn label(key: &str) -> Option<&'static str> {
    match key {
        "fluid" => Some("Refrigerant"),
        "machine" => Some("Machine"),
        "mode" => Some("Mode"),
        "compressor" => Some("Compressor"),
        _ => fields::all().find(|f| f.key == key).map(|f| f.label),
    }
}

fn form(asked: &Asked, wrong: &[Wrong], told: bool) -> Markup {
    let optional = MORE.iter().map(|f| f.key).chain(CHOSEN.into_iter().skip(2));
    let open = optional.into_iter().any(|k| !asked.get(k).is_empty());
    html! {
        form.gauge-form method="get" action="/gauges" {
            div.gauge-fields {
                (fluid_select(asked, wrong))
                (machine_select(asked, wrong))
                (unit_field(asked))
            }
            p.hint #gauge-how {
                "A bare number has the unit beside the field. Other units are written with the \
                 number: 18psig 1.2barg 230kPaa, 34F."
            }
            div.gauge-fields { @for f in &USUAL { (input(f, asked, wrong)) } }
            details open[open] {
                summary { "More readings, instruments, mode" }
                div.gauge-fields {
                    @for f in &MORE { (input(f, asked, wrong)) }
                    (choice("mode", "Mode", asked, wrong, &[("", "after set point or air"),
                        ("chilled", "chilled"), ("frozen", "frozen")]))
                    (choice("compressor", "Compressor", asked, wrong,
                        &[("", "running"), ("standing", "standing")]))
                }
            }
            p { button.main type="submit" { @if told { "Judge again" } @else { "Judge" } }
                " " a.button href="/gauges" { "Clear" } }
        }
    }
}

fn error<'a>(key: &str, wrong: &'a [Wrong]) -> Option<&'a str> {
    wrong.iter().find(|(k, _)| *k == Some(key)).map(|(_, e)| e.as_str())
}

fn input(f: &Field, asked: &Asked, wrong: &[Wrong]) -> Markup {
    let error = error(f.key, wrong);
    let (hint, error_id) = (format!("{}-hint", f.key), format!("{}-error", f.key));
    let told = if error.is_some() { format!("{error_id} {hint}") } else { hint.clone() };
    html! {
        div.gauge-field {
            label for=(f.key) { (f.label) }
            span.with-unit {
                input id=(f.key) name=(f.key) value=(asked.get(f.key)) maxlength=(LONGEST)
                    autocomplete="off" spellcheck="false" autocapitalize="none" enterkeyhint="next"
                    aria-describedby=(told) aria-invalid=[error.is_some().then_some("true")];
                span.unit { (f.unit) }
            }
            @if let Some(e) = error { p.field-error id=(error_id) { (e) } }
            p.hint id=(hint) { (f.hint) }
        }
    }
}

fn choice(
    key: &str,
    label: &str,
    asked: &Asked,
    wrong: &[Wrong],
    options: &[(&str, &str)],
) -> Markup {
    let chosen = asked.get(key);
    let error = error(key, wrong);
    html! {
        div.gauge-field {
            label for=(key) { (label) }
            select id=(key) name=(key) aria-invalid=[error.is_some().then_some("true")] {
                @if !options.iter().any(|(v, _)| *v == chosen) {
                    option value=(chosen) selected { (chosen) }
                }
                @for (value, words) in options {
                    option value=(value) selected[*value == chosen] { (words) }
                }
            }
            @if let Some(e) = error { p.field-error { (e) } }
        }
    }
}

fn fluid_select(asked: &Asked, wrong: &[Wrong]) -> Markup {
    let mut options = vec![("", "as on the unit’s plate …")];
    let all = Refrigerant::all();
    if let Ok(all) = &all {
        options.extend(all.iter().map(|f| (f.name(), f.name())));
    }
    choice("fluid", "Refrigerant", asked, wrong, &options)
}

fn machine_select(asked: &Asked, wrong: &[Wrong]) -> Markup {
    let mut options = vec![("", "unknown: only usual directions")];
    options.extend(Card::embedded().iter().map(|c| (c.id.as_str(), c.title.as_str())));
    choice("machine", "Machine", asked, wrong, &options)
}

fn unit_field(asked: &Asked) -> Markup {
    html! {
        div.gauge-field {
            label for="unit" { "Box" }
            input #unit name="unit" value=(asked.unit) maxlength="20" autocomplete="off"
                spellcheck="false" autocapitalize="characters" aria-describedby="unit-hint";
            p.hint #unit-hint { "container number; only needed to keep readings" }
        }
    }
}
