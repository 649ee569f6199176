//! One box: its state, what to do, its history, and everything that is known of it.

use figures::Look;
use maud::{Markup, PreEscaped, html};
use record::treatment::TreatmentView;
use record::{
    BoxHistory, BoxLine, BoxView, Fan, GaugesEntry, HoldFile, NoteEntry, PressureEntry, Span,
    State, WorkFile,
};
use units::Utc;
use voyage::EntryLine;

use super::ahead;
use super::box_facts::{cargo_facts, findings, list_facts};
use super::box_readings::{conflicts, originals, readings};
use super::cautions::cautions;
use super::gauges;
use super::log;
use super::service;
use super::treatments::on_box_page;
use super::vacuum;
use super::watch::{as_of, place};
use super::{Live, Shell, Tab, box_href, hours_left, page, state_tag, temp_or_blank, time};

/// The stretch of time a reader asks for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Range {
    /// So many hours back from the latest reading.
    Last(f64),
    /// Everything held.
    All,
    /// From one instant to another.
    Between(Span),
}

/// The ready-made stretches: address, hours (none for all) and words.
const RANGES: [(&str, Option<f64>, &str); 4] = [
    ("24h", Some(24.0), "24 hours"),
    ("3d", Some(72.0), "3 days"),
    ("7d", Some(168.0), "7 days"),
    ("all", None, "Whole voyage"),
];

impl Range {
    /// From the pairs of the address; three days when nothing sensible is asked for.
    #[must_use]
    pub fn from_pairs(pairs: &[(String, String)]) -> Self {
        let get = |key: &str| pairs.iter().find(|(k, _)| k == key).map(|(_, v)| v.as_str());
        let instant = |key: &str| get(key).and_then(|t| Utc::parse(t).ok());
        if let (Some(a), Some(b)) = (instant("from"), instant("to"))
            && a != b
        {
            return Self::Between(Span { from: a.min(b), to: a.max(b) });
        }
        let named = RANGES.iter().find(|(name, ..)| get("range") == Some(*name));
        match named {
            Some((_, Some(hours), _)) => Self::Last(*hours),
            Some((_, None, _)) => Self::All,
            None => Self::Last(72.0),
        }
    }

    /// The span to ask the engine for; `None` for everything.
    #[must_use]
    pub fn span(self, latest: Option<Utc>) -> Option<Span> {
        match (self, latest) {
            (Self::Between(span), _) => Some(span),
            (Self::Last(hours), Some(to)) => Some(Span { from: to.plus_hours(-hours), to }),
            _ => None,
        }
    }

    fn query(self) -> String {
        match self {
            Self::Between(s) => format!("from={}&to={}", minute(s.from), minute(s.to)),
            Self::All => "range=all".to_owned(),
            Self::Last(h) => {
                let name = RANGES.iter().find(|(_, hours, _)| *hours == Some(h));
                format!("range={}", name.map_or("3d", |(name, ..)| name))
            }
        }
    }
}

/// What the two time fields take. Plain fields, because a browser's own date field shows twelve
/// hours or twenty-four, day or month first, as it likes.
const MINUTE_PATTERN: &str = "\\d{4}-\\d{2}-\\d{2}[ T]\\d{2}:\\d{2}";

/// As it stands in an address: `2026-01-05T08:00`.
fn minute(at: Utc) -> String {
    at.to_minute().replace(' ', "T")
}

/// Everything a box's page is made from.
pub struct BoxData {
    /// State, facts and readings.
    pub view: BoxView,
    /// The past in the stretch asked for.
    pub history: Option<BoxHistory>,
    /// For each reading, the journal entry that brought it; empty when that is not known.
    pub entry_of: Vec<i64>,
    /// The entries that speak of this box, newest first.
    pub entries: Vec<EntryLine>,
    /// Its cold treatment, where one is ordered.
    pub treatment: Option<TreatmentView>,
    /// Gauge readings in the journal, in the order entered.
    pub gauges: Vec<GaugesEntry>,
    /// Its vacuum holds, in the order begun.
    pub holds: Vec<HoldFile>,
    /// Its nitrogen and standing-pressure tests, in the order entered.
    pub pressure_tests: Vec<PressureEntry>,
    /// What people wrote down about it, oldest first.
    pub notes: Vec<NoteEntry>,
    /// Service works on it, in the order begun.
    pub works: Vec<WorkFile>,
    /// What may lie ahead, over the days before.
    pub ahead: Option<(Fan, BoxHistory)>,
}

