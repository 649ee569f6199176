//! How warm and how cold a cargo may become.
//!
//! The shipper's written range outranks every table. Where no published figure exists the
//! margin is ours and the wording says "estimate". Where several rules or cargoes apply the
//! earlier warning counts.

use crate::cargo_table::{Cargo, Category};
use crate::recognise::Recognition;

/// Set points from here down are frozen cargo (GDV Container Handbook §8.3.1: units cycle the
/// compressor below about -10 °C).
pub const FROZEN_SET_MAX_C: f64 = -10.0;

/// Set points from here down are deep-frozen special cargo. Our estimate.
const DEEP_SET_MAX_C: f64 = -30.0;

/// Supply air this near above the freezing point is too near. Our estimate.
const FREEZE_MARGIN_K: f64 = 0.3;

/// Which side a limit is on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// The cargo must not become warmer.
    Warm,
    /// The cargo must not become colder.
    Cold,
}

/// A limit with its wording.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// Temperature, °C.
    pub temp_c: f64,
    /// Side.
    pub side: Side,
    /// Figure, what it is and where it comes from, for people.
    pub text: String,
}

impl Limit {
    fn new(temp_c: f64, side: Side, why: &str) -> Self {
        Self { temp_c, side, text: format!("{temp_c:.1} °C cargo ({why})") }
    }
}

/// The limits of one box's cargo; each `None` where nothing is known to set one by.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Limits {
    /// Warmest cargo.
    pub warm: Option<Limit>,
    /// Coldest cargo: the list's range, or medicine that must not freeze, or freezing.
    pub cold: Option<Limit>,
    /// Coldest supply air: nearness to freezing.
    pub freezing: Option<Limit>,
    /// Coldest supply air: published lowest safe temperature.
    pub chilling: Option<Limit>,
}

/// Limits from what is known: the cargoes it may be, the set point (ordered, else displayed)
/// and the list's own range.
#[must_use]
pub fn limits(
    cargo: &Recognition<'_>,
    set_point_c: Option<f64>,
    range_c: Option<[f64; 2]>,
) -> Limits {
    let freezing = cargo.candidates.iter().filter_map(|c| freezing(c, set_point_c)).reduce(warmer);
    let chilling = cargo.candidates.iter().filter_map(|c| chilling(c, set_point_c)).reduce(warmer);
    let table_cold = cargo.candidates.iter().filter_map(|c| frost(c)).reduce(warmer);
    Limits {
        warm: range_warm(range_c, set_point_c).or_else(|| table_warm(cargo, set_point_c)),
        cold: range_cold(range_c, set_point_c).or(table_cold),
        freezing,
        chilling,
    }
}

fn warmer(a: Limit, b: Limit) -> Limit {
    if b.temp_c > a.temp_c { b } else { a }
}

fn colder(a: Limit, b: Limit) -> Limit {
    if b.temp_c < a.temp_c { b } else { a }
}

const RANGE: &str = "range ordered by the loading list";

/// A range end less than this from the set point leaves the unit no room to hold it; it is then
/// a wording of the set point, not a limit to forecast against. Our estimate.
const RANGE_ROOM_K: f64 = 0.5;

fn range_warm(range_c: Option<[f64; 2]>, set: Option<f64>) -> Option<Limit> {
    let [_, high] = range_c?;
    set.is_none_or(|s| high >= s + RANGE_ROOM_K).then(|| Limit::new(high, Side::Warm, RANGE))
}

fn range_cold(range_c: Option<[f64; 2]>, set: Option<f64>) -> Option<Limit> {
    let [low, _] = range_c?;
    set.is_none_or(|s| low <= s - RANGE_ROOM_K).then(|| Limit::new(low, Side::Cold, RANGE))
}

fn table_warm(cargo: &Recognition<'_>, set: Option<f64>) -> Option<Limit> {
    if let Some(s) = set.filter(|s| *s <= DEEP_SET_MAX_C) {
        let why = "5 K over a deep-frozen set point, estimate";
        return Some(Limit::new(s + 5.0, Side::Warm, why));
    }
    let known = cargo.candidates.iter().map(|c| warm(c, set)).reduce(colder);
    known.or_else(|| set.map(unknown_warm))
}

