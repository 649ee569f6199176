//! What follows from the readings: measure next, cautions, faults, values.

use circuit::derived::{KEYS, WORDS};
use circuit::next::Suggestion;
use circuit::{Diagnosis, FaultShare};
use maud::{Markup, html};
use record::gauges::percent;

use super::baseline::rests_line;
use super::fields::{Asked, Field, LONGEST, all, in_words};
use super::work::Told;

/// Measurements proposed.
const PROPOSED: usize = 3;
/// Faults shown with their reasons.
const SHOWN: usize = 5;
/// Shares below this are only listed.
const SHOWN_FROM: f64 = 0.02;

/// Everything told, the next measurement first.
pub fn answer(told: &Told, asked: &Asked) -> Markup {
    let d = &told.diagnosis;
    html! {
        (next(d, asked))
        @if let Some(line) = rests_line(&told.rests_on) { p.hint #rests { (line) } }
        aside.caution {
            h2 { "Before you go on" }
            ul { @for c in &d.cautions { li { (sentence(&in_words(c))) } } }
        }
        @if !d.questions.is_empty() {
            section.questions aria-label="Look again" {
                h2 { "Look again" }
                ul { @for q in &d.questions { li { (sentence(&in_words(q))) } } }
            }
        }
        (faults(d))
    }
}

fn so_far(d: &Diagnosis) -> Markup {
    let two: Vec<&FaultShare> =
        d.faults.iter().take(2).filter(|f| f.probability >= SHOWN_FROM).collect();
    html! {
        p.so-far {
            "So far: "
            @for (i, f) in two.iter().enumerate() {
                @if i > 0 { "; " }
                @if i == 0 { strong { (f.fault.words()) " " (percent(f.probability)) } }
                @else { (f.fault.words()) " " (percent(f.probability)) }
            }
            "."
        }
    }
}

fn next(d: &Diagnosis, asked: &Asked) -> Markup {
    html! {
        section.next aria-label="Measure next" {
            h2 { "Measure next" }
            (so_far(d))
            @if d.next.is_empty() {
                p { "No other reading is expected to tell more." }
            } @else {
                ol { @for s in d.next.iter().take(PROPOSED) { li { (proposal(s, asked)) } } }
            }
            @for a in &d.alike { p.warning { (sentence(&in_words(a))) } }
        }
    }
}

fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    let first = chars.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
    format!("{first}{}.", chars.as_str().trim_end_matches('.'))
}

fn proposal(s: &Suggestion, asked: &Asked) -> Markup {
    let field = all().find(|f| f.key == s.measure);
    let name = field.map_or_else(|| in_words(s.measure), |f| f.label.to_owned());
    html! {
        p { strong { (sentence(&name)) } " " (sentence(&in_words(s.how))) }
        @if let Some(f) = field { (one_more(f, asked)) }
        p.hint {
            "Trouble: " (s.trouble) ". Expected to tell " (format!("{:.2}", s.gain_bits))
            " bits about which fault it is."
        }
    }
}

/// One field with everything else that was written: the answer with one reading more.
fn one_more(f: &Field, asked: &Asked) -> Markup {
    let id = format!("add-{}", f.key);
    html! {
        form.one-more method="get" action="/gauges" {
            (hidden(asked, Some(f.key)))
            label for=(id) { (f.label) ", " (f.unit) }
            input id=(id) name=(f.key) required maxlength=(LONGEST) size="9" autocomplete="off"
                spellcheck="false" autocapitalize="none";
            button type="submit" { "Add it" }
        }
    }
}

/// What was written, carried along.
pub fn hidden(asked: &Asked, without: Option<&str>) -> Markup {
    html! {
        @if !asked.unit.is_empty() { input type="hidden" name="unit" value=(asked.unit); }
        @for (key, value) in &asked.written {
            @if Some(key.as_str()) != without { input type="hidden" name=(key) value=(value); }
        }
    }
}

/// Faults with their rank.
type Ranked<'a> = Vec<(usize, &'a FaultShare)>;

