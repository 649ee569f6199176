//! Nitrogen and standing-pressure tests as they are kept: what was read, what was told, with
//! which gauge.

use std::collections::BTreeMap;

use fluids::{FluidError, Refrigerant};
use record::{Act, PressureEntry, PressureKind, PressureTested, UnitId};
use units::Utc;
use units::math::round_to;
use vacuum::nitrogen::{PressureTest, pressure_test};
use vacuum::standing::{Standing, standing_test};
use vacuum::told;

use crate::{Problem, Voyage};

/// What each reading is called in a record, by the option of the command that gives it, and what is
/// taken where nobody gives it.
const READ: [(&str, &str, Option<&str>); 14] = [
    ("fluid", "refrigerant on the plate", None),
    ("volume-l", "volume, l", None),
    ("start", "pressure at the start", None),
    ("start-c", "temperature at the start, °C", None),
    ("end", "pressure at the end", None),
    ("end-c", "temperature at the end, °C", None),
    ("hours", "hours between", None),
    ("pressure", "standing pressure", None),
    ("temp-c", "temperature of all, °C", None),
    ("gauge-step-kpa", "step of the gauge, kPa", Some("10")),
    ("gauge-error-kpa", "gauge error either way, kPa", Some("31")),
    ("thermometer-k", "thermometer, K either way", None),
    ("vapour-l", "vapour space, l", None),
    ("barometer-kpa", "barometer, kPa", Some("101.325")),
];

/// The readings as a record lists them, from what was given by option.
#[must_use]
pub fn as_written<'a>(
    options: &[&str],
    given: impl Fn(&str) -> Option<&'a str>,
) -> Vec<[String; 2]> {
    let asked = READ.iter().filter(|r| options.contains(&r.0));
    let line = |(key, words, usual): &(&str, &str, Option<&str>)| {
        let text = match (given(key), usual) {
            (Some(text), _) => text.trim().to_owned(),
            (None, Some(usual)) => format!("{usual} (not given, the usual)"),
            (None, None) => return None,
        };
        (!text.is_empty()).then(|| [(*words).to_owned(), text])
    };
    asked.filter_map(line).collect()
}

/// What a record needs beside the readings.
#[derive(Debug, Clone, PartialEq)]
pub struct PressureHead {
    /// The container, when it is one's circuit.
    pub unit: Option<UnitId>,
    /// What was tested, in the person's words.
    pub place: String,
    /// When the last reading was taken.
    pub at: Utc,
    /// The gauge: what and which.
    pub gauge: String,
    /// Date on its calibration paper; empty when there is none.
    pub calibrated_on: String,
    /// Ambient, °C.
    pub ambient_c: Option<f64>,
    /// Each reading as written: what and text.
    pub as_written: Vec<[String; 2]>,
    /// What the person added.
    pub remark: String,
}

impl PressureHead {
    fn act(
        self,
        kind: PressureKind,
        fluid: Option<&Refrigerant>,
        read: &[(&str, f64)],
        verdict: &str,
        told: Vec<String>,
    ) -> Act {
        let figures = read.iter().map(|(k, v)| ((*k).to_owned(), round_to(*v, 6)));
        Act::PressureTested(Box::new(PressureTested {
            kind,
            unit: self.unit,
            place: self.place,
            at: self.at,
            gauge: self.gauge,
            calibrated_on: self.calibrated_on,
            ambient_c: self.ambient_c,
            fluid: fluid.map(|f| f.name().to_owned()),
            read: figures.collect::<BTreeMap<String, f64>>(),
            as_written: self.as_written,
            verdict: verdict.to_owned(),
            told,
            remark: self.remark,
            version: env!("CARGO_PKG_VERSION").to_owned(),
        }))
    }
}

/// A nitrogen test, judged, as an act.
///
/// # Errors
/// As [`pressure_test`].
pub fn nitrogen_act(head: PressureHead, t: &PressureTest) -> Result<Act, FluidError> {
    let r = pressure_test(t)?;
    let read = [
        ("volume_l", t.volume_m3 * 1e3),
        ("start_kpa", t.start.0 / 1e3),
        ("start_c", t.start.1),
        ("end_kpa", t.end.0 / 1e3),
        ("end_c", t.end.1),
        ("hours", t.hours),
        ("gauge_step_kpa", t.gauge_step_pa / 1e3),
        ("thermometer_k", t.thermometer_k),
    ];
    let told = told::nitrogen(t, &r);
    Ok(head.act(PressureKind::Nitrogen, None, &read, r.verdict().as_str(), told))
}

/// A standing pressure, judged, as an act.
///
/// # Errors
/// As [`standing_test`].
pub fn standing_act(
    head: PressureHead,
    fluid: &Refrigerant,
    s: &Standing,
) -> Result<Act, FluidError> {
    let r = standing_test(fluid, s)?;
    let mut read = vec![
        ("pressure_kpa", s.pressure_pa / 1e3),
        ("temp_c", s.temp_c),
        ("gauge_error_kpa", s.gauge_error_pa / 1e3),
        ("thermometer_k", s.thermometer_k),
    ];
    read.extend(s.vapour_m3.map(|v| ("vapour_l", v * 1e3)));
    let told = told::standing(fluid, s, &r);
    Ok(head.act(PressureKind::Standing, Some(fluid), &read, r.verdict.as_str(), told))
}

/// A record that says too little to stand for anything.
pub(crate) fn refuse_senseless(act: &Act) -> Result<(), Problem> {
    let Act::PressureTested(test) = act else { return Ok(()) };
    let refuse = |why: &str| Err(Problem::Act(why.to_owned()));
    if test.unit.is_none() && test.place.trim().is_empty() {
        return refuse("write what was tested: a container's number or a place");
    }
    if test.gauge.trim().is_empty() {
        return refuse("the gauge is missing: write which one was read");
    }
    let day = &test.calibrated_on;
    if !day.is_empty() && Utc::parse(&format!("{day} 00:00")).is_err() {
        return refuse(
            "the calibration date is no date; write it as 2026-03-01, or leave it empty when \
             there is none",
        );
    }
    match test.ambient_c {
        Some(c) if !(-80.0..=99.0).contains(&c) => {
            refuse("the ambient temperature is not within −80 to 99 °C")
        }
        _ => Ok(()),
    }
}

impl Voyage {
    /// The pressure tests of a box, in the order entered.
    pub fn pressure_tests_of(&self, unit: &UnitId) -> impl Iterator<Item = &PressureEntry> {
        let of_box = move |e: &&PressureEntry| e.test.unit.as_ref() == Some(unit);
        self.acts().pressure_tests.iter().filter(of_box)
    }

    /// The vacuum holds of a box, in the order begun.
    pub fn holds_of(&self, unit: &UnitId) -> impl Iterator<Item = &record::HoldFile> {
        let of_box = move |h: &&record::HoldFile| h.start.unit.as_ref() == Some(unit);
        self.acts().holds.iter().filter(of_box)
    }
}
