//! Who goes where first tonight, and in which order the boxes come back after a blackout.

use figures::lanes::{Lane, LaneBar, LaneKind, lanes_chart};
use figures::stair::{StairStep, stair_chart};
use figures::{Look, words};
use maud::{Markup, PreEscaped, html};
use voyage::{NightPlan, PowerView, RestartView};

use super::{Live, Shell, Tab, page, percent, time};

/// Most people the form offers.
const PEOPLE_MAX: usize = 9;
/// Lines of a restart shown at once.
const STARTS_SHOWN: usize = 60;

/// How many people are asked for: 1 to 9, 2 when nothing sensible is said.
#[must_use]
pub fn people(pairs: &[(String, String)]) -> Vec<String> {
    let get = |key: &str| pairs.iter().find(|(k, _)| k == key).map(|(_, v)| v.trim());
    let n = get("people").and_then(|v| v.parse().ok()).filter(|n| (1..=PEOPLE_MAX).contains(n));
    let names = get("names").unwrap_or_default();
    let mut out: Vec<String> = Vec::new();
    for name in names.split(',').map(str::trim).filter(|n| !n.is_empty()) {
        let name: String = name.chars().filter(|c| !c.is_control()).take(40).collect();
        if !out.contains(&name) {
            out.push(name);
        }
    }
    let n = n.unwrap_or(2);
    out.truncate(n);
    for i in out.len()..n {
        out.push(format!("person {}", i + 1));
    }
    out
}

/// The repair plan.
#[must_use]
pub fn repairs_page(shell: &Shell, asked: &[String], plan: &Result<NightPlan, String>) -> Markup {
    let content = html! {
        h1 { "Who first" }
        form.search method="get" action="/repairs" {
            label { "People " input name="people" size="3" inputmode="numeric" value=(asked.len()); }
            label { "Names, with commas " input name="names" size="30" maxlength="200"
                value=(asked.join(", ")); }
            button.main type="submit" { "Plan" }
        }
        @match plan {
            Err(why) => p.trouble { (why) "." },
            Ok(n) => (repairs(n)),
        }
    };
    page(shell, Tab::Repairs, Live::No, "Who first", &content)
}

fn repairs(n: &NightPlan) -> Markup {
    let p = &n.plan;
    let lanes: Vec<Lane> = p.lanes.iter().map(lane).collect();
    let drawn = lanes_chart(&lanes, Look::Wide).zip(lanes_chart(&lanes, Look::Narrow));
    html! {
        @if let Some(at) = n.at { p.as-of { "From " (time(at)) " UTC." } }
        div.caution { h2 { "Before anybody goes" } ul { @for c in &p.cautions { li { (c) } } } }
        @match drawn {
            None => p.empty { "No box has a limit in sight that hands could keep." },
            Some((wide, narrow)) => {
                p { "Expected loss " strong { (words::number(p.expected_loss, 2)) } " "
                    (p.value_unit) " (90 %: " (words::number(p.expected_loss_p90[0], 2)) " to "
                    (words::number(p.expected_loss_p90[1], 2)) "); "
                    (words::number(p.loss_if_idle, 2)) " if nobody goes. " (p.quality) }
                figure.history { (PreEscaped(wide)) (PreEscaped(narrow)) }
            },
        }
        @for l in p.lanes.iter().filter(|l| !l.steps.is_empty()) {
            h2 { (l.person) }
            ol.findings { @for s in &l.steps { li {
                p { a href={ "/box/" (percent(&s.job)) } { (s.job) } ", " (s.at) }
                p { "Done after " strong { (words::hours(s.finish_h[1])) } ", 80 %: "
                    (words::hours(s.finish_h[0])) " to " (words::hours(s.finish_h[2])) "." }
                p.do { (s.why) }
            } } }
        }
        @if !p.not_done.is_empty() {
            h2 { "Left for later" }
            ul.troubles { @for d in &p.not_done { li {
                a href={ "/box/" (percent(&d.job)) } { (d.job) } ", " (d.at) ". " (d.why)
            } } }
        }
        (assumed(n.notes.iter().chain(&p.estimates)))
    }
}

fn lane(l: &plans::repair::Lane) -> Lane {
    use plans::repair::SpanKind;
    let bars = l.spans.iter().map(|s| LaneBar {
        kind: match s.kind {
            SpanKind::Walk => LaneKind::Walk,
            SpanKind::Wait => LaneKind::Wait,
            SpanKind::Work => LaneKind::Work,
            SpanKind::Rest => LaneKind::Rest,
        },
        from_h: s.from_h,
        to_h: s.to_h,
        done_h: s.to_p10_p90_h,
        label: s.job.clone(),
    });
    Lane { name: l.person.clone(), bars: bars.collect() }
}