fn faults(d: &Diagnosis) -> Markup {
    let (shown, rest): (Ranked<'_>, Ranked<'_>) = d
        .faults
        .iter()
        .enumerate()
        .partition(|(i, f)| *i < SHOWN && (*i == 0 || f.probability >= SHOWN_FROM));
    html! {
        section aria-label="What it can be" {
            h2 { "What it can be" }
            ol.faults { @for (i, f) in shown { li { (fault(i, f)) } } }
            @if !rest.is_empty() {
                details {
                    summary { "The other " (rest.len()) ", each " (least(&rest)) }
                    ul { @for (_, f) in &rest { li { (f.fault.words()) ": " (percent(f.probability)) } } }
                }
            }
        }
    }
}

/// The largest of the rest, as a bound.
fn least(rest: &[(usize, &FaultShare)]) -> String {
    let most = rest.iter().map(|(_, f)| f.probability).fold(0.0, f64::max);
    if most < 0.01 { "under 1 %".to_owned() } else { format!("{} or less", percent(most)) }
}

fn fault(place: usize, f: &FaultShare) -> Markup {
    let wide = (f.probability * 100.0).clamp(0.5, 100.0);
    html! {
        p.fault-name {
            strong.share { (percent(f.probability)) } " " (sentence(f.fault.words()))
        }
        svg.share-bar viewBox="0 0 100 6" preserveAspectRatio="none" aria-hidden="true" {
            rect.whole width="100" height="6" {}
            rect.part width=(format!("{wide:.1}")) height="6" {}
        }
        @if let Some(s) = f.severity {
            p { "Were it this: severity " strong { (format!("{s:.2}")) }
                @if let Some([a, b]) = f.severity_p90 {
                    span.interval { " (90 %: " (format!("{a:.2}")) " to " (format!("{b:.2}")) ")" }
                }
                " on a scale from 0 to 1."
                @if let Some(detail) = &f.detail { " " (sentence(&in_words(detail))) }
            }
        } @else if let Some(detail) = &f.detail {
            p { (sentence(&in_words(detail))) }
        }
        @if !f.because.is_empty() || !f.against.is_empty() {
            details open[place < 2] {
                summary { (f.because.len()) " for it, " (f.against.len()) " against it" }
                ul.reasons {
                    @for b in &f.because { li.for { span.sign { "+ " } (in_words(b)) } }
                    @for a in &f.against { li.against { span.sign { "− " } (in_words(a)) } }
                }
            }
        }
    }
}

/// The values worked out from the readings.
pub fn derived(told: &Told) -> Markup {
    let d = &told.diagnosis;
    let rows: Vec<_> = KEYS
        .iter()
        .zip(WORDS)
        .filter_map(|(key, words)| d.derived.get(key).map(|e| (*key, words, e)))
        .collect();
    html! {
        section aria-label="What the readings say by themselves" {
            h2 { "What the readings say by themselves" }
            p.hint {
                (told.input.fluid)
                @if let Some(m) = d.mode {
                    ", taken as " (m.as_str()) ", "
                    (if d.modulated { "throttled by control" } else { "full capacity" })
                } @else { ", compressor standing" }
                ". In brackets the 90 % interval that the instruments allow."
            }
            @if rows.is_empty() {
                p { "Too little was read to work anything out." }
            } @else {
                dl.figures { @for (key, words, e) in rows { div {
                    dt { (words) }
                    dd { (number(e.value, places(key))) " " (unit(key)) }
                    dd.interval { "(" (number(e.p90[0], places(key))) " to "
                        (number(e.p90[1], places(key))) ")" }
                } } }
            }
        }
    }
}

fn places(key: &str) -> usize {
    match key {
        "pressure_ratio" => 2,
        k if k.ends_with("_kpa") => 0,
        _ => 1,
    }
}

fn unit(key: &str) -> &'static str {
    match key {
        k if k.ends_with("_c") => "°C",
        k if k.ends_with("_k") => "K",
        k if k.ends_with("_kpa") => "kPa",
        _ => "",
    }
}

/// A number with a proper minus, and no minus before a zero.
pub fn number(v: f64, places: usize) -> String {
    let text = format!("{v:.places$}");
    if text.trim_start_matches('-').chars().all(|c| c == '0' || c == '.') {
        return text.trim_start_matches('-').to_owned();
    }
    text.replace('-', "−")
}
