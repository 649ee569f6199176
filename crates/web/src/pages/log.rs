//! The log of the watch: search, lines, and forms to write something down. The box's page has the
//! same form.

use maud::{Markup, html};
use record::note::late_h;
use record::{NoteEntry, NoteKind, UnitId};
use units::Utc;
use voyage::{LogAsked, LogLine};

use super::files::original_href;
use super::{Live, Shell, Tab, page, percent, time};

/// Lines on one page; the export has them all.
const LINES_SHOWN: usize = 400;

/// What was asked, as written.
#[derive(Debug, Clone, Default)]
pub struct Asked {
    /// Words.
    pub search: String,
    /// Box as written.
    pub unit: String,
    /// From, as written.
    pub from: String,
    /// To, as written.
    pub to: String,
    /// As a file.
    pub csv: bool,
}

impl Asked {
    /// From the pairs of the address.
    #[must_use]
    pub fn from_pairs(pairs: &[(String, String)]) -> Self {
        let get = |key: &str| {
            let found = pairs.iter().find(|(k, _)| k == key);
            found.map_or("", |(_, v)| v.trim()).chars().take(100).collect::<String>()
        };
        let csv = get("as") == "csv";
        Self { search: get("search"), unit: get("unit"), from: get("from"), to: get("to"), csv }
    }

    /// For the journal; what cannot be read is not asked for and said on the page.
    #[must_use]
    pub fn log(&self) -> LogAsked {
        LogAsked {
            unit: UnitId::from_text(&self.unit),
            from: instant(&self.from),
            to: instant(&self.to),
            search: self.search.clone(),
        }
    }

    fn trouble(&self) -> Option<String> {
        if !self.unit.is_empty() && UnitId::from_text(&self.unit).is_none() {
            return Some(format!("\"{}\" is no container number; all boxes are shown.", self.unit));
        }
        let bad =
            [&self.from, &self.to].into_iter().find(|t| !t.is_empty() && instant(t).is_none());
        bad.map(|t| {
            format!("\"{t}\" is no time; write 2026-03-05 or 2026-03-05 08:00. It was left out.")
        })
    }

    fn export(&self) -> String {
        format!(
            "/log?as=csv&search={}&unit={}&from={}&to={}",
            percent(&self.search),
            percent(&self.unit),
            percent(&self.from),
            percent(&self.to)
        )
    }
}

/// A time or a day, which begins at midnight UTC.
fn instant(text: &str) -> Option<Utc> {
    let whole = if text.len() == 10 { format!("{text} 00:00") } else { text.to_owned() };
    Utc::parse(&whole).ok()
}

/// The page.
#[must_use]
pub fn log_page(shell: &Shell, asked: &Asked, lines: &[LogLine]) -> Markup {
    let skipped = lines.len().saturating_sub(LINES_SHOWN);
    let content = html! {
        h1 { "Log of the watch" }
        p.where { (shell.ship) ". Who did what, oldest first; times are UTC and when it happened." }
        (search(asked))
        @if let Some(t) = asked.trouble() { p.trouble role="alert" { (t) } }
        p.hint {
            (lines.len()) " lines"
            @if skipped > 0 { ", the last " (LINES_SHOWN) " shown; the file has them all" }
            ". " a href=(asked.export()) { "Take them as a CSV file" }
        }
        @if lines.is_empty() {
            p.empty { "Nothing in it that was asked for." }
        } @else {
            ol.log-lines {
                @for l in lines.iter().skip(skipped) { (line(l)) }
            }
        }
        span #end {}
        div.two-columns.log-forms {
            (note_form(shell.now, None))
            (missed_form())
        }
    };
    page(shell, Tab::Log, Live::No, "Log of the watch", &content)
}

fn search(asked: &Asked) -> Markup {
    html! {
        form.search.log-search method="get" action="/log" role="search" {
            label { "Words " input type="search" name="search" value=(asked.search) maxlength="100"; }
            label { "Box " input name="unit" value=(asked.unit) size="13" maxlength="20"
                autocapitalize="characters" placeholder="all"; }
            label { "From " input name="from" value=(asked.from) size="16" maxlength="20"
                placeholder="2026-03-05"; }
            label { "To " input name="to" value=(asked.to) size="16" maxlength="20"
                placeholder="2026-03-06 08:00"; }
            button.main type="submit" { "Find" }
        }
    }
}

