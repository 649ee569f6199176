//! Refrigerant states as the cycle needs them: saturation at a pressure, vapour by enthalpy or
//! entropy, wet states as plain mixtures of the two ends (the card's "homogeneous").

use std::sync::OnceLock;

use fluids::refrigerant::NAMES;
use fluids::{FluidError, Refrigerant, Side};
use units::math::{exp, ln};

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

/// Quantities of the saturation table.
const SAT: usize = 8;
/// Nodes of a table: close enough that cubic interpolation adds less than 1e-9.
const NODES: usize = 1500;

/// A refrigerant with quick tables of its saturation lines: made once from the exact ones, since
/// a diagnosis asks for millions of saturated states.
#[derive(Debug)]
pub struct Props {
    /// The refrigerant.
    pub fluid: &'static Refrigerant,
    by_ln_p: Grid<SAT>,
    by_t: Grid<3>,
}

/// Values at even steps, interpolated by a cubic through four neighbours.
#[derive(Debug)]
struct Grid<const Q: usize> {
    from: f64,
    per_step: f64,
    rows: Vec<[f64; Q]>,
}

impl<const Q: usize> Grid<Q> {
    fn new(from: f64, to: f64, f: impl Fn(f64) -> Option<[f64; Q]>) -> Self {
        let step = (to - from) / (NODES - 1) as f64;
        let rows: Option<Vec<_>> = (0..NODES).map(|i| f(from + step * i as f64)).collect();
        Self { from, per_step: 1.0 / step, rows: rows.unwrap_or_default() }
    }

    fn at(&self, x: f64) -> Option<[f64; Q]> {
        let u = (x - self.from) * self.per_step;
        if u.is_nan() || u < 1.0 {
            return None;
        }
        let i = u as usize;
        let [a, b, c, d] = self.rows.get(i - 1..i + 3)?.first_chunk::<4>()?;
        let t = u - i as f64;
        let (t1, t2, t3) = (t + 1.0, t - 1.0, t - 2.0);
        let wa = -t * t2 * t3 / 6.0;
        let wb = t1 * t2 * t3 / 2.0;
        let wc = -t1 * t * t3 / 2.0;
        let wd = t1 * t * t2 / 6.0;
        Some(std::array::from_fn(|k| wa * a[k] + wb * b[k] + wc * c[k] + wd * d[k]))
    }
}

impl Props {
    /// The tables of this refrigerant.
    pub fn of(fluid: &'static Refrigerant) -> &'static Self {
        static MADE: [OnceLock<Props>; NAMES.len()] = [const { OnceLock::new() }; NAMES.len()];
        let i = NAMES.iter().position(|n| *n == fluid.name()).unwrap_or(0);
        let cell = MADE.get(i).unwrap_or(&MADE[0]);
        cell.get_or_init(|| Self::new(fluid))
    }

    fn new(fluid: &'static Refrigerant) -> Self {
        let (_, pc) = fluid.critical();
        let (low, _) = fluid.pressure_range_pa(Side::Bubble);
        let (dew_low, _) = fluid.pressure_range_pa(Side::Dew);
        let by_ln_p = Grid::new(ln(low.max(dew_low).max(1e4)), ln(0.85 * pc), |x| {
            let s = Sat::exact(fluid, exp(x)).ok()?;
            Some([s.tb, s.td, s.hb, s.hd, ln(s.rb), ln(s.rd), s.sb, s.sd])
        });
        let (cold, top) = fluid.saturation_range_k();
        let by_t = Grid::new(cold.max(190.0) + 0.1, top - 12.0, |t| {
            let q = liquid_exact(fluid, t).ok()?;
            Some([q.h, q.s, q.rho])
        });
        Self { fluid, by_ln_p, by_t }
    }
}

impl Sat {
    /// At a pressure, Pa.
    pub fn at(props: &Props, p: f64) -> Result<Self, FluidError> {
        match props.by_ln_p.at(ln(p)) {
            Some([tb, td, hb, hd, rb, rd, sb, sd]) => {
                Ok(Self { tb, td, hb, hd, rb: exp(rb), rd: exp(rd), sb, sd })
            }
            None => Self::exact(props.fluid, p),
        }
    }

