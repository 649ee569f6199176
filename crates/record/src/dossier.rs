//! Everything recorded about one box, gathered for the paper that goes with it. A paper prints
//! it and works out nothing.

use units::Utc;

use crate::calibration::{ChartLine, CheckLine, Use};
use crate::digest::Digest;
use crate::treatment::TreatmentView;
use crate::{
    Act, BoxHistory, BoxLine, CargoFact, Fan, GaugesEntry, HoldFile, ListedUnit, PressureEntry,
    Reading, UnitId, WorkFile,
};

/// One box's file.
#[derive(Debug, Clone, PartialEq)]
pub struct Dossier {
    /// The box.
    pub unit: UnitId,
    /// Ship as the lists name it.
    pub ship: Option<String>,
    /// Voyage number.
    pub voyage: Option<String>,
    /// When the paper was made.
    pub made_at: Utc,
    /// Nothing later than this was looked at.
    pub as_of: Utc,
    /// What the latest list that named it says.
    pub listed: Option<ListedUnit>,
    /// Expected arrival at its port.
    pub eta: Option<Utc>,
    /// Its line on the watch list at `as_of`.
    pub line: BoxLine,
    /// What may lie ahead as of then, with the past that is drawn before it; `None` where nothing
    /// can be forecast.
    pub ahead: Option<(Fan, BoxHistory)>,
    /// Facts of the cargo table with their trust marks.
    pub cargo_facts: Vec<CargoFact>,
    /// Where it stood, list by list.
    pub cells: Vec<CellStay>,
    /// Set points ordered and shown, in order of time.
    pub set_points: Vec<SetPoint>,
    /// Every reading held, oldest first.
    pub readings: Vec<FiledReading>,
    /// Everything a chart shows.
    pub history: BoxHistory,
    /// Spells of more than twelve hours without a reading, and shorter ones that are out of the
    /// record's usual interval.
    pub gaps: Vec<Gap>,
    /// Alarms as written.
    pub alarms: Vec<AlarmSpell>,
    /// Spells without power.
    pub power_off: Vec<PowerSpell>,
    /// What happened, in order of time.
    pub incidents: Vec<Incident>,
    /// Its cold treatment, where one was ordered.
    pub treatment: Option<TreatmentView>,
    /// Slurry readings of its probes.
    pub calibrations: Vec<Calibration>,
    /// What readings in ice say of its sensors and probes.
    pub checks: Vec<CheckLine>,
    /// Charts of its recorder.
    pub charts: Vec<ChartLine>,
    /// Instruments that its records name, with their certificates of that day.
    pub instruments: Vec<Use>,
    /// Gauge sheets.
    pub gauges: Vec<GaugesEntry>,
    /// Vacuum holds.
    pub holds: Vec<HoldSheet>,
    /// Nitrogen and standing-pressure tests.
    pub pressure_tests: Vec<PressureEntry>,
    /// Service works on it, the oldest first.
    pub works: Vec<WorkFile>,
    /// Every journal entry about it.
    pub log: Vec<LogLine>,
    /// The files that its rows, lists and documents came in.
    pub originals: Vec<OriginalFile>,
    /// Entries of the whole journal when this was made.
    pub entries: u64,
    /// Merkle root over them (RFC 9162).
    pub root: Digest,
}

/// What a list said of its place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CellStay {
    /// When the list was loaded.
    pub at: Utc,
    /// Who loaded it.
    pub who: String,
    /// The list's file.
    pub file: String,
    /// Port the list was made for.
    pub port: Option<String>,
    /// Cell as sent; `None`: the list no longer names the box.
    pub stow: Option<String>,
    /// The list names the box.
    pub aboard: bool,
    /// Port of discharge as sent.
    pub discharge_port: Option<String>,
}

/// A set point from now on.
#[derive(Debug, Clone, PartialEq)]
pub struct SetPoint {
    /// When it was loaded or first seen.
    pub at: Utc,
    /// °C; `None`: withdrawn, or not readable.
    pub set_c: Option<f64>,
    /// As sent, for one that came with a list.
    pub as_sent: Option<String>,
    /// `true`: ordered by a list; `false`: seen on the display.
    pub ordered: bool,
    /// Who loaded the list, or who read it.
    pub who: String,
    /// File or remark that tells why; empty when nothing does.
    pub why: String,
}

/// A reading with the entry and file it came in.
#[derive(Debug, Clone, PartialEq)]
pub struct FiledReading {
    /// What was read.
    pub reading: Reading,
    /// Journal entry.
    pub entry: i64,
    /// File, by its place in [`Dossier::originals`].
    pub file: Option<usize>,
}

/// A spell in which nothing was read.
#[derive(Debug, Clone, PartialEq)]
pub struct Gap {
    /// Last reading before.
    pub from: Utc,
    /// First reading after; the end of the record when there is none.
    pub to: Utc,
    /// Longer than twelve hours.
    pub long: bool,
    /// What the row after it remarks, if anything.
    pub remark: Option<String>,
}

