//! Beside the card's own check values.
use circuit::card::Card;
use circuit::fault::Fault;
use circuit::plant::*;
use circuit::reading::Mode;
use circuit::solve::*;
fn main() {
    for text in ["generic-40ft-r134a", "generic-40ft-r404a"] {
        let card = Card::named(text).unwrap();
        for p in &card.rating.points {
            let at = Conditions { mode: p.mode, return_c: p.return_c, ambient_c: p.ambient_c };
            let plant = Plant::sound(card, &at, &[0.0; SCATTERS]).unwrap();
            match solve(&plant) {
                Ok(s) => {
                    let c = s.cycle;
                    println!(
                        "{:?} {:.0}/{:.0}: ps {:+.2}% pt {:+.2}% sh {:+.3} Tcin {:+.3} Td {:+.2} Tsup {:+.3} Tliq {:+.3} op {:+.4} m {:+.3}% z {:+.4} A {:+.3}% net {:+.3}",
                        p.mode,
                        p.ambient_c,
                        p.return_c,
                        (c.ps_pa / 1e3 / p.suction_kpa - 1.) * 100.,
                        (c.pt_pa / 1e3 / p.discharge_kpa - 1.) * 100.,
                        c.superheat_k,
                        0.0,
                        c.t_discharge_k - 273.15 - p.discharge_line_c,
                        c.t_supply_k - 273.15 - p.supply_c,
                        c.t_liquid_k - 273.15 - p.liquid_line_c,
                        c.opening - p.opening,
                        (c.flow_kg_s / p.flow_kg_s - 1.) * 100.,
                        c.fill - p.receiver_level,
                        (c.current_a / p.current_a - 1.) * 100.,
                        c.net_w / 1e3 - p.net_kw
                    );
                }
                Err(e) => println!("{e}"),
            }
        }
        for p in &card.rating.faults {
            let f = Fault::from_id(&p.fault).unwrap();
            let at = Conditions { mode: Mode::Chilled, return_c: 8.0, ambient_c: 38.0 };
            match solve_fault(card, &at, &[0.0; SCATTERS], f, 0.4) {
                Ok(s) => {
                    let c = s.faulty.cycle;
                    println!(
                        "{:22}: ps {:+.2}% pt {:+.2}% pl {:+.2}% Tb {:+.3} Tcin {:+.3} Td {:+.2} Tliq {:+.3} Tco {:+.3} Tsup {:+.3} A {:+.3}% z {:+.4}",
                        p.fault,
                        (c.ps_pa / 1e3 / p.suction_kpa - 1.) * 100.,
                        (c.pt_pa / 1e3 / p.discharge_kpa - 1.) * 100.,
                        (c.liquid_pa / 1e3 / p.liquid_kpa - 1.) * 100.,
                        c.t_bulb_k - 273.15 - p.suction_line_c,
                        c.t_suction_k - 273.15 - p.compressor_in_c,
                        c.t_discharge_k - 273.15 - p.discharge_line_c,
                        c.t_liquid_k - 273.15 - p.liquid_line_c,
                        c.t_condenser_out_k - 273.15 - p.condenser_out_c,
                        c.t_supply_k - 273.15 - p.supply_c,
                        (c.current_a / p.current_a - 1.) * 100.,
                        c.fill - p.fill
                    );
                }
                Err(e) => println!("{} {e}", p.fault),
            }
        }
        let t = std::time::Instant::now();
        let at = Conditions { mode: Mode::Chilled, return_c: 8.0, ambient_c: 38.0 };
        let plant = Plant::sound(card, &at, &[0.0; SCATTERS]).unwrap();
        for _ in 0..1000 {
            std::hint::black_box(solve(&plant).unwrap());
        }
        println!("{:?} per solution", t.elapsed() / 1000);
    }
}
