//! What one box's own readings tell of it: cargo temperatures and the figures of its body,
//! fitted reading by reading (an extended Kalman filter over the three bodies of [`crate::body`]).
//!
//! While the fans turn, the air is read and the cargo follows it; without power the air is on its
//! own and the cargo warms through the walls. What the readings cannot tell keeps the width it
//! had before them. Readings must come by time; an older one is counted and left out.

use units::math;

use crate::body::{Air, Body, Factors, Temps};
use crate::estimate::Estimate;
use crate::fit::outside::Outside;
use crate::fit::probes::Probes;

mod input;
mod outside;
mod prior;
mod probes;
mod update;

pub use input::{Look, Missing};
pub use outside::Outlook;
pub use prior::{Contents, FitPrior};
pub use probes::ProbePlace;

/// Number of unknowns.
pub const N: usize = 10;
/// Shell, °C.
pub(crate) const SHELL: usize = 0;
/// Core, °C.
pub(crate) const CORE: usize = 1;
/// Air that the cargo sees less the air that is read, K.
pub(crate) const AIR: usize = 2;
/// Logarithm of the factor on the leakage.
pub(crate) const UA: usize = 3;
/// Logarithm of the factor on the paths of heat inside.
pub(crate) const INNER: usize = 4;
/// Logarithm of the factor on the heat capacity.
pub(crate) const CAPACITY: usize = 5;
/// Logarithm of the factor on the respiration.
pub(crate) const BREATH: usize = 6;
/// Logarithm of the factor on the stream of air.
pub(crate) const STREAM: usize = 7;
/// Error of the spread of return over supply, K.
pub(crate) const SPREAD: usize = 8;
/// Pulp probes less the middle of shell and core, K.
pub(crate) const PROBE: usize = 9;

/// Longest step, h.
const STEP_H: f64 = 1.0;
/// After a change of power the spread is not looked at for this long, h. Our estimate.
const SETTLE_H: f64 = 2.0;

/// One box, fitted.
#[derive(Debug, Clone, PartialEq)]
pub struct BoxFit {
    pub(crate) prior: FitPrior,
    pub(crate) x: [f64; N],
    pub(crate) p: [[f64; N]; N],
    pub(crate) air_c: Option<f64>,
    air_read_h: Option<f64>,
    pub(crate) air_slope_k_per_h: f64,
    at_h: Option<f64>,
    first_h: f64,
    powered: bool,
    settled_h: f64,
    pub(crate) outside: Outside,
    pub(crate) probes: Probes,
    looks: u32,
    late: u32,
    spreads: u32,
}

impl BoxFit {
    /// Nothing read yet.
    #[must_use]
    pub fn new(prior: FitPrior) -> Self {
        let mut x = [0.0; N];
        x[SHELL] = prior.cargo_c;
        x[CORE] = prior.cargo_c;
        x[AIR] = prior.air_bias_k;
        x[BREATH] = prior.ln_breath;
        let mut p = [[0.0; N]; N];
        for (i, sd) in prior.sd.iter().enumerate() {
            p[i][i] = sd * sd;
        }
        // Shell and core were loaded together.
        let both = 0.9 * prior.sd[SHELL] * prior.sd[CORE];
        p[SHELL][CORE] = both;
        p[CORE][SHELL] = both;
        Self {
            outside: Outside::new(prior.outside_c),
            prior,
            x,
            p,
            air_c: None,
            air_read_h: None,
            air_slope_k_per_h: 0.0,
            at_h: None,
            first_h: 0.0,
            powered: true,
            settled_h: f64::NEG_INFINITY,
            probes: Probes::default(),
            looks: 0,
            late: 0,
            spreads: 0,
        }
    }

