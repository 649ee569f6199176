//! Refrigerant states as the cycle needs them: saturation at a pressure, vapour by enthalpy or
//! entropy, wet states as plain mixtures of the two ends (the card's "homogeneous").

use fluids::{FluidError, Refrigerant, Side};
use units::math::exp;

/// Both ends of condensation at one pressure.
#[derive(Debug, Clone, Copy)]
pub struct Sat {
    /// Bubble temperature, K.
    pub tb: f64,
    /// Dew temperature, K.
    pub td: f64,
    /// Enthalpies, J/kg.
    pub hb: f64,
    pub hd: f64,
    /// Densities, kg/m³.
    pub rb: f64,
    pub rd: f64,
    /// Entropies, J/(kg·K).
    pub sb: f64,
    pub sd: f64,
}

/// Temperature, enthalpy, entropy, density.
#[derive(Debug, Clone, Copy)]
pub struct Point {
    pub t: f64,
    pub h: f64,
    pub s: f64,
    pub rho: f64,
}

impl Sat {
    pub fn at(fluid: &Refrigerant, p: f64) -> Result<Self, FluidError> {
        let b = fluid.saturated_at_p(p, Side::Bubble)?;
        let d = fluid.saturated_at_p(p, Side::Dew)?;
        Ok(Self {
            tb: b.t_k,
            td: d.t_k,
            hb: b.h_j_kg,
            hd: d.h_j_kg,
            rb: b.rho_kg_m3,
            rd: d.rho_kg_m3,
            sb: b.s_j_kgk,
            sd: d.s_j_kgk,
        })
    }

    /// Mean of bubble and dew temperature.
    pub fn t_mid(&self) -> f64 {
        0.5 * (self.tb + self.td)
    }

    /// Vapour share of a wet state with this enthalpy; beyond 0 or 1 off the wet region.
    pub fn share(&self, h: f64) -> f64 {
        (h - self.hb) / (self.hd - self.hb)
    }

    pub fn h(&self, x: f64) -> f64 {
        self.hb + x * (self.hd - self.hb)
    }

    pub fn t(&self, x: f64) -> f64 {
        self.tb + x * (self.td - self.tb)
    }

    pub fn rho(&self, x: f64) -> f64 {
        1.0 / (x / self.rd + (1.0 - x) / self.rb)
    }

    /// A wet state.
    pub fn wet(&self, x: f64) -> Point {
        let s = self.sb + x * (self.sd - self.sb);
        Point { t: self.t(x), h: self.h(x), s, rho: self.rho(x) }
    }

    /// Mean density over evenly spread quality from `x1` to `x2` (11-point trapezium, Zivi).
    pub fn mean_density(&self, x1: f64, x2: f64) -> f64 {
        // (rho_l/rho_v)^(1/3) * rho_v/rho_l
        let r = libm_cbrt(self.rd / self.rb);
        let k = r * r;
        let mut sum = 0.0;
        for i in 0..11 {
            let x = (x1 + (x2 - x1) * f64::from(i) / 10.0).clamp(0.0, 1.0);
            // 1/(1 + k(1-x)/x), written so that x = 0 is no trouble
            let a = x / (x + k * (1.0 - x));
            let weight = if i == 0 || i == 10 { 0.5 } else { 1.0 };
            sum += weight * (a * self.rd + (1.0 - a) * self.rb);
        }
        sum / 10.0
    }
}

fn libm_cbrt(x: f64) -> f64 {
    exp(units::math::ln(x) / 3.0)
}

/// Superheated vapour (or the dew point itself) at a temperature.
pub fn vapour(fluid: &Refrigerant, p: f64, t: f64) -> Result<Point, FluidError> {
    let (h, s, rho) = fluid.h_s_rho(p, t)?;
    Ok(Point { t, h, s, rho })
}

/// A hair above the dew line, so that the state is the vapour.
const HAIR_K: f64 = 1e-7;

/// The state of this enthalpy, wet or superheated.
pub fn at_enthalpy(fluid: &Refrigerant, p: f64, h: f64) -> Result<Point, FluidError> {
    match Sat::at(fluid, p) {
        Ok(sat) if h <= sat.hd => Ok(sat.wet(sat.share(h))),
        Ok(sat) => superheated(fluid, p, sat.td, sat.hd, h, |q| q.h, |_, cp| cp),
        // Above the lines' ends: the slower, general way.
        Err(_) => {
            let s = fluid.state_ph(p, h)?;
            Ok(Point { t: s.t_k, h: s.h_j_kg, s: s.s_j_kgk, rho: s.rho_kg_m3 })
        }
    }
}

/// The state of this entropy, wet or superheated.
pub fn at_entropy(fluid: &Refrigerant, p: f64, s: f64) -> Result<Point, FluidError> {
    match Sat::at(fluid, p) {
        Ok(sat) if s <= sat.sd => Ok(sat.wet((s - sat.sb) / (sat.sd - sat.sb))),
        Ok(sat) => superheated(fluid, p, sat.td, sat.sd, s, |q| q.s, |t, cp| cp / t),
        Err(_) => {
            let q = fluid.state_ps(p, s)?;
            Ok(Point { t: q.t_k, h: q.h_j_kg, s: q.s_j_kgk, rho: q.rho_kg_m3 })
        }
    }
}

/// Secant steps upwards from the dew line along a quantity that rises with temperature.
fn superheated(
    fluid: &Refrigerant,
    p: f64,
    td: f64,
    at_dew: f64,
    want: f64,
    of: impl Fn(&Point) -> f64,
    slope: impl Fn(f64, f64) -> f64,
) -> Result<Point, FluidError> {
    let close = 1e-9 * want.abs();
    let floor = td + HAIR_K;
    let (mut t0, mut f0) = (td, at_dew);
    // 950 J/(kg K): a vapour's usual heat capacity, for the first step only.
    let mut t = (td + (want - at_dew) / slope(td, 950.0)).max(floor);
    let mut q = vapour(fluid, p, t)?;
    for _ in 0..30 {
        let f = of(&q);
        if (f - want).abs() < close || (t - t0).abs() < 1e-9 {
            break;
        }
        let grade = (f - f0) / (t - t0);
        let step = if grade > 0.0 { (want - f) / grade } else { 0.0 };
        (t0, f0) = (t, f);
        t = (t + step).max(floor);
        q = vapour(fluid, p, t)?;
    }
    Ok(q)
}

/// Saturated liquid at a temperature.
pub fn liquid(fluid: &Refrigerant, t: f64) -> Result<Point, FluidError> {
    let b = fluid.saturated_at_t(t, Side::Bubble)?;
    Ok(Point { t, h: b.h_j_kg, s: b.s_j_kgk, rho: b.rho_kg_m3 })
}

/// Saturated liquid of this enthalpy, from a guess of its temperature.
pub fn liquid_at_enthalpy(fluid: &Refrigerant, h: f64, t: f64) -> Result<Point, FluidError> {
    let mut q = liquid(fluid, t)?;
    let mut cp = 1450.0;
    for _ in 0..20 {
        let miss = h - q.h;
        if miss.abs() < 1e-3 {
            break;
        }
        let next = liquid(fluid, q.t + miss / cp)?;
        if (next.t - q.t).abs() > 1e-9 {
            cp = (next.h - q.h) / (next.t - q.t);
        }
        q = next;
    }
    Ok(q)
}
