//! `holdfast repair plan`: who repairs what first.

use std::fmt::Write as _;
use std::path::PathBuf;

use lexopt::{Arg, Parser, ValueExt};
use plans::repair::{Lane, SpanKind};
use serde_json::{Value, json};
use units::Utc;
use units::math::round_to;
use voyage::{AsOf, NightPlan};

use crate::args::{Command, Invocation, usage};
use crate::fail::Fail;
use crate::{files, out};

/// `holdfast repair --help`
pub const HELP: &str = "\
holdfast repair plan --people N [--name NAME…] [--voyage FILE] [--as-of latest|now|TIME] [--json]

Which box needs hands first, and who goes where, so that the least cargo is expected to be lost:
hours to each limit with their spread, ways between bays and tiers, repair times with their spread.
Proved best for up to a dozen boxes; beyond, it says how far from the best it may be.
--people       how many go out, 1 to 9
--name         their names, in order

The plan advises. Permit to work, ship's procedures and the chief engineer decide.

example: holdfast repair plan --people 2 --voyage demo.holdfast";

/// Most people planned for.
const PEOPLE_MAX: usize = 9;

/// Options.
pub struct Repair {
    people: usize,
    names: Vec<String>,
    voyage: Option<PathBuf>,
    as_of: AsOf,
    json: bool,
}

/// Reads what stands after `repair`.
pub fn parse(parser: &mut Parser) -> Result<Invocation, Fail> {
    let mut c =
        Repair { people: 0, names: Vec::new(), voyage: None, as_of: AsOf::Latest, json: false };
    let mut verb = None;
    while let Some(arg) = parser.next().map_err(usage)? {
        match arg {
            Arg::Long("help") | Arg::Short('h') => return Ok(Invocation::Help(HELP)),
            Arg::Long("json") => c.json = true,
            Arg::Long("people") => {
                let text = parser.value().and_then(ValueExt::string).map_err(usage)?;
                c.people = text.parse().ok().filter(|n| (1..=PEOPLE_MAX).contains(n)).ok_or_else(
                    || {
                        Fail::refused(format!(
                            "--people \"{text}\": write a number from 1 to {PEOPLE_MAX}"
                        ))
                    },
                )?;
            }
            Arg::Long("name") => {
                c.names.push(parser.value().and_then(ValueExt::string).map_err(usage)?);
            }
            Arg::Long("voyage") => c.voyage = Some(parser.value().map_err(usage)?.into()),
            Arg::Long("as-of") => c.as_of = as_of(parser)?,
            Arg::Value(v) if verb.is_none() => verb = Some(v.to_string_lossy().into_owned()),
            other => return Err(usage(other.unexpected())),
        }
    }
    if verb.as_deref() != Some("plan") {
        return Err(Fail::refused("repair: write holdfast repair plan --people N"));
    }
    if c.people == 0 {
        return Err(Fail::refused("repair plan: --people is missing; write how many go out"));
    }
    Ok(Invocation::Run(Command::Repair(c)))
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

/// Shows the plan.
pub fn run(c: &Repair) -> Result<u8, Fail> {
    let v = files::open_voyage(c.voyage.as_deref())?;
    let people: Vec<String> = (0..c.people)
        .map(|i| c.names.get(i).cloned().unwrap_or_else(|| format!("person {}", i + 1)))
        .collect();
    let plan = v.repair_plan(&people, c.as_of)?;
    if c.json {
        out::print_json(&plan_json(&plan))?;
    } else {
        out::print(text(&plan))?;
    }
    Ok(0)
}

fn text(n: &NightPlan) -> String {
    let p = &n.plan;
    let mut s = format!(
        "as of {} UTC\n",
        n.at.map_or_else(|| "nothing read yet".to_owned(), Utc::to_minute)
    );
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
        "\nexpected loss {:.2} {} (90 % {low:.2} to {high:.2}); {:.2} if nobody goes\n{}",
        p.expected_loss, p.value_unit, p.loss_if_idle, p.quality
    );
    for note in n.notes.iter().chain(&p.estimates) {
        let _ = writeln!(s, "! {note}");
    }
    s.trim_end().to_owned()
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
