//! Published criteria for a vacuum hold, with what their source was: read, or only remembered.
//! What each asks is in reference refrigeration-service.md §4.3.

use vacuum::PA_PER_UM;

use super::HoldPoint;

/// A criterion.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Criterion {
    /// Its id in the record.
    pub id: &'static str,
    /// Whose it is.
    pub name: &'static str,
    /// The pressure the pump must have reached when it is valved off, µm.
    pub start_um: f64,
    /// The pressure it must stay below, µm, where one is named.
    pub below_um: Option<f64>,
    /// How long it is held, min, where it says.
    pub minutes: Option<f64>,
    /// Whether its source was read, or it is from memory.
    pub read: bool,
    /// What else to know of it.
    pub note: &'static str,
}

/// Minutes held where a criterion names none: the usual, 10 at the least (common practice).
pub const USUAL_MIN: f64 = 15.0;
/// 270 Pa, in µm.
const EN_UM: f64 = 270.0 / PA_PER_UM;

/// All of them, the usual one first.
pub const CRITERIA: [Criterion; 8] = [
    Criterion {
        id: "usual-500",
        name: "Usual practice: 500 µm, hold 15 min",
        start_um: 500.0,
        below_um: None,
        minutes: Some(USUAL_MIN),
        read: false,
        note: "common practice, no one source; set the rise you accept yourself",
    },
    Criterion {
        id: "training-500",
        name: "Training text (air conditioning): 500 µm, steady below 1000 µm",
        start_um: 500.0,
        below_um: Some(1000.0),
        minutes: None,
        read: true,
        note: "levelling at 1000 to 2000 µm it calls tight but wet; names no time",
    },
    Criterion {
        id: "fgas-500",
        name: "F-gas training text (UK): 500 µm, standing",
        start_um: 500.0,
        below_um: None,
        minutes: None,
        read: true,
        note: "any rise it calls moisture or leak; names no time; gives 500 µm as 0.5 mbar, which is \
               0.667",
    },
    Criterion {
        id: "acca-5",
        name: "ACCA 5: 500 µm, below 1000 µm for 10 min",
        start_um: 500.0,
        below_um: Some(1000.0),
        minutes: Some(10.0),
        read: false,
        note: "check the edition",
    },
    Criterion {
        id: "au-nz-2007",
        name: "Australia and New Zealand handling code 2007, part 2: 500 µm, hold 1 h",
        start_um: 500.0,
        below_um: None,
        minutes: Some(60.0),
        read: false,
        note: "the figures were not readable in the copy seen",
    },
    Criterion {
        id: "en-378-2",
        name: "EN 378-2: 270 Pa, over 20 kg charge 30 min",
        start_um: EN_UM,
        below_um: None,
        minutes: Some(30.0),
        read: false,
        note: "2000/2008 wording; over 20 kg a second vacuum of 6 h after a nitrogen break; check \
               the 2016 edition",
    },
    Criterion {
        id: "poe-225",
        name: "A compressor maker’s guideline for ester oil: 0.3 mbar (225 µm)",
        start_um: 225.0,
        below_um: None,
        minutes: None,
        read: true,
        note: "names no time; the drier takes water out of the oil, not the vacuum",
    },
    Criterion {
        id: "textbook-50",
        name: "Textbook, factory-size plant: 50 µm",
        start_um: 50.0,
        below_um: None,
        minutes: None,
        read: true,
        note: "and below the vapour pressure of water at the coldest point; names no time",
    },
];

/// The criterion of an id; the usual one for an id that is not known.
#[must_use]
pub fn criterion(id: &str) -> &'static Criterion {
    let [usual, ..] = &CRITERIA;
    CRITERIA.iter().find(|c| c.id == id).unwrap_or(usual)
}

/// How a hold stands against its criterion.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// Minutes it is held for.
    pub minutes: f64,
    /// Minutes held, by the last reading.
    pub held_min: f64,
    /// `Some(true)` met over the whole time, `Some(false)` not met, `None` not yet known.
    pub met: Option<bool>,
    /// In words.
    pub words: String,
}

impl Criterion {
    /// The minutes of its own, or the usual.
    #[must_use]
    pub fn minutes_or_usual(&self) -> f64 {
        self.minutes.unwrap_or(USUAL_MIN)
    }

    /// Its trust mark in words.
    #[must_use]
    pub fn mark(&self) -> &'static str {
        if self.read { "source read" } else { "from memory, unverified" }
    }

    /// How readings stand against it. `rise_um` is the rise a person accepts over its time.
    #[must_use]
    pub fn standing(&self, points: &[HoldPoint], rise_um: Option<f64>) -> Standing {
        let minutes = self.minutes_or_usual();
        let (Some(first), Some(last)) = (points.first(), points.last()) else {
            let words = "no reading yet".to_owned();
            return Standing { minutes, held_min: 0.0, met: None, words };
        };
        let held_min = last.minutes;
        let within = || points.iter().filter(|p| p.minutes <= minutes + 1e-6);
        // The first reading may be taken up to a minute after the valve was closed.
        let (p0, slack) = (first.um, 1e-6);
        let over = held_min + 0.5 >= minutes;
        let (met, words) = if p0 > self.start_um * (1.0 + slack) {
            let start = self.start_um;
            (Some(false), format!("not met: it began at {p0:.0} µm, and {start:.0} is asked"))
        } else if let Some(p) = self.below_um.and_then(|b| within().find(|p| p.um >= b)) {
            let b = self.below_um.unwrap_or_default();
            (
                Some(false),
                format!("not met: {:.0} µm at {:.0} min, {b:.0} is the limit", p.um, p.minutes),
            )
        } else if let Some(p) = rise_um.and_then(|r| within().find(|p| p.um - p0 > r)) {
            let r = rise_um.unwrap_or_default();
            (
                Some(false),
                format!(
                    "not met: risen by {:.0} µm at {:.0} min, {r:.0} is accepted",
                    p.um - p0,
                    p.minutes
                ),
            )
        } else if over {
            (Some(true), format!("met over its {minutes:.0} min"))
        } else {
            let left = minutes - held_min;
            (None, format!("met so far; {left:.0} of its {minutes:.0} min are left"))
        };
        Standing { minutes, held_min, met, words }
    }
}
