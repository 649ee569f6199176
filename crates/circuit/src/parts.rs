//! The parts of the circuit one by one, by the card's equations.

use fluids::FluidError;
use units::math::{exp, pow, sqrt};

use crate::plant::Plant;
use crate::props::{
    Point, Sat, at_enthalpy, at_enthalpy_from, at_entropy, liquid, liquid_at_enthalpy,
};

/// cp of dry air, J/(kg·K), as on the card.
const CP_AIR: f64 = 1006.0;

/// Density of air at a temperature in K, kg/m³, as on the card.
fn air_density(t_k: f64) -> f64 {
    353.05 / t_k
}

/// High side downstream of the condenser.
pub struct Liquid {
    pub condenser_out: f64,
    pub h_out: f64,
    pub h_sub: f64,
    pub t_sub: f64,
    pub rho_sub: f64,
    pub p: f64,
    pub t: f64,
    pub rho: f64,
    pub flash: f64,
    pub at: Sat,
}

/// Low side downstream of the bulb, and the compressor.
pub struct Gas {
    pub ps: f64,
    pub pt: f64,
    pub h1: f64,
    pub t1: f64,
    pub h2: f64,
    pub t2: f64,
    pub rho_line: f64,
    pub gross_flow: f64,
    pub work: f64,
    pub gain: f64,
}

/// Condenser outlet, subcooling pass, liquid line.
pub fn liquid_side(
    plant: &Plant<'_>,
    c: &Sat,
    pc: f64,
    mc: f64,
    z: f64,
) -> Result<Liquid, FluidError> {
    let fluid = plant.props;
    let air_factor = plant.condenser_air_factor();
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
    Ok(Liquid { condenser_out: t_out, h_out, h_sub, t_sub, rho_sub, p, t, rho, flash, at })
}

/// Opening of the valve and the flow it lets through, kg/s.
pub fn valve(
    plant: &Plant<'_>,
    l: &Liquid,
    h_valve: f64,
    pe: f64,
    superheat_k: f64,
) -> Result<(f64, f64), FluidError> {
    let rho = valve_density(plant, l, h_valve)?;
    let v = &plant.card.expansion_valve;
    let full =
        v.discharge_coefficient * plant.valve_area_m2 * sqrt(2.0 * rho * (l.p - pe).max(1.0));
    let mut free = (superheat_k - plant.static_superheat_k) * v.gain_per_k;
    if plant.quirks.valve_power != 0.0 && free > 0.0 {
        free = pow(free, 1.0 + plant.quirks.valve_power);
    }
    // Below the least opening the line is carried on, so that the solver finds its way back.
    let opening = plant.opening_fixed.unwrap_or(if v.opening_min > 0.0 {
        free.clamp(v.opening_min, 1.0)
    } else {
        free.min(1.0)
    });
    Ok((opening, opening * full))
}

/// What the evaporator does at this flow.
pub struct Evaporated {
    /// Superheat that its surface gives, K; negative when wet.
    pub superheat_k: f64,
    /// Wet part of the surface.
    pub wet: f64,
    /// Air leaving, K.
    pub t_supply: f64,
    /// Net cooling, W.
    pub net_w: f64,
}

/// The evaporator with its air.
pub fn evaporator(
    plant: &Plant<'_>,
    (pe, e): (f64, &Sat),
    m: f64,
    cpv: f64,
    h_in: f64,
    bulb: &Point,
) -> Result<Evaporated, FluidError> {
    let card = &plant.card.evaporator;
    let q = &plant.quirks;
    let whole = plant.air_evap_m3_s * air_density(plant.t_return_k) * CP_AIR;
    let t_on = plant.t_return_k + plant.fan_w / whole;
    let ce = whole * (1.0 - q.bypass) * (1.0 + q.moisture);
    let ua = plant.ua_evap_w_k * plant.evaporator_air_factor();
    let t_mid = if q.evaporator_drop > 0.0 {
        Sat::at(plant.props, pe + q.evaporator_drop * m * m / bulb.rho)?.t_mid()
    } else {
        e.t_mid()
    };
    let q_full = ce * (1.0 - exp(-ua / ce)) * (t_on - t_mid);
    let wet = m * (e.hd - h_in) / q_full.max(1.0);
    let superheat_k = if wet < 1.0 {
        let ntu = (1.0 - wet) * ua * card.superheat_ua_ratio / (m * cpv);
        (t_on - e.td) * (1.0 - exp(-ntu))
    } else {
        (h_in + q_full / m - e.hd) / cpv
    };
    let t_supply = t_on - m * (bulb.h - h_in) / (whole * (1.0 + q.moisture));
    Ok(Evaporated { superheat_k, wet, t_supply, net_w: whole * (plant.t_return_k - t_supply) })
}

