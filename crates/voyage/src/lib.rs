//! One voyage file: what a person does with it. Load a list, take readings, look.
//!
//! The seam between bytes and reasoning: it hands files to `intake`, files what came of them in
//! the `journal`, replays the state, and asks `assess`. It reads no clock: every act is told when
//! it happens.

mod acts;
mod bodies;
pub mod booking;
mod clock;
mod crew_file;
mod dossier;
mod gas;
mod gas_entry;
mod handover;
mod held;
pub mod holds;
pub mod instrument_state;
mod instruments;
mod load;
mod loads;
mod log;
mod look;
mod messages;
mod one_box;
mod plans;
mod plant_file;
mod power;
pub mod pressure;
mod probe_file;
mod probe_files;
mod problem;
pub mod rounds;
mod signing;
mod spares;
mod take;
mod treatments;
pub mod works;

pub use crate::plans::{NightPlan, RestartView};
pub use crate::power::{FeederLoad, PowerAhead, PowerView};
pub use acts::Acts;
pub use clock::has_come;
pub use crew_file::{CREW_EXAMPLE, read_crew};
pub use dossier::Gathering;
pub use gas_entry::{Words, gas_act};
pub use held::{Held, HeldList};
pub use instruments::{scans, try_ice};
pub use intake::{Refused, read_weather};
pub use journal::{ProofBook, Tree, Verification, check_entries, gunzip, gzip, inflate};
pub use load::{LoadOutcome, read_only};
pub use loads::Loads;
pub use log::{LogAsked, LogLine};
pub use look::{AsOf, EntryLine};
pub use one_box::OneBox;
pub use plant_file::{PLANT_EXAMPLE, ShipFeeder, ShipHold, ShipPlant, read_plant};
pub use probe_file::{ProbeFile, read_calibration, read_probe_file, read_slurry};
pub use probe_files::{BoxVerdict, Fleet, Source, read_fleet};
pub use problem::Problem;
pub use spares::Shelf;
pub use take::{TakeOutcome, check_readings};
pub use treatments::{ScheduleLine, schedule_text, schedules};

use std::cell::Cell;
use std::path::Path;

use box_model::CargoTable;
use journal::Journal;
use units::Utc;

/// A file as given by a person: name and bytes.
pub struct NamedBytes {
    /// Name, with folders where it came with them.
    pub name: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// An open voyage.
pub struct Voyage {
    journal: Journal,
    held: HeldList,
    acts: Acts,
    /// The newest entry that `held` and `acts` know of.
    replayed_to: i64,
    cargoes: CargoTable,
    /// The latest instant read, as of the entry it was looked up at.
    latest: Cell<Option<(i64, Option<Utc>)>>,
}

impl Voyage {
    /// Opens a voyage file that is there.
    ///
    /// # Errors
    /// [`Problem`] in one line: missing, not a voyage, damaged.
    pub fn open(path: &Path) -> Result<Self, Problem> {
        Self::replay(Journal::open(path)?)
    }

    /// Opens a voyage file, creating it when there is none.
    ///
    /// # Errors
    /// As [`Voyage::open`]; also when its folder cannot be written.
    pub fn open_or_create(path: &Path) -> Result<Self, Problem> {
        Self::replay(Journal::open_or_create(path)?)
    }

    fn replay(journal: Journal) -> Result<Self, Problem> {
        let replayed_to = journal.last_seq()?;
        let held = HeldList::replay(&journal)?;
        let acts = Acts::replay(&journal)?;
        Ok(Self {
            journal,
            held,
            acts,
            replayed_to,
            cargoes: CargoTable::embedded(),
            latest: Cell::new(None),
        })
    }

    /// Takes notice of what another program wrote into the file since; true when there is
    /// anything new.
    ///
    /// # Errors
    /// What the journal says.
    pub fn refresh(&mut self) -> Result<bool, Problem> {
        let last = self.journal.last_seq()?;
        if last == self.replayed_to {
            return Ok(false);
        }
        self.held = HeldList::replay(&self.journal)?;
        self.acts = Acts::replay(&self.journal)?;
        self.replayed_to = last;
        Ok(true)
    }

    /// Checks a voyage file against its own hashes, without replaying or opening it. A file that is
    /// plainly a voyage and cannot be read any further has been altered.
    ///
    /// # Errors
    /// [`Problem`] when it is missing or no voyage.
    pub fn verify(path: &Path) -> Result<Verification, Problem> {
        Ok(Journal::verify_file(path)?)
    }

    /// True when the file begins as a voyage file does.
    #[must_use]
    pub fn is_voyage(path: &Path) -> bool {
        Journal::is_voyage(path)
    }

    /// The journal under it.
    #[must_use]
    pub fn journal(&self) -> &Journal {
        &self.journal
    }

    /// The list in force.
    #[must_use]
    pub fn held(&self) -> &HeldList {
        &self.held
    }

    /// The cargo table.
    pub(crate) fn cargoes(&self) -> &CargoTable {
        &self.cargoes
    }

    /// Ship and voyage as the lists name them, for a title.
    #[must_use]
    pub fn ship_line(&self) -> String {
        let head = &self.held.head;
        let ship = head.ship.as_deref().unwrap_or("ship not named");
        match head.voyage.as_deref() {
            Some(voyage) => format!("{ship}, voyage {voyage}"),
            None => ship.to_owned(),
        }
    }

    /// Next port of call and its estimated arrival, as far as the lists say.
    #[must_use]
    pub fn next_port(&self) -> Option<(String, Option<Utc>)> {
        let head = &self.held.head;
        let eta = head.next_port_eta_ms.map(Utc::from_ms);
        head.next_port.clone().map(|port| (port, eta))
    }
}
