//! The voyage behind a lock, and what is shown of it kept ready: the watch list is worked out
//! once for each change, not once for each page.

use std::collections::BTreeSet;
use std::net::SocketAddr;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, RwLock};
use std::time::{SystemTime, UNIX_EPOCH};

use record::treatment::TreatmentView;
use record::{BoxHistory, GaugesEntry, NoteEntry, RoundLine, Span, UnitId, WatchList};
use tokio::sync::watch;
use units::Utc;
use voyage::{AsOf, EntryLine, Voyage};

use crate::Options;
use crate::memo::Memo;
use crate::pages::box_page::{BoxData, Range};
use crate::pages::night::{self, NightData};
use crate::pages::power::PowerData;
use crate::ways::Ways;

/// Entries kept at hand, to name the files of a box.
const ENTRIES_AT_HAND: usize = 4000;
/// Hours of readings drawn beside a forecast at most.
const PAST_OF_FAN_H: f64 = 96.0;

/// What every page shows, as of one journal entry.
#[derive(Clone)]
pub struct Snapshot {
    /// Watch list.
    pub list: WatchList,
    /// Cold treatments, in order of need.
    pub treatments: Vec<TreatmentView>,
    /// Title of the voyage.
    pub ship: String,
    /// What came in, newest first.
    pub entries: Vec<EntryLine>,
    /// Newest entry in it.
    pub entry: i64,
    /// The entry at which the lists were worked out last.
    pub renewed: i64,
}

impl Snapshot {
    /// The instant all pages speak of. Named outright, so that it is not looked for in every box
    /// again.
    pub fn as_of(&self) -> AsOf {
        self.list.as_of.map_or(AsOf::Latest, AsOf::At)
    }
}

/// The newest entry a repair plan knows, and what the address asked for.
type AskedNight = (i64, Vec<(String, String)>);

/// The lines of a round, or why there are none.
type RoundMade = Result<Arc<Vec<RoundLine>>, String>;

/// The running server.
pub struct App {
    voyage: Mutex<Voyage>,
    shown: RwLock<Arc<Snapshot>>,
    changed: watch::Sender<i64>,
    stopping: watch::Sender<bool>,
    /// The last repair plan and what it was asked for: made anew when anything comes in.
    nights: Memo<AskedNight, NightData>,
    /// The last look at the plant, likewise, with the newest entry it knows.
    powers: Memo<i64, PowerData>,
    /// The lines of the round looked at last: by entry of the lists and instant.
    rounds: Memo<(i64, Utc), RoundMade>,
    /// Ways on for service work.
    pub ways: Ways,
    /// Address listened on.
    pub address: SocketAddr,
    /// What was set.
    pub options: Options,
}

impl App {
    /// Reads the voyage once.
    pub fn new(voyage: Voyage, address: SocketAddr, options: Options) -> Result<Self, String> {
        let first = snapshot(&voyage)?;
        Ok(Self {
            changed: watch::Sender::new(first.entry),
            stopping: watch::Sender::new(false),
            shown: RwLock::new(Arc::new(first)),
            voyage: Mutex::new(voyage),
            nights: Memo::default(),
            powers: Memo::default(),
            rounds: Memo::default(),
            ways: Ways::default(),
            address,
            options,
        })
    }

    /// What pages show now.
    pub fn shown(&self) -> Arc<Snapshot> {
        let guard = self.shown.read().unwrap_or_else(PoisonError::into_inner);
        Arc::clone(&guard)
    }

    /// The voyage, for one act. A thread that failed while holding it leaves no half-done state:
    /// the journal rolls back.
    pub fn voyage(&self) -> MutexGuard<'_, Voyage> {
        self.voyage.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Works out what is shown anew and tells every open page.
    pub fn renew(&self, voyage: &Voyage) -> Result<(), String> {
        let new = snapshot(voyage)?;
        let entry = new.entry;
        *self.shown.write().unwrap_or_else(PoisonError::into_inner) = Arc::new(new);
        self.changed.send_replace(entry);
        Ok(())
    }

