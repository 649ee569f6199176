//! The filter's arithmetic: carrying the unknowns on, and what a reading changes.

// Small fixed matrices walked by number read best that way.
#![allow(clippy::needless_range_loop)]

use units::math;

use crate::fit::{
    AIR, BREATH, BoxFit, CAPACITY, CORE, INNER, Look, N, PROBE, SHELL, SPREAD, STREAM, Stretch, UA,
    carried,
};

/// Steps for slopes by differences: kelvin, and logarithms.
const STEP: [f64; 7] = [0.5, 0.5, 0.2, 0.05, 0.05, 0.05, 0.05];
/// Readings further off than this many standard deviations count as if they were there.
const HUBER: f64 = 2.5;
/// Spread of one hourly reading of return over supply, K, and as a share of it: cloud, daily
/// swing and hunting make neighbours alike. Our estimate.
const SPREAD_SD_K: f64 = 0.3;
const SPREAD_SD_SHARE: f64 = 0.12;
/// No figure of the body lies further from what was assumed, in its widths.
const FAR_SD: f64 = 3.0;
/// Fans and ice may take more of the stream, as a logarithm.
const STREAM_LN: f64 = 1.0;
/// Return colder than supply by more than this while it is warmer outside is no load. Our
/// estimate.
const NO_LOAD_K: f64 = -0.3;
/// Middle of the probes of one hour, K. Our estimate.
const PROBES_SD_K: f64 = 0.3;

impl BoxFit {
    /// The air around the cargo that a reading shows, without the cargo's own bias.
    pub(crate) fn air_of(&self, look: &Look) -> Option<f64> {
        let lift_k = (self.expected_spread_k() - self.x[SPREAD]).clamp(0.0, 6.0);
        if self.prior.frozen {
            // Supply jumps as the compressor cycles; its mean lies the load's spread lower.
            return match (look.supply_c, look.return_c) {
                (_, Some(r)) => Some(r - 0.35 * lift_k),
                (Some(s), None) => Some(s + 0.65 * lift_k),
                (None, None) => None,
            };
        }
        match (look.supply_c, look.return_c) {
            (Some(s), Some(r)) => Some(0.5 * (s + r)),
            (Some(s), None) => Some(s + 0.5 * lift_k),
            (None, Some(r)) => Some(r - 0.5 * lift_k),
            (None, None) => None,
        }
    }

    /// Carries the unknowns over `dt_h`, the second half under the power seen now.
    pub(crate) fn advance(&mut self, dt_h: f64, powered: bool, air_now: Option<f64>) {
        if dt_h <= 0.0 {
            return;
        }
        let changed = powered != self.powered;
        let before_h = if changed { 0.5 * dt_h } else { 0.0 };
        if changed {
            self.stretch(before_h, self.powered, None);
            // When it changed within the gap nobody saw.
            let rest =
                self.prior.body.steady_load_w(self.x[CORE], self.outside.now_c(), self.factors());
            let c = self.prior.body.cargo_j_per_k(self.x[CORE], self.factors());
            let var = sq(rest * 3600.0 * 0.58 * before_h / c);
            self.p[SHELL][SHELL] += var;
            self.p[CORE][CORE] += var;
        }
        self.stretch(dt_h - before_h, powered, air_now);
    }

    fn stretch(&mut self, dt_h: f64, powered: bool, air_now: Option<f64>) {
        let now_c = self.air_c.or(air_now).unwrap_or(self.x[SHELL]);
        let s = Stretch {
            dt_h,
            air_c: powered.then(|| [now_c, air_now.unwrap_or(now_c)]),
            outside_c: self.outside.now_c(),
        };
        let from_c = if powered { now_c } else { self.air_c.unwrap_or(self.x[SHELL]) };
        let body = &self.prior.body;
        let next = carried(body, &self.x, from_c, s);
        let mut j = [[0.0; N]; 2];
        for (i, step) in STEP.into_iter().enumerate() {
            if self.p[i][i] == 0.0 {
                continue;
            }
            let mut x = self.x;
            x[i] += step;
            let t = carried(body, &x, from_c, s);
            j[0][i] = (t.shell_c - next.shell_c) / step;
            j[1][i] = (t.core_c - next.core_c) / step;
        }
        self.x[SHELL] = next.shell_c;
        self.x[CORE] = next.core_c;
        if !powered {
            self.air_c = Some(next.air_c - self.x[AIR]);
        }
        self.carry_covariance(&j);
        self.add_noise(dt_h, powered, 1.0 - j[0][SHELL]);
    }

    fn carry_covariance(&mut self, j: &[[f64; N]; 2]) {
        // Rows of shell and core: J·P; then their own corner: J·P·Jᵀ.
        let mut rows = [[0.0; N]; 2];
        for (r, row) in rows.iter_mut().enumerate() {
            for k in 0..7 {
                if j[r][k] != 0.0 {
                    for c in 0..N {
                        row[c] += j[r][k] * self.p[k][c];
                    }
                }
            }
        }
        let dot = |a: &[f64; N], b: &[f64; N]| -> f64 { (0..7).map(|k| a[k] * b[k]).sum() };
        let corner = [
            [dot(&rows[0], &j[0]), dot(&rows[0], &j[1])],
            [dot(&rows[1], &j[0]), dot(&rows[1], &j[1])],
        ];
        for c in 2..N {
            for r in 0..2 {
                self.p[r][c] = rows[r][c];
                self.p[c][r] = rows[r][c];
            }
        }
        let mixed = 0.5 * (corner[0][1] + corner[1][0]);
        self.p[SHELL][SHELL] = corner[0][0];
        self.p[CORE][CORE] = corner[1][1];
        self.p[SHELL][CORE] = mixed;
        self.p[CORE][SHELL] = mixed;
    }

