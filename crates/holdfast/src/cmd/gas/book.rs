//! The two record books.

use std::fmt::Write as _;

use record::UnitId;
use record::gas::kg;
use serde_json::{Value, json};
use service::account::{FGasRecord, OzoneEntry, fgas_record, ozone_book};
use units::math::round_to;

use super::{Gas, refuse};
use crate::fail::Fail;
use crate::{files, out};

/// Prints one.
pub fn run(c: &Gas) -> Result<u8, Fail> {
    let about = c.about("ozone or a unit")?;
    let mut v = files::open_voyage(c.voyage.as_deref())?;
    let (to, who) = (c.text("out").map(std::path::PathBuf::from), c.text("who"));
    if about.eq_ignore_ascii_case("ozone") {
        let book = ozone_book(&v.acts().gas);
        if let Some(to) = &to {
            crate::cmd::paper(&mut v, who, to, |press| press.ozone(&book))?;
        }
        if c.json {
            out::print_json(&ozone_json(&book))?;
        } else {
            out::print(ozone_text(&book).trim_end())?;
        }
        return Ok(0);
    }
    let unit = UnitId::from_text(about)
        .filter(UnitId::has_iso_form)
        .ok_or_else(|| refuse(format!("\"{about}\" is neither ozone nor a container number")))?;
    let record = fgas_record(&v.acts().gas, &unit);
    if let Some(to) = &to {
        crate::cmd::paper(&mut v, who, to, |press| press.refrigerant(&record))?;
    }
    if c.json {
        out::print_json(&unit_json(&record))?;
    } else {
        out::print(unit_text(&record).trim_end())?;
    }
    Ok(0)
}

fn ozone_text(book: &[OzoneEntry]) -> String {
    let mut t =
        "Ozone-depleting substances record book, MARPOL Annex VI regulation 12; masses in kg.\n\
         R134a, R404A, R452A, R513A and the like are none and do not belong here.\n"
            .to_owned();
    if book.is_empty() {
        t += "No entry: nothing was entered about an ozone-depleting gas.\n";
    }
    for e in book {
        let kg = e.kg.map_or_else(String::new, |kg| format!("  {kg:.3} kg {}", e.substance));
        let _ = writeln!(
            t,
            "{}  {}  {}  {}{kg}  {}",
            e.at.to_minute(),
            e.place,
            e.equipment,
            e.kind.words(),
            e.person
        );
    }
    t
}

fn ozone_json(book: &[OzoneEntry]) -> Value {
    let lines = book.iter().map(|e| {
        json!({
            "at": e.at.to_string(), "place": e.place, "equipment": e.equipment,
            "substance": e.substance, "kind": e.kind.words(),
            "mass_kg": e.kg.map(|k| round_to(k, 3)), "person": e.person,
        })
    });
    json!({ "entries": lines.collect::<Vec<_>>() })
}

fn unit_text(r: &FGasRecord) -> String {
    let mut t = format!(
        "{}: record after Regulation (EU) 2024/573 Art. 7; keep at least 5 years. Blank: not \
         entered.\n",
        r.unit
    );
    let plate = r.plate.as_ref().map_or_else(String::new, |p| {
        let serial =
            if p.serial.is_empty() { String::new() } else { format!(", serial {}", p.serial) };
        format!("{} {}{serial}", kg(p.charge_g.into()), p.gas)
    });
    let _ = writeln!(t, "(a) contained, by the plate: {plate}");
    let _ = writeln!(t, "(b, d) added:");
    for a in &r.added {
        let why = if a.for_leak { "for a leak" } else { "in service" };
        let _ = writeln!(
            t,
            "    {}  {:.3} kg {}, {why}; {}",
            a.at.to_minute(),
            a.kg,
            a.gas,
            a.source_words()
        );
    }
    let _ = writeln!(t, "(c) recovered:");
    for (at, kg, into) in &r.recovered {
        let _ = writeln!(t, "    {}  {kg:.3} kg into {into}", at.to_minute());
    }
    let _ = writeln!(t, "(e) people and undertakings:");
    for (name, certificate) in &r.people {
        let number = certificate.as_deref().unwrap_or("certificate not entered");
        let _ = writeln!(t, "    {name}, {number}");
    }
    let _ = writeln!(t, "(f) checks and repairs of leaks:");
    for (at, words) in &r.checks {
        let _ = writeln!(t, "    {}  {words}", at.to_minute());
    }
    let end = r.decommissioned.as_ref();
    let end = end.map_or_else(String::new, |(at, m)| format!("{} {m}", at.to_minute()));
    let _ = writeln!(t, "(g) taken out of use: {end}");
    t
}

fn unit_json(r: &FGasRecord) -> Value {
    json!({
        "unit": r.unit.as_str(),
        "gas": r.plate.as_ref().map(|p| &p.gas),
        "charge_kg": r.plate.as_ref().map(|p| round_to(f64::from(p.charge_g) / 1000.0, 3)),
        "serial": r.plate.as_ref().map(|p| &p.serial),
        "added": r.added.iter().map(|a| json!({
            "at": a.at.to_string(), "gas": a.gas, "mass_kg": round_to(a.kg, 3),
            "for_leak": a.for_leak, "source": a.source_words(),
        })).collect::<Vec<_>>(),
        "recovered": r.recovered.iter().map(|(at, kg, into)| json!({
            "at": at.to_string(), "mass_kg": round_to(*kg, 3), "into": into,
        })).collect::<Vec<_>>(),
        "people": r.people.iter().map(|(n, c)| json!({"name": n, "certificate": c})).collect::<Vec<_>>(),
        "checks": r.checks.iter().map(|(at, w)| json!({"at": at.to_string(), "words": w})).collect::<Vec<_>>(),
        "decommissioned_at": r.decommissioned.as_ref().map(|(at, _)| at.to_string()),
        "decommissioned": r.decommissioned.as_ref().map(|(_, m)| m),
    })
}
