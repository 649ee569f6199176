//! What each box draws, gathered once for every look at the plant.

use ::plans::plant::BoxLoad;
use assess::Ambient;
use record::{BoxLine, Channel, WatchList};
use units::Utc;

use crate::plant_file::ShipPlant;
use crate::{Problem, Voyage};

/// Readings of so many hours speak for the loads and for the weather to come: the longer of the
/// two windows that `assess` looks at.
const BACK_H: f64 = 72.0;

/// Loads of all boxes that should run, and the plant they hang on: what [`Voyage::power`] and
/// [`Voyage::restart`] work from.
#[derive(Debug, Clone, PartialEq)]
pub struct Loads {
    /// The instant they speak of.
    pub at: Option<Utc>,
    /// Each box's load with its line, by bay and number.
    pub boxes: Vec<(BoxLoad, BoxLine)>,
    /// The plant, where one is known.
    pub plant: Option<ShipPlant>,
    /// Outside air read aboard in the last days.
    pub(crate) ambient: Vec<Ambient>,
}

impl Loads {
    /// The instant they speak of, for reckoning.
    pub(crate) fn instant(&self) -> Utc {
        self.at.unwrap_or(Utc::from_ms(0))
    }
}

impl Voyage {
    /// What the boxes of a watch list draw. `plant` goes before the one held.
    ///
    /// # Errors
    /// [`Problem::Act`] when this program cannot read the plant held; what the journal says.
    pub fn loads(&self, list: &WatchList, plant: Option<&ShipPlant>) -> Result<Loads, Problem> {
        let plant = match plant {
            Some(plant) => Some(plant.clone()),
            None => self.plant()?,
        };
        let mut out = Loads { at: list.as_of, boxes: Vec::new(), plant, ambient: Vec::new() };
        let at = out.instant();
        for line in &list.boxes {
            let facts = self.facts_between(&line.unit, at.plus_hours(-BACK_H), at)?;
            let outside = |r: &record::Reading| Some((r.at, r.sane_c(Channel::Ambient)?));
            out.ambient.extend(facts.readings.iter().filter_map(outside));
            if let Some(mut load) = assess::box_load(&facts, line, at) {
                let feeder = out.plant.as_ref().and_then(|p| p.feeder_of(load.bay));
                if let Some(feeder) = feeder {
                    load.feeder.clone_from(&feeder.name);
                }
                out.boxes.push((load, line.clone()));
            }
        }
        out.boxes.sort_by(|a, b| (a.0.bay, &a.0.id).cmp(&(b.0.bay, &b.0.id)));
        Ok(out)
    }
}
