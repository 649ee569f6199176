//! A box and its cargo as three bodies: air (with liner and floor), cargo shell, cargo core.
//!
//! Heat comes in through the walls to the air; the air passes it to the shell and, where cartons
//! are vented, to the core; the shell conducts to the core; living cargo heats itself. Without
//! fans the air is all but still. Steps are taken by the backward Euler rule: stable for any
//! length, and what flows in is what is stored. Stratification is left out: the top and the
//! door end run ahead of the mean (GDV Container Handbook §8.4.3.1.1).

use crate::food::{self, Frozen};
use crate::prior::{Size, Stow};
use crate::respiration::Curve;

const S_PER_H: f64 = 3600.0;

/// Temperatures of the three bodies, °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Temps {
    /// Air around the cargo, with liner and floor.
    pub air_c: f64,
    /// Outer part of the cargo.
    pub shell_c: f64,
    /// Inner part of the cargo.
    pub core_c: f64,
}

impl Temps {
    /// All three at `temp_c`.
    #[must_use]
    pub fn all(temp_c: f64) -> Self {
        Self { air_c: temp_c, shell_c: temp_c, core_c: temp_c }
    }
}

/// How a cargo stores heat: constant above its freezing point, Chen's apparent heat below it
/// (from memory, unverified; reference/cargo-and-box.md §2.4).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Storage {
    /// Specific heat above freezing, kJ/kg·K.
    pub above_kj_per_kg_k: f64,
    /// Composition for heat below freezing; `None` holds the figure above for all temperatures.
    pub frozen: Option<Frozen>,
}

impl Storage {
    /// Specific heat at `temp_c`, kJ/kg·K.
    #[must_use]
    pub fn kj_per_kg_k(&self, temp_c: f64) -> f64 {
        match self.frozen {
            Some(f) if temp_c < f.freeze_c => f.apparent_kj_per_kg_k(temp_c),
            _ => self.above_kj_per_kg_k,
        }
    }
}

/// What a box and its cargo are made of.
#[derive(Debug, Clone, PartialEq)]
pub struct Body {
    /// Heat leakage, W/K.
    pub ua_w_per_k: f64,
    /// Fresh air at full fans, W/K.
    pub vent_w_per_k: f64,
    /// Air, liner and floor, J/K (0.5 to 0.8 MJ/K for 40 ft, an estimate of the reference, §3.3).
    pub air_j_per_k: f64,
    /// Mass of the cargo, kg.
    pub mass_kg: f64,
    /// How it stores heat.
    pub storage: Storage,
    /// Share of the mass that is shell.
    pub shell_share: f64,
    /// Air to shell, fans on, W/K.
    pub shell_on_w_per_k: f64,
    /// Air to shell, fans standing, W/K.
    pub shell_off_w_per_k: f64,
    /// Air to core through vented cartons, fans on, W/K; next to nothing when they stand.
    pub through_w_per_k: f64,
    /// Shell to core, W/K.
    pub inner_w_per_k: f64,
    /// Respiration; `None` for dead cargo.
    pub curve: Option<Curve>,
}

/// Factors on what is only known within an interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Factors {
    /// On the leakage.
    pub ua: f64,
    /// On the paths of heat inside.
    pub inner: f64,
    /// On the heat capacity of the cargo.
    pub capacity: f64,
    /// On the respiration.
    pub respiration: f64,
}

impl Default for Factors {
    fn default() -> Self {
        Self { ua: 1.0, inner: 1.0, capacity: 1.0, respiration: 1.0 }
    }
}

/// What happens to the air in one step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Air {
    /// It is held at this temperature at the end of the step, °C, whatever heat that takes.
    At(f64),
    /// This much heat comes from the coil: fans and heaters less cooling, W.
    Heat(f64),
    /// The unit brings it to `goal_c` as far as its cooling and heating reach.
    Goal {
        /// Where the unit brings the air around the cargo, °C.
        goal_c: f64,
        /// Most heat it can take out beyond that of its fans, W.
        cooling_w: f64,
        /// Most heat it can put in, that of its fans included, W.
        heating_w: f64,
    },
}

/// The cargo at the end of a step as straight lines of the air then.
struct Lines {
    shell: [f64; 2],
    core: [f64; 2],
}

