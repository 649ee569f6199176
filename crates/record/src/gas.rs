//! Refrigerant as it is counted: who holds how much, what moved, what was checked. Masses are
//! whole grams as the scale shows them.

use serde::{Deserialize, Serialize};
use units::Utc;

use crate::UnitId;
use crate::act::time;
pub use crate::gas_holder::Holder;

/// Where gas comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Source {
    /// Newly made.
    Virgin,
    /// Recovered and cleaned on the spot.
    Recycled,
    /// Brought back to the specification of new gas by a facility.
    Reclaimed,
}

impl Source {
    /// The word stored and typed.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Virgin => "virgin",
            Self::Recycled => "recycled",
            Self::Reclaimed => "reclaimed",
        }
    }

    /// From that word.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        [Self::Virgin, Self::Recycled, Self::Reclaimed].into_iter().find(|s| s.as_str() == text)
    }
}

/// Why it moved.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Reason {
    /// First charge or recharge after recovery.
    Recharge,
    /// Added for what was lost: as much is taken to have leaked before.
    TopUp,
    /// Recovered for a repair.
    Recovery,
    /// Found lost by a leak.
    Leak,
    /// Let into the air deliberately.
    Released,
    /// Came on board, or went ashore.
    Supply,
    /// From cylinder to cylinder.
    Transfer,
}

impl Reason {
    /// All, in the order of a form.
    pub const ALL: [Self; 7] = [
        Self::TopUp,
        Self::Recharge,
        Self::Recovery,
        Self::Supply,
        Self::Transfer,
        Self::Leak,
        Self::Released,
    ];

    /// The word typed.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Recharge => "recharge",
            Self::TopUp => "top-up",
            Self::Recovery => "recovery",
            Self::Leak => "leak",
            Self::Released => "released",
            Self::Supply => "supply",
            Self::Transfer => "transfer",
        }
    }

    /// From that word.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|r| r.as_str() == text)
    }

    /// As a person reads it.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Recharge => "charged after recovery, or first charge",
            Self::TopUp => "added for what had leaked",
            Self::Recovery => "recovered",
            Self::Leak => "lost by a leak",
            Self::Released => "let into the air deliberately",
            Self::Supply => "supplied or landed",
            Self::Transfer => "moved between cylinders",
        }
    }
}

/// One transfer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Transfer {
    /// When.
    #[serde(with = "time")]
    pub at: Utc,
    /// Position or port.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub place: String,
    /// Who did it.
    pub person: String,
    /// Certificate of the person or undertaking, where one is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub certificate: Option<String>,
    /// Gas, R134a.
    pub gas: String,
    /// Grams moved, above 0, by the scale.
    pub g: u32,
    /// From.
    pub from: Holder,
    /// To.
    pub to: Holder,
    /// Why.
    pub reason: Reason,
    /// Anything else worth keeping: how the hose was emptied, what the scale was.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub remark: String,
}

/// A cylinder as its stamp and label say.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CylinderCard {
    /// Number by which the ship knows it.
    pub id: String,
    /// Gas, R134a.
    pub gas: String,
    /// Water capacity, l.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub volume_l: Option<f64>,
    /// Tare, g.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tare_g: Option<u32>,
    /// Most that may be filled, stamped or labelled, g.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit_g: Option<u32>,
    /// A cylinder for recovered gas.
    #[serde(default)]
    pub recovery: bool,
    /// Where its gas comes from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<Source>,
    /// Facility that recycled or reclaimed it: name, address.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub facility: String,
    /// That facility's certificate.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub certificate: String,
}

/// A unit's plate.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlateCard {
    /// The unit.
    pub unit: UnitId,
    /// Gas, R134a.
    pub gas: String,
    /// Full charge, g.
    pub charge_g: u32,
    /// Serial number of the refrigeration unit.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub serial: String,
    /// Labelled hermetically sealed.
    #[serde(default)]
    pub sealed: bool,
    /// A leak detection system is fitted.
    #[serde(default)]
    pub detection: bool,
}

