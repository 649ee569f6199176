//! Rounds: the sheet, those walked so far, those half keyed in, bays that are overdue.

use maud::{Markup, html};
use record::round::{ROUND_H, parts};
use record::{RoundFile, RoundLine};
use units::Utc;
use voyage::rounds::RoundWalked;

use super::{Live, Shell, Tab, ago, box_href, page, percent, time};

/// What the page shows.
pub struct RoundsData {
    /// The latest reading held.
    pub as_of: Option<Utc>,
    /// Boxes in walking order.
    pub lines: std::sync::Arc<Vec<RoundLine>>,
    /// Rounds walked, newest first.
    pub walked: Vec<RoundWalked>,
    /// Rounds keyed in.
    pub files: Vec<RoundFile>,
}

/// The address at which a round is keyed in.
#[must_use]
pub fn key_href(id: &str) -> String {
    format!("/rounds/key/{}", percent(id))
}

/// The page.
#[must_use]
pub fn rounds_page(shell: &Shell, data: &RoundsData) -> Markup {
    let content = html! {
        h1 { "Rounds" }
        p.where { (shell.ship) ". What was read, by whom, and what is due." }
        @if data.lines.is_empty() {
            p.empty { "No refrigerated container is listed: there is nothing to go round for. "
                a href="/files" { "Take in a loading list" } " first." }
        } @else {
            (half_keyed(data))
            div.two-columns { (paper()) (begin(shell)) }
            (overdue(shell, data))
        }
        (walked(data))
    };
    page(shell, Tab::Rounds, Live::Yes, "Rounds", &content)
}

fn half_keyed(data: &RoundsData) -> Markup {
    let open: Vec<&RoundFile> = data.files.iter().filter(|r| r.closed.is_none()).collect();
    html! {
        @for r in open {
            div.caution-line {
                p {
                    strong { "Half keyed in: " } "round of " (time(r.start.at)) ", walked by "
                    (r.start.walked_by) ", " (r.read()) " of " (data.lines.len())
                    " boxes, stored " (time(r.saved_at)) "."
                }
                p { a.button href=(key_href(&r.start.id)) { "Go on keying in" } }
            }
        }
    }
}

fn paper() -> Markup {
    html! {
        form.upload method="get" action="/rounds/sheet.pdf" {
            h2 { "Sheet for a round" }
            p.hint {
                "Every box in walking order with what to read and its last values, room for two "
                "rounds. Black and white, A4."
            }
            label for="bays" { "Bays" }
            input #bays name="bays" maxlength="100" placeholder="all; or 2-30,42";
            button.main type="submit" { "Make the sheet (PDF)" }
        }
    }
}

fn begin(shell: &Shell) -> Markup {
    html! {
        form.upload #begin method="post" action="/rounds/begin" {
            h2 { "Key a round in" }
            (who_and_when("", &shell.now.to_minute(), "", ""))
            button.main type="submit" { "Begin" }
        }
    }
}

/// Fields that are asked once for each round.
pub(super) fn who_and_when(walked_by: &str, at: &str, who: &str, weather: &str) -> Markup {
    html! {
        label for="walked_by" { "Walked by" }
        input #walked_by name="walked_by" required maxlength="60" autocomplete="name"
            value=(walked_by);
        label for="at" { "When, UTC" }
        input #at name="at" required maxlength="20" value=(at);
        label for="who" { "Keyed in by, if somebody else" }
        input #who name="who" maxlength="60" value=(who);
        label for="weather" { "Wind, sea, deck" }
        input #weather name="weather" maxlength="120" value=(weather);
    }
}

fn overdue(shell: &Shell, data: &RoundsData) -> Markup {
    let Some(as_of) = data.as_of else {
        return html! { h2 { "Due" } p { "Nothing was read yet: every bay is due." } };
    };
    let late = |l: &RoundLine| l.line.last_read_at.is_none_or(|t| as_of.hours_since(t) > ROUND_H);
    let due: Vec<_> = parts(&data.lines)
        .into_iter()
        .filter_map(|(part, range)| {
            let lines = data.lines.get(range)?;
            let late: Vec<&RoundLine> = lines.iter().filter(|l| late(l)).collect();
            (!late.is_empty()).then_some((part, lines.len(), late))
        })
        .collect();
    let old = shell.now.hours_since(as_of) > ROUND_H;
    html! {
        h2 { "Due" }
        @if old {
            p.trouble role="status" {
                "The newest reading is of " (time(as_of)) ", " (ago(as_of, shell.now))
                " by this computer’s clock: every bay is due."
            }
        }
        @if due.is_empty() {
            p { "At " (time(as_of)) " every box had been read within " (ROUND_H) " h." }
        } @else {
            p.hint { "Not read for more than " (ROUND_H) " h at " (time(as_of)) ", by any source:" }
            ul.due-bays {
                @for (part, all, late) in due {
                    li {
                        strong { (part.title()) } ": " (late.len()) " of " (all) " "
                        @for l in late.iter().take(12) {
                            a href=(box_href(l.unit())) { (l.unit()) } " "
                        }
                        @if late.len() > 12 { "and " (late.len() - 12) " more" }
                    }
                }
            }
        }
    }
}

fn walked(data: &RoundsData) -> Markup {
    html! {
        h2 #walked { "Rounds so far" }
        @if data.walked.is_empty() {
            p.empty { "No round is in the record of the last five days." }
        } @else {
            ol.log-lines.rounds-walked {
                @for r in &data.walked {
                    li {
                        span.when { (time(r.from)) " to " (figures::words::clock(r.to)) }
                        span.what {
                            strong { (r.read) @if r.read == 1 { " box" } @else { " boxes" } } " read"
                            @if !r.who.is_empty() { " by " (r.who.join(", ")) }
                            @if r.missing.is_empty() { "; none missing" }
                            @else { "; " (r.missing.len()) " not read" }
                        }
                        @if !r.missing.is_empty() {
                            details.by {
                                summary { "not read" }
                                p {
                                    @for u in r.missing.iter().take(400) {
                                        a href=(box_href(u)) { (u) } " "
                                    }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}
