//! Who or what holds refrigerant, as the account names it.

use std::fmt;

use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

use crate::UnitId;

/// Who or what holds refrigerant. Written `cylinder:C12`, `unit:QQQU1000011`, `supplier:NAME`,
/// `shore:NAME`, `air`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Holder {
    /// A supplier: gas comes on board.
    Supplier(String),
    /// A cylinder by its number.
    Cylinder(String),
    /// A unit by its number.
    Unit(UnitId),
    /// The air: lost.
    Air,
    /// A reception facility ashore.
    Shore(String),
}

impl Holder {
    /// From what a person writes: a bare container number is a unit, any other bare word a
    /// cylinder.
    ///
    /// # Errors
    /// One line saying what to write.
    pub fn from_text(text: &str) -> Result<Self, String> {
        let text = text.trim();
        let (kind, name) = text.split_once(':').map_or(("", text), |(k, n)| (k.trim(), n.trim()));
        let unit = |n: &str| {
            UnitId::from_text(n)
                .filter(UnitId::has_iso_form)
                .ok_or_else(|| format!("\"{n}\" is no container number"))
        };
        if name.is_empty() {
            return Err(format!(
                "\"{text}\" names nobody; write a cylinder's number, a unit's number, \
                 supplier:NAME, shore:NAME or air"
            ));
        }
        match kind.to_ascii_lowercase().as_str() {
            "supplier" => Ok(Self::Supplier(name.to_owned())),
            "shore" => Ok(Self::Shore(name.to_owned())),
            "cylinder" => Ok(Self::Cylinder(name.to_owned())),
            "unit" => unit(name).map(Self::Unit),
            "" if name.eq_ignore_ascii_case("air") => Ok(Self::Air),
            "" => Ok(unit(name).map_or_else(|_| Self::Cylinder(name.to_owned()), Self::Unit)),
            other => Err(format!("\"{other}:\" is none of cylinder:, unit:, supplier:, shore:")),
        }
    }

    /// As a person reads it.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::Supplier(n) => format!("supplier {n}"),
            Self::Cylinder(n) => format!("cylinder {n}"),
            Self::Unit(u) => u.to_string(),
            Self::Air => "the air".to_owned(),
            Self::Shore(n) => format!("{n} ashore"),
        }
    }

    /// The unit, where it is one.
    #[must_use]
    pub fn unit(&self) -> Option<&UnitId> {
        match self {
            Self::Unit(u) => Some(u),
            _ => None,
        }
    }
}

impl fmt::Display for Holder {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Supplier(n) => write!(f, "supplier:{n}"),
            Self::Cylinder(n) => write!(f, "cylinder:{n}"),
            Self::Unit(u) => write!(f, "unit:{u}"),
            Self::Air => f.write_str("air"),
            Self::Shore(n) => write!(f, "shore:{n}"),
        }
    }
}

impl Serialize for Holder {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Holder {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        Self::from_text(&String::deserialize(d)?).map_err(de::Error::custom)
    }
}
