//! The compressor's path against textbook cycles (reference §3.2).

use circuit::Mode;
use circuit::card::Card;
use circuit::plant::{Conditions, Plant, SCATTERS};
use circuit::solve::solve;
use fluids::{Refrigerant, Side};

/// Moran & Shapiro, example 10.3: eta 0.8, gives 48.84 °C at discharge and COP 3.867 by CoolProp
/// (textbook 3.86). The card's machine solved with that efficiency must satisfy the same relation
/// between its own states: h2 = h1 + (h2s - h1)/eta·(1 - loss), worked out here from the property
/// tables alone.
#[test]
fn compression_follows_its_efficiency() {
    let r = Refrigerant::named("R134a").unwrap();
    // The example itself, by the tables: -10 °C saturated vapour, 9 bar, liquid at 30 °C.
    let h1 = r.saturated_at_t(263.15, Side::Dew).unwrap();
    let h2s = r.state_ps(9e5, h1.s_j_kgk).unwrap().h_j_kg;
    let h2 = h1.h_j_kg + (h2s - h1.h_j_kg) / 0.8;
    let h3 = r.saturated_at_t(303.15, Side::Bubble).unwrap().h_j_kg;
    let cop = (h1.h_j_kg - h3) / (h2 - h1.h_j_kg);
    assert!((cop - 3.86).abs() < 0.02, "{cop}");
    assert!((r.state_ph(9e5, h2).unwrap().t_k - 273.15 - 48.84).abs() < 0.05);

    let mut card = Card::embedded()[0].clone();
    card.compressor.eta_is = [0.8, 0.0, 0.0];
    card.compressor.heat_loss_fraction = 0.0;
    let at = Conditions { mode: Mode::Chilled, return_c: 6.0, ambient_c: 20.0 };
    let c = solve(&Plant::sound(&card, &at, &[0.0; SCATTERS]).unwrap()).unwrap().cycle;
    let inlet = r.state_ph(c.ps_pa, c.h_j_kg[0]).unwrap();
    let ideal = r.state_ps(c.pt_pa, inlet.s_j_kgk).unwrap().h_j_kg;
    let work = c.h_j_kg[1] - c.h_j_kg[0];
    let ideal_work = ideal - c.h_j_kg[0];
    assert!((ideal_work / work - 0.8).abs() < 1e-4, "{}", ideal_work / work);
    let out = r.state_ph(c.pt_pa, c.h_j_kg[1]).unwrap();
    assert!((out.t_k - c.t_discharge_k).abs() < 0.01);
}

/// Reference §2.2 states "for plausibility" (R134a -5/50 °C: ratio 5.42; eta 0.65 gives 79.2 °C
/// from 6 K superheat; q_vol 1606 kJ/m³). The card's machine close to that condition.
#[test]
fn close_to_a_reference_state() {
    let card = &Card::embedded()[0];
    let at = Conditions { mode: Mode::Chilled, return_c: 9.5, ambient_c: 34.5 };
    let c = solve(&Plant::sound(card, &at, &[0.0; SCATTERS]).unwrap()).unwrap().cycle;
    let ratio = c.pt_pa / c.ps_pa;
    assert!((5.0..6.2).contains(&ratio), "{ratio}");
    assert!((c.t_discharge_k - 273.15 - 79.2).abs() < 6.0, "{}", c.t_discharge_k - 273.15);
    let inlet = 1.0 / 1606.0;
    let swept = card.compressor.swept_m3_s;
    // Cooling per swept volume times volumetric efficiency of some 0.9.
    let per = (c.net_w + card.evaporator.fan_high_w) / 1e3 / swept * inlet;
    assert!((0.7..1.0).contains(&per), "{per}");
}
