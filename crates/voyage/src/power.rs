//! What the boxes draw, now and ahead, against what the ship can give.

use ::plans::Marked;
use ::plans::hold::{Hold, HoldBox, HoldState};
use ::plans::plant::{self, BoxLoad, Demand, GroupDemand, Margin, Relief, Weather};
use record::WeatherPoint;
use units::{Utc, math};

use crate::loads::Loads;
use crate::plans::planned;
use crate::plant_file::{COMMON_SD, ShipPlant};
use crate::{NamedBytes, Problem, Voyage, read_plant};

/// How far the load is looked ahead, h, and in what steps.
const AHEAD_H: f64 = 72.0;
const STEP_H: f64 = 3.0;
/// Error of the weather to come: one standard deviation, K (estimate).
const WEATHER_SD_K: f64 = 2.0;
/// Error of heat over air in a hold, relative (estimate).
const HOLD_SD: f64 = 0.2;

/// What the boxes draw, against the plant where it is known.
#[derive(Debug, Clone, PartialEq)]
pub struct PowerView {
    /// The instant it speaks of.
    pub at: Option<Utc>,
    /// Load of all boxes.
    pub demand: Demand,
    /// Load of each bay.
    pub bays: Vec<GroupDemand>,
    /// Load of each feeder of the plant file with the kVA its breaker carries.
    pub feeders: Vec<FeederLoad>,
    /// Against the generators; `None` without a plant file.
    pub margin: Option<Margin>,
    /// What would bring room, greatest first.
    pub reliefs: Vec<Relief>,
    /// The load in the days to come, every three hours, the present one first.
    pub ahead: Vec<PowerAhead>,
    /// The air of each hold of the plant file at the hottest hour ahead.
    pub holds: Vec<HoldState>,
    /// What was assumed, in words.
    pub notes: Vec<String>,
}

/// A feeder's load against its breaker.
#[derive(Debug, Clone, PartialEq)]
pub struct FeederLoad {
    /// Its load.
    pub load: GroupDemand,
    /// What its breaker carries, kVA.
    pub limit_kva: f64,
}

/// The load at an hour to come.
#[derive(Debug, Clone, PartialEq)]
pub struct PowerAhead {
    /// When.
    pub at: Utc,
    /// Weather taken for it.
    pub weather: Weather,
    /// Load of all boxes.
    pub demand: Demand,
    /// Against the generators.
    pub margin: Option<Margin>,
}

impl PowerView {
    /// The hour with the greatest load ahead.
    #[must_use]
    pub fn hottest(&self) -> Option<&PowerAhead> {
        self.ahead.iter().max_by(|a, b| a.demand.mean_kw.total_cmp(&b.demand.mean_kw))
    }
}

impl Voyage {
    /// The plant file in force, where one was stated.
    ///
    /// # Errors
    /// [`Problem::Act`] when this program cannot read what was stated.
    pub fn plant(&self) -> Result<Option<ShipPlant>, Problem> {
        let stated = self.acts().plans.plant.as_ref();
        let file = stated.map(|text| NamedBytes {
            name: "the plant file held".to_owned(),
            bytes: text.clone().into_bytes(),
        });
        file.map(|f| read_plant(&f)).transpose()
    }

    /// What the boxes draw now and ahead, and what the plant has left. `weather` goes before the
    /// one held.
    ///
    /// # Errors
    /// [`Problem::Act`] when the plant's figures are not possible.
    pub fn power(
        &self,
        loads: &Loads,
        weather: Option<&[WeatherPoint]>,
    ) -> Result<PowerView, Problem> {
        let (at, ship) = (loads.at, loads.plant.as_ref());
        let all: Vec<BoxLoad> = loads.boxes.iter().map(|(load, _)| load.clone()).collect();
        let common = ship.map_or(COMMON_SD, |p| p.plant.common_sd.value);
        let demand = plant::demand(&all, common).map_err(|e| planned(&e))?;
        let bays = plant::grouped(&all, false, common).map_err(|e| planned(&e))?;
        let mut notes = notes(&demand, ship.is_some());
        let (hours, more) = self.weather(loads, weather);
        notes.extend(more);
        let ahead = ahead(&all, &hours, loads.instant(), common, ship)?;
        let (mut margin, mut reliefs) = (None, Vec::new());
        if let Some(p) = ship {
            margin = Some(plant::margin(&p.plant, &demand).map_err(|e| planned(&e))?);
            if let Some(now) = hours.first() {
                reliefs = plant::reliefs(&p.plant, &all, now).map_err(|e| planned(&e))?;
            }
        }
        let outside_c = hours.iter().map(|w| w.ambient_c).reduce(f64::max);
        let holds = holds(loads, outside_c.unwrap_or(25.0))?;
        if !holds.is_empty() {
            notes.push(
                "hold air: the heat of living cargo comes on top of the power read; heat through \
                 the ship's side is left out"
                    .to_owned(),
            );
        }
        let feeders = feeders(&all, ship, common)?;
        Ok(PowerView { at, demand, bays, feeders, margin, reliefs, ahead, holds, notes })
    }