/// Cargo not known: only the set point to go by.
fn unknown_warm(set: f64) -> Limit {
    if set > FROZEN_SET_MAX_C {
        let why = "cargo not known: 3 K over the set point, estimate";
        return Limit::new(set + 3.0, Side::Warm, why);
    }
    if set + 3.0 <= -15.0 {
        let why = "quick-frozen food in transport, EU directive 89/108/EEC; cargo not known";
        return Limit::new(-15.0, Side::Warm, why);
    }
    let why = "cargo not known: 3 K over a frozen set point, estimate";
    Limit::new(set + 3.0, Side::Warm, why)
}

fn warm(c: &Cargo, set: Option<f64>) -> Limit {
    match c.category {
        Category::Frozen => frozen_warm(c, set),
        Category::Pharma if c.t_max_c <= 8.0 => {
            Limit::new(8.0, Side::Warm, "medicine kept at 2 to 8 °C, USP <659>")
        }
        Category::Pharma => {
            Limit::new(c.t_max_c, Side::Warm, "medicine kept at room temperature, USP <659>")
        }
        _ => chilled_warm(c, set),
    }
}

fn frozen_warm(c: &Cargo, set: Option<f64>) -> Limit {
    let table = c.t_max_c + 3.0;
    match set {
        // Ordered warmer than the table: the order counts.
        Some(s) if s > c.t_max_c + 0.5 && s <= FROZEN_SET_MAX_C => {
            Limit::new(s + 3.0, Side::Warm, "3 K over a frozen set point, estimate")
        }
        _ if c.id == "frozen_qf" => {
            let why = "quick-frozen food in transport, EU directive 89/108/EEC";
            Limit::new(table, Side::Warm, why)
        }
        _ => {
            let why = format!(
                "3 K over {} °C carriage, after EU directive 89/108/EEC for quick-frozen food",
                c.t_max_c
            );
            Limit::new(table, Side::Warm, &why)
        }
    }
}

/// Chilled: 2 K over the warmest of table and order, never more than 8 K over the order (some
/// table rows span a dozen kelvin of varieties).
fn chilled_warm(c: &Cargo, set: Option<f64>) -> Limit {
    let table = c.t_max_c + 2.0;
    let Some(s) = set else {
        let why = format!("2 K over {} °C carriage, estimate", c.t_max_c);
        return Limit::new(table, Side::Warm, &why);
    };
    if s > c.t_max_c {
        return Limit::new(s + 2.0, Side::Warm, "2 K over the set point, estimate");
    }
    if table > s + 8.0 {
        return Limit::new(s + 8.0, Side::Warm, "8 K over the set point, estimate");
    }
    let why = format!("2 K over {} °C carriage, estimate", c.t_max_c);
    Limit::new(table, Side::Warm, &why)
}

fn recalled(source: &str) -> &'static str {
    if source.contains("MEM") { ", unverified" } else { "" }
}

/// Cargo itself at its freezing point (for medicine: 0 °C, never).
fn frost(c: &Cargo) -> Option<Limit> {
    if c.category == Category::Frozen {
        return None;
    }
    let freeze = c.freezing_c()?;
    let why = if c.category == Category::Pharma {
        "medicine that must never freeze".to_owned()
    } else {
        format!("freezing point, table{}", recalled(&c.sources.freeze))
    };
    Some(Limit::new(freeze, Side::Cold, &why))
}

/// Supply air near freezing. Where the order itself is that near (chilled meat), the unit needs
/// its 0.3 K of play below the set point, but never under the freezing point.
fn freezing(c: &Cargo, set: Option<f64>) -> Option<Limit> {
    if c.category == Category::Frozen {
        return None;
    }
    let freeze = c.freezing_c()?;
    let near = freeze + FREEZE_MARGIN_K;
    let temp_c = set.map_or(near, |s| near.min(s - FREEZE_MARGIN_K).max(freeze));
    let mark = recalled(&c.sources.freeze);
    Some(Limit {
        temp_c,
        side: Side::Cold,
        text: format!("{temp_c:.1} °C supply air (freezes at {freeze} °C, table{mark})"),
    })
}

