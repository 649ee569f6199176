//! Vacuum holds: what was entered, judged anew at every look.
//!
//! Judging is pure and takes no voyage, so that the voyage need not be held meanwhile.

mod criteria;

pub use criteria::{CRITERIA, Criterion, Standing, USUAL_MIN, criterion};

use std::collections::BTreeMap;

use record::{Act, HoldFile, HoldReading, HoldStart};
use units::Utc;
use units::decimal::{self, DecimalMark};
use vacuum::{Judgement, PA_PER_UM, Reading, Setup, Verdict};

use crate::{Problem, Voyage};

/// Highest absolute pressure a hold can stand at, Pa: a little over the atmosphere.
const MOST_PA: f64 = 120_000.0;
/// Most readings of one hold: a day at one a second.
const MOST_READINGS: usize = 86_400;

/// The units a vacuum gauge is read in: id, sign, Pa of one.
pub const PRESSURE_UNITS: [(&str, &str, f64); 3] =
    [("um", "µm", PA_PER_UM), ("pa", "Pa", 1.0), ("mbar", "mbar", 100.0)];

/// Pa of one of a unit; `None` for a unit that no hold has.
#[must_use]
pub fn pa_of(unit: &str) -> Option<f64> {
    PRESSURE_UNITS.iter().find(|u| u.0 == unit).map(|u| u.2)
}

/// The sign of a unit.
#[must_use]
pub fn sign_of(unit: &str) -> &'static str {
    PRESSURE_UNITS.iter().find(|u| u.0 == unit).map_or("?", |u| u.1)
}

/// A reading as minutes since valve-off and µm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HoldPoint {
    /// Minutes since the pump was valved off.
    pub minutes: f64,
    /// Absolute pressure, µmHg.
    pub um: f64,
}

/// Why watching may end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Watch {
    /// Nothing is decided and the criterion's time is not over.
    GoOn,
    /// Wet or leaking: longer watching changes nothing.
    Failed,
    /// Dry and gross tight, and the criterion's time is over.
    Done,
    /// The readings have decided; the criterion's time is not over.
    Decided,
    /// The criterion's time is over and the readings do not tell.
    TimeOver,
}

impl Watch {
    /// True when the watch is at its end.
    #[must_use]
    pub fn is_end(self) -> bool {
        matches!(self, Self::Failed | Self::Done | Self::TimeOver)
    }

    /// One word, by which a page tells that it changed.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::GoOn => "go_on",
            Self::Failed => "failed",
            Self::Done => "done",
            Self::Decided => "decided",
            Self::TimeOver => "time_over",
        }
    }
}

/// One hold, judged.
#[derive(Debug, Clone, PartialEq)]
pub struct HoldView {
    /// What was entered.
    pub file: HoldFile,
    /// The readings that count.
    pub points: Vec<HoldPoint>,
    /// Step of the display, µm.
    pub step_um: f64,
    /// What the readings say.
    pub judgement: Judgement,
    /// The criterion chosen.
    pub criterion: &'static Criterion,
    /// How they stand against it.
    pub standing: Standing,
    /// Whether to go on watching.
    pub watch: Watch,
}

/// Points along a fitted curve, the most curves shown, and the least share of one.
const ALONG: u32 = 48;
const CURVES: usize = 5;
const LEAST_SHARE: f64 = 0.02;
/// The first minute is not fitted, and no curve is drawn there.
const FITTED_FROM_MIN: f64 = 1.0;

impl HoldView {
    /// The fitted curves up to a minute, the most probable first: what each stands for with its
    /// share, and minutes since valve-off with µm.
    #[must_use]
    pub fn curves(&self, end_min: f64) -> Vec<(String, Vec<(f64, f64)>)> {
        let from = FITTED_FROM_MIN.min(end_min);
        let shown = self.judgement.fits.iter().filter(|f| f.probability > LEAST_SHARE);
        let along = |f: &vacuum::hold::Fit| {
            let at = |i| {
                let t = from + (end_min - from) * f64::from(i) / f64::from(ALONG);
                (t, f.at_pa(t * 60.0) / PA_PER_UM)
            };
            (0..=ALONG).map(at).collect()
        };
        // The share first: a label that has to be cut keeps it.
        let label = |f: &vacuum::hold::Fit| {
            format!("{} {}", record::gauges::percent(f.probability), f.form.words())
        };
        shown.take(CURVES).map(|f| (label(f), along(f))).collect()
    }
}

