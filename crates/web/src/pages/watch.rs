//! The watch list: what needs a person, most urgent first.

use maud::{Markup, PreEscaped, html};
use record::{BoxLine, State, WatchList};
use units::Utc;

use super::{
    Live, STATES, Shell, Tab, ago, box_href, hours_left, page, percent, state_tag, state_word,
    temp_or_blank, time,
};

/// Lines on one page.
pub const LINES: usize = 100;

/// Hours without any reading from which the page says so loudly.
const STALE_H: f64 = 12.0;

/// What the reader asked for.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Query {
    /// Only boxes in this state.
    pub state: Option<State>,
    /// Only boxes whose number holds this text.
    pub unit: String,
    /// Only boxes in this bay.
    pub bay: String,
    /// Page, from 0.
    pub page: usize,
}

impl Query {
    /// From the pairs of the address; what is not understood is left out.
    #[must_use]
    pub fn from_pairs(pairs: &[(String, String)]) -> Self {
        let mut q = Self::default();
        for (key, value) in pairs {
            let value = value.trim();
            match key.as_str() {
                "state" => q.state = STATES.into_iter().find(|s| s.as_str() == value),
                "unit" => q.unit = value.to_owned(),
                "bay" => q.bay = value.to_owned(),
                "page" => q.page = value.parse::<usize>().unwrap_or(1).saturating_sub(1),
                _ => {}
            }
        }
        q
    }

    fn is_narrowed(&self) -> bool {
        self.state.is_some() || !self.unit.is_empty() || !self.bay.is_empty()
    }

    fn keeps(&self, line: &BoxLine) -> bool {
        let wanted: String = self
            .unit
            .chars()
            .filter(|c| !c.is_whitespace() && *c != '-')
            .flat_map(char::to_uppercase)
            .collect();
        let bay_ok = match self.bay.parse::<u16>() {
            Ok(bay) => line.cell.is_some_and(|c| c.bay == bay),
            Err(_) => self.bay.is_empty(),
        };
        self.state.is_none_or(|s| s == line.state) && bay_ok && line.unit.as_str().contains(&wanted)
    }

    fn href(&self, state: Option<State>, page: usize) -> String {
        let mut parts = Vec::new();
        if let Some(s) = state {
            parts.push(format!("state={}", s.as_str()));
        }
        for (key, value) in [("unit", &self.unit), ("bay", &self.bay)] {
            if !value.is_empty() {
                parts.push(format!("{key}={}", percent(value)));
            }
        }
        if page > 0 {
            parts.push(format!("page={}", page + 1));
        }
        if parts.is_empty() { "/".to_owned() } else { format!("/?{}", parts.join("&")) }
    }
}

/// The whole page.
#[must_use]
pub fn watch_page(shell: &Shell, list: &WatchList, q: &Query) -> Markup {
    if list.boxes.is_empty() {
        return page(shell, Tab::Watch, Live::Yes, "Watch list", &nothing_yet());
    }
    let kept: Vec<&BoxLine> = list.boxes.iter().filter(|b| q.keeps(b)).collect();
    let pages = kept.len().div_ceil(LINES).max(1);
    let at = q.page.min(pages - 1);
    let shown: Vec<&BoxLine> = kept.iter().skip(at * LINES).take(LINES).copied().collect();
    let content = html! {
        h1 { "Watch list" }
        (as_of(shell, list))
        (counts(list, q))
        (search(q))
        @if shown.is_empty() {
            p.empty { "No box matches. " a href="/" { "Show all boxes" } "." }
        } @else {
            (table(shell, &shown))
            (pager(q, at, pages, kept.len()))
        }
        (super::night::on_paper("/paper/watch.pdf", "What needs a person, on paper (PDF)"))
    };
    page(shell, Tab::Watch, Live::Yes, "Watch list", &content)
}

/// When the list speaks of, and how old that is.
pub(super) fn as_of(shell: &Shell, list: &WatchList) -> Markup {
    as_of_instant(shell, list.as_of)
}

/// The same for a page that has only the instant.
pub(super) fn as_of_instant(shell: &Shell, at: Option<Utc>) -> Markup {
    let Some(at) = at else {
        return html! { p.as-of { "Nothing has been read yet." } };
    };
    let age_h = shell.now.hours_since(at);
    if age_h > STALE_H {
        return html! {
            p.stale role="alert" {
                strong { "Nothing has been read for " (figures::words::hours(age_h)) "." }
                " Every figure here is as of " (time(at)) " UTC. "
                a href="/files" { "Take in a round" } "."
            }
        };
    }
    html! {
        p.as-of { "As of " (time(at)) " UTC, " (ago(at, shell.now)) "." }
    }
}

/// How many boxes are in each state; each count is a filter.
fn counts(list: &WatchList, q: &Query) -> Markup {
    let current = |s: Option<State>| (q.state == s).then_some("true");
    html! {
        nav.counts aria-label="Boxes by state" {
            @for s in STATES {
                a class=(s.as_str()) href=(q.href(Some(s), 0)) aria-current=[current(Some(s))] {
                    (PreEscaped(figures::state_glyph(s, 20.0)))
                    strong { (list.count(s)) } " " (state_word(s))
                }
            }
            a.all href=(q.href(None, 0)) aria-current=[current(None)] {
                strong { (list.boxes.len()) } " all"
            }
        }
    }
}