/// The page.
#[must_use]
pub fn box_page(shell: &Shell, list: &record::WatchList, data: &BoxData, range: Range) -> Markup {
    let b = &data.view.line;
    let content = html! {
        div.box-head {
            h1 { (b.unit) }
            p.where { (place(b)) @if let Some(code) = &b.size_type { " · " (code) }
                @if let Some(port) = &b.discharge_port { " · for " (port) } }
        }
        (as_of(shell, list))
        (headline(b))
        @if let Some(t) = &data.treatment { (on_box_page(t)) }
        (figures_line(b))
        h2 #history { "History" }
        (range_links(b, data, range))
        (chart(b, data, range))
        @if let Some((fan, past)) = &data.ahead { (ahead::on_box_page(&b.unit, fan, past)) }
        (findings(b))
        div.two-columns {
            (cargo_facts(&data.view))
            (list_facts(&data.view))
        }
        (log::on_box_page(shell, &b.unit, &data.notes))
        (gauges::on_box_page(&b.unit, &data.gauges))
        (vacuum::on_box_page(&b.unit, &data.holds, &data.pressure_tests))
        (service::on_box_page(shell, &b.unit, &data.works))
        (hand_over(b))
        (conflicts(data))
        (readings(data))
        (originals(data))
        (neighbours(list, b))
    };
    page(shell, Tab::Other, Live::Yes, b.unit.as_str(), &content)
}

fn headline(b: &BoxLine) -> Markup {
    let cautions = cautions(b);
    html! {
        section class={ "headline " (b.state.as_str()) } aria-label="State and what to do" {
            p.verdict { (state_tag(b.state)) " " span { (b.reason) } }
            @if let Some(left) = hours_left(b.hours_to_limit, b.hours_to_limit_p90) {
                p.left {
                    "To the limit: " (left)
                    @if b.hours_to_limit_p90.is_some_and(|[_, high]| high * 60.0 >= 1.0) {
                        " (90 % interval)"
                    }
                    @if let Some(limit) = &b.limit { ". Limit: " (limit) }
                    "."
                }
            }
            @if !cautions.is_empty() {
                div.caution {
                    h2 { "Before you touch it" }
                    ul { @for c in cautions { li { (c) } } }
                }
            }
            @if !b.action.is_empty() {
                p.first { strong { "Do first: " } (b.action) }
            }
        }
    }
}

/// The paper that goes with the box.
fn hand_over(b: &BoxLine) -> Markup {
    html! {
        h2 #hand-over { "Hand-over" }
        p { "What was recorded about this container as a signed PDF, with its data and the \
             original files attached: the story on the first page, every reading, lines to sign \
             on. It is made from what is held now." }
        p { a.button download href={ "/dossier/" (super::percent(b.unit.as_str())) } {
            "Make its dossier (PDF)"
        } }
    }
}

/// Latest figures, large.
fn figures_line(b: &BoxLine) -> Markup {
    let power = match b.on_power {
        Some(true) => "on",
        Some(false) => "OFF",
        None => "",
    };
    let cells = [
        ("Set point", temp_or_blank(b.set_point_c)),
        ("Supply air", temp_or_blank(b.supply_c)),
        ("Return air", temp_or_blank(b.return_c)),
        ("Cargo, estimated", temp_or_blank(b.cargo_c)),
        ("Power", power.to_owned()),
    ];
    html! {
        dl.figures {
            @for (name, value) in cells {
                div {
                    dt { (name) }
                    dd { @if value.is_empty() { span.blank { "not read" } } @else { (value) } }
                    @if name.starts_with("Cargo") && let Some([low, high]) = b.cargo_c_p90 {
                        dd.interval {
                            "90 %: " (figures::words::number(low, 1)) " to "
                            (figures::words::temp(high))
                        }
                    }
                }
            }
            div {
                dt { "Last read" }
                dd { @match b.last_read_at {
                    Some(at) => (time(at)),
                    None => span.blank { "never" },
                } }
            }
        }
    }
}

