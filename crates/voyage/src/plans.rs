//! Plans over the whole ship: who first, what the plant carries, what comes back in what order.

use ::plans::plant::{self, BoxLoad, Demand, GroupDemand, Margin, Plant, Relief, Weather};
use ::plans::repair::{self, RepairPlan};
use ::plans::restart::{self, Capacity, Feeder, Restart, RestartTask};
use ::plans::{Marked, Refused};
use assess::Night;
use record::{BoxLine, UnitId};
use units::Utc;

use crate::look::AsOf;
use crate::plant_file::COMMON_SD;
use crate::{Problem, Voyage};

/// A repair plan and what it rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct NightPlan {
    /// The instant it counts from.
    pub at: Option<Utc>,
    /// The plan.
    pub plan: RepairPlan,
    /// What was assumed, in words.
    pub notes: Vec<String>,
}

/// What the boxes draw, against the plant where it is known.
#[derive(Debug, Clone, PartialEq)]
pub struct PowerView {
    /// The instant it speaks of.
    pub at: Option<Utc>,
    /// Load of all boxes.
    pub demand: Demand,
    /// Load of each bay.
    pub bays: Vec<GroupDemand>,
    /// Against the generators; `None` without a plant file.
    pub margin: Option<Margin>,
    /// What would bring room, greatest first.
    pub reliefs: Vec<Relief>,
    /// What was assumed, in words.
    pub notes: Vec<String>,
}

/// The restart after a blackout at the instant spoken of.
#[derive(Debug, Clone, PartialEq)]
pub struct RestartView {
    /// The instant.
    pub at: Option<Utc>,
    /// The plan.
    pub restart: Restart,
    /// Cells by box number, for showing.
    pub cells: Vec<(String, String)>,
    /// What was assumed, in words.
    pub notes: Vec<String>,
}

/// Seconds between switching steps: a person at the board and a look at the instruments (estimate).
const STEP_S: f64 = 60.0;
/// How far a restart is planned, h.
const RESTART_H: f64 = 8.0;
/// Hours ahead in which a repair plan counts losses.
const NIGHT_H: f64 = 48.0;
/// Power of one step where no plant is known: one box at a time (estimate).
const NO_PLANT: &str = "no plant file was given: the limits of generators and feeders are not \
    checked, boxes come back one bay socket at a time; give --plant FILE";

/// A box's load and its line.
type Loaded = (BoxLoad, BoxLine);

fn planned(e: &Refused) -> Problem {
    Problem::Act(e.to_string())
}

impl Voyage {
    /// Who repairs what first.
    ///
    /// # Errors
    /// [`Problem::Act`] when nobody is named; what the journal says.
    pub fn repair_plan(&self, people: &[String], as_of: AsOf) -> Result<NightPlan, Problem> {
        let list = self.watch(as_of)?;
        let night = Night { people: people.to_vec(), horizon_h: NIGHT_H };
        let (task, notes) = assess::repair_task(&list, &night).map_err(|e| planned(&e))?;
        let plan = repair::plan(&task, &repair::Effort::default()).map_err(|e| planned(&e))?;
        Ok(NightPlan { at: list.as_of, plan, notes })
    }

    /// What the boxes draw now, and what the plant has left.
    ///
    /// # Errors
    /// [`Problem::Act`] when the plant's figures are not possible; what the journal says.
    pub fn power(&self, as_of: AsOf, plant: Option<&Plant>) -> Result<PowerView, Problem> {
        let (at, loads) = self.loads(as_of)?;
        let all: Vec<BoxLoad> = loads.iter().map(|(load, _)| load.clone()).collect();
        let common = plant.map_or(COMMON_SD, |p| p.common_sd.value);
        let demand = plant::demand(&all, common).map_err(|e| planned(&e))?;
        let bays = plant::grouped(&all, false, common).map_err(|e| planned(&e))?;
        let (mut margin, mut reliefs) = (None, Vec::new());
        if let Some(p) = plant {
            margin = Some(plant::margin(p, &demand).map_err(|e| planned(&e))?);
            let now = Weather { hour: 0.0, ambient_c: self.ambient_c(&loads), sun: 0.5 };
            reliefs = plant::reliefs(p, &all, &now).map_err(|e| planned(&e))?;
        }
        let mut notes = Vec::new();
        if demand.estimated_boxes > 0 {
            notes.push(format!(
                "{} of {} boxes have no power reading: their load is an estimate",
                demand.estimated_boxes, demand.boxes
            ));
        }
        if plant.is_none() {
            notes.push("no plant file was given: no margin; give --plant FILE".to_owned());
        }
        Ok(PowerView { at, demand, bays, margin, reliefs, notes })
    }