    /// As [`App::renew`], after one entry that changes no box: the lists stay as they are.
    pub fn renew_entries(&self, voyage: &Voyage) -> Result<(), String> {
        let shown = self.shown();
        let entry = voyage.journal().last_seq().map_err(|e| e.to_string())?;
        if entry != shown.entry + 1 {
            return self.renew(voyage);
        }
        let entries = voyage.entries(ENTRIES_AT_HAND).map_err(|e| e.to_string())?;
        let new = Snapshot { entries, entry, ..Snapshot::clone(&shown) };
        *self.shown.write().unwrap_or_else(PoisonError::into_inner) = Arc::new(new);
        self.changed.send_replace(entry);
        Ok(())
    }

    /// News of changes: the number of the newest entry shown.
    pub fn news(&self) -> watch::Receiver<i64> {
        self.changed.subscribe()
    }

    /// Tells open streams to end.
    pub fn stop(&self) {
        self.stopping.send_replace(true);
    }

    /// Whether the server is ending.
    pub fn stopping(&self) -> watch::Receiver<bool> {
        self.stopping.subscribe()
    }

    /// Takes over what another program wrote into the voyage file, if anything.
    fn look(&self) -> Result<(), String> {
        let mut voyage = self.voyage();
        voyage.refresh().map_err(|e| e.to_string())?;
        let newest = voyage.journal().last_seq().map_err(|e| e.to_string())?;
        if newest == self.shown().entry {
            return Ok(());
        }
        self.renew(&voyage)
    }

    /// Who repairs what first, as the address asks for.
    pub fn night(&self, pairs: &[(String, String)]) -> Arc<NightData> {
        let shown = self.shown();
        self.nights.get((shown.entry, pairs.to_vec()), || self.night_anew(&shown, pairs))
    }

    fn night_anew(&self, shown: &Snapshot, pairs: &[(String, String)]) -> NightData {
        let voyage = self.voyage();
        let crew = voyage.crew().map_err(|e| e.to_string());
        let names = crew.as_ref().map(|c| c.names()).unwrap_or_default();
        let asked = night::people(pairs, &names);
        let plan = crew.and_then(|crew| {
            voyage.repair_plan(&shown.list, &asked, Some(&crew)).map_err(|e| e.to_string())
        });
        let plans = &voyage.acts().plans;
        NightData {
            plan,
            asked,
            under_way: plans.under_way.clone(),
            crew_file: plans.crew.clone().unwrap_or_default(),
        }
    }

    /// What the boxes draw, and the order after a blackout.
    pub fn power(&self) -> Arc<PowerData> {
        let shown = self.shown();
        self.powers.get(shown.entry, || self.power_anew(&shown))
    }

    fn power_anew(&self, shown: &Snapshot) -> PowerData {
        let voyage = self.voyage();
        let loads = voyage.loads(&shown.list, None);
        let loads = loads.as_ref().map_err(ToString::to_string);
        let power = |l| voyage.power(l, None).map_err(|e| e.to_string());
        let restart = |l| voyage.restart(l).map_err(|e| e.to_string());
        PowerData {
            power: loads.clone().and_then(power),
            restart: loads.and_then(restart),
            plant: voyage.plant().map_err(|e| e.to_string()),
            weather: voyage.acts().plans.weather.clone(),
        }
    }

    /// What a round at an instant finds beside each box, in walking order. Made once for each
    /// change of the lists: a figure keyed in is answered without waiting for the voyage file.
    pub fn round_lines(&self, at: Utc) -> RoundMade {
        let shown = self.shown();
        let lines = self.rounds.get((shown.renewed, at), || {
            let lines = self.voyage().round_lines(&shown.list, at);
            lines.map(Arc::new).map_err(|e| e.to_string())
        });
        Result::clone(&lines)
    }

    /// One box's treatment in full; `None` when none is ordered.
    pub fn treatment(&self, unit: &UnitId) -> Result<Option<TreatmentView>, String> {
        let at = self.shown().as_of();
        self.voyage().treatment(unit, at).map_err(|e| e.to_string())
    }

