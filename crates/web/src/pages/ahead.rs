//! What may lie ahead of one box: the fan of forecasts and when each limit is met.

use figures::{Look, words};
use maud::{Markup, PreEscaped, html};
use record::{BoxHistory, Fan, FanCourse, FanLimit, UnitId};

use super::box_href;

/// A repair is supposed to be done after so many hours where nobody says.
const REPAIR_IN_H: f64 = 6.0;
/// Longest that may be asked for, h.
const REPAIR_IN_H_MAX: f64 = 720.0;

/// Hours to the repair as asked for in the address; 6 where nothing sensible is.
#[must_use]
pub fn repair_in_h(pairs: &[(String, String)]) -> f64 {
    let asked = pairs.iter().find(|(k, _)| k == "repair_in_h");
    asked
        .and_then(|(_, v)| v.trim().parse::<f64>().ok())
        .filter(|h| (0.0..=REPAIR_IN_H_MAX).contains(h))
        .unwrap_or(REPAIR_IN_H)
}

/// The section on a box's page.
#[must_use]
pub fn on_box_page(unit: &UnitId, fan: &Fan, past: &BoxHistory) -> Markup {
    let drawn =
        figures::fan_chart(past, fan, Look::Wide).zip(figures::fan_chart(past, fan, Look::Narrow));
    html! {
        h2 #ahead { "What may lie ahead" }
        form.search method="get" action={ (box_href(unit)) "#ahead" } {
            label { "Suppose it is repaired in "
                input name="repair_in_h" size="4" inputmode="decimal" autocomplete="off"
                    value=(fan.repair_in_h); " h" }
            button type="submit" { "Work out" }
        }
        @if let Some((wide, narrow)) = drawn {
            figure.picture { (PreEscaped(wide)) (PreEscaped(narrow)) }
        }
        div.scroll { table.readings {
            thead { tr { th { "Course" } th { "Limit" } th { "Met in" } th { "90 % interval" } } }
            tbody { @for line in &fan.lines { @for l in &line.limits { tr {
                th { (course(line.course, fan.repair_in_h)) }
                td.wrap { (l.text) }
                td.n { (met(l)) }
                td.n { @if l.hours.is_some() {
                    (words::hours(l.p90_h[0])) " to " (words::hours(l.p90_h[1]))
                    @if l.p90_h[1] >= fan.horizon_h { " or later" }
                } }
            } } } }
        } }
        @if !fan.quality.is_empty() {
            dl.facts { @for q in &fan.quality {
                dt { (q.name) }
                dd { (q.text)
                    @if q.unverified { " " span.mark { "recalled or estimated" } }
                    @if !q.source.is_empty() { " " span.source { "source " (q.source) } } }
            } }
        }
        p.hint {
            "Bands hold the mean of the cargo with 90 %. Hatching and dash tell the courses apart; "
            "a ring marks where the limit is met."
            @if fan.lines.len() == 1 { " The other courses are no different here." }
            @for lack in &fan.lacks { " Less sure than it could be: " (lack) "." }
        }
    }
}

fn course(course: FanCourse, repair_in_h: f64) -> String {
    match course {
        FanCourse::Present => "present course".to_owned(),
        FanCourse::PowerOff => "power lost now".to_owned(),
        FanCourse::Repaired => format!("repaired after {}", words::hours(repair_in_h)),
    }
}

fn met(l: &FanLimit) -> String {
    match l.hours {
        Some(h) if h * 60.0 < 1.0 => "reached".to_owned(),
        Some(h) => words::hours(h),
        None if l.probability < 0.05 => "not on this voyage".to_owned(),
        None => format!("not by the best estimate; probability {}", words::percent(l.probability)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hours_to_the_repair() {
        let of = |v: &str| repair_in_h(&[("repair_in_h".to_owned(), v.to_owned())]);
        assert_eq!((of("2.5"), of("-1"), of("soon"), of("1e9")), (2.5, 6.0, 6.0, 6.0));
        assert_eq!(repair_in_h(&[]), 6.0);
    }
}