/// Published lowest safe temperature. An order below it stands: the shipper outranks the table.
fn chilling(c: &Cargo, set: Option<f64>) -> Option<Limit> {
    let lowest = c.chill_lo_c?;
    if set.is_some_and(|s| s < lowest) {
        return None;
    }
    // Half a kelvin of play below the set point, as any unit needs.
    let temp_c = set.map_or(lowest, |s| lowest.min(s - 0.5));
    let mark = recalled(&c.sources.chill);
    Some(Limit {
        temp_c,
        side: Side::Cold,
        text: format!("{temp_c:.1} °C supply air (lowest safe {lowest} °C, table{mark})"),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::CargoTable;

    fn of(text: &str, set: Option<f64>, range: Option<[f64; 2]>) -> Limits {
        let table = CargoTable::embedded();
        limits(&table.recognition(&[text]).narrowed(set), set, range)
    }

    fn warm_c(text: &str, set: f64) -> f64 {
        of(text, Some(set), None).warm.unwrap().temp_c
    }

    /// Published: EU 89/108/EEC (-15), USP <659> (8, 25). The rest is our rule of the page.
    #[test]
    fn warm_limits() {
        assert_eq!(warm_c("FROZEN VEGETABLES", -18.0), -15.0);
        assert_eq!(warm_c("FROZEN BEEF", -20.0), -15.0);
        assert_eq!(warm_c("ICE CREAM", -25.0), -17.0);
        assert_eq!(warm_c("DEEP FROZEN TUNA", -60.0), -55.0);
        assert_eq!(warm_c("VACCINES", 5.0), 8.0);
        assert_eq!(warm_c("PHARMA", 20.0), 25.0);
        assert_eq!(warm_c("BANANAS", 13.5), 16.0);
        assert_eq!(warm_c("CHEESE", 4.0), 12.0);
        assert_eq!(warm_c("GENERAL", -18.0), -15.0);
        assert_eq!(warm_c("GENERAL", -12.0), -9.0);
        assert_eq!(warm_c("GENERAL", 5.0), 8.0);
        assert!(of("GENERAL", None, None).warm.is_none());
    }

    #[test]
    fn the_lists_range_outranks_the_table() {
        let l = of("BANANAS", Some(13.5), Some([13.0, 14.5]));
        assert_eq!(l.warm.as_ref().unwrap().temp_c, 14.5);
        assert!(l.warm.unwrap().text.contains("loading list"));
        assert_eq!(l.cold.unwrap().temp_c, 13.0);
        // A range without room above the set point is no limit to forecast against.
        assert_eq!(of("BEEF", Some(-18.0), Some([-25.0, -18.0])).warm.unwrap().temp_c, -15.0);
    }

    #[test]
    fn cold_limits() {
        let banana = of("BANANAS", Some(13.5), None);
        assert_eq!(banana.chilling.unwrap().temp_c, 11.5);
        assert!((banana.freezing.unwrap().temp_c - -0.5).abs() < 1e-9);
        assert_eq!(banana.cold.unwrap().temp_c, -0.8);
        // Chilled beef is ordered within its margin: 0.3 K of play, not under freezing.
        let beef = of("CHILLED BEEF", Some(-1.4), None);
        assert!((beef.freezing.unwrap().temp_c - -1.7).abs() < 1e-9);
        assert_eq!(of("VACCINES", Some(5.0), None).cold.unwrap().temp_c, 0.0);
        // Apples are ordered under the figure that holds for some varieties only.
        assert!(of("APPLES", Some(0.0), None).chilling.is_none());
        assert!(of("FROZEN BEEF", Some(-18.0), None).freezing.is_none());
    }

    #[test]
    fn of_several_cargoes_the_earlier_limit() {
        let citrus = of("CITRUS", Some(4.0), None);
        // Mandarin 4 to 8, orange 2 to 8: t_max + 2 K is 10 for both.
        assert_eq!(citrus.warm.unwrap().temp_c, 10.0);
        assert_eq!(citrus.cold.unwrap().temp_c, -0.8);
    }
}
