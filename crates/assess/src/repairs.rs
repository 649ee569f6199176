//! Which boxes need hands, how long that takes, and what waiting costs: the task of a repair plan
//! out of the watch list, of what the crew says, and of repairs begun and ended.

use plans::repair::{Job, PartNeed, Person, Place, RepairTask, ShipGrid, Stock, UnderWay, Walk};
use plans::{Loss, Refused, Spread};
use record::{
    BoxLine, FindingKind, RepairOutcome, RepairOver, RepairUnderWay, State, UnitId, WatchList,
};
use units::Utc;

/// What the crew says of itself, its shelf and single jobs.
#[derive(Debug, Clone, PartialEq)]
pub struct Crew {
    /// People by name.
    pub people: Vec<CrewMember>,
    /// Parts on the shelf.
    pub stock: Vec<Stock>,
    /// What is known of single boxes.
    pub jobs: Vec<JobSaid>,
    /// What is at stake is counted in; `None`: every box counts one.
    pub value_unit: Option<String>,
    /// Value of a box of which nothing is said.
    pub value_each: f64,
}

impl Default for Crew {
    fn default() -> Self {
        Self {
            people: Vec::new(),
            stock: Vec::new(),
            jobs: Vec::new(),
            value_unit: None,
            value_each: 1.0,
        }
    }
}

impl Crew {
    /// Names, in the order of the file.
    #[must_use]
    pub fn names(&self) -> Vec<String> {
        self.people.iter().map(|p| p.name.clone()).collect()
    }
}

/// One of the crew.
#[derive(Debug, Clone, PartialEq)]
pub struct CrewMember {
    /// Name.
    pub name: String,
    /// What they may do; nothing named: everything.
    pub skills: Vec<String>,
    /// Bay where the way starts; `None`: the house.
    pub bay: Option<u16>,
    /// Free from; `None`: now.
    pub free_at: Option<Utc>,
    /// Rest and other duties, by time.
    pub rest: Vec<(Utc, Utc)>,
}

/// What the crew knows of a box and its readings do not tell.
#[derive(Debug, Clone, PartialEq)]
pub struct JobSaid {
    /// The box.
    pub unit: UnitId,
    /// The work, in words.
    pub work: Option<String>,
    /// Hands-on time, early, middle, late, h.
    pub hours: Option<[f64; 3]>,
    /// Chance that it helps.
    pub chance: Option<f64>,
    /// Skills needed.
    pub skills: Vec<String>,
    /// Parts used up.
    pub parts: Vec<PartNeed>,
    /// Not before.
    pub not_before: Option<Utc>,
    /// What is at stake.
    pub value: Option<f64>,
}

/// Everything a person may say before a night is planned.
#[derive(Debug, Clone, PartialEq)]
pub struct Night {
    /// Names of the people who go out, at least one.
    pub people: Vec<String>,
    /// What the crew says.
    pub crew: Crew,
    /// Repairs under way.
    pub under_way: Vec<RepairUnderWay>,
    /// Repairs that ended.
    pub over: Vec<RepairOver>,
    /// Hours looked ahead: losses beyond do not count.
    pub horizon_h: f64,
}

/// A limit this many hours away needs nobody tonight.
const TONIGHT_H: f64 = 72.0;

/// Spread of the time to a limit where the forecast gives none: half to double (estimate).
const UNKNOWN_SPREAD: [f64; 2] = [0.5, 2.0];

/// A repair of one kind: what it is called, and how long hands are on it, h.
struct Work {
    name: &'static str,
    hours: [f64; 3],
    /// Chance that it helps with what is on board.
    success: f64,
    /// Skill it asks for.
    skill: Option<&'static str>,
}

const ELECTRICAL: &str = "electrical";
const REFRIGERATION: &str = "refrigeration";
/// Skills that work asks for where the crew file says nothing else.
const SKILLS: [&str; 2] = [ELECTRICAL, REFRIGERATION];
/// Work that only the crew file names: hands-on time, h, and chance (estimates).
const UNNAMED_WORK_H: [f64; 3] = [0.5, 1.0, 3.0];
const UNNAMED_CHANCE: f64 = 0.8;
/// Readings from so long after a repair on show whether it helped, h (estimate).
const PROVEN_AFTER_H: f64 = 1.0;

const fn work(
    name: &'static str,
    hours: [f64; 3],
    success: f64,
    skill: Option<&'static str>,
) -> Work {
    Work { name, hours, success, skill }
}

