//! The cargo table (`data/cargoes.csv`): carriage conditions with sources and trust marks.
//!
//! A shipper's written instruction always outranks this table. Cells whose source says `MEM` or
//! `HBM` were recalled from memory and are unverified; they are marked so wherever they show.

use std::fmt;

/// The table as it ships.
const EMBEDDED: &str = include_str!("../../../data/cargoes.csv");

/// What sort of cargo it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Category {
    /// Fresh fruit.
    Fruit,
    /// Fresh vegetables.
    Vegetable,
    /// Cut flowers and bulbs.
    Floral,
    /// Frozen food.
    Frozen,
    /// Chilled food that does not breathe.
    Chilled,
    /// Medicines.
    Pharma,
}

impl Category {
    fn parse(text: &str) -> Option<Self> {
        Some(match text {
            "fruit" => Self::Fruit,
            "vegetable" => Self::Vegetable,
            "floral" => Self::Floral,
            "frozen" => Self::Frozen,
            "chilled" => Self::Chilled,
            "pharma" => Self::Pharma,
            _ => return None,
        })
    }
}

/// Respiration at one temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RespirationPoint {
    /// Temperature, °C.
    pub temp_c: f64,
    /// Low end, mg CO2 per kg and hour; `None` where only an upper bound is published.
    pub low_mg_per_kg_h: Option<f64>,
    /// High end, mg CO2 per kg and hour.
    pub high_mg_per_kg_h: f64,
    /// Recalled from memory.
    pub unverified: bool,
}

/// Source codes of a cargo's cells (reference/cargo-and-box.md §8).
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Sources {
    /// Carriage temperature (and humidity of fruit and vegetables).
    pub temp: String,
    /// Freezing point.
    pub freeze: String,
    /// Lowest safe temperature.
    pub chill: String,
    /// Ethylene.
    pub ethylene: String,
    /// Fresh air.
    pub vent: String,
    /// Respiration.
    pub respiration: String,
    /// Storage life.
    pub life: String,
}

/// One row of the table.
#[derive(Debug, Clone, PartialEq)]
pub struct Cargo {
    /// Key, for example `banana`.
    pub id: String,
    /// English name, for example `Banana, green`.
    pub name: String,
    /// Sort of cargo.
    pub category: Category,
    /// Living cargo: makes heat, carbon dioxide and ethylene.
    pub respires: bool,
    /// Coldest carriage temperature, °C; `None` for frozen cargo (at or below the warmest).
    pub t_min_c: Option<f64>,
    /// Warmest carriage temperature, °C.
    pub t_max_c: f64,
    /// Humidity band, % RH.
    pub rh_pct: [Option<f64>; 2],
    /// Published freezing point, °C; for medicine 0 = must never freeze.
    pub freeze_c: Option<f64>,
    /// A second published freezing point, °C.
    pub freeze_alt_c: Option<f64>,
    /// Lowest safe temperature, °C: lower end over cultivars and ripeness.
    pub chill_lo_c: Option<f64>,
    /// Lowest safe temperature, °C: upper end.
    pub chill_hi_c: Option<f64>,
    /// Ethylene made: VL, L, M, H, VH; empty when not known.
    pub ethylene_made: String,
    /// Sensitivity to ethylene: VL, L, M, H, VH; empty when not known.
    pub ethylene_sensitivity: String,
    /// Fresh air for a full 40 ft box, m³/h; 0 and 0 means closed.
    pub vent_m3_h: [Option<f64>; 2],
    /// Dehumidification practice: off, on, either, off*.
    pub dehumidify: String,
    /// Life at the best temperature, days.
    pub life_d: [Option<f64>; 2],
    /// Respiration by rising temperature; empty when none is published.
    pub respiration: Vec<RespirationPoint>,
    /// Source codes.
    pub sources: Sources,
    /// Free note.
    pub note: String,
}

impl Cargo {
    /// The freezing point that warns earlier where two are published, °C.
    #[must_use]
    pub fn freezing_c(&self) -> Option<f64> {
        match (self.freeze_c, self.freeze_alt_c) {
            (Some(a), Some(b)) => Some(a.max(b)),
            (a, b) => a.or(b),
        }
    }
}

/// A fact of the table as a line for people.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fact {
    /// What it is, for example `carriage temperature`.
    pub name: &'static str,
    /// Value with unit.
    pub text: String,
    /// Source codes; empty where none is given.
    pub source: String,
    /// Recalled from memory, unverified.
    pub unverified: bool,
}

/// Why a text is not a cargo table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TableError {
    /// Physical line, header = 1; 0 when not known.
    pub line: u64,
    /// What is wrong and what to do.
    pub why: String,
}

impl fmt::Display for TableError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "cargo table line {}: {}", self.line, self.why)
    }
}

/// All cargoes, in the table's order.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CargoTable {
    cargoes: Vec<Cargo>,
}

impl CargoTable {
    /// The table that ships with the program. (A test holds that it can be read whole.)
    #[must_use]
    pub fn embedded() -> Self {
        Self::parse(EMBEDDED).unwrap_or_default()
    }

    /// Reads a table in the form of `data/cargoes.csv`.
    ///
    /// # Errors
    /// [`TableError`] with the line, when a row cannot be read.
    pub fn parse(text: &str) -> Result<Self, TableError> {
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let bad = |line: u64, why: String| TableError { line, why };
        let header = reader.headers().map_err(|e| bad(1, e.to_string()))?.clone();
        let mut cargoes = Vec::new();
        for row in reader.records() {
            let row =
                row.map_err(|e| bad(e.position().map_or(0, csv::Position::line), e.to_string()))?;
            let line = row.position().map_or(0, csv::Position::line);
            let cells = Cells { header: &header, row: &row };
            cargoes.push(cells.cargo().map_err(|why| bad(line, why))?);
        }
        Ok(Self { cargoes })
    }