/// The verdict in the trade's words.
#[must_use]
pub fn verdict_words(v: Verdict) -> &'static str {
    match v {
        Verdict::DryAndGrossTight => "Dry and gross tight",
        Verdict::Wet => "Wet",
        Verdict::Leaking => "Leaking",
        Verdict::WetAndLeaking => "Wet and leaking",
        Verdict::Undecided => "Not decided yet",
    }
}

fn point(file: &HoldFile, r: &HoldReading) -> Option<HoldPoint> {
    let value = decimal::parse(&r.pressure, DecimalMark::Point).ok()?;
    let um = value * pa_of(&file.start.pressure_unit)? / PA_PER_UM;
    Some(HoldPoint { minutes: r.at.hours_since(file.start.at) * 60.0, um })
}

/// Judges a hold.
#[must_use]
pub fn judged(file: HoldFile) -> HoldView {
    let points: Vec<HoldPoint> =
        file.counted().into_iter().filter_map(|r| point(&file, r)).collect();
    let of_unit = pa_of(&file.start.pressure_unit).unwrap_or(PA_PER_UM);
    let step_um = file.start.gauge_step * of_unit / PA_PER_UM;
    let setup = Setup {
        volume_m3: file.start.volume_l.map(|l| l / 1e3),
        coldest_c: file.coldest_c,
        fluid: file.start.fluid.clone(),
        resolution_um: step_um,
    };
    let readings: Vec<Reading> = points
        .iter()
        .map(|p| Reading { t_s: p.minutes * 60.0, pressure_pa: p.um * PA_PER_UM })
        .collect();
    let judgement = vacuum::judge(&readings, &setup);
    let criterion = criterion(&file.start.criterion);
    let standing = criterion.standing(&points, file.start.rise_um);
    let over = !points.is_empty() && standing.held_min + 0.5 >= standing.minutes;
    let watch = match (judgement.verdict, over) {
        (Verdict::Undecided, false) => Watch::GoOn,
        (Verdict::Undecided, true) => Watch::TimeOver,
        (Verdict::DryAndGrossTight, false) => Watch::Decided,
        (Verdict::DryAndGrossTight, true) => Watch::Done,
        _ => Watch::Failed,
    };
    HoldView { file, points, step_um, judgement, criterion, standing, watch }
}

/// What a growing file brings to a hold.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FromFile {
    /// Readings not held yet.
    pub new: Vec<HoldReading>,
    /// Rows held already.
    pub known: usize,
    /// Rows at an instant at which something else is held; the first one stays.
    pub differing: usize,
    /// Rows that were not read: line and why.
    pub refused: Vec<String>,
    /// The last line does not end and was left for the next time.
    pub unfinished: bool,
    /// Step of the display that the file's figures show, µm; 0 for none.
    pub step_um: f64,
}

/// Reads a file of a hold and keeps what is not held yet. A last line without an end is left
/// alone unless the file is `finished`: a logger may be in the middle of writing it.
///
/// # Errors
/// The line and what is wrong, when it is no file of a hold.
pub fn from_file(file: &HoldFile, bytes: &[u8], finished: bool) -> Result<FromFile, String> {
    let whole = bytes.iter().rposition(|b| *b == b'\n').map_or(0, |i| i + 1);
    let unfinished = !finished && whole < bytes.len();
    let bytes = if unfinished { bytes.get(..whole).unwrap_or(bytes) } else { bytes };
    let read = vacuum::readings::parse(bytes).map_err(|e| e.to_string())?;
    let of_unit = pa_of(&file.start.pressure_unit).unwrap_or(PA_PER_UM);
    let mut out = FromFile {
        refused: read.refused.iter().map(ToString::to_string).collect(),
        unfinished,
        step_um: read.resolution_um,
        ..FromFile::default()
    };
    let mut held: BTreeMap<Utc, String> = BTreeMap::new();
    for h in &file.readings {
        held.entry(h.reading.at).or_insert_with(|| h.reading.pressure.clone());
    }
    for r in read.readings {
        let at = file.start.at.plus_hours(r.t_s / 3600.0);
        let value = units::math::round_to(r.pressure_pa / of_unit, 6);
        let pressure = format!("{value}");
        match held.get(&at) {
            None => {
                held.insert(at, pressure.clone());
                out.new.push(HoldReading { at, pressure });
            }
            Some(known) if *known == pressure => out.known += 1,
            Some(_) => out.differing += 1,
        }
    }
    Ok(out)
}

impl Voyage {
    /// The hold of an id.
    #[must_use]
    pub fn hold(&self, id: &str) -> Option<&HoldFile> {
        self.acts().holds.iter().find(|h| h.start.id == id)
    }

