//! `holdfast service`: plan, goals, state, work

mod work;

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use lexopt::{Arg, Parser, ValueExt};
use serde_json::{Map, Value, json};
use service::belief::{self, Known, Strategy};
use service::drawing::edges;
use service::stated::KEYS;
use service::words::{cautions, instruction};
use service::{Answer, Content, Expect, Goal, State, Stated, ToldStep, Volume, WhyNot};
use units::math::round_to;

use crate::args::{Command, Invocation};
use crate::fail::Fail;
use crate::out;

/// Help of `service`.
pub const HELP: &str = "\
holdfast service plan --goal GOAL [--state FILE] [--json]
holdfast service goals
holdfast service state [--state FILE] [--json]
holdfast service work [list | show ID] [--voyage FILE] [--json]
holdfast service work paper ID --out FILE.pdf [--who NAME] [--voyage FILE]

plan: the shortest safe way from where the valves stand to the goal, cautions first, with the
readings to expect. It touches no hazard known here; where no safe way exists, every state that
can be reached was looked at, and it says what stands in the way and what would help (exit 3).
goals: what can be asked for. state: a state file to fill in; with --state, what it was read as.
work: the works begun on the page (holdfast serve, Service): all, one with its next step and all
that was entered, one as a signed PDF with boxes to tick.

FILE is JSON in plain words (- = standard input). What is absent is as on a unit running
normally with no gauges on. \"content\": \"unknown\" when nobody knows what is inside.

It advises. The maker's instructions, the permit to work, local codes and licensed practice come
first; refrigerant work needs a certificate.

example: holdfast service plan --goal pumped-down
         holdfast service plan --goal repair --state unit.json --json
         holdfast service work paper S1 --out s1.pdf";

/// What is asked.
#[derive(Debug, Clone)]
enum Ask {
    Plan(Goal),
    Goals,
    State,
    Work(work::Works),
}

/// Options of `service`.
pub struct Service {
    ask: Ask,
    state: Option<PathBuf>,
    json: bool,
}

fn refuse(line: impl std::fmt::Display) -> Fail {
    Fail::refused(format!("service: {line}"))
}

fn usage(e: lexopt::Error) -> Fail {
    refuse(format!("{e}; holdfast service --help shows how"))
}

/// What was typed, before it is understood.
#[derive(Default)]
struct Typed {
    words: Vec<String>,
    goal: Option<String>,
    state: Option<PathBuf>,
    voyage: Option<PathBuf>,
    out: Option<PathBuf>,
    who: Option<String>,
    json: bool,
}

/// Reads the command line after `service`.
pub fn parse(parser: &mut Parser) -> Result<Invocation, Fail> {
    let mut t = Typed::default();
    let text = |p: &mut Parser| p.value().and_then(ValueExt::string).map_err(usage);
    while let Some(arg) = parser.next().map_err(usage)? {
        match arg {
            Arg::Long("help") | Arg::Short('h') => return Ok(Invocation::Help(HELP)),
            Arg::Long("json") => t.json = true,
            Arg::Long("goal") => t.goal = Some(text(parser)?),
            Arg::Long("who") => t.who = Some(text(parser)?),
            Arg::Long("state") => t.state = Some(parser.value().map_err(usage)?.into()),
            Arg::Long("voyage") => t.voyage = Some(parser.value().map_err(usage)?.into()),
            Arg::Long("out") => t.out = Some(parser.value().map_err(usage)?.into()),
            Arg::Value(v) => t.words.push(v.to_string_lossy().into_owned()),
            other => return Err(usage(other.unexpected())),
        }
    }
    let (state, json) = (t.state.clone(), t.json);
    Ok(Invocation::Run(Command::Service(Service { ask: asked(t)?, state, json })))
}

fn asked(t: Typed) -> Result<Ask, Fail> {
    let kept = t.voyage.is_some() || t.out.is_some() || t.who.is_some();
    let (verb, more) = match t.words.split_first() {
        Some((verb, more)) => (verb.as_str(), more),
        None => return Err(refuse("say plan, goals, state or work; holdfast service --help")),
    };
    if verb == "work" {
        if t.goal.is_some() || t.state.is_some() {
            return Err(refuse("--goal and --state go with plan, not with work"));
        }
        let ask = work::Ask::of(more, t.out)?;
        return Ok(Ask::Work(work::Works { ask, voyage: t.voyage, json: t.json, who: t.who }));
    }
    if let Some(word) = more.first() {
        return Err(refuse(format!("\"{word}\" is too much; holdfast service --help")));
    }
    if kept {
        return Err(refuse("--voyage, --out and --who go with work; holdfast service --help"));
    }
    let ask = match verb {
        "plan" => Ask::Plan(named(t.goal.as_deref())?),
        "goals" => Ask::Goals,
        "state" => Ask::State,
        v => return Err(refuse(format!("\"{v}\" is not known; plan, goals, state or work"))),
    };
    if t.goal.is_some() && !matches!(ask, Ask::Plan(_)) {
        return Err(refuse("--goal goes with plan; holdfast service plan --goal GOAL"));
    }
    Ok(ask)
}