/// Heat that the condensing part can give off, W.
pub fn condenser(plant: &Plant<'_>, c: &Sat, z: f64) -> f64 {
    let flooded = (z - 1.0).max(0.0);
    let cc = plant.air_cond_m3_s * air_density(plant.t_ambient_k) * CP_AIR;
    let ua = plant.ua_cond_w_k * plant.condenser_air_factor();
    // Air that comes back takes part of the difference away.
    let fresh = 1.0 - plant.quirks.recirculation;
    fresh * (1.0 - flooded) * cc * (1.0 - exp(-ua / cc)) * (c.t_mid() - plant.t_ambient_k)
}

fn valve_density(plant: &Plant<'_>, l: &Liquid, h: f64) -> Result<f64, FluidError> {
    if h > l.at.hb {
        return Ok(l.at.rho(l.at.share(h)));
    }
    if plant.card.suction_exchanger.effectiveness == 0.0 {
        return Ok(l.rho);
    }
    Ok(liquid_at_enthalpy(plant.props, h, l.t_sub)?.rho)
}

/// Suction line, throttle, compressor.
pub fn gas_side(
    plant: &Plant<'_>,
    (pe, e): (f64, &Sat),
    pc: f64,
    m: f64,
    bulb: &Point,
    exchange: f64,
) -> Result<Gas, FluidError> {
    let fluid = plant.props;
    let gain = plant.heat_gain_w_k * (plant.t_ambient_k - bulb.t);
    let h1 = bulb.h + (exchange + gain) / m;
    let line = at_enthalpy_from(fluid, pe, h1, Ok(*e))?;
    let resistance = plant.card.suction_line.resistance * 1e3 + plant.throttle;
    let ps = (pe - resistance * m * m / line.rho).max(0.05 * pe);
    let suction = at_enthalpy(fluid, ps, h1)?;
    let c = &plant.card.compressor;
    let pt = (pc + plant.p_air_pa) * (1.0 + plant.quirks.discharge_drop);
    let ratio = pt / ps;
    let [a, b, q] = c.eta_is;
    let eta_is = (a + b * ratio + q * ratio * ratio).clamp(c.eta_is_min, 0.9) * plant.isentropic;
    let ev =
        (c.eta_v0 - c.clearance * (pow(ratio, 1.0 / c.kappa) - 1.0)).max(0.05) * plant.volumetric;
    let kept = 1.0 - c.heat_loss_fraction;
    let back = plant.leak / (1.0 - plant.leak) * kept;
    let mut inlet = suction;
    let high = Sat::at(fluid, pt);
    let mut work = (at_entropy(fluid, pt, inlet.s, high.clone())?.h - inlet.h) / eta_is;
    if plant.leak > 0.0 {
        // Gas leaking back is warm: it raises the inlet, and that the work. Contracts fast.
        for _ in 0..25 {
            let h = h1 + back * work;
            let moved = (h - inlet.h).abs();
            inlet = at_enthalpy(fluid, ps, h)?;
            work = (at_entropy(fluid, pt, inlet.s, high.clone())?.h - inlet.h) / eta_is;
            if moved < 0.01 {
                break;
            }
        }
    }
    let h2 = inlet.h + kept * work;
    let t2 = at_enthalpy_from(fluid, pt, h2, high)?.t;
    Ok(Gas {
        ps,
        pt,
        h1,
        t1: suction.t,
        h2,
        t2: t2 - plant.quirks.discharge_loss * (t2 - plant.t_ambient_k),
        rho_line: line.rho,
        gross_flow: ev * c.swept_m3_s * inlet.rho,
        work,
        gain,
    })
}

/// What the charge is counted from.
pub struct Masses<'a> {
    pub e: Sat,
    pub c: Sat,
    pub z: f64,
    pub h_in: f64,
    pub wet: f64,
    pub bulb: Point,
    pub l: &'a Liquid,
    pub pc: f64,
    pub h2: f64,
}

/// Refrigerant inside, kg.
pub fn charge(plant: &Plant<'_>, s: &Masses<'_>) -> Result<f64, FluidError> {
    let card = plant.card;
    let w = s.wet.clamp(0.0, 1.0);
    let x_in = s.e.share(s.h_in).clamp(0.0, 1.0);
    let x_out = if s.wet >= 1.0 { s.e.share(s.bulb.h).clamp(0.0, 1.0) } else { 1.0 };
    let evap = w * s.e.mean_density(x_in, x_out) + (1.0 - w) * s.bulb.rho;
    let af = (s.z - 1.0).max(0.0);
    let out = liquid(plant.props, s.l.condenser_out)?.rho;
    let x_exit = (-s.z).max(0.0);
    let cond = (1.0 - af) * s.c.mean_density(1.0, x_exit) + af * out;
    let level = s.z.clamp(0.0, 1.0);
    let receiver = level * out + (1.0 - level) * s.c.rd;
    let discharge = at_enthalpy_from(plant.props, s.pc, s.h2, Ok(s.c))?.rho;
    Ok(1e-3
        * (card.evaporator.volume_l * evap
            + card.condenser.volume_l * cond
            + card.receiver.volume_l * receiver
            + card.liquid_line.volume_l * s.l.rho
            + card.suction_line.volume_l * s.bulb.rho
            + card.discharge_line.volume_l * discharge))
}
