//! The plant as somebody finds it: entered by tapping valves, hoses, machines and volumes on the
//! drawing. All that was tapped stands in the address, so that it works without script and a
//! reload loses nothing.

use std::collections::BTreeMap;

use figures::pipework;
use maud::{Markup, PreEscaped, html};
use record::{PlantWords, WorkFile};
use service::flow::{component, members, settle, standing};
use service::stated::KEYS;
use service::words::instruction;
use service::{Answer, Content, Goal, Stated, Volume};

use super::drawing::{drawn, inside, tapped};
use super::steps::{danger_list, first_upper};
use super::work::impossible;
use super::{Live, Planned, Shell, Tab, Way, authority, page, percent, work_head, work_href};

/// Longest value looked at.
const LONGEST: usize = 60;
/// Keys that take a number.
const NUMBERS: [&str; 6] =
    ["ambient_c", "barometer_kpa", "charge_kg", "low_side_l", "circuit_l", "test_kpag"];

/// What was tapped and written.
#[derive(Debug, Clone)]
pub struct Draft {
    /// Address of the page it is tapped on.
    path: String,
    /// Key and value as tapped or written; `c.VOLUME` for what is inside.
    pub pairs: Vec<(String, String)>,
    /// As far as it could be understood, for drawing.
    pub raw: Stated,
    /// Taken together, or what contradicts what.
    pub stated: Result<Stated, String>,
    /// Nobody knows what is inside.
    pub unknown: bool,
    /// Goal asked for.
    pub goal: Option<Goal>,
    /// Volume whose content is being chosen.
    pick: Option<Volume>,
    /// What is held of the plant.
    held: BTreeMap<String, String>,
}

fn is_ours(key: &str) -> bool {
    let more = ["unit", "goal", "contents", "who", "remark", "why"];
    KEYS.iter().any(|(k, _)| *k == key) || key.starts_with("c.") || more.contains(&key)
}

impl Draft {
    /// From the pairs of an address or form, over what is held (nothing: a unit running normally).
    #[must_use]
    pub fn from_pairs(path: String, held: &PlantWords, sent: &[(String, String)]) -> Self {
        let mut pairs: Vec<(String, String)> = Vec::new();
        for (key, value) in sent.iter().filter(|(k, _)| is_ours(k)) {
            let value: String =
                value.trim().chars().filter(|c| !c.is_control()).take(LONGEST).collect();
            pairs.retain(|(k, _)| k != key);
            if !value.is_empty() {
                pairs.push((key.clone(), value));
            }
        }
        let get = |key: &str| pairs.iter().find(|(k, _)| k == key).map(|(_, v)| v.as_str());
        let unknown = get("contents") == Some("unknown");
        let goal = get("goal").and_then(Goal::named);
        let pick = sent.iter().find(|(k, _)| k == "pick").map(|(_, v)| v.as_str());
        let pick = pick.and_then(|p| Volume::ALL.into_iter().find(|v| v.id() == p));
        let (raw, trouble) = understood(held, &pairs);
        let stated = match trouble {
            Some(why) => Err(why),
            // Where nobody knows what is inside, nothing inside can contradict the valves.
            None if unknown => Ok(raw.clone()),
            None => raw.clone().finish(),
        };
        let held = held.keys.clone();
        Self { path, pairs, raw, stated, unknown, goal, pick, held }
    }

    /// A field's text.
    #[must_use]
    pub fn get(&self, key: &str) -> &str {
        self.pairs.iter().find(|(k, _)| k == key).map_or("", |(_, v)| v)
    }

    /// A field's text, else what is held.
    fn said(&self, key: &str) -> &str {
        match self.get(key) {
            "" => self.held.get(key).map_or("", String::as_str),
            v => v,
        }
    }

