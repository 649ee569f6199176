//! Whole diagnoses.

use circuit::plant::{Conditions, SCATTERS};
use circuit::solve::solve_fault;
use circuit::{Card, Fault, Input, Key, Mode, diagnose};

use crate::{cards, input, probability};

/// Perfect readings of a card's middle unit with a fault.
pub(crate) fn readings(card: &Card, at: &Conditions, fault: Fault, s: f64) -> Input {
    let c = solve_fault(card, at, &[0.0; SCATTERS], fault, s).unwrap().faulty.cycle;
    let g = |pa: f64| pa / 1e3 - 101.325;
    // The clamps' usual contact error.
    let p = |t: f64| (t - 273.15) + 0.015 * (at.ambient_c - (t - 273.15));
    let mut i = input(
        &card.fluid,
        &[
            (Key::Suction, g(c.ps_pa)),
            (Key::Discharge, g(c.pt_pa)),
            (Key::Liquid, g(c.liquid_pa)),
            (Key::SuctionLine, p(c.t_bulb_k)),
            (Key::CompressorIn, p(c.t_suction_k)),
            (Key::DischargeLine, p(c.t_discharge_k)),
            (Key::LiquidLine, p(c.t_liquid_k)),
            (Key::CondenserOut, p(c.t_condenser_out_k)),
            (Key::Supply, c.t_supply_k - 273.15),
            (Key::Return, at.return_c),
            (Key::Ambient, at.ambient_c),
            (Key::Current, c.current_a),
        ],
    );
    i.machine = Some(card.id.clone());
    i.mode = Some(at.mode);
    i
}

#[test]
fn every_fault_is_found_from_every_reading() {
    for card in Card::embedded() {
        for (mode, return_c) in [(Mode::Chilled, 6.0), (Mode::Frozen, -18.0)] {
            let at = Conditions { mode, return_c, ambient_c: 32.0 };
            for fault in Fault::ALL {
                if matches!(fault, Fault::WrongRefrigerant | Fault::SensorOffset) {
                    continue;
                }
                let d = diagnose(&readings(card, &at, fault, 0.5), &cards()).unwrap();
                let top = &d.faults[0];
                assert_eq!(top.fault, fault, "{} {mode:?}: {:?}", card.id, d.faults);
                let sum: f64 = d.faults.iter().map(|f| f.probability).sum();
                assert!((sum - 1.0).abs() < 1e-9);
                assert!(!top.because.is_empty(), "{fault:?}");
                if fault != Fault::None {
                    let [a, b] = top.severity_p90.unwrap();
                    assert!(a < 0.5 && 0.5 < b, "{fault:?} {a} {b}");
                }
            }
        }
    }
}

/// The cards' own check points, as read: the fault first, its severity 0.4 in the interval.
#[test]
fn the_cards_own_points_are_judged_right() {
    for card in Card::embedded() {
        for p in &card.rating.faults {
            let g = |kpa: f64| kpa - 101.325;
            let mut i = input(
                &card.fluid,
                &[
                    (Key::Suction, g(p.suction_kpa)),
                    (Key::Discharge, g(p.discharge_kpa)),
                    (Key::SuctionLine, p.suction_line_c),
                    (Key::DischargeLine, p.discharge_line_c),
                    (Key::LiquidLine, p.liquid_line_c),
                    (Key::Supply, p.supply_c),
                    (Key::Return, 8.0),
                    (Key::Ambient, 38.0),
                ],
            );
            i.machine = Some(card.id.clone());
            let d = diagnose(&i, &cards()).unwrap();
            let top = &d.faults[0];
            assert_eq!(top.fault.id(), p.fault, "{}: {:?}", card.id, d.faults);
            assert!(d.pairs.is_empty() && d.questions.is_empty(), "{:?}", d.questions);
            if let Some([a, b]) = top.severity_p90 {
                assert!(a < 0.4 && 0.4 < b, "{} {} {a} {b}", card.id, p.fault);
            }
        }
    }
}

#[test]
fn an_offset_sensor_is_named() {
    let card = &Card::embedded()[0];
    let at = Conditions { mode: Mode::Chilled, return_c: 6.0, ambient_c: 32.0 };
    let mut i = readings(card, &at, Fault::None, 0.5);
    i.set(Key::LiquidLine, i.get(Key::LiquidLine).map(|t| t - 6.0));
    let d = diagnose(&i, &cards()).unwrap();
    assert_eq!(d.faults[0].fault, Fault::SensorOffset);
    assert!(d.faults[0].detail.as_ref().unwrap().contains("liquid line"), "{:?}", d.faults[0]);
}

