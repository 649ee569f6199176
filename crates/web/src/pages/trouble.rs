//! Pages for when something is wrong: what it is, and what to do next.

use maud::{Markup, html};

use super::{Live, Shell, Tab, page};

/// One plain page with a heading, the reason and the next step.
#[must_use]
pub fn trouble_page(shell: &Shell, heading: &str, what: &str, next: &str) -> Markup {
    let content = html! {
        h1 { (heading) }
        p.trouble { (what) }
        p { (next) }
        p { a.button href="/" { "Watch list" } " " a.button href="/files" { "Files" } }
    };
    page(shell, Tab::Other, Live::No, heading, &content)
}

/// A refusal before the voyage is even looked at: no styles, no voyage, nothing to leak.
#[must_use]
pub fn bare_page(heading: &str, what: &str, next: &str) -> Markup {
    html! {
        (maud::DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (heading) " · Holdfast" }
            }
            body { main { h1 { (heading) } p { (what) } p { (next) } } }
        }
    }
}
