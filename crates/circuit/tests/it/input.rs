//! Input that cannot be: named, with what to do.

use circuit::reading::Value;
use circuit::{Input, Key, diagnose};

use crate::{cards, input};

#[test]
fn keys_and_values_are_named() {
    let mut i = Input::default();
    for (key, value, words) in [
        ("suction_kpa", Value::Number(1.0), "did you mean suction_kpag"),
        ("supply_c", Value::Text("cold".into()), "supply_c: \"cold\""),
        ("ambient_c", Value::Number(100.4), "°F"),
        ("discharge_line_c", Value::Number(240.0), "°F"),
        ("suction_kpag", Value::Number(f64::NAN), "suction_kpag"),
        ("compressor_on", Value::Number(1.0), "true or false"),
        ("mode", Value::Text("defrost".into()), "defrost"),
        ("barometer_kpa", Value::Number(1013.0), "101.3"),
        ("return_c", Value::Other, "return_c"),
    ] {
        let e = i.put(key, &value).unwrap_err();
        assert!(e.0.contains(words), "{e}");
        assert_eq!(e.0.lines().count(), 1);
    }
    i.put("supply_c", &Value::Null).unwrap();
    assert_eq!(i.get(Key::Supply), None);
}

/// A sound unit's readings at 38/8, card of R134a.
fn sound() -> Input {
    let mut i = input(
        "R134a",
        &[
            (Key::Suction, 126.7),
            (Key::Discharge, 1339.0),
            (Key::SuctionLine, 1.3),
            (Key::DischargeLine, 83.0),
            (Key::LiquidLine, 49.4),
            (Key::Supply, 1.3),
            (Key::Return, 8.0),
            (Key::Ambient, 38.0),
        ],
    );
    i.machine = Some("generic-40ft-r134a".into());
    i
}

#[test]
fn impossible_combinations_are_refused_by_name() {
    assert!(diagnose(&sound(), &cards()).is_ok());
    let swapped = |a: Key, b: Key| {
        let mut i = sound();
        let (x, y) = (i.get(a), i.get(b));
        i.set(a, y);
        i.set(b, x);
        i
    };
    let with = |k: Key, v: f64| {
        let mut i = sound();
        i.set(k, Some(v));
        i
    };
    let mut nobody = sound();
    nobody.machine = Some("nobody".into());
    let mut bare = sound();
    for k in [Key::Suction, Key::Discharge] {
        bare.set(k, None);
    }
    for (i, words) in [
        (swapped(Key::Suction, Key::Discharge), ["suction_kpag", "discharge_kpag"]),
        (swapped(Key::LiquidLine, Key::DischargeLine), ["liquid_line_c", "discharge_line_c"]),
        // 49.4 °C is 121 °F.
        (with(Key::LiquidLine, 121.0), ["liquid_line_c", "°F"]),
        (with(Key::SuctionLine, 34.2), ["suction_line_c", "°F"]),
        (with(Key::Suction, 126.7 + 400.0), ["suction_kpag", "absolute"]),
        // 13.39 bar, 194.2 psi.
        (with(Key::Discharge, 134.0), ["discharge_kpag 134", "ambient_c 38"]),
        (with(Key::Discharge, 194.2), ["discharge_kpag 194.2", "in psi? 194.2 psi are 1339 kPa"]),
        (with(Key::Liquid, 120.0), ["suction_kpag", "liquid_kpag"]),
        (with(Key::CondenserOut, 128.5), ["condenser_out_c", "128.5 °F is 53.6 °C"]),
        (with(Key::Supply, 34.3), ["supply_c 34.3", "34.3 °F is 1.3 °C"]),
        (with(Key::Liquid, 1900.0), ["liquid_kpag", "discharge_kpag"]),
        (with(Key::Discharge, 5000.0), ["discharge_kpag", "outside"]),
        (nobody, ["nobody", "generic-40ft-r404a"]),
        (bare, ["no pressure", "suction_kpag"]),
        (Input { fluid: "R999".into(), ..sound() }, ["R999", "R134a"]),
    ] {
        let e = diagnose(&i, &cards()).unwrap_err();
        for w in words {
            assert!(e.0.contains(w), "{w}: {e}");
        }
    }
}

/// Entered in another unit, possible by itself: asked about by name, not diagnosed. (A discharge
/// pressure entered as absolute looks just as other gas in the condenser does, so it is not here.)
#[test]
fn what_would_fit_in_another_unit_is_asked_about() {
    for (k, v, words) in [
        (Key::Suction, 228.0, ["suction_kpag", "absolute"]),
        // 8 °C.
        (Key::Return, 46.4, ["return_c", "°F"]),
        // 2.5 °C.
        (Key::CompressorIn, 36.5, ["compressor_in_c", "°F"]),
        // 83 °C.
        (Key::DischargeLine, 181.4, ["discharge_line_c", "°F"]),
        // 15 °C.
        (Key::Ambient, 59.0, ["ambient_c", "°F"]),
        // 126.7 kPa.
        (Key::Suction, 1.267, ["suction_kpag", "in bar"]),
    ] {
        let mut i = sound();
        // Gauges good enough to see it.
        i.gauge_class_low = Some(0.6);
        i.gauge_class_high = Some(0.6);
        i.set(k, Some(v));
        let e = diagnose(&i, &cards()).unwrap_err();
        for w in words {
            assert!(e.0.contains(w), "{w}: {e}");
        }
    }
}

/// Possible by itself and not refused, but questioned: °F in frozen mode differs from °C by less
/// than a broken sensor may be off.
#[test]
fn frozen_readings_in_fahrenheit_are_questioned() {
    let frozen = || {
        // The card's own point: frozen, 38 °C outside, return -18 °C.
        let mut i = input(
            "R134a",
            &[
                (Key::Suction, 96.9 - 101.325),
                (Key::Discharge, 1171.5 - 101.325),
                (Key::SuctionLine, -20.6),
                (Key::DischargeLine, 104.6),
                (Key::LiquidLine, 41.2),
                (Key::Supply, -22.94),
                (Key::Return, -18.0),
                (Key::Ambient, 38.0),
            ],
        );
        i.machine = Some("generic-40ft-r134a".into());
        i
    };
    let sound = diagnose(&frozen(), &cards()).unwrap();
    assert!(sound.questions.is_empty(), "{:?}", sound.questions);
    for (k, f) in [(Key::Return, -0.4), (Key::Supply, -9.3), (Key::SuctionLine, -5.1)] {
        let mut i = frozen();
        i.mode = Some(circuit::Mode::Frozen);
        i.set(k, Some(f));
        let asked = match diagnose(&i, &cards()) {
            Ok(d) => d.questions.join("; "),
            Err(e) => e.0,
        };
        assert!(asked.contains(k.id()) && asked.contains("°F"), "{k:?}: {asked}");
    }
}
