//! The figures behind a chart, as compact JSON for the read-out.

use std::fmt::Write;

use record::{BoxHistory, Channel};

/// `{"from_ms":…,"to_ms":…,"series":[{"name","unit","minutes":[…],"values":[…]}]}`; minutes count
/// from `from_ms`, one for each value.
pub fn json(h: &BoxHistory) -> String {
    let mut out =
        format!("{{\"from_ms\":{},\"to_ms\":{},\"series\":[", h.span.from.ms(), h.span.to.ms());
    for (i, trace) in h.traces.iter().enumerate() {
        if i > 0 {
            out.push(',');
        }
        let name = figures::chart::labels::channel_name(trace.channel);
        let unit = unit(trace.channel);
        let _ = write!(out, "{{\"name\":\"{name}\",\"unit\":\"{unit}\",\"minutes\":[");
        let points = || trace.pieces.iter().flatten();
        list(&mut out, points().map(|(at, _)| at.hours_since(h.span.from) * 60.0));
        out.push_str("],\"values\":[");
        list(&mut out, points().map(|(_, v)| *v));
        out.push_str("]}");
    }
    out.push_str("]}");
    out
}

fn unit(c: Channel) -> &'static str {
    match c.unit_suffix() {
        "pct" => "%",
        "kw" => "kW",
        _ => "°C",
    }
}

/// Numbers with at most three decimals, comma between.
fn list(out: &mut String, values: impl Iterator<Item = f64>) {
    for (i, v) in values.enumerate() {
        if i > 0 {
            out.push(',');
        }
        let rounded = (v * 1000.0).round() / 1000.0;
        let _ = write!(out, "{}", if rounded == 0.0 { 0.0 } else { rounded });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use record::{Span, Trace, UnitId};
    use units::Utc;

    #[test]
    fn compact_and_complete() {
        let from = Utc::from_ms(1_767_600_000_000);
        let h = BoxHistory {
            unit: UnitId::from_text("QQQU1000011").unwrap(),
            span: Span { from, to: from.plus_hours(2.0) },
            traces: vec![Trace {
                channel: Channel::Supply,
                pieces: vec![vec![(from, -18.0)], vec![(from.plus_hours(1.5), -17.95)]],
            }],
            ordered_c: None,
            limits_c: vec![],
            defrosts: vec![],
            power_off: vec![],
            gaps: vec![],
            alarms: vec![],
        };
        assert_eq!(
            json(&h),
            "{\"from_ms\":1767600000000,\"to_ms\":1767607200000,\"series\":[{\"name\":\
             \"supply air\",\"unit\":\"°C\",\"minutes\":[0,90],\"values\":[-18,-17.95]}]}"
        );
    }
}
