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

/// Load taken in one step where the maker's figure is not given, share of rated power (estimate).
const STEP_SHARE: f64 = 0.25;
/// Error common to all boxes, relative (estimate).
pub(crate) const COMMON_SD: f64 = 0.08;

/// Reads a plant file.
///
/// # Errors
/// [`Problem::Act`] in one line naming file, line and what to do.
pub fn read_plant(file: &NamedBytes) -> Result<Plant, Problem> {
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
    Ok(plant)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Plant, Problem> {
        read_plant(&NamedBytes { name: "plant.toml".into(), bytes: text.into() })
    }

    #[test]
    fn the_example_reads_and_slips_are_named_by_line() {
        assert_eq!(read(PLANT_EXAMPLE).unwrap().generators.len(), 1);
        let e = read("other_kw = 100\nother_kv = 3\n").unwrap_err().to_string();
        assert!(e.starts_with("plant.toml:2:"), "{e}");
        let e = read("other_kw = \"many\"\n").unwrap_err().to_string();
        assert!(e.starts_with("plant.toml:1:"), "{e}");
    }
}
