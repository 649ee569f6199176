//! Fields that two rules ask for, as plain structs; filling in and keeping them is a person's.

use units::Utc;

/// One entry of the ozone-depleting substances record book, MARPOL Annex VI regulation 12: in kg,
/// without delay. Only for ozone-depleting gases (R22, R12); HFCs and HFOs are none.
#[derive(Debug, Clone, PartialEq)]
pub struct OzoneEntry {
    /// When.
    pub at: Utc,
    /// Equipment as on the ship's list.
    pub equipment: String,
    /// Substance.
    pub substance: String,
    /// What happened.
    pub kind: OzoneKind,
    /// Mass, kg.
    pub kg: f64,
    /// Who signed.
    pub signed_by: String,
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

/// Whether a gas is ozone-depleting, where it is known here.
#[must_use]
pub fn ozone_depleting(gas: &str) -> Option<bool> {
    match gas {
        "R12" | "R22" => Some(true),
        "R134a" | "R404A" | "R452A" | "R513A" | "R744" | "R290" | "R1234yf" => Some(false),
        _ => None,
    }
}

/// Record of one equipment under Regulation (EU) 2024/573 Art. 7, kept at least 5 years by
/// operator and contractor.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FGasRecord {
    /// Unit number.
    pub equipment: String,
    /// (a) Gas.
    pub gas: String,
    /// (a) Quantity contained, kg.
    pub charge_kg: Option<f64>,
    /// (a) Quantity added at installation, kg.
    pub added_at_installation_kg: Option<f64>,
    /// (b) and (d) Quantities added.
    pub added: Vec<Added>,
    /// (c) Quantities recovered: when, kg.
    pub recovered: Vec<(Utc, f64)>,
    /// (e) Who worked on it.
    pub undertakings: Vec<Undertaking>,
    /// (f) Checks and repairs of leaks: when, what was found or done.
    pub checks: Vec<(Utc, String)>,
    /// (g) Measures taken when it was decommissioned.
    pub decommissioned: Option<String>,
}

/// Gas added, Art. 7 (b) and (d).
#[derive(Debug, Clone, PartialEq)]
pub struct Added {
    /// When.
    pub at: Utc,
    /// Quantity, kg.
    pub kg: f64,
    /// For a leak, or in service.
    pub for_leak: bool,
    /// Recycled or reclaimed; none: newly made.
    pub recycled_or_reclaimed: Option<Facility>,
}

/// Facility that recycled or reclaimed it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Facility {
    /// Name.
    pub name: String,
    /// Address in the Union.
    pub address: String,
    /// Certificate number, where there is one.
    pub certificate: Option<String>,
}

/// Undertaking and person, Art. 7 (e).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Undertaking {
    /// Undertaking.
    pub name: String,
    /// Certificate number.
    pub certificate: Option<String>,
    /// Natural person.
    pub person: String,
}
