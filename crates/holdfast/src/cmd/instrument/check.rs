//! `holdfast instrument check`: readings in ice, worked out at once, then entered.

use record::{Act, BoxSensor, Checked, IceCheck, InstrumentAct, SlurryReading, UnitId};
use serde_json::{Value, json};

use super::show::{ice_json, ice_text};
use super::{InstrumentOf, plain};
use crate::fail::Fail;
use crate::{files, out};

/// Runs it.
pub fn run(c: &InstrumentOf) -> Result<u8, Fail> {
    if c.readings.is_empty() {
        return Err(Fail::refused(
            "instrument check: write what was shown in the ice, --reading 0.1 --reading 0.0 ...",
        ));
    }
    let probes = probes(c)?;
    let groups: Vec<(String, Vec<String>)> = if probes.is_empty() {
        vec![(String::new(), c.readings.clone())]
    } else {
        let of = |p: u8| probes.iter().filter(move |r| r.probe == p).map(|r| r.reading.clone());
        let group = |p: u8| (format!("probe {p}"), of(p).collect::<Vec<_>>());
        (1..=4).map(group).filter(|(_, r)| !r.is_empty()).collect()
    };
    let mut told = Vec::new();
    for (name, readings) in &groups {
        let ice = voyage::try_ice(readings, c.fahrenheit)
            .map_err(|e| Fail::refused(format!("instrument check: {e}")))?;
        told.push((name.clone(), readings.clone(), ice));
    }
    if c.only_try {
        return show(c, None, &told);
    }
    let act = act(c, probes)?;
    let mut v = files::open_voyage(c.voyage.as_deref())?;
    let documents = files::read_all(&c.scans)?;
    let who = files::who(c.get("who"));
    let entry = v.enter(&act, &documents, &who, files::now())?;
    show(c, Some((entry, who, act.title())), &told)
}

type Told = (String, Vec<String>, record::calibration::IcePoint);

fn show(
    c: &InstrumentOf,
    entered: Option<(i64, String, String)>,
    told: &[Told],
) -> Result<u8, Fail> {
    if c.json {
        let checks: Vec<Value> = told
            .iter()
            .map(|(name, readings, ice)| {
                let mut one = ice_json(ice);
                if let Value::Object(map) = &mut one {
                    let probe = name.strip_prefix("probe ").map(|n| format!("probe{n}"));
                    map.insert("probe".into(), json!(probe));
                    map.insert("readings".into(), json!(readings));
                    map.insert("unit".into(), json!(if c.fahrenheit { "f" } else { "c" }));
                }
                one
            })
            .collect();
        out::print_json(&json!({
            "entry": entered.as_ref().map(|e| e.0), "who": entered.as_ref().map(|e| &e.1),
            "words": entered.as_ref().map(|e| &e.2), "checks": checks,
        }))?;
        return Ok(0);
    }
    let mut s = match &entered {
        Some((entry, who, words)) => format!("entry {entry} by {who}: {words}"),
        None => "nothing stored".to_owned(),
    };
    for (name, _, ice) in told {
        s.push('\n');
        if !name.is_empty() {
            s += &format!("{name}: ");
        }
        s += &ice_text(ice);
    }
    out::print(s)?;
    Ok(0)
}

/// Readings of pulp probes, where they are written as `probe1=0.1`.
fn probes(c: &InstrumentOf) -> Result<Vec<SlurryReading>, Fail> {
    let named = c.readings.iter().filter(|r| r.contains('=')).count();
    if named == 0 {
        return Ok(Vec::new());
    }
    let read = |r: &String| {
        let (name, reading) = r.split_once('=')?;
        let probe = name.trim().to_lowercase().strip_prefix("probe")?.parse::<u8>().ok()?;
        (1..=4).contains(&probe).then(|| SlurryReading {
            probe,
            reading: reading.trim().to_owned(),
            fahrenheit: c.fahrenheit,
        })
    };
    let all: Option<Vec<SlurryReading>> = c.readings.iter().map(read).collect();
    all.ok_or_else(|| {
        Fail::refused(
            "instrument check: write every reading as probe1=0.1 to probe4=0.1, or none of them",
        )
    })
}

fn act(c: &InstrumentOf, probes: Vec<SlurryReading>) -> Result<Act, Fail> {
    let at = c.at()?;
    let typed = c.names.concat();
    let unit = UnitId::from_text(&typed).filter(UnitId::has_iso_form);
    if !probes.is_empty() {
        let unit = unit.ok_or_else(|| {
            Fail::refused(format!("instrument check: \"{typed}\" is no container number"))
        })?;
        let stirred = c.stirred.map(|s| if s { "stirred" } else { "not stirred" });
        let against = c.get("against").map(|t| format!("checked against {t}"));
        let parts = [
            c.get("ice").map(str::to_owned),
            stirred.map(str::to_owned),
            against,
            c.get("remark").map(str::to_owned),
        ];
        let remark = parts.into_iter().flatten().collect::<Vec<_>>().join("; ");
        return Ok(Act::ProbesCalibrated { unit, at, readings: probes, remark: plain(&remark) });
    }
    let of = match (unit, c.get("sensor")) {
        (Some(unit), Some(sensor)) => {
            let sensor = BoxSensor::from_text(sensor).ok_or_else(|| {
                Fail::refused(format!(
                    "instrument check: --sensor \"{sensor}\" is none; write supply, return or \
                     ambient; pulp probes as --reading probe1=0.1"
                ))
            })?;
            Checked::Sensor { unit, sensor }
        }
        (Some(unit), None) => {
            return Err(Fail::refused(format!(
                "instrument check {unit}: say which sensor, --sensor supply|return|ambient, or \
                 write pulp probes as --reading probe1=0.1"
            )));
        }
        (None, Some(_)) => {
            return Err(Fail::refused(format!(
                "instrument check: --sensor goes with a container; \"{typed}\" is no number of one"
            )));
        }
        (None, None) => Checked::Instrument(c.id()?),
    };
    let check = IceCheck {
        of,
        at,
        readings: c.readings.iter().map(|r| r.trim().to_owned()).collect(),
        fahrenheit: c.fahrenheit,
        stirred: c.stirred,
        ice: plain(c.get("ice").unwrap_or_default()),
        against: plain(c.get("against").unwrap_or_default()),
        remark: plain(c.get("remark").unwrap_or_default()),
    };
    Ok(Act::Instrument(Box::new(InstrumentAct::IceChecked { check })))
}
