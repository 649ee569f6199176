//! What displays and people say of defrosts and ice, in the words common in the trade (English;
//! common practice, no source). Words only: codes of any maker are for its manual.

/// What was said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Said {
    /// A defrost ran to its time limit, did not end, failed, or they come too often.
    Failed,
    /// A defrost heater, or the sensor that ends a defrost, is at fault.
    Part,
    /// There is ice on the coil.
    Ice,
}

const NEGATORS: [&str; 8] = ["no", "not", "without", "never", "doesn", "didn", "isn", "none"];
const FAULTY: [&str; 11] = [
    "fail",
    "fails",
    "failed",
    "failure",
    "failing",
    "fault",
    "faulty",
    "error",
    "abnormal",
    "defective",
    "stuck",
];
const LONG: [&str; 9] = [
    "long",
    "longer",
    "timeout",
    "overtime",
    "overrun",
    "exceeded",
    "exceeds",
    "incomplete",
    "unfinished",
];
const OFTEN: [&str; 6] = ["often", "frequent", "frequently", "repeated", "repeatedly", "repeating"];
const BROKEN: [&str; 9] =
    ["open", "dead", "broken", "burnt", "burned", "shorted", "low", "weak", "range"];
const PUT_RIGHT: [&str; 15] = [
    "cleared", "reset", "ok", "okay", "normal", "normally", "repaired", "fixed", "replaced",
    "renewed", "good", "fine", "gone", "melted", "removed",
];
const COIL: [&str; 5] = ["coil", "coils", "evaporator", "evap", "fins"];
const NO_ICE_YET: [&str; 10] =
    ["no", "not", "without", "free", "clear", "light", "little", "thin", "slight", "never"];

/// Lower-case words of a text.
struct Words(Vec<String>);

impl Words {
    fn of(text: &str) -> Self {
        let low = text.to_lowercase();
        Self(
            low.split(|c: char| !c.is_alphanumeric())
                .filter(|w| !w.is_empty())
                .map(Into::into)
                .collect(),
        )
    }

    fn at(&self, i: usize) -> &str {
        self.0.get(i).map_or("", String::as_str)
    }

    fn has(&self, list: &[&str]) -> bool {
        self.0.iter().any(|w| list.contains(&w.as_str()))
    }

    /// One of `list`, and none of `but` among the two words before it.
    fn has_but(&self, list: &[&str], but: &[&str]) -> bool {
        (0..self.0.len()).any(|i| list.contains(&self.at(i)) && !self.just_before(i, but))
    }

    fn just_before(&self, i: usize, list: &[&str]) -> bool {
        (1..=2).any(|back| i >= back && list.contains(&self.at(i - back)))
    }

    fn begins(&self, with: &[&str]) -> bool {
        self.0.iter().any(|w| with.iter().any(|p| w.starts_with(p)))
    }

    /// `a` followed by `b`.
    fn pair(&self, a: &[&str], b: &[&str]) -> bool {
        (1..self.0.len()).any(|i| a.contains(&self.at(i - 1)) && b.contains(&self.at(i)))
    }

    /// One of `a` within `apart` words of one of `b`.
    fn near(&self, a: impl Fn(usize) -> bool, b: &[&str], apart: usize) -> bool {
        (0..self.0.len())
            .filter(|i| a(*i))
            .any(|i| (i.saturating_sub(apart)..=i + apart).any(|j| b.contains(&self.at(j))))
    }
}

/// What a text says of defrost and ice; `None` when it says nothing of them, or that all is well.
pub fn said(text: &str) -> Option<Said> {
    let w = Words::of(text);
    if w.has_but(&PUT_RIGHT, &NEGATORS) {
        return None;
    }
    let defrost = w.begins(&["defrost", "deic"]) || w.has(&["dfr", "defr", "dfst"]);
    if is_part(&w, defrost) {
        return Some(Said::Part);
    }
    if defrost && (w.has_but(&FAULTY, &NEGATORS) || is_long(&w)) {
        return Some(Said::Failed);
    }
    if w.has(&["def"]) && is_long(&w) {
        return Some(Said::Failed);
    }
    is_ice(&w).then_some(Said::Ice)
}

/// Heater or termination sensor at fault.
fn is_part(w: &Words, defrost: bool) -> bool {
    let faulty = w.has_but(&FAULTY, &NEGATORS) || w.has_but(&BROKEN, &NEGATORS);
    let heater = w.has(&["heater", "heaters", "htr"]) && (defrost || w.has(&COIL));
    let sensor = w.has(&["sensor", "probe", "thermostat", "switch", "thermistor"])
        && (w.begins(&["terminat"]) || defrost);
    faulty && (heater || sensor)
}

