//! Times told by people against the clock they are entered by.

use units::Utc;

/// Hours that a clock may be behind before a time told is taken for a slip of the pen.
const AHEAD_H: f64 = 1.0;

/// `at`, when it has come: what a person reports has happened by `now`, give or take an hour
/// of a clock that is behind.
///
/// # Errors
/// In words, `what` first, with both times.
pub fn has_come(what: &str, at: Utc, now: Utc) -> Result<Utc, String> {
    if at.hours_since(now) > AHEAD_H {
        let (at, now) = (at.to_minute(), now.to_minute());
        return Err(format!(
            "{what} {at} UTC lies ahead of this computer's clock ({now} UTC); check both"
        ));
    }
    Ok(at)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_hour_is_forgiven_a_day_is_not() {
        let now = Utc::parse("2026-03-16T12:00:00Z").unwrap();
        for h in [-8760.0, 0.0, 0.9] {
            assert_eq!(has_come("--at", now.plus_hours(h), now), Ok(now.plus_hours(h)));
        }
        let said = has_come("--at", now.plus_hours(24.0), now).unwrap_err();
        assert_eq!(
            said,
            "--at 2026-03-17 12:00 UTC lies ahead of this computer's clock \
             (2026-03-16 12:00 UTC); check both"
        );
    }
}
