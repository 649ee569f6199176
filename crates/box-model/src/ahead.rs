//! What lies ahead of a fitted box: when its cargo passes a limit, and how warm its parts will
//! be, on a course of things.
//!
//! The fit's unknowns are drawn together with what lies ahead (ambient, fans, the unit's
//! strength) a fixed number of times, in pairs of opposite draws, and each draw is followed by
//! the three bodies of [`crate::body`]. The spread of the results is the uncertainty.

use units::math;

use crate::body::{Air, Factors, Temps};
use crate::dice::{Normals, Z90};
use crate::estimate::Estimate;
use crate::fit::{self, AIR, BoxFit, N};
use crate::limits::Side;
use crate::machine;

mod crossing;
mod predict;

pub use crossing::Crossing;
pub use predict::{HourAhead, Spot};

/// Pairs of draws. More make the ends of intervals steadier and cost time.
const PAIRS: usize = 40;
/// What lies ahead that the fit does not hold: ambient level, ambient trend, fans, heaters,
/// strength, its change, slope of the air, goal, and what any model leaves out.
const EXTRA: usize = 9;
/// What any model of three bodies leaves out, as a share of the heat that comes in. Our estimate.
const MODEL_SHARE: f64 = 0.07;
/// A trend of the ambient fades over this time, h.
const FADES_H: f64 = 72.0;

/// What drives the box.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Course {
    /// No power: walls and respiration.
    NoPower,
    /// Fans turn and nothing cools.
    NotCooling {
        /// Heat of the fans, W.
        fans_w: Estimate,
    },
    /// The unit works towards a temperature as far as its strength goes.
    Held(Held),
    /// Air moves on as it was seen to move, as far as the heat that comes in allows.
    Moving(Moving),
}

/// A unit at work.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Held {
    /// Air around the cargo that it aims at, °C.
    pub goal_c: Estimate,
    /// Its cooling.
    pub cooling: Cooling,
    /// Heating is possible (chilled set points; frozen boxes have none).
    pub heats: bool,
    /// Fans at high speed.
    pub fans_high: bool,
}

/// How much a unit can take out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Cooling {
    /// What a unit of its size can, by published figures.
    Usual,
    /// All it gives is what it gives now: the present warming tells how much that is. It changes
    /// by this share of it per day (negative: it fades).
    AllItGives {
        /// Change per day, as a share of what it gives now.
        change_per_d: Estimate,
    },
    /// So many times the load that it has now, changing by this share of it per day.
    TimesLoad {
        /// Strength over load, 1 is just enough.
        times: Estimate,
        /// Change per day, as a share of its strength now.
        change_per_d: Estimate,
    },
    /// So much of what its size usually can, changing by this share of the usual per day.
    Share {
        /// Share left now.
        left: Estimate,
        /// Change per day, as a share of the usual.
        change_per_d: Estimate,
    },
}

/// Air that was seen to move.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moving {
    /// Air around the cargo now, °C.
    pub air_c: Estimate,
    /// Rate, K/h.
    pub slope_k_per_h: Estimate,
    /// It goes no further than this, °C.
    pub bound_c: f64,
    /// Heat of fans and heaters that may come in with it, W.
    pub extra_w: Estimate,
}

/// A question about the time ahead.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ahead {
    /// What drives the box from its last reading on.
    pub course: Course,
    /// Hours between the last reading and now.
    pub age_h: f64,
    /// How far ahead of now to look, h.
    pub horizon_h: f64,
    /// In so many hours from now the unit is as good as usual again and brings the air to this
    /// goal, °C.
    pub repair: Option<(f64, f64)>,
    /// Ambient to be taken instead of what the readings tell, °C.
    pub outside_c: Option<Estimate>,
}

impl Ahead {
    /// The course as it is, now, with no repair in sight.
    #[must_use]
    pub fn on(course: Course, age_h: f64, horizon_h: f64) -> Self {
        Self { course, age_h: age_h.max(0.0), horizon_h, repair: None, outside_c: None }
    }
}

/// One draw of all that is not known.
#[derive(Clone, Copy)]
pub(crate) struct Draw {
    pub temps: Temps,
    pub factors: Factors,
    pub air_bias_k: f64,
    pub z: [f64; EXTRA],
}

/// A value of an estimate: `z` standard deviations from its best.
fn pick(e: Estimate, z: f64) -> f64 {
    e.best + z / Z90 * if z > 0.0 { e.high - e.best } else { e.best - e.low }
}

