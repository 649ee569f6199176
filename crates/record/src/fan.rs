//! What may lie ahead of one box: its cargo's temperature on several courses of things.

use units::Utc;

use crate::history::CargoFact;

/// A course of things.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum FanCourse {
    /// As it goes now.
    Present,
    /// Power is lost now and stays away.
    PowerOff,
    /// As it goes now, and after some hours the unit is as good as usual again.
    Repaired,
}

impl FanCourse {
    /// The word in JSON.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Present => "present",
            Self::PowerOff => "power_off",
            Self::Repaired => "repaired",
        }
    }
}

/// The cargo's mean temperature at one hour ahead.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FanPoint {
    /// Hours from now.
    pub hours: f64,
    /// Best estimate, °C.
    pub cargo_c: f64,
    /// Its 90 % interval, °C.
    pub p90_c: [f64; 2],
}

/// When a limit is passed on a course.
#[derive(Debug, Clone, PartialEq)]
pub struct FanLimit {
    /// The limit, °C.
    pub limit_c: f64,
    /// The limit in words, with its source.
    pub text: String,
    /// Hours until it is passed by the best estimate; `None` when not within the voyage.
    pub hours: Option<f64>,
    /// The 90 % interval, capped at the voyage's end.
    pub p90_h: [f64; 2],
    /// Probability that it is passed before the voyage of the box ends.
    pub probability: f64,
}

/// One course.
#[derive(Debug, Clone, PartialEq)]
pub struct FanLine {
    /// Which.
    pub course: FanCourse,
    /// The cargo hour by hour.
    pub cargo: Vec<FanPoint>,
    /// Each limit of the cargo.
    pub limits: Vec<FanLimit>,
}

/// All courses of one box.
#[derive(Debug, Clone, PartialEq)]
pub struct Fan {
    /// The instant from which hours count.
    pub at: Utc,
    /// The end of the box's voyage, hours from then, as far as known.
    pub horizon_h: f64,
    /// After how many hours the repair of [`FanCourse::Repaired`] is done.
    pub repair_in_h: f64,
    /// Courses that differ from one another, the present one first.
    pub lines: Vec<FanLine>,
    /// What the readings did not tell, in words.
    pub lacks: Vec<String>,
    /// What the temperatures cost the cargo's quality so far and on the present course.
    pub quality: Vec<CargoFact>,
}
