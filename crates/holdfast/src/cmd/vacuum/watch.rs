//! `holdfast vacuum watch FILE`: a hold judged while a logger writes its file.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use record::{Act, HeldReading, HoldFile, HoldReading, HoldStart};
use units::Utc;
use vacuum::Verdict;
use voyage::holds::{FromFile, HoldView, Watch, from_file, judged};
use voyage::{NamedBytes, Voyage};

use super::growing::{Found, Growing};
use super::watch_words::{End, Told};
use crate::fail::Fail;
use crate::files;

/// What is asked.
pub struct WatchAsked {
    /// The file.
    pub file: PathBuf,
    /// What is known beside the readings.
    pub start: HoldStart,
    /// The display's step was given; otherwise the file's own figures tell it.
    pub step_given: bool,
    /// The hold in the voyage file that the rows go into.
    pub hold: Option<String>,
    /// The voyage file.
    pub voyage: Option<PathBuf>,
    /// Who feeds it.
    pub who: Option<String>,
    /// Minutes of hold after which it ends, instead of the criterion's.
    pub for_min: Option<f64>,
    /// Minutes without a new row after which it ends.
    pub idle_min: Option<f64>,
    /// Seconds between two looks.
    pub every_s: f64,
    /// One look only.
    pub once: bool,
    /// JSON lines on standard output.
    pub json: bool,
}

/// How long rows of a growing file may stand in the journal before the file itself does too: each
/// entry with a file keeps all of it, so that one a row would fill journal and dossier.
const FILE_EVERY: Duration = Duration::from_secs(600);

/// A watch under way.
struct Going<'a> {
    asked: &'a WatchAsked,
    voyage: Option<Voyage>,
    hold: HoldFile,
    growing: Growing,
    told: Told,
    /// The latest verdict; `None` before the first reading.
    view: Option<HoldView>,
    /// Refused lines that were told.
    refused: usize,
    last_new: Instant,
    /// When the file went into the journal last.
    filed: Option<Instant>,
}

/// Watches until an end; the exit status is that of `vacuum hold`.
pub fn run(asked: &WatchAsked) -> Result<u8, Fail> {
    if asked.file.is_dir() {
        return Err(Fail::refused(format!(
            "{}: is a folder; name the file that the logger writes",
            asked.file.display()
        )));
    }
    let mut going = Going::begin(asked)?;
    let wrong = going.voyage.as_ref().map_or_else(Vec::new, |v| {
        let start = &going.hold.start;
        v.named_instruments_wrong(&start.gauge, start.at)
    });
    going.told.begin(&asked.file, asked.hold.as_deref(), &wrong)?;
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    let runtime = runtime.map_err(|e| Fail::refused(format!("vacuum watch: {e}")))?;
    let end = runtime.block_on(going.until_the_end())?;
    going.file(going.growing.taken().to_vec())?;
    let Some(view) = going.view else {
        return Err(Fail::refused(format!(
            "{}: no reading could be read; a header and rows must come, each with its line end",
            asked.file.display()
        )));
    };
    going.told.end(end, &view)?;
    Ok(if view.judgement.verdict == Verdict::DryAndGrossTight { 0 } else { 3 })
}

impl<'a> Going<'a> {
    fn begin(asked: &'a WatchAsked) -> Result<Self, Fail> {
        let mut voyage = None;
        let mut hold = HoldFile::new(asked.start.clone(), "");
        if let Some(id) = &asked.hold {
            let open = files::open_voyage(asked.voyage.as_deref())?;
            hold = open.hold(id).cloned().ok_or_else(|| {
                Fail::refused(format!(
                    "vacuum watch: --hold {id}: there is no such hold in the voyage file; begin \
                     one on the page Vacuum"
                ))
            })?;
            if hold.end.is_some() {
                return Err(Fail::refused(format!(
                    "vacuum watch: --hold {id}: is ended and signed; begin a new one"
                )));
            }
            voyage = Some(open);
        }
        Ok(Self {
            asked,
            voyage,
            hold,
            growing: Growing::default(),
            told: Told::new(asked.json),
            view: None,
            refused: 0,
            last_new: Instant::now(),
            filed: None,
        })
    }

    async fn until_the_end(&mut self) -> Result<End, Fail> {
        let every = Duration::from_secs_f64(self.asked.every_s);
        loop {
            self.look()?;
            if let Some(end) = self.end() {
                return Ok(end);
            }
            tokio::select! {
                _ = tokio::signal::ctrl_c() => return Ok(End::Stopped),
                () = tokio::time::sleep(every) => {}
            }
        }
    }

    fn end(&self) -> Option<End> {
        if let Some(v) = &self.view {
            let minutes = self.asked.for_min.unwrap_or(v.standing.minutes);
            let over = v.standing.held_min + 0.5 >= minutes;
            match (v.watch, v.judgement.verdict, over) {
                (Watch::Failed, ..) => return Some(End::Failed),
                (_, Verdict::Undecided, true) => return Some(End::TimeOver),
                (_, Verdict::DryAndGrossTight, true) => return Some(End::Done),
                _ => {}
            }
        }
        let idle = self.last_new.elapsed().as_secs_f64() / 60.0;
        match self.asked.idle_min {
            _ if self.asked.once => Some(End::Once),
            Some(most) if idle >= most => Some(End::Idle),
            _ => None,
        }
    }

