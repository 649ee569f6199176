//! The steady cycle by the card's equations: from a guess of five unknowns, the whole state and
//! how far the balances are from closing.

use fluids::FluidError;
use units::math::{exp, ln, sqrt};

use crate::parts::{Masses, charge, condenser, evaporator, gas_side, liquid_side, valve};
use crate::plant::Plant;
use crate::props::{Sat, vapour};

/// Number of unknowns.
pub const N: usize = 5;

/// The unknowns: ln pe, ln pc (Pa), ln m (kg/s), fill z, superheat at the bulb (K; negative when
/// the outlet is wet, as the missing heat over the vapour's cp).
pub type Unknowns = [f64; N];

/// A solved (or tried) cycle in SI units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cycle {
    /// Evaporator pressure, Pa.
    pub pe_pa: f64,
    /// Condensing pressure of the refrigerant alone, Pa.
    pub pc_pa: f64,
    /// Whole high-side pressure, Pa.
    pub pt_pa: f64,
    /// Compressor suction, Pa.
    pub ps_pa: f64,
    /// Liquid gauge point, Pa.
    pub liquid_pa: f64,
    /// Compressor flow, kg/s.
    pub flow_kg_s: f64,
    /// Flow through condenser and valve, kg/s.
    pub flow_liquid_kg_s: f64,
    /// High-side fill z.
    pub fill: f64,
    /// Valve opening.
    pub opening: f64,
    /// At the bulb against the dew point, K; negative when wet.
    pub superheat_k: f64,
    /// At the bulb, K.
    pub t_bulb_k: f64,
    /// At the compressor's suction valve, K.
    pub t_suction_k: f64,
    /// Compressor discharge, K.
    pub t_discharge_k: f64,
    /// Leaving the condenser, K.
    pub t_condenser_out_k: f64,
    /// Leaving the subcooling pass, upstream of the drier, K.
    pub t_subcooled_k: f64,
    /// Liquid gauge point, K.
    pub t_liquid_k: f64,
    /// Air leaving, K.
    pub t_supply_k: f64,
    /// Net cooling, W.
    pub net_w: f64,
    /// Compressor power, W.
    pub power_w: f64,
    /// Current per phase, A.
    pub current_a: f64,
    /// Density entering the liquid line, kg/m³.
    pub rho_liquid_line: f64,
    /// Density in the suction line, kg/m³.
    pub rho_suction_line: f64,
    /// Vapour share at the liquid gauge point; 0 when liquid.
    pub flash_share: f64,
    /// Charge that the cycle holds, kg.
    pub mass_kg: f64,
    /// Enthalpies: compressor in, discharge, condenser out, valve in, evaporator in, bulb, J/kg.
    pub h_j_kg: [f64; 6],
    /// Heat given off by the condenser and the subcooling pass, W.
    pub rejected_w: f64,
    /// Heat from the suction line's surroundings, W.
    pub line_gain_w: f64,
    /// Heat lost by the compressor's shell, W.
    pub shell_w: f64,
}

/// Tries unknowns: the cycle and the five imbalances (all of order one).
///
/// # Errors
/// [`FluidError`] where a state leaves the property tables.
pub fn evaluate(plant: &Plant<'_>, x: &Unknowns) -> Result<(Unknowns, Cycle), FluidError> {
    let [ln_pe, ln_pc, ln_m, z, sh] = *x;
    let (pe, pc, m) = (exp(ln_pe), exp(ln_pc), exp(ln_m));
    let fluid = plant.props;
    let (e, c) = (Sat::at(fluid, pe)?, Sat::at(fluid, pc)?);
    let cpv = (vapour(fluid, pe, e.td + 10.0)?.h - e.hd) / 10.0;
    let bulb = if sh >= 0.0 {
        vapour(fluid, pe, e.td + sh.max(1e-7))?
    } else {
        e.wet(e.share(e.hd + sh * cpv))
    };
    let mc = m * (1.0 - plant.hot_gas);
    let l = liquid_side(plant, &c, pc, mc, z)?;
    let exchange = plant.card.suction_exchanger.effectiveness * m * cpv * (l.t_sub - bulb.t);
    let g = gas_side(plant, (pe, &e), pc, m, &bulb, exchange)?;
    let h_valve = l.h_sub + (plant.quirks.liquid_gain_w - exchange) / mc;
    let (opening, flow) = valve(plant, &l, h_valve, pe, sh)?;
    let h_in = (1.0 - plant.hot_gas) * h_valve + plant.hot_gas * g.h2;
    let v = evaporator(plant, (pe, &e), m, cpv, h_in, &bulb)?;
    let mass = charge(plant, &Masses { e, c, z, h_in, wet: v.wet, bulb, l: &l, pc, h2: g.h2 })?;
    let power = g.gross_flow * g.work / plant.motor;
    let electrical = &plant.card.electrical;
    let amp = sqrt(3.0) * plant.voltage_v * electrical.power_factor;
    let cycle = Cycle {
        pe_pa: pe,
        pc_pa: pc,
        pt_pa: g.pt,
        ps_pa: g.ps,
        liquid_pa: l.p,
        flow_kg_s: m,
        flow_liquid_kg_s: mc,
        fill: z,
        opening,
        superheat_k: sh,
        t_bulb_k: bulb.t,
        t_suction_k: g.t1,
        t_discharge_k: g.t2,
        t_condenser_out_k: l.condenser_out,
        t_subcooled_k: l.t_sub,
        t_liquid_k: l.t,
        t_supply_k: v.t_supply,
        net_w: v.net_w,
        power_w: power,
        current_a: power / amp,
        rho_liquid_line: l.rho_sub,
        rho_suction_line: g.rho_line,
        flash_share: l.flash,
        mass_kg: mass,
        h_j_kg: [g.h1, g.h2, l.h_out, h_valve, h_in, bulb.h],
        rejected_w: mc * (g.h2 - l.h_sub),
        line_gain_w: g.gain,
        shell_w: g.gross_flow * g.work * plant.card.compressor.heat_loss_fraction,
    };
    let h_exit = c.h((-z).max(0.0));
    let residual = [
        ln((1.0 - plant.leak) * g.gross_flow / m),
        flow / mc - 1.0,
        condenser(plant, &c, z) / (mc * (g.h2 - h_exit)) - 1.0,
        (mass - plant.charge_kg) / plant.card.charge.nameplate_kg,
        0.1 * (sh - v.superheat_k),
    ];
    Ok((residual, cycle))
}