impl Body {
    /// A box of `size` with `mass_kg` of a cargo that stands as `stow` says.
    ///
    /// Paths of heat: 15 to 25 W/m²·K with fans and 3 to 6 without on about 100 m² of stow in
    /// 40 ft, conduction 0.4 to 1.5 W/m·K inside (reference/cargo-and-box.md §3.3, an estimate
    /// there). Together they follow air about as [`Size::coupling_w_per_k`] says.
    #[must_use]
    pub fn new(size: Size, mass_kg: f64, stow: Stow, storage: Storage) -> Self {
        let part = if size.twenty { 0.5 } else { 1.0 };
        let coupling = size.coupling_w_per_k(stow).best;
        let (share, shell, through, inner) = match stow {
            Stow::Vented => (0.4, 0.55 * coupling, 0.45 * coupling, 100.0),
            Stow::Chilled => (0.45, 1.3 * coupling, 0.0, 250.0),
            Stow::Frozen => (0.4, 2.0 * coupling, 0.0, 350.0),
        };
        Self {
            ua_w_per_k: size.ua_w_per_k().best,
            vent_w_per_k: 0.0,
            air_j_per_k: 650e3 * part,
            mass_kg,
            storage,
            shell_share: share,
            shell_on_w_per_k: shell,
            shell_off_w_per_k: 320.0 * part,
            through_w_per_k: through,
            inner_w_per_k: inner * part,
            curve: None,
        }
    }

    /// The same with fresh air of `vent_m3_h`: 1 m³/h carries 0.335 W/K (1.2 kg/m³,
    /// 1.005 kJ/kg·K). Moisture is left out.
    #[must_use]
    pub fn with_vent(mut self, vent_m3_h: f64) -> Self {
        self.vent_w_per_k = 0.335 * vent_m3_h.max(0.0);
        self
    }

    /// Mean temperature of the cargo, °C.
    #[must_use]
    pub fn mean_c(&self, t: Temps) -> f64 {
        self.shell_share * t.shell_c + (1.0 - self.shell_share) * t.core_c
    }

    /// Heat capacity of the cargo at `temp_c`, J/K.
    #[must_use]
    pub fn cargo_j_per_k(&self, temp_c: f64, f: Factors) -> f64 {
        1000.0 * self.mass_kg * self.storage.kj_per_kg_k(temp_c) * f.capacity
    }

    /// Self-heating of the whole cargo at `temp_c`, W.
    #[must_use]
    pub fn respiration_w(&self, temp_c: f64, f: Factors) -> f64 {
        self.curve
            .as_ref()
            .map_or(0.0, |c| f.respiration * c.heat_w_per_t(temp_c) * self.mass_kg / 1000.0)
    }

    fn shell_w_per_k(&self, fans: f64, f: Factors) -> f64 {
        let on = self.shell_on_w_per_k * f.inner;
        let off = self.shell_off_w_per_k.min(on);
        off + (on - off) * fans
    }

    /// Heat that the air picks up in the box, W: what the spread of return over supply carries.
    #[must_use]
    pub fn load_w(&self, t: Temps, outside_c: f64, f: Factors) -> f64 {
        let walls = (self.ua_w_per_k * f.ua + self.vent_w_per_k) * (outside_c - t.air_c);
        let shell = self.shell_w_per_k(1.0, f) * (t.shell_c - t.air_c);
        let through = self.through_w_per_k * f.inner * (t.core_c - t.air_c);
        walls + shell + through
    }

    /// Heat that comes in while the cargo keeps its temperature, W: walls, fresh air, breath.
    #[must_use]
    pub fn steady_load_w(&self, mean_c: f64, outside_c: f64, f: Factors) -> f64 {
        (self.ua_w_per_k * f.ua + self.vent_w_per_k) * (outside_c - mean_c)
            + self.respiration_w(mean_c, f)
    }

    fn lines(&self, t: Temps, fans: f64, f: Factors, dt_s: f64) -> Lines {
        let g = self.shell_w_per_k(fans, f);
        let h = self.through_w_per_k * f.inner * fans;
        let k = self.inner_w_per_k * f.inner;
        let (s, c) = (self.shell_share, 1.0 - self.shell_share);
        let cs = s * self.cargo_j_per_k(t.shell_c, f) / dt_s;
        let cc = c * self.cargo_j_per_k(t.core_c, f) / dt_s;
        let (rs, rc) = match self.curve {
            Some(_) => (s * self.respiration_w(t.shell_c, f), c * self.respiration_w(t.core_c, f)),
            None => (0.0, 0.0),
        };
        // | cs+g+k   -k    | |shell|   | cs·shell + rs + g·air |
        // |  -k    cc+h+k  | |core | = | cc·core  + rc + h·air |
        let (a, d) = (cs + g + k, cc + h + k);
        let det = a * d - k * k;
        let (p, q) = (cs * t.shell_c + rs, cc * t.core_c + rc);
        Lines {
            shell: [(d * p + k * q) / det, (d * g + k * h) / det],
            core: [(a * q + k * p) / det, (a * h + k * g) / det],
        }
    }