    fn exact(fluid: &Refrigerant, p: f64) -> Result<Self, FluidError> {
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
        let k = exp(ln(self.rd / self.rb) * 2.0 / 3.0);
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

/// Superheated vapour (or the dew point itself) at a temperature. Above the tables (155 °C, past
/// any discharge cut-out) it is carried on as a gas of constant heat capacity, so that a solver's
/// way may lead through.
pub fn vapour(props: &Props, p: f64, t: f64) -> Result<Point, FluidError> {
    let (_, top) = props.fluid.temperature_range_k();
    if t > top {
        let edge = vapour(props, p, top)?;
        let below = vapour(props, p, top - 5.0)?;
        let cp = (edge.h - below.h) / 5.0;
        return Ok(Point {
            t,
            h: edge.h + cp * (t - top),
            s: edge.s + cp * ln(t / top),
            rho: edge.rho * top / t,
        });
    }
    let (h, s, rho) = props.fluid.h_s_rho(p, t)?;
    Ok(Point { t, h, s, rho })
}

/// A hair above the dew line, so that the state is the vapour.
const HAIR_K: f64 = 1e-7;

/// The state of this enthalpy, wet or superheated.
pub fn at_enthalpy(props: &Props, p: f64, h: f64) -> Result<Point, FluidError> {
    at_enthalpy_from(props, p, h, Sat::at(props, p))
}

/// The same where the saturated states at this pressure are known.
pub fn at_enthalpy_from(
    props: &Props,
    p: f64,
    h: f64,
    sat: Result<Sat, FluidError>,
) -> Result<Point, FluidError> {
    match sat {
        Ok(sat) if h <= sat.hd => Ok(sat.wet(sat.share(h))),
        Ok(sat) => superheated(props, p, sat.td, sat.hd, h, |q| q.h, |_, cp| cp),
        // Above the lines' ends: the slower, general way.
        Err(_) => {
            let s = props.fluid.state_ph(p, h)?;
            Ok(Point { t: s.t_k, h: s.h_j_kg, s: s.s_j_kgk, rho: s.rho_kg_m3 })
        }
    }
}

/// The state of this entropy, wet or superheated.
pub fn at_entropy(
    props: &Props,
    p: f64,
    s: f64,
    sat: Result<Sat, FluidError>,
) -> Result<Point, FluidError> {
    match sat {
        Ok(sat) if s <= sat.sd => Ok(sat.wet((s - sat.sb) / (sat.sd - sat.sb))),
        Ok(sat) => superheated(props, p, sat.td, sat.sd, s, |q| q.s, |t, cp| cp / t),
        Err(_) => {
            let q = props.fluid.state_ps(p, s)?;
            Ok(Point { t: q.t_k, h: q.h_j_kg, s: q.s_j_kgk, rho: q.rho_kg_m3 })
        }
    }
}

/// Secant steps upwards from the dew line along a quantity that rises with temperature.
fn superheated(
    props: &Props,
    p: f64,
    td: f64,
    at_dew: f64,
    want: f64,
    of: impl Fn(&Point) -> f64,
    slope: impl Fn(f64, f64) -> f64,
) -> Result<Point, FluidError> {
    // 4e-6 K: far below the tables' own error.
    let close = 1e-8 * want.abs();
    let floor = td + HAIR_K;
    let (mut t0, mut f0) = (td, at_dew);
    // 950 J/(kg K): a vapour's usual heat capacity, for the first step only.
    let mut t = (td + (want - at_dew) / slope(td, 950.0)).max(floor);
    let mut q = vapour(props, p, t)?;
    for _ in 0..30 {
        let f = of(&q);
        if (f - want).abs() < close || (t - t0).abs() < 1e-9 {
            break;
        }
        let grade = (f - f0) / (t - t0);
        let step = if grade > 0.0 { (want - f) / grade } else { 0.0 };
        (t0, f0) = (t, f);
        t = (t + step).max(floor);
        q = vapour(props, p, t)?;
    }
    Ok(q)
}

/// Saturated liquid at a temperature.
pub fn liquid(props: &Props, t: f64) -> Result<Point, FluidError> {
    match props.by_t.at(t) {
        Some([h, s, rho]) => Ok(Point { t, h, s, rho }),
        None => liquid_exact(props.fluid, t),
    }
}

fn liquid_exact(fluid: &Refrigerant, t: f64) -> Result<Point, FluidError> {
    let b = fluid.saturated_at_t(t, Side::Bubble)?;
    Ok(Point { t, h: b.h_j_kg, s: b.s_j_kgk, rho: b.rho_kg_m3 })
}

/// Saturated liquid of this enthalpy, from a guess of its temperature.
pub fn liquid_at_enthalpy(props: &Props, h: f64, t: f64) -> Result<Point, FluidError> {
    let mut q = liquid(props, t)?;
    let mut cp = 1450.0;
    for _ in 0..20 {
        let miss = h - q.h;
        if miss.abs() < 1e-3 {
            break;
        }
        let next = liquid(props, q.t + miss / cp)?;
        if (next.t - q.t).abs() > 1e-9 {
            cp = (next.h - q.h) / (next.t - q.t);
        }
        q = next;
    }
    Ok(q)
}
