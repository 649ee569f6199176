//! Whatever comes in, nothing panics and nothing is lost.

use intake::{read_lists, read_readings};
use proptest::prelude::*;
use record::{Channel, Reading};

const LIST: &str = include_str!("../lists/bayplan-d95b.edi");

proptest! {
    #[test]
    fn any_bytes(bytes in proptest::collection::vec(any::<u8>(), 0..300)) {
        let _ = read_lists(&[("x", &bytes)]);
        let _ = read_readings("x", 0, &bytes);
    }

    #[test]
    fn any_table(text in "(time_utc|unit|supply_c|[,;\t\"\n\r0-9.QU -]){0,60}") {
        if let Ok(r) = read_readings("x", 0, text.as_bytes()) {
            prop_assert_eq!(r.rows, (r.readings.len() + r.refused.len()) as u64);
        }
    }

    /// A list damaged in any one place still gives its other units.
    #[test]
    fn one_damaged_byte(at in 60usize..1400, byte in any::<u8>()) {
        let mut bytes = LIST.as_bytes().to_vec();
        if let Some(b) = bytes.get_mut(at) {
            *b = byte;
        }
        if let Ok(r) = read_lists(&[("x", &bytes)]) {
            prop_assert!(r.units.len() >= 4, "{} units left", r.units.len());
        }
    }

    /// Rows in any order give the same readings.
    #[test]
    fn rows_in_any_order(mut hours in proptest::collection::vec(0u32..24, 1..20)) {
        let row = |h: &u32| format!("2026-03-05 {h:02}:00,QQQU1000011,{h}.5\n");
        let table = |hs: &[u32]| {
            let rows: String = hs.iter().map(row).collect();
            format!("time_utc,unit,supply_c\n{rows}")
        };
        let values = |text: &str| {
            let r = read_readings("x", 0, text.as_bytes()).unwrap();
            let supply = |x: &Reading| x.get(Channel::Supply).map(f64::to_bits);
            let mut v: Vec<_> = r.readings.iter().map(|x| (x.at, supply(x))).collect();
            v.sort();
            v
        };
        let before = values(&table(&hours));
        hours.reverse();
        prop_assert_eq!(values(&table(&hours)), before);
    }
}