fn range_links(b: &BoxLine, data: &BoxData, range: Range) -> Markup {
    let here = range.query();
    let span = data.history.as_ref().map(|h| h.span);
    html! {
        nav.ranges aria-label="Stretch of time" {
            @for (name, _, words) in RANGES {
                @let query = format!("range={name}");
                a.button href={ (box_href(&b.unit)) "?" (query) "#history" }
                    aria-current=[(query == here).then_some("true")] { (words) }
            }
            form method="get" action={ (box_href(&b.unit)) "#history" } {
                label { "From (UTC) "
                    input #from name="from" required size="16" autocomplete="off"
                        pattern=(MINUTE_PATTERN) title="year-month-day hour:minute, UTC"
                        value=(span.map(|s| s.from.to_minute()).unwrap_or_default()); }
                label { "to "
                    input #to name="to" required size="16" autocomplete="off"
                        pattern=(MINUTE_PATTERN) title="year-month-day hour:minute, UTC"
                        value=(span.map(|s| s.to.to_minute()).unwrap_or_default()); }
                button type="submit" { "Show" }
            }
        }
    }
}

fn chart(b: &BoxLine, data: &BoxData, range: Range) -> Markup {
    let drawn = data.history.as_ref().and_then(|h| {
        Some((figures::history_chart(h, Look::Wide)?, figures::history_chart(h, Look::Narrow)?))
    });
    let Some((wide, narrow)) = drawn else {
        return html! {
            p.empty {
                "Nothing was read in this stretch of time. "
                a href={ (box_href(&b.unit)) "?range=all#history" } { "Show the whole voyage" } "."
            }
        };
    };
    html! {
        figure.history tabindex="0" aria-label="Chart; arrow keys read it out"
            data-series={ (box_href(&b.unit)) "/series.json?" (range.query()) }
            data-zoom=(box_href(&b.unit)) {
            (PreEscaped(wide)) (PreEscaped(narrow))
            figcaption {
                output.read-out aria-live="polite" {}
                p.hint.with-script {
                    "Point, tap or use the arrow keys to read values; drag across to look closer."
                }
            }
        }
    }
}

/// The next box on the watch list, so that a round of them can be worked without going back.
fn neighbours(list: &record::WatchList, b: &BoxLine) -> Markup {
    let at = list.boxes.iter().position(|l| l.unit == b.unit);
    let near =
        |i: Option<usize>| i.and_then(|i| list.boxes.get(i)).filter(|l| l.state != State::Ok);
    let before = near(at.and_then(|i| i.checked_sub(1)));
    let after = near(at.map(|i| i + 1));
    html! {
        nav.neighbours aria-label="Neighbours on the watch list" {
            @if let Some(l) = before { a.button href=(box_href(&l.unit)) { "← before it: " (l.unit) } }
            a.button href="/" { "Watch list" }
            @if let Some(c) = b.cell {
                a.button href={ "/plan?bay=" (c.bay) "#bay" } { "Bay " (format!("{:02}", c.bay)) }
            }
            @if let Some(l) = after { a.button href=(box_href(&l.unit)) { "after it: " (l.unit) " →" } }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn range(list: &[(&str, &str)]) -> Range {
        let pairs: Vec<(String, String)> =
            list.iter().map(|(a, b)| ((*a).into(), (*b).into())).collect();
        Range::from_pairs(&pairs)
    }

    #[test]
    fn stretches_of_time() {
        assert_eq!(range(&[]), Range::Last(72.0));
        assert_eq!(range(&[("range", "24h")]), Range::Last(24.0));
        assert_eq!(range(&[("range", "all")]).span(None), None);
        // The ends may be given the wrong way round.
        let r = range(&[("from", "2026-01-06T08:00"), ("to", "2026-01-05T08:00")]);
        assert_eq!(r.query(), "from=2026-01-05T08:00&to=2026-01-06T08:00");
        // Half a pair, or nonsense, is not guessed at.
        assert_eq!(range(&[("from", "yesterday"), ("to", "2026-01-05T08:00")]), Range::Last(72.0));
    }
}