    /// The address with some pairs more.
    fn href(&self, changed: &[(&str, &str)], anchor: &str) -> String {
        let kept = self.pairs.iter().map(|(k, v)| (k.as_str(), v.as_str()));
        let kept = kept.filter(|(k, _)| !changed.iter().any(|(c, _)| c == k));
        let all = kept.chain(changed.iter().copied()).filter(|(_, v)| !v.is_empty());
        let all: Vec<String> = all.map(|(k, v)| format!("{}={}", percent(k), percent(v))).collect();
        format!("{}?{}#{anchor}", self.path, all.join("&"))
    }

    /// The plant that is drawn.
    fn shown(&self) -> &Stated {
        self.stated.as_ref().unwrap_or(&self.raw)
    }

    fn tap(&self, key: &str) -> Option<String> {
        if let Some(volume) = key.strip_prefix("c.") {
            return (!self.unknown).then(|| self.href(&[("pick", volume)], "inside"));
        }
        let to = tapped(key, &self.shown().state)?;
        Some(self.href(&[(key, to)], "plant"))
    }

    /// Contents of all that is open to a volume, as pairs.
    fn filled(&self, v: Volume, c: Content) -> String {
        let s = self.shown();
        let set = component(&s.state, &s.rules, v);
        let keys: Vec<String> = members(set).map(|v| format!("c.{}", v.id())).collect();
        let pairs: Vec<(&str, &str)> = keys.iter().map(|k| (k.as_str(), c.id())).collect();
        self.href(&pairs, "plant")
    }

    /// Everything mixed as the valves stand.
    fn mixed(&self) -> String {
        let mut s = self.raw.state;
        let _ = settle(&mut s, &self.raw.rules);
        let keys: Vec<(String, &str)> =
            Volume::ALL.iter().map(|v| (format!("c.{}", v.id()), s.of(*v).id())).collect();
        let pairs: Vec<(&str, &str)> = keys.iter().map(|(k, c)| (k.as_str(), *c)).collect();
        self.href(&pairs, "plant")
    }

    /// What was said beyond the plant's own words: what is at hand, gas, air.
    pub fn beside(&self) -> impl Iterator<Item = (&str, &str)> {
        let known = |k: &str| KEYS.iter().any(|(key, _)| *key == k);
        let own: Vec<&str> = Stated::described(&self.raw.state).iter().map(|(k, _)| *k).collect();
        self.pairs
            .iter()
            .map(|(k, v)| (k.as_str(), v.as_str()))
            .filter(move |(k, _)| known(k) && !own.contains(k))
    }
}

/// As far as every pair can be understood, and the first that cannot.
fn understood(held: &PlantWords, pairs: &[(String, String)]) -> (Stated, Option<String>) {
    let mut s = Stated::default();
    let mut trouble = None;
    let held_keys = held.keys.iter().map(|(k, v)| (k.as_str(), v.as_str()));
    let said = pairs.iter().map(|(k, v)| (k.as_str(), v.as_str()));
    let keys = said.clone().filter(|(k, _)| KEYS.iter().any(|(key, _)| key == k));
    for (key, value) in held_keys.chain(keys) {
        let value = if NUMBERS.contains(&key) {
            value.replace(',', ".").replace('\u{2212}', "-")
        } else {
            value.to_owned()
        };
        if let Err(why) = s.set(key, &value) {
            trouble.get_or_insert(why);
        }
    }
    let held_inside = held.content.iter().map(|(v, c)| (v.as_str(), c.as_str()));
    let inside = said.filter_map(|(k, v)| Some((k.strip_prefix("c.")?, v)));
    for (volume, content) in held_inside.chain(inside) {
        if let Err(why) = s.set_content(volume, content) {
            trouble.get_or_insert(why);
        }
    }
    (s, trouble)
}