    /// One look at the file.
    fn look(&mut self) -> Result<(), Fail> {
        let path: &Path = &self.asked.file;
        let bytes = match std::fs::read(path) {
            Ok(bytes) => bytes,
            Err(e) if e.kind() == ErrorKind::NotFound => {
                return self.told.waiting("is not there; waiting for it");
            }
            Err(e) => return self.told.waiting(&format!("{e}; trying again")),
        };
        let before = self.growing.taken().to_vec();
        match self.growing.look(&bytes) {
            Found::Same => return Ok(()),
            Found::Shorter => {
                return self.told.waiting("is shorter than before; waiting for its rows");
            }
            Found::Grown => self.told.arrived(),
            found @ (Found::Cut | Found::Replaced) => {
                self.told.anew(&found, self.voyage.is_some())?;
                self.file(before)?;
                self.filed = None;
                self.refused = 0;
                if self.voyage.is_none() {
                    self.hold.readings.clear();
                    self.view = None;
                }
            }
        }
        self.take()
    }

    /// Takes the new rows of the whole lines.
    fn take(&mut self) -> Result<(), Fail> {
        let name = self.asked.file.display().to_string();
        if self.growing.taken().is_empty() {
            return Ok(());
        }
        if let Some(voyage) = &mut self.voyage {
            // Somebody keys readings in on the page meanwhile, or signs.
            voyage.refresh()?;
            if let Some(held) = voyage.hold(&self.hold.start.id) {
                self.hold = held.clone();
            }
        }
        let found = match from_file(&self.hold, self.growing.taken(), true) {
            Ok(found) => found,
            Err(why) if self.view.is_some() => return self.told.waiting(&why),
            Err(why) => return Err(Fail::refused(format!("{name}: {why}"))),
        };
        self.told.refused(found.refused.get(self.refused..).unwrap_or(&[]))?;
        self.refused = found.refused.len();
        self.told.differing(found.differing)?;
        if found.new.is_empty() {
            // Begun again on a file whose rows are all held.
            if self.view.is_none() && !self.hold.readings.is_empty() {
                self.view = Some(judged(self.hold.clone()));
            }
            return Ok(());
        }
        self.last_new = Instant::now();
        if !self.asked.step_given && self.voyage.is_none() {
            self.hold.start.gauge_step = found.step_um;
        }
        let new = found.new.len();
        self.keep(found)?;
        let view = judged(self.hold.clone());
        self.told.reading(&view, new)?;
        self.view = Some(view);
        Ok(())
    }

    /// Into the journal, or beside the readings so far.
    fn keep(&mut self, found: FromFile) -> Result<(), Fail> {
        if self.voyage.is_none() {
            self.hold.readings.extend(found.new.into_iter().map(held));
            return Ok(());
        }
        let due = self.filed.is_none_or(|at| at.elapsed() >= FILE_EVERY);
        let file = due.then(|| self.growing.taken().to_vec());
        self.enter(found.new, file)
    }

    /// Enters readings, and the file where it is due; none of them new when only that is.
    fn enter(&mut self, new: Vec<HoldReading>, file: Option<Vec<u8>>) -> Result<(), Fail> {
        let Some(voyage) = &mut self.voyage else { return Ok(()) };
        let id = self.hold.start.id.clone();
        let name = self.asked.file.display().to_string();
        let act = Act::HoldRead { id: id.clone(), readings: new, source: Some(name.clone()) };
        let who = self.asked.who.clone().unwrap_or_else(|| self.hold.who.clone());
        let files: Vec<NamedBytes> =
            file.into_iter().map(|bytes| NamedBytes { name: name.clone(), bytes }).collect();
        voyage.enter(&act, &files, &who, files::now())?;
        if !files.is_empty() {
            self.filed = Some(Instant::now());
        }
        if let Some(held) = voyage.hold(&id) {
            self.hold = held.clone();
        }
        Ok(())
    }

    /// The file as it was read last goes into the journal, unless it is there already.
    fn file(&mut self, bytes: Vec<u8>) -> Result<(), Fail> {
        let Some(voyage) = &mut self.voyage else { return Ok(()) };
        if bytes.is_empty() || voyage.holds_file(&bytes)? {
            return Ok(());
        }
        voyage.refresh()?;
        if voyage.hold(&self.hold.start.id).is_none_or(|h| h.end.is_some()) {
            return self.told.not_kept(&self.asked.file);
        }
        self.enter(Vec::new(), Some(bytes))
    }
}

fn held(reading: HoldReading) -> HeldReading {
    HeldReading { reading, source: None, struck: false }
}

/// What a watch of a file alone begins with.
pub fn start(criterion: String) -> HoldStart {
    HoldStart {
        id: String::new(),
        at: Utc::from_ms(0),
        unit: None,
        place: String::new(),
        volume_l: None,
        coldest_c: None,
        ambient_c: None,
        fluid: None,
        gauge: String::new(),
        gauge_step: 0.0,
        pressure_unit: "um".to_owned(),
        calibrated_on: String::new(),
        criterion,
        rise_um: None,
    }
}
