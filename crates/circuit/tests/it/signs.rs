//! Directions of the faults: reference/refrigeration-service.md §2.3 (Rossi & Braun's rules as
//! restated by Li & Braun, fixed orifice, no receiver) and §2.4 (valve with receiver).

use circuit::card::Card;
use circuit::cycle::Cycle;
use circuit::plant::{Conditions, SCATTERS};
use circuit::solve::solve_fault;
use circuit::{Fault, Mode};
use fluids::{Refrigerant, Side};

/// Evaporating, superheat, condensing, subcooling at the condenser, discharge, condenser air
/// rise, evaporator air fall; differences to the sound unit.
fn shift(card: &Card, fault: Fault, s: f64) -> [f64; 7] {
    let at = Conditions { mode: Mode::Chilled, return_c: 6.0, ambient_c: 35.0 };
    let pair = solve_fault(card, &at, &[0.0; SCATTERS], fault, s).unwrap();
    let fluid = Refrigerant::named(&card.fluid).unwrap();
    let f = |c: &Cycle| {
        let te = fluid.t_sat_k(c.pe_pa, Side::Dew).unwrap();
        let tc = fluid.t_sat_k(c.pt_pa, Side::Bubble).unwrap();
        [
            te,
            c.superheat_k,
            tc,
            tc - c.t_liquid_k,
            c.t_discharge_k,
            c.rejected_w / 1e3,
            -c.t_supply_k,
        ]
    };
    let (a, b) = (f(&pair.faulty.cycle), f(&pair.sound.cycle));
    std::array::from_fn(|i| a[i] - b[i])
}

/// `?`: not asserted, with the reason beside the row.
fn check(fault: Fault, s: f64, signs: &str) {
    for card in Card::embedded() {
        let d = shift(card, fault, s);
        for (i, c) in signs.chars().enumerate() {
            let ok = match c {
                '+' => d[i] > 0.02,
                '-' => d[i] < -0.02,
                '0' => d[i].abs() < 1.0,
                _ => true,
            };
            assert!(ok, "{} {fault:?} {i}: {} is not {c} ({d:?})", card.id, d[i]);
        }
    }
}

#[test]
fn published_directions() {
    // Undercharge: the rules' T_evap - and T_hg + belong to a starved orifice; a valve that still
    // opens further holds the coil (§2.4 disagreement 4), and gas from a warm coil at a lower
    // ratio leaves cooler. Superheat +, condensing -, capacity - stand.
    check(Fault::Undercharge, 0.5, "?+-??--");
    // Compressor leak: discharge is left open (§2.4 disagreement 2: recompressed gas warms it).
    check(Fault::CompressorLeak, 0.4, "+?-????");
    let leak = shift(&Card::embedded()[0], Fault::CompressorLeak, 0.4);
    assert!(leak[6] < 0.0, "less cooling");
    // Restriction: capacity and condensing are held by the valve until it is fully open, and the
    // liquid backed up in the condenser raises condensing: no sign there for a small one.
    check(Fault::LiquidRestriction, 0.6, "-+?++??");
    // Condenser fouling: with a receiver the subcooling stays (§2.4); the rule's - is for none.
    check(Fault::CondenserAirflow, 0.5, "+?+0+?-");
    // Evaporator fouling: superheat is held by the valve (§2.4 disagreement 5).
    check(Fault::EvaporatorAirflow, 0.5, "-0-??-+");
}

#[test]
fn directions_with_valve_and_receiver() {
    check(Fault::Overcharge, 0.4, "0?+++??");
    check(Fault::NonCondensables, 0.5, "??+?+?-");
    check(Fault::ExpansionStuckClosed, 0.5, "-+-0+--");
    check(Fault::ExpansionStuckOpen, 0.5, "+-??-??");
    // Hot gas: §2.4 has superheat rising a little (unverified); the valve holds it here.
    check(Fault::HotGasLeak, 0.5, "+?-???-");
}

/// §2.4: while the receiver holds liquid, undercharge shows nowhere but in its level.
#[test]
fn the_receiver_hides_a_small_loss() {
    for card in Card::embedded() {
        let d = shift(card, Fault::Undercharge, 0.04);
        for v in [d[0], d[1], d[2], d[3], d[4], d[6]] {
            assert!(v.abs() < 0.1, "{} {d:?}", card.id);
        }
    }
}

/// §2.5 magnitudes, neighbours only (other machines): 70 % of the charge, capacity -17 % on a
/// split unit (bench tests) and -20 % by the correlation of NIST TN 1848 (table, F = -0.3);
/// condenser airflow, 40 % blocked, +16 % energy on a display cabinet. The receiver hides some
/// 7 % of charge first, and steady power is not daily energy: a factor of two is allowed.
#[test]
fn magnitudes_are_of_the_published_order() {
    let at = Conditions { mode: Mode::Chilled, return_c: 8.0, ambient_c: 35.0 };
    for card in Card::embedded() {
        let pair = |f, s| solve_fault(card, &at, &[0.0; SCATTERS], f, s).unwrap();
        let p = pair(Fault::Undercharge, 0.3);
        let loss = 1.0 - p.faulty.cycle.net_w / p.sound.cycle.net_w;
        assert!((0.02..0.40).contains(&loss), "{} {loss}", card.id);
        let p = pair(Fault::CondenserAirflow, 0.4);
        let per = |c: Cycle| c.power_w / c.net_w;
        let more = per(p.faulty.cycle) / per(p.sound.cycle) - 1.0;
        assert!((0.08..0.32).contains(&more), "{} {more}", card.id);
    }
}
