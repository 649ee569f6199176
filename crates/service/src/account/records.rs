//! Fields that two rules ask for, filled with what was entered; what nobody entered stays blank.
//! Signing and keeping them is a person's.

use record::UnitId;
use record::gas::{CylinderCard, GasAct, GasFile, Holder, PlateCard, Reason, Source, Transfer};
use units::Utc;

/// One entry of the ozone-depleting substances record book, MARPOL Annex VI regulation 12: in kg,
/// without delay. Only for ozone-depleting gases (R22, R12); HFCs and HFOs are none.
#[derive(Debug, Clone, PartialEq)]
pub struct OzoneEntry {
    /// When.
    pub at: Utc,
    /// Where.
    pub place: String,
    /// Equipment as on the ship's list; a cylinder for supply and landing.
    pub equipment: String,
    /// Substance; blank for repairs, where none moved.
    pub substance: String,
    /// What happened.
    pub kind: OzoneKind,
    /// Mass, kg; none for a repair.
    pub kg: Option<f64>,
    /// Who did it.
    pub person: String,
}

/// The five kinds of entry that regulation 12 names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OzoneKind {
    /// Recharge, full or partial.
    Recharge {
        /// Full.
        full: bool,
    },
    /// Repair or maintenance.
    Repair,
    /// Discharge to the atmosphere.
    ToAir {
        /// Deliberate.
        deliberate: bool,
    },
    /// Discharge to a land reception facility.
    ToShore,
    /// Supply to the ship.
    Supply,
}

impl OzoneKind {
    /// As the book names it.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Recharge { full: true } => "recharge, full",
            Self::Recharge { full: false } => "recharge, partial",
            Self::Repair => "repair or maintenance",
            Self::ToAir { deliberate: true } => "discharge to the atmosphere, deliberate",
            Self::ToAir { deliberate: false } => "discharge to the atmosphere, not deliberate",
            Self::ToShore => "discharge to a land reception facility",
            Self::Supply => "supply to the ship",
        }
    }
}

/// Whether a gas is ozone-depleting, where it is known here.
#[must_use]
pub fn ozone_depleting(gas: &str) -> Option<bool> {
    match gas {
        "R12" | "R22" => Some(true),
        "R134a" | "R404A" | "R452A" | "R513A" | "R744" | "R290" | "R1234yf" => Some(false),
        _ => None,
    }
}

/// The book's entries by time, from everything entered about ozone-depleting gases.
#[must_use]
pub fn ozone_book(file: &GasFile) -> Vec<OzoneEntry> {
    let ozone = |gas: &str| ozone_depleting(gas) == Some(true);
    let mut out: Vec<OzoneEntry> = Vec::new();
    for e in file.standing() {
        match &e.act {
            GasAct::Moved(t) if ozone(&t.gas) => out.extend(ozone_moved(file, t)),
            GasAct::Checked(c)
                if c.repaired && file.plate(&c.unit).is_some_and(|p| ozone(&p.gas)) =>
            {
                out.push(OzoneEntry {
                    at: c.at,
                    place: String::new(),
                    equipment: c.unit.to_string(),
                    substance: String::new(),
                    kind: OzoneKind::Repair,
                    kg: None,
                    person: c.person.clone(),
                });
            }
            _ => {}
        }
    }
    out.sort_by_key(|e| e.at);
    out
}

fn ozone_moved(file: &GasFile, t: &Transfer) -> Option<OzoneEntry> {
    let (kind, holder) = match (&t.from, &t.to, t.reason) {
        (_, Holder::Air, Reason::Released) => (OzoneKind::ToAir { deliberate: true }, &t.from),
        (_, Holder::Air, _) => (OzoneKind::ToAir { deliberate: false }, &t.from),
        (_, Holder::Shore(_), _) => (OzoneKind::ToShore, &t.from),
        (Holder::Supplier(_), _, _) => (OzoneKind::Supply, &t.to),
        (_, Holder::Unit(u), _) => {
            let full = file.plate(u).is_some_and(|p| t.g >= p.charge_g);
            (OzoneKind::Recharge { full }, &t.to)
        }
        // Recovery into a cylinder and from cylinder to cylinder: it stays in the ship.
        _ => return None,
    };
    Some(OzoneEntry {
        at: t.at,
        place: t.place.clone(),
        equipment: holder.words(),
        substance: t.gas.clone(),
        kind,
        kg: Some(f64::from(t.g) / 1000.0),
        person: t.person.clone(),
    })
}