/// With one pressure there is little to know, and the answer says so.
#[test]
fn one_pressure_is_not_a_diagnosis() {
    let mut i = input("R134a", &[(Key::Suction, 127.0)]);
    i.machine = Some("generic-40ft-r134a".into());
    let d = diagnose(&i, &cards()).unwrap();
    assert!(d.faults[0].probability < 0.5, "{:?}", d.faults[0]);
    assert!(d.next.len() > 3 && d.next[0].gain_bits > 0.05);
    let worth: Vec<f64> = d.next.iter().map(|n| n.worth_bits).collect();
    assert!(worth.windows(2).all(|w| w[0] >= w[1]));
    assert!(d.next.iter().all(|n| !n.how.is_empty() && n.worth_bits <= n.gain_bits));
}

/// Fine print 5: near set point in chilled mode low suction is no fault.
#[test]
fn a_throttle_that_control_has_closed_is_no_fault() {
    let card = &Card::embedded()[0];
    let at = Conditions { mode: Mode::Chilled, return_c: 2.5, ambient_c: 30.0 };
    let mut i = readings(card, &at, Fault::SuctionThrottleStuck, 0.6);
    let stuck = probability(&diagnose(&i, &cards()).unwrap(), Fault::SuctionThrottleStuck);
    assert!(stuck > 0.9, "{stuck}");
    i.set_point_c = Some(1.0);
    let d = diagnose(&i, &cards()).unwrap();
    assert!(d.modulated);
    assert_eq!(d.faults[0].fault, Fault::None, "{:?}", d.faults);
    assert!(d.cautions.iter().any(|c| c.contains("set point")));
    // 2 K above set point: full capacity.
    i.set_point_c = Some(0.5);
    assert!(!diagnose(&i, &cards()).unwrap().modulated);
}

/// Reference §8.4: the published restricted-line sheet, machine unknown.
#[test]
fn the_restricted_sheet_is_not_undercharge() {
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
            (Key::Return, f(30.0)),
        ],
    );
    let d = diagnose(&i, &cards()).unwrap();
    assert_eq!(d.faults[0].fault, Fault::LiquidRestriction, "{:?}", d.faults);
    let closed = probability(&d, Fault::ExpansionStuckClosed);
    let same = probability(&d, Fault::SuctionThrottleStuck) / closed;
    assert!((same - 1.0).abs() < 1e-9, "what these readings cannot tell apart shares evenly");
    assert!(probability(&d, Fault::Undercharge) < 0.05);
    assert!(!d.alike.is_empty());
    assert!(d.cautions.iter().any(|c| c.contains("no machine card")));
}

/// Earlier sound readings of the unit make a small fault stand out.
#[test]
fn a_baseline_sharpens() {
    let card = &Card::embedded()[0];
    let at = |r| Conditions { mode: Mode::Chilled, return_c: r, ambient_c: 30.0 };
    let mut i = readings(card, &at(6.0), Fault::CondenserAirflow, 0.22);
    let before = probability(&diagnose(&i, &cards()).unwrap(), Fault::CondenserAirflow);
    i.baseline = [4.0, 6.0, 8.0].map(|r| readings(card, &at(r), Fault::None, 0.5)).to_vec();
    let after = probability(&diagnose(&i, &cards()).unwrap(), Fault::CondenserAirflow);
    assert!(after > before + 0.05 || after > 0.97, "{before} {after}");
}

/// Pressure and temperature alone clear nothing.
#[test]
fn identity_is_always_a_caution() {
    let card = &Card::embedded()[0];
    let at = Conditions { mode: Mode::Frozen, return_c: -18.0, ambient_c: 30.0 };
    let d = diagnose(&readings(card, &at, Fault::None, 0.5), &cards()).unwrap();
    assert!(d.cautions.iter().any(|c| c.contains("never prove")));
    assert!(probability(&d, Fault::WrongRefrigerant) > 0.0);
}

#[test]
fn the_same_answer_every_time() {
    let card = &Card::embedded()[1];
    let at = Conditions { mode: Mode::Chilled, return_c: 6.0, ambient_c: 30.0 };
    let i = readings(card, &at, Fault::HotGasLeak, 0.3);
    assert_eq!(diagnose(&i, &cards()).unwrap(), diagnose(&i, &cards()).unwrap());
}

/// The points for the diagram are the cycle's own.
#[test]
fn picture_points() {
    let card = &Card::embedded()[0];
    let at = Conditions { mode: Mode::Chilled, return_c: 8.0, ambient_c: 38.0 };
    let i = readings(card, &at, Fault::CondenserAirflow, 0.5);
    let p = circuit::picture::cycles(&i, card, Mode::Chilled, Fault::CondenserAirflow).unwrap();
    assert_eq!((p.measured.len(), p.sound.len()), (6, 6));
    assert!(p.measured[1].p_kpa > p.sound[1].p_kpa + 200.0);
    assert!(p.sound[1].h_kj_kg > p.sound[0].h_kj_kg && p.sound[0].h_kj_kg > p.sound[4].h_kj_kg);
}
