//! A cargo's row as lines for a page, each with its source and trust mark.

use crate::cargo_table::{Cargo, Fact};

/// True when a source cell says that its figure was recalled from memory.
fn recalled(source: &str) -> bool {
    source.contains("MEM") || source.contains("HBM")
}

fn span(pair: [Option<f64>; 2], unit: &str) -> Option<String> {
    match pair {
        [Some(a), Some(b)] if a == b => Some(format!("{a} {unit}")),
        [Some(a), Some(b)] => Some(format!("{a} to {b} {unit}")),
        [None, Some(b)] => Some(format!("at most {b} {unit}")),
        [Some(a), None] => Some(format!("at least {a} {unit}")),
        [None, None] => None,
    }
}

fn class(word: &str) -> Option<&'static str> {
    Some(match word {
        "VL" => "very low",
        "L" => "low",
        "M" => "moderate",
        "H" => "high",
        "VH" => "very high",
        _ => return None,
    })
}

impl Cargo {
    /// What the table holds of this cargo. What it does not know is left out.
    #[must_use]
    pub fn facts(&self) -> Vec<Fact> {
        let s = &self.sources;
        let mut out = Vec::new();
        let mut add = |name, text: Option<String>, source: &str| {
            if let Some(text) = text {
                out.push(Fact {
                    name,
                    text,
                    unverified: recalled(source),
                    source: source.to_owned(),
                });
            }
        };
        let band = span([self.t_min_c, Some(self.t_max_c)], "°C");
        add("carriage temperature", band, &s.temp);
        add("relative humidity", span(self.rh_pct, "%"), &s.temp);
        add("freezes at", self.freezing_text(), &s.freeze);
        let chill = span([self.chill_lo_c, self.chill_hi_c], "°C, by variety and ripeness");
        add("lowest safe temperature", chill, &s.chill);
        add("fresh air", self.vent_text(), &s.vent);
        let made = class(&self.ethylene_made).map(str::to_owned);
        add("ethylene made", made, &s.ethylene);
        let hurt = class(&self.ethylene_sensitivity).map(str::to_owned);
        add("sensitivity to ethylene", hurt, &s.ethylene);
        // The table has no source column for it and verifies it for a few cargoes only.
        let dry = Some(self.dehumidify.clone()).filter(|d| !d.is_empty());
        add("dehumidification", dry, "MEM");
        add("life at best temperature", span(self.life_d, "days"), &s.life);
        out.extend(self.respiration_facts());
        if !self.note.is_empty() {
            out.push(Fact {
                name: "note",
                text: self.note.clone(),
                source: String::new(),
                unverified: recalled(&self.note),
            });
        }
        out
    }

    fn freezing_text(&self) -> Option<String> {
        let first = self.freeze_c?;
        Some(match self.freeze_alt_c {
            Some(alt) => format!("{first} °C; another source {alt} °C"),
            None => format!("{first} °C"),
        })
    }

    fn vent_text(&self) -> Option<String> {
        if self.vent_m3_h == [Some(0.0), Some(0.0)] {
            return Some("vent closed".to_owned());
        }
        span(self.vent_m3_h, "m³/h for a full 40 ft box")
    }

    fn respiration_facts(&self) -> impl Iterator<Item = Fact> {
        self.respiration.iter().map(|p| {
            let pair = [p.low_mg_per_kg_h, Some(p.high_mg_per_kg_h)];
            let rate = span(pair, "mg CO2/kg·h").unwrap_or_default();
            Fact {
                name: "respiration",
                text: format!("{rate} at {} °C", p.temp_c),
                source: self.sources.respiration.clone(),
                unverified: p.unverified,
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use crate::CargoTable;

    /// Trust marks as the table's source cells say (reference/cargo-and-box.md §1.4).
    #[test]
    fn trust_marks_follow_the_sources() {
        let table = CargoTable::embedded();
        let fact = |id: &str, name: &str| {
            let facts = table.by_id(id).unwrap().facts();
            facts.into_iter().find(|f| f.name == name).unwrap()
        };
        assert!(!fact("banana", "carriage temperature").unverified);
        assert!(fact("pomegranate", "carriage temperature").unverified);
        assert_eq!(fact("banana", "carriage temperature").text, "13 to 14 °C");
        assert_eq!(fact("frozen_meat", "fresh air").text, "vent closed");
        assert_eq!(fact("frozen_meat", "carriage temperature").text, "at most -18 °C");
        assert!(fact("apple", "freezes at").text.contains("-1.1 °C"));
        let apricot = table.by_id("apricot").unwrap().facts();
        let marks: Vec<_> =
            apricot.iter().filter(|f| f.name == "respiration").map(|f| f.unverified).collect();
        assert_eq!(marks, [false, true, true]);
    }
}
