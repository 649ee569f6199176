//! A pressure-rise hold as it happens: two volumes with a hose between them, air and water vapour
//! apart, water that cools as it evaporates, a gauge that lags. Shares no curve with the judge.

use fluids::water::vapour_pressure_pa;
use units::math::{cos, ln, sqrt};

/// Pascal of a µmHg.
pub const UM: f64 = 0.133_322_387;

/// Where a simulation's draws come from.
pub trait Chance {
    /// Evenly between two values.
    fn between(&mut self, a: f64, b: f64) -> f64;
    /// Standard normal.
    fn normal(&mut self) -> f64;
    /// One of 0 to n − 1.
    fn pick(&mut self, n: usize) -> usize;
    /// Evenly over the logarithm.
    fn log_between(&mut self, a: f64, b: f64) -> f64 {
        units::math::exp(self.between(ln(a), ln(b)))
    }
}

/// A repeatable stream of random numbers (SplitMix64: Steele, Lea, Flood 2014).
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }
}

impl Chance for Dice {
    fn between(&mut self, a: f64, b: f64) -> f64 {
        a + (b - a) * (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Box and Muller.
    fn normal(&mut self) -> f64 {
        let (u, v) = (self.between(1e-12, 1.0), self.between(0.0, 1.0));
        sqrt(-2.0 * ln(u)) * cos(2.0 * std::f64::consts::PI * v)
    }

    fn pick(&mut self, n: usize) -> usize {
        (self.next() % n as u64) as usize
    }
}

/// What is true of a hold.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Truth {
    Dry,
    WetLiquid,
    WetIce,
    WetSorbed,
    LeakSmall,
    LeakLarge,
    WetAndLeaking,
    Outgassing,
}

pub const TRUTHS: [(Truth, &str); 8] = [
    (Truth::Dry, "dry"),
    (Truth::WetLiquid, "wet, liquid"),
    (Truth::WetIce, "wet, ice"),
    (Truth::WetSorbed, "wet, sorbed"),
    (Truth::LeakSmall, "leak 1-10 µm/min"),
    (Truth::LeakLarge, "leak 10-1000 µm/min"),
    (Truth::WetAndLeaking, "wet and leaking"),
    (Truth::Outgassing, "outgassing"),
];

/// Water that can still evaporate.
struct Moisture {
    /// Share of saturation that it is in balance with: 1 for liquid and ice.
    activity: f64,
    /// Time constant without cooling, s.
    tau_s: f64,
    /// Its own temperature, °C.
    temp_c: f64,
    /// Heat capacity of it and what lies under it, J/K; heat from the wall, W/K.
    heat: (f64, f64),
}

/// A hold with its truth.
pub struct Sim {
    /// Pa at the gauge each step, before noise.
    pub gauge: Vec<f64>,
    /// True steady rise, µm/min.
    pub rise: f64,
    /// True coldest temperature at the start, °C.
    pub coldest_c: f64,
    /// Vapour pressure that the moisture tends to, Pa; none when dry.
    pub plateau_pa: Option<f64>,
    /// Whether the moisture is held by surfaces.
    pub sorbed: bool,
}

fn coldest(truth: Truth, ice: bool, d: &mut impl Chance) -> f64 {
    match truth {
        Truth::WetIce => d.between(-25.0, -2.0),
        Truth::WetAndLeaking if ice => d.between(-25.0, -2.0),
        _ => d.between(5.0, 30.0),
    }
}

fn moisture(truth: Truth, kind: usize, coldest_c: f64, d: &mut impl Chance) -> Option<Moisture> {
    let sorbed = truth == Truth::WetSorbed || (truth == Truth::WetAndLeaking && kind == 2);
    let ice = truth == Truth::WetIce || (truth == Truth::WetAndLeaking && kind == 1);
    let liquid = truth == Truth::WetLiquid || (truth == Truth::WetAndLeaking && kind == 0);
    if !(sorbed || ice || liquid) {
        return None;
    }
    let tau_s = if ice { d.log_between(90.0, 700.0) } else { d.log_between(60.0, 600.0) };
    Some(Moisture {
        activity: if sorbed { d.log_between(0.03, 0.5) } else { 1.0 },
        tau_s,
        temp_c: coldest_c - if sorbed { 0.0 } else { d.between(0.0, 3.0) },
        heat: (d.log_between(100.0, 800.0), d.log_between(0.7, 6.0)),
    })
}

/// Runs a hold for `end_s` in steps of `dt` seconds (1; the oracle takes longer ones).
pub fn simulate(truth: Truth, d: &mut impl Chance, end_s: f64, dt: f64) -> Sim {
    let kind = d.pick(3);
    let volume = d.between(0.008, 0.020);
    let coldest_c = coldest(truth, kind == 1, d);
    let mut water = moisture(truth, kind, coldest_c, d);
    let rise = match truth {
        Truth::LeakSmall => d.log_between(1.0, 10.0),
        Truth::LeakLarge => d.log_between(10.0, 1000.0),
        Truth::WetAndLeaking => d.log_between(2.0, 300.0),
        _ => d.between(0.0, 0.2),
    };
    // Oil and surfaces: always a little, or much.
    let much = truth == Truth::Outgassing;
    let log_size = if much { d.log_between(4.0, 40.0) } else { d.log_between(0.3, 2.0) };
    let log_zero = d.log_between(10.0, 150.0);
    let by_root = much && d.pick(2) == 0;
    let root_size = d.log_between(1.5, 12.0);
    // The box warms or cools: a trend and a settling part.
    let trend_k_s = d.between(-1.5, 1.5) / 3600.0;
    let settle = (0.4 * d.normal(), d.log_between(300.0, 1500.0));
    let p_sat = |t: f64| vapour_pressure_pa(t + 273.15).unwrap_or(0.0);
    let start = d.log_between(60.0, 450.0) * UM;
    let sorbed = water.as_ref().is_some_and(|w| w.activity < 1.0);
    let plateau_pa = water.as_ref().map(|w| w.activity * p_sat(coldest_c));
    let mut vapour = plateau_pa.map_or(0.0, |p| d.between(0.05, 0.5) * p.min(4.0 * start));
    let mut air = start;
    let stub = (d.log_between(3e-5, 3e-4), d.log_between(2e-5, 3e-4));
    let mut stub_p = (air + vapour) * d.between(0.2, 0.9);
    let on_stub = d.pick(3) == 0;
    let lag_s = d.log_between(1.0, 12.0);
    let mut shown = stub_p;
    let even = (dt * stub.1 / stub.0).min(0.5);
    let steps = (end_s / dt) as usize;
    let mut gauge = Vec::with_capacity(steps + 1);
    for step in 0..=steps {
        let t = step as f64 * dt;
        let away = units::math::exp(-t / settle.1);
        let warmth = trend_k_s * t + settle.0 * (1.0 - away);
        let warming = dt * (trend_k_s + settle.0 * away / settle.1);
        let out = if by_root {
            root_size * 0.5 / sqrt(60.0 * t.max(dt))
        } else {
            log_size / (t + log_zero)
        };
        air += dt * (rise / 60.0 + out) * UM + air * warming / (coldest_c + 273.15);
        if let Some(w) = &mut water {
            let wall = coldest_c + warmth;
            let gives = dt * (w.activity * p_sat(w.temp_c) - vapour) / w.tau_s;
            vapour += gives + vapour * warming / (coldest_c + 273.15);
            // 2.5 MJ/kg; sorbed water is spread thin and stays at the wall's temperature.
            let cools =
                if w.activity < 1.0 { 0.0 } else { gives * volume / (461.5 * 288.0) * 2.5e6 };
            w.temp_c += (dt * w.heat.1 * (wall - w.temp_c) - cools) / w.heat.0;
            if w.activity < 1.0 {
                w.temp_c = wall;
            }
        }
        stub_p += even * (air + vapour - stub_p);
        let at = if on_stub { stub_p } else { air + vapour };
        shown += (at - shown) * (dt / lag_s).min(1.0);
        gauge.push(shown);
    }
    Sim { gauge, rise, coldest_c, plateau_pa, sorbed }
}
