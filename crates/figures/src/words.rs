//! How figures are written for people: one way everywhere.

use units::Utc;

/// `−18.0 °C`, with a real minus sign and one decimal.
#[must_use]
pub fn temp(temp_c: f64) -> String {
    format!("{} °C", number(temp_c, 1))
}

/// A number with `places` decimals and a real minus sign; never `−0.0`.
#[must_use]
pub fn number(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|b| matches!(b, b'0' | b'.')) => rest.to_owned(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

/// `40 min`, `5.5 h`, `38 h`, `6 d 4 h`: as exact as a person can use.
#[must_use]
pub fn hours(hours: f64) -> String {
    let minutes = (hours * 60.0).round();
    if minutes < 100.0 {
        return format!("{} min", number(minutes, 0));
    }
    if hours < 10.0 {
        return format!("{hours:.1} h");
    }
    let whole = hours.round();
    if whole < 72.0 {
        return format!("{whole:.0} h");
    }
    let days = (whole / 24.0).floor();
    match whole - days * 24.0 {
        0.0 => format!("{days:.0} d"),
        rest => format!("{days:.0} d {rest:.0} h"),
    }
}

/// A probability as a person says it: never 0 % or 100 % where it is only close to it.
#[must_use]
pub fn percent(p: f64) -> String {
    let whole = (p * 100.0).round();
    if whole < 1.0 {
        return "under 1\u{a0}%".to_owned();
    }
    if whole > 99.0 {
        return "over 99\u{a0}%".to_owned();
    }
    format!("{whole:.0}\u{a0}%")
}

/// `5 Jan`.
#[must_use]
pub fn day(at: Utc) -> String {
    const MONTHS: [&str; 12] =
        ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
    let (_, month, day, ..) = at.civil();
    let name = usize::try_from(month - 1).ok().and_then(|m| MONTHS.get(m));
    format!("{day} {}", name.unwrap_or(&"?"))
}

/// `08:00`.
#[must_use]
pub fn clock(at: Utc) -> String {
    let (.., hour, minute, _) = at.civil();
    format!("{hour:02}:{minute:02}")
}

/// Last four digits of the serial and the check digit, as they are called out: `0001-1`. Numbers
/// of another form are shown by their last five characters.
#[must_use]
pub fn short_unit(unit: &record::UnitId) -> String {
    let text = unit.as_str();
    if unit.has_iso_form()
        && let (Some(serial), Some(check)) = (text.get(6..10), text.get(10..))
    {
        return format!("{serial}-{check}");
    }
    let n = text.chars().count();
    text.chars().skip(n.saturating_sub(5)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hours_read_well() {
        for (h, want) in [
            (0.0, "0 min"),
            (0.5, "30 min"),
            (5.52, "5.5 h"),
            (38.2, "38 h"),
            (72.0, "3 d"),
            (148.0, "6 d 4 h"),
        ] {
            assert_eq!(hours(h), want);
        }
    }

    #[test]
    fn numbers_have_one_zero_and_a_real_minus() {
        assert_eq!(number(-0.04, 1), "0.0");
        assert_eq!(temp(-18.0), "−18.0 °C");
    }

    /// QQQU 100001-1 and the form of ISO 6346: serial 100001, check digit 1.
    #[test]
    fn short_numbers() {
        let short = |t| short_unit(&record::UnitId::from_text(t).unwrap());
        assert_eq!(short("QQQU1000011"), "0001-1");
        assert_eq!(short("ODD"), "ODD");
        assert_eq!(short("LONGNAMED"), "NAMED");
    }

    #[test]
    fn times() {
        let at = Utc::parse("2026-01-05T08:07:00Z").unwrap();
        assert_eq!((day(at).as_str(), clock(at).as_str()), ("5 Jan", "08:07"));
    }
}
