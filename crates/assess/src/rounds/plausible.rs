//! Figures keyed in against what the box showed before: is a sign, a point, a digit wrong, were
//! they °F, do supply and return stand in each other's place? Nothing is corrected here; a person
//! answers. What is offered instead is made of the digits written, never of a value read before.

use record::{Channel, Question, QuestionKind, RoundLine, Usual};
use units::Utc;
use units::ranges::{GAS_PCT, HUMIDITY_PCT, SENSOR_C};
use units::temperature::celsius_from_fahrenheit;

use crate::words::celsius;

/// Beyond the range of the last two days by this much, air is questioned. Our estimate: on the
/// demo ship it asks about three true figures in a hundred (docs/papers.md).
const BEYOND_K: f64 = 1.5;
/// As much more for each day since it was read last, for two days at most.
const PER_DAY_K: f64 = 0.5;
/// Where nothing was read before, air may lie this far from the set point.
const FROM_SET_K: f64 = 6.0;
/// An explanation must bring a figure this near to that range.
const EXPLAINED_K: f64 = 1.0;
/// Supply and return are told apart when they lie this far apart, both before and as written.
const APART_K: f64 = 0.4;
/// Exchanged, they must fit better by this much, both together.
const FIT_K: f64 = 0.8;
/// The same for humidity and gases, in percent.
const BEYOND_PCT: f64 = 15.0;

/// A figure as keyed.
#[derive(Debug, Clone, PartialEq)]
pub struct Keyed {
    /// Of what.
    pub channel: Channel,
    /// The figure.
    pub value: f64,
    /// As it was written.
    pub text: String,
}

/// What is to be asked about a box's figures. `at`: when they were read. In a defrost air is
/// anywhere, and only what no sensor shows is asked about.
#[must_use]
pub fn questions(keyed: &[Keyed], line: &RoundLine, at: Utc, defrost: bool) -> Vec<Question> {
    if let Some(q) = exchanged(keyed, line)
        && !defrost
    {
        let air = |k: &&Keyed| !matches!(k.channel, Channel::Supply | Channel::Return);
        let others = keyed.iter().filter(air).filter_map(|k| one(k, line, at, defrost));
        return std::iter::once(q).chain(others).collect();
    }
    keyed.iter().filter_map(|k| one(k, line, at, defrost)).collect()
}

/// Where a figure is expected: a range, and the middle that candidates are compared with.
struct Expected {
    low: f64,
    high: f64,
    near: f64,
    /// In words: `lately −18.6 to −17.9 °C`.
    words: String,
}

fn expected(channel: Channel, line: &RoundLine, at: Utc) -> Option<Expected> {
    let set = line.line.set_point_c.filter(|_| channel.is_temperature());
    match line.usual_of(channel) {
        Some(u) => Some(lately(u, set, at)),
        None => set.map(|set| Expected {
            low: set - FROM_SET_K,
            high: set + FROM_SET_K,
            near: set,
            words: format!("the set point is {}", celsius(set)),
        }),
    }
}

fn lately(u: Usual, set: Option<f64>, at: Utc) -> Expected {
    let [low, high] = u.range;
    let days = (at.hours_since(u.at) / 24.0).clamp(0.0, 2.0);
    let beyond = if u.channel.is_temperature() { BEYOND_K + PER_DAY_K * days } else { BEYOND_PCT };
    let unit = if u.channel.is_temperature() { "°C" } else { "%" };
    let words = if (high - low).abs() < 0.05 {
        format!("lately {low:.1} {unit}")
    } else {
        format!("lately {low:.1} to {high:.1} {unit}")
    };
    // A box that comes back to its set point is on its way to where it belongs.
    let (bottom, top) = (low.min(set.unwrap_or(low)), high.max(set.unwrap_or(high)));
    Expected { low: bottom - beyond, high: top + beyond, near: u.last, words }
}

/// One figure by itself.
fn one(k: &Keyed, line: &RoundLine, at: Utc, defrost: bool) -> Option<Question> {
    let impossible = impossible(k);
    let expected = expected(k.channel, line, at);
    let off = expected.as_ref().is_some_and(|e| k.value < e.low || k.value > e.high);
    let air = matches!(k.channel, Channel::Supply | Channel::Return);
    if !impossible && (!off || (defrost && air)) {
        return None;
    }
    let ask = |kind, words: String, instead| {
        Some(Question { channel: k.channel, kind, words: in_print(&words), instead })
    };
    let name = k.channel.stem().replace('_', " ");
    if let Some(e) = &expected
        && let Some((kind, value)) = explained(k, e)
    {
        let words = explanation(kind, k, value, &name, &e.words);
        return ask(kind, words, vec![(k.channel, value)]);
    }
    if impossible {
        let words = format!("{name} {}: no sensor shows that. Look at the sheet again.", k.text);
        return ask(QuestionKind::Impossible, words, Vec::new());
    }
    let e = expected?;
    ask(QuestionKind::Far, far(k, line, &name, &e), Vec::new())
}

/// A sentence with a capital and real minus signs.
fn in_print(words: &str) -> String {
    let mut text = words.replace('-', "−");
    if let Some(first) = text.get_mut(..1) {
        first.make_ascii_uppercase();
    }
    text
}

fn impossible(k: &Keyed) -> bool {
    let range = match k.channel {
        Channel::Rh => HUMIDITY_PCT,
        Channel::Co2 | Channel::O2 => GAS_PCT,
        _ => SENSOR_C,
    };
    range.check(k.value).is_err()
}

