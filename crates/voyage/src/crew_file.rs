//! Who repairs, what they may do, what lies on the shelf, and what is known of single jobs: a file
//! a person writes.

use ::plans::repair::{PartNeed, Stock};
use assess::{Crew, CrewMember, JobSaid};
use record::UnitId;
use serde::Deserialize;
use units::Utc;

use crate::{NamedBytes, Problem};

/// What such a file looks like, for help texts.
pub const CREW_EXAMPLE: &str = "\
value_unit = \"USD\"             # what is at stake is counted in; without it every box counts one
value_each = 60000             # of a box that is not named below

[[person]]
name = \"Jonah\"
skills = [\"electrical\", \"refrigeration\"]
bay = 30                       # where the way starts
free_at = \"2026-03-16 08:00\"   # UTC
rest = [[\"2026-03-16 22:00\", \"2026-03-17 04:00\"]]

[[part]]
name = \"fan motor\"
count = 2

[[job]]                        # what you know of a box and its readings do not tell
unit = \"QQQU3219924\"
work = \"change evaporator fan motor\"
hours = [0.5, 1.0, 2.0]        # hands-on: early, middle, late
chance = 0.9                   # that it helps
skills = [\"electrical\"]
parts = [\"fan motor\"]
not_before = \"2026-03-16 12:00\"
value = 90000
";

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CrewFile {
    #[serde(default)]
    value_unit: Option<String>,
    #[serde(default)]
    value_each: Option<f64>,
    #[serde(default)]
    person: Vec<PersonFile>,
    #[serde(default)]
    part: Vec<PartFile>,
    #[serde(default)]
    job: Vec<JobFile>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PersonFile {
    name: String,
    #[serde(default)]
    skills: Vec<String>,
    #[serde(default)]
    bay: Option<u16>,
    #[serde(default)]
    free_at: Option<String>,
    #[serde(default)]
    rest: Vec<[String; 2]>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PartFile {
    name: String,
    count: u32,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct JobFile {
    unit: String,
    #[serde(default)]
    work: Option<String>,
    #[serde(default)]
    hours: Option<[f64; 3]>,
    #[serde(default)]
    chance: Option<f64>,
    #[serde(default)]
    skills: Vec<String>,
    #[serde(default)]
    parts: Vec<String>,
    #[serde(default)]
    not_before: Option<String>,
    #[serde(default)]
    value: Option<f64>,
}

/// Reads a crew file.
///
/// # Errors
/// [`Problem::Act`] in one line naming file, line or entry, and what to do.
pub fn read_crew(file: &NamedBytes) -> Result<Crew, Problem> {
    let refuse = |why: String| Problem::Act(format!("{}: {why}", file.name));
    let text = std::str::from_utf8(&file.bytes)
        .map_err(|_| refuse("is no text in UTF-8; write it as TOML".to_owned()))?;
    let f: CrewFile = toml::from_str(text).map_err(|e| {
        let before = e.span().and_then(|s| text.get(..s.start)).unwrap_or("");
        let line = before.matches('\n').count() + 1;
        Problem::Act(format!("{}:{line}: {}; see holdfast repair --help", file.name, e.message()))
    })?;
    let people: Result<Vec<_>, String> = f.person.into_iter().map(person).collect();
    let jobs: Result<Vec<_>, String> = f.job.into_iter().map(job).collect();
    let value_each = f.value_each.unwrap_or(1.0);
    if !(value_each > 0.0 && value_each.is_finite()) {
        return Err(refuse("value_each must be above 0".to_owned()));
    }
    let stock = f.part.into_iter().map(|p| Stock { part: p.name, count: p.count });
    Ok(Crew {
        people: people.map_err(refuse)?,
        stock: stock.collect(),
        jobs: jobs.map_err(refuse)?,
        value_unit: f.value_unit,
        value_each,
    })
}

fn instant(of: &str, text: &str) -> Result<Utc, String> {
    Utc::parse(text).map_err(|e| format!("{of}: \"{text}\" {e}"))
}

fn person(p: PersonFile) -> Result<CrewMember, String> {
    let free_at = p.free_at.as_deref().map(|t| instant(&p.name, t)).transpose()?;
    let rest: Result<Vec<_>, String> = p
        .rest
        .iter()
        .map(|[from, to]| {
            let (a, b) = (instant(&p.name, from)?, instant(&p.name, to)?);
            if a < b { Ok((a, b)) } else { Err(format!("{}: rest ends before it begins", p.name)) }
        })
        .collect();
    let mut rest = rest?;
    rest.sort_unstable();
    Ok(CrewMember { name: p.name, skills: p.skills, bay: p.bay, free_at, rest })
}

fn job(j: JobFile) -> Result<JobSaid, String> {
    let unit = UnitId::from_text(&j.unit)
        .ok_or_else(|| format!("job \"{}\": write the number of the box", j.unit))?;
    if let Some([a, b, c]) = j.hours
        && !(a > 0.0 && a <= b && b <= c && c.is_finite())
    {
        return Err(format!("job {unit}: hours must be above 0 and in order: early, middle, late"));
    }
    if j.chance.is_some_and(|c| !(0.0..=1.0).contains(&c)) {
        return Err(format!("job {unit}: chance must be 0 to 1"));
    }
    if j.value.is_some_and(|v| !(v >= 0.0 && v.is_finite())) {
        return Err(format!("job {unit}: value must be 0 or more"));
    }
    let mut parts: Vec<PartNeed> = Vec::new();
    for part in j.parts {
        match parts.iter_mut().find(|p| p.part == part) {
            Some(p) => p.count += 1,
            None => parts.push(PartNeed { part, count: 1 }),
        }
    }
    let not_before = j.not_before.as_deref().map(|t| instant(unit.as_str(), t)).transpose()?;
    let (work, hours, chance, skills, value) = (j.work, j.hours, j.chance, j.skills, j.value);
    Ok(JobSaid { unit, work, hours, chance, skills, parts, not_before, value })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Crew, Problem> {
        read_crew(&NamedBytes { name: "crew.toml".into(), bytes: text.into() })
    }

    #[test]
    fn the_example_reads_and_slips_are_named() {
        let crew = read(CREW_EXAMPLE).unwrap();
        assert_eq!((crew.people.len(), crew.stock.len(), crew.jobs.len()), (1, 1, 1));
        assert_eq!(crew.people[0].rest.len(), 1);
        for (text, says) in [
            ("[[person]]\nname = 3\n", "crew.toml:2:"),
            ("[[job]]\nunit = \"QQQU3219924\"\nhours = [2, 1, 3]\n", "in order"),
            ("[[job]]\nunit = \"QQQU3219924\"\nchance = 7\n", "0 to 1"),
            ("[[person]]\nname = \"A\"\nfree_at = \"soon\"\n", "soon"),
        ] {
            let e = read(text).unwrap_err().to_string();
            assert!(e.contains(says), "{e}");
        }
    }
}