    /// One step of `dt_h` hours with the fans turning at the share `fans`.
    #[must_use]
    pub fn step(
        &self,
        t: Temps,
        fans: f64,
        air: Air,
        outside_c: f64,
        f: Factors,
        dt_h: f64,
    ) -> Temps {
        let dt_s = dt_h * S_PER_H;
        let lines = self.lines(t, fans, f, dt_s);
        let at = |air_c: f64| Temps {
            air_c,
            shell_c: lines.shell[0] + lines.shell[1] * air_c,
            core_c: lines.core[0] + lines.core[1] * air_c,
        };
        if let Air::At(air_c) = air {
            return at(air_c);
        }
        // Balance of the air: own·air = rest + heat.
        let g = self.shell_w_per_k(fans, f);
        let h = self.through_w_per_k * f.inner * fans;
        let walls = self.ua_w_per_k * f.ua + self.vent_w_per_k * fans;
        let ca = self.air_j_per_k / dt_s;
        let own = ca + walls + g * (1.0 - lines.shell[1]) + h * (1.0 - lines.core[1]);
        let rest = ca * t.air_c + walls * outside_c + g * lines.shell[0] + h * lines.core[0];
        match air {
            Air::At(air_c) => at(air_c),
            Air::Heat(w) => at((rest + w) / own),
            Air::Goal { goal_c, cooling_w, heating_w } => {
                let needed = own * goal_c - rest;
                at((rest + needed.clamp(-cooling_w, heating_w.max(-cooling_w))) / own)
            }
        }
    }

    /// `hours` of steps of at most `longest_h`.
    #[must_use]
    pub fn run(
        &self,
        mut t: Temps,
        fans: f64,
        air: Air,
        outside_c: f64,
        f: Factors,
        (hours, longest_h): (f64, f64),
    ) -> Temps {
        let steps = (hours / longest_h).ceil().clamp(1.0, 10_000.0);
        for _ in 0..steps as usize {
            t = self.step(t, fans, air, outside_c, f, hours / steps);
        }
        t
    }
}

/// Heat storage of a chilled cargo, freezing included where its freezing point is known: the
/// water that goes with its specific heat by Siebel's form.
#[must_use]
pub fn chilled_storage(kj_per_kg_k: f64, freeze_c: Option<f64>) -> Storage {
    let water = ((kj_per_kg_k - 0.84) / (4.19 - 0.84)).clamp(0.3, 0.95);
    let frozen =
        freeze_c.filter(|f| *f < -0.05).map(|freeze_c| Frozen { water, protein: 0.02, freeze_c });
    Storage { above_kj_per_kg_k: kj_per_kg_k, frozen }
}