/// A check for leaks, or a repair of one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LeakCheck {
    /// The unit.
    pub unit: UnitId,
    /// When.
    #[serde(with = "time")]
    pub at: Utc,
    /// Who.
    pub person: String,
    /// Certificate, where one is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub certificate: Option<String>,
    /// How: detector, bubbles, dye, pressure.
    pub method: String,
    /// Where it leaked; `None`: no leak was found.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub leak_at: Option<String>,
    /// Why, where it was found.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub cause: String,
    /// The leak was repaired then.
    #[serde(default)]
    pub repaired: bool,
}

/// What a person enters into the refrigerant account.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "of", rename_all = "snake_case")]
pub enum GasAct {
    /// A cylinder; a later word takes the place of an earlier one.
    Cylinder(CylinderCard),
    /// A unit's plate; a later word takes the place of an earlier one.
    Plate(PlateCard),
    /// What a holder holds, by the scale or by the plate: the account begins there, or is put
    /// right.
    Weighed {
        /// Cylinder or unit.
        holder: Holder,
        /// Gas.
        gas: String,
        /// Refrigerant in it, without tare, g.
        g: u32,
        /// When.
        #[serde(with = "time")]
        at: Utc,
        /// How it is known.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        remark: String,
    },
    /// Refrigerant moved.
    Moved(Transfer),
    /// A cylinder's pressure was held against its name.
    Screened {
        /// The cylinder.
        cylinder: String,
        /// Absolute pressure after standing, kPa.
        p_kpa: f64,
        /// Temperature of the cylinder, °C.
        temp_c: f64,
        /// When.
        #[serde(with = "time")]
        at: Utc,
        /// What was said of it.
        words: String,
    },
    /// A unit was checked for leaks.
    Checked(LeakCheck),
    /// A unit was taken out of use.
    Decommissioned {
        /// The unit.
        unit: UnitId,
        /// When.
        #[serde(with = "time")]
        at: Utc,
        /// What was done to recover and dispose of the gas.
        measures: String,
    },
    /// An earlier entry was a slip and no longer counts; it stays readable.
    Struck {
        /// Number of the entry.
        entry: i64,
        /// Why.
        why: String,
    },
}

/// Kilograms as a scale shows them.
#[must_use]
pub fn kg(g: i64) -> String {
    let sign = if g < 0 { "-" } else { "" };
    let g = g.unsigned_abs();
    format!("{sign}{}.{:03} kg", g / 1000, g % 1000)
}

/// Whole grams of a mass in kg.
///
/// # Errors
/// One line where it is below 0 or more than a ship's store would hold.
pub fn grams(kg: f64) -> Result<u32, String> {
    if (0.0..=MOST_KG).contains(&kg) {
        return Ok((kg * 1000.0 + 0.5) as u32);
    }
    Err(format!("{kg} kg is below 0 or above {MOST_KG} kg; masses are kg by the scale"))
}

/// Heaviest that one entry may be, kg.
const MOST_KG: f64 = 5000.0;

/// The name of a gas as it is spelled: `r134A` is R134a. None where it is no such name.
#[must_use]
pub fn gas_name(text: &str) -> Option<String> {
    let t: String = text.chars().filter(|c| !c.is_whitespace() && *c != '-').collect();
    let rest = t.strip_prefix(['R', 'r'])?;
    let digits: String = rest.chars().take_while(char::is_ascii_digit).collect();
    let tail = rest.get(digits.len()..).unwrap_or_default();
    let letters = tail.chars().all(|c| c.is_ascii_alphabetic()) && tail.len() <= 4;
    if digits.is_empty() || digits.len() > 4 || !letters {
        return None;
    }
    // Blends (4xx, 5xx) end in a capital; isomers of one substance in small letters.
    let blend = digits.len() == 3 && digits.starts_with(['4', '5']);
    let tail = if blend { tail.to_ascii_uppercase() } else { tail.to_ascii_lowercase() };
    Some(format!("R{digits}{tail}"))
}

