//! Hours to a limit against the reference's own figures.

use crate::bench::{hourly, line_of, listed, readings};

/// reference/cargo-and-box.md §3.3: 25 t beef in a 40 ft high-cube at -18 °C and 30 °C ambient
/// reaches -15 °C in 34.5 h with melting ice, at UA 42 and the cargo one lump in still air. Ours
/// is 39.65, hence 36.5; and air that stands some kelvin over the cargo lets in a tenth less
/// heat. The interval must hold the lump's figure. (The constant specific heat of the first
/// model gave 18.1 h: "safe as an alarm, wrong as a forecast" by the same reference, §2.4.)
#[test]
fn frozen_without_power_by_the_reference() {
    let mut list = listed("FROZEN BEEF", Some(-18.0));
    list.weight_kg = Some(29_600.0);
    let table = "0 -18 -18 -18 on amb=30 p1=-18\n0.1 - - - dead p1=-18";
    let line = line_of(Some(list), readings(table), 0.1);
    let hours = line.hours_to_limit.unwrap();
    let lump = 34.5 * 42.0 / 39.65;
    assert!(hours > lump && hours < 1.3 * lump, "{hours}");
    let [low, high] = line.hours_to_limit_p90.unwrap();
    assert!(low < lump && high > lump, "{low} {high}");
}

/// Same place: 20 t bananas at 13.5 °C, UA 42, 60 W/t: 15.9 °C after 24 h. The interval of the
/// time to the limit of 16 °C must hold about 24 h.
#[test]
fn bananas_without_power_by_the_reference() {
    let table = "0 13.5 13.5 13.5 on amb=30 p1=13.5\n0.1 - - - dead p1=13.5";
    let line = line_of(Some(listed("BANANAS", Some(13.5))), readings(table), 0.1);
    let [low, high] = line.hours_to_limit_p90.unwrap();
    assert!(low < 24.0 && high > 24.0, "{low} {high}");
    assert!(line.limit.unwrap().starts_with("16.0 °C cargo (2 K over 14 °C carriage"));
}

/// Heat of leakage is spread over the mass: not knowing it makes the time less sure.
#[test]
fn the_same_without_weight_is_wider() {
    let table = "0 4 4 4 on amb=30 p1=4\n0.1 - - - dead p1=4";
    let span = |weight| {
        let mut list = listed("CHEESE", Some(4.0));
        list.weight_kg = weight;
        let [low, high] = line_of(Some(list), readings(table), 0.1).hours_to_limit_p90.unwrap();
        high / low
    };
    let (unknown, known) = (span(None), span(Some(24_600.0)));
    assert!(unknown > 1.1 * known, "{unknown} {known}");
}

/// Beyond the voyage no limit is in sight, and an interval never passes the horizon.
#[test]
fn the_horizon_caps() {
    let table = "0 13.5 13.5 13.5 on amb=15 p1=13.5\n0.1 - - - dead amb=15 p1=13.5";
    let mut list = listed("CHEESE", Some(13.5));
    list.range_c = Some([10.0, 16.5]);
    let line = line_of(Some(list), readings(table), 0.1);
    assert_eq!(line.hours_to_limit, None, "{line:#?}");
    let rows = hourly(0, 72, |h| (-22.0 + 0.02 * h, -19.5 + 0.025 * h), -20.0);
    let line = line_of(Some(listed("FROZEN BEEF", Some(-20.0))), rows, 72.0);
    if let Some([_, high]) = line.hours_to_limit_p90 {
        assert!(high <= 400.0);
    }
}

/// The list's own range outranks the table.
#[test]
fn shippers_range_first() {
    let table = "0 13.5 13.5 13.5 on amb=30 p1=13.5\n0.1 - - - dead p1=13.5";
    let mut list = listed("BANANAS", Some(13.5));
    list.range_c = Some([13.0, 14.5]);
    let line = line_of(Some(list), readings(table), 0.1);
    assert!(line.limit.unwrap().contains("loading list"));
}

/// Fans without compressor: leakage, respiration and fans warm the cargo; 20 t oranges of
/// 3.81 kJ/kg·K, 39.65 W/K at 26 K, some 20 W/t and 0.8 kW are about 0.11 K/h.
#[test]
fn a_unit_that_does_not_cool() {
    let rows = hourly(
        0,
        30,
        |h| if h > 24.0 { (6.4 + 0.11 * (h - 24.0), 5.9 + 0.11 * (h - 24.0)) } else { (4.0, 4.7) },
        4.0,
    );
    let line = line_of(Some(listed("ORANGES", Some(4.0))), rows, 30.0);
    assert!(line.findings[0].what.contains("nothing cools"), "{line:#?}");
    let hours = line.hours_to_limit.unwrap();
    let [low, high] = line.hours_to_limit_p90.unwrap();
    let cargo = line.cargo_c.unwrap();
    let by_hand = (10.0 - cargo) / 0.11;
    assert!(low < by_hand && by_hand < high, "{hours} {low} {high} {by_hand}");
}