    /// Takes one reading in.
    pub fn update(&mut self, look: &Look) {
        let Some(last_h) = self.at_h else {
            return self.begin(look);
        };
        let dt_h = look.at_h - last_h;
        if !dt_h.is_finite() || dt_h < 0.0 {
            self.late += 1;
            return;
        }
        self.outside.read(look.at_h, look.ambient_c);
        let powered = look.powered.unwrap_or(self.powered);
        let air = if powered { self.air_of(look) } else { None };
        self.advance(dt_h, powered, air);
        if powered != self.powered {
            self.settled_h = look.at_h + SETTLE_H;
        }
        if let Some(air_c) = air {
            self.note_air(look.at_h, air_c);
        }
        self.powered = powered;
        self.at_h = Some(look.at_h);
        self.measure(look);
    }

    fn begin(&mut self, look: &Look) {
        self.first_h = look.at_h;
        self.at_h = Some(look.at_h);
        self.outside.read(look.at_h, look.ambient_c);
        self.powered = look.powered.unwrap_or(true);
        if self.powered
            && let Some(air_c) = self.air_of(look)
        {
            self.note_air(look.at_h, air_c);
        }
        self.measure(look);
    }

    fn note_air(&mut self, at_h: f64, air_c: f64) {
        if let (Some(was_c), Some(was_h)) = (self.air_c, self.air_read_h) {
            let gap_h = at_h - was_h;
            if gap_h > 0.01 {
                self.air_slope_k_per_h = (air_c - was_c) / gap_h.max(0.25);
            }
        }
        self.air_c = Some(air_c);
        self.air_read_h = Some(at_h);
    }

    fn measure(&mut self, look: &Look) {
        self.looks += 1;
        let settled = look.at_h >= self.settled_h && self.air_slope_k_per_h.abs() < 0.6;
        if self.powered
            && settled
            && !self.prior.frozen
            && let Some(spread_k) = look.spread_k()
        {
            self.measure_spread(spread_k, look.gap_weight());
            self.spreads += 1;
        }
        self.measure_probes(look);
    }

    /// Something changed the stream of air: what was learnt of it is let go, to this width of
    /// its logarithm. Heat it carries is then not taken for heat of the cargo.
    pub fn open_stream(&mut self, ln_sd: f64) {
        for i in 0..N {
            if i != STREAM {
                self.p[i][STREAM] = 0.0;
                self.p[STREAM][i] = 0.0;
            }
        }
        self.p[STREAM][STREAM] += ln_sd * ln_sd;
    }

    /// The factors as fitted.
    #[must_use]
    pub fn factors(&self) -> Factors {
        factors(&self.x)
    }

    /// The three bodies as fitted.
    #[must_use]
    pub fn temps(&self) -> Temps {
        Temps {
            air_c: self.air_c.map_or(self.x[SHELL], |a| a + self.x[AIR]),
            shell_c: self.x[SHELL],
            core_c: self.x[CORE],
        }
    }

    /// When the last reading was taken, hours of the caller's clock.
    #[must_use]
    pub fn at_h(&self) -> Option<f64> {
        self.at_h
    }

    /// Powered at the last reading, as far as it was said.
    #[must_use]
    pub fn powered(&self) -> bool {
        self.powered
    }

    /// What is made of the box.
    #[must_use]
    pub fn body(&self) -> &Body {
        &self.prior.body
    }

    /// Ambient air as read, and where it is heading.
    #[must_use]
    pub fn outlook(&self) -> Outlook {
        self.outside.outlook()
    }

    /// Mean cargo temperature at the last reading with its 90 % interval, °C.
    #[must_use]
    pub fn cargo_c(&self) -> Estimate {
        let (s, c) = self.shares();
        let mean = s * self.x[SHELL] + c * self.x[CORE];
        let var = s * s * self.p[SHELL][SHELL]
            + c * c * self.p[CORE][CORE]
            + 2.0 * s * c * self.p[SHELL][CORE];
        // What three bodies leave out: layers, ends. Our estimate.
        let sd = math::sqrt(var.max(0.0) + self.prior.structure_k * self.prior.structure_k);
        Estimate::plus_minus(mean, crate::dice::Z90 * sd)
    }

