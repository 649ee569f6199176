//! Energy and mass in and out of a solved cycle, over the operating envelope.

use circuit::card::Card;
use circuit::normal::Dice;
use circuit::plant::{Conditions, SCATTERS};
use circuit::solve::solve_fault;
use circuit::{Fault, Mode};

/// First law over the whole unit: heat from the air and the suction line's surroundings, the
/// compressor's shaft and the fans, go out at condenser, subcooling pass and shell. Nothing of
/// this is a residual of the solver. With flooding the card leaves the flooded part's own heat
/// out of the condenser's balance, so that is left out here.
#[test]
fn energy_closes() {
    let mut dice = Dice::new(11);
    let (mut tried, mut closed) = (0, 0);
    for card in Card::embedded() {
        for (i, fault) in Fault::ALL.into_iter().cycle().take(140).enumerate() {
            let mode = if i % 2 == 0 { Mode::Chilled } else { Mode::Frozen };
            let at = Conditions {
                mode,
                ambient_c: 50.0 * dice.uniform(),
                return_c: if i % 2 == 0 {
                    18.0 * dice.uniform()
                } else {
                    -26.0 + 12.0 * dice.uniform()
                },
            };
            let unit = std::array::from_fn::<f64, SCATTERS, _>(|_| 2.0 * dice.uniform() - 1.0);
            let s = 0.2 + 0.5 * dice.uniform();
            tried += 1;
            let Ok(pair) = solve_fault(card, &at, &unit, fault, s) else { continue };
            closed += 1;
            let c = pair.faulty.cycle;
            let motor = card.compressor.motor_efficiency
                * (1.0 + card.scatter.efficiency_fraction * unit[11]);
            let shaft = c.power_w * motor;
            let fan = if mode == Mode::Chilled {
                card.evaporator.fan_high_w
            } else {
                card.evaporator.fan_low_w
            };
            let heat_in = c.net_w + fan + c.line_gain_w + shaft;
            let heat_out = c.rejected_w + c.shell_w;
            let miss = (heat_in - heat_out).abs() / heat_out;
            assert!(miss < 1e-4, "{} {fault:?} {at:?}: {heat_in} in, {heat_out} out", card.id);
        }
    }
    assert!(closed * 100 >= tried * 98, "{closed} of {tried} solved");
}

/// Condensing would be past the critical point.
#[test]
fn what_cannot_run_says_why() {
    let card = &Card::embedded()[1];
    let at = Conditions { mode: Mode::Chilled, return_c: 25.0, ambient_c: 69.0 };
    let e = solve_fault(card, &at, &[0.0; SCATTERS], Fault::CondenserAirflow, 0.7).unwrap_err();
    assert!(e.to_string().contains("no steady running"), "{e}");
}