    /// All cargoes.
    #[must_use]
    pub fn all(&self) -> &[Cargo] {
        &self.cargoes
    }

    /// The cargo with this key.
    #[must_use]
    pub fn by_id(&self, id: &str) -> Option<&Cargo> {
        self.cargoes.iter().find(|c| c.id == id)
    }
}

/// One row with its header.
struct Cells<'a> {
    header: &'a csv::StringRecord,
    row: &'a csv::StringRecord,
}

impl Cells<'_> {
    fn text(&self, column: &str) -> Result<String, String> {
        self.header
            .iter()
            .position(|h| h == column)
            .and_then(|i| self.row.get(i))
            .map(|t| t.trim().to_owned())
            .ok_or_else(|| format!("column {column} is missing; restore it"))
    }

    fn number(&self, column: &str) -> Result<Option<f64>, String> {
        let text = self.text(column)?;
        if text.is_empty() {
            return Ok(None);
        }
        match text.parse::<f64>() {
            Ok(v) if v.is_finite() => Ok(Some(v)),
            _ => Err(format!("column {column}: {text} is not a number")),
        }
    }

    fn pair(&self, low: &str, high: &str) -> Result<[Option<f64>; 2], String> {
        Ok([self.number(low)?, self.number(high)?])
    }

    fn respiration(&self) -> Result<Vec<RespirationPoint>, String> {
        let recalled = self.text("resp_unverified_at_c")?;
        let mut points = Vec::new();
        for at in [0u8, 5, 10, 15, 20] {
            let low = self.number(&format!("resp{at}_lo_mg"))?;
            let Some(high) = self.number(&format!("resp{at}_hi_mg"))? else {
                continue;
            };
            if high <= 0.0 || low.is_some_and(|l| l <= 0.0 || l > high) {
                return Err(format!("respiration at {at} °C: low and high out of order"));
            }
            points.push(RespirationPoint {
                temp_c: f64::from(at),
                low_mg_per_kg_h: low,
                high_mg_per_kg_h: high,
                unverified: recalled.split(';').any(|t| t.trim() == at.to_string()),
            });
        }
        Ok(points)
    }

    fn sources(&self) -> Result<Sources, String> {
        Ok(Sources {
            temp: self.text("src_temp")?,
            freeze: self.text("src_freeze")?,
            chill: self.text("src_chill")?,
            ethylene: self.text("src_c2h4")?,
            vent: self.text("src_vent")?,
            respiration: self.text("src_resp")?,
            life: self.text("src_life")?,
        })
    }

    fn cargo(&self) -> Result<Cargo, String> {
        let category = self.text("category")?;
        Ok(Cargo {
            id: self.text("id")?,
            name: self.text("name")?,
            category: Category::parse(&category)
                .ok_or_else(|| format!("column category: {category} is not known"))?,
            respires: self.text("respires")? == "1",
            t_min_c: self.number("t_min_c")?,
            t_max_c: self
                .number("t_max_c")?
                .ok_or("column t_max_c: a carriage temperature is needed")?,
            rh_pct: self.pair("rh_min_pct", "rh_max_pct")?,
            freeze_c: self.number("freeze_c")?,
            freeze_alt_c: self.number("freeze_alt_c")?,
            chill_lo_c: self.number("chill_lo_c")?,
            chill_hi_c: self.number("chill_hi_c")?,
            ethylene_made: self.text("c2h4_production")?,
            ethylene_sensitivity: self.text("c2h4_sensitivity")?,
            vent_m3_h: self.pair("vent_min_m3h", "vent_max_m3h")?,
            dehumidify: self.text("dehumid")?,
            life_d: self.pair("life_min_d", "life_max_d")?,
            respiration: self.respiration()?,
            sources: self.sources()?,
            note: self.text("note")?,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Seventy rows, and figures as reference/cargo-and-box.md §1.1 and §1.2 print them.
    #[test]
    fn embedded_table_is_whole() {
        let table = CargoTable::parse(EMBEDDED).unwrap();
        assert_eq!(table.all().len(), 70);
        let banana = table.by_id("banana").unwrap();
        assert_eq!((banana.t_min_c, banana.t_max_c), (Some(13.0), 14.0));
        assert_eq!(banana.freezing_c(), Some(-0.8));
        assert_eq!(banana.respiration.len(), 2);
        assert_eq!(banana.respiration[0].low_mg_per_kg_h, Some(22.3));
        assert_eq!(table.by_id("apple").unwrap().freezing_c(), Some(-1.1));
        let lime = table.by_id("lime").unwrap();
        assert_eq!(lime.respiration[0].low_mg_per_kg_h, None);
        let living = table.all().iter().filter(|c| c.respires).count();
        assert_eq!(living, 50);
        let without = |c: &&Cargo| c.respires && c.respiration.is_empty();
        assert_eq!(table.all().iter().filter(without).count(), 6);
    }

    #[test]
    fn ids_are_unique() {
        let table = CargoTable::embedded();
        let mut ids: Vec<_> = table.all().iter().map(|c| &c.id).collect();
        ids.sort();
        ids.dedup();
        assert_eq!(ids.len(), 70);
    }

    #[test]
    fn a_broken_row_is_refused_by_line() {
        let broken = EMBEDDED.replacen("apricot,Apricot,fruit", "apricot,Apricot,fruitt", 1);
        let error = CargoTable::parse(&broken).unwrap_err();
        assert_eq!(error.line, 3);
        assert!(error.why.contains("fruitt"));
    }
}