fn search(q: &Query) -> Markup {
    html! {
        form.search method="get" action="/" role="search" {
            @if let Some(s) = q.state { input type="hidden" name="state" value=(s.as_str()); }
            label { "Number holds " input #unit name="unit" value=(q.unit) autocomplete="off"
                size="12"; }
            label { "Bay " input #bay name="bay" value=(q.bay) inputmode="numeric" size="4"
                autocomplete="off"; }
            button type="submit" { "Find" }
            @if q.is_narrowed() { a.button href="/" { "Show all" } }
        }
    }
}

fn table(shell: &Shell, lines: &[&BoxLine]) -> Markup {
    html! {
        table.lines {
            caption.unseen { "Boxes, those that need a person first" }
            thead { tr {
                th scope="col" { "State" }
                th scope="col" { "Box" }
                th scope="col" { "Why" }
                th scope="col" {
                    "To the limit" span.axis { (PreEscaped(figures::limit_axis())) }
                }
                th scope="col" { "Do first" }
                th scope="col" { "Air" }
                th scope="col" { "Last read" }
            } }
            tbody { @for line in lines { (row(shell, line)) } }
        }
    }
}

fn row(shell: &Shell, b: &BoxLine) -> Markup {
    html! {
        tr class=(b.state.as_str()) {
            td.st { (state_tag(b.state)) }
            th.bx scope="row" {
                a id={ "b-" (b.unit) } href=(box_href(&b.unit)) { (b.unit) }
                span.cell { (place(b)) }
                @if let Some(cargo) = &b.cargo { span.cargo { (cargo) } }
            }
            td.why { (b.reason) }
            td.left {
                @if let Some(left) = hours_left(b.hours_to_limit, b.hours_to_limit_p90) {
                    (left)
                    @if let Some(bar) =
                        figures::limit_bar(b.state, b.hours_to_limit, b.hours_to_limit_p90) {
                        (PreEscaped(bar))
                    }
                    @if let Some(limit) = &b.limit { span.limit { (limit) } }
                }
            }
            td.do { (b.action) }
            td.air { (air(b)) }
            td.read {
                @match b.last_read_at {
                    Some(at) => { (time(at)) span.ago { (ago(at, shell.now)) } },
                    None => "never read",
                }
            }
        }
    }
}

/// Where a box stands, in words; what was sent when that cannot be read.
pub(super) fn place(b: &BoxLine) -> String {
    match (&b.cell, &b.stow) {
        (Some(cell), _) => cell.to_string(),
        (None, Some(sent)) => format!("cell sent as “{sent}”"),
        (None, None) => "no cell listed".to_owned(),
    }
}

fn air(b: &BoxLine) -> Markup {
    let rows = [("set", b.set_point_c), ("supply", b.supply_c), ("return", b.return_c)];
    html! {
        @for (name, value) in rows {
            @if value.is_some() { span { (name) " " b { (temp_or_blank(value)) } } }
        }
    }
}

fn pager(q: &Query, at: usize, pages: usize, total: usize) -> Markup {
    let first = at * LINES + 1;
    let last = ((at + 1) * LINES).min(total);
    html! {
        nav.pager aria-label="Pages of the list" {
            p { "Boxes " (first) " to " (last) " of " (total) "." }
            @if pages > 1 {
                @if at > 0 { a.button href=(q.href(q.state, 0)) { "To the top" } }
                @if at > 0 { a.button href=(q.href(q.state, at - 1)) { "Previous " (LINES) } }
                @if at + 1 < pages { a.button href=(q.href(q.state, at + 1)) { "Next " (LINES) } }
            }
        }
    }
}

/// What to do with an empty voyage.
fn nothing_yet() -> Markup {
    html! {
        h1 { "Nothing is held yet" }
        p { "Holdfast needs two things, in this order:" }
        ol.first-steps {
            li {
                h2 { "The loading list" }
                p {
                    "The stowage message the port or planner sent (EDIFACT), or a CSV file whose "
                    "first line names its columns. It says which boxes are on board, where they "
                    "stand, and at what temperature."
                }
                pre { "unit,stow,size_type,full,set_point_c\nQQQU1000011,0220382,45R1,true,-18.0" }
            }
            li {
                h2 { "A round" }
                p {
                    "What was read at the boxes, as CSV; only " code { "time_utc" } " and "
                    code { "unit" } " are required. A cell left empty was not read."
                }
                pre {
                    "time_utc,unit,set_point_c,supply_c,return_c,on_power,source\n"
                    "2026-01-05 08:00,QQQU1000011,-18.0,-18.4,-17.2,1,round"
                }
            }
        }
        p { a.button.main href="/files" { "Load a list or a round" } }
        p {
            "On the command line the same is " code { "holdfast load LIST" } " and "
            code { "holdfast take ROUND.csv" } "; " code { "holdfast demo" }
            " writes an invented ship to try things on."
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs(list: &[(&str, &str)]) -> Vec<(String, String)> {
        list.iter().map(|(a, b)| ((*a).into(), (*b).into())).collect()
    }

    #[test]
    fn what_is_asked_for_comes_back_in_the_links() {
        let q = Query::from_pairs(&pairs(&[("state", "act"), ("unit", "qqqu 1&"), ("page", "3")]));
        assert_eq!(q.state, Some(State::Act));
        assert_eq!(q.page, 2);
        assert_eq!(q.href(q.state, 1), "/?state=act&unit=qqqu%201%26&page=2");
        assert_eq!(Query::from_pairs(&pairs(&[("page", "0"), ("state", "x")])).page, 0);
    }
}
