//! Readings: accepted + refused = offered; what is accepted survives being stored.
#![no_main]

use libfuzzer_sys::fuzz_target;
use record::Reading;

fuzz_target!(|bytes: &[u8]| {
    if let Ok(file) = intake::read_readings("fuzz", 0, bytes) {
        assert_eq!(file.rows, (file.readings.len() + file.refused.len()) as u64);
        for r in file.readings {
            let mut stored = Vec::new();
            r.write_canonical(&mut stored);
            assert_eq!(Reading::from_canonical(r.unit.clone(), r.at, &stored).as_ref(), Ok(&r));
        }
    }
});