/// The page on which a work begins.
#[must_use]
pub fn new_page(shell: &Shell, d: &Draft, way: Option<&Way>, trouble: Option<&str>) -> Markup {
    let content = html! {
        @if matches!(way, Some(Way::Working(_))) { meta http-equiv="refresh" content="2"; }
        h1 { "Begin a service work" }
        (authority())
        @if let Some(why) = trouble { p.trouble role="alert" { (why) " Nothing was stored." } }
        div.service-columns {
            (plant(d))
            div { (inside_list(d)) (standing_now(d)) (begin_form(d, way)) }
        }
        @if let Some(way) = way { (preview(way)) }
    };
    page(shell, Tab::Service, Live::No, "Begin a service work", &content)
}

/// The page on which the plant of a work is put right.
#[must_use]
pub fn look_page(shell: &Shell, w: &WorkFile, d: &Draft) -> Markup {
    let content = html! {
        (work_head(shell, w))
        p.ranges { a.button href=(work_href(&w.id)) { "Back without a change" } }
        div.service-columns {
            (plant(d))
            div { (inside_list(d)) (standing_now(d)) (stands_form(w, d)) }
        }
    };
    page(shell, Tab::Service, Live::No, "It stands otherwise", &content)
}

fn plant(d: &Draft) -> Markup {
    let known = |_: Volume| !d.unknown;
    html! {
        figure.pipework-figure #plant {
            p.hint { strong { "How does it stand? " } "Tap a valve, a hose, a machine or the power \
                until it is as you see it; tap a volume to say what is in it." }
            (PreEscaped(pipework(&drawn(d.shown(), &known, &|key| d.tap(key), ""))))
            details {
                summary { "The signs" }
                p.hint { "Thick line through a valve: open. Bar across: shut. A line to the right: \
                    the gauge port is open. Dashed line: hose. Slanted lines: refrigerant, close \
                    ones under pressure; level lines: liquid; crossed lines: nitrogen; dots: air; \
                    empty: below the atmosphere." }
            }
        }
    }
}

/// What is in the volume that was tapped.
fn inside_list(d: &Draft) -> Markup {
    html! {
        @if let Some(v) = d.pick {
            section.next #inside aria-label="What is inside" {
                h2 { "What is in " (v.words()) "?" }
                p.hint { "By gauge, vacuum gauge and detector; it counts for all that is open \
                    to it." }
                ul.other-steps {
                    @for c in Content::ALL { li { a.button href=(d.filled(v, c)) { (inside(c)) } } }
                    li { a.button href=(d.href(&[("contents", "unknown")], "plant")) {
                        "Nobody knows, here or anywhere" } }
                }
            }
        }
        @if d.unknown {
            p.kept-note { "What is inside counts as not known, anywhere. "
                a href=(d.href(&[("contents", "")], "plant")) { "It is known after all" } "." }
        } @else {
            p { a.button href=(d.href(&[("contents", "unknown")], "plant")) {
                "Nobody knows what is inside" } }
        }
    }
}

fn standing_now(d: &Draft) -> Markup {
    html! {
        @match &d.stated {
            Err(why) => {
                p.trouble #contradiction role="alert" { (why) "." }
                p { a.button href=(d.mixed()) { "Let it mix as the valves stand" } }
            }
            Ok(s) => {
                @let dangers = standing(&s.state, &s.rules);
                @if !dangers.is_empty() && !d.unknown { (danger_list(dangers)) }
            }
        }
    }
}

/// A key of the plant with its value, as a person reads it.
#[must_use]
pub fn key_words(key: &str, value: &str) -> String {
    let listed = AT_HAND.iter().chain(&SIDES).find(|(k, ..)| *k == key);
    let label = match (listed, key) {
        (Some((_, label, _)), _) => label,
        (None, "fluid") => "Refrigerant",
        (None, "ambient_c") => "Air, °C",
        (None, "barometer_kpa") => "Barometer, kPa",
        (None, "charge_kg") => "Charge on the plate, kg",
        (None, "low_side_l") => "Volume of the low side, l",
        (None, "circuit_l") => "Volume of the circuit, l",
        (None, "test_kpag") => "Test pressure, kPa gauge",
        (None, other) => &first_upper(&other.replace('_', " ")),
    };
    let value = match value {
        "true" => "yes",
        "false" => "no",
        v => v,
    };
    format!("{label}: {value}")
}