impl BoxFit {
    /// Draws of the fit: the middle one first, then pairs of opposites.
    pub(crate) fn draws(&self) -> Vec<Draw> {
        let root = cholesky(&self.p);
        let mut normals = Normals::new(1);
        let mut out = Vec::with_capacity(2 * PAIRS + 1);
        out.push(self.draw(&self.x, [0.0; EXTRA]));
        for _ in 0..PAIRS {
            let z: [f64; N] = std::array::from_fn(|_| normals.draw());
            let extra: [f64; EXTRA] = std::array::from_fn(|_| normals.draw());
            for sign in [1.0, -1.0] {
                let mut x = self.x;
                for (i, row) in root.iter().enumerate() {
                    let step: f64 = row.iter().zip(&z).map(|(r, z)| r * z).sum();
                    x[i] += sign * step;
                }
                out.push(self.draw(&x, extra.map(|e| sign * e)));
            }
        }
        out
    }

    fn draw(&self, x: &[f64; N], z: [f64; EXTRA]) -> Draw {
        let air_c = self.air_c.map_or(x[fit::SHELL], |a| a + x[AIR]);
        let temps = Temps { air_c, shell_c: x[fit::SHELL], core_c: x[fit::CORE] };
        let mut factors = fit::factors(x);
        factors.ua *= 1.0 + MODEL_SHARE * z[8];
        Draw { temps, factors, air_bias_k: x[AIR], z }
    }

    /// Air of a draw when the fit's air is older than the cargo's: in no power it is there.
    fn outside_at(&self, ahead: &Ahead, d: &Draw, hours: f64) -> f64 {
        let o = self.outside.outlook();
        let level = pick(ahead.outside_c.unwrap_or(o.mean_c), d.z[0]);
        let trend = o.trend_k_per_d + d.z[1] / Z90 * o.trend_half_k_per_d;
        level + trend / 24.0 * FADES_H * (1.0 - math::exp(-hours / FADES_H))
    }
}

/// One draw on its way.
pub(crate) struct Run<'a> {
    fit: &'a BoxFit,
    ahead: &'a Ahead,
    draw: Draw,
    twenty: bool,
    t: Temps,
    at_h: f64,
    all_it_gives_w: f64,
    load_w: f64,
}

impl<'a> Run<'a> {
    pub fn new(fit: &'a BoxFit, ahead: &'a Ahead, draw: Draw) -> Self {
        let mut t = draw.temps;
        if let Course::Moving(m) = ahead.course {
            t.air_c = pick(m.air_c, draw.z[7]) + draw.air_bias_k;
        }
        let twenty = fit.prior.body.ua_w_per_k < 30.0;
        let mut run =
            Self { fit, ahead, draw, twenty, t, at_h: 0.0, all_it_gives_w: 0.0, load_w: 0.0 };
        run.all_it_gives_w = run.given_w();
        run.load_w = run.load_now_w();
        run
    }

    /// Mean of the cargo, °C.
    pub fn mean_c(&self) -> f64 {
        self.fit.prior.body.mean_c(self.t)
    }

    pub fn temps(&self) -> Temps {
        self.t
    }

    /// Hours since the last reading.
    pub fn at_h(&self) -> f64 {
        self.at_h
    }

    fn fans_w(&self, high: bool) -> f64 {
        pick(machine::fans_w(!high, self.twenty), self.draw.z[2]).max(50.0)
    }

    /// What the unit takes out now, going by how the box warms, W.
    fn given_w(&self) -> f64 {
        let body = &self.fit.prior.body;
        let outside = self.fit.outside_at(self.ahead, &self.draw, 0.0);
        let picked_up = body.load_w(self.t, outside, self.draw.factors);
        let stored = body.air_j_per_k * self.fit.air_slope_k_per_h / 3600.0;
        (picked_up - stored + self.fans_w(!self.fit.prior.frozen)).max(0.0)
    }

    /// Load with the cargo as it is, fans included, W.
    fn load_now_w(&self) -> f64 {
        let body = &self.fit.prior.body;
        let outside = self.fit.outside_at(self.ahead, &self.draw, 0.0);
        let mean = body.mean_c(self.draw.temps);
        body.steady_load_w(mean, outside, self.draw.factors) + self.fans_w(!self.fit.prior.frozen)
    }

