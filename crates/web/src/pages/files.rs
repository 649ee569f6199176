//! Files: loading lists and readings in, originals out, the journal.

use maud::{Markup, html};
use record::digest::Digest;
use record::{ListReport, ListedUnit};
use voyage::{EntryLine, LoadOutcome, TakeOutcome};

use super::{Live, Shell, Tab, page, time};

/// Journal entries on one page.
pub const ENTRIES: usize = 60;

/// Lines of refusals and warnings on one page.
const TROUBLES_SHOWN: usize = 200;

/// Where an original is fetched.
pub(super) fn original_href(sha: &Digest) -> String {
    format!("/originals/{sha}")
}

/// The page with both forms and the journal.
#[must_use]
pub fn files_page(shell: &Shell, entries: &[EntryLine], limit_mb: u64) -> Markup {
    let content = html! {
        h1 { "Files" }
        div.two-columns {
            (form("/files/load", "Loading lists", "Load", limit_mb,
                "Stowage, load or discharge messages (EDIFACT), or CSV with a header. All files \
                 chosen at once are one list."))
            (form("/files/take", "Readings", "Take in", limit_mb,
                "Rounds and logger files as CSV with a header. The same row twice is held once; \
                 a bad row is refused by line and the rest goes in."))
        }
        h2 { "What came in" }
        @if entries.is_empty() {
            p.empty { "Nothing yet." }
        } @else {
            p.hint { "Newest first. Nothing is ever changed or deleted; the files are kept byte for \
                byte." }
            (entry_list(entries))
        }
    };
    page(shell, Tab::Files, Live::Yes, "Files", &content)
}

fn form(action: &str, title: &str, verb: &str, limit_mb: u64, hint: &str) -> Markup {
    let id = if action.ends_with("load") { "lists" } else { "readings" };
    html! {
        form.upload method="post" action=(action) enctype="multipart/form-data"
            data-limit-mb=(limit_mb) {
            h2 { (title) }
            p.hint { (hint) " At most " (limit_mb) " MB at a time." }
            label for=(id) { "Files" }
            input id=(id) type="file" name="files" multiple required;
            label for={ (id) "-who" } { "Entered by" }
            input id={ (id) "-who" } name="who" required maxlength="80" autocomplete="name"
                placeholder="name and rank";
            button.main type="submit" { (verb) }
            p.form-note role="status" {}
        }
    }
}

/// Entries with their files.
fn entry_list(entries: &[EntryLine]) -> Markup {
    html! {
        ol.entries {
            @for e in entries {
                li id={ "e" (e.seq) } {
                    p { strong { "No. " (e.seq) } " · " (time(e.at)) " UTC · " (e.who) }
                    p { (e.title) }
                    @if !e.originals.is_empty() {
                        ul.originals {
                            @for o in &e.originals {
                                li {
                                    a href=(original_href(&o.sha256)) download {
                                        (o.name) ", " (size(o.size))
                                    }
                                }
                            }
                        }
                    }
                    p.hash { "entry hash " code { (short_hash(&e.hash)) } }
                }
            }
        }
    }
}

/// `3.4 kB`, `1.2 MB`.
pub(super) fn size(bytes: u64) -> String {
    match bytes {
        0..1_000 => format!("{bytes} B"),
        1_000..1_000_000 => format!("{:.1} kB", bytes as f64 / 1e3),
        _ => format!("{:.1} MB", bytes as f64 / 1e6),
    }
}

fn short_hash(d: &Digest) -> String {
    let hex = d.to_string();
    hex.get(..16).unwrap_or(&hex).to_owned()
}

/// What loading lists gave.
#[must_use]
pub fn loaded_page(shell: &Shell, outcome: &LoadOutcome) -> Markup {
    let ListReport { units, warnings, .. } = &outcome.report;
    let c = outcome.changes;
    let thermal = units.iter().filter(|u| u.thermal).count();
    let odd: Vec<&ListedUnit> = units.iter().filter(|u| !u.warnings.is_empty()).collect();
    let content = html! {
        h1 { "Loading list taken in" }
        dl.outcome {
            (outcome_cell("Containers listed", units.len()))
            (outcome_cell("of them refrigerated", thermal))
            (outcome_cell("New", c.added))
            (outcome_cell("Gone", c.removed))
            (outcome_cell("Moved", c.moved))
            (outcome_cell("Set point changed", c.set_point_changed))
        }
        (onward())
        (warning_list(warnings))
        @if !odd.is_empty() {
            h2 { (odd.len()) " containers with something odd" }
            ul.troubles {
                @for u in odd.iter().take(TROUBLES_SHOWN) {
                    li {
                        @match &u.unit {
                            Some(unit) if u.thermal => {
                                a href=(super::box_href(unit)) { (unit) }
                            },
                            Some(unit) => strong { (unit) },
                            None => strong { "no number" },
                        }
                        @for w in &u.warnings { p { (w) } }
                    }
                }
            }
            (and_more(odd.len()))
        }
    };
    page(shell, Tab::Files, Live::No, "Loading list taken in", &content)
}

/// What taking readings gave. `heading` says whether anything was stored.
#[must_use]
pub fn taken_page(shell: &Shell, heading: &str, t: &TakeOutcome) -> Markup {
    let content = html! {
        h1 { (heading) }
        dl.outcome {
            (outcome_cell("Rows", t.rows))
            (outcome_cell("Stored", t.stored))
            (outcome_cell("Held already", t.already_held))
            (outcome_cell("Refused", t.refused.len()))
            (outcome_cell("Conflicts", t.conflicts))
        }
        @if t.conflicts > 0 {
            p { "A conflict is a value that differs from one held for the same box, time, column \
                and source. Both are kept; the box’s page shows them." }
        }
        (onward())
        @if !t.refused.is_empty() {
            h2 { "Refused, by line" }
            p.hint { "Correct these lines and take the file in again: what is held already is not \
                stored twice." }
            ul.troubles {
                @for r in t.refused.iter().take(TROUBLES_SHOWN) {
                    li { strong { (r.file) " line " (r.line) } p { (r.why) } }
                }
            }
            (and_more(t.refused.len()))
        }
        (warning_list(&t.warnings))
    };
    page(shell, Tab::Files, Live::No, heading, &content)
}

fn outcome_cell(name: &str, value: impl std::fmt::Display) -> Markup {
    html! { div { dt { (name) } dd { (value) } } }
}

fn onward() -> Markup {
    html! {
        p { a.button.main href="/" { "To the watch list" } " " a.button href="/files" { "More files" } }
    }
}

fn warning_list(warnings: &[String]) -> Markup {
    html! {
        @if !warnings.is_empty() {
            h2 { "Warnings" }
            ul.troubles { @for w in warnings.iter().take(TROUBLES_SHOWN) { li { (w) } } }
            (and_more(warnings.len()))
        }
    }
}

fn and_more(n: usize) -> Markup {
    html! {
        @if n > TROUBLES_SHOWN {
            p { "And " (n - TROUBLES_SHOWN) " more; the command line prints them all." }
        }
    }
}