/// Heat storage of a frozen cargo.
#[must_use]
pub fn frozen_storage(food: Frozen) -> Storage {
    let above = food::siebel_above_kj_per_kg_k(100.0 * food.water);
    Storage { above_kj_per_kg_k: above, frozen: Some(food) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::food::BEEF;
    use units::math;

    fn constant(c: f64) -> Storage {
        Storage { above_kj_per_kg_k: c, frozen: None }
    }

    /// The three bodies tied together: GDV's closed form must come out.
    fn tied(ua: f64, mass_kg: f64, storage: Storage) -> Body {
        let size = Size { twenty: false, high_cube: true };
        let body = Body::new(size, mass_kg, Stow::Frozen, storage);
        Body {
            ua_w_per_k: ua,
            air_j_per_k: 1.0,
            shell_on_w_per_k: 1e7,
            shell_off_w_per_k: 1e7,
            inner_w_per_k: 1e7,
            ..body
        }
    }

    /// reference/cargo-and-box.md §3.3, first table, cargo mean after 6, 12, 24 and 48 h.
    #[test]
    fn tied_together_it_is_the_published_lump() {
        let rows = [
            (42.0, 25.0, 1.7, -18.0, 30.0, [-17.0, -16.0, -14.1, -10.5]),
            (42.0, 25.0, 1.7, -18.0, 40.0, [-16.8, -15.6, -13.3, -8.9]),
            (22.0, 20.0, 1.7, -18.0, 30.0, [-17.3, -16.7, -15.4, -12.9]),
            (42.0, 20.0, 3.6, 0.0, 30.0, [0.38, 0.75, 1.47, 2.88]),
        ];
        for (ua, mass_t, c, start, outside, printed) in rows {
            let body = tied(ua, 1000.0 * mass_t, constant(c));
            for (h, want) in [6.0, 12.0, 24.0, 48.0].into_iter().zip(printed) {
                let t = Temps::all(start);
                let f = Factors::default();
                let got = body.mean_c(body.run(t, 0.0, Air::Heat(0.0), outside, f, (h, 0.1)));
                let half: f64 = if start == 0.0 { 0.0055 } else { 0.055 };
                assert!((got - want).abs() <= half, "{ua} {h}: {got} {want}");
            }
        }
    }

    /// Same place, second table: 25 t beef, UA 42, 30 °C outside, apparent heat capacity.
    #[test]
    fn melting_beef_takes_the_computed_hours() {
        let body = tied(42.0, 25_000.0, frozen_storage(BEEF));
        let mut t = Temps::all(-18.0);
        let mut want = vec![(-8.0, 172.0), (-10.0, 118.0), (-12.0, 78.8), (-15.0, 34.5)];
        let mut h: f64 = 0.0;
        while h < 180.0 && !want.is_empty() {
            t = body.step(t, 0.0, Air::Heat(0.0), 30.0, Factors::default(), 0.25);
            h += 0.25;
            if let Some((limit, hours)) = want.last().copied()
                && body.mean_c(t) >= limit
            {
                let off: f64 = h / hours - 1.0;
                assert!(off.abs() < 0.015, "{limit}: {h} {hours}");
                want.pop();
            }
        }
        assert!(want.is_empty());
    }

    /// First law: leakage and coil heat in, stored heat up; in every mode.
    #[test]
    fn what_flows_in_is_stored() {
        let size = Size { twenty: false, high_cube: true };
        let body = Body::new(size, 20_000.0, Stow::Vented, constant(3.6)).with_vent(25.0);
        let f = Factors::default();
        let t = Temps { air_c: 3.0, shell_c: 4.0, core_c: 6.0 };
        for (fans, w) in [(1.0, -3000.0), (0.0, 0.0), (1.0, 900.0)] {
            let next = body.step(t, fans, Air::Heat(w), 30.0, f, 0.5);
            let stored = body.air_j_per_k * (next.air_c - t.air_c)
                + body.cargo_j_per_k(4.0, f) * (body.mean_c(next) - body.mean_c(t));
            let walls = body.ua_w_per_k + body.vent_w_per_k * fans;
            let came = (walls * (30.0 - next.air_c) + w) * 1800.0;
            assert!((stored - came).abs() < 1e-6 * came.abs().max(1e6), "{stored} {came}");
        }
    }

    /// A unit that reaches its goal holds it; one that cannot does what it can.
    #[test]
    fn a_unit_does_what_it_can() {
        let size = Size { twenty: false, high_cube: true };
        let body = Body::new(size, 20_000.0, Stow::Vented, constant(3.6));
        let t = Temps::all(5.0);
        let f = Factors::default();
        let goal = |cooling_w| Air::Goal { goal_c: 4.0, cooling_w, heating_w: 0.0 };
        let strong = body.step(t, 1.0, goal(8000.0), 30.0, f, 1.0);
        assert!((strong.air_c - 4.0).abs() < 1e-9);
        let weak = body.step(t, 1.0, goal(500.0), 30.0, f, 1.0);
        let by_heat = body.step(t, 1.0, Air::Heat(-500.0), 30.0, f, 1.0);
        assert!((weak.air_c - by_heat.air_c).abs() < 1e-9 && weak.air_c > 4.0);
    }

    /// Cargo behind a step of air: both bodies follow, the mean by a textbook lag when the
    /// inside is well tied.
    #[test]
    fn cargo_lags_behind_air() {
        let mut body = tied(0.0, 20_000.0, constant(3.6));
        body.shell_on_w_per_k = 2000.0;
        let f = Factors::default();
        let mut t = Temps::all(0.0);
        for _ in 0..400 {
            t = body.step(t, 1.0, Air::At(5.0), 30.0, f, 0.05);
        }
        let tau_h = 20_000.0 * 3600.0 / 2000.0 / 3600.0;
        let want = 5.0 * (1.0 - math::exp(-20.0 / tau_h));
        assert!((body.mean_c(t) - want).abs() < 0.02, "{} {want}", body.mean_c(t));
    }
}