    /// Heat leakage, W/K.
    #[must_use]
    pub fn ua_w_per_k(&self) -> Estimate {
        self.scaled(UA, self.prior.body.ua_w_per_k)
    }

    /// Heat carried by the stream of air, W/K.
    #[must_use]
    pub fn stream_w_per_k(&self) -> Estimate {
        self.scaled(STREAM, self.prior.stream_w_per_k)
    }

    /// Factor on the heat capacity that mass and kind of cargo make likely.
    #[must_use]
    pub fn capacity_factor(&self) -> Estimate {
        self.scaled(CAPACITY, 1.0)
    }

    /// Factor on the published respiration.
    #[must_use]
    pub fn respiration_factor(&self) -> Estimate {
        self.scaled(BREATH, 1.0)
    }

    fn scaled(&self, i: usize, best: f64) -> Estimate {
        let half = crate::dice::Z90 * math::sqrt(self.p[i][i].max(0.0));
        let at = |k: f64| best * math::exp(self.x[i] + k * half);
        Estimate::new(at(-1.0), at(0.0), at(1.0))
    }

    /// Return over supply that the load as fitted makes, K.
    #[must_use]
    pub fn expected_spread_k(&self) -> f64 {
        let load = self.prior.body.load_w(self.temps(), self.outside.now_c(), self.factors());
        load / (self.prior.stream_w_per_k * math::exp(self.x[STREAM])) + self.x[SPREAD]
    }

    /// What the readings so far have not told.
    #[must_use]
    pub fn missing(&self) -> Vec<Missing> {
        let mut out = Vec::new();
        let mut add = |yes: bool, what| {
            if yes {
                out.push(what);
            }
        };
        add(!self.outside.was_read(), Missing::Ambient);
        add(self.air_read_h.is_none(), Missing::Air);
        add(!self.prior.frozen && self.spreads == 0, Missing::Spread);
        add(self.probes.is_empty(), Missing::Probes);
        let span_h = self.at_h.unwrap_or(self.first_h) - self.first_h;
        add(f64::from(self.looks) < span_h / 6.0, Missing::FewRounds);
        add(self.late > 0, Missing::OutOfOrder);
        out
    }

    fn shares(&self) -> (f64, f64) {
        let s = self.prior.body.shell_share;
        (s, 1.0 - s)
    }
}

pub(crate) fn factors(x: &[f64; N]) -> Factors {
    Factors {
        ua: math::exp(x[UA]),
        inner: math::exp(x[INNER]),
        capacity: math::exp(x[CAPACITY]),
        respiration: math::exp(x[BREATH]),
    }
}

/// How the air went between two readings.
#[derive(Clone, Copy)]
pub(crate) struct Stretch {
    /// Hours.
    pub dt_h: f64,
    /// Air with the fans on at beginning and end, °C; `None` without power.
    pub air_c: Option<[f64; 2]>,
    /// Ambient, °C.
    pub outside_c: f64,
}

/// Cargo at the end of a stretch for one choice of the unknowns.
pub(crate) fn carried(body: &Body, x: &[f64; N], from_air_c: f64, s: Stretch) -> Temps {
    let f = factors(x);
    let mut t = Temps { air_c: from_air_c, shell_c: x[SHELL], core_c: x[CORE] };
    let steps = (s.dt_h / STEP_H).ceil().clamp(1.0, 2000.0);
    let dt_h = s.dt_h / steps;
    for i in 0..steps as usize {
        t = match s.air_c {
            // The middle of the step: the lag is then right to second order.
            Some([a, b]) => {
                let at = a + (b - a) * (i as f64 + 0.5) / steps;
                body.step(t, 1.0, Air::At(at + x[AIR]), s.outside_c, f, dt_h)
            }
            None => body.step(t, 0.0, Air::Heat(0.0), s.outside_c, f, dt_h),
        };
    }
    t
}