impl GasAct {
    /// The box it is about, where it is about one.
    #[must_use]
    pub fn unit(&self) -> Option<&UnitId> {
        match self {
            Self::Plate(p) => Some(&p.unit),
            Self::Checked(c) => Some(&c.unit),
            Self::Decommissioned { unit, .. } => Some(unit),
            Self::Weighed { holder, .. } => holder.unit(),
            Self::Moved(t) => t.to.unit().or(t.from.unit()),
            Self::Cylinder(_) | Self::Screened { .. } | Self::Struck { .. } => None,
        }
    }

    /// When it happened, where it tells.
    #[must_use]
    pub fn at(&self) -> Option<Utc> {
        match self {
            Self::Weighed { at, .. }
            | Self::Screened { at, .. }
            | Self::Decommissioned { at, .. } => Some(*at),
            Self::Moved(t) => Some(t.at),
            Self::Checked(c) => Some(c.at),
            Self::Cylinder(_) | Self::Plate(_) | Self::Struck { .. } => None,
        }
    }

    /// In one line.
    #[must_use]
    pub fn title(&self) -> String {
        match self {
            Self::Cylinder(c) => format!("cylinder {} of {} stated", c.id, c.gas),
            Self::Plate(p) => {
                format!("plate of {}: {} {}", p.unit, kg(p.charge_g.into()), p.gas)
            }
            Self::Weighed { holder, gas, g, .. } => {
                format!("{} holds {} {gas}", holder.words(), kg((*g).into()))
            }
            Self::Moved(t) => format!(
                "{} {} from {} to {}: {}",
                kg(t.g.into()),
                t.gas,
                t.from.words(),
                t.to.words(),
                t.reason.words()
            ),
            Self::Screened { cylinder, words, .. } => {
                format!("cylinder {cylinder} held against its name: {words}")
            }
            Self::Checked(c) => match &c.leak_at {
                None => format!("{} checked for leaks by {}: none found", c.unit, c.method),
                Some(place) => {
                    let done = if c.repaired { ", repaired" } else { ", not yet repaired" };
                    format!("{} checked for leaks by {}: {place}{done}", c.unit, c.method)
                }
            },
            Self::Decommissioned { unit, measures, .. } => {
                format!("refrigeration of {unit} taken out of use: {measures}")
            }
            Self::Struck { entry, why } => {
                format!("entry {entry} of the refrigerant account struck out: {why}")
            }
        }
    }
}

/// An entry of the account, with who entered it and when.
#[derive(Debug, Clone, PartialEq)]
pub struct GasEntry {
    /// Number in the journal.
    pub seq: i64,
    /// What.
    pub act: GasAct,
    /// Who entered it.
    pub who: String,
    /// When.
    pub entered_at: Utc,
    /// It was struck out later, and why.
    pub struck: Option<String>,
}

/// Everything entered into the refrigerant account, in order.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct GasFile {
    /// All entries, struck ones too.
    pub entries: Vec<GasEntry>,
}

impl GasFile {
    /// Files one more.
    pub fn add(&mut self, act: &GasAct, seq: i64, who: &str, entered_at: Utc) {
        if let GasAct::Struck { entry, why } = act
            && let Some(e) = self.entries.iter_mut().find(|e| e.seq == *entry)
        {
            e.struck = Some(why.clone());
        }
        let who = who.to_owned();
        self.entries.push(GasEntry { seq, act: act.clone(), who, entered_at, struck: None });
    }

    /// What counts, in the order entered.
    pub fn standing(&self) -> impl Iterator<Item = &GasEntry> {
        self.entries
            .iter()
            .filter(|e| e.struck.is_none() && !matches!(e.act, GasAct::Struck { .. }))
    }

