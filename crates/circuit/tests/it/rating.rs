//! The cards' [rating] tables: "two people who implement it get the same readings" within 0.2 K
//! and 0.5 % on pressure. Held here to the tables' rounding and a little.

use circuit::card::Card;
use circuit::plant::{Conditions, Plant, SCATTERS};
use circuit::solve::{solve, solve_fault};
use circuit::{Fault, Mode};
use fluids::{Refrigerant, Side};

#[track_caller]
fn near(what: &str, got: f64, want: f64, within: f64) {
    assert!((got - want).abs() <= within, "{what}: {got} against {want}");
}

#[test]
fn sound_units_as_the_cards_say() {
    for card in Card::embedded() {
        assert_eq!(card.rating.points.len(), 9);
        let fluid = Refrigerant::named(&card.fluid).unwrap();
        for p in &card.rating.points {
            let at = Conditions { mode: p.mode, return_c: p.return_c, ambient_c: p.ambient_c };
            let c = solve(&Plant::sound(card, &at, &[0.0; SCATTERS]).unwrap()).unwrap().cycle;
            let kelvin = |t: f64| t - 273.15;
            let dew = fluid.t_sat_k(c.ps_pa, Side::Dew).unwrap();
            let bubble = |pa: f64| fluid.t_sat_k(pa, Side::Bubble).unwrap();
            let name = format!("{} {:?} {}/{}", card.id, p.mode, p.ambient_c, p.return_c);
            let k = |what: &str, got, want| near(&format!("{name} {what}"), got, want, 0.08);
            near(&name, c.ps_pa / p.suction_kpa / 1e3, 1.0, 0.001);
            near(&name, c.pt_pa / p.discharge_kpa / 1e3, 1.0, 0.0005);
            k("superheat", c.t_bulb_k - dew, p.superheat_k);
            k("compressor superheat", c.t_suction_k - dew, p.compressor_superheat_k);
            k("subcooling", bubble(c.liquid_pa) - c.t_liquid_k, p.subcooling_k);
            k("split", kelvin(bubble(c.pt_pa)) - p.ambient_c, p.condenser_split_k);
            k("discharge", kelvin(c.t_discharge_k), p.discharge_line_c);
            k("supply", kelvin(c.t_supply_k), p.supply_c);
            k("liquid", kelvin(c.t_liquid_k), p.liquid_line_c);
            near(&name, c.net_w / 1e3, p.net_kw, 0.008);
            near(&name, c.power_w / 1e3, p.power_kw, 0.008);
            near(&name, c.current_a, p.current_a, 0.008);
            near(&name, c.opening, p.opening, 0.001);
            near(&name, c.flow_kg_s, p.flow_kg_s, 0.0001);
            near(&name, c.fill, p.receiver_level, 0.003);
        }
    }
}

#[test]
fn faulty_units_as_the_cards_say() {
    let at = Conditions { mode: Mode::Chilled, return_c: 8.0, ambient_c: 38.0 };
    for card in Card::embedded() {
        assert_eq!(card.rating.faults.len(), 12);
        for p in &card.rating.faults {
            let fault = Fault::from_id(&p.fault).unwrap();
            let c = solve_fault(card, &at, &[0.0; SCATTERS], fault, 0.4).unwrap().faulty.cycle;
            let name = format!("{} {}", card.id, p.fault);
            let k = |got: f64, want| near(&name, got - 273.15, want, 0.12);
            near(&name, c.ps_pa / p.suction_kpa / 1e3, 1.0, 0.001);
            near(&name, c.pt_pa / p.discharge_kpa / 1e3, 1.0, 0.001);
            near(&name, c.liquid_pa / p.liquid_kpa / 1e3, 1.0, 0.001);
            k(c.t_bulb_k, p.suction_line_c);
            k(c.t_suction_k, p.compressor_in_c);
            k(c.t_discharge_k, p.discharge_line_c);
            k(c.t_liquid_k, p.liquid_line_c);
            k(c.t_condenser_out_k, p.condenser_out_c);
            k(c.t_supply_k, p.supply_c);
            near(&name, c.current_a / p.current_a, 1.0, 0.002);
            near(&name, c.fill, p.fill, 0.015);
        }
    }
}
