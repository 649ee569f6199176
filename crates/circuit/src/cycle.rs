//! The steady cycle by the card's equations: from a guess of five unknowns, the whole state and
//! how far the balances are from closing.

use fluids::FluidError;
use units::math::{exp, ln, pow, sqrt};

use crate::plant::Plant;
use crate::props::{Point, Sat, at_enthalpy, at_entropy, liquid, liquid_at_enthalpy, vapour};

/// cp of dry air, J/(kg·K), as on the card.
const CP_AIR: f64 = 1006.0;

/// Density of air at a temperature in K, kg/m³, as on the card.
fn air_density(t_k: f64) -> f64 {
    353.05 / t_k
}

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

struct Liquid {
    condenser_out: f64,
    h_out: f64,
    h_sub: f64,
    t_sub: f64,
    rho_sub: f64,
    p: f64,
    t: f64,
    rho: f64,
    flash: f64,
}

struct Gas {
    ps: f64,
    h1: f64,
    t1: f64,
    h2: f64,
    t2: f64,
    rho_line: f64,
    gross_flow: f64,
    work: f64,
    gain: f64,
}

/// Tries unknowns: the cycle and the five imbalances (all of order one).
///
/// # Errors
/// [`FluidError`] where a state leaves the property tables.
pub fn evaluate(plant: &Plant<'_>, x: &Unknowns) -> Result<(Unknowns, Cycle), FluidError> {
    let [ln_pe, ln_pc, ln_m, z, sh] = *x;
    let (pe, pc, m) = (exp(ln_pe), exp(ln_pc), exp(ln_m));
    let fluid = plant.fluid;
    let (e, c) = (Sat::at(fluid, pe)?, Sat::at(fluid, pc)?);
    let cpv = (vapour(fluid, pe, e.td + 10.0)?.h - e.hd) / 10.0;
    let bulb = if sh >= 0.0 {
        vapour(fluid, pe, e.td + sh.max(1e-7))?
    } else {
        e.wet(e.share(e.hd + sh * cpv))
    };
    let mc = m * (1.0 - plant.hot_gas);
    let air_factor = plant.condenser_air_factor();
    let l = liquid_side(plant, &c, pc, mc, z, air_factor)?;
    let exchange = plant.card.suction_exchanger.effectiveness * m * cpv * (l.t_sub - bulb.t);
    let g = gas_side(plant, (pe, pc), m, &bulb, exchange)?;

    // Valve.
    let h_valve = l.h_sub - exchange / mc;
    let rho_valve = valve_density(plant, &l, h_valve)?;
    let valve = &plant.card.expansion_valve;
    let full = valve.discharge_coefficient
        * plant.valve_area_m2
        * sqrt(2.0 * rho_valve * (l.p - pe).max(1.0));
    let free = (sh - plant.static_superheat_k) * valve.gain_per_k;
    // Below the least opening the line is carried on, so that the solver finds its way back.
    let opening = plant.opening_fixed.unwrap_or(if valve.opening_min > 0.0 {
        free.clamp(valve.opening_min, 1.0)
    } else {
        free.min(1.0)
    });

    // Evaporator.
    let evap = &plant.card.evaporator;
    let h_in = (1.0 - plant.hot_gas) * h_valve + plant.hot_gas * g.h2;
    let ce = plant.air_evap_m3_s * air_density(plant.t_return_k) * CP_AIR;
    let ua = plant.ua_evap_w_k * plant.evaporator_air_factor();
    let t_on = plant.t_return_k + plant.fan_w / ce;
    let q_full = ce * (1.0 - exp(-ua / ce)) * (t_on - e.t_mid());
    let wet = m * (e.hd - h_in) / q_full.max(1.0);
    let sh_given = if wet < 1.0 {
        let ntu = (1.0 - wet) * ua * evap.superheat_ua_ratio / (m * cpv);
        (t_on - e.td) * (1.0 - exp(-ntu))
    } else {
        (h_in + q_full / m - e.hd) / cpv
    };
    let t_supply = t_on - m * (bulb.h - h_in) / ce;

    // Condenser.
    let af = (z - 1.0).max(0.0);
    let cc = plant.air_cond_m3_s * air_density(plant.t_ambient_k) * CP_AIR;
    let uac = plant.ua_cond_w_k * air_factor;
    let q_cond = (1.0 - af) * cc * (1.0 - exp(-uac / cc)) * (c.t_mid() - plant.t_ambient_k);
    let h_exit = c.h((-z).max(0.0));

    let mass = charge(plant, &Masses { e, c, z, h_in, wet, bulb, l: &l, pc, h2: g.h2 })?;
    let power = g.gross_flow * g.work / plant.motor;
    let electrical = &plant.card.electrical;
    let amp = sqrt(3.0) * plant.voltage_v * electrical.power_factor;
    let cycle = Cycle {
        pe_pa: pe,
        pc_pa: pc,
        pt_pa: pc + plant.p_air_pa,
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
        t_supply_k: t_supply,
        net_w: ce * (plant.t_return_k - t_supply),
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
    let residual = [
        ln((1.0 - plant.leak) * g.gross_flow / m),
        opening * full / mc - 1.0,
        q_cond / (mc * (g.h2 - h_exit)) - 1.0,
        (mass - plant.charge_kg) / plant.card.charge.nameplate_kg,
        0.1 * (sh - sh_given),
    ];
    Ok((residual, cycle))
}

/// Condenser outlet, subcooling pass, liquid line.
fn liquid_side(
    plant: &Plant<'_>,
    c: &Sat,
    pc: f64,
    mc: f64,
    z: f64,
    air_factor: f64,
) -> Result<Liquid, FluidError> {
    let fluid = plant.fluid;
    let ta = plant.t_ambient_k;
    // Saturated liquid's own slope: subcooled liquid has the saturated liquid's h.
    let cpl = c.hb - liquid(fluid, c.tb - 1.0)?.h;
    let x = (-z).max(0.0);
    let (t_out, h_out) = if z > 1.0 {
        let ua = plant.ua_cond_w_k * air_factor * plant.card.condenser.liquid_ua_ratio;
        let t = ta + (c.tb - ta) * exp(-(z - 1.0) * ua / (mc * cpl));
        (t, liquid(fluid, t)?.h)
    } else {
        (c.t(x), c.h(x))
    };
    let ua = plant.ua_sub_w_k * air_factor;
    let ua_wet = if x > 0.0 { mc * (h_out - c.hb) / (c.tb - ta) } else { 0.0 };
    let (h_sub, t_sub, rho_sub) = if ua_wet >= ua && x > 0.0 {
        let h = h_out - ua * (c.tb - ta) / mc;
        let q = c.wet(c.share(h));
        (h, q.t, q.rho)
    } else {
        let from = if x > 0.0 { c.tb } else { t_out };
        let q = liquid(fluid, ta + (from - ta) * exp(-(ua - ua_wet) / (mc * cpl)))?;
        (q.h, q.t, q.rho)
    };
    let line = plant.card.liquid_line.resistance * 1e3;
    let p = pc + plant.p_air_pa - (line + plant.restriction) * mc * mc / rho_sub;
    // A line that would need more than the whole pressure: far from any solution.
    let p = p.max(2e4);
    let at = Sat::at(fluid, p)?;
    let (t, rho, flash) = if h_sub > at.hb {
        let x = at.share(h_sub);
        (at.t(x), at.rho(x), x)
    } else {
        (t_sub, rho_sub, 0.0)
    };
    Ok(Liquid { condenser_out: t_out, h_out, h_sub, t_sub, rho_sub, p, t, rho, flash })
}

fn valve_density(plant: &Plant<'_>, l: &Liquid, h: f64) -> Result<f64, FluidError> {
    let at = Sat::at(plant.fluid, l.p)?;
    if h > at.hb {
        return Ok(at.rho(at.share(h)));
    }
    if plant.card.suction_exchanger.effectiveness == 0.0 {
        return Ok(l.rho);
    }
    Ok(liquid_at_enthalpy(plant.fluid, h, l.t_sub)?.rho)
}

/// Suction line, throttle, compressor.
fn gas_side(
    plant: &Plant<'_>,
    (pe, pc): (f64, f64),
    m: f64,
    bulb: &Point,
    exchange: f64,
) -> Result<Gas, FluidError> {
    let fluid = plant.fluid;
    let gain = plant.heat_gain_w_k * (plant.t_ambient_k - bulb.t);
    let h1 = bulb.h + (exchange + gain) / m;
    let line = at_enthalpy(fluid, pe, h1)?;
    let resistance = plant.card.suction_line.resistance * 1e3 + plant.throttle;
    let ps = (pe - resistance * m * m / line.rho).max(0.05 * pe);
    let suction = at_enthalpy(fluid, ps, h1)?;
    let c = &plant.card.compressor;
    let pt = pc + plant.p_air_pa;
    let ratio = pt / ps;
    let [a, b, q] = c.eta_is;
    let eta_is = (a + b * ratio + q * ratio * ratio).clamp(c.eta_is_min, 0.9) * plant.isentropic;
    let ev =
        (c.eta_v0 - c.clearance * (pow(ratio, 1.0 / c.kappa) - 1.0)).max(0.05) * plant.volumetric;
    let kept = 1.0 - c.heat_loss_fraction;
    let back = plant.leak / (1.0 - plant.leak) * kept;
    let mut inlet = suction;
    let mut work = (at_entropy(fluid, pt, inlet.s)?.h - inlet.h) / eta_is;
    if plant.leak > 0.0 {
        // Gas leaking back is warm: it raises the inlet, and that the work. Contracts fast.
        for _ in 0..25 {
            let h = h1 + back * work;
            let moved = (h - inlet.h).abs();
            inlet = at_enthalpy(fluid, ps, h)?;
            work = (at_entropy(fluid, pt, inlet.s)?.h - inlet.h) / eta_is;
            if moved < 0.01 {
                break;
            }
        }
    }
    let h2 = inlet.h + kept * work;
    Ok(Gas {
        ps,
        h1,
        t1: suction.t,
        h2,
        t2: at_enthalpy(fluid, pt, h2)?.t,
        rho_line: line.rho,
        gross_flow: ev * c.swept_m3_s * inlet.rho,
        work,
        gain,
    })
}

struct Masses<'a> {
    e: Sat,
    c: Sat,
    z: f64,
    h_in: f64,
    wet: f64,
    bulb: Point,
    l: &'a Liquid,
    pc: f64,
    h2: f64,
}

