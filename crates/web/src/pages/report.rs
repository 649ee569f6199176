//! Messages to shore: seen before they go, entered as sent, fetched.

use maud::{Markup, html};
use papers::message::Kind;
use record::SentEntry;

use super::{Live, Shell, Tab, page, time};
use crate::report::Prepared;

/// Messages listed.
const SENT_SHOWN: usize = 30;

/// The page.
#[must_use]
pub fn report_page(shell: &Shell, p: &Prepared, sent: &[SentEntry]) -> Markup {
    let content = html! {
        h1 { "Messages to shore" }
        p.where { "Plain text of at most 4 kB that any mail takes and that can be read out by radio, "
            "with a table of all boxes beside it." }
        (choice(p))
        h2 { "Message no. " (p.number) ", as it would go now" }
        p.hint { (p.message.text.len()) " bytes in lines of 76; "
            (p.message.told) " of " (p.message.exceptions) " boxes told. "
            "Table: " (p.rows) " rows, " (p.packed.len()) " bytes packed." }
        pre.message tabindex="0" aria-label="The message" { (p.message.text) }
        (send_form(p))
        (earlier(sent))
    };
    page(shell, Tab::Report, Live::No, "Messages to shore", &content)
}

fn choice(p: &Prepared) -> Markup {
    let links: [(Kind, bool, &str); 4] = [
        (Kind::TwiceDaily, false, "Twice daily"),
        (Kind::TwiceDaily, true, "Twice daily, changes only"),
        (Kind::Exceptions, false, "Malfunction reports"),
        (Kind::Exceptions, true, "Malfunction reports, changes only"),
    ];
    html! {
        nav.ranges aria-label="Which message" {
            @for (kind, delta, words) in links {
                a.button href=(href(kind, delta))
                    aria-current=[(kind == p.kind && delta == p.delta).then_some("page")] {
                    (words)
                }
            }
        }
    }
}

/// The address of a preview.
fn href(kind: Kind, delta: bool) -> String {
    format!("/report?kind={}{}", kind.as_str(), if delta { "&delta=yes" } else { "" })
}

fn send_form(p: &Prepared) -> Markup {
    html! {
        form.upload method="post" action="/report/send" {
            input type="hidden" name="kind" value=(p.kind.as_str());
            @if p.delta { input type="hidden" name="delta" value="yes"; }
            input type="hidden" name="number" value=(p.number);
            label { "Sent by " input name="who" required maxlength="80" autocomplete="name"
                placeholder="name and rank"; }
            button.main type="submit" { "Enter it as sent" }
            p.hint { "This program sends nothing: it enters the message in the journal, with its "
                "number and the journal’s root. Then take both files to the mail." }
        }
    }
}

fn earlier(sent: &[SentEntry]) -> Markup {
    html! {
        h2 #sent { "Sent" }
        @if sent.is_empty() {
            p.empty { "None yet." }
        } @else {
            ul.kept {
                @for s in sent.iter().rev().take(SENT_SHOWN) {
                    li {
                        span {
                            strong { "No. " (s.message.number) ", " (s.message.kind)
                                @if s.message.delta { ", changes only" } }
                            " " (time(s.at)) " by " (s.who) ". "
                            a href={ "/report/" (s.message.number) ".txt" } { "Text" } ", "
                            a href={ "/report/" (s.message.number) ".csv.gz" } { "table" }
                        }
                    }
                }
            }
        }
    }
}
