//! The way between the pages: what a watch opens every hour stands in the open, the workshop and
//! the records each behind one button that works without scripts.

use maud::{Markup, html};

use super::Tab;

/// One page of the navigation.
struct Entry {
    tab: Tab,
    href: &'static str,
    words: &'static str,
}

const fn entry(tab: Tab, href: &'static str, words: &'static str) -> Entry {
    Entry { tab, href, words }
}

/// What a watch opens every hour.
const WATCH: [Entry; 6] = [
    entry(Tab::Watch, "/", "Watch list"),
    entry(Tab::Plan, "/plan", "Bay plan"),
    entry(Tab::Repairs, "/repairs", "Who first"),
    entry(Tab::Power, "/power", "Power"),
    entry(Tab::Rounds, "/rounds", "Rounds"),
    entry(Tab::Treatments, "/treatments", "Treatments"),
];

/// What is opened with a spanner in the other hand.
const WORKSHOP: [Entry; 6] = [
    entry(Tab::Gauges, "/gauges", "Gauges"),
    entry(Tab::Vacuum, "/vacuum", "Vacuum"),
    entry(Tab::Service, "/service", "Service"),
    entry(Tab::Gas, "/gas", "Refrigerant"),
    entry(Tab::Spares, "/spares", "Spares"),
    entry(Tab::Fluids, "/fluid", "Fluids"),
];

/// What is opened at the desk.
const RECORDS: [Entry; 5] = [
    entry(Tab::Log, "/log", "Log"),
    entry(Tab::Report, "/report", "Messages"),
    entry(Tab::Handover, "/handover", "Hand-over"),
    entry(Tab::Instruments, "/instruments", "Instruments"),
    entry(Tab::Files, "/files", "Files"),
];

/// The navigation, with the page that is open marked.
pub fn nav(open: Tab) -> Markup {
    html! {
        nav aria-label="Pages" {
            @for e in &WATCH { (link(e, open)) }
            (group("Workshop", &WORKSHOP, open))
            (group("Records", &RECORDS, open))
        }
    }
}

fn link(e: &Entry, open: Tab) -> Markup {
    html! { a href=(e.href) aria-current=[(e.tab == open).then_some("page")] { (e.words) } }
}

/// A button that unfolds its pages. One page of it being open is said on the folded button, so
/// that nobody has to unfold it to know where he is.
fn group(words: &str, entries: &[Entry], open: Tab) -> Markup {
    let inside = entries.iter().find(|e| e.tab == open);
    html! {
        details.group name="pages" {
            summary.inside[inside.is_some()] {
                (words)
                @if let Some(e) = inside { ": " (e.words) }
            }
            div { @for e in entries { (link(e, open)) } }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_page_is_reached_once() {
        let html = nav(Tab::Other).into_string();
        let all = WATCH.iter().chain(&WORKSHOP).chain(&RECORDS);
        for e in all {
            assert_eq!(html.matches(&format!("href=\"{}\"", e.href)).count(), 1, "{}", e.href);
        }
        assert!(!html.contains("aria-current"));
    }

    #[test]
    fn a_folded_group_says_which_of_its_pages_is_open() {
        let html = nav(Tab::Gas).into_string();
        assert!(html.contains("Workshop: Refrigerant"), "{html}");
        assert!(html.contains(">Records<"), "{html}");
        assert_eq!(html.matches("aria-current").count(), 1);
    }
}