/// The work that the most urgent finding asks for. All times and chances are estimates: nothing
/// published was found, and the ship's own repair records should take their place.
fn work_for(kind: FindingKind) -> Option<Work> {
    Some(match kind {
        FindingKind::PowerLost => {
            work("plug, breaker and cable", [0.2, 0.5, 1.5], 0.9, Some(ELECTRICAL))
        }
        FindingKind::OddSetPoint | FindingKind::WrongSetPoint => {
            work("set point: compare, ask, set", [0.15, 0.3, 0.8], 0.95, None)
        }
        FindingKind::LongDefrost | FindingKind::WideSpread => {
            work("coil, fans, defrost", [0.7, 1.5, 3.0], 0.8, Some(ELECTRICAL))
        }
        FindingKind::FreezingRisk | FindingKind::ChillingRisk | FindingKind::ProbeFault => {
            work("sensor check by hand thermometer", [0.3, 0.6, 1.5], 0.85, None)
        }
        FindingKind::OffSetPoint
        | FindingKind::Drift
        | FindingKind::SlowLoss
        | FindingKind::Alarm => {
            work("refrigeration circuit", [1.0, 2.5, 6.0], 0.7, Some(REFRIGERATION))
        }
        _ => return None,
    })
}

/// The task, and in words what it rests on and what was left out.
///
/// # Errors
/// [`Refused`] when nobody is named, or a name, hour or part is not in order.
pub fn repair_task(list: &WatchList, night: &Night) -> Result<(RepairTask, Vec<String>), Refused> {
    let at = list.as_of.unwrap_or(Utc::from_ms(0));
    let mut notes = Vec::new();
    let jobs = jobs(list, night, at, &mut notes)?;
    let people = people(night, at, &mut notes);
    let under_way = under_way(night, &jobs, &people, at, &mut notes);
    let task = RepairTask {
        jobs,
        people,
        stock: night.crew.stock.clone(),
        under_way,
        walk: Walk::default(),
        value_unit: night.crew.value_unit.clone().unwrap_or_else(|| "boxes of cargo".to_owned()),
    };
    task.check()?;
    Ok((task, notes))
}

fn jobs(
    list: &WatchList,
    night: &Night,
    at: Utc,
    notes: &mut Vec<String>,
) -> Result<Vec<Job>, Refused> {
    let mut jobs = Vec::new();
    notes.push(match &night.crew.value_unit {
        Some(unit) => {
            format!("a box of which nothing else is said counts {} {unit}", night.crew.value_each)
        }
        None => "what is at stake counts one for each full box: no cargo value is known".to_owned(),
    });
    notes.push("repair times and chances are estimates where the crew file gives none".to_owned());
    for line in list.boxes.iter().filter(|l| l.state != State::Ok) {
        let soon = line.hours_to_limit.is_some_and(|h| h < TONIGHT_H);
        if let Some(over) = over(line, night, at) {
            if soon {
                notes.push(over);
            }
            continue;
        }
        match job(line, night, at)? {
            Some(job) => jobs.push(job),
            None if soon => notes.push(format!(
                "{}: nothing that hands could do was named; see its page",
                line.unit
            )),
            None => {}
        }
    }
    for said in night.crew.jobs.iter().filter(|s| !jobs.iter().any(|j| j.id == s.unit.as_str())) {
        notes.push(format!(
            "{}: the crew file names a job, and no limit is in sight for which to plan it",
            said.unit
        ));
    }
    Ok(jobs)
}

/// Why a box needs no hands although its readings still look bad: somebody was there.
fn over(line: &BoxLine, night: &Night, at: Utc) -> Option<String> {
    let over = night.over.iter().find(|o| o.unit == line.unit && o.at <= at)?;
    let when = over.at.to_minute();
    match over.outcome {
        RepairOutcome::Stopped => None,
        RepairOutcome::BeyondUs => Some(format!(
            "{}: said at {when} UTC to be beyond what is on board; tell the office",
            line.unit
        )),
        // An hour of readings after it shows whether it helped; until then it is believed.
        RepairOutcome::Done => line
            .last_read_at
            .is_none_or(|read| read.hours_since(over.at) < PROVEN_AFTER_H)
            .then(|| format!("{}: repaired at {when} UTC; read it again", line.unit)),
    }
}

