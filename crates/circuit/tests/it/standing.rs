//! A standing circuit (contract §4, fine print 7; reference §8.12).

use circuit::{Fault, Input, Key, diagnose};

use crate::{cards, input};

fn top(p_kpa: f64, gauge: Key) -> (Fault, Vec<String>) {
    let mut i = input("R134a", &[(gauge, p_kpa - 101.325), (Key::Ambient, 25.0)]);
    i.compressor_on = false;
    let d = diagnose(&i, &cards()).unwrap();
    let sum: f64 = d.faults.iter().map(|f| f.probability).sum();
    assert!((sum - 1.0).abs() < 1e-9 && d.faults.len() == 14);
    (d.faults[0].fault, d.cautions)
}

#[test]
fn three_cylinders() {
    for (p, want) in [
        (577.0, Fault::WrongRefrigerant),
        (715.0, Fault::NonCondensables),
        (665.0, Fault::None),
        (690.0, Fault::None),
        (640.0, Fault::None),
        (1400.0, Fault::NonCondensables),
        (150.0, Fault::WrongRefrigerant),
    ] {
        let (fault, cautions) = top(p, Key::Discharge);
        assert_eq!(fault, want, "{p}");
        assert!(cautions.iter().any(|c| c.contains("prove")), "{cautions:?}");
    }
    let (_, cautions) = top(577.0, Key::Discharge);
    assert!(cautions[0].starts_with("stop"), "{cautions:?}");
}

/// The liquid line's temperature goes before ambient's; without either there is no answer.
#[test]
fn needs_a_temperature() {
    let mut i = input("R134a", &[(Key::Suction, 665.4 - 101.325), (Key::Ambient, 5.0)]);
    i.compressor_on = false;
    i.set(Key::LiquidLine, Some(25.0));
    assert_eq!(diagnose(&i, &cards()).unwrap().faults[0].fault, Fault::None);
    let bare = Input { readings: [None; 12], ..i.clone() };
    assert!(diagnose(&bare, &cards()).is_err());
    let mut cold = i;
    cold.set(Key::LiquidLine, None);
    cold.set(Key::Ambient, None);
    assert!(diagnose(&cold, &cards()).unwrap_err().0.contains("liquid_line_c or ambient_c"));
}