fn named(goal: Option<&str>) -> Result<Goal, Fail> {
    let all: Vec<&str> = Goal::ALL.iter().map(|g| g.id()).collect();
    let name = goal.ok_or_else(|| refuse(format!("name the --goal: {}", all.join(", "))))?;
    Goal::named(name)
        .ok_or_else(|| refuse(format!("--goal \"{name}\" is not known; one of {}", all.join(", "))))
}

/// Answers.
pub fn run(c: &Service) -> Result<u8, Fail> {
    match &c.ask {
        Ask::Goals => goals(c.json).map(|()| 0),
        Ask::State => state(c).map(|()| 0),
        Ask::Plan(goal) => plan(*goal, c),
        Ask::Work(works) => work::run(works),
    }
}

fn goals(as_json: bool) -> Result<(), Fail> {
    if as_json {
        let all: Vec<Value> =
            Goal::ALL.iter().map(|g| json!({"goal": g.id(), "words": g.words()})).collect();
        return out::print_json(&json!({ "goals": all }));
    }
    let mut t = String::new();
    for g in Goal::ALL {
        let _ = writeln!(t, "{:16} {}", g.id(), g.words());
    }
    out::print(t.trim_end())
}

fn state(c: &Service) -> Result<(), Fail> {
    let stated = read(c.state.as_deref())?;
    let value = state_json(&stated.state);
    if c.json {
        return out::print_json(&value);
    }
    let mut t = serde_json::to_string_pretty(&value).unwrap_or_default();
    t.push_str("\n\nKeys and what they take (all may be left out):\n");
    for (key, takes) in KEYS {
        let _ = writeln!(t, "  {key:34} {takes}");
    }
    t.push_str("  content  \"unknown\", or one entry per volume with one of:\n");
    for content in Content::ALL {
        let _ = writeln!(t, "           {}", content.id());
    }
    out::print(t.trim_end())
}

/// Reads a state file, or gives the unit running normally.
fn read(path: Option<&Path>) -> Result<Stated, Fail> {
    let Some(path) = path else { return Ok(Stated::default()) };
    let name = path.display();
    let fail = |why: String| refuse(format!("{name}: {why}"));
    let bytes = if path == Path::new("-") {
        std::io::read_to_string(std::io::stdin()).map_err(|e| fail(e.to_string()))?
    } else {
        std::fs::read_to_string(path).map_err(|e| fail(format!("{e}; check the name")))?
    };
    let value: Value = serde_json::from_str(&bytes)
        .map_err(|e| fail(format!("is not JSON ({e}); holdfast service state shows a file")))?;
    let Value::Object(map) = value else {
        return Err(fail("is no JSON object; holdfast service state shows a file".into()));
    };
    let mut stated = Stated::default();
    for (key, value) in &map {
        take(&mut stated, key, value).map_err(&fail)?;
    }
    stated.finish().map_err(fail)
}

fn take(stated: &mut Stated, key: &str, value: &Value) -> Result<(), String> {
    match (key, value) {
        (_, Value::Null) => Ok(()),
        ("content", Value::String(s)) if s == "unknown" => {
            stated.contents_unknown = true;
            Ok(())
        }
        ("content", Value::Object(map)) => {
            for (volume, c) in map {
                let text = c.as_str().ok_or_else(|| format!("content of {volume}: write words"))?;
                stated.set_content(volume, text)?;
            }
            Ok(())
        }
        ("content", _) => Err("content: write \"unknown\" or one entry per volume".into()),
        (_, Value::String(s)) => stated.set(key, s),
        (_, Value::Bool(b)) => stated.set(key, if *b { "true" } else { "false" }),
        (_, Value::Number(n)) => stated.set(key, &n.to_string()),
        _ => Err(format!("{key}: write words, a number, true or false")),
    }
}

fn plan(goal: Goal, c: &Service) -> Result<u8, Fail> {
    let stated = read(c.state.as_deref())?;
    let Stated { state, rules, site, contents_unknown, .. } = &stated;
    if *contents_unknown {
        return unknown(goal, &stated, c.json);
    }
    let answer = service::answer(state, goal, rules, site).map_err(refuse)?;
    let possible = matches!(answer, Answer::Possible(_));
    if c.json {
        out::print_json(&answer_json(goal, &stated, &answer))?;
    } else {
        out::print(text(goal, &stated, &answer))?;
    }
    Ok(if possible { 0 } else { 3 })
}