    /// The weather of the days to come.
    fn weather(&self, loads: &Loads, said: Option<&[WeatherPoint]>) -> (Vec<Weather>, Vec<String>) {
        let held = self.acts().plans.weather.as_ref().map(|(points, _)| points.as_slice());
        let said = said.or(held).unwrap_or_default();
        assess::weather_ahead(&loads.ambient, said, loads.instant(), AHEAD_H, STEP_H)
    }
}

fn notes(demand: &Demand, plant: bool) -> Vec<String> {
    let mut notes = Vec::new();
    if demand.estimated_boxes > 0 {
        notes.push(format!(
            "{} of {} boxes have no power reading: their load is an estimate",
            demand.estimated_boxes, demand.boxes
        ));
    }
    if !plant {
        notes.push(
            "the ship's generators are not stated: no margin; state them on the page Power or \
             with --plant FILE"
                .to_owned(),
        );
    }
    notes
}

/// Load and margin at each hour. The weather's own error widens what lies ahead.
fn ahead(
    all: &[BoxLoad],
    hours: &[Weather],
    at: Utc,
    common: f64,
    ship: Option<&ShipPlant>,
) -> Result<Vec<PowerAhead>, Problem> {
    let Some(now) = hours.first() else { return Ok(Vec::new()) };
    let running: Vec<&BoxLoad> = all.iter().filter(|b| b.mean_kw() > 0.0).collect();
    let n = running.len().max(1) as f64;
    let lift_k = running.iter().map(|b| now.ambient_c - b.inside_c).sum::<f64>() / n;
    let share = running.iter().map(|b| b.leak_share).sum::<f64>() / n;
    let by_weather = share * WEATHER_SD_K / lift_k.max(5.0);
    let wider = math::sqrt(common * common + by_weather * by_weather);
    let outlook = plant::outlook(all, hours, wider).map_err(|e| planned(&e))?;
    let mut out = Vec::new();
    for o in outlook {
        let margin = match ship {
            Some(p) => Some(plant::margin(&p.plant, &o.demand).map_err(|e| planned(&e))?),
            None => None,
        };
        let (weather, demand) = (o.weather, o.demand);
        out.push(PowerAhead { at: at.plus_hours(weather.hour), weather, demand, margin });
    }
    Ok(out)
}

fn feeders(
    all: &[BoxLoad],
    ship: Option<&ShipPlant>,
    common: f64,
) -> Result<Vec<FeederLoad>, Problem> {
    let Some(ship) = ship.filter(|s| !s.feeders.is_empty()) else { return Ok(Vec::new()) };
    let groups = plant::grouped(all, true, common).map_err(|e| planned(&e))?;
    let load = |load: GroupDemand| {
        let feeder = ship.feeders.iter().find(|f| f.name == load.group)?;
        Some(FeederLoad { load, limit_kva: feeder.limit_kva })
    };
    Ok(groups.into_iter().filter_map(load).collect())
}

/// The air of each hold at `outside_c`.
fn holds(loads: &Loads, outside_c: f64) -> Result<Vec<HoldState>, Problem> {
    let mut out = Vec::new();
    for hold in loads.plant.as_ref().map_or(&[][..], |s| &s.holds) {
        let below = |line: &record::BoxLine| {
            line.cell.is_some_and(|c| !c.on_deck() && hold.bays.contains(&c.bay))
        };
        let boxes = loads.boxes.iter().filter(|(_, line)| below(line)).map(|(load, _)| HoldBox {
            id: load.id.clone(),
            rejected_kw: Marked { value: load.mean_kw(), mark: load.running_kw.mark },
            intake_above_k: 0.0,
        });
        let task = Hold {
            name: hold.name.clone(),
            boxes: boxes.collect(),
            air_m3_h: Marked::measured(hold.air_m3_h),
            outside_c,
            ratio_sd: HOLD_SD,
        };
        out.push(::plans::hold::state(&task).map_err(|e| planned(&e))?);
    }
    Ok(out)
}