/// Refrigerant inside, kg.
fn charge(plant: &Plant<'_>, s: &Masses<'_>) -> Result<f64, FluidError> {
    let card = plant.card;
    let w = s.wet.clamp(0.0, 1.0);
    let x_in = s.e.share(s.h_in).clamp(0.0, 1.0);
    let x_out = if s.wet >= 1.0 { s.e.share(s.bulb.h).clamp(0.0, 1.0) } else { 1.0 };
    let evap = w * s.e.mean_density(x_in, x_out) + (1.0 - w) * s.bulb.rho;
    let af = (s.z - 1.0).max(0.0);
    let out = liquid(plant.fluid, s.l.condenser_out)?.rho;
    let x_exit = (-s.z).max(0.0);
    let cond = (1.0 - af) * s.c.mean_density(1.0, x_exit) + af * out;
    let level = s.z.clamp(0.0, 1.0);
    let receiver = level * out + (1.0 - level) * s.c.rd;
    let discharge = at_enthalpy(plant.fluid, s.pc, s.h2)?.rho;
    Ok(1e-3
        * (card.evaporator.volume_l * evap
            + card.condenser.volume_l * cond
            + card.receiver.volume_l * receiver
            + card.liquid_line.volume_l * s.l.rho
            + card.suction_line.volume_l * s.bulb.rho
            + card.discharge_line.volume_l * discharge))
}
