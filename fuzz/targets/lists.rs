//! Loading lists, EDIFACT and CSV: no bytes may make the reader panic, and a list in which
//! something was read names only what stands in it.
#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    if let Ok(report) = intake::read_lists(&[("fuzz", bytes)]) {
        for unit in report.units {
            assert!(unit.set_point_c.is_none_or(f64::is_finite));
            assert!(unit.set_point_c.is_none() || unit.set_point_as_sent.is_some());
        }
    }
});