/// Record of one equipment under Regulation (EU) 2024/573 Art. 7, kept at least 5 years by
/// operator and contractor.
#[derive(Debug, Clone, PartialEq)]
pub struct FGasRecord {
    /// Unit.
    pub unit: UnitId,
    /// (a) Plate: gas, quantity contained; none: not entered.
    pub plate: Option<PlateCard>,
    /// (b) and (d) Quantities added, by time.
    pub added: Vec<Added>,
    /// (c) Quantities recovered: when, kg, into what.
    pub recovered: Vec<(Utc, f64, String)>,
    /// (e) Who worked on it: name, certificate.
    pub people: Vec<(String, Option<String>)>,
    /// (f) Checks and repairs of leaks: when, what was found or done.
    pub checks: Vec<(Utc, String)>,
    /// (g) Measures taken when it was decommissioned.
    pub decommissioned: Option<(Utc, String)>,
}

/// Gas added, Art. 7 (b) and (d).
#[derive(Debug, Clone, PartialEq)]
pub struct Added {
    /// When.
    pub at: Utc,
    /// Gas.
    pub gas: String,
    /// Quantity, kg.
    pub kg: f64,
    /// For a leak, or in service.
    pub for_leak: bool,
    /// From which cylinder, as its card says; none: not from a cylinder known here.
    pub cylinder: Option<CylinderCard>,
}

impl Added {
    /// Newly made, recycled or reclaimed, with the facility: as the cylinder's card says.
    #[must_use]
    pub fn source_words(&self) -> String {
        let Some(c) = &self.cylinder else { return "not stated".into() };
        let Some(source) = c.source else { return format!("cylinder {}, not stated", c.id) };
        let mut out = format!("cylinder {}, {}", c.id, source.as_str());
        if source != Source::Virgin {
            let by = if c.facility.is_empty() { "facility not stated" } else { &c.facility };
            out += &format!(" by {by}");
            if !c.certificate.is_empty() {
                out += &format!(", certificate {}", c.certificate);
            }
        }
        out
    }
}

/// What was entered about a unit, in the order of Art. 7.
#[must_use]
pub fn fgas_record(file: &GasFile, unit: &UnitId) -> FGasRecord {
    let plate = file.plate(unit).cloned();
    let mut r = FGasRecord {
        unit: unit.clone(),
        plate,
        added: Vec::new(),
        recovered: Vec::new(),
        people: Vec::new(),
        checks: Vec::new(),
        decommissioned: None,
    };
    for e in file.standing().filter(|e| e.act.unit() == Some(unit)) {
        match &e.act {
            GasAct::Moved(t) => moved(&mut r, file, t, unit),
            GasAct::Checked(c) => {
                r.checks.push((c.at, check_words(c)));
                person(&mut r, &c.person, c.certificate.as_ref());
            }
            GasAct::Decommissioned { at, measures, .. } => {
                r.decommissioned = Some((*at, measures.clone()));
            }
            _ => {}
        }
    }
    r.added.sort_by_key(|a| a.at);
    r.recovered.sort_by_key(|a| a.0);
    r.checks.sort_by_key(|a| a.0);
    r
}

fn moved(r: &mut FGasRecord, file: &GasFile, t: &Transfer, unit: &UnitId) {
    let kg = f64::from(t.g) / 1000.0;
    person(r, &t.person, t.certificate.as_ref());
    if t.to.unit() == Some(unit) {
        let cylinder = match &t.from {
            Holder::Cylinder(id) => file.cylinder(id).cloned(),
            _ => None,
        };
        let for_leak = t.reason == Reason::TopUp;
        r.added.push(Added { at: t.at, gas: t.gas.clone(), kg, for_leak, cylinder });
    } else if t.reason == Reason::Recovery {
        r.recovered.push((t.at, kg, t.to.words()));
    }
}

fn person(r: &mut FGasRecord, name: &str, certificate: Option<&String>) {
    let who = (name.to_owned(), certificate.cloned());
    if !r.people.contains(&who) {
        r.people.push(who);
    }
}

fn check_words(c: &record::gas::LeakCheck) -> String {
    let Some(place) = &c.leak_at else { return format!("{}: no leak found", c.method) };
    let mut out = format!("{}: leak at {place}", c.method);
    if !c.cause.is_empty() {
        out += &format!(", cause {}", c.cause);
    }
    out + if c.repaired { "; repaired" } else { "; not yet repaired" }
}