/// The slip that brings the figure nearest to where it is expected.
fn explained(k: &Keyed, e: &Expected) -> Option<(QuestionKind, f64)> {
    use QuestionKind::{Digits, Fahrenheit, Point, Sign, SignAndPoint};
    let v = k.value;
    let mut all: Vec<(QuestionKind, f64)> = Vec::new();
    let mut add = |kind, value: f64| all.push((kind, units::math::round_to(value, 2)));
    let whole = !k.text.contains(['.', ',']);
    if whole {
        for by in [10.0, 100.0] {
            add(Point, v / by);
            add(SignAndPoint, -v / by);
        }
    }
    if v.abs() >= 0.1 {
        add(Point, v * 10.0);
        add(SignAndPoint, -v * 10.0);
    }
    if k.channel.is_temperature() {
        add(Sign, -v);
        add(Fahrenheit, units::math::round_to(celsius_from_fahrenheit(v), 1));
        // A figure in °F whose own sign was lost is two slips; it is not guessed at.
    }
    for value in exchanged_digits(&k.text) {
        add(Digits, value);
    }
    let pct = !k.channel.is_temperature();
    let margin = if pct { BEYOND_PCT / 2.0 } else { BEYOND_K - EXPLAINED_K };
    let fits = |c: &(QuestionKind, f64)| c.1 >= e.low + margin && c.1 <= e.high - margin;
    let off = |c: &(QuestionKind, f64)| (c.1 - e.near).abs();
    // The first of equals: the simpler slip stands first.
    all.into_iter().filter(fits).reduce(|a, b| if off(&b) + 0.05 < off(&a) { b } else { a })
}

/// The figure with two digits beside each other exchanged, each pair once.
/// A figure with two neighbouring digits exchanged, every way.
pub(crate) fn exchanged_digits(text: &str) -> Vec<f64> {
    let chars: Vec<char> = text.chars().map(|c| if c == ',' { '.' } else { c }).collect();
    let places: Vec<usize> =
        chars.iter().enumerate().filter(|(_, c)| c.is_ascii_digit()).map(|(i, _)| i).collect();
    let mut out = Vec::new();
    for pair in places.windows(2) {
        if let [a, b] = pair {
            let mut swapped = chars.clone();
            swapped.swap(*a, *b);
            if swapped != chars {
                out.extend(swapped.into_iter().collect::<String>().parse::<f64>().ok());
            }
        }
    }
    out
}

fn explanation(kind: QuestionKind, k: &Keyed, value: f64, name: &str, lately: &str) -> String {
    let slip = match kind {
        QuestionKind::Sign if value < 0.0 => "Is the minus missing?".to_owned(),
        QuestionKind::Sign => "Is the minus one too many?".to_owned(),
        QuestionKind::Point => "Is the point missing or misplaced?".to_owned(),
        QuestionKind::SignAndPoint => "Are minus and point missing?".to_owned(),
        QuestionKind::Fahrenheit => {
            format!("Was it °F? {} °F is {}.", k.text, celsius(value))
        }
        QuestionKind::Digits => "Are two digits exchanged?".to_owned(),
        _ => String::new(),
    };
    format!("{name} {}, but {lately}. {slip}", k.text)
}

fn far(k: &Keyed, line: &RoundLine, name: &str, e: &Expected) -> String {
    let by = (k.value - e.near).abs();
    let over = if k.value > e.near { "over" } else { "under" };
    let unit = if k.channel.is_temperature() { "K" } else { "points" };
    let mut words = format!("{name} {}: {by:.1} {unit} {over} the last, {}.", k.text, e.words);
    if k.channel.is_temperature() {
        match (line.coldest_c, line.warmest_c) {
            (Some(c), _) if k.value < c => {
                words += &format!(" It is colder than {}, the coldest allowed.", celsius(c));
            }
            (_, Some(w)) if k.value > w => {
                words += &format!(" It is warmer than {}, the warmest allowed.", celsius(w));
            }
            _ => {}
        }
    }
    words + " Look at the sheet again; if it stands there, keep it."
}

/// Supply and return in each other's place.
fn exchanged(keyed: &[Keyed], line: &RoundLine) -> Option<Question> {
    let of = |c: Channel| keyed.iter().find(|k| k.channel == c);
    let (s, r) = (of(Channel::Supply)?, of(Channel::Return)?);
    let (us, ur) = (line.usual_of(Channel::Supply)?, line.usual_of(Channel::Return)?);
    let apart_before = ur.last - us.last;
    let apart = r.value - s.value;
    let other_way = apart_before * apart < 0.0;
    if !other_way || apart.abs() < APART_K || apart_before.abs() < APART_K {
        return None;
    }
    let within = |v: f64, u: Usual| v >= u.range[0] - EXPLAINED_K && v <= u.range[1] + EXPLAINED_K;
    let both = |a: f64, b: f64| (a - us.last).abs() + (b - ur.last).abs();
    let better = both(r.value, s.value) + FIT_K <= both(s.value, r.value);
    if !better || !within(r.value, us) || !within(s.value, ur) {
        return None;
    }
    let words = format!(
        "Supply {} and return {}: are they exchanged? Last supply {}, return {}.",
        s.text,
        r.text,
        celsius(us.last),
        celsius(ur.last)
    );
    let instead = vec![(Channel::Supply, r.value), (Channel::Return, s.value)];
    let (channel, words) = (Channel::Supply, in_print(&words));
    Some(Question { channel, kind: QuestionKind::Exchanged, words, instead })
}

#[cfg(test)]
mod tests;
