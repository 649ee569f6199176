//! Heat inside one box: air at both ends and under the floor, floor and liner, and four parts
//! of the cargo.
//!
//! All eight temperatures are advanced together by the backward Euler rule, so that a step of
//! any length is stable and what flows in is exactly what is stored.

// The eight nodes are small fixed arrays walked by number: matrices read best that way.
#![allow(clippy::needless_range_loop)]

use crate::cargo::Cargo;

/// Number of nodes.
pub const NODES: usize = 8;
/// Air under the cargo, as the unit delivers it.
pub const UNDER: usize = 0;
/// Air at the door end.
pub const DOOR_AIR: usize = 1;
/// Air at the unit end, as it returns.
pub const RETURN_AIR: usize = 2;
/// T-floor and liner.
pub const FLOOR: usize = 3;
/// Cargo next to the supply air.
pub const NEAR: usize = 4;
/// Top layers of the cargo.
pub const TOP: usize = 5;
/// Cargo at the doors.
pub const DOOR: usize = 6;
/// Core of the cargo.
pub const CORE: usize = 7;

/// Shares of the cargo's mass: near, top, door end, core.
pub const SHARES: [f64; 4] = [0.22, 0.18, 0.12, 0.48];

/// A path of heat between two nodes, W/K with full fans and with fans standing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Link {
    /// One node.
    pub a: usize,
    /// The other.
    pub b: usize,
    /// Conductance with full fans, W/K.
    pub on_w_per_k: f64,
    /// Conductance without fans, W/K.
    pub off_w_per_k: f64,
}

/// A box with its cargo: what does not change on the voyage.
#[derive(Debug, Clone, PartialEq)]
pub struct Body {
    /// What is in it.
    pub cargo: &'static Cargo,
    /// Mass of the cargo, kg.
    pub mass_kg: f64,
    /// Heat capacity of the nodes without the cargo, J/K.
    pub capacity_j_per_k: [f64; NODES],
    /// Leakage from outside to each node, W/K.
    pub leak_w_per_k: [f64; NODES],
    /// Paths of heat inside.
    pub links: [Link; 12],
    /// Heat carried by the air at full fans, W/K.
    pub stream_w_per_k: f64,
    /// Heat carried by the fresh air at full fans, W/K.
    pub vent_w_per_k: f64,
}

/// Share of the air that turns back to the unit before it reaches the doors.
const SHORT_WAY: f64 = 0.35;

/// What drives one step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drive {
    /// Fans, 0 standing to 1 full.
    pub fans: f64,
    /// Heat from the coil to the air, W: fans and heaters less cooling. It reaches the air under
    /// the cargo while fans run, else the air at the unit.
    pub coil_w: f64,
    /// Outside of each node's wall, °C.
    pub outside_c: [f64; NODES],
    /// Fresh air taken in, °C.
    pub fresh_c: f64,
}

/// Heat that came in during one step, J.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct HeatIn {
    /// Through walls and with fresh air.
    pub outside_j: f64,
    /// From the coil.
    pub coil_j: f64,
    /// From respiration.
    pub respiration_j: f64,
}

impl HeatIn {
    /// The sum.
    #[must_use]
    pub fn total_j(&self) -> f64 {
        self.outside_j + self.coil_j + self.respiration_j
    }
}

