//! Gauge readings in the journal: those held of a box, and the form to keep new ones.

use maud::{Markup, html};
use record::{GaugesEntry, UnitId};
use units::Utc;

use super::answer::hidden;
use super::fields::{Asked, all};
use super::gauges_href;
use crate::pages::{box_href, time};

/// The address that opens the form filled as it was.
fn refilled(entry: &GaugesEntry) -> String {
    gauges_href(&Asked {
        unit: entry.read.unit.as_str().to_owned(),
        written: entry.read.as_written.clone(),
    })
}

/// What is held of a box, the newest first.
pub fn earlier(kept: &[GaugesEntry]) -> Markup {
    html! {
        @if kept.is_empty() {
            p.hint { "No gauge readings of this box are in the journal." }
        } @else {
            ul.kept {
                @for entry in kept.iter().rev() {
                    li {
                        a.button href=(refilled(entry)) { (time(entry.read.at)) }
                        span {
                            strong { (entry.read.told_line()) }
                            " as told then. " (as_written(entry)) " "
                            span.hint { "Entered by " (entry.who) ", " (time(entry.entered_at)) "." }
                            @if !entry.read.note.is_empty() { " “" (entry.read.note) "”" }
                        }
                    }
                }
            }
        }
    }
}

fn as_written(entry: &GaugesEntry) -> String {
    let read = all().filter_map(|f| {
        let text = entry.read.as_written.get(f.key)?;
        let bare = text.chars().all(|c| c.is_ascii_digit() || ".,-+−".contains(c));
        let unit = if bare { format!(" {}", f.unit) } else { String::new() };
        Some(format!("{} {text}{unit}", f.label.to_lowercase()))
    });
    let list: Vec<String> = read.collect();
    if list.is_empty() { String::new() } else { format!("Read: {}.", list.join(", ")) }
}

/// On the page of a box.
pub fn on_box_page(unit: &UnitId, kept: &[GaugesEntry]) -> Markup {
    let href = gauges_href(&Asked { unit: unit.as_str().to_owned(), ..Asked::default() });
    html! {
        h2 #gauges { "Gauges" }
        (earlier(kept))
        p { a.button href=(href) { "Enter gauge readings of this box" } }
    }
}

/// What was typed into the form that keeps an answer, and why it was not kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotKept {
    /// Why.
    pub why: String,
    /// The box as typed.
    pub unit: String,
    /// The time as typed.
    pub at: String,
    /// The name as typed.
    pub who: String,
    /// The note as typed.
    pub note: String,
}

/// The form that keeps this answer, or the word that it is kept.
pub fn keep(asked: &Asked, kept: &[GaugesEntry], now: Utc, not_kept: Option<&NotKept>) -> Markup {
    let held = kept.iter().rev().find(|e| e.read.as_written == asked.written);
    html! {
        section aria-label="Keep in the journal" {
            h2 #keep { "Keep in the journal" }
            @if let Some(e) = held {
                p.kept-note {
                    strong { "These readings are in the journal: " }
                    "read " (time(e.read.at)) ", entered by " (e.who) ", " (time(e.entered_at))
                    ". Told then: " (e.read.told_line()) ". "
                    a href=(box_href(&e.read.unit)) { "Page of the box" } "."
                }
            } @else { (keep_form(asked, now, not_kept)) }
        }
    }
}

fn keep_form(asked: &Asked, now: Utc, not_kept: Option<&NotKept>) -> Markup {
    let typed = |of: fn(&NotKept) -> &str, else_: &str| {
        not_kept.map_or_else(|| else_.to_owned(), |n| of(n).to_owned())
    };
    let carried = Asked { unit: String::new(), written: asked.written.clone() };
    html! {
        form.upload.keep-form method="post" action="/gauges/keep" {
            (hidden(&carried, None))
            @if let Some(n) = not_kept {
                p.trouble role="alert" {
                    strong { "Not kept. " } (n.why) " Nothing was stored; correct it and send it again."
                }
            }
            label for="keep-unit" { "Box" }
            input #keep-unit name="unit" value=(typed(|n| &n.unit, &asked.unit)) required maxlength="20"
                autocomplete="off" autocapitalize="characters" spellcheck="false";
            label for="keep-at" { "Read at (UTC)" }
            input #keep-at name="at" value=(typed(|n| &n.at, &now.to_minute())) required maxlength="25"
                autocomplete="off";
            label for="keep-who" { "Entered by" }
            input #keep-who name="who" value=(typed(|n| &n.who, "")) required maxlength="60" autocomplete="name";
            label for="keep-note" { "Note" }
            input #keep-note name="note" value=(typed(|n| &n.note, "")) maxlength="300" autocomplete="off";
            button.main type="submit" { "Keep in the journal" }
            p.hint {
                "Readings and answer are kept as they stand now. Nothing in the journal is ever \
                 edited."
            }
        }
    }
}
