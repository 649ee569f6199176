//! The fields of one unit, told apart by tag and qualifier (reference/interchange.md §1.4).

use record::{Cell, ListedUnit, UnitId, size_type};
use units::decimal::{self, DecimalMark};
use units::temperature::celsius_from_fahrenheit;

use crate::edifact::Segment;
use crate::groups::Group;
use crate::text::shown;

/// Pound in kilograms, exact (international yard and pound agreement, 1959).
const KG_PER_LB: f64 = 0.453_592_37;

/// Beyond this a figure is no temperature anybody ordered, in either unit.
pub(crate) const FARTHEST_SET_POINT_C: f64 = 100.0;

/// What equipment an EQD names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Equipment {
    /// A container with a number.
    Container,
    /// A container slot without a number.
    ReservedSlot,
    /// Breakbulk, a trailer, a generator set: no container.
    Other,
}

/// Tells what an EQD names.
pub(crate) fn equipment(eqd: &Segment<'_>) -> Equipment {
    let is_container = matches!(eqd.at(1, 0), "CN" | "AM" | "RE" | "");
    let numbered = UnitId::from_text(eqd.at(2, 0)).is_some();
    match (is_container, numbered) {
        (false, _) => Equipment::Other,
        (true, true) => Equipment::Container,
        (true, false) => Equipment::ReservedSlot,
    }
}

/// Ports that hold for every unit of a message that does not name its own.
#[derive(Debug, Clone, Default)]
pub(crate) struct MessagePorts {
    pub(crate) load: Option<String>,
    pub(crate) discharge: Option<String>,
}

/// Reads the unit of a group. `ports` fill what the unit itself does not say.
pub(crate) fn unit(group: &Group<'_, '_>, kind: Equipment, ports: &MessagePorts) -> ListedUnit {
    let mut r = Reader { group, out: ListedUnit::default() };
    r.identity(kind);
    r.cell();
    r.out.load_port = r.port(&["9", "6"]).or_else(|| ports.load.clone());
    r.out.discharge_port = r.port(&["11", "12"]).or_else(|| ports.discharge.clone());
    r.weight();
    r.remarks();
    if kind == Equipment::ReservedSlot {
        r.warn("slot reserved without a unit number; ask which box will stand here");
    } else {
        r.temperature();
        r.range();
        r.air();
        r.conclude();
    }
    if group.cut {
        r.warn("the list is cut inside this unit's segments; some of its fields may be missing");
    }
    r.out.text = text_of(group);
    r.out
}

/// The unit's segments as sent, one a line.
fn text_of(group: &Group<'_, '_>) -> String {
    let all = group.shared.iter().chain(&group.own);
    let mut text = String::new();
    for s in all {
        if !text.is_empty() {
            text.push('\n');
        }
        text.push_str(s.text);
        text.push('\'');
    }
    text
}

struct Reader<'g, 't, 'a> {
    group: &'g Group<'t, 'a>,
    out: ListedUnit,
}