    /// The latest card of a cylinder.
    #[must_use]
    pub fn cylinder(&self, id: &str) -> Option<&CylinderCard> {
        self.standing()
            .filter_map(|e| match &e.act {
                GasAct::Cylinder(c) if c.id == id => Some(c),
                _ => None,
            })
            .last()
    }

    /// The latest plate of a unit.
    #[must_use]
    pub fn plate(&self, unit: &UnitId) -> Option<&PlateCard> {
        self.standing()
            .filter_map(|e| match &e.act {
                GasAct::Plate(p) if p.unit == *unit => Some(p),
                _ => None,
            })
            .last()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Act;

    /// What is stored today must be read for years.
    #[test]
    fn gas_acts_keep_their_stored_form() {
        let stored = [
            r#"{"act":"gas","of":"cylinder","id":"C12","gas":"R134a","volume_l":12.3,"tare_g":7900,"limit_g":10000,"recovery":false,"source":"reclaimed","facility":"Yard, Quay 1","certificate":"X1"}"#,
            r#"{"act":"gas","of":"plate","unit":"QQQU1000011","gas":"R134a","charge_g":4200,"serial":"S1","sealed":false,"detection":false}"#,
            r#"{"act":"gas","of":"weighed","holder":"cylinder:C12","gas":"R134a","g":9100,"at":"2026-03-16T12:00:00Z"}"#,
            r#"{"act":"gas","of":"moved","at":"2026-03-16T12:00:00Z","place":"at sea","person":"Ann","certificate":"A7","gas":"R134a","g":450,"from":"cylinder:C12","to":"unit:QQQU1000011","reason":"top_up","remark":"hose emptied into the unit"}"#,
            r#"{"act":"gas","of":"screened","cylinder":"C12","p_kpa":572.0,"temp_c":20.0,"at":"2026-03-16T12:00:00Z","words":"fits"}"#,
            r#"{"act":"gas","of":"checked","unit":"QQQU1000011","at":"2026-03-16T12:00:00Z","person":"Ann","method":"bubbles","leak_at":"service valve","cause":"cap off","repaired":true}"#,
            r#"{"act":"gas","of":"decommissioned","unit":"QQQU1000011","at":"2026-03-16T12:00:00Z","measures":"recovered"}"#,
            r#"{"act":"gas","of":"struck","entry":7,"why":"wrong cylinder"}"#,
        ];
        for text in stored {
            let act: Act = serde_json::from_str(text).unwrap();
            assert_eq!(serde_json::to_string(&act).unwrap(), text);
        }
    }

    #[test]
    fn holders_and_gases_as_people_write_them() {
        let of = |t: &str| Holder::from_text(t).unwrap().to_string();
        assert_eq!(of("QQQU 100001 1"), "unit:QQQU1000011");
        assert_eq!(of("C12"), "cylinder:C12");
        assert_eq!(of("AIR"), "air");
        assert_eq!(of("shore: Pier 4"), "shore:Pier 4");
        for bad in ["", "shore:", "unit:C12", "tank:4"] {
            assert!(Holder::from_text(bad).is_err(), "{bad}");
        }
        for (typed, name) in
            [("r134A", "R134a"), ("R-404a", "R404A"), ("R 1234YF", "R1234yf"), ("r22", "R22")]
        {
            assert_eq!(gas_name(typed).as_deref(), Some(name));
        }
        for bad in ["134a", "R", "Rx", "R134a (mixed)", "R12345"] {
            assert_eq!(gas_name(bad), None, "{bad}");
        }
        assert_eq!((grams(0.45), grams(4.2)), (Ok(450), Ok(4200)));
        assert!(grams(-0.1).is_err() && grams(f64::NAN).is_err() && grams(6e3).is_err());
        assert_eq!((kg(450), kg(-12_005)), ("0.450 kg".into(), "-12.005 kg".into()));
    }
}