/// A defrost that did not end in time, or comes too often.
fn is_long(w: &Words) -> bool {
    let ago = w.pair(&["long"], &["ago", "before", "since"]);
    let ends = |word: &str| {
        ["end", "complet", "finish", "terminat", "reach", "stop", "clear"]
            .iter()
            .any(|p| word.starts_with(p))
    };
    let ended = w.0.iter().any(|word| ends(word));
    let unended = (0..w.0.len()).any(|i| ends(w.at(i)) && w.just_before(i, &NEGATORS));
    let limit = w.pair(&["time", "timed"], &["out", "limit", "exceeded", "over", "up"])
        || w.near(|i| ["max", "maximum", "over"].contains(&w.at(i)), &["time", "duration"], 2)
        || w.pair(&["time"], &["terminated", "termination", "ended"])
        || (ended && w.pair(&["by", "on"], &["time", "timer", "clock"]));
    (w.has_but(&LONG, &NEGATORS) && !ago) || limit || unended || w.has_but(&OFTEN, &NEGATORS)
}

fn is_ice(w: &Words) -> bool {
    let sure = |i: usize| !w.just_before(i, &NO_ICE_YET);
    let ice = |i: usize| {
        let other = ["cream", "point", "water", "bath", "slurry", "box"].contains(&w.at(i + 1));
        ["ice", "iced", "icing", "frost", "frosted", "snow"].contains(&w.at(i)) && !other && sure(i)
    };
    let frozen = |i: usize| w.at(i) == "frozen" && sure(i);
    let up = |i: usize| w.at(i) == "iced" && w.at(i + 1) == "up" && sure(i);
    w.near(ice, &COIL, 4)
        || w.near(frozen, &COIL, 2)
        || (0..w.0.len()).any(up)
        || w.near(ice, &["unit"], 3)
}

/// Little air comes from the unit, as people write it.
pub fn little_air(text: &str) -> bool {
    let w = Words::of(text);
    let flow = |i: usize| w.at(i) == "airflow" || (w.at(i) == "air" && w.at(i + 1) == "flow");
    let air = |i: usize| w.at(i) == "air";
    w.near(flow, &["little", "low", "weak", "poor", "less", "reduced", "no", "blocked"], 3)
        || w.near(air, &["little", "weak", "poor", "less"], 2)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Texts as people and displays write them (common practice, no source).
    #[test]
    fn what_displays_and_people_write() {
        for text in [
            "defrost too long",
            "DEFROST TIMEOUT",
            "Defrost timed out",
            "defrost time limit",
            "def. time-out",
            "Defrost terminated by time",
            "defrost ended on timer",
            "max defrost time",
            "defrost not completed",
            "DEFROST DID NOT END",
            "defrost: termination temperature not reached",
            "no defrost termination",
            "defrost failure",
            "abnormal defrost",
            "defrosts too often",
            "frequent defrosting",
            "defrost fault not cleared",
            "defr stuck",
        ] {
            assert_eq!(said(text), Some(Said::Failed), "{text}");
        }
        for text in [
            "defrost heater current low",
            "defrost heater open circuit",
            "evaporator heater fault",
            "defrost termination sensor failed",
            "defrost sensor open",
        ] {
            assert_eq!(said(text), Some(Said::Part), "{text}");
        }
        for text in [
            "ice on coil",
            "coil full of ice",
            "evaporator iced",
            "unit iced up",
            "evap. coil frosted",
            "evaporator is frozen",
            "coil blocked with snow",
        ] {
            assert_eq!(said(text), Some(Said::Ice), "{text}");
        }
    }

    #[test]
    fn what_says_nothing_of_ice() {
        for text in [
            "",
            "-",
            "defrosting",
            "defrost",
            "manual defrost started",
            "defrost ended normally",
            "defrost ok",
            "defrost fault cleared",
            "no defrost fault",
            "defrost not too long",
            "defrost long ago",
            "defrost interval 6 h",
            "in defrost when read",
            "no ice on coil",
            "coil free of ice",
            "light frost on coil",
            "ice gone from coil",
            "ice cream, coil clean",
            "frozen cargo; drain of the coil runs",
            "probe checked in ice water",
            "ice point check",
            "compressor failed to start",
            "display dim",
            "condenser fan fault",
            "supply air off set point for too long",
            "notice posted on unit",
            "A17",
        ] {
            assert_eq!(said(text), None, "{text}");
        }
    }

    #[test]
    fn little_air_is_not_low_temperature() {
        for text in ["little air from the unit", "weak air flow", "airflow low", "Low air flow"] {
            assert!(little_air(text), "{text}");
        }
        for text in ["supply air low", "return air high", "low air temperature", "air ok"] {
            assert!(!little_air(text), "{text}");
        }
    }
}