impl<'t, 'a> Reader<'_, 't, 'a> {
    fn warn(&mut self, text: impl Into<String>) {
        self.out.warnings.push(text.into());
    }

    /// Own segments before shared ones, so that a unit's own word stands.
    fn all(&self) -> std::vec::IntoIter<&'t Segment<'a>> {
        self.group.own.iter().chain(&self.group.shared).copied().collect::<Vec<_>>().into_iter()
    }

    fn identity(&mut self, kind: Equipment) {
        let eqd = self.group.equipment;
        let sent = eqd.at(2, 0);
        if kind == Equipment::Container {
            let (unit, ok, warning) = checked_number(sent);
            self.out.unit = unit;
            self.out.check_digit_ok = ok;
            self.out.warnings.extend(warning);
        }
        let code = if eqd.at(3, 0).is_empty() { eqd.at(3, 3) } else { eqd.at(3, 0) };
        if !code.is_empty() {
            self.out.size_type = Some(code.to_owned());
            self.out.thermal = kind == Equipment::Container && size_type::is_thermal(code);
        }
        self.out.full = match eqd.at(6, 0) {
            "5" => Some(true),
            "4" => Some(false),
            _ => None,
        };
    }

    fn cell(&mut self) {
        let Some(loc) = self.all().find(|s| s.is("LOC", "147")) else {
            return;
        };
        let stow = loc.at(2, 0).to_owned();
        self.out.cell = Cell::parse(&stow);
        if self.out.cell.is_none() {
            self.warn(format!(
                "cell \"{}\" cannot be read; ask where the box stands",
                shown(&stow)
            ));
        }
        if !stow.is_empty() {
            self.out.stow = Some(stow);
        }
    }

    /// The first port under the first of these qualifiers that has one.
    fn port(&mut self, qualifiers: &[&str]) -> Option<String> {
        let all = self.all();
        let found: Vec<&str> = qualifiers
            .iter()
            .flat_map(|q| all.clone().filter(move |s| s.is("LOC", q)).map(|s| s.at(2, 0)))
            .filter(|p| !p.is_empty())
            .collect();
        let (first, rest) = found.split_first()?;
        if rest.iter().any(|p| p != first) {
            self.warn(format!(
                "two ports sent ({}, {}); the first was taken",
                shown(first),
                shown(rest.first().unwrap_or(first))
            ));
        }
        if first.contains('*') {
            self.warn(format!("port \"{}\" is a placeholder; ask for the port", shown(first)));
            return None;
        }
        Some((*first).to_owned())
    }

    fn weight(&mut self) {
        let weights: Vec<(&'t Segment<'a>, u8)> = self
            .all()
            .filter(|s| s.tag() == "MEA")
            .filter_map(|s| weight_rank(measured(s)).map(|rank| (s, rank)))
            .collect();
        let mut by_rank = weights;
        by_rank.sort_by_key(|(_, rank)| *rank);
        for (s, _) in by_rank {
            let factor = match s.at(3, 0) {
                "KGM" => Some(1.0),
                "LBR" => Some(KG_PER_LB),
                "TNE" => Some(1000.0),
                _ => None,
            };
            match (number(s.at(3, 1)), factor) {
                (Some(v), Some(f)) if v > 0.0 => {
                    self.out.weight_kg = Some(v * f);
                    return;
                }
                _ => self.warn(format!("weight \"{}\" cannot be read", shown(s.text))),
            }
        }
    }

    fn temperature(&mut self) {
        let sent: Vec<&'t Segment<'a>> = self.all().filter(|s| s.is("TMP", "2")).collect();
        let Some(first) = sent.first() else { return };
        self.out.thermal = true;
        self.out.set_point_as_sent = Some(first.text.to_owned());
        if sent.iter().any(|s| s.text != first.text) {
            self.warn("two transport temperatures sent; the first was taken, ask which is right");
        }
        let (value, unit) = (first.at(2, 0), first.at(2, 1));
        match celsius(value, unit) {
            Some(t) if t.abs() <= FARTHEST_SET_POINT_C => {
                self.out.set_point_c = Some(t);
                if unit.is_empty() {
                    self.warn(format!(
                        "set point \"{}\" has no unit; taken as °C, ask for confirmation",
                        shown(first.text)
                    ));
                }
            }
            _ => self.warn(format!(
                "set point \"{}\" cannot be read; ask for the temperature",
                shown(first.text)
            )),
        }
    }

    fn range(&mut self) {
        let found = ["5", "12", "4"].iter().find_map(|q| self.all().find(|s| s.is("RNG", q)));
        let Some(s) = found else { return };
        let (unit, low, high) = (s.at(2, 0), s.at(2, 1), s.at(2, 2));
        match (celsius(low, unit), celsius(high, unit)) {
            // Real senders write 0:0 under qualifier 4 for "no range".
            (Some(_), Some(_))
                if s.is("RNG", "4") && number(low) == number(high) && number(low) == Some(0.0) => {}
            (Some(lo), Some(hi)) if lo <= hi => self.out.range_c = Some([lo, hi]),
            _ => self.warn(format!("temperature range \"{}\" cannot be read", shown(s.text))),
        }
    }

    fn air(&mut self) {
        for s in self.all().filter(|s| s.tag() == "MEA") {
            let value = number(s.at(3, 1));
            match (measured(s), s.at(3, 0), value) {
                ("AAO" | "RA", "P1" | "PER", Some(v)) if (0.0..=100.0).contains(&v) => {
                    self.out.humidity_pct.get_or_insert(v);
                }
                ("AAS", "MQH", Some(v)) if v >= 0.0 => {
                    self.out.vent_m3_h.get_or_insert(v);
                }
                ("AAO" | "RA", ..) => {
                    self.warn(format!("humidity \"{}\" cannot be read as % RH", shown(s.text)));
                }
                ("AAS", ..) => self.warn(format!(
                    "fresh air \"{}\" is not in m³/h; ask for the flow",
                    shown(s.text)
                )),
                _ => {}
            }
        }
    }

    fn remarks(&mut self) {
        let text_of = |s: &Segment<'_>| {
            let parts = match s.tag() {
                "FTX" => s.components(4),
                "HAN" => s.components(1).get(3..).unwrap_or(&[]),
                _ => &[],
            };
            parts.join(" ").trim().to_owned()
        };
        // The goods first, then the instructions.
        let goods = self.all().filter(|s| s.is("FTX", "AAA"));
        let others = self.all().filter(|s| matches!(s.tag(), "FTX" | "HAN") && !s.is("FTX", "AAA"));
        self.out.remarks = goods.chain(others).map(text_of).filter(|t| !t.is_empty()).collect();
    }

    fn conclude(&mut self) {
        let warnings = doubts(&self.out);
        self.out.warnings.extend(warnings);
    }
}