/// States looked at to know what can be inside; the whole of what is reachable is 2 million.
const STATES_MOST: usize = 4_000_000;

fn unknown(goal: Goal, stated: &Stated, as_json: bool) -> Result<u8, Fail> {
    let rules = &stated.rules;
    let all = service::explore::explore(&[State::default()], rules, STATES_MOST);
    let set = belief::looks_like(&stated.state, &all);
    if set.is_empty() {
        return Err(refuse(
            "no safe course of work leaves the valves so; look again, read the gauges and state \
             the contents",
        ));
    }
    let s = belief::resume(&set, goal, rules, &mut Known::default());
    if as_json {
        out::print_json(&json!({
            "goal": goal.id(),
            "possible": s.solved == s.fillings,
            "contents": "unknown",
            "strategy": strategy_json(&s),
            "cautions": [AUTHORITY.trim()],
        }))?;
    } else {
        let mut t = format!("GOAL: {}\nNobody knows what is inside. ", goal.words());
        let _ = writeln!(t, "{} fillings fit what is seen.", s.fillings);
        push_strategy(&mut t, &s);
        out::print(t.trim_end().to_owned() + AUTHORITY)?;
    }
    Ok(if s.solved == s.fillings { 0 } else { 3 })
}

fn strategy_json(s: &Strategy) -> Value {
    let steps: Vec<Value> = s
        .steps
        .iter()
        .map(
            |a| json!({"action": a.id(), "instruction": instruction(*a), "cautions": cautions(*a, true)}),
        )
        .collect();
    let readings: Vec<Value> = s
        .readings
        .iter()
        .map(|r| {
            let [low, high, centre] = r.shows.map(Content::id);
            json!({"low_gauge": low, "high_gauge": high, "centre": centre,
                   "then": strategy_json(&r.then)})
        })
        .collect();
    json!({"steps": steps, "readings": readings, "fillings": s.fillings, "solved": s.solved})
}

/// The first steps in full; what follows a reading only as far as the next reading.
fn push_strategy(t: &mut String, s: &Strategy) {
    for (i, a) in s.steps.iter().enumerate() {
        for caution in cautions(*a, true) {
            let _ = writeln!(t, "    ! {caution}");
        }
        let _ = writeln!(t, "{:3}. {}", i + 1, instruction(*a));
    }
    if s.readings.is_empty() {
        let words =
            if s.solved == s.fillings { "a safe way is known" } else { "NO SAFE WAY known" };
        let _ = writeln!(t, "     {words} from here.");
        return;
    }
    t.push_str(
        "     Read the gauges, gas detector and oxygen meter at the manifold, state what \
                they show, and ask again:\n",
    );
    for r in &s.readings {
        let [low, high, centre] = r.shows.map(Content::id);
        let all = r.then.solved == r.then.fillings;
        let then =
            if all { "a safe way is known" } else { "NO SAFE WAY is known for all of these" };
        let _ = writeln!(t, "     - low: {low}; high: {high}; centre: {centre}: {then}");
    }
}

fn state_json(s: &State) -> Value {
    let mut map = Map::new();
    for (key, value) in Stated::described(s) {
        let value = match value {
            "true" => Value::Bool(true),
            "false" => Value::Bool(false),
            v => Value::from(v),
        };
        map.insert(key.into(), value);
    }
    let content: Map<String, Value> =
        Volume::ALL.iter().map(|v| (v.id().into(), s.of(*v).id().into())).collect();
    map.insert("content".into(), Value::Object(content));
    Value::Object(map)
}

fn expect_json(e: &Expect) -> Value {
    let mut map = Map::new();
    map.insert("what".into(), e.what.into());
    map.insert(format!("from_{}", e.unit), e.from.map(|v| round_to(v, 2)).into());
    map.insert(format!("to_{}", e.unit), e.to.map(|v| round_to(v, 2)).into());
    map.insert("note".into(), e.note.into());
    Value::Object(map)
}

fn step_json(s: &ToldStep, stated: &Stated) -> Value {
    let guards: Vec<Value> = s
        .guards
        .iter()
        .map(|h| json!({"id": h.id(), "guard": h.guard(), "why": h.why()}))
        .collect();
    let drawn: Vec<Value> = edges(&s.step.after, &stated.rules)
        .iter()
        .map(|e| {
            json!({"valve": e.valve, "from": e.from.id(), "to": e.to.id(), "open": e.open,
                   "position": e.position})
        })
        .collect();
    json!({
        "n": s.n,
        "action": s.step.action.id(),
        "instruction": s.instruction,
        "cautions": s.cautions,
        "expect": s.expect.iter().map(expect_json).collect::<Vec<_>>(),
        "guard": guards,
        "effort_min": s.step.effort,
        "refrigerant_lost_g": lost_g(s),
        "after": state_json(&s.step.after),
        "edges": drawn,
    })
}

