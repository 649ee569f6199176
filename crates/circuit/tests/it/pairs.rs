//! Two faults at once.

use circuit::plant::{Conditions, Plant, SCATTERS};
use circuit::solve::{solve, towards};
use circuit::{Card, Fault, Input, Key, Mode, diagnose};

use crate::{cards, input};

fn readings(card: &Card, faults: &[(Fault, f64)]) -> Input {
    let at = Conditions { mode: Mode::Chilled, return_c: 7.0, ambient_c: 32.0 };
    let mut plant = Plant::sound(card, &at, &[0.0; SCATTERS]).unwrap();
    let sound = solve(&plant).unwrap();
    for (fault, s) in faults {
        fault.put(*s, &mut plant, card, &sound.cycle);
    }
    let c = towards(&plant, &sound).unwrap().cycle;
    let g = |pa: f64| pa / 1e3 - 101.325;
    let p = |t_k: f64| (t_k - 273.15) + 0.015 * (at.ambient_c - (t_k - 273.15));
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
    i
}

#[test]
fn two_at_once_are_told_beside_the_single_faults() {
    let card = &Card::embedded()[0];
    let both = [(Fault::CondenserAirflow, 0.5), (Fault::CompressorLeak, 0.5)];
    let d = diagnose(&readings(card, &both), &cards()).unwrap();
    assert_eq!(d.pairs[0].faults, both.map(|b| b.0), "{:?}", d.pairs);
    assert!(d.pairs[0].probability > 0.5);
    for (s, (_, truth)) in d.pairs[0].severities.iter().zip(both) {
        assert!((s - truth).abs() < 0.15, "{s}");
    }
    // The contract's list stays one of single faults, and sums to one.
    let sum: f64 = d.faults.iter().map(|f| f.probability).sum();
    assert!((sum - 1.0).abs() < 1e-9 && d.faults.len() == 14);
    assert!(d.questions.iter().any(|q| q.contains("no single fault")), "{:?}", d.questions);
}

#[test]
fn one_fault_is_not_called_two() {
    for card in Card::embedded() {
        for fault in [Fault::None, Fault::CondenserAirflow, Fault::LiquidRestriction] {
            let d = diagnose(&readings(card, &[(fault, 0.5)]), &cards()).unwrap();
            assert_eq!(d.faults[0].fault, fault);
            assert!(d.pairs.is_empty() && d.questions.is_empty(), "{:?}", d.questions);
        }
    }
}
