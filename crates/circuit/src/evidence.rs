//! What the readings would be for one hypothesis about one unit, and how they err.
//!
//! Everything that is not known about a unit is a number with a standard normal prior: its place
//! in the card's scatter, the contact of the clamps, the true air temperatures, the severity of
//! the fault. A uniform quantity is the normal one seen through the normal distribution.

use units::temperature::ZERO_C_K;

use crate::card::Card;
use crate::cycle::Cycle;
use crate::fault::Fault;
use crate::normal::below;
use crate::plant::{Conditions, Plant, SCATTERS, Scatter, scatter};
use crate::reading::{Key, Mode, READINGS};
use crate::solve::{NoSolution, Solved, from_sound, newton, solve};

/// Number of hidden quantities.
pub const HIDDEN: usize = 16;
/// Places of the hidden quantities after the unit's scatter.
pub const CONTACT: usize = scatter::THERMAL;
/// True return air.
pub const RETURN: usize = 12;
/// True ambient air.
pub const AMBIENT: usize = 13;
/// Severity of the fault.
pub const SEVERITY: usize = 14;
/// How far control has closed the throttle; or, where it has not, the second fault's severity.
pub const THROTTLE: usize = 15;

/// The hidden quantities.
pub type Hidden = [f64; HIDDEN];

/// What could be measured: the readings, and two that are no input key.
pub const SEEN: usize = READINGS + 2;
/// Temperature before less after the drier, K.
pub const DRIER: usize = READINGS;
/// Pressure of the standing circuit above saturation, kPa.
pub const STANDING: usize = READINGS + 1;
/// Values of all that could be measured.
pub type Seen = [f64; SEEN];

/// Severity is even between these (contract §4, fine print 6).
pub const SEVERITY_FROM: f64 = 0.2;
/// The upper end.
pub const SEVERITY_TO: f64 = 0.7;
/// Largest control closing of the throttle: share of the evaporating pressure it drops.
const CONTROL_MOST: f64 = 0.9;

/// How the instruments at hand err.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Noise {
    /// Half widths of the gauges' error, kPa: suction, discharge, liquid.
    pub gauge_half_kpa: [f64; 3],
    /// Barometer, kPa.
    pub barometer_kpa: f64,
    /// Its standard deviation, kPa; 0 when it was read.
    pub weather_kpa: f64,
    /// Thermometer, K.
    pub thermometer_k: f64,
    /// Largest contact error of a clamp.
    pub contact: f64,
    /// Current, share: instrument, motor and voltage together.
    pub current: f64,
}

/// What is the same for every hypothesis.
#[derive(Debug, Clone)]
pub struct Scene<'a> {
    /// The card.
    pub card: &'a Card,
    /// Mode.
    pub mode: Mode,
    /// Whether control may have closed the throttle.
    pub modulated: bool,
    /// Return air: reading or a guess, and its standard deviation, K.
    pub return_c: (f64, f64),
    /// Ambient likewise.
    pub ambient_c: (f64, f64),
    /// The readings.
    pub read: [Option<f64>; READINGS],
    /// How they err.
    pub noise: Noise,
    /// What earlier readings told of this unit's scatter: mean and lower factor, row-major.
    pub known: Option<Known>,
}

/// A unit's scatter as earlier readings showed it.
#[derive(Debug, Clone)]
pub struct Known {
    /// Mean of the hidden scatter.
    pub mean: [f64; scatter::THERMAL],
    /// Lower factor of its covariance.
    pub factor: [[f64; scatter::THERMAL]; scatter::THERMAL],
}

/// One thing that may be so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hypothesis {
    /// The fault.
    pub fault: Fault,
    /// The sensor that is off, and the sign.
    pub offset: Option<(Key, f64)>,
    /// What really runs in it.
    pub fluid: Option<&'static str>,
    /// A second fault beside the first; only where control has not closed the throttle.
    pub second: Option<Fault>,
}

impl Hypothesis {
    /// A fault of the machine, or none.
    #[must_use]
    pub fn of(fault: Fault) -> Self {
        Self { fault, offset: None, fluid: None, second: None }
    }

    /// Whether the severity plays a part.
    #[must_use]
    pub fn has_severity(&self) -> bool {
        self.fault != Fault::None && self.fault != Fault::WrongRefrigerant
    }
}