fn answer_json(goal: Goal, stated: &Stated, answer: &Answer) -> Value {
    let dangers: Vec<Value> = service::flow::standing(&stated.state, &stated.rules)
        .iter()
        .map(|h| json!({"id": h.id(), "guard": h.guard(), "why": h.why()}))
        .collect();
    let (steps, why): (&[ToldStep], Option<&WhyNot>) = match answer {
        Answer::Possible(steps) => (steps, None),
        Answer::Impossible(why) => (&[], Some(why)),
    };
    let lost = round_to(steps.iter().map(lost_g).sum(), 1);
    let effort: u32 = steps.iter().map(|s| s.step.effort).sum();
    let known = why.is_none();
    let volumes: Vec<Value> =
        Volume::ALL.iter().map(|v| json!({"id": v.id(), "words": v.words()})).collect();
    json!({
        "goal": goal.id(),
        "possible": known,
        "dangers_now": dangers,
        "steps": steps.iter().map(|s| step_json(s, stated)).collect::<Vec<_>>(),
        "refrigerant_lost_g": known.then_some(lost),
        "effort_min": known.then_some(effort),
        "why_not": why.map(|w| {
            json!({
                "states_looked_at": w.reached,
                "hazards": w.hazards.iter()
                    .map(|h| json!({"id": h.id(), "guard": h.guard(), "why": h.why()}))
                    .collect::<Vec<_>>(),
            })
        }),
        "would_help": why.map_or_else(Vec::new, |w| w.would_help.clone()),
        "start": state_json(&stated.state),
        "volumes": volumes,
        "fluid": stated.site.fluid,
        "ambient_c": stated.site.ambient_c,
        "cautions": [AUTHORITY.trim()],
    })
}

/// Said with every answer.
const AUTHORITY: &str = "\n\nThis advises and has no authority. The maker's instructions, the \
    permit to work, local codes and licensed practice come first. Stop when a reading is not as \
    expected, and ask again from where the valves stand.";

fn text(goal: Goal, stated: &Stated, answer: &Answer) -> String {
    let mut t = format!("GOAL: {}\n", goal.words());
    for h in service::flow::standing(&stated.state, &stated.rules).iter() {
        let _ = writeln!(t, "DANGER NOW: {} ({})", h.why(), h.guard());
    }
    match answer {
        Answer::Impossible(why) => impossible(&mut t, why),
        Answer::Possible(steps) if steps.is_empty() => t.push_str("It is so already."),
        Answer::Possible(steps) => {
            let site = &stated.site;
            let _ = writeln!(
                t,
                "{} steps. Readings are for {} at {:.0} °C air; a repair certificate, a permit \
                 to work and a second person first.",
                steps.len(),
                site.fluid,
                site.ambient_c
            );
            for s in steps {
                push_step(&mut t, s);
            }
            let lost: f64 = steps.iter().map(lost_g).sum();
            let _ = write!(t, "\nRefrigerant let into the air by the plan: about {lost:.0} g");
            if lost > 0.5 {
                t.push_str(
                    ", what the recovery leaves at the depth asked; recover deeper to lose less",
                );
            }
            t.push('.');
        }
    }
    t + AUTHORITY
}

/// Grams into the air at a step: an estimate.
fn lost_g(s: &ToldStep) -> f64 {
    round_to(f64::from(s.step.lost_g) + s.left_g, 1)
}

fn impossible(t: &mut String, why: &WhyNot) {
    let _ = writeln!(
        t,
        "NO SAFE WAY from here: all {} states that can be reached safely were looked at.",
        why.reached
    );
    for h in &why.hazards {
        let _ = writeln!(t, "  In the way: {} ({})", h.why(), h.guard());
    }
    for w in &why.would_help {
        let _ = writeln!(t, "  Would help: {w}");
    }
    if why.hazards.is_empty() && why.would_help.is_empty() {
        t.push_str("  No single thing known here would open a way. Leave it shut and ask ashore.");
    }
}

fn push_step(t: &mut String, s: &ToldStep) {
    t.push('\n');
    for caution in s.cautions {
        let _ = writeln!(t, "    ! {caution}");
    }
    let _ = writeln!(t, "{:3}. {}", s.n, s.instruction);
    for e in &s.expect {
        let _ = writeln!(t, "     -> {}: {} ({})", e.what, e.range_words(), e.note);
    }
    if let Some(h) = s.guards.iter().next() {
        let _ = writeln!(t, "     left out: {} ({})", h.why(), h.guard());
    }
}
