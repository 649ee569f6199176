//! One simulated hold as a person would have it, and how a judgement of it counts.

use vacuum::{FreeWater, Judgement, PA_PER_UM, Reading, Setup, Verdict, judge};

use crate::physics::{self, Chance, Dice, Truth, simulate};

/// Steps of the display, µm.
pub const STEPS_UM: [f64; 3] = [1.0, 10.0, 50.0];

/// Water in a simulated hold.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Water {
    None,
    Bound,
    Free,
}

/// One simulated hold.
pub struct Case {
    /// The right verdict.
    pub right: Verdict,
    /// Whether undecided is right as well (outgassing: contract §5, fine print 4).
    pub either: bool,
    /// True steady rise, µm/min.
    pub rise: f64,
    /// True water.
    pub water: Water,
    /// What the moisture tends to, Pa.
    pub plateau_pa: Option<f64>,
    pub readings: Vec<Reading>,
    pub setup: Setup,
    /// True relative noise.
    pub noise: f64,
}

impl Case {
    pub fn new(
        right: Verdict,
        rise: f64,
        water: Water,
        plateau_pa: Option<f64>,
        coldest_c: Option<f64>,
        noise: f64,
        d: &mut Dice,
    ) -> Self {
        let setup = Setup {
            volume_m3: Some(0.015),
            coldest_c,
            fluid: None,
            resolution_um: STEPS_UM[d.pick(3)],
        };
        Self { right, either: false, rise, water, plateau_pa, readings: Vec::new(), setup, noise }
    }

    /// Reads a curve, µm of seconds, at the times given.
    pub fn read(&mut self, times_s: &[f64], curve: impl Fn(f64) -> f64, d: &mut Dice) {
        let step = self.setup.resolution_um;
        for t_s in times_s {
            let p = curve(*t_s) * (1.0 + self.noise * d.normal());
            let seen = (p / step).round().max(0.0) * step;
            self.readings.push(Reading { t_s: t_s.floor(), pressure_pa: seen * PA_PER_UM });
        }
    }

    /// What is said of its first minutes.
    pub fn until(&self, minutes: f64) -> Judgement {
        let early = |r: &Reading| r.t_s <= minutes * 60.0;
        let readings: Vec<Reading> = self.readings.iter().copied().filter(early).collect();
        judge(&readings, &self.setup)
    }

    /// Whether a leak beside moisture raises the plateau by less than a fifth in 30 min.
    pub fn hidden(&self) -> bool {
        self.plateau_pa.is_some_and(|p| self.rise * 30.0 * PA_PER_UM < 0.2 * p)
    }
}

/// A hold of the physical simulator.
pub fn physical(truth: Truth, d: &mut Dice) -> Case {
    let sim = simulate(truth, d, 3600.0, 1.0);
    let noise = d.between(0.01, 0.05);
    let usual_s = d.between(8.0, 40.0);
    let mut times = Vec::new();
    let mut t = 0.0_f64;
    while t <= 3600.0 {
        times.push(t);
        // Now and then nobody reads for a while.
        let gap = if d.pick(25) == 0 { 4.0 } else { 1.0 };
        t += gap * usual_s * d.between(0.4, 1.6);
    }
    let told = d.pick(10) < 7;
    let coldest_c = told.then(|| sim.coldest_c + 0.4 * d.normal());
    let right = match truth {
        Truth::Dry | Truth::Outgassing => Verdict::DryAndGrossTight,
        Truth::WetLiquid | Truth::WetIce | Truth::WetSorbed => Verdict::Wet,
        Truth::LeakSmall | Truth::LeakLarge => Verdict::Leaking,
        Truth::WetAndLeaking => Verdict::WetAndLeaking,
    };
    let water = match truth {
        Truth::WetLiquid | Truth::WetIce => Water::Free,
        Truth::WetSorbed => Water::Bound,
        Truth::WetAndLeaking if sim.sorbed => Water::Bound,
        Truth::WetAndLeaking => Water::Free,
        _ => Water::None,
    };
    let mut c = Case::new(right, sim.rise, water, sim.plateau_pa, coldest_c, noise, d);
    c.either = truth == Truth::Outgassing;
    let at = |t: f64| sim.gauge.get(t as usize).copied().unwrap_or(0.0) / physics::UM;
    c.read(&times, at, d);
    c
}

/// Counts of judgements.
#[derive(Clone, Copy, Default)]
pub struct Tally {
    pub n: u32,
    pub right: u32,
    pub undecided: u32,
    pub wrong: u32,
    rises: u32,
    covered: u32,
    water_wrong: u32,
    decided_as: [u32; 4],
}

impl Tally {
    pub fn add(&mut self, c: &Case, j: &Judgement) {
        self.count(c.right, j.verdict);
        if let Some(r) = j.rise_um_min {
            self.rises += 1;
            self.covered += u32::from(r.p90[0] <= c.rise && c.rise <= r.p90[1]);
        }
        let bad = (c.water == Water::Free && j.free_water == FreeWater::No)
            || (c.water != Water::Free && j.free_water == FreeWater::Yes);
        self.water_wrong += u32::from(bad);
    }

    pub fn count(&mut self, right: Verdict, said: Verdict) {
        self.n += 1;
        match said {
            Verdict::Undecided => self.undecided += 1,
            v if v == right => self.right += 1,
            _ => self.wrong += 1,
        }
        let place = match said {
            Verdict::DryAndGrossTight => 0,
            Verdict::Wet => 1,
            Verdict::Leaking => 2,
            Verdict::WetAndLeaking => 3,
            Verdict::Undecided => return,
        };
        self.decided_as[place] += 1;
    }

    pub fn print(&self, name: &str) {
        let pct = |k: u32| 100.0 * f64::from(k) / f64::from(self.n.max(1));
        println!(
            "| {name} | {} | {:.1} | {:.1} | {:.1} | {:.1} | {:.1} | {:?} |",
            self.n,
            pct(self.right),
            pct(self.undecided),
            pct(self.wrong),
            100.0 * f64::from(self.covered) / f64::from(self.rises.max(1)),
            pct(self.water_wrong),
            self.decided_as,
        );
    }

    pub fn join(tallies: &[Self]) -> Self {
        let mut all = Self::default();
        for t in tallies {
            all.n += t.n;
            all.right += t.right;
            all.undecided += t.undecided;
            all.wrong += t.wrong;
            all.rises += t.rises;
            all.covered += t.covered;
            all.water_wrong += t.water_wrong;
            for (a, b) in all.decided_as.iter_mut().zip(t.decided_as) {
                *a += b;
            }
        }
        all
    }
}