/// What a person must resolve about a listed container: the same for EDIFACT and CSV lists.
pub(crate) fn doubts(u: &ListedUnit) -> Vec<String> {
    let mut out = Vec::new();
    let dry_code = u.size_type.as_deref().is_some_and(|code| !size_type::is_thermal(code));
    if dry_code && u.set_point_as_sent.is_some() {
        out.push(format!(
            "size-type {} is no thermal code, but a set point was sent; look at the box",
            u.size_type.as_deref().unwrap_or_default()
        ));
    }
    if u.thermal && u.set_point_c.is_none() {
        match u.full {
            Some(true) => out.push(
                "thermal unit, full, no set point: ask for the temperature, never assume \
                 non-operating"
                    .into(),
            ),
            None => out.push(
                "thermal unit without set point, and not said whether full or empty; ask".into(),
            ),
            Some(false) => {}
        }
    }
    if let Some(t) = u.set_point_c
        && let Err(e) = units::ranges::SET_POINT_C.check(t)
    {
        out.push(format!("set point: {e}; ask for confirmation"));
    }
    out
}

/// A number as sent, with the verdict on its check digit and the warning it deserves.
pub(crate) fn checked_number(sent: &str) -> (Option<UnitId>, Option<bool>, Option<String>) {
    let Some(unit) = UnitId::from_text(sent) else {
        return (None, None, None);
    };
    let ok = unit.check_digit_ok();
    let warning = match (ok, unit.has_iso_form(), unit.expected_check_digit()) {
        (true, ..) => None,
        (false, true, Some(want)) => Some(format!(
            "check digit of {unit} should be {want}; compare with the number on the box"
        )),
        _ => Some(format!(
            "\"{}\" is not a container number (four letters, seven digits); compare with the box",
            shown(unit.as_str())
        )),
    };
    (Some(unit), Some(ok), warning)
}

/// What a MEA measures: its 6313 code, or 6311 where that is the code.
fn measured<'s>(s: &'s Segment<'_>) -> &'s str {
    if s.at(2, 0).is_empty() { s.at(1, 0) } else { s.at(2, 0) }
}

/// Verified gross mass before any other gross weight; tare and net are no gross weights.
fn weight_rank(code: &str) -> Option<u8> {
    match code {
        "VGM" => Some(0),
        "AET" | "WT" | "G" | "EGW" | "AAD" => Some(1),
        _ => None,
    }
}

/// A number of an EDIFACT segment: `.` or `,` is the decimal mark, nothing else is meant.
fn number(text: &str) -> Option<f64> {
    // Adding zero turns "-0.0" into plain zero.
    decimal::parse(&text.replace(',', "."), DecimalMark::Point).ok().map(|v| v + 0.0)
}

/// A temperature in °C from value and unit code; only CEL, C, FAH or no unit are read.
fn celsius(value: &str, unit: &str) -> Option<f64> {
    let v = number(value)?;
    match unit {
        "CEL" | "C" | "" => Some(v),
        "FAH" => Some(celsius_from_fahrenheit(v)),
        _ => None,
    }
}
