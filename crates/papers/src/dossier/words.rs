//! How a dossier writes times, figures and blanks.

use figures::words::number;
use units::Utc;

/// `2026-03-09 05:04`, for a column headed UTC; never broken over two lines.
pub(super) fn minute(at: Utc) -> String {
    at.to_minute().replace(' ', "\u{a0}")
}

/// `2026-03-09 05:04 UTC`.
pub(super) fn utc(at: Utc) -> String {
    format!("{}\u{a0}UTC", minute(at))
}

/// An instant, blank where there is none.
pub(super) fn maybe(at: Option<Utc>) -> String {
    at.map(minute).unwrap_or_default()
}

/// A measured value with one decimal, two where it has them; blank where not measured.
pub(super) fn value(v: Option<f64>) -> String {
    v.map(plain).unwrap_or_default()
}

/// A value with one decimal, two where it has them.
pub(super) fn plain(v: f64) -> String {
    let tenths = (v * 10.0).round() / 10.0;
    number(v, if (v - tenths).abs() < 1e-6 { 1 } else { 2 })
}

/// A value for CSV: shortest text that gives the same number.
pub(super) fn raw(v: Option<f64>) -> String {
    v.map(|v| format!("{v}")).unwrap_or_default()
}

/// A temperature with its unit; blank where not known.
pub(super) fn celsius(v: Option<f64>) -> String {
    v.map(|v| format!("{}\u{a0}°C", plain(v))).unwrap_or_default()
}

pub(super) use crate::sheet::minus;

/// Text or nothing.
pub(super) fn text(t: Option<&str>) -> String {
    t.unwrap_or("").to_owned()
}

/// `3 readings`, `1 reading`.
pub(super) fn count(n: usize, one: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{n} {one}s") }
}

/// Bytes as a person reads them.
pub(super) fn size(bytes: u64) -> String {
    match bytes {
        b if b < 10_000 => format!("{b} B"),
        b if b < 10_000_000 => format!("{} kB", b / 1000),
        b => format!("{} MB", b / 1_000_000),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_and_blanks() {
        assert_eq!(
            minus("from -18.0 °C on 2026-03-09 (-0.5)"),
            "from −18.0\u{a0}°C on 2026-03-09 (−0.5)"
        );
        assert_eq!(minus("2026-03-09 05:04 UTC"), "2026-03-09\u{a0}05:04\u{a0}UTC");
        assert_eq!(
            (value(None), value(Some(-0.55)), value(Some(4.0))),
            (String::new(), "−0.55".into(), "4.0".into())
        );
        assert_eq!(raw(Some(-18.0)), "-18");
        assert_eq!((count(1, "alarm"), count(0, "alarm")), ("1 alarm".into(), "0 alarms".into()));
    }
}