impl Body {
    /// A 40 ft (`forty`) or 20 ft box of `age_years` with `mass_kg` of `cargo`.
    ///
    /// Leakage: 0.8 × U_max of ISO 1496-2, 3 % more for each year (reference/cargo-and-box.md
    /// §3.1), a little more at the doors than elsewhere. Air 60 to 90 empty-box changes an hour
    /// at high speed (§3.2, from memory, unverified); low speed for frozen cargo.
    #[must_use]
    pub fn new(cargo: &'static Cargo, mass_kg: f64, forty: bool, age_years: f64) -> Self {
        let size = if forty { 1.0 } else { 0.5 };
        let ua = if forty { 42.0 } else { 22.0 } * 0.8 * (1.0 + 0.03 * age_years);
        let frozen = cargo.kind == crate::cargo::Kind::Frozen;
        let stream_w_per_k = size * if frozen { 950.0 } else { 1900.0 };
        let mut leak_w_per_k = [0.0; NODES];
        leak_w_per_k[DOOR_AIR] = 0.38 * ua;
        leak_w_per_k[RETURN_AIR] = 0.34 * ua;
        leak_w_per_k[FLOOR] = 0.28 * ua;
        let mut capacity_j_per_k = [0.0; NODES];
        capacity_j_per_k[UNDER] = 20e3 * size;
        capacity_j_per_k[DOOR_AIR] = 90e3 * size;
        capacity_j_per_k[RETURN_AIR] = 90e3 * size;
        capacity_j_per_k[FLOOR] = 450e3 * size;
        Self {
            cargo,
            mass_kg,
            capacity_j_per_k,
            leak_w_per_k,
            links: links(cargo, size),
            stream_w_per_k,
            // 1 m³/h of air carries 0.335 W/K.
            vent_w_per_k: 0.335 * cargo.vent_m3_h,
        }
    }

    /// The cargo is stowed so tightly that only `share` of the air moves through its core.
    pub fn stow_tightly(&mut self, share: f64) {
        for l in self.links.iter_mut().filter(|l| (l.a, l.b) == (UNDER, CORE)) {
            l.on_w_per_k *= share;
        }
    }

    /// Heat capacity of every node at these temperatures, J/K.
    #[must_use]
    pub fn capacities(&self, temp_c: &[f64; NODES]) -> [f64; NODES] {
        let mut out = self.capacity_j_per_k;
        for (k, share) in SHARES.into_iter().enumerate() {
            let i = NEAR + k;
            out[i] = share * self.mass_kg * self.cargo.heat_capacity(temp_c[i]);
        }
        out
    }

    /// Advances `temp_c` by `dt_s` seconds. Heat capacities and respiration are those at the
    /// beginning of the step.
    pub fn step(&self, temp_c: &mut [f64; NODES], drive: &Drive, dt_s: f64) -> HeatIn {
        let capacity = self.capacities(temp_c);
        let mut heat = HeatIn::default();
        let mut m = [[0.0; NODES]; NODES];
        let mut rhs = [0.0; NODES];
        for i in 0..NODES {
            m[i][i] = capacity[i] / dt_s + self.leak_w_per_k[i];
            rhs[i] = capacity[i] / dt_s * temp_c[i] + self.leak_w_per_k[i] * drive.outside_c[i];
        }
        for (k, share) in SHARES.into_iter().enumerate() {
            let i = NEAR + k;
            let w = share * self.mass_kg * self.cargo.respiration_w_per_kg(temp_c[i]);
            rhs[i] += w;
            heat.respiration_j += w * dt_s;
        }
        for l in &self.links {
            let g = l.off_w_per_k + (l.on_w_per_k - l.off_w_per_k) * drive.fans;
            m[l.a][l.a] += g;
            m[l.b][l.b] += g;
            m[l.a][l.b] -= g;
            m[l.b][l.a] -= g;
        }
        self.stream(&mut m, drive.fans);
        let vent = self.vent_w_per_k * drive.fans;
        m[RETURN_AIR][RETURN_AIR] += vent;
        rhs[RETURN_AIR] += vent * drive.fresh_c;
        rhs[if drive.fans > 0.0 { UNDER } else { RETURN_AIR }] += drive.coil_w;
        heat.coil_j = drive.coil_w * dt_s;
        *temp_c = solve(m, rhs);
        for i in 0..NODES {
            heat.outside_j += self.leak_w_per_k[i] * (drive.outside_c[i] - temp_c[i]) * dt_s;
        }
        heat.outside_j += vent * (drive.fresh_c - temp_c[RETURN_AIR]) * dt_s;
        heat
    }