/// An alarm from its first to its last sighting.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AlarmSpell {
    /// As written.
    pub text: String,
    /// First seen.
    pub from: Utc,
    /// Last seen.
    pub to: Utc,
    /// First reading that no longer shows it.
    pub gone_at: Option<Utc>,
    /// Who or what read it first.
    pub source: String,
    /// Remarks and acts while it stood and in the twelve hours after: when, who, what.
    pub done: Vec<Deed>,
}

/// Something a person wrote or did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Deed {
    /// When.
    pub at: Utc,
    /// Who.
    pub who: String,
    /// What.
    pub what: String,
}

/// A spell without power.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PowerSpell {
    /// Last reading with power before it.
    pub last_on: Option<Utc>,
    /// First reading without.
    pub from: Utc,
    /// Last reading without.
    pub to: Utc,
    /// First reading with power again.
    pub back_at: Option<Utc>,
    /// Who or what read it first.
    pub source: String,
}

/// Something that happened, told from the record.
#[derive(Debug, Clone, PartialEq)]
pub struct Incident {
    /// First reading that shows it.
    pub from: Utc,
    /// Last reading that shows it.
    pub to: Utc,
    /// It lasts to the end of the record.
    pub open: bool,
    /// What happened, one sentence each.
    pub what: Vec<String>,
    /// When and by whom it was noticed.
    pub noticed: Vec<String>,
    /// What was done.
    pub done: Vec<Deed>,
    /// What the temperatures did: air first, then each probe that was read.
    pub effect: Vec<Effect>,
    /// No probe in the cargo was read in the whole record.
    pub cargo_not_measured: bool,
    /// How far air was off, K, times hours: to tell the greater from the smaller.
    pub weight: u64,
}

/// What one temperature did during an incident.
#[derive(Debug, Clone, PartialEq)]
pub struct Effect {
    /// Which: `return air`, `pulp probe 1`.
    pub name: String,
    /// Last reading before.
    pub before: Option<(Utc, f64)>,
    /// Warmest from the first reading that shows the incident to twelve hours after the last.
    pub warmest: (Utc, f64),
    /// Coldest in the same time.
    pub coldest: (Utc, f64),
    /// Last reading of that time.
    pub last: (Utc, f64),
}

/// One slurry calibration.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Calibration {
    /// When.
    pub at: Utc,
    /// Who entered it.
    pub who: String,
    /// Probe, reading as written, unit.
    pub readings: Vec<(u8, String, &'static str)>,
    /// Remark.
    pub remark: String,
}

/// A vacuum hold with what its figure shows.
#[derive(Debug, Clone, PartialEq)]
pub struct HoldSheet {
    /// As entered.
    pub file: HoldFile,
    /// Readings that count: minutes since valve-off, µm.
    pub points: Vec<(f64, f64)>,
    /// Step of the display, µm.
    pub step_um: f64,
    /// Sign of the gauge's unit.
    pub unit_sign: &'static str,
    /// The criterion in words, with its trust mark.
    pub criterion: String,
    /// How the readings stand against it.
    pub standing: String,
    /// Fitted curves, the most probable first: what each stands for with its share, and minutes
    /// since valve-off and µm.
    pub curves: Vec<(String, Vec<(f64, f64)>)>,
    /// Levels that count: µm and name.
    pub levels: Vec<(f64, String)>,
    /// The end of the criterion's time, min.
    pub criterion_min: f64,
}

/// A journal entry in plain words.
#[derive(Debug, Clone, PartialEq)]
pub struct LogLine {
    /// Its number.
    pub seq: i64,
    /// When it was entered.
    pub at: Utc,
    /// Who entered it.
    pub who: String,
    /// What.
    pub what: String,
    /// The act, where it is one.
    pub act: Option<Act>,
    /// Its hash.
    pub hash: Digest,
}

/// A file as it came in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OriginalFile {
    /// Name.
    pub name: String,
    /// SHA-256 of its bytes.
    pub sha256: Digest,
    /// Bytes.
    pub bytes: u64,
    /// Entry that brought it.
    pub entry: i64,
    /// When that was.
    pub at: Utc,
    /// Who brought it.
    pub who: String,
    /// Other boxes' data stand in it too, as far as known: it brought rows or a list.
    pub whole_ship: bool,
}

impl Dossier {
    /// Ship and voyage in one line.
    #[must_use]
    pub fn ship_line(&self) -> String {
        let ship = self.ship.as_deref().unwrap_or("ship not named");
        match self.voyage.as_deref() {
            Some(voyage) => format!("{ship}, voyage {voyage}"),
            None => ship.to_owned(),
        }
    }
}
