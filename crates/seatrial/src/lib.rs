//! A ship at sea to test against, with its own richer physics.
//!
//! A made-up ship, route and crew: refrigerated boxes with cargo, machines that age and fail,
//! people who mistype. It gives the files such a ship would have and keeps the truth aside. It
//! opens nothing and reads no clock; the same [`Trial`] always gives the same bytes.
//!
//! The physics is deliberately another and a richer one than the watch list uses: eight nodes in
//! each box, a machine with control and defrost, weather along the route. It shares no code
//! with the models it is there to test.

pub mod alarm;
pub mod cargo;
pub mod crew;
pub mod dice;
pub mod faults;
pub mod files;
pub mod manifest;
pub mod passage;
pub mod physics;
pub mod quarantine;
pub mod route;
pub mod ship;
pub mod truth;
pub mod unit_machine;

use units::Utc;

use crate::files::{ListOf, Loggers};
use crate::manifest::Manifest;
use crate::passage::{Passage, Span};
use crate::route::Route;

/// What to try.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Trial {
    /// Refrigerated boxes with cargo, 1 to 3000 (held to that).
    pub boxes: usize,
    /// Days of data, 1 to 60 (held to that).
    pub days: u32,
    /// Seed: another seed is another ship.
    pub seed: u64,
}

/// A file as a ship would have it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ShipFile {
    /// Relative path, parts divided by `/`.
    pub path: String,
    /// Contents.
    pub bytes: Vec<u8>,
}

/// A box ordered to be treated on the way, and the files about it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OrderedTreatment {
    /// The box.
    pub unit: String,
    /// Path of its schedule among the ship's files.
    pub schedule: String,
    /// Path of its probes' slurry readings among the ship's files.
    pub calibration: String,
}

/// Everything a trial gives.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Output {
    /// `lists/`, `loggers/` and `rounds/`; in each, order of name is order of time. Beside them
    /// `treatments/`.
    pub files: Vec<ShipFile>,
    /// `truth/`: faults, cargo temperatures, slips.
    pub truth: Vec<ShipFile>,
    /// Boxes ordered to be treated on the way.
    pub treatments: Vec<OrderedTreatment>,
    /// Departure: the first instant of data.
    pub start: Utc,
    /// The last instant of data.
    pub end: Utc,
    /// Ship's name.
    pub ship: String,
    /// Voyage number.
    pub voyage: String,
    /// Names with ranks.
    pub crew: Vec<String>,
}

/// Runs a trial. `progress` is told how much of how much is done.
pub fn run(trial: &Trial, progress: &mut dyn FnMut(u64, u64)) -> Output {
    let boxes = trial.boxes.clamp(1, 3000);
    let route = Route::new(trial.days.clamp(1, 60));
    let start = route.start;
    let mut manifest = manifest::load(boxes, trial.seed, &route);
    let treated = quarantine::mark(&mut manifest.reefers, trial.seed);
    let rounds = crew::plan(&manifest.reefers, start, route.data_h);
    // Physics takes most of the time; writing counts as a tenth more.
    let total = (boxes + boxes / 10 + 1) as u64;
    let passages = sail(&manifest, &rounds, &route, trial.seed, &mut |done| {
        progress(done, total);
    });
    let mut files = lists(&manifest, &route, trial.seed);
    let mut loggers = Loggers::new(&manifest.reefers, &passages, start, route.data_h, trial.seed);
    files.extend(logger_files(&mut loggers, start, route.data_h));
    let mut typist = crew::Typist::new(&manifest.reefers, start, trial.seed);
    let mut next = vec![0; boxes];
    for round in &rounds.rounds {
        let (path, bytes) = typist.file(&rounds, round, &passages, &mut next);
        files.push(ShipFile { path, bytes });
    }
    let slips = typist.slips;
    let truth = truth_files(&manifest, &passages, &slips, &route);
    let treatments = treatment_files(&manifest, &passages, &treated, trial.seed, &mut files);
    progress(total, total);
    Output {
        files,
        truth,
        treatments,
        start,
        end: start.plus_hours(f64::from(route.data_h)),
        ship: files::SHIP.to_owned(),
        voyage: files::VOYAGE.to_owned(),
        crew: crew::CREW.iter().map(|(_, name)| (*name).to_owned()).collect(),
    }
}

