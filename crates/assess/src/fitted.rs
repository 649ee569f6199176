//! One box's model fitted to its readings.

use box_model::fit::Missing;
use box_model::respiration::Curve;
use box_model::{
    BoxFit, Cargo, Category, Contents, Estimate, FROZEN_SET_MAX_C, FitPrior, Look, food,
};
use record::{Channel, Reading};
use units::Utc;

use crate::air::Judged;
use crate::airflow;
use crate::ground::{Control, Ground};
use crate::power;
use crate::robust;

/// Readings closer together than this tell no more than one, h.
const LEAST_GAP_H: f64 = 0.2;
/// A last reading that jumped by more than this is not believed of the cargo until another
/// says the same. Our estimate.
const JUMP_K: f64 = 3.0;
/// Probes read within this long still vouch for the cargo, h.
const VOUCH_H: f64 = 24.0;
/// Fans or ice may take so much of the stream of air, as a logarithm. Our estimate.
const LESS_AIR_LN_SD: f64 = 0.7;
/// Cargo assumed where neither list nor display says a temperature, °C.
const NOTHING_SAID_C: f64 = 5.0;

/// The fit, and the instants it speaks of.
pub struct Fitted {
    /// The model.
    pub fit: BoxFit,
    /// Its last reading.
    pub at: Utc,
    /// Last reading of probes.
    probes_at: Option<Utc>,
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

impl Fitted {
    /// Fits it; `None` for a box of which neither a temperature was read nor ordered.
    pub fn of(g: &Ground<'_>) -> Option<Self> {
        Self::traced(g, |_, _| {})
    }

    /// As [`Fitted::of`], telling the cargo's mean temperature after each reading, °C.
    pub fn traced(g: &Ground<'_>, mut tell: impl FnMut(Utc, f64)) -> Option<Self> {
        let first = g.long_rows.first()?;
        let origin = first.at;
        let mut fit = BoxFit::new(prior(g));
        let air = steadied(&g.long_judged);
        let mut air = air.iter().peekable();
        let (mut taken, mut at, mut probes_at): (Option<Look>, _, _) = (None, origin, None);
        let mut told = g.set_c().is_some();
        let mut less_air = airflow::of(g).map(|a| a.since);
        for r in &g.long_rows {
            while air.next_if(|j| j.at < r.at).is_some() {}
            let judged = air.next_if(|j| j.at == r.at);
            let at_h = r.at.hours_since(origin);
            let look = look(r, judged, at_h, taken.map_or(at_h, |t| t.at_h));
            let crowded = taken.is_some_and(|t| {
                look.gap_h < LEAST_GAP_H && look.powered.is_none_or(|p| t.powered == Some(p))
            });
            let has_probes = look.probes_c.iter().any(Option::is_some);
            let more = has_probes && taken.is_none_or(|t| t.probes_c.iter().all(Option::is_none));
            if crowded && !more {
                continue;
            }
            if less_air.take_if(|t| *t <= r.at).is_some() {
                fit.open_stream(LESS_AIR_LN_SD);
            }
            fit.update(&look);
            tell(r.at, fit.cargo_c().best);
            told |= has_probes || judged.is_some();
            if has_probes {
                probes_at = Some(r.at);
            }
            taken = Some(look);
            at = r.at;
        }
        told.then_some(Self { fit, at, probes_at })
    }

    /// Cargo at the last reading.
    pub fn cargo(&self) -> CargoAt {
        let c = self.fit.cargo_c();
        CargoAt {
            at: self.at,
            temp_c: c.best,
            half_k: 0.5 * (c.high - c.low),
            by_probes: self.probes_at.is_some_and(|t| self.at.hours_since(t) <= VOUCH_H),
        }
    }

    /// What the readings did not tell, in words.
    pub fn lacks(&self) -> Vec<&'static str> {
        self.fit.missing().into_iter().map(Missing::text).collect()
    }

