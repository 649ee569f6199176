//! Entries of the refrigerant account from words: a form's fields, or a command's options.

use ::service::account::screen_words;
use fluids::text::{parse_pressure, parse_temperature_c};
use record::gas::{
    CylinderCard, Holder, LeakCheck, PlateCard, Reason, Source, Transfer, gas_name, grams,
};
use record::{GasAct, GasFile, UnitId};
use units::Utc;
use units::decimal::DecimalMark;

/// Longest word taken.
const WORD_MAX: usize = 300;

/// What was typed, by name.
pub struct Words<'a> {
    /// Looks a word up; empty where nothing was typed.
    pub find: &'a dyn Fn(&str) -> String,
    /// When it happened.
    pub at: Utc,
    /// Who enters it.
    pub who: &'a str,
}

impl Words<'_> {
    pub(crate) fn text(&self, key: &str) -> String {
        let found = (self.find)(key);
        found.trim().chars().filter(|c| !c.is_control()).take(WORD_MAX).collect()
    }

    fn needed(&self, key: &str, name: &str) -> Result<String, String> {
        let text = self.text(key);
        if text.is_empty() { Err(format!("{name} is missing")) } else { Ok(text) }
    }
}

fn number(f: &Words, key: &str, name: &str) -> Result<Option<f64>, String> {
    let text = f.text(key).replace(',', ".");
    if text.is_empty() {
        return Ok(None);
    }
    let parsed = units::decimal::parse(&text, DecimalMark::Point);
    parsed.map(Some).map_err(|e| format!("{name} \"{text}\" {e}"))
}

pub(crate) fn mass(f: &Words, key: &str, name: &str) -> Result<Option<u32>, String> {
    let Some(kg) = number(f, key, name)? else { return Ok(None) };
    grams(kg).map(Some).map_err(|e| format!("{name}: {e}"))
}

fn needed_mass(f: &Words, name: &str) -> Result<u32, String> {
    mass(f, "kg", name)?.ok_or_else(|| format!("{name} is missing"))
}

fn unit(f: &Words) -> Result<UnitId, String> {
    let text = f.needed("unit", "The unit")?;
    UnitId::from_text(&text)
        .filter(UnitId::has_iso_form)
        .ok_or_else(|| format!("\"{text}\" is no container number"))
}

fn named(f: &Words) -> Result<Option<String>, String> {
    let text = f.text("gas");
    if text.is_empty() {
        return Ok(None);
    }
    gas_name(&text)
        .map(Some)
        .ok_or_else(|| format!("\"{text}\" is no refrigerant's name; write R134a, R404A"))
}

fn needed_gas(f: &Words) -> Result<String, String> {
    named(f)?.ok_or_else(|| "The gas is missing".to_owned())
}

/// The gas as typed, else what the cylinder's card or the unit's plate says.
fn gas_of(f: &Words, file: &GasFile, holders: &[&Holder]) -> Result<String, String> {
    if let Some(gas) = named(f)? {
        return Ok(gas);
    }
    let known = holders.iter().find_map(|h| match h {
        Holder::Cylinder(id) => file.cylinder(id).map(|c| c.gas.clone()),
        Holder::Unit(u) => file.plate(u).map(|p| p.gas.clone()),
        _ => None,
    });
    known.ok_or_else(|| "The gas is missing, and no card or plate tells it".to_owned())
}

fn holder(f: &Words, key: &str, name: &str) -> Result<Holder, String> {
    Holder::from_text(&f.needed(key, name)?).map_err(|e| format!("{name}: {e}"))
}

pub(crate) fn certificate(f: &Words) -> Option<String> {
    Some(f.text("certificate")).filter(|t| !t.is_empty())
}

pub(crate) fn by(f: &Words) -> String {
    Some(f.text("by")).filter(|t| !t.is_empty()).unwrap_or_else(|| f.who.to_owned())
}