/// The schedule and the slurry readings of boxes under treatment, filed under `treatments/`.
fn treatment_files(
    manifest: &Manifest,
    passages: &[Passage],
    treated: &[usize],
    seed: u64,
    files: &mut Vec<ShipFile>,
) -> Vec<OrderedTreatment> {
    let mut out = Vec::new();
    let schedule = format!("treatments/{}.toml", quarantine::DEMO_SCHEDULE_ID);
    for i in treated {
        let (Some(r), Some(p)) = (manifest.reefers.get(*i), passages.get(*i)) else {
            continue;
        };
        let calibration = format!("treatments/{}-slurry.csv", r.unit);
        let text = quarantine::calibration_csv(&quarantine::slurry_of(p, seed, *i));
        files.push(ShipFile { path: calibration.clone(), bytes: text.into_bytes() });
        let schedule = schedule.clone();
        out.push(OrderedTreatment { unit: r.unit.clone(), schedule, calibration });
    }
    if !out.is_empty() {
        let bytes = quarantine::DEMO_SCHEDULE.as_bytes().to_vec();
        files.push(ShipFile { path: schedule, bytes });
    }
    out
}

/// Takes every box over the voyage.
fn sail(
    manifest: &Manifest,
    rounds: &crew::Rounds,
    route: &Route,
    seed: u64,
    done: &mut dyn FnMut(u64),
) -> Vec<Passage> {
    let weather = route::weather(route, seed);
    let visits = rounds.visits(&manifest.reefers);
    let mut out = Vec::with_capacity(manifest.reefers.len());
    for (i, (r, v)) in manifest.reefers.iter().zip(&visits).enumerate() {
        let data_h = f64::from(route.data_h);
        let span = Span {
            from_h: r.load_h,
            to_h: r.leave_h.unwrap_or(data_h).min(data_h),
            horizon_h: f64::from(route.arrival_h),
        };
        out.push(passage::run(r, &weather, span, v, seed, i));
        done(i as u64 + 1);
    }
    out
}

/// The loading lists, in order of loading.
fn lists(manifest: &Manifest, route: &Route, seed: u64) -> Vec<ShipFile> {
    let at = |h: u32| route.start.plus_hours(f64::from(h));
    let call = route.call_h.zip(route.leave_call_h());
    let first = ListOf {
        number: 1,
        port: route::DEPARTURE,
        next_port: if call.is_some() { route::CALL } else { route::DESTINATION },
        departs: route.start,
        arrives: at(call.map_or(route.arrival_h, |(arrives, _)| arrives)),
        second: false,
    };
    let second = call.map(|(_, leaves)| ListOf {
        number: 2,
        port: route::CALL,
        next_port: route::DESTINATION,
        departs: at(leaves),
        arrives: at(route.arrival_h),
        second: true,
    });
    [Some(first), second]
        .into_iter()
        .flatten()
        .map(|l| ShipFile {
            path: format!("lists/{:02}-{}-bayplan.edi", l.number, l.port.to_lowercase()),
            bytes: files::bay_plan(l, manifest, seed),
        })
        .collect()
}

/// One file for each day of the calendar.
fn logger_files(loggers: &mut Loggers<'_>, start: Utc, data_h: u32) -> Vec<ShipFile> {
    let mut out = Vec::new();
    let (mut from, last) = (0, data_h + 1);
    while from < last {
        let first_at = start.plus_hours(f64::from(from));
        let (.., hour, _, _) = first_at.civil();
        let to = (from + 24 - u32::from(hour.unsigned_abs())).min(last);
        let path = format!("loggers/{}.csv", files::date_of(first_at));
        out.push(ShipFile { path, bytes: loggers.file(from, to) });
        from = to;
    }
    out
}

fn truth_files(
    manifest: &Manifest,
    passages: &[Passage],
    slips: &[crew::Slip],
    route: &Route,
) -> Vec<ShipFile> {
    let (r, start, data_h) = (&manifest.reefers, route.start, route.data_h);
    [
        ("truth/faults.csv", truth::faults(r, passages, start, data_h)),
        ("truth/cargo.csv", truth::cargo(r, passages, start, data_h, false)),
        ("truth/ahead.csv", truth::cargo(r, passages, start, data_h, true)),
        ("truth/slips.csv", truth::slips(slips)),
    ]
    .into_iter()
    .map(|(path, bytes)| ShipFile { path: path.to_owned(), bytes })
    .collect()
}