    /// Gauge readings of a box in the journal, in the order entered.
    pub fn gauges(&self, unit: &UnitId) -> Vec<GaugesEntry> {
        self.voyage().acts().gauges.get(unit).cloned().unwrap_or_default()
    }

    /// One box's past in a stretch of time.
    pub fn history(&self, unit: &UnitId, range: Range) -> Result<Option<BoxHistory>, String> {
        let shown = self.shown();
        let span = range.span(shown.list.as_of);
        let history = self.voyage().history(unit, span, shown.as_of());
        history.map_err(|e| e.to_string())
    }

    /// Everything a box's page shows; `None` for a box that is neither listed nor read.
    pub fn box_data(
        &self,
        unit: &UnitId,
        range: Range,
        repair_in_h: f64,
    ) -> Result<Option<BoxData>, String> {
        let shown = self.shown();
        let voyage = self.voyage();
        let one = voyage.one_box(unit, shown.as_of()).map_err(|e| e.to_string())?;
        let Some(one) = one else {
            return Ok(None);
        };
        let history = Some(one.history(range.span(shown.list.as_of)));
        let entries = entries_of(&shown.entries, &one.entries);
        let treatment = shown.treatments.iter().find(|t| t.unit == *unit).cloned();
        let gauges = voyage.acts().gauges.get(unit).cloned().unwrap_or_default();
        let holds = voyage.holds_of(unit).cloned().collect();
        let pressure_tests = voyage.pressure_tests_of(unit).cloned().collect();
        let mut notes: Vec<NoteEntry> = voyage
            .acts()
            .notes
            .iter()
            .filter(|n| n.note.unit.as_ref() == Some(unit))
            .cloned()
            .collect();
        notes.sort_by_key(|n| (n.note.at, n.entered_at));
        let works = voyage.works_of(unit).cloned().collect();
        let ahead = one.fan(repair_in_h).map(|fan| {
            let back = Span { from: fan.at.plus_hours(-PAST_OF_FAN_H), to: fan.at };
            let past = one.history(Some(back));
            (fan, past)
        });
        let (view, entry_of) = (one.view, one.entries);
        Ok(Some(BoxData {
            view,
            history,
            entry_of,
            entries,
            treatment,
            gauges,
            holds,
            pressure_tests,
            notes,
            works,
            ahead,
        }))
    }
}

/// The entries that brought a box's readings, and the newest list.
fn entries_of(entries: &[EntryLine], of_readings: &[i64]) -> Vec<EntryLine> {
    let wanted: BTreeSet<i64> = of_readings.iter().copied().collect();
    let newest_list = entries.iter().find(|e| e.kind == "load").map(|e| e.seq);
    let keep = |e: &&EntryLine| wanted.contains(&e.seq) || newest_list == Some(e.seq);
    entries.iter().filter(keep).cloned().collect()
}

fn snapshot(voyage: &Voyage) -> Result<Snapshot, String> {
    // Read first: an entry that comes in meanwhile is then found by the next look.
    let entry = voyage.journal().last_seq().map_err(|e| e.to_string())?;
    let (list, treatments) = voyage.survey(AsOf::Latest).map_err(|e| e.to_string())?;
    let entries = voyage.entries(ENTRIES_AT_HAND).map_err(|e| e.to_string())?;
    Ok(Snapshot { list, treatments, ship: voyage.ship_line(), entries, entry, renewed: entry })
}

/// Looks for news of other programs now and then, until aborted.
pub async fn look_for_news(app: Arc<App>) {
    let mut clock = tokio::time::interval(app.options.look_every);
    clock.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
    loop {
        clock.tick().await;
        let looking = Arc::clone(&app);
        // A voyage file that is busy now is looked at again at the next turn.
        let _ = tokio::task::spawn_blocking(move || looking.look()).await;
    }
}

/// This computer's clock.
pub fn now() -> Utc {
    let ms = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |d| d.as_millis());
    Utc::from_ms(i64::try_from(ms).unwrap_or(0))
}
