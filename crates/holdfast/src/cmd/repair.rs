//! `holdfast repair plan`: who repairs what first.

use std::fmt::Write as _;
use std::path::PathBuf;

use lexopt::{Arg, Parser, ValueExt};
use plans::repair::{Lane, SpanKind};
use record::{Act, PlanAct, RepairOutcome, UnitId};
use serde_json::{Value, json};
use units::Utc;
use units::math::round_to;
use voyage::{AsOf, NightPlan};

use crate::args::{Command, Invocation, usage};
use crate::fail::Fail;
use crate::{files, out};

/// `holdfast repair --help`
pub const HELP: &str = r#"holdfast repair plan --people N [--name NAME…] [--crew FILE.toml] [--voyage FILE]
                     [--as-of latest|now|TIME] [--json] [--out FILE.pdf]
holdfast repair crew FILE.toml [--who NAME]      people, skills, rest, parts: held from now on
holdfast repair begin UNIT --by NAME             a repair begins: the plan goes round it
holdfast repair end UNIT [--outcome done|stopped|beyond_us] [--remark TEXT] [--who NAME]

Which box needs hands first, and who goes where, so that the least cargo is expected to be lost:
hours to each limit with their spread, ways between bays and tiers, repair times with their spread,
skills, rest and parts where they are stated. Proved best for up to a dozen boxes; beyond, it says
how far from the best it may be. Made anew from what stands whenever it is asked for: readings,
repairs begun and ended, boxes moved by a later list.
--people       how many go out, 1 to 9
--name         their names, in order; else those of the crew file
--out          the plan on paper as well: time chart, jobs with their reasons, cautions; signed
--crew         a crew file for this once; each part of it may be left out:
                 value_unit = "USD"           # else every box counts one
                 value_each = 60000
                 [[person]]
                 name = "Jonah"
                 skills = ["electrical", "refrigeration"]
                 bay = 30
                 free_at = "2026-03-16 08:00"
                 rest = [["2026-03-16 22:00", "2026-03-17 04:00"]]
                 [[part]]
                 name = "fan motor"
                 count = 2
                 [[job]]
                 unit = "QQQU3219924"
                 work = "change evaporator fan motor"
                 hours = [0.5, 1.0, 2.0]
                 chance = 0.9
                 skills = ["electrical"]
                 parts = ["fan motor"]
                 not_before = "2026-03-16 12:00"
                 value = 90000

The plan advises. Permit to work, ship's procedures and the chief engineer decide.

example: holdfast repair plan --people 2 --voyage demo.holdfast"#;

/// Most people planned for.
const PEOPLE_MAX: usize = 9;

/// What is asked for.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Verb {
    Plan,
    Crew,
    Begin,
    End,
}

/// Options.
pub struct Repair {
    verb: Verb,
    subject: Option<String>,
    people: usize,
    names: Vec<String>,
    crew: Option<PathBuf>,
    texts: Vec<(&'static str, String)>,
    out: Option<PathBuf>,
    voyage: Option<PathBuf>,
    as_of: AsOf,
    json: bool,
}

/// Options that take a text.
const TEXTS: [&str; 5] = ["by", "outcome", "remark", "who", "at"];

/// Reads what stands after `repair`.
pub fn parse(parser: &mut Parser) -> Result<Invocation, Fail> {
    let mut c = Repair {
        verb: Verb::Plan,
        subject: None,
        people: 0,
        names: Vec::new(),
        crew: None,
        texts: Vec::new(),
        out: None,
        voyage: None,
        as_of: AsOf::Latest,
        json: false,
    };
    let mut words: Vec<String> = Vec::new();
    while let Some(arg) = parser.next().map_err(usage)? {
        match arg {
            Arg::Long("help") | Arg::Short('h') => return Ok(Invocation::Help(HELP)),
            Arg::Long("json") => c.json = true,
            Arg::Long("people") => c.people = people(parser)?,
            Arg::Long("name") => c.names.push(text_of(parser)?),
            Arg::Long("crew") => c.crew = Some(parser.value().map_err(usage)?.into()),
            Arg::Long("out") => c.out = Some(parser.value().map_err(usage)?.into()),
            Arg::Long("voyage") => c.voyage = Some(parser.value().map_err(usage)?.into()),
            Arg::Long("as-of") => c.as_of = as_of(parser)?,
            Arg::Long(name) => match TEXTS.into_iter().find(|t| *t == name) {
                Some(key) => c.texts.push((key, text_of(parser)?)),
                None => return Err(usage(Arg::Long(name).unexpected())),
            },
            Arg::Value(v) => words.push(v.to_string_lossy().into_owned()),
            other @ Arg::Short(_) => return Err(usage(other.unexpected())),
        }
    }
    let mut words = words.into_iter();
    c.verb = match words.next().as_deref() {
        Some("plan") => Verb::Plan,
        Some("crew") => Verb::Crew,
        Some("begin") => Verb::Begin,
        Some("end") => Verb::End,
        _ => {
            return Err(Fail::refused(
                "repair: write holdfast repair plan --people N, or crew, begin, end; \
                 holdfast repair --help",
            ));
        }
    };
    c.subject = words.next();
    if let Some(more) = words.next() {
        return Err(Fail::refused(format!("repair: \"{more}\" is one word too many")));
    }
    c.check()?;
    Ok(Invocation::Run(Command::Repair(c)))
}

impl Repair {
    fn check(&self) -> Result<(), Fail> {
        let missing = match (self.verb, &self.subject) {
            (Verb::Crew | Verb::Begin | Verb::End, _) if self.out.is_some() => {
                "crew, begin, end: --out goes with plan; write repair plan --out FILE.pdf"
            }
            (Verb::Plan, None) if self.people == 0 => {
                "plan: --people is missing; write how many \
                                                       go out"
            }
            (Verb::Plan, Some(_)) => "plan: takes no name; write --name NAME for a person",
            (Verb::Crew, None) => "crew: name the crew file; see holdfast repair --help",
            (Verb::Begin | Verb::End, None) => "name the box; see holdfast repair --help",
            (Verb::Begin, Some(_)) if self.get("by").is_none() => {
                "begin: --by is missing; write who works on it"
            }
            _ => return Ok(()),
        };
        Err(Fail::refused(format!("repair {missing}")))
    }

