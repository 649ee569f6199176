//! Plans over the whole ship: who first, and what comes back in what order.

use ::plans::plant::{self, Plant};
use ::plans::repair::{self, RepairPlan};
use ::plans::restart::{self, Capacity, Feeder, Restart, RestartTask};
use ::plans::{Marked, Refused};
use assess::{Crew, Night};
use record::{UnitId, WatchList};
use units::Utc;

use crate::loads::Loads;
use crate::plant_file::ShipPlant;
use crate::{NamedBytes, Problem, Voyage, read_crew};

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

/// The restart after a blackout at the instant spoken of.
#[derive(Debug, Clone, PartialEq)]
pub struct RestartView {
    /// The instant.
    pub at: Option<Utc>,
    /// The plan.
    pub restart: Restart,
    /// Cells by box number, for showing.
    pub cells: Vec<(String, String)>,
    /// The limits are those of the ship's plant; else room for all was taken.
    pub plant_known: bool,
    /// What was assumed, in words.
    pub notes: Vec<String>,
}

/// Seconds between switching steps: a person at the board and a look at the instruments (estimate).
const STEP_S: f64 = 60.0;
/// How far a restart is planned, h.
const RESTART_H: f64 = 8.0;
/// Hours ahead in which a repair plan counts losses.
const NIGHT_H: f64 = 72.0;
/// Where no plant is known.
const NO_PLANT: &str = "the ship's generators and feeders are not stated: their limits are not \
    checked, and a few boxes come back in each step; state them on the page Power or with --plant \
    FILE";

pub(crate) fn planned(e: &Refused) -> Problem {
    Problem::Act(e.to_string())
}

impl Voyage {
    /// The crew file in force: nobody's skills and no parts where none was stated. Of a part whose
    /// spares are kept, the count held goes before the file's.
    ///
    /// # Errors
    /// [`Problem::Act`] when this program cannot read what was stated.
    pub fn crew(&self) -> Result<Crew, Problem> {
        let Some(text) = &self.acts().plans.crew else { return Ok(Crew::default()) };
        let mut crew = read_crew(&NamedBytes {
            name: "the crew file held".to_owned(),
            bytes: text.clone().into_bytes(),
        })?;
        for stock in &mut crew.stock {
            stock.count = self.acts().spares.on_board(&stock.part).unwrap_or(stock.count);
        }
        Ok(crew)
    }

    /// Who repairs what first, from a watch list, and from which repairs began and ended. `crew`
    /// goes before the one held; where `people` is empty, everybody the crew file names goes out.
    ///
    /// # Errors
    /// [`Problem::Act`] when nobody is named, or a name, hour or part is not in order.
    pub fn repair_plan(
        &self,
        list: &WatchList,
        people: &[String],
        crew: Option<&Crew>,
    ) -> Result<NightPlan, Problem> {
        let crew = match crew {
            Some(crew) => crew.clone(),
            None => self.crew()?,
        };
        let people = if people.is_empty() {
            crew.people.iter().map(|p| p.name.clone()).collect()
        } else {
            people.to_vec()
        };
        let plans = &self.acts().plans;
        let night = Night {
            people,
            crew,
            under_way: plans.under_way.clone(),
            over: plans.over.clone(),
            horizon_h: NIGHT_H,
        };
        let (task, notes) = assess::repair_task(list, &night).map_err(|e| planned(&e))?;
        let plan = repair::plan(&task, &repair::Effort::default()).map_err(|e| planned(&e))?;
        Ok(NightPlan { at: list.as_of, plan, notes })
    }

    /// In which order the boxes come back when all lost power at the instant spoken of.
    ///
    /// # Errors
    /// As [`Voyage::power`]; what the journal says.
    pub fn restart(&self, loads: &Loads) -> Result<RestartView, Problem> {
        let ship = loads.plant.as_ref();
        let mut notes = vec![
            "what is at stake counts one for each full box: no cargo value is known".to_owned(),
            "inrush and time to pull down are estimates".to_owned(),
        ];
        let mut feeders: Vec<Feeder> = Vec::new();
        let (mut boxes, mut cells) = (Vec::new(), Vec::new());
        for (load, line) in &loads.boxes {
            let n = match feeders.iter().position(|f| f.id == load.feeder) {
                Some(n) => n,
                None => {
                    feeders.push(feeder(&load.feeder, ship));
                    feeders.len() - 1
                }
            };
            let dead_h = self.dead_h(&line.unit, loads.instant())?;
            boxes.push(assess::restart_box(load, dead_h, n).map_err(|e| planned(&e))?);
            let cell = line.cell.map_or_else(|| "cell unknown".to_owned(), |c| c.to_string());
            cells.push((load.id.clone(), cell));
        }
        let capacity = match ship {
            Some(p) => capacity(&p.plant)?,
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
        Ok(RestartView { at: loads.at, restart, cells, plant_known: ship.is_some(), notes })
    }

    /// Hours to the box's first limit if its plug went dead now.
    fn dead_h(&self, unit: &UnitId, at: Utc) -> Result<Option<[f64; 3]>, Problem> {
        let facts = self.recent_facts(unit, at)?;
        Ok(assess::hours_without_power(&facts, self.clock(&facts, at), &self.cargoes))
    }
}

/// A feeder with its breaker; against a bay that hangs on none of the plant file nothing is held.
fn feeder(name: &str, ship: Option<&ShipPlant>) -> Feeder {
    let known = ship.and_then(|s| s.feeders.iter().find(|f| f.name == name));
    Feeder {
        id: name.to_owned(),
        limit_kva: known.map_or(1e6, |f| f.limit_kva),
        inrush_limit_kva: known.map_or(Marked::estimate(1e6), |f| f.inrush_limit_kva),
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
