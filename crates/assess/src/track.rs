//! The cargo's own temperature: read by probes, or following the air.

use box_model::food;
use box_model::prior::Stow;
use box_model::respiration::Curve;
use box_model::{Capacity, Cargo, Category, Course, Estimate, Lump, SelfHeat};
use record::{Channel, Reading};
use units::Utc;

use crate::air::without_power;
use crate::ground::{Control, Ground};
use crate::robust;
use crate::rules::set_point;

/// Probes give the cargo's mean to about this much (they sit in a few boxes). Our estimate.
const PROBE_HALF_K: f64 = 0.6;
/// Cargo told from air alone, chilled and frozen. Our estimate.
const AIR_HALF_K: [f64; 2] = [0.9, 1.4];
/// What is not known of the cargo before the first air reading. Our estimate.
const START_HALF_K: f64 = 2.5;

/// Heat of the fans in the box, W (reference/cargo-and-box.md §3.2, from memory, unverified).
pub const FAN_W: [f64; 3] = [300.0, 800.0, 1800.0];
/// Heat of fans and heaters when a unit warms its box, W. Our estimate.
pub const HEATER_W: [f64; 3] = [2500.0, 4500.0, 7000.0];

/// A knob of the box model that is known only within an interval.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Knob {
    /// Heat leakage.
    Leakage,
    /// Cargo mass.
    Mass,
    /// Specific heat.
    SpecificHeat,
    /// Respiration.
    Respiration,
}

impl Knob {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Leakage, Self::Mass, Self::SpecificHeat, Self::Respiration];
}

/// What is assumed of one box and its cargo.
pub struct Priors {
    leakage: Estimate,
    mass_kg: Estimate,
    specific_heat: Estimate,
    respiration: Estimate,
    curve: Option<Curve>,
    /// Air to cargo, fans on, W/K.
    pub coupling_w_per_k: Estimate,
    /// Composition for apparent heat, for frozen cargo.
    pub frozen: Option<food::Frozen>,
}

impl Priors {
    /// From the list's size, weight and cargo.
    pub fn of(g: &Ground<'_>) -> Self {
        let cargo = heaviest_breather(g);
        let is_frozen = match cargo {
            Some(c) => c.category == Category::Frozen,
            None => g.control == Some(Control::Frozen),
        };
        let curve = match cargo {
            Some(c) => Curve::of(c),
            None => g.living().then(Curve::assumed),
        };
        Self {
            leakage: g.size.ua_w_per_k(),
            mass_kg: g.size.payload_kg(g.listed.and_then(|l| l.weight_kg)),
            specific_heat: if is_frozen {
                food::frozen_kj_per_kg_k()
            } else {
                food::chilled_kj_per_kg_k(cargo)
            },
            respiration: curve.as_ref().map_or(Estimate::plus_minus(1.0, 0.0), Curve::scale),
            coupling_w_per_k: g.size.coupling_w_per_k(match (is_frozen, curve.is_some()) {
                (true, _) => Stow::Frozen,
                (false, true) => Stow::Vented,
                (false, false) => Stow::Chilled,
            }),
            curve,
            frozen: is_frozen.then(|| food::composition(cargo)),
        }
    }

    /// The 90 % interval of a knob.
    pub fn knob(&self, knob: Knob) -> Estimate {
        match knob {
            Knob::Leakage => self.leakage,
            Knob::Mass => self.mass_kg,
            Knob::SpecificHeat => self.specific_heat,
            Knob::Respiration => self.respiration,
        }
    }

    /// The cargo as a lump, one knob set to a value of its interval.
    pub fn lump(&self, varied: Option<(Knob, f64)>) -> Lump<'_> {
        let get = |knob: Knob| match varied {
            Some((k, v)) if k == knob => v,
            _ => self.knob(knob).best,
        };
        Lump {
            ua_w_per_k: get(Knob::Leakage),
            mass_kg: get(Knob::Mass),
            capacity: Capacity::Constant(get(Knob::SpecificHeat)),
            self_heat: self.curve.as_ref().map_or(SelfHeat::None, |curve| SelfHeat::Curve {
                curve,
                scale: get(Knob::Respiration),
            }),
            extra_w: 0.0,
        }
    }

    /// The cargo as it is, not as the early warning takes it: frozen cargo with the heat that
    /// its melting ice takes up.
    fn true_capacity(&self) -> Lump<'_> {
        let lump = self.aired(None);
        match self.frozen {
            Some(food) => Lump { capacity: Capacity::Apparent(food), ..lump },
            None => lump,
        }
    }

    /// Heat that can come in while the fans turn: leakage, respiration and `extra_w`, W.
    pub fn heat_in_w(
        &self,
        varied: Option<(Knob, f64)>,
        temp_c: f64,
        ambient_c: f64,
        extra_w: f64,
    ) -> f64 {
        self.lump(varied).heat_w(temp_c, ambient_c).max(0.0) + extra_w
    }

    /// The cargo behind moving air. What it breathes out as heat, the air has already taken up
    /// when it is read, so it is not counted again.
    pub fn aired(&self, varied: Option<(Knob, f64)>) -> Lump<'_> {
        Lump { self_heat: SelfHeat::None, ..self.lump(varied) }
    }
}

/// Of several cargoes it may be, the one that heats itself most.
fn heaviest_breather<'a>(g: &Ground<'a>) -> Option<&'a Cargo> {
    let at_c = g.set_c().unwrap_or(10.0);
    let heat = |c: &Cargo| Curve::of(c).map_or(0.0, |k| k.heat_w_per_t(at_c));
    let mut best: Option<&'a Cargo> = None;
    for c in &g.cargo.candidates {
        if best.is_none_or(|b| heat(c) > heat(b)) {
            best = Some(c);
        }
    }
    best
}