    fn get(&self, key: &str) -> Option<&str> {
        self.texts.iter().rev().find(|(k, _)| *k == key).map(|(_, v)| v.as_str())
    }

    /// What `crew`, `begin` and `end` enter.
    fn act(&self) -> Result<PlanAct, Fail> {
        let subject = self.subject.as_deref().unwrap_or_default();
        if self.verb == Verb::Crew {
            let mut read = files::read_all(&[PathBuf::from(subject)])?;
            let file = read.pop().ok_or_else(|| Fail::refused("no crew file"))?;
            voyage::read_crew(&file)?;
            return Ok(PlanAct::Crew { file: String::from_utf8_lossy(&file.bytes).into_owned() });
        }
        let unit = UnitId::from_text(subject)
            .filter(UnitId::has_iso_form)
            .ok_or_else(|| Fail::refused(format!("\"{subject}\" is no container number")))?;
        let at = match self.get("at") {
            None => files::now(),
            Some(t) => Utc::parse(t).map_err(|e| Fail::refused(format!("--at \"{t}\" {e}")))?,
        };
        if self.verb == Verb::Begin {
            let person = self.get("by").unwrap_or_default().to_owned();
            return Ok(PlanAct::RepairBegun { unit, person, at });
        }
        let word = self.get("outcome").unwrap_or("done");
        let outcome = RepairOutcome::from_text(word).ok_or_else(|| {
            Fail::refused(format!("--outcome \"{word}\": write done, stopped or beyond_us"))
        })?;
        let remark = self.get("remark").unwrap_or_default().to_owned();
        Ok(PlanAct::RepairEnded { unit, at, outcome, remark })
    }
}

fn text_of(parser: &mut Parser) -> Result<String, Fail> {
    parser.value().and_then(ValueExt::string).map_err(usage)
}

fn people(parser: &mut Parser) -> Result<usize, Fail> {
    let text = text_of(parser)?;
    text.parse().ok().filter(|n| (1..=PEOPLE_MAX).contains(n)).ok_or_else(|| {
        Fail::refused(format!("--people \"{text}\": write a number from 1 to {PEOPLE_MAX}"))
    })
}

/// An instant asked for: `latest`, `now` or a time.
pub fn as_of(parser: &mut Parser) -> Result<AsOf, Fail> {
    let text = parser.value().and_then(ValueExt::string).map_err(usage)?;
    Ok(match text.as_str() {
        "latest" => AsOf::Latest,
        "now" => AsOf::At(files::now()),
        t => AsOf::At(
            Utc::parse(t)
                .map_err(|e| Fail::refused(format!("--as-of \"{t}\" {e}, or latest, or now")))?,
        ),
    })
}

/// Shows the plan, or enters what was said.
pub fn run(c: &Repair) -> Result<u8, Fail> {
    let mut v = files::open_voyage(c.voyage.as_deref())?;
    if c.verb != Verb::Plan {
        let act = Act::Plan(Box::new(c.act()?));
        let who = files::who(c.get("who").or(c.get("by")));
        v.enter(&act, &[], &who, files::now())?;
        if c.json {
            out::print_json(&json!({ "entered": true }))?;
        } else {
            out::print(format!("entered: {}", act.title()))?;
        }
        return Ok(0);
    }
    let crew = match &c.crew {
        None => v.crew()?,
        Some(path) => {
            let mut read = files::read_all(std::slice::from_ref(path))?;
            voyage::read_crew(&read.pop().ok_or_else(|| Fail::refused("no crew file"))?)?
        }
    };
    let list = v.watch(c.as_of)?;
    let plan = v.repair_plan(&list, &c.named(&crew.names()), Some(&crew))?;
    if let Some(path) = &c.out {
        super::paper(&mut v, c.get("who"), path, |press| press.night(&plan))?;
    }
    if c.json {
        out::print_json(&plan_json(&plan))?;
    } else {
        out::print(text(&plan, &super::watch::as_of(&list, c.as_of)))?;
    }
    Ok(0)
}

impl Repair {
    /// As many people as asked for: those named, then those of the crew file, then by number.
    fn named(&self, crew: &[String]) -> Vec<String> {
        let mut out: Vec<String> = Vec::new();
        for name in self.names.iter().chain(crew) {
            if out.len() < self.people && !out.contains(name) {
                out.push(name.clone());
            }
        }
        for i in out.len()..self.people {
            out.push(format!("person {}", i + 1));
        }
        out
    }
}

fn text(n: &NightPlan, as_of: &str) -> String {
    let p = &n.plan;
    let mut s = format!("{as_of}\n");
    for c in &p.cautions {
        let _ = writeln!(s, "CAUTION: {c}");
    }
    if p.lanes.iter().all(|l| l.steps.is_empty()) {
        s.push_str("\nNo box has a limit in sight that hands could keep.\n");
    }
    for lane in &p.lanes {
        lane_text(&mut s, lane);
    }
    for d in &p.not_done {
        let _ = writeln!(s, "\nnot planned: {}  {}\n        {}", d.job, d.at, d.why);
    }
    let [low, high] = p.expected_loss_p90;
    let _ = writeln!(
        s,
        "\nexpected loss {} {} (90 % {} to {}); {} if nobody goes\n{}",
        amount(p.expected_loss),
        p.value_unit,
        amount(low),
        amount(high),
        amount(p.loss_if_idle),
        p.quality
    );
    for note in n.notes.iter().chain(&p.estimates) {
        let _ = writeln!(s, "! {note}");
    }
    s.trim_end().to_owned()
}

/// Boxes with two decimals, money without.
fn amount(value: f64) -> String {
    if value.abs() < 100.0 { format!("{value:.2}") } else { format!("{value:.0}") }
}

fn lane_text(s: &mut String, lane: &Lane) {
    let _ = writeln!(s, "\n{}", lane.person);
    for (i, step) in lane.steps.iter().enumerate() {
        let [f10, f50, f90] = step.finish_h;
        let _ = writeln!(
            s,
            "{:3}. {}  {}\n     done after {f50:.1} h ({f10:.1} to {f90:.1})\n     {}",
            i + 1,
            step.job,
            step.at,
            step.why
        );
    }
}

fn plan_json(n: &NightPlan) -> Value {
    let p = &n.plan;
    let r = |x: f64| round_to(x, 4);
    json!({
        "as_of_at": n.at.map(|t| t.to_string()),
        "people": p.lanes.iter().map(|l| json!({
            "name": l.person,
            "jobs": l.steps.iter().map(|s| json!({
                "unit": s.job,
                "at": s.at,
                "start_h": r(s.start_h[1]),
                "start_h_p80": [r(s.start_h[0]), r(s.start_h[2])],
                "finish_h": r(s.finish_h[1]),
                "finish_h_p80": [r(s.finish_h[0]), r(s.finish_h[2])],
                "expected_loss": r(s.expected_loss),
                "loss_if_left": r(s.loss_if_left),
                "why": s.why,
            })).collect::<Vec<_>>(),
            "spans": l.spans.iter().map(|sp| json!({
                "kind": match sp.kind {
                    SpanKind::Walk => "walk",
                    SpanKind::Wait => "wait",
                    SpanKind::Work => "work",
                    SpanKind::Rest => "rest",
                },
                "from_h": r(sp.from_h),
                "to_h": r(sp.to_h),
                "unit": (!sp.job.is_empty()).then_some(&sp.job),
            })).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
        "not_done": p.not_done.iter().map(|d| json!({
            "unit": d.job, "at": d.at, "loss": r(d.loss), "why": d.why,
        })).collect::<Vec<_>>(),
        "expected_loss": r(p.expected_loss),
        "expected_loss_p90": p.expected_loss_p90.map(r),
        "loss_if_idle": r(p.loss_if_idle),
        "value_unit": p.value_unit,
        "exact": p.exact,
        "gap": r(p.gap),
        "quality": p.quality,
        "estimates": n.notes.iter().chain(&p.estimates).collect::<Vec<_>>(),
        "cautions": p.cautions,
    })
}
