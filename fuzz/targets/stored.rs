//! Stored bytes, times and container numbers: damaged ones are refused, never a panic.
#![no_main]

use libfuzzer_sys::fuzz_target;
use record::{Cell, Reading, UnitId};
use units::Utc;

fuzz_target!(|bytes: &[u8]| {
    if let Some(unit) = UnitId::from_text("QQQU1000011") {
        let _ = Reading::from_canonical(unit, Utc::from_ms(0), bytes);
    }
    if let Ok(text) = std::str::from_utf8(bytes) {
        let _ = Utc::from_edifact_digits(text);
        let _ = Cell::parse(text);
        if let Some(unit) = UnitId::from_text(text) {
            let _ = (unit.check_digit_ok(), unit.expected_check_digit());
        }
        if let Ok(at) = Utc::parse(text) {
            assert_eq!(Utc::parse(&at.to_string()), Ok(at));
        }
    }
});
