//! Which boxes need hands, how long that takes, and what waiting costs: the task of a repair plan
//! out of the watch list.

use plans::repair::{Job, Person, Place, RepairTask, ShipGrid, Walk};
use plans::{Loss, Refused, Spread};
use record::{BoxLine, FindingKind, State, WatchList};

/// Everything a person may say before a night is planned.
#[derive(Debug, Clone, PartialEq)]
pub struct Night {
    /// Names of the people who go out, at least one.
    pub people: Vec<String>,
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
}

const fn work(name: &'static str, hours: [f64; 3], success: f64) -> Work {
    Work { name, hours, success }
}

/// The work that the most urgent finding asks for. All times and chances are estimates: nothing
/// published was found, and the ship's own repair records should take their place.
fn work_for(kind: FindingKind) -> Option<Work> {
    Some(match kind {
        FindingKind::PowerLost => work("plug, breaker and cable", [0.2, 0.5, 1.5], 0.9),
        FindingKind::OddSetPoint | FindingKind::WrongSetPoint => {
            work("set point: compare, ask, set", [0.15, 0.3, 0.8], 0.95)
        }
        FindingKind::LongDefrost | FindingKind::WideSpread => {
            work("coil, fans, defrost", [0.7, 1.5, 3.0], 0.8)
        }
        FindingKind::FreezingRisk | FindingKind::ChillingRisk | FindingKind::ProbeFault => {
            work("sensor check by hand thermometer", [0.3, 0.6, 1.5], 0.85)
        }
        FindingKind::OffSetPoint
        | FindingKind::Drift
        | FindingKind::SlowLoss
        | FindingKind::Alarm => work("refrigeration circuit", [1.0, 2.5, 6.0], 0.7),
        _ => return None,
    })
}

/// The task, and how many boxes with a limit in sight are left out because their cell is unknown.
///
/// # Errors
/// [`Refused`] when nobody is named.
pub fn repair_task(list: &WatchList, night: &Night) -> Result<(RepairTask, Vec<String>), Refused> {
    let grid = ShipGrid::default();
    let mut jobs = Vec::new();
    let mut notes = vec![
        "what is at stake counts one for each full box: no cargo value is known".to_owned(),
        "repair times and chances are estimates".to_owned(),
    ];
    for line in list.boxes.iter().filter(|l| l.state != State::Ok) {
        match job(line, night, &grid)? {
            Some(job) => jobs.push(job),
            None if line.hours_to_limit.is_some_and(|h| h < TONIGHT_H) => notes.push(format!(
                "{}: nothing that hands could do was named; see its page",
                line.unit
            )),
            None => {}
        }
    }
    let people = night.people.iter().map(|name| Person {
        name: name.clone(),
        skills: Vec::new(),
        place: Place { x_m: 0.0, y_m: 0.0, z_m: 0.0 },
        from_h: 0.0,
        breaks: Vec::new(),
    });
    let task = RepairTask {
        jobs,
        people: people.collect(),
        stock: Vec::new(),
        under_way: Vec::new(),
        walk: Walk::default(),
        value_unit: "boxes of cargo".to_owned(),
    };
    task.check()?;
    Ok((task, notes))
}

fn job(line: &BoxLine, night: &Night, grid: &ShipGrid) -> Result<Option<Job>, Refused> {
    let found = line.findings.iter().find_map(|f| work_for(f.kind).map(|w| (f, w)));
    let Some((_, work)) = found else { return Ok(None) };
    let Some(hours) = line.hours_to_limit.filter(|h| *h < TONIGHT_H.min(night.horizon_h)) else {
        return Ok(None);
    };
    let [low, high] = line.hours_to_limit_p90.unwrap_or(UNKNOWN_SPREAD.map(|f| f * hours));
    let limit = [low.min(hours).max(0.0), hours.max(0.0), high.max(hours)];
    let place = line.cell.map_or(Place { x_m: 0.0, y_m: 0.0, z_m: 0.0 }, |c| {
        Place::of_cell(c.bay, c.row, c.tier, grid)
    });
    let [p10_h, p50_h, p90_h] = work.hours;
    let cell = line.cell.map_or_else(|| "cell unknown".to_owned(), |c| c.to_string());
    Ok(Some(Job {
        id: line.unit.to_string(),
        at: format!("{cell}: {}", work.name),
        place,
        loss: Loss::from_limit(line.unit.as_str(), 1.0, limit)?,
        duration: Spread { p10_h, p50_h, p90_h },
        success: work.success,
        skills: Vec::new(),
        parts: Vec::new(),
        release_h: 0.0,
    }))
}