    /// The round of the air: unit, under the cargo, doors, over the cargo, unit; some of it the
    /// short way. Each arrow carries heat one way only.
    fn stream(&self, m: &mut [[f64; NODES]; NODES], fans: f64) {
        let w = self.stream_w_per_k * fans;
        let arrows = [
            (RETURN_AIR, UNDER, w),
            (UNDER, DOOR_AIR, w * (1.0 - SHORT_WAY)),
            (UNDER, RETURN_AIR, w * SHORT_WAY),
            (DOOR_AIR, RETURN_AIR, w * (1.0 - SHORT_WAY)),
        ];
        for (from, to, g) in arrows {
            m[to][to] += g;
            m[to][from] -= g;
        }
    }

    /// Mean cargo temperature by mass, °C.
    #[must_use]
    pub fn cargo_mean_c(&self, temp_c: &[f64; NODES]) -> f64 {
        SHARES.iter().zip(&temp_c[NEAR..]).map(|(s, t)| s * t).sum()
    }
}

/// Paths of heat in a box of `size` (1 for 40 ft). The stow has some 100 m² of surface; air
/// passes 18 W/(m² K) with fans and 4 without, in series with half of the outer layer
/// (reference/cargo-and-box.md §3.3, an estimate there). Fresh cargo lies in vented cartons: air
/// moves through its core too. Frozen cargo is a block.
fn links(cargo: &Cargo, size: f64) -> [Link; 12] {
    let frozen = cargo.kind == crate::cargo::Kind::Frozen;
    let vented = cargo.kind == crate::cargo::Kind::Living;
    let layer = if frozen {
        14.0
    } else if vented {
        25.0
    } else {
        7.0
    };
    let series = |h: f64| h * layer / (h + layer);
    let (on, off) = (series(18.0), series(4.0));
    let core = if frozen { 220.0 } else { 90.0 };
    let through = if vented { 900.0 } else { 0.0 };
    let link = |a, b, on_w: f64, off_w: f64| Link {
        a,
        b,
        on_w_per_k: on_w * size,
        off_w_per_k: off_w * size,
    };
    [
        link(UNDER, NEAR, 30.0 * on, 30.0 * off),
        link(UNDER, FLOOR, 300.0, 60.0),
        link(RETURN_AIR, TOP, 20.0 * on, 20.0 * off),
        link(DOOR_AIR, TOP, 18.0 * on, 18.0 * off),
        link(DOOR_AIR, DOOR, 22.0 * on, 22.0 * off),
        link(UNDER, CORE, through, 6.0),
        link(NEAR, CORE, core, core),
        link(TOP, CORE, 0.7 * core, 0.7 * core),
        link(DOOR, CORE, 0.3 * core, 0.3 * core),
        link(FLOOR, NEAR, 40.0, 40.0),
        // Air creeps round when the fans stand.
        link(RETURN_AIR, DOOR_AIR, 0.0, 35.0),
        link(UNDER, RETURN_AIR, 0.0, 20.0),
    ]
}

