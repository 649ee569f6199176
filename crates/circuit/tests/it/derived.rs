//! Derived values: reference §8 vectors and the published sheet of §2.1.

use circuit::derived::{derive, noise};
use circuit::{Card, Derived, Input, Key};
use fluids::Refrigerant;

use crate::input;

fn derived(i: &Input) -> Derived {
    let n = noise(i, &Card::embedded()[0].instruments, 0.0);
    derive(Refrigerant::named(&i.fluid).unwrap(), i, &n)
}

#[track_caller]
fn is(i: &Input, key: &str, want: f64, within: f64) {
    let e = derived(i).get(key).unwrap();
    assert!((e.value - want).abs() <= within, "{key} {} against {want}", e.value);
    assert!(e.p90[0] < e.value && e.value < e.p90[1], "{key} {:?}", e.p90);
}

/// §8.2: R452A, dew for superheat (6.0 K), bubble for subcooling (4.0 K; the dew line: 7.6).
#[test]
fn blends_take_the_right_line() {
    let i = input(
        "R452A",
        &[
            (Key::Suction, 272.85 - 101.325),
            (Key::SuctionLine, -14.0),
            (Key::Discharge, 1901.9 - 101.325),
            (Key::LiquidLine, 36.0),
        ],
    );
    is(&i, "superheat_k", 6.0, 0.05);
    is(&i, "subcooling_k", 4.0, 0.05);
    is(&i, "pressure_ratio", 1901.9 / 272.85, 0.007);
    // The liquid gauge, where there is one, goes before the discharge gauge.
    let mut j = i.clone();
    j.set(Key::Liquid, Some(1816.0 - 101.325));
    assert!(derived(&j).get("subcooling_k").unwrap().value < 2.5);
}

/// §8.1 and the check sheet of §2.1 (°F and psig as published; 0.5 °F).
#[test]
fn the_published_sheet() {
    let f = |t: f64| (t - 32.0) / 1.8;
    let psig = |p: f64| p * 6.894_757;
    let i = input(
        "R134a",
        &[
            (Key::Suction, psig(1.8)),
            (Key::Discharge, psig(95.0)),
            (Key::DischargeLine, f(125.0)),
            (Key::CondenserOut, f(70.0)),
            (Key::SuctionLine, f(30.0)),
            (Key::CompressorIn, f(60.0)),
            (Key::Ambient, f(70.0)),
        ],
    );
    let half_f = 0.5 / 1.8;
    is(&i, "evaporating_dew_c", f(-10.3), half_f);
    is(&i, "condensing_bubble_c", f(84.9), half_f);
    is(&i, "condenser_split_k", 15.0 / 1.8, half_f);
    is(&i, "superheat_k", 40.0 / 1.8, half_f);
    is(&i, "compressor_superheat_k", 70.0 / 1.8, half_f);
    // Without liquid_line from the condenser's outlet.
    is(&i, "subcooling_k", 15.0 / 1.8, half_f);
}

/// §7: class 1.0 on 11 bar, thermometer 0.5 K: 0.78 K standard uncertainty at 0 °C, 1.22 at -20,
/// 1.66 at -30. The interval is compared without the clamp's error (no ambient given).
#[test]
fn intervals_widen_as_suction_falls() {
    for (p, u) in [(292.8, 0.78), (132.73, 1.22), (84.38, 1.66)] {
        let i = input("R134a", &[(Key::Suction, p - 101.325), (Key::SuctionLine, 0.0)]);
        let e = derived(&i).get("superheat_k").unwrap();
        let width = (e.p90[1] - e.p90[0]) / 2.0 / 1.645;
        // A uniform error has shorter tails than a normal one of the same spread.
        assert!((0.85..1.12).contains(&(width / u)), "{p}: {width} against {u}");
    }
}

#[test]
fn what_lacks_an_input_is_none() {
    let d = derived(&input("R134a", &[(Key::Suction, 100.0)]));
    assert!(d.get("evaporating_dew_c").is_some());
    for k in ["condensing_bubble_c", "superheat_k", "subcooling_k", "pressure_ratio"] {
        assert!(d.get(k).is_none(), "{k}");
    }
}
