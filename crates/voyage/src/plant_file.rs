//! The ship's generators and what else hangs on them, as a file a person writes once.

use ::plans::Marked;
use ::plans::plant::{Generator, Plant, Reserve};
use serde::Deserialize;

use crate::{NamedBytes, Problem};

/// What such a file looks like, for help texts.
pub const PLANT_EXAMPLE: &str = "\
other_kw = 1400            # everything but the boxes, as read from the board
reserve_share = 0.85       # load at most this share of what is on the board
# or: largest_lost = 0.95  # the rest must carry all when the largest set drops out

[[generator]]
name = \"DG1\"
rated_kw = 2300
rated_kva = 2875
online = true
step_share = 0.3           # largest load taken in one step, from the maker

[[feeder]]                 # a panel that several bays hang on; a bay on no feeder stands alone
name = \"FP1\"
bays = [1, 2, 3, 5, 6, 7]
limit_kva = 500            # what its breaker carries

[[hold]]                   # a hold with its fans; its boxes are those below deck in these bays
name = \"hold 1\"
bays = [1, 2, 3]
air_m3_h = 60000
";

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PlantFile {
    other_kw: f64,
    #[serde(default)]
    other_sd_kw: Option<f64>,
    #[serde(default)]
    other_power_factor: Option<f64>,
    #[serde(default)]
    reserve_share: Option<f64>,
    #[serde(default)]
    largest_lost: Option<f64>,
    #[serde(default)]
    generator: Vec<Set>,
    #[serde(default)]
    feeder: Vec<FeederFile>,
    #[serde(default)]
    hold: Vec<HoldFile>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Set {
    name: String,
    rated_kw: f64,
    rated_kva: f64,
    online: bool,
    #[serde(default)]
    step_share: Option<f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FeederFile {
    name: String,
    bays: Vec<u16>,
    limit_kva: f64,
    #[serde(default)]
    inrush_limit_kva: Option<f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct HoldFile {
    name: String,
    bays: Vec<u16>,
    air_m3_h: f64,
}

/// A feeder as the ship's file states it.
#[derive(Debug, Clone, PartialEq)]
pub struct ShipFeeder {
    /// Name.
    pub name: String,
    /// Bays whose sockets hang on it.
    pub bays: Vec<u16>,
    /// Running load its breaker carries, kVA.
    pub limit_kva: f64,
    /// What it lets through for a moment, kVA.
    pub inrush_limit_kva: Marked,
}

/// A hold as the ship's file states it.
#[derive(Debug, Clone, PartialEq)]
pub struct ShipHold {
    /// Name.
    pub name: String,
    /// Its bays.
    pub bays: Vec<u16>,
    /// Air its fans bring in, m³/h.
    pub air_m3_h: f64,
}

/// The ship's plant: generators, feeders, holds.
#[derive(Debug, Clone, PartialEq)]
pub struct ShipPlant {
    /// Generators and what hangs on them beside the boxes.
    pub plant: Plant,
    /// Feeders; a bay that none names stands alone.
    pub feeders: Vec<ShipFeeder>,
    /// Holds whose ventilation is known.
    pub holds: Vec<ShipHold>,
}

impl ShipPlant {
    /// The feeder a bay hangs on.
    #[must_use]
    pub fn feeder_of(&self, bay: u16) -> Option<&ShipFeeder> {
        self.feeders.iter().find(|f| f.bays.contains(&bay))
    }
}

/// For a moment a breaker lets through several times what it carries: short-time settings of
/// feeder breakers start at about this factor (estimate; the maker's figure belongs in the file).
const INRUSH_FACTOR: f64 = 3.0;

/// Load taken in one step where the maker's figure is not given, share of rated power (estimate).
const STEP_SHARE: f64 = 0.25;
/// Error common to all boxes, relative (estimate).
pub(crate) const COMMON_SD: f64 = 0.08;

/// Reads a plant file.
///
/// # Errors
/// [`Problem::Act`] in one line naming file, line and what to do.
pub fn read_plant(file: &NamedBytes) -> Result<ShipPlant, Problem> {
    let refuse = |why: String| Problem::Act(format!("{}: {why}", file.name));
    let text = std::str::from_utf8(&file.bytes)
        .map_err(|_| refuse("is no text in UTF-8; write it as TOML".to_owned()))?;
    let p: PlantFile = toml::from_str(text).map_err(|e| {
        let before = e.span().and_then(|s| text.get(..s.start)).unwrap_or("");
        let line = before.matches('\n').count() + 1;
        Problem::Act(format!("{}:{line}: {}; see holdfast power --help", file.name, e.message()))
    })?;
    let reserve = match (p.reserve_share, p.largest_lost) {
        (Some(share), None) => Reserve::Share(share),
        (None, Some(share)) => Reserve::LargestLost(share),
        (None, None) => Reserve::Share(0.85),
        (Some(_), Some(_)) => {
            return Err(refuse("give reserve_share or largest_lost, not both".to_owned()));
        }
    };
    let generators = p.generator.into_iter().map(|g| Generator {
        name: g.name,
        rated_kw: g.rated_kw,
        rated_kva: g.rated_kva,
        online: g.online,
        step_share: g.step_share.map_or(Marked::estimate(STEP_SHARE), Marked::measured),
    });
    let plant = Plant {
        generators: generators.collect(),
        other_kw: Marked::measured(p.other_kw),
        other_sd_kw: p.other_sd_kw.unwrap_or(0.05 * p.other_kw.abs()),
        other_power_factor: p.other_power_factor.unwrap_or(0.85),
        reserve,
        common_sd: Marked::estimate(COMMON_SD),
    };
    ::plans::plant::check_plant(&plant).map_err(|e| refuse(e.to_string()))?;
    let (feeders, holds) = feeders_and_holds(p.feeder, p.hold).map_err(refuse)?;
    Ok(ShipPlant { plant, feeders, holds })
}

fn feeders_and_holds(
    feeders: Vec<FeederFile>,
    holds: Vec<HoldFile>,
) -> Result<(Vec<ShipFeeder>, Vec<ShipHold>), String> {
    let mut out: (Vec<ShipFeeder>, Vec<ShipHold>) = (Vec::new(), Vec::new());
    for f in feeders {
        let inrush = f.inrush_limit_kva;
        if !(f.limit_kva > 0.0 && inrush.is_none_or(|i| i >= f.limit_kva)) {
            return Err(format!(
                "feeder {}: limit_kva must be above 0 and inrush_limit_kva no less than it",
                f.name
            ));
        }
        if let Some(bay) = f.bays.iter().find(|b| out.0.iter().any(|o| o.bays.contains(b))) {
            return Err(format!("feeder {}: bay {bay} hangs on another feeder already", f.name));
        }
        let inrush_limit_kva =
            inrush.map_or(Marked::estimate(INRUSH_FACTOR * f.limit_kva), Marked::measured);
        let (name, bays, limit_kva) = (f.name, f.bays, f.limit_kva);
        out.0.push(ShipFeeder { name, bays, limit_kva, inrush_limit_kva });
    }
    for h in holds {
        if !(h.air_m3_h >= 0.0 && h.air_m3_h.is_finite()) {
            return Err(format!("hold {}: air_m3_h must be 0 or more", h.name));
        }
        out.1.push(ShipHold { name: h.name, bays: h.bays, air_m3_h: h.air_m3_h });
    }
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<ShipPlant, Problem> {
        read_plant(&NamedBytes { name: "plant.toml".into(), bytes: text.into() })
    }

    #[test]
    fn the_example_reads_and_slips_are_named_by_line() {
        let example = read(PLANT_EXAMPLE).unwrap();
        assert_eq!(example.plant.generators.len(), 1);
        assert_eq!(example.feeder_of(6).map(|f| f.name.as_str()), Some("FP1"));
        assert_eq!((example.feeder_of(9), example.holds.len()), (None, 1));
        let twice = "other_kw = 1\n[[feeder]]\nname = \"A\"\nbays = [1]\nlimit_kva = 9\n\
                     [[feeder]]\nname = \"B\"\nbays = [2, 1]\nlimit_kva = 9\n";
        assert!(read(twice).unwrap_err().to_string().contains("bay 1 hangs on another"));
        let e = read("other_kw = 100\nother_kv = 3\n").unwrap_err().to_string();
        assert!(e.starts_with("plant.toml:2:"), "{e}");
        let e = read("other_kw = \"many\"\n").unwrap_err().to_string();
        assert!(e.starts_with("plant.toml:1:"), "{e}");
    }
}