    /// In which order the boxes come back when all lost power at the instant spoken of.
    ///
    /// # Errors
    /// As [`Voyage::power`].
    pub fn restart(&self, as_of: AsOf, plant: Option<&Plant>) -> Result<RestartView, Problem> {
        let (at, loads) = self.loads(as_of)?;
        let instant = at.unwrap_or(Utc::from_ms(0));
        let mut notes = vec![
            "what is at stake counts one for each full box: no cargo value is known".to_owned(),
            "inrush and time to pull down are estimates".to_owned(),
        ];
        let mut feeders: Vec<Feeder> = Vec::new();
        let (mut boxes, mut cells) = (Vec::new(), Vec::new());
        for (load, line) in &loads {
            let n = match feeders.iter().position(|f| f.id == load.feeder) {
                Some(n) => n,
                None => {
                    feeders.push(feeder(&load.feeder));
                    feeders.len() - 1
                }
            };
            let dead = self.dead_line(&line.unit, instant)?;
            boxes.push(assess::restart_box(load, &dead, n).map_err(|e| planned(&e))?);
            let cell = line.cell.map_or_else(|| "cell unknown".to_owned(), |c| c.to_string());
            cells.push((load.id.clone(), cell));
        }
        let capacity = match plant {
            Some(p) => capacity(p)?,
            None => {
                notes.push(NO_PLANT.to_owned());
                unknown_capacity(boxes.len())
            }
        };
        let task = RestartTask {
            boxes,
            feeders,
            capacity: vec![capacity],
            step_s: STEP_S,
            horizon_h: RESTART_H,
            box_hour_price: 1e-4,
            value_unit: "boxes of cargo".to_owned(),
        };
        let restart = restart::plan(&task, &restart::Effort::default()).map_err(|e| planned(&e))?;
        Ok(RestartView { at, restart, cells, notes })
    }

    /// Loads of all boxes that should run, with their lines.
    fn loads(&self, as_of: AsOf) -> Result<(Option<Utc>, Vec<Loaded>), Problem> {
        let list = self.watch(as_of)?;
        let at = list.as_of.unwrap_or(Utc::from_ms(0));
        let mut out = Vec::new();
        for line in list.boxes {
            let facts = self.recent_facts(&line.unit, at)?;
            if let Some(load) = assess::box_load(&facts, &line, at) {
                out.push((load, line));
            }
        }
        out.sort_by(|a, b| (a.0.bay, &a.0.id).cmp(&(b.0.bay, &b.0.id)));
        Ok((list.as_of, out))
    }

    /// The box's line if its plug went dead now.
    fn dead_line(&self, unit: &UnitId, at: Utc) -> Result<BoxLine, Problem> {
        let facts = assess::without_power(&self.recent_facts(unit, at)?, at);
        Ok(assess::box_line(&facts, self.clock(&facts, at), &self.cargoes))
    }

    /// Middle of the latest ambient readings, °C; 25 where none was read.
    fn ambient_c(&self, loads: &[Loaded]) -> f64 {
        let mut seen: Vec<f64> = Vec::new();
        for (_, line) in loads {
            let at = line.last_read_at.unwrap_or(Utc::from_ms(0));
            if let Ok(facts) = self.recent_facts(&line.unit, at) {
                let latest = facts.readings.iter().rev();
                seen.extend(latest.clone().find_map(|r| r.sane_c(record::Channel::Ambient)));
            }
        }
        seen.sort_by(f64::total_cmp);
        seen.get(seen.len() / 2).copied().unwrap_or(25.0)
    }
}

/// A bay's sockets. Their breakers are not known: nothing is held against them.
fn feeder(name: &str) -> Feeder {
    Feeder {
        id: name.to_owned(),
        limit_kva: 1e6,
        inrush_limit_kva: Marked::estimate(1e6),
        from_h: 0.0,
    }
}

/// What the plant gives the boxes.
fn capacity(p: &Plant) -> Result<Capacity, Problem> {
    let nothing = plant::demand(&[], p.common_sd.value).map_err(|e| planned(&e))?;
    let empty = plant::margin(p, &nothing).map_err(|e| planned(&e))?;
    Ok(Capacity {
        from_h: 0.0,
        kw: empty.margin_kw.max(0.0),
        kva: empty.margin_kva.max(0.0),
        step_kw: empty.step_kw,
        inrush_kva: Marked::estimate(empty.allowed_kva.max(0.0) * 1.2),
    })
}

/// Without a plant file: room for all, four boxes a step.
fn unknown_capacity(boxes: usize) -> Capacity {
    let all = 60.0 * boxes.max(1) as f64;
    Capacity {
        from_h: 0.0,
        kw: all,
        kva: all,
        step_kw: Marked::estimate(4.0 * plant::PLUG_MAX_KW),
        inrush_kva: Marked::estimate(10.0 * all),
    }
}
