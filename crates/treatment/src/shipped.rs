//! Schedules that ship with the program.

use crate::read::ScheduleProblem;
use crate::schedule::Schedule;

/// A schedule file that ships with the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shipped {
    /// Its id: the file's name without `.toml`.
    pub id: &'static str,
    /// Its text.
    pub text: &'static str,
}

impl Shipped {
    /// Reads it.
    ///
    /// # Errors
    /// Never for what ships: a test reads them all.
    pub fn schedule(&self) -> Result<Schedule, ScheduleProblem> {
        Schedule::from_toml(self.text, &format!("{} (shipped)", self.id))
    }
}

/// All of them, by id.
#[must_use]
pub fn shipped() -> &'static [Shipped] {
    &ALL
}

/// One of them.
#[must_use]
pub fn by_id(id: &str) -> Option<Shipped> {
    ALL.iter().find(|s| s.id == id).copied()
}

/// Every file of data/schedules; a test compares the two.
#[rustfmt::skip]
const ALL: [Shipped; 61] = [
    of("au-es-citrus-1.11", include_str!("../../../data/schedules/au-es-citrus-1.11.toml")),
    of("au-es-citrus-1.11-2019", include_str!("../../../data/schedules/au-es-citrus-1.11-2019.toml")),
    of("au-es-citrus-1.67", include_str!("../../../data/schedules/au-es-citrus-1.67.toml")),
    of("au-es-citrus-2.22", include_str!("../../../data/schedules/au-es-citrus-2.22.toml")),
    of("au-es-citrus-3.0", include_str!("../../../data/schedules/au-es-citrus-3.0.toml")),
    of("au-es-lemon-1.11", include_str!("../../../data/schedules/au-es-lemon-1.11.toml")),
    of("au-es-lemon-2.0", include_str!("../../../data/schedules/au-es-lemon-2.0.toml")),
    of("au-es-lemon-3.0", include_str!("../../../data/schedules/au-es-lemon-3.0.toml")),
    of("au-tas-medfly-0", include_str!("../../../data/schedules/au-tas-medfly-0.toml")),
    of("au-tas-medfly-1", include_str!("../../../data/schedules/au-tas-medfly-1.toml")),
    of("au-tas-medfly-2", include_str!("../../../data/schedules/au-tas-medfly-2.toml")),
    of("au-tas-medfly-3", include_str!("../../../data/schedules/au-tas-medfly-3.toml")),
    of("au-tas-medfly-lemon-1", include_str!("../../../data/schedules/au-tas-medfly-lemon-1.toml")),
    of("au-tas-medfly-lemon-2", include_str!("../../../data/schedules/au-tas-medfly-lemon-2.toml")),
    of("au-tas-medfly-lemon-3", include_str!("../../../data/schedules/au-tas-medfly-lemon-3.toml")),
    of("au-tas-qfly-0", include_str!("../../../data/schedules/au-tas-qfly-0.toml")),
    of("au-tas-qfly-1", include_str!("../../../data/schedules/au-tas-qfly-1.toml")),
    of("au-tas-qfly-2", include_str!("../../../data/schedules/au-tas-qfly-2.toml")),
    of("au-tas-qfly-3", include_str!("../../../data/schedules/au-tas-qfly-3.toml")),
    of("au-tas-qfly-lemon-1", include_str!("../../../data/schedules/au-tas-qfly-lemon-1.toml")),
    of("au-tas-qfly-lemon-2", include_str!("../../../data/schedules/au-tas-qfly-lemon-2.toml")),
    of("au-tas-qfly-lemon-3", include_str!("../../../data/schedules/au-tas-qfly-lemon-3.toml")),
    of("cn-in-transit-regime", include_str!("../../../data/schedules/cn-in-transit-regime.toml")),
    of("cn-pre-export-regime", include_str!("../../../data/schedules/cn-pre-export-regime.toml")),
    of("eu-orange-2022", include_str!("../../../data/schedules/eu-orange-2022.toml")),
    of("eu-orange-a", include_str!("../../../data/schedules/eu-orange-a.toml")),
    of("eu-orange-b", include_str!("../../../data/schedules/eu-orange-b.toml")),
    of("id-au-apple-2.0", include_str!("../../../data/schedules/id-au-apple-2.0.toml")),
    of("id-au-apple-3.0", include_str!("../../../data/schedules/id-au-apple-3.0.toml")),
    of("jp-au-grape-1.0", include_str!("../../../data/schedules/jp-au-grape-1.0.toml")),
    of("jp-au-grape-2.0", include_str!("../../../data/schedules/jp-au-grape-2.0.toml")),
    of("jp-au-grape-3.0", include_str!("../../../data/schedules/jp-au-grape-3.0.toml")),
    of("jp-za-citrus", include_str!("../../../data/schedules/jp-za-citrus.toml")),
    of("jp-za-clementine", include_str!("../../../data/schedules/jp-za-clementine.toml")),
    of("kr-za-orange", include_str!("../../../data/schedules/kr-za-orange.toml")),
    of("ph-au-grape-medfly-1.1", include_str!("../../../data/schedules/ph-au-grape-medfly-1.1.toml")),
    of("ph-au-grape-medfly-2.2", include_str!("../../../data/schedules/ph-au-grape-medfly-2.2.toml")),
    of("ph-au-grape-medfly-3.0", include_str!("../../../data/schedules/ph-au-grape-medfly-3.0.toml")),
    of("ph-au-grape-qfly-1.0", include_str!("../../../data/schedules/ph-au-grape-qfly-1.0.toml")),
    of("ph-au-grape-qfly-3.0", include_str!("../../../data/schedules/ph-au-grape-qfly-3.0.toml")),
    of("study-de-lima-medfly-lemon-2", include_str!("../../../data/schedules/study-de-lima-medfly-lemon-2.toml")),
    of("study-de-lima-medfly-lemon-3", include_str!("../../../data/schedules/study-de-lima-medfly-lemon-3.toml")),
    of("study-de-lima-medfly-orange-2", include_str!("../../../data/schedules/study-de-lima-medfly-orange-2.toml")),
    of("study-de-lima-medfly-orange-3", include_str!("../../../data/schedules/study-de-lima-medfly-orange-3.toml")),
    of("study-de-lima-qfly-lemon-2", include_str!("../../../data/schedules/study-de-lima-qfly-lemon-2.toml")),
    of("study-de-lima-qfly-lemon-3", include_str!("../../../data/schedules/study-de-lima-qfly-lemon-3.toml")),
    of("study-de-lima-qfly-orange-2", include_str!("../../../data/schedules/study-de-lima-qfly-orange-2.toml")),
    of("study-de-lima-qfly-orange-3", include_str!("../../../data/schedules/study-de-lima-qfly-orange-3.toml")),
    of("study-grout-1.4", include_str!("../../../data/schedules/study-grout-1.4.toml")),
    of("us-south-america-1.11", include_str!("../../../data/schedules/us-south-america-1.11.toml")),
    of("us-south-america-1.67", include_str!("../../../data/schedules/us-south-america-1.67.toml")),
    of("us-t107-a-1.11", include_str!("../../../data/schedules/us-t107-a-1.11.toml")),
    of("us-t107-a-1.67", include_str!("../../../data/schedules/us-t107-a-1.67.toml")),
    of("us-t107-a-2.22", include_str!("../../../data/schedules/us-t107-a-2.22.toml")),
    of("us-t107-a-34f", include_str!("../../../data/schedules/us-t107-a-34f.toml")),
    of("us-t107-a-35f", include_str!("../../../data/schedules/us-t107-a-35f.toml")),
    of("us-t107-a-36f", include_str!("../../../data/schedules/us-t107-a-36f.toml")),
    of("us-t107-a-until-2002-1.1", include_str!("../../../data/schedules/us-t107-a-until-2002-1.1.toml")),
    of("us-t107-a-until-2002-1.67", include_str!("../../../data/schedules/us-t107-a-until-2002-1.67.toml")),
    of("us-t107-a-until-2002-2.2", include_str!("../../../data/schedules/us-t107-a-until-2002-2.2.toml")),
    of("us-t107-e-shape", include_str!("../../../data/schedules/us-t107-e-shape.toml")),
];

const fn of(id: &'static str, text: &'static str) -> Shipped {
    Shipped { id, text }
}
