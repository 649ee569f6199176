//! Readings as they came in, where they contradict each other, and the files they came from.

use std::collections::BTreeMap;

use maud::{Markup, html};
use record::{Channel, Reading};
use voyage::EntryLine;

use super::box_page::BoxData;
use super::{files, time};

/// Latest readings shown.
const SHOWN: usize = 24;

/// Conflicting rows shown.
const CONFLICTS_SHOWN: usize = 20;

/// Values of one instant and source that differ.
struct Conflict<'a> {
    rows: Vec<&'a Reading>,
    channel: Channel,
}

/// Instants at which one source gave two values for one column.
fn find_conflicts(readings: &[Reading]) -> Vec<Conflict<'_>> {
    let mut out = Vec::new();
    for at_once in readings.chunk_by(|a, b| a.at == b.at) {
        if at_once.len() < 2 {
            continue;
        }
        let mut by_source: BTreeMap<&str, Vec<&Reading>> = BTreeMap::new();
        for r in at_once {
            by_source.entry(&r.source).or_default().push(r);
        }
        for rows in by_source.into_values() {
            for channel in Channel::ALL {
                let mut values = rows.iter().filter_map(|r| r.get(channel));
                let first = values.next();
                if values.any(|v| Some(v) != first) {
                    let rows = rows.clone();
                    out.push(Conflict { rows, channel });
                }
            }
        }
    }
    out
}

/// Contradictions, newest first; nothing when there are none.
pub(super) fn conflicts(data: &BoxData) -> Markup {
    let found = find_conflicts(&data.view.readings);
    html! {
        @if !found.is_empty() {
            h2 { "Two values for one reading" }
            p { "Both are kept. Look at the display, and say which file is wrong." }
            ul.conflicts {
                @for c in found.iter().rev().take(CONFLICTS_SHOWN) {
                    @if let Some(first) = c.rows.first() {
                        li {
                            (time(first.at)) " UTC, " (figures::chart::labels::channel_name(c.channel))
                            ", " (source(first)) ": "
                            @for (i, v) in c.rows.iter().filter_map(|r| r.get(c.channel)).enumerate() {
                                @if i > 0 { " and " }
                                strong { (value(c.channel, v)) }
                            }
                        }
                    }
                }
            }
            @if found.len() > CONFLICTS_SHOWN {
                p { "And " (found.len() - CONFLICTS_SHOWN) " earlier ones." }
            }
        }
    }
}

fn source(r: &Reading) -> &str {
    if r.source.is_empty() { "source not named" } else { &r.source }
}

fn value(c: Channel, v: f64) -> String {
    let places = if c == Channel::RhSet || c == Channel::Rh { 0 } else { 1 };
    // Nobody's second decimal is dropped without need.
    let tenth = (v * 10.0).round() / 10.0;
    let places = if (v - tenth).abs() > 1e-9 { 2 } else { places };
    let unit = match c.unit_suffix() {
        "pct" => "%",
        "kw" => "kW",
        _ => "°C",
    };
    format!("{} {unit}", figures::words::number(v, places))
}

/// The latest readings as a table; only columns in which anything stands.
pub(super) fn readings(data: &BoxData) -> Markup {
    let all = &data.view.readings;
    let from = all.len().saturating_sub(SHOWN);
    let shown: Vec<(usize, &Reading)> = all.iter().enumerate().skip(from).rev().collect();
    let used = |c: &Channel| shown.iter().any(|(_, r)| r.get(*c).is_some());
    let columns: Vec<Channel> = Channel::ALL.into_iter().filter(used).collect();
    html! {
        h2 { "Readings" }
        @if shown.is_empty() {
            p { "None yet. A blank is a value that was not read." }
        } @else {
            p.hint { "The latest " (shown.len()) " of " (all.len()) ", newest first. "
                "A blank was not read. Values sent in °F are shown as sent under “as sent”." }
            div.scroll tabindex="0" role="region" aria-label="Latest readings" {
                table.readings {
                    thead { tr {
                        th scope="col" { "UTC" }
                        @for c in &columns {
                            th scope="col" { (figures::chart::labels::channel_name(*c)) }
                        }
                        @for name in ["plug", "mode", "alarm", "source", "remark", "as sent", "file"] {
                            th scope="col" { (name) }
                        }
                    } }
                    tbody { @for (i, r) in shown { (row(data, &columns, i, r)) } }
                }
            }
        }
    }
}

fn row(data: &BoxData, columns: &[Channel], i: usize, r: &Reading) -> Markup {
    let power = r.on_power.map(|on| if on { "on" } else { "OFF" });
    html! {
        tr {
            th scope="row" { (time(r.at)) }
            @for c in columns {
                td.n { @if let Some(v) = r.get(*c) { (value(*c, v)) } }
            }
            td { (power.unwrap_or_default()) }
            td { (r.mode.map(|m| m.as_str()).unwrap_or_default()) }
            td { (r.alarm.as_deref().unwrap_or_default()) }
            td { (r.source) }
            td { (r.remark.as_deref().unwrap_or_default()) }
            td { @if let Some(raw) = &r.raw { code { (raw) } } }
            td { (origin(data, i, r)) }
        }
    }
}

/// Link to the very file and the line in it.
fn origin(data: &BoxData, i: usize, r: &Reading) -> Markup {
    let entry = data.entry_of.get(i);
    let entry = entry.and_then(|seq| data.entries.iter().find(|e| e.seq == *seq));
    let original = entry.and_then(|e| e.originals.get(usize::from(r.origin.file)));
    html! {
        @if let Some(o) = original {
            a href=(files::original_href(&o.sha256)) download { (o.name) } " line " (r.origin.line)
        }
    }
}

/// The files this box was read from, byte for byte.
pub(super) fn originals(data: &BoxData) -> Markup {
    let lines: &[EntryLine] = &data.entries;
    html! {
        h2 { "Where this comes from" }
        @if lines.is_empty() {
            p { "No file held speaks of this box." }
        } @else {
            p.hint { "The files as they came in, byte for byte." }
            ul.files-of-box {
                @for e in lines {
                    @for o in &e.originals {
                        li {
                            a href=(files::original_href(&o.sha256)) download {
                                (o.name) ", " (files::size(o.size))
                            }
                            " entry " (e.seq) ", " (time(e.at)) ", " (e.who)
                        }
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use record::UnitId;
    use units::Utc;

    #[test]
    fn one_source_twice_is_a_conflict_two_sources_are_not() {
        let at = Utc::parse("2026-01-05T08:00:00Z").unwrap();
        let reading = |source: &str, c: f64| {
            let mut r = Reading::new(UnitId::from_text("QQQU1000011").unwrap(), at, source.into());
            r.set(Channel::Supply, c);
            r
        };
        let rows = [reading("round", -18.0), reading("logger", -17.5)];
        assert!(find_conflicts(&rows).is_empty());
        let rows = [reading("round", -18.0), reading("logger", -17.5), reading("round", -1.8)];
        let found = find_conflicts(&rows);
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].channel, found[0].rows.len()), (Channel::Supply, 2));
    }

    #[test]
    fn second_decimals_are_kept_where_there_are_any() {
        assert_eq!(value(Channel::Supply, 1.11), "1.11 °C");
        assert_eq!(value(Channel::Supply, -18.0), "−18.0 °C");
        assert_eq!(value(Channel::Rh, 85.0), "85 %");
    }
}