/// Cargo temperature at an instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CargoAt {
    /// When.
    pub at: Utc,
    /// Mean temperature, °C.
    pub temp_c: f64,
    /// Half of its 90 % interval, K.
    pub half_k: f64,
    /// Told by probes rather than from the air.
    pub by_probes: bool,
}

/// The middle of the sane probes of one reading.
pub fn probes_c(r: &Reading) -> Option<f64> {
    let mut all: Vec<f64> = Channel::PROBES.into_iter().filter_map(|c| r.sane_c(c)).collect();
    robust::median(&mut all)
}

/// Cargo at the last evidence of it: the last probe reading, or the air followed to the last
/// judged reading. In a loss of power that is the state when power was lost, unless probes were
/// read since; the loss is put midway between the last reading with power and the first without.
pub fn cargo_now(g: &Ground<'_>, priors: &Priors) -> Option<CargoAt> {
    let mut now: Option<CargoAt> = None;
    let air = steadied(g);
    let mut air = air.iter().peekable();
    let mut last_air: Option<f64> = None;
    for r in &g.rows {
        while let Some((at, air_c)) = air.next_if(|(at, _)| *at <= r.at) {
            now = Some(followed(g, priors, now, last_air, (*at, *air_c)));
            last_air = Some(*air_c);
        }
        if let Some(temp_c) = probes_c(r) {
            now = Some(CargoAt { at: r.at, temp_c, half_k: PROBE_HALF_K, by_probes: true });
        }
    }
    let lost = g.power_lost();
    let now = now.or_else(|| at_set_point(g))?;
    Some(match lost {
        Some(s) if now.at < s.from => {
            CargoAt { at: s.seen_on.map_or(s.from, |on| midway(on.max(now.at), s.from)), ..now }
        }
        _ => now,
    })
}

fn midway(a: Utc, b: Utc) -> Utc {
    a.plus_hours(0.5 * b.hours_since(a))
}

/// Nothing but the set point to go by.
fn at_set_point(g: &Ground<'_>) -> Option<CargoAt> {
    let temp_c = g.set_c()?;
    let first = g.rows.first()?;
    Some(CargoAt { at: first.at, temp_c, half_k: START_HALF_K, by_probes: false })
}

/// A last reading that jumped by more than this is not believed of the cargo until another
/// says the same. Our estimate.
const JUMP_K: f64 = 3.0;

/// Air around the cargo, each reading the middle of itself and its neighbours: a slip of the
/// pen or an unnoted defrost moves no cargo.
fn steadied(g: &Ground<'_>) -> Vec<(Utc, f64)> {
    let control = g.control.unwrap_or(Control::Chilled);
    let air = g.judged.iter().filter_map(|j| Some((j.at, j.around_cargo_c(control)?)));
    let air: Vec<(Utc, f64)> = air.collect();
    let at = |i: Option<usize>| i.and_then(|i| air.get(i)).map(|(_, c)| *c);
    let steady = |(i, (when, this)): (usize, &(Utc, f64))| {
        let (before, after) = (at(i.checked_sub(1)), at(i.checked_add(1)));
        let air_c = match (before, after) {
            (Some(b), Some(a)) => robust::median(&mut [b, *this, a]).unwrap_or(*this),
            (Some(b), None) if (this - b).abs() > JUMP_K => b,
            // The first reading is doubted only when the two after it agree against it.
            (None, Some(a)) if (this - a).abs() > JUMP_K => match at(i.checked_add(2)) {
                Some(third) if (third - a).abs() <= JUMP_K => a,
                _ => *this,
            },
            _ => *this,
        };
        (*when, air_c)
    };
    air.iter().enumerate().map(steady).collect()
}

/// Cargo one air reading further on.
fn followed(
    g: &Ground<'_>,
    priors: &Priors,
    now: Option<CargoAt>,
    last_air: Option<f64>,
    (at, air_c): (Utc, f64),
) -> CargoAt {
    let Some(before) = now else {
        return CargoAt { at, temp_c: air_c, half_k: START_HALF_K, by_probes: false };
    };
    let dt_h = at.hours_since(before.at).max(0.0);
    let blind = g.spells.iter().any(|s| s.from > before.at && s.from <= at)
        || without_power(&g.spells, before.at);
    let lump = priors.true_capacity();
    let heat_w = |extra_w| priors.heat_in_w(None, before.temp_c, g.ambient_c.best, extra_w);
    let course = Course {
        air_c,
        slope_k_per_h: 0.0,
        bound_c: air_c,
        coupling_w_per_k: priors.coupling_w_per_k.best,
        most_heat_w: if set_point::wrong_goal_c(g).is_some() {
            heat_w(HEATER_W[1])
        } else {
            heat_w(FAN_W[1])
        },
    };
    let temp_c = if blind {
        let plain = priors.lump(None);
        plain.without_power_c(before.temp_c, g.ambient_c.best, dt_h)
    } else {
        let mean_air = 0.5 * (air_c + last_air.unwrap_or(air_c));
        lump.behind_air_c(before.temp_c, dt_h, mean_air, &course)
    };
    // What was not known at the start is forgotten as the air has its way.
    let kept = if blind { 1.0 } else { lump.behind_air_c(1.0, dt_h, 0.0, &course).clamp(0.0, 1.0) };
    let settled_k = AIR_HALF_K[usize::from(priors.frozen.is_some())];
    CargoAt {
        at,
        temp_c,
        half_k: settled_k + (before.half_k - settled_k) * kept,
        // Probes read within a time constant still vouch for it.
        by_probes: before.by_probes && kept > 0.37,
    }
}