/// What was tapped, carried along; the form's own fields aside.
fn carried(d: &Draft, own: &[&str]) -> Markup {
    html! {
        @for (k, v) in &d.pairs {
            @if !own.contains(&k.as_str()) { input type="hidden" name=(k) value=(v); }
        }
    }
}

fn text(d: &Draft, key: &str, label: &str, without: &str, hint: &str) -> Markup {
    let id = format!("new-{key}");
    let value = match d.said(key) {
        "" => without,
        v => v,
    };
    html! {
        label for=(id) { (label) }
        input id=(id) name=(key) value=(value) maxlength=(LONGEST) autocomplete="off"
            placeholder=(hint);
    }
}

/// Things on board, and what is known from papers.
const AT_HAND: [(&str, &str, bool); 9] = [
    ("has_vacuum_pump", "Vacuum pump and vacuum gauge at hand", true),
    ("has_recovery_unit", "Recovery unit at hand", true),
    ("recovery_cylinder_has_room", "Recovery cylinder has room for the charge, by mass", true),
    ("has_nitrogen", "Dry oxygen-free nitrogen with regulator at hand", true),
    ("has_charging_gas", "Gas of proved identity for the whole charge, and a scale", true),
    ("receiver_holds_charge", "Condenser and receiver hold the whole charge", true),
    (
        "test_with_charge_held_allowed",
        "Low side may be tested with the charge held (maker and \
        local rule)",
        false,
    ),
    ("gas_suspect", "The gas may not be what the plate says", false),
    ("nitrogen_tested", "Nitrogen test since the part was fitted is on record", false),
];

const SIDES: [(&str, &str, bool); 3] = [
    ("suction_port_when_front_seated", "Suction valve front-seated: the port sees", true),
    ("discharge_port_when_front_seated", "Discharge valve front-seated: the port sees", true),
    ("king_port_when_front_seated", "King valve front-seated: the port sees", false),
];

fn choice(d: &Draft, key: &str, label: &str, values: [(&str, &str); 2], first: bool) -> Markup {
    let now = match d.said(key) {
        "" => values[usize::from(!first)].0,
        v => v,
    };
    html! {
        label for={ "new-" (key) } { (label) }
        select id={ "new-" (key) } name=(key) {
            @for (value, words) in values { option value=(value) selected[now == value] { (words) } }
        }
    }
}

fn at_hand(d: &Draft) -> Markup {
    html! {
        details #at-hand {
            summary { "What is at hand, the plate, the valves" }
            (text(d, "charge_kg", "Charge on the plate, kg", "", "4.5"))
            (text(d, "test_kpag", "Test pressure on the plate, kPa gauge", "", ""))
            (text(d, "low_side_l", "Volume of the low side, l", "", "5"))
            (text(d, "circuit_l", "Volume of the circuit, l", "", "15"))
            @for (key, label, first) in AT_HAND {
                (choice(d, key, label, [("true", "yes"), ("false", "no")], first))
            }
            @for (key, label, first) in SIDES {
                (choice(d, key, label, [("component", "the machine"), ("line", "the pipe")], first))
            }
        }
    }
}

fn fluid(d: &Draft) -> Markup {
    let names: Vec<&str> = fluids::Refrigerant::all()
        .map_or_else(|_| Vec::new(), |all| all.iter().map(|f| f.name()).collect());
    html! {
        label for="new-fluid" { "Refrigerant on the plate" }
        select #new-fluid name="fluid" {
            @for n in names { option value=(n) selected[n == d.raw.site.fluid] { (n) } }
        }
    }
}