/// Solves m·x = rhs by elimination. The matrix is diagonally dominant by construction, so no
/// pivot is needed.
fn solve(mut m: [[f64; NODES]; NODES], mut rhs: [f64; NODES]) -> [f64; NODES] {
    for k in 0..NODES {
        let pivot = m[k];
        let inv = 1.0 / pivot[k];
        for i in k + 1..NODES {
            let f = m[i][k] * inv;
            if f != 0.0 {
                for j in k..NODES {
                    m[i][j] -= f * pivot[j];
                }
                rhs[i] -= f * rhs[k];
            }
        }
    }
    for k in (0..NODES).rev() {
        let mut sum = rhs[k];
        for j in k + 1..NODES {
            sum -= m[k][j] * rhs[j];
        }
        rhs[k] = sum / m[k][k];
    }
    rhs
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cargo;

    fn outside(c: f64) -> [f64; NODES] {
        [c; NODES]
    }

    /// First law: what came in is what is stored, in every mode.
    #[test]
    fn heat_in_is_heat_stored() {
        for id in ["banana", "frozen_fish_lean", "cheese"] {
            let cargo = cargo::by_id(id).unwrap();
            let body = Body::new(cargo, 17_000.0, true, 6.0);
            let start = [3.0, 5.0, 4.0, 2.5, 1.0, 2.0, 4.0, 6.0].map(|t| t - 20.0);
            for (fans, coil_w) in [(0.0, 0.0), (0.0, 2500.0), (1.0, -6000.0), (0.4, 900.0)] {
                let mut t = start;
                let drive = Drive { fans, coil_w, outside_c: outside(30.0), fresh_c: 28.0 };
                let c = body.capacities(&t);
                let heat = body.step(&mut t, &drive, 300.0);
                let stored: f64 = (0..NODES).map(|i| c[i] * (t[i] - start[i])).sum();
                let scale = stored.abs().max(1e5);
                assert!((stored - heat.total_j()).abs() < 1e-8 * scale, "{id} {fans} {coil_w}");
            }
        }
    }

    /// GDV Container Handbook §8.4.3.1: ΔT(t) = ΔT_amb·(1 − exp(−UA·t/(m·c))) for a uniform,
    /// dead cargo without power; here the nodes are tied tightly together.
    #[test]
    fn uniform_box_without_power_warms_by_the_published_law() {
        let cargo = cargo::by_id("cheese").unwrap();
        let (mass_kg, ua) = (20_000.0, 42.0);
        let mut body = Body::new(cargo, mass_kg, true, 0.0);
        let leak: f64 = body.leak_w_per_k.iter().sum();
        body.leak_w_per_k = body.leak_w_per_k.map(|g| g * ua / leak);
        for l in &mut body.links {
            l.off_w_per_k = 1e6;
        }
        let mut t = outside(0.0);
        let drive = Drive { fans: 0.0, coil_w: 0.0, outside_c: outside(30.0), fresh_c: 30.0 };
        let capacity: f64 = body.capacities(&t).iter().sum();
        for hour in 1..=240u32 {
            for _ in 0..12 {
                body.step(&mut t, &drive, 300.0);
            }
            let law = 30.0 * (1.0 - (-ua * f64::from(hour) * 3600.0 / capacity).exp());
            let mean = body.cargo_mean_c(&t);
            assert!((mean - law).abs() < 0.01 + 0.003 * law, "{hour}: {mean} {law}");
        }
    }

    /// Hours to limits of 25 t of beef at 30 °C outside, UA 42, apparent heat capacity
    /// (reference/cargo-and-box.md §3.3 "[calc]"): −15 °C after 34.5 h, −12 °C after 78.8 h.
    #[test]
    fn frozen_beef_without_power_reaches_limits_at_the_computed_hours() {
        let cargo = cargo::by_id("frozen_meat").unwrap();
        let mut body = Body::new(cargo, 25_000.0, true, 0.0);
        let leak: f64 = body.leak_w_per_k.iter().sum();
        body.leak_w_per_k = body.leak_w_per_k.map(|g| g * 42.0 / leak);
        body.capacity_j_per_k = body.capacity_j_per_k.map(|c| c * 1e-3);
        for l in &mut body.links {
            l.off_w_per_k = 1e6;
        }
        let mut t = outside(-18.0);
        let drive = Drive { fans: 0.0, coil_w: 0.0, outside_c: outside(30.0), fresh_c: 30.0 };
        let mut want = vec![(-12.0, 78.8), (-15.0, 34.5)];
        for step in 1..2000u32 {
            body.step(&mut t, &drive, 300.0);
            if want.last().is_some_and(|(limit, _)| body.cargo_mean_c(&t) >= *limit) {
                let (limit, hours) = want.pop().unwrap();
                let seen = f64::from(step) / 12.0;
                assert!((seen / hours - 1.0).abs() < 0.02, "{limit}: {seen} {hours}");
            }
        }
        assert!(want.is_empty());
    }
}