fn assumed<'a>(notes: impl Iterator<Item = &'a String>) -> Markup {
    html! {
        details {
            summary { "What was assumed" }
            ul.troubles { @for n in notes { li { (n) } } }
        }
    }
}

/// Load and restart.
#[must_use]
pub fn power_page(
    shell: &Shell,
    power: &Result<PowerView, String>,
    restart: &Result<RestartView, String>,
) -> Markup {
    let content = html! {
        h1 { "Power" }
        @match power {
            Err(why) => p.trouble { (why) "." },
            Ok(v) => (load(v)),
        }
        h2 #restart { "After a blackout" }
        @match restart {
            Err(why) => p.trouble { (why) "." },
            Ok(v) => (order(v)),
        }
    };
    page(shell, Tab::Power, Live::No, "Power", &content)
}

fn load(v: &PowerView) -> Markup {
    let d = &v.demand;
    let kw = |x: f64| words::number(x, 0);
    html! {
        @if let Some(at) = v.at { p.as-of { "As of " (time(at)) " UTC." } }
        dl.figures {
            div { dt { "Boxes running" } dd { (d.boxes) } }
            div { dt { "They draw" } dd { (kw(d.mean_kw)) " kW" }
                dd.interval { "90 %: " (kw(d.kw_p90[0])) " to " (kw(d.kw_p90[1])) " kW" } }
            div { dt { "Apparent power" } dd { (kw(d.mean_kva)) " kVA" } }
            div { dt { "All at once" } dd { (kw(d.all_at_once_kw)) " kW" }
                dd.interval { "as right after a blackout" } }
        }
        p.hint { "The margin of the generators needs a file of the plant: holdfast power --plant FILE." }
        details {
            summary { "Bay by bay" }
            div.scroll { table.readings {
                thead { tr { th { "Bay" } th { "Boxes" } th { "kW" } th { "90 %" } } }
                tbody { @for b in &v.bays { tr {
                    th { (b.group) } td.n { (b.demand.boxes) }
                    td.n { (words::number(b.demand.mean_kw, 1)) }
                    td.n { (kw(b.demand.kw_p90[0])) " to " (kw(b.demand.kw_p90[1])) }
                } } }
            } }
        }
        (assumed(v.notes.iter()))
    }
}

fn order(v: &RestartView) -> Markup {
    let r = &v.restart;
    let steps: Vec<StairStep> =
        r.stair.iter().map(|p| StairStep { hour: p.hour, load_kw: p.kw, limit_kw: None }).collect();
    let drawn = stair_chart(&steps, Look::Wide).zip(stair_chart(&steps, Look::Narrow));
    let cell = |id: &str| v.cells.iter().find(|(u, _)| u == id).map_or("", |(_, c)| c.as_str());
    html! {
        div.caution { h2 { "Before anything is switched on" } ul { @for c in &r.cautions { li { (c) } } } }
        p { (r.words) }
        @if let Some((wide, narrow)) = drawn {
            figure.history { (PreEscaped(wide)) (PreEscaped(narrow)) }
        }
        div.scroll { table.readings {
            thead { tr { th { "After" } th { "Box" } th { "Cell" } th { "Safe until" } th { "Why" } } }
            tbody { @for s in r.starts.iter().take(STARTS_SHOWN) { tr {
                td.n { @match s.hour { Some(h) => (words::hours(h)), None => "not at all" } }
                th { a href={ "/box/" (percent(&s.id)) } { (s.id) } }
                td { (cell(&s.id)) }
                td.n { @if let Some(h) = s.safe_until_h {
                    @if h <= 0.0 { "now" } @else { (words::hours(h)) } } }
                td.wrap { (s.why) }
            } } }
        } }
        @if r.starts.len() > STARTS_SHOWN {
            p.hint { "and " (r.starts.len() - STARTS_SHOWN) " more; holdfast power --restart --json has all." }
        }
        (assumed(v.notes.iter().chain(&r.estimates)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn people_are_named_or_numbered() {
        let pairs = |n: &str, names: &str| {
            vec![("people".to_owned(), n.to_owned()), ("names".to_owned(), names.to_owned())]
        };
        assert_eq!(people(&[]), ["person 1", "person 2"]);
        assert_eq!(people(&pairs("3", "Ann, Ann,Bo")), ["Ann", "Bo", "person 3"]);
        assert_eq!(people(&pairs("99", "")).len(), 2);
    }
}