    fn cooling_w(&self, held: &Held, outside_c: f64) -> f64 {
        let box_c = self.t.air_c;
        let usual = |c: f64| machine::full_cooling_w(self.twenty, c, outside_c);
        let days = self.at_h / 24.0;
        let drawn = |e: Estimate| pick(e, self.draw.z[5]);
        match held.cooling {
            Cooling::Usual => pick(usual(box_c), self.draw.z[4]),
            Cooling::AllItGives { change_per_d } => {
                // Colder or warmer air than now changes what the same machine gives.
                let as_warm = usual(box_c).best / usual(self.draw.temps.air_c).best;
                self.all_it_gives_w * as_warm * (1.0 + drawn(change_per_d) * days).max(0.0)
            }
            Cooling::TimesLoad { times, change_per_d } => {
                let as_warm = usual(box_c).best / usual(self.draw.temps.air_c).best;
                let now_w = self.load_w.max(0.0) * pick(times, self.draw.z[4]).max(0.3);
                now_w * as_warm * (1.0 + drawn(change_per_d) * days).max(0.0)
            }
            Cooling::Share { left, change_per_d } => {
                let share = pick(left, self.draw.z[4]) + drawn(change_per_d) * days;
                usual(box_c).best * share.max(0.0)
            }
        }
    }

    /// What the air does now, and whether the fans turn.
    fn air(&self, outside_c: f64, dt_h: f64) -> (f64, Air) {
        let bias = self.draw.air_bias_k;
        if let Some((in_h, goal_c)) = self.ahead.repair
            && self.at_h >= self.ahead.age_h + in_h
        {
            let held = Held {
                goal_c: Estimate::plus_minus(goal_c, 0.3),
                cooling: Cooling::Usual,
                heats: !self.fit.prior.frozen,
                fans_high: !self.fit.prior.frozen,
            };
            return (1.0, self.held(&held, outside_c));
        }
        match &self.ahead.course {
            Course::NoPower => (0.0, Air::Heat(0.0)),
            Course::NotCooling { fans_w } => (1.0, Air::Heat(pick(*fans_w, self.draw.z[2]))),
            Course::Held(held) => (1.0, self.held(held, outside_c)),
            Course::Moving(m) => {
                let slope = pick(m.slope_k_per_h, self.draw.z[6]);
                let start = pick(m.air_c, self.draw.z[7]);
                let free = start + slope * (self.at_h + dt_h);
                let (low, high) = (m.bound_c.min(start), m.bound_c.max(start));
                let goal_c = free.clamp(low, high) + bias;
                let heating_w = pick(m.extra_w, self.draw.z[2]).max(0.0);
                (1.0, Air::Goal { goal_c, cooling_w: 50e3, heating_w })
            }
        }
    }

    fn held(&self, held: &Held, outside_c: f64) -> Air {
        let fans = self.fans_w(held.fans_high);
        let heaters = if held.heats { pick(machine::HEATERS_W, self.draw.z[3]) } else { 0.0 };
        Air::Goal {
            goal_c: pick(held.goal_c, self.draw.z[7]) + self.draw.air_bias_k,
            cooling_w: self.cooling_w(held, outside_c) - fans,
            heating_w: heaters.max(0.0) + fans,
        }
    }

    /// One step of `dt_h`.
    pub fn step(&mut self, dt_h: f64) {
        let outside_c = self.fit.outside_at(self.ahead, &self.draw, self.at_h);
        let (fans, air) = self.air(outside_c, dt_h);
        let body = &self.fit.prior.body;
        self.t = body.step(self.t, fans, air, outside_c, self.draw.factors, dt_h);
        // Self-heating that runs away: the cargo is long lost by then.
        self.t.shell_c = self.t.shell_c.min(60.0);
        self.t.core_c = self.t.core_c.min(60.0);
        self.at_h += dt_h;
    }
}

/// Whether a temperature is past a limit.
pub(crate) fn past(side: Side, limit_c: f64, temp_c: f64) -> bool {
    match side {
        Side::Warm => temp_c >= limit_c,
        Side::Cold => temp_c <= limit_c,
    }
}

/// Lower triangle whose product with its transpose is `p`; directions without width stay 0.
fn cholesky(p: &[[f64; N]; N]) -> [[f64; N]; N] {
    let mut l = [[0.0; N]; N];
    for i in 0..N {
        for j in 0..=i {
            let dot: f64 = (0..j).map(|k| l[i][k] * l[j][k]).sum();
            let rest = p[i][j] - dot;
            if i == j {
                l[i][i] = math::sqrt(rest.max(0.0));
            } else if l[j][j] > 1e-9 {
                l[i][j] = rest / l[j][j];
            }
        }
    }
    l
}