fn begin_form(d: &Draft, way: Option<&Way>) -> Markup {
    let mut own = vec!["unit", "goal", "fluid", "who", "remark"];
    own.extend(NUMBERS);
    own.extend(AT_HAND.iter().chain(&SIDES).map(|(k, ..)| *k));
    let ready = !d.unknown || matches!(way, Some(Way::Ready(_)));
    html! {
        form.upload #begin method="get" action="/service/new" {
            (carried(d, &own))
            h2 { "What is to be done" }
            (text(d, "unit", "Container", "", "QQQU1000011"))
            label for="new-goal" { "Goal" }
            select #new-goal name="goal" {
                @for g in Goal::ALL {
                    option value=(g.id()) selected[d.goal == Some(g)] { (first_upper(g.words())) }
                }
            }
            (fluid(d))
            (text(d, "ambient_c", "Air around unit and cylinders now, °C", "30", ""))
            (text(d, "barometer_kpa", "Barometer, kPa", "101.325", ""))
            (at_hand(d))
            (text(d, "remark", "Permit number, why", "", ""))
            label for="new-who" { "Who begins it" }
            input #new-who name="who" maxlength="60" autocomplete="name" value=(d.get("who"));
            p.buttons {
                button type="submit" formaction="/service/new#way" {
                    @if d.unknown { "Look what can be inside" } @else { "Show the way first" } }
                @if ready {
                    button.main type="submit" formmethod="post" formaction="/service/begin" {
                        "Begin the work" }
                }
            }
        }
    }
}

fn stands_form(w: &WorkFile, d: &Draft) -> Markup {
    let mut own = vec!["fluid", "why", "who"];
    own.extend(NUMBERS);
    own.extend(AT_HAND.iter().chain(&SIDES).map(|(k, ..)| *k));
    html! {
        form.upload method="post" action={ (work_href(&w.id)) "/stands" } {
            (carried(d, &own))
            input type="hidden" name="entries" value=(w.entries.len());
            h2 { "It stands so" }
            (fluid(d))
            (text(d, "ambient_c", "Air around unit and cylinders now, °C", "30", ""))
            (text(d, "barometer_kpa", "Barometer, kPa", "101.325", ""))
            (at_hand(d))
            label for="look-why" { "What was seen, or is at hand now" }
            input #look-why name="why" required maxlength="200" autocomplete="off"
                value=(d.get("why"));
            label for="look-who" { "Entered by" }
            input #look-who name="who" required maxlength="60" autocomplete="name" value=(w.person);
            button.main type="submit" { "Enter it: go on from here" }
        }
    }
}

fn preview(way: &Way) -> Markup {
    html! {
        section #way aria-labelledby="way-head" {
            h2 #way-head { "The way" }
            @match way {
                Way::Working(s) => p.kept-note role="status" {
                    "Being looked for, for " (format!("{s:.0}")) " s now: every state that can be \
                     reached is looked at, which can take a minute. This page renews itself." },
                Way::Failed(why) => p.trouble { (why) "." },
                Way::Ready(p) => (found(p)),
            }
        }
    }
}

fn found(p: &Planned) -> Markup {
    html! {
        @match &p.answer {
            Some(Answer::Impossible(why)) => (impossible(why)),
            Some(Answer::Possible(all)) if all.is_empty() => p { "It is so already." },
            Some(Answer::Possible(all)) => {
                @let minutes = all.iter().map(|s| s.step.effort).sum::<u32>();
                p { strong { (all.len()) " steps" } ", about " (minutes) " minutes of work." }
                ol.findings { @for s in all { li { (s.instruction) } } }
            }
            None => {},
        }
        @if let Some(s) = &p.strategy {
            p { strong { (s.fillings) " ways of filling" } " fit what is seen; a safe way is known \
                for " (s.solved) " of them." }
            @if !s.steps.is_empty() {
                p { "First, safe whatever is inside:" }
                ol.findings { @for a in &s.steps { li { (instruction(*a)) } } }
            }
            @if !s.readings.is_empty() {
                p { "Then what gauge, vacuum gauge, gas detector and oxygen meter show at the \
                    manifold tells how to go on (" (s.readings.len()) " outcomes)." }
            }
        }
    }
}