    /// What the model leaves out, growing with time. Our estimates.
    fn add_noise(&mut self, dt_h: f64, powered: bool, follows: f64) {
        let frozen = self.prior.frozen;
        let days = dt_h / 24.0;
        let body = if powered { 0.02 } else { 0.03 };
        // Air between two readings is not known: the longer the gap, the less.
        let air_sd = if frozen { 0.4 } else { 0.2 } + 0.03 * (dt_h - 1.0).clamp(0.0, 12.0);
        let air = if powered { sq(air_sd * follows.clamp(0.0, 1.0)) } else { 0.0 };
        self.p[SHELL][SHELL] += sq(body) * dt_h + air;
        self.p[CORE][CORE] += sq(body) * dt_h;
        let walk = [(AIR, 0.03), (UA, 0.005), (INNER, 0.02), (CAPACITY, 0.003), (BREATH, 0.03)];
        for (i, sd) in walk.into_iter().chain([(STREAM, 0.01), (SPREAD, 0.01), (PROBE, 0.05)]) {
            if self.p[i][i] > 0.0 {
                self.p[i][i] += sq(sd) * days;
            }
        }
    }

    /// Return over supply: the load on the stream of air.
    pub(crate) fn measure_spread(&mut self, seen_k: f64, weight: f64) {
        let body = &self.prior.body;
        let (t, f) = (self.temps(), self.factors());
        let outside_c = self.outside.now_c();
        if seen_k < NO_LOAD_K && outside_c > t.air_c {
            return;
        }
        let w = self.prior.stream_w_per_k * math::exp(self.x[STREAM]);
        let load = body.load_w(t, outside_c, f);
        let shell = body.shell_on_w_per_k * f.inner;
        let through = body.through_w_per_k * f.inner;
        let mut h = [0.0; N];
        h[SHELL] = shell / w;
        h[CORE] = through / w;
        h[AIR] = -(shell + through + body.ua_w_per_k * f.ua + body.vent_w_per_k) / w;
        h[UA] = body.ua_w_per_k * f.ua * (outside_c - t.air_c) / w;
        h[INNER] = (shell * (t.shell_c - t.air_c) + through * (t.core_c - t.air_c)) / w;
        h[STREAM] = -load / w;
        h[SPREAD] = 1.0;
        let expected = load / w + self.x[SPREAD];
        let ambient_k = if self.outside.was_read() { 2.0 } else { 8.0 };
        let r = sq(SPREAD_SD_K)
            + sq(SPREAD_SD_SHARE * expected)
            + sq(body.ua_w_per_k * f.ua * ambient_k / w);
        self.take(&h, seen_k - expected, r / weight);
    }

    /// The middle of the probes: between shell and core, off by a bias of their own.
    pub(crate) fn measure_probes(&mut self, look: &Look) {
        let mut all: Vec<f64> = look.probes_c.iter().flatten().copied().collect();
        all.sort_by(f64::total_cmp);
        let n = all.len();
        let Some(upper) = all.get(n / 2) else { return };
        let lower = all.get(n.saturating_sub(1) / 2).unwrap_or(upper);
        let middle = 0.5 * (lower + upper);
        let mut h = [0.0; N];
        (h[SHELL], h[CORE], h[PROBE]) = (0.5, 0.5, 1.0);
        let expected = 0.5 * (self.x[SHELL] + self.x[CORE]) + self.x[PROBE];
        self.take(&h, middle - expected, sq(PROBES_SD_K) / look.gap_weight());
        self.probes.read(look.at_h, &look.probes_c, self.x[SHELL], self.x[CORE]);
    }

    /// One scalar measurement; what is far off is believed only in part.
    fn take(&mut self, h: &[f64; N], off: f64, r: f64) {
        let mut ph = [0.0; N];
        for i in 0..N {
            for k in 0..N {
                ph[i] += self.p[i][k] * h[k];
            }
        }
        let hph: f64 = (0..N).map(|i| h[i] * ph[i]).sum();
        let far = off.abs() / math::sqrt(hph + r);
        let r = if far > HUBER { r * sq(far / HUBER) } else { r };
        let s = hph + r;
        if !(s > 0.0 && off.is_finite()) {
            return;
        }
        for i in 0..N {
            self.x[i] += ph[i] / s * off;
        }
        for i in 0..N {
            for k in 0..N {
                self.p[i][k] -= ph[i] * ph[k] / s;
            }
        }
        for i in 0..N {
            self.p[i][i] = self.p[i][i].max(0.0);
        }
        self.keep_possible();
    }

    /// No reading makes a figure of the body impossible.
    fn keep_possible(&mut self) {
        for i in [UA, INNER, CAPACITY, BREATH, STREAM] {
            let middle = if i == BREATH { self.prior.ln_breath } else { 0.0 };
            let wide = FAR_SD * self.prior.sd[i] + if i == STREAM { STREAM_LN } else { 0.0 };
            self.x[i] = self.x[i].clamp(middle - wide, middle + wide);
        }
        let wide = FAR_SD * self.prior.sd[SPREAD];
        self.x[SPREAD] = self.x[SPREAD].clamp(-wide, wide);
    }
}

fn sq(x: f64) -> f64 {
    x * x
}