fn people(night: &Night, at: Utc, notes: &mut Vec<String>) -> Vec<Person> {
    let grid = ShipGrid::default();
    let knows = |skill: &str| {
        let all = &night.crew.people;
        all.iter().any(|p| p.skills.is_empty() || p.skills.iter().any(|s| s == skill))
    };
    let asked: Vec<&String> = night.crew.jobs.iter().flat_map(|j| &j.skills).collect();
    for skill in asked.iter().filter(|s| !knows(s)) {
        notes.push(format!("nobody in the crew file has the skill \"{skill}\""));
    }
    // Who names no skills may do everything that any job asks for.
    let every: Vec<String> = asked.into_iter().cloned().chain(SKILLS.map(str::to_owned)).collect();
    let person = |name: &String| {
        let said = night.crew.people.iter().find(|p| p.name == *name);
        let house = Place { x_m: 0.0, y_m: 0.0, z_m: 0.0 };
        let hours = |t: Utc| t.hours_since(at);
        let rest = said.map_or(&[][..], |p| &p.rest).iter();
        Person {
            name: name.clone(),
            skills: match said {
                Some(p) if !p.skills.is_empty() => p.skills.clone(),
                _ => every.clone(),
            },
            place: said
                .and_then(|p| p.bay)
                .map_or(house, |bay| Place::of_cell(bay, 0, grid.first_deck_tier, &grid)),
            from_h: said.and_then(|p| p.free_at).map_or(0.0, hours).max(0.0),
            breaks: rest.map(|(a, b)| [hours(*a), hours(*b)]).filter(|b| b[1] > 0.0).collect(),
        }
    };
    night.people.iter().map(person).collect()
}

/// Repairs begun, as far as their box and person are in the plan.
fn under_way(
    night: &Night,
    jobs: &[Job],
    people: &[Person],
    at: Utc,
    notes: &mut Vec<String>,
) -> Vec<UnderWay> {
    let mut out = Vec::new();
    for u in &night.under_way {
        let job = jobs.iter().any(|j| j.id == u.unit.as_str());
        let person = people.iter().any(|p| p.name == u.person);
        if job && person {
            out.push(UnderWay {
                job: u.unit.to_string(),
                person: u.person.clone(),
                started_h: u.since.hours_since(at).min(0.0),
            });
        } else {
            notes.push(format!(
                "{} has worked on {} since {} UTC: {}",
                u.person,
                u.unit,
                u.since.to_minute(),
                if job { "this person is not in the plan" } else { "no limit is in sight for it" }
            ));
        }
    }
    out
}

fn job(line: &BoxLine, night: &Night, at: Utc) -> Result<Option<Job>, Refused> {
    let grid = ShipGrid::default();
    let said = night.crew.jobs.iter().find(|j| j.unit == line.unit);
    let found = line.findings.iter().find_map(|f| work_for(f.kind));
    let Some(hours) = line.hours_to_limit.filter(|h| *h < TONIGHT_H.min(night.horizon_h)) else {
        return Ok(None);
    };
    let name = match (said.and_then(|s| s.work.as_deref()), &found) {
        (Some(work), _) => work,
        (None, Some(work)) => work.name,
        (None, None) if said.is_some() => "work as the crew file says",
        (None, None) => return Ok(None),
    };
    let usual = found.as_ref().map_or(UNNAMED_WORK_H, |w| w.hours);
    let [p10_h, p50_h, p90_h] = said.and_then(|s| s.hours).unwrap_or(usual);
    let [low, high] = line.hours_to_limit_p90.unwrap_or(UNKNOWN_SPREAD.map(|f| f * hours));
    let limit = [low.min(hours).max(0.0), hours.max(0.0), high.max(hours)];
    let place = line.cell.map_or(Place { x_m: 0.0, y_m: 0.0, z_m: 0.0 }, |c| {
        Place::of_cell(c.bay, c.row, c.tier, &grid)
    });
    let cell = line.cell.map_or_else(|| "cell unknown".to_owned(), |c| c.to_string());
    let value = said.and_then(|s| s.value).unwrap_or(night.crew.value_each);
    let skills = match said.filter(|s| !s.skills.is_empty()) {
        Some(s) => s.skills.clone(),
        None => found.as_ref().and_then(|w| w.skill).map(str::to_owned).into_iter().collect(),
    };
    Ok(Some(Job {
        id: line.unit.to_string(),
        at: format!("{cell}: {name}"),
        place,
        loss: Loss::from_limit(line.unit.as_str(), value, limit)?,
        duration: Spread { p10_h, p50_h, p90_h },
        success: said
            .and_then(|s| s.chance)
            .unwrap_or_else(|| found.as_ref().map_or(UNNAMED_CHANCE, |w| w.success)),
        skills,
        parts: said.map_or_else(Vec::new, |s| s.parts.clone()),
        release_h: said.and_then(|s| s.not_before).map_or(0.0, |t| t.hours_since(at)).max(0.0),
    }))
}
