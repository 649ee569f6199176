//! Which cargo a loading list's free text names, in the trade's words.
//!
//! A text can fit several cargoes ("CITRUS"); then all of them are kept and the earliest limit
//! counts. Nothing is guessed: an unknown text is no cargo.

use crate::cargo_table::{Cargo, CargoTable, Category};
use crate::limits::FROZEN_SET_MAX_C;
use crate::recognise::words::{ALIASES, FROZEN_WORDS, PROCESSED};

mod words;

/// The table's row for whatever is frozen and has no row of its own.
const QUICK_FROZEN: &str = "frozen_qf";

/// What a text was recognised as.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Recognition<'a> {
    /// The cargoes it may be; empty when none is known.
    pub candidates: Vec<&'a Cargo>,
    /// The words it was known by, lower case; empty when none.
    pub words: String,
}

impl<'a> Recognition<'a> {
    /// The cargo, when it can be only one.
    #[must_use]
    pub fn one(&self) -> Option<&'a Cargo> {
        match self.candidates.as_slice() {
            [only] => Some(only),
            _ => None,
        }
    }

    /// Nothing was recognised.
    #[must_use]
    pub fn is_unknown(&self) -> bool {
        self.candidates.is_empty()
    }

    /// The name to show: the table's, or the list's words where they fit several cargoes.
    #[must_use]
    pub fn label(&self) -> Option<String> {
        match self.candidates.as_slice() {
            [] => None,
            [only] => Some(only.name.clone()),
            [..] => {
                let frozen = |c: &&Cargo| c.category == Category::Frozen;
                let all_frozen = self.candidates.iter().all(frozen);
                let word = if all_frozen { "frozen " } else { "" };
                Some(format!("{word}{} (kind not told apart)", self.words))
            }
        }
    }

    /// Living cargo, or possibly so.
    #[must_use]
    pub fn respires(&self) -> bool {
        self.candidates.iter().any(|c| c.respires)
    }

    /// Medicine, or possibly so.
    #[must_use]
    pub fn is_pharma(&self) -> bool {
        self.candidates.iter().any(|c| c.category == Category::Pharma)
    }

    /// Keeps the cargoes that fit the ordered temperature, where any does: first by carriage
    /// band (1 K wider), else frozen or not frozen.
    #[must_use]
    pub fn narrowed(mut self, set_point_c: Option<f64>) -> Self {
        let Some(set) = set_point_c else { return self };
        if self.candidates.len() < 2 {
            return self;
        }
        let in_band =
            |c: &Cargo| set <= c.t_max_c + 1.0 && c.t_min_c.is_none_or(|t| set >= t - 1.0);
        let same_class = |c: &Cargo| (c.category == Category::Frozen) == (set <= FROZEN_SET_MAX_C);
        if self.candidates.iter().any(|c| in_band(c)) {
            self.candidates.retain(|c| in_band(c));
        } else if self.candidates.iter().any(|c| same_class(c)) {
            self.candidates.retain(|c| same_class(c));
        }
        self
    }
}

impl CargoTable {
    /// The cargoes that a list's remarks may name. Longest words first: `SWEET POTATOES` is no
    /// potato. A remark that says frozen fits no fresh cargo, and the other way round.
    #[must_use]
    pub fn recognition<S: AsRef<str>>(&self, remarks: &[S]) -> Recognition<'_> {
        let text: Vec<Vec<String>> = remarks.iter().map(|r| split(r.as_ref())).collect();
        let temper = Temper::of(&text);
        let mut found: Vec<(&'static str, Vec<&Cargo>)> = Vec::new();
        for words in &text {
            if words.iter().any(|w| PROCESSED.contains(&w.as_str())) && temper != Temper::Frozen {
                continue;
            }
            for (name, ids) in hits(words) {
                let cargoes: Vec<&Cargo> = ids
                    .iter()
                    .filter_map(|id| self.by_id(id))
                    .filter(|c| temper.admits(c))
                    .collect();
                if !cargoes.is_empty() && !found.iter().any(|(n, _)| *n == name) {
                    found.push((name, cargoes));
                }
            }
        }
        merge(found)
    }