/// An entry of the account from what was typed: `what` is cylinder, plate, weigh, move, check,
/// screen, end or strike.
///
/// # Errors
/// What is missing or cannot be, in a sentence without its full stop.
pub fn gas_act(what: &str, f: &Words, file: &GasFile) -> Result<GasAct, String> {
    Ok(match what {
        "move" => GasAct::Moved(moved(f, file)?),
        "weigh" => {
            let holder = holder(f, "holder", "What was weighed")?;
            let gas = gas_of(f, file, &[&holder])?;
            let g = needed_mass(f, "The mass")?;
            GasAct::Weighed { holder, gas, g, at: f.at, remark: f.text("remark") }
        }
        "cylinder" => GasAct::Cylinder(cylinder(f)?),
        "plate" => GasAct::Plate(PlateCard {
            unit: unit(f)?,
            gas: needed_gas(f)?,
            charge_g: Some(needed_mass(f, "The charge")?)
                .filter(|g| *g > 0)
                .ok_or("The charge on the plate is above 0")?,
            serial: f.text("serial"),
            sealed: f.text("sealed") == "yes",
            detection: f.text("detection") == "yes",
        }),
        "check" => GasAct::Checked(LeakCheck {
            unit: unit(f)?,
            at: f.at,
            person: by(f),
            certificate: certificate(f),
            method: f.needed("method", "How it was checked")?,
            leak_at: Some(f.text("leak")).filter(|t| !t.is_empty()),
            cause: f.text("cause"),
            repaired: f.text("repaired") == "yes",
        }),
        "screen" => screened(f, file)?,
        "end" => {
            let measures = f.needed("remark", "What was done with the gas")?;
            GasAct::Decommissioned { unit: unit(f)?, at: f.at, measures }
        }
        "strike" => {
            let text = f.needed("entry", "The number of the entry")?;
            let entry = text.parse().map_err(|_| format!("\"{text}\" is no number"))?;
            GasAct::Struck { entry, why: f.needed("remark", "The reason")? }
        }
        other => return Err(format!("There is nothing to enter under \"{other}\"")),
    })
}

fn moved(f: &Words, file: &GasFile) -> Result<Transfer, String> {
    let (from, to) = (holder(f, "from", "From")?, holder(f, "to", "To")?);
    let reason = f.needed("reason", "Why it moved")?;
    let reason = Reason::from_text(&reason).ok_or_else(|| {
        let all = Reason::ALL.map(Reason::as_str).join(", ");
        format!("\"{reason}\" is none of the reasons {all}")
    })?;
    Ok(Transfer {
        at: f.at,
        place: f.text("place"),
        person: by(f),
        certificate: certificate(f),
        gas: gas_of(f, file, &[&from, &to])?,
        g: needed_mass(f, "The mass")?,
        from,
        to,
        reason,
        remark: f.text("remark"),
    })
}

fn cylinder(f: &Words) -> Result<CylinderCard, String> {
    let id = f.needed("id", "The number of the cylinder")?;
    if !matches!(Holder::from_text(&id), Ok(Holder::Cylinder(name)) if name == id) {
        return Err(format!("\"{id}\" would be read as something else than a cylinder"));
    }
    let source = match f.text("source") {
        t if t.is_empty() => None,
        t => Some(Source::from_text(&t).ok_or_else(|| {
            format!("where the gas comes from, \"{t}\", is none of virgin, recycled, reclaimed")
        })?),
    };
    let volume_l = number(f, "volume_l", "The volume")?;
    if volume_l.is_some_and(|v| !(0.1..=1000.0).contains(&v)) {
        return Err("The volume is the water capacity in litres, 0.1 to 1000".to_owned());
    }
    Ok(CylinderCard {
        id,
        gas: needed_gas(f)?,
        volume_l,
        tare_g: mass(f, "tare_kg", "The tare")?,
        limit_g: mass(f, "limit_kg", "The fill limit")?,
        recovery: f.text("recovery") == "yes",
        source,
        facility: f.text("facility"),
        certificate: f.text("certificate"),
    })
}

fn screened(f: &Words, file: &GasFile) -> Result<GasAct, String> {
    let id = f.needed("id", "The cylinder")?;
    let card = file.cylinder(&id);
    let card = card.ok_or_else(|| format!("Cylinder {id} is not entered; enter it first"))?;
    let barometer = number(f, "barometer_kpa", "The barometer")?.unwrap_or(101.325);
    let p = parse_pressure(&f.needed("p", "The pressure")?, barometer);
    let p_kpa = p.map_err(|e| format!("The pressure: {e}"))?.absolute_kpa;
    let temp_c = parse_temperature_c(&f.needed("t", "The temperature")?);
    let temp_c = temp_c.map_err(|e| format!("The temperature: {e}"))?;
    let words = screen_words(&card.gas, p_kpa, temp_c).map_err(|e| format!("{e}"))?;
    Ok(GasAct::Screened { cylinder: id, p_kpa, temp_c, at: f.at, words })
}
