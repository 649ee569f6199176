//! The one place that knows both records and models: state in, assessments out. Pure and
//! replayable: the same facts and the same clock give the same words and figures.
//!
//! - [`box_line`]: one box's line on the watch list; [`watch`]: all of them in order.
//! - [`history`], [`box_view`]: one box's past and all that is known of it.
//!
//! How it goes: [`Ground`](ground) gathers what is known of a box as of an instant; each file in
//! `rules` looks for one kind of finding; `forecast` says when the cargo reaches a limit on the
//! present course; `line` puts it into one line.

use box_model::CargoTable;
use record::{BoxFacts, BoxLine, State, WatchList};
use units::Utc;

mod air;
mod airflow;
pub mod calibration;
mod defrost_signs;
mod defrost_words;
mod fan;
mod fitted;
mod forecast;
mod ground;
mod history;
mod incidents;
mod line;
mod loads;
mod outlook;
mod power;
mod quality;
mod repairs;
mod robust;
mod rounds;
mod rules;
mod strength;
mod treatment;
mod trend;
mod view;
mod weather;
mod words;

pub use fan::fan;
pub use history::history;
pub use incidents::{DEEDS_AFTER_H, Past, past};
pub use line::box_line;
pub use loads::{box_load, hours_without_power, restart_box};
pub use outlook::{Outlook, Question, outlook};
pub use repairs::{Crew, CrewMember, JobSaid, Night, repair_task};
pub use rounds::{Keyed, questions, round_line};
pub use treatment::{Depth, TreatmentQuestion, treatment_view, with_treatment};
pub use view::box_view;
pub use weather::{Ambient, weather_ahead};

/// The instant an assessment speaks of, and how far ahead it looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Clock {
    /// Readings later than this are not looked at.
    pub as_of: Utc,
    /// Hours to the end of the voyage of the box, as far as known.
    pub horizon_h: f64,
}

/// How many hours of readings before `as_of` [`box_line`] looks at. A box silent for longer is
/// judged by its last rows: pass those.
#[must_use]
pub fn trend_window_h() -> f64 {
    ground::FIT_WINDOW_H
}

/// The watch list of all boxes: every thermal box with a number that is listed, and every box
/// that was read. Dry boxes that were never read are left out.
#[must_use]
pub fn watch(facts: &[BoxFacts], clock: Clock, cargoes: &CargoTable) -> WatchList {
    let concerns = |f: &&BoxFacts| {
        f.listed.as_ref().is_some_and(|l| l.thermal)
            || f.readings.iter().any(|r| r.at <= clock.as_of)
    };
    let lines = facts.iter().filter(concerns).map(|f| box_line(f, clock, cargoes)).collect();
    WatchList { as_of: Some(clock.as_of), boxes: in_order(lines) }
}

/// Lines in the order of the watch list: those not ok first, by hours to limit (none in sight
/// last), then by state, then by number; boxes that are fine last, by cell.
#[must_use]
pub fn in_order(mut lines: Vec<BoxLine>) -> Vec<BoxLine> {
    lines.sort_by(|a, b| {
        let fine = |l: &BoxLine| l.state == State::Ok;
        let by_need = || {
            let hours = |l: &BoxLine| l.hours_to_limit.unwrap_or(f64::INFINITY);
            hours(a).total_cmp(&hours(b)).then(b.state.cmp(&a.state)).then(a.unit.cmp(&b.unit))
        };
        let by_cell = || {
            let place = |l: &BoxLine| (l.cell.is_none(), l.cell);
            place(a).cmp(&place(b)).then(a.unit.cmp(&b.unit))
        };
        fine(a).cmp(&fine(b)).then_with(|| if fine(a) { by_cell() } else { by_need() })
    });
    lines
}