fn line(l: &LogLine) -> Markup {
    html! {
        li class=[l.seq.is_none().then_some("gap")] {
            span.when { (time(l.at)) }
            span.what {
                @if l.seq.is_none() {
                    strong.kind { "no round" } " "
                } @else if !l.words.starts_with(&l.kind) {
                    strong.kind { (l.kind) } " "
                }
                (l.words)
                @if !l.files.is_empty() {
                    span.hint { " Files: "
                        @for (i, (name, sha)) in l.files.iter().take(4).enumerate() {
                            @if i > 0 { ", " } a href=(original_href(sha)) { (name) }
                        }
                        @if l.files.len() > 4 { " and " (l.files.len() - 4) " more" }
                    }
                }
            }
            span.by {
                @if let Some(n) = l.seq { "entry " (n) @if !l.who.is_empty() { ", " (l.who) } }
                @else { "nobody entered it" }
                @if let (Some(h), Some(at)) = (l.late_h, l.entered_at) {
                    " " strong.late { "late" } ": entered " (time(at)) ", " (figures::words::hours(h))
                    " after"
                }
            }
        }
    }
}

/// What was noticed, done and restored on a box, and the form to write more.
#[must_use]
pub fn on_box_page(shell: &Shell, unit: &UnitId, notes: &[NoteEntry]) -> Markup {
    html! {
        h2 #written { "Noticed and done" }
        @if notes.is_empty() {
            p.hint { "Nobody has written anything down about this box." }
        } @else {
            ol.log-lines {
                @for n in notes {
                    li {
                        span.when { (time(n.note.at)) }
                        span.what { strong.kind { (n.note.kind.as_str()) } " " (n.note.text) }
                        span.by { (n.who)
                            @if late_h(n.note.at, n.entered_at).is_some() {
                                " " strong.late { "late" } ": entered " (time(n.entered_at))
                            }
                        }
                    }
                }
            }
        }
        (note_form(shell.now, Some(unit)))
        p { a href={ "/log?unit=" (percent(unit.as_str())) } { "Everything in the log about this box" } }
    }
}

fn note_form(now: Utc, unit: Option<&UnitId>) -> Markup {
    html! {
        details.write-down open[unit.is_none()] {
            summary { "Write down what was seen or done" }
            form.upload method="post" action="/log/note" {
                @if let Some(unit) = unit {
                    input type="hidden" name="box" value=(unit);
                    input type="hidden" name="back" value="box";
                } @else {
                    label { "Box (blank: the ship) "
                        input name="box" size="13" maxlength="20" autocapitalize="characters"; }
                }
                label { "What it is "
                    select name="kind" {
                        @for k in NoteKind::ALL { option value=(k.as_str()) { (kind_words(k)) } }
                    } }
                label { "When (UTC) "
                    input name="at" required size="16" value=(now.to_minute()); }
                label { "In your words "
                    input name="text" required maxlength="300"; }
                label { "Entered by "
                    input name="who" required maxlength="80" autocomplete="name"
                        placeholder="name and rank"; }
                button.main type="submit" { "Enter it" }
                p.hint { "It is kept as it is. A slip is put right by a further note." }
            }
        }
    }
}

fn kind_words(kind: NoteKind) -> &'static str {
    match kind {
        NoteKind::Noticed => "noticed: something is wrong",
        NoteKind::Done => "done: what was done about it",
        NoteKind::Restored => "restored: it works again",
        NoteKind::Remark => "remark",
    }
}

fn missed_form() -> Markup {
    html! {
        details.write-down {
            summary { "Write down a round that could not be walked" }
            form.upload method="post" action="/log/missed" {
                label { "From (UTC) "
                    input name="from" required size="16" placeholder="2026-03-05 20:00"; }
                label { "To (UTC) "
                    input name="to" required size="16" placeholder="2026-03-06 04:00"; }
                label { "Why " input name="why" required maxlength="200"
                    placeholder="deck closed"; }
                label { "Wind " input name="wind" maxlength="60" placeholder="NW 9"; }
                label { "Sea and swell " input name="sea" maxlength="60" placeholder="6 m from NW"; }
                label { "Entered by "
                    input name="who" required maxlength="80" autocomplete="name"
                        placeholder="name and rank"; }
                button.main type="submit" { "Enter it" }
            }
        }
    }
}
