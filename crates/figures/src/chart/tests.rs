//! Charts: what is drawn, and what must not be.

use super::*;
use record::UnitId;

fn at(h: f64) -> Utc {
    Utc::parse("2026-01-05T00:00:00Z").unwrap().plus_hours(h)
}

fn span(a: f64, b: f64) -> Span {
    Span { from: at(a), to: at(b) }
}

fn history() -> BoxHistory {
    let hourly = |from: i32, to: i32, c: f64| -> Vec<(Utc, f64)> {
        (from..to).map(|h| (at(f64::from(h)), c)).collect()
    };
    BoxHistory {
        unit: UnitId::from_text("QQQU1000011").unwrap(),
        span: span(0.0, 48.0),
        traces: vec![
            Trace {
                channel: Channel::Supply,
                pieces: vec![hourly(0, 10, 13.2), hourly(20, 40, 13.4), vec![(at(45.0), 15.0)]],
            },
            Trace { channel: Channel::Power, pieces: vec![hourly(0, 40, 4.2)] },
            Trace { channel: Channel::Ambient, pieces: vec![hourly(0, 40, 31.0)] },
        ],
        ordered_c: Some(13.3),
        limits_c: vec![(11.5, "chilling below 11.5 °C".into()), (-0.8, "freezing <−0.8 °C".into())],
        defrosts: vec![span(5.0, 6.5)],
        power_off: vec![span(30.0, 34.0)],
        gaps: vec![span(9.0, 20.0)],
        alarms: vec![(at(31.0), "AL \"17\" <x>".into())],
    }
}

#[test]
fn a_gap_ends_the_line() {
    let svg = history_chart(&history(), Look::Wide).unwrap();
    let start = svg.find("class=\"line supply\"").unwrap();
    let open = svg[..start].rfind("<path").unwrap();
    let path = &svg[open..start];
    // Two pieces of more than one reading: two moves; the lone reading is a sign, not a line.
    assert_eq!(path.matches('M').count(), 2, "{path}");
}

#[test]
fn what_came_in_as_text_cannot_become_markup() {
    let svg = history_chart(&history(), Look::Narrow).unwrap();
    assert!(svg.contains("AL &quot;17&quot; &lt;x&gt;"));
    assert!(!svg.contains("<x>"));
}

#[test]
fn a_far_limit_is_named_at_the_edge_and_not_drawn() {
    let svg = history_chart(&history(), Look::Wide).unwrap();
    assert!(svg.contains("↓ freezing"));
    assert_eq!(svg.matches("class=\"level limit\"").count(), 1);
}

#[test]
fn nothing_read_is_no_picture() {
    let empty = BoxHistory { traces: vec![], power_off: vec![], alarms: vec![], ..history() };
    assert_eq!(history_chart(&empty, Look::Wide), None);
}

#[test]
fn no_style_attributes_and_no_scripts() {
    let svg = history_chart(&history(), Look::Wide).unwrap();
    assert!(!svg.contains("style=") && !svg.contains("<script") && !svg.contains("href"));
}