    /// The one cargo that a list's remarks name; where they fit several of one carriage
    /// temperature, the shortest-lived of them; `None` when it stays open.
    #[must_use]
    pub fn recognise<S: AsRef<str>>(&self, remarks: &[S]) -> Option<&Cargo> {
        let known = self.recognition(remarks);
        let first = known.candidates.first()?;
        let alike = known
            .candidates
            .iter()
            .all(|c| (c.t_min_c, c.t_max_c) == (first.t_min_c, first.t_max_c));
        let life = |c: &&&Cargo| c.life_d[0].map_or(i64::MAX, |d| d as i64);
        known.candidates.iter().filter(|_| alike).min_by_key(life).copied()
    }
}

/// Whether the text says frozen or not frozen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Temper {
    Frozen,
    Fresh,
    Unsaid,
}

impl Temper {
    fn of(text: &[Vec<String>]) -> Self {
        let mut temper = Self::Unsaid;
        for words in text {
            for (i, w) in words.iter().enumerate() {
                let before = i.checked_sub(1).and_then(|j| words.get(j)).map(String::as_str);
                let denied = matches!(before, Some("NOT" | "NEVER" | "NON" | "UN"));
                if FROZEN_WORDS.contains(&w.as_str()) && !denied {
                    return Self::Frozen;
                }
                if matches!(w.as_str(), "FRESH" | "CHILLED" | "CHILL") || denied {
                    temper = Self::Fresh;
                }
            }
        }
        temper
    }

    fn admits(self, cargo: &Cargo) -> bool {
        match self {
            Self::Frozen => cargo.category == Category::Frozen,
            Self::Fresh => cargo.category != Category::Frozen,
            // "BANANAS" alone are not frozen fruit; meat and fish go both ways.
            Self::Unsaid => cargo.id != QUICK_FROZEN,
        }
    }
}

/// Upper-case words, each without a plural ending.
fn split(text: &str) -> Vec<String> {
    text.split(|c: char| !c.is_alphanumeric())
        .filter(|w| !w.is_empty())
        .map(|w| singular(&w.to_uppercase()))
        .collect()
}

/// Plain English plurals only: BERRIES, POTATOES, PEACHES, GRAPES.
fn singular(word: &str) -> String {
    if word.len() < 4 || word.ends_with("SS") || word.ends_with("US") || word.ends_with("IS") {
        return word.to_owned();
    }
    if let Some(stem) = word.strip_suffix("IES") {
        return format!("{stem}Y");
    }
    for ending in ["OES", "CHES", "SHES", "XES"] {
        if word.ends_with(ending)
            && let Some(stem) = word.strip_suffix("ES")
        {
            return stem.to_owned();
        }
    }
    word.strip_suffix('S').unwrap_or(word).to_owned()
}