    /// The id the next hold gets.
    #[must_use]
    pub fn next_hold_id(&self) -> String {
        format!("H{}", self.acts().holds.len() + 1)
    }

    /// An act about a hold that is not there, is ended, or holds what no gauge shows.
    pub(crate) fn refuse_senseless_hold(&self, act: &Act) -> Result<(), Problem> {
        let refuse = |why: String| Err(Problem::Act(why));
        let id = match act {
            Act::HoldBegun(start) => return self.refuse_start(start),
            Act::HoldEnded(end) => &end.id,
            Act::HoldRead { id, .. }
            | Act::HoldStruck { id, .. }
            | Act::HoldMeasured { id, .. } => id,
            _ => return Ok(()),
        };
        let Some(hold) = self.hold(id) else {
            return refuse(format!("there is no hold \"{id}\" in this voyage"));
        };
        if hold.end.is_some() {
            return refuse(format!("hold {id} is ended and signed; begin a new one"));
        }
        match act {
            Act::HoldRead { readings, .. } => {
                readings.iter().try_for_each(|r| refuse_reading(&hold.start, r))?;
                if hold.readings.len() + readings.len() > MOST_READINGS {
                    return refuse(format!(
                        "hold {id} would have more than {MOST_READINGS} readings; end it"
                    ));
                }
                Ok(())
            }
            Act::HoldStruck { number, .. } => {
                let at = usize::try_from(*number).unwrap_or(0).checked_sub(1);
                match at.and_then(|i| hold.readings.get(i)) {
                    Some(r) if !r.struck => Ok(()),
                    _ => refuse(format!("hold {id} has no reading {number} that counts")),
                }
            }
            Act::HoldMeasured { coldest_c, ambient_c, .. } => {
                refuse_temperature("coldest surface", *coldest_c)?;
                refuse_temperature("ambient", *ambient_c)
            }
            _ => Ok(()),
        }
    }

    fn refuse_start(&self, s: &HoldStart) -> Result<(), Problem> {
        let refuse = |why: String| Err(Problem::Act(why));
        if self.hold(&s.id).is_some() {
            return refuse(format!("hold {} is begun already; look at the list again", s.id));
        }
        if s.unit.is_none() && s.place.trim().is_empty() {
            return refuse("write what is held: a container's number or a place".to_owned());
        }
        if s.gauge.trim().is_empty() {
            return refuse("the gauge is missing: write which one is read".to_owned());
        }
        if pa_of(&s.pressure_unit).is_none() {
            return refuse("the gauge's unit is none of µm, Pa, mbar".to_owned());
        }
        if s.volume_l.is_some_and(|v| !(0.001..=1e6).contains(&v)) {
            return refuse("the volume is not within 0.001 to 1 000 000 l".to_owned());
        }
        if !(0.0..=1e4).contains(&s.gauge_step) {
            return refuse("the step of the gauge's display is not within 0 to 10 000".to_owned());
        }
        if let Some(name) = &s.fluid {
            let known = fluids::Refrigerant::named(name);
            known.map_err(|e| Problem::Act(format!("refrigerant: {e}")))?;
        }
        refuse_temperature("coldest surface", s.coldest_c)?;
        refuse_temperature("ambient", s.ambient_c)
    }
}

fn refuse_temperature(what: &str, temp_c: Option<f64>) -> Result<(), Problem> {
    match temp_c {
        Some(c) if !(-80.0..=99.0).contains(&c) => {
            Err(Problem::Act(format!("{what}: {c} °C is not within −80 to 99 °C")))
        }
        _ => Ok(()),
    }
}

fn refuse_reading(start: &HoldStart, r: &HoldReading) -> Result<(), Problem> {
    let text = &r.pressure;
    let value = decimal::parse(text, DecimalMark::Point)
        .map_err(|e| Problem::Act(format!("\"{text}\" {e}; key in the gauge's figure")))?;
    let pa = value * pa_of(&start.pressure_unit).unwrap_or(PA_PER_UM);
    if !(0.0..=MOST_PA).contains(&pa) {
        return Err(Problem::Act(format!(
            "{text} {} is no absolute pressure of a hold; look at the gauge and its unit again",
            sign_of(&start.pressure_unit)
        )));
    }
    if r.at.ms() < start.at.ms() {
        return Err(Problem::Act(
            "the reading is from before the pump was valved off; check its time".to_owned(),
        ));
    }
    Ok(())
}

/// An instant so many minutes after valve-off.
#[must_use]
pub fn at_minute(start: &HoldStart, minutes: f64) -> Utc {
    start.at.plus_hours(minutes / 60.0)
}