/// The hidden quantities in plain terms.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plain {
    /// Conditions.
    pub at: Conditions,
    /// The unit.
    pub unit: Scatter,
    /// Contact error of the clamps.
    pub contact: f64,
    /// Severity.
    pub severity: f64,
    /// Severity of a second fault.
    pub second: f64,
    /// Share of pressure that control drops at the throttle.
    pub control: f64,
}

/// A solved hypothesis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Run {
    /// The machine without the fault (the same as `faulty` where it plays no part).
    pub sound: Solved,
    /// The machine.
    pub faulty: Solved,
    /// What would be read.
    pub seen: Seen,
}

impl Scene<'_> {
    /// Hidden quantities in plain terms.
    #[must_use]
    pub fn plain(&self, h: &Hypothesis, z: &Hidden) -> Plain {
        let mut raw = [0.0; scatter::THERMAL];
        raw.copy_from_slice(&z[..scatter::THERMAL]);
        if let Some(k) = &self.known {
            let white = raw;
            for (i, out) in raw.iter_mut().enumerate() {
                let row = &k.factor[i];
                let sum: f64 = row.iter().zip(&white).map(|(f, w)| f * w).sum();
                *out = k.mean[i] + sum;
            }
        }
        let mut unit = [0.0; SCATTERS];
        for (u, r) in unit.iter_mut().zip(raw) {
            *u = 2.0 * below(r) - 1.0;
        }
        let severity = SEVERITY_FROM + (SEVERITY_TO - SEVERITY_FROM) * below(z[SEVERITY]);
        let mut return_c = self.return_c.0 + self.return_c.1 * z[RETURN];
        if let Some((Key::Return, sign)) = h.offset {
            return_c -= sign * self.card.faults.sensor_offset_k * severity;
        }
        let ambient_c = self.ambient_c.0 + self.ambient_c.1 * z[AMBIENT];
        Plain {
            at: Conditions { mode: self.mode, return_c, ambient_c },
            unit,
            contact: self.noise.contact * below(z[CONTACT]),
            severity,
            second: SEVERITY_FROM + (SEVERITY_TO - SEVERITY_FROM) * below(z[THROTTLE]),
            control: if self.modulated { CONTROL_MOST * below(z[THROTTLE]) } else { 0.0 },
        }
    }

    /// Whether the hypothesis is worked out from the sound machine.
    pub(crate) fn needs_sound(&self, h: &Hypothesis) -> bool {
        h.fault.needs_sound() || h.second.is_some_and(Fault::needs_sound) || self.modulated
    }

    /// The machine without the fault.
    pub(crate) fn sound_plant(&self, h: &Hypothesis, p: &Plain) -> Result<Plant<'_>, NoSolution> {
        let mut plant = Plant::sound(self.card, &p.at, &p.unit)?;
        if let Some(name) = h.fluid {
            plant.fill_with(fluids::Refrigerant::named(name)?);
        }
        Ok(plant)
    }

    /// Puts fault and control into a sound machine; `part` of the way.
    pub(crate) fn change(
        &self,
        h: &Hypothesis,
        p: &Plain,
        part: f64,
        plant: &mut Plant<'_>,
        sound: &Cycle,
    ) {
        if h.offset.is_none() {
            h.fault.put(p.severity * part, plant, self.card, sound);
        }
        if let Some(second) = h.second {
            second.put(p.second * part, plant, self.card, sound);
        }
        if self.modulated && p.control > 0.0 {
            let stuck = plant.throttle;
            plant.close_throttle(p.control * part, sound);
            plant.throttle = plant.throttle.max(stuck);
        }
    }

    /// Solves a hypothesis from scratch, or from a run close by.
    pub fn run(&self, h: &Hypothesis, z: &Hidden, near: Option<&Run>) -> Result<Run, NoSolution> {
        let p = self.plain(h, z);
        let plant = self.sound_plant(h, &p)?;
        let needs = self.needs_sound(h);
        let changed = |sound: &Cycle| {
            let mut q = plant.clone();
            self.change(h, &p, 1.0, &mut q, sound);
            q
        };
        if let Some(near) = near {
            let sound = if needs { newton(&plant, &near.sound.x) } else { Ok(near.sound) };
            if let Ok(sound) = sound
                && let Ok(faulty) = newton(&changed(&sound.cycle), &near.faulty.x)
            {
                let sound = if needs { sound } else { faulty };
                return Ok(Run { sound, faulty, seen: self.seen(h, &p, &faulty.cycle) });
            }
        }
        let sound = solve(&plant)?;
        let faulty =
            from_sound(&plant, &sound, |part, q| self.change(h, &p, part, q, &sound.cycle))?;
        let sound = if needs { sound } else { faulty };
        Ok(Run { sound, faulty, seen: self.seen(h, &p, &faulty.cycle) })
    }

    /// What would be read of a cycle, without the instruments' own errors.
    #[must_use]
    pub fn seen(&self, h: &Hypothesis, p: &Plain, c: &Cycle) -> Seen {
        let ambient = p.at.ambient_c;
        let pipe = |t_k: f64| {
            let t = t_k - ZERO_C_K;
            t + p.contact * (ambient - t)
        };
        let gauge = |pa: f64| pa / 1e3 - self.noise.barometer_kpa;
        let mut y = [
            gauge(c.ps_pa),
            gauge(c.pt_pa),
            gauge(c.liquid_pa),
            pipe(c.t_bulb_k),
            pipe(c.t_suction_k),
            pipe(c.t_discharge_k),
            pipe(c.t_liquid_k),
            pipe(c.t_condenser_out_k),
            c.t_supply_k - ZERO_C_K,
            p.at.return_c,
            ambient,
            c.current_a,
            (c.t_subcooled_k - c.t_liquid_k) * (1.0 - p.contact),
            (c.pt_pa - c.pc_pa) / 1e3 + self.identity_gap_kpa(h, ambient),
        ];
        if let Some((key, sign)) = h.offset {
            y[key.index()] += sign * self.card.faults.sensor_offset_k * p.severity;
        }
        y
    }

    /// What another fluid's saturation pressure differs by at this temperature, kPa.
    fn identity_gap_kpa(&self, h: &Hypothesis, t_c: f64) -> f64 {
        let sat = |name: &str| {
            let f = fluids::Refrigerant::named(name).ok()?;
            f.p_sat_pa(t_c + ZERO_C_K, fluids::Side::Bubble).ok()
        };
        match h.fluid {
            Some(name) => match (sat(name), sat(&self.card.fluid)) {
                (Some(a), Some(b)) => (a - b) / 1e3,
                _ => 0.0,
            },
            None => 0.0,
        }
    }

    /// Variances of the instruments' own errors, as if all were normal, with `doubt` about the
    /// card's structure: relative on pressures and current, K on temperatures.
    #[must_use]
    pub fn variances(&self, doubt: Doubt) -> Seen {
        let n = &self.noise;
        let t = sq(n.thermometer_k) + sq(doubt.temperature_k);
        let read = |k: Key| self.read.get(k.index()).copied().flatten();
        let gauge = |i: usize, k: Key| {
            let p = read(k).unwrap_or(if i == 0 { 100.0 } else { 1300.0 }) + n.barometer_kpa;
            sq(n.gauge_half_kpa[i]) / 3.0 + sq(n.weather_kpa) + sq(doubt.pressure * p)
        };
        let amps = read(Key::Current).unwrap_or(9.0);
        let mut v = [t; SEEN];
        v[0] = gauge(0, Key::Suction);
        v[1] = gauge(1, Key::Discharge);
        v[2] = gauge(2, Key::Liquid);
        v[Key::Current.index()] = (sq(n.current) + sq(doubt.current)) * sq(amps);
        v[DRIER] = 2.0 * t;
        // The suction gauge will do for a standing circuit; 20 kPa/K is a liquid's slope.
        v[STANDING] = sq(n.gauge_half_kpa[1]) / 3.0 + sq(20.0 * n.thermometer_k);
        v
    }

    /// Which readings are compared: those given, but the air temperatures that set the scene.
    #[must_use]
    pub fn compared(&self) -> Vec<usize> {
        let scene = [Key::Return.index(), Key::Ambient.index()];
        (0..READINGS).filter(|i| self.read[*i].is_some() && !scene.contains(i)).collect()
    }
}

/// How far a real machine may stand off the card's equations.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Doubt {
    /// Share of a pressure.
    pub pressure: f64,
    /// K.
    pub temperature_k: f64,
    /// Share of the current.
    pub current: f64,
}

impl Doubt {
    /// The card is right.
    pub const NONE: Self = Self { pressure: 0.0, temperature_k: 0.0, current: 0.0 };
}

fn sq(x: f64) -> f64 {
    x * x
}