/// Non-overlapping names in a text, longest first at every place.
fn hits(words: &[String]) -> Vec<(&'static str, &'static [&'static str])> {
    let mut out = Vec::new();
    let mut i = 0;
    while let Some(rest) = words.get(i..).filter(|r| !r.is_empty()) {
        let fits = |name: &str| {
            let parts: Vec<&str> = name.split(' ').collect();
            rest.len() >= parts.len() && parts.iter().zip(rest).all(|(p, w)| p == w)
        };
        let best = ALIASES
            .iter()
            .filter(|(name, _)| rest.first().is_some_and(|w| name.starts_with(w.as_str())))
            .filter(|(name, _)| fits(name))
            .max_by_key(|(name, _)| name.len());
        match best {
            Some((name, ids)) => {
                out.push((*name, *ids));
                i += name.split(' ').count();
            }
            None => i += 1,
        }
    }
    out
}

/// One recognition of all names: a name that fits fewer cargoes decides over one that fits
/// those and others; names of different cargoes are all kept.
fn merge<'a>(found: Vec<(&'static str, Vec<&'a Cargo>)>) -> Recognition<'a> {
    let mut kept: Vec<(&str, Vec<&'a Cargo>)> = Vec::new();
    for (name, cargoes) in found {
        let inside = |a: &[&Cargo], b: &[&Cargo]| a.iter().all(|c| b.iter().any(|d| d.id == c.id));
        if kept.iter().any(|(_, k)| inside(k, &cargoes)) {
            continue;
        }
        kept.retain(|(_, k)| !inside(&cargoes, k));
        kept.push((name, cargoes));
    }
    let mut out = Recognition::default();
    for (name, cargoes) in kept {
        if !out.words.is_empty() {
            out.words.push_str(" and ");
        }
        out.words.push_str(&name.to_lowercase());
        for c in cargoes {
            if !out.candidates.iter().any(|k| k.id == c.id) {
                out.candidates.push(c);
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ids(text: &[&str]) -> Vec<String> {
        let table = CargoTable::embedded();
        let mut ids: Vec<_> =
            table.recognition(text).candidates.iter().map(|c| c.id.clone()).collect();
        ids.sort();
        ids
    }

    /// Texts as loading lists write them; common practice, no source.
    #[test]
    fn the_trades_words() {
        let rows: [(&str, &[&str]); 30] = [
            ("BANANAS", &["banana"]),
            ("Green Banana 1080 boxes", &["banana"]),
            ("PINEAPPLES", &["pineapple"]),
            ("SWEET POTATOES", &["sweet_potato"]),
            ("POTATOES", &["potato_ware"]),
            ("FRESH STRAWBERRIES", &["strawberry"]),
            ("FROZEN STRAWBERRIES", &["frozen_qf"]),
            ("FROZEN FISH", &["frozen_fish_fatty", "frozen_fish_lean"]),
            ("FROZEN COD FILLETS", &["frozen_fish_lean"]),
            ("DEEP FROZEN TUNA", &["frozen_fish_fatty"]),
            ("CHILLED BEEF", &["beef_chilled"]),
            ("FROZEN BEEF", &["frozen_meat"]),
            ("BEEF", &["beef_chilled", "frozen_meat"]),
            ("CITRUS", &["grapefruit", "lemon", "lime", "mandarin", "orange"]),
            ("CITRUS ORANGES", &["orange"]),
            ("PHARMA", &["pharma_2_8", "pharma_crt"]),
            ("VACCINES", &["pharma_2_8"]),
            ("FROZEN BANANA PUREE", &["frozen_qf"]),
            ("ORANGE JUICE", &[]),
            ("POTATO CHIPS", &[]),
            ("KIWIFRUIT", &["kiwifruit"]),
            ("KIWI FRUIT", &["kiwifruit"]),
            ("TABLE GRAPES", &["grape"]),
            ("GRAPEFRUIT", &["grapefruit"]),
            ("PEACHES", &["peach"]),
            ("CHERRIES", &["cherry_sweet"]),
            ("TULIP BULBS", &["bulb_tulip", "bulb_tulip_cooled"]),
            ("ICE CREAM", &["ice_cream"]),
            ("MACHINE PARTS", &[]),
            ("", &[]),
        ];
        for (text, want) in rows {
            assert_eq!(ids(&[text]), want, "{text}");
        }
        assert_eq!(ids(&["FROZEN", "SHRIMPS"]), ["frozen_shrimp"]);
        assert_eq!(ids(&["LETTUCE", "NEVER FROZEN"]), ["lettuce"]);
        assert_eq!(ids(&["APPLES AND PEARS"]), ["apple", "pear"]);
    }

    #[test]
    fn every_alias_is_reachable_and_known() {
        let table = CargoTable::embedded();
        for (name, ids) in ALIASES {
            assert_eq!(split(name).join(" "), *name, "alias is not in singular form");
            for id in *ids {
                assert!(table.by_id(id).is_some(), "{id}");
            }
        }
        for cargo in table.all() {
            assert!(
                ALIASES.iter().any(|(_, ids)| ids.contains(&cargo.id.as_str())),
                "{} has no word",
                cargo.id
            );
        }
    }

    #[test]
    fn frozen_is_never_fresh() {
        let table = CargoTable::embedded();
        for (name, _) in ALIASES {
            let text = format!("FROZEN {name}");
            for c in table.recognition(&[text]).candidates {
                assert_eq!(c.category, Category::Frozen, "{name}");
            }
        }
    }

    #[test]
    fn the_ordered_temperature_tells_apart() {
        let table = CargoTable::embedded();
        let narrow = |text: &str, set| {
            let r = table.recognition(&[text]).narrowed(Some(set));
            let mut ids: Vec<_> = r.candidates.iter().map(|c| c.id.clone()).collect();
            ids.sort();
            ids
        };
        assert_eq!(narrow("BEEF", -1.4), ["beef_chilled"]);
        assert_eq!(narrow("BEEF", -18.0), ["frozen_meat"]);
        assert_eq!(narrow("CITRUS", 4.0), ["mandarin", "orange"]);
        assert_eq!(narrow("PHARMACEUTICALS", 5.0), ["pharma_2_8"]);
        assert_eq!(narrow("PHARMACEUTICALS", 20.0), ["pharma_crt"]);
        assert_eq!(table.recognise(&["FROZEN FISH"]).unwrap().id, "frozen_fish_fatty");
        assert!(table.recognise(&["CITRUS"]).is_none());
    }
}