    /// The same but for probes, which most boxes do without.
    pub fn lacks_beyond_probes(&self) -> Vec<&'static str> {
        let all = self.fit.missing().into_iter();
        all.filter(|m| *m != Missing::Probes).map(Missing::text).collect()
    }

    /// Hours between the last reading and now.
    pub fn age_h(&self, g: &Ground<'_>) -> f64 {
        g.age_h(self.at).max(0.0)
    }
}

fn look(r: &Reading, judged: Option<&Judged>, at_h: f64, before_h: f64) -> Look {
    let mut probes_c = [None; 4];
    for (slot, c) in probes_c.iter_mut().zip(Channel::PROBES) {
        *slot = r.sane_c(c);
    }
    Look {
        at_h,
        gap_h: (at_h - before_h).max(0.0),
        supply_c: judged.and_then(|j| j.supply_c),
        return_c: judged.and_then(|j| j.return_c),
        ambient_c: r.sane_c(Channel::Ambient),
        probes_c,
        powered: power::says(r),
    }
}

/// What is assumed of the box: from the list's size, weight, cargo and orders.
pub fn prior(g: &Ground<'_>) -> FitPrior {
    let cargo = heaviest_breather(g);
    let is_frozen = match cargo {
        Some(c) => c.category == Category::Frozen,
        None => match g.set_c() {
            Some(s) => s <= FROZEN_SET_MAX_C,
            None => g.control == Some(Control::Frozen),
        },
    };
    let contents = if is_frozen {
        Contents::Frozen(food::composition(cargo))
    } else {
        Contents::Chilled {
            kj_per_kg_k: food::chilled_kj_per_kg_k(cargo),
            freeze_c: cargo.and_then(Cargo::freezing_c),
            curve: match cargo {
                Some(c) => Curve::of(c),
                None => g.living().then(Curve::assumed),
            },
        }
    };
    let mass = g.size.payload_kg(g.listed.and_then(|l| l.weight_kg));
    let vent = g.listed.and_then(|l| l.vent_m3_h);
    let set_c = g.set_c().or_else(|| first_air(g)).unwrap_or(NOTHING_SAID_C);
    let mut prior = FitPrior::new(g.size, None, mass, &contents, vent, set_c);
    if !g.ambient_measured {
        prior.outside_c = Estimate::new(g.ambient_c.low, g.ambient_c.best, g.ambient_c.high);
    }
    prior
}

fn first_air(g: &Ground<'_>) -> Option<f64> {
    let j = g.long_judged.first()?;
    j.around_cargo_c(g.control.unwrap_or(Control::Chilled))
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

/// The middle of the sane probes of one reading.
pub fn probes_c(r: &Reading) -> Option<f64> {
    let mut all: Vec<f64> = Channel::PROBES.into_iter().filter_map(|c| r.sane_c(c)).collect();
    robust::median(&mut all)
}

/// Air, each figure the middle of itself and its neighbours: a slip of the pen or an unnoted
/// defrost moves no cargo.
fn steadied(air: &[Judged]) -> Vec<Judged> {
    let supply: Vec<Option<f64>> = air.iter().map(|j| j.supply_c).collect();
    let back: Vec<Option<f64>> = air.iter().map(|j| j.return_c).collect();
    air.iter()
        .enumerate()
        .map(|(i, j)| Judged { supply_c: steady(&supply, i), return_c: steady(&back, i), ..*j })
        .collect()
}

fn steady(all: &[Option<f64>], i: usize) -> Option<f64> {
    let at = |i: Option<usize>| i.and_then(|i| all.get(i).copied().flatten());
    let this = at(Some(i))?;
    Some(match (at(i.checked_sub(1)), at(i.checked_add(1))) {
        (Some(b), Some(a)) => robust::median(&mut [b, this, a]).unwrap_or(this),
        (Some(b), None) if (this - b).abs() > JUMP_K => b,
        // The first reading is doubted only when the two after it agree against it.
        (None, Some(a)) if (this - a).abs() > JUMP_K => match at(i.checked_add(2)) {
            Some(third) if (third - a).abs() <= JUMP_K => a,
            _ => this,
        },
        _ => this,
    })
}
