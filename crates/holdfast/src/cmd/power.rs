//! `holdfast power`: what the boxes draw, what the plant has left, and the order of a restart.

use std::fmt::Write as _;
use std::path::PathBuf;

use lexopt::{Arg, Parser};
use plans::plant::Demand;
use serde_json::{Value, json};
use units::Utc;
use units::math::round_to;
use voyage::{AsOf, PowerView, RestartView};

use crate::args::{Command, Invocation, usage};
use crate::fail::Fail;
use crate::{files, out};

/// `holdfast power --help`
pub const HELP: &str = "\
holdfast power [--restart] [--plant FILE.toml] [--voyage FILE] [--as-of latest|now|TIME] [--json]

What all boxes draw with its 90 % interval, by bay and in sum, from their own readings; what a box
without a power reading draws is an estimate and said to be one. With --plant: the margin of the
generators on the board, and what would bring room. No diversity factor is invented.
--restart   the order in which the boxes come back when all lost power now: within every limit,
            so that the least is lost, with the latest safe time of each box
--plant     the generators, a file like this:
              other_kw = 1400            # everything but the boxes, read from the board
              reserve_share = 0.85       # or largest_lost = 0.95
              [[generator]]
              name = \"DG1\"
              rated_kw = 2300
              rated_kva = 2875
              online = true
              step_share = 0.3           # largest load in one step, from the maker

It advises. The chief engineer and the engine room decide; before anything is switched on again the
cause of the blackout is known.

example: holdfast power --restart --voyage demo.holdfast --plant plant.toml";

/// Boxes shown of a restart; the JSON has all.
const SHOWN: usize = 40;

/// Options.
pub struct Power {
    restart: bool,
    plant: Option<PathBuf>,
    voyage: Option<PathBuf>,
    as_of: AsOf,
    json: bool,
}

/// Reads what stands after `power`.
pub fn parse(parser: &mut Parser) -> Result<Invocation, Fail> {
    let mut c =
        Power { restart: false, plant: None, voyage: None, as_of: AsOf::Latest, json: false };
    while let Some(arg) = parser.next().map_err(usage)? {
        match arg {
            Arg::Long("help") | Arg::Short('h') => return Ok(Invocation::Help(HELP)),
            Arg::Long("json") => c.json = true,
            Arg::Long("restart") => c.restart = true,
            Arg::Long("plant") => c.plant = Some(parser.value().map_err(usage)?.into()),
            Arg::Long("voyage") => c.voyage = Some(parser.value().map_err(usage)?.into()),
            Arg::Long("as-of") => c.as_of = super::repair::as_of(parser)?,
            other => return Err(usage(other.unexpected())),
        }
    }
    Ok(Invocation::Run(Command::Power(c)))
}

/// Shows it.
pub fn run(c: &Power) -> Result<u8, Fail> {
    let plant = match &c.plant {
        Some(path) => {
            let mut file = files::read_all(std::slice::from_ref(path))?;
            let file = file.pop().ok_or_else(|| Fail::refused("no plant file"))?;
            Some(voyage::read_plant(&file)?)
        }
        None => None,
    };
    let v = files::open_voyage(c.voyage.as_deref())?;
    if c.restart {
        let view = v.restart(c.as_of, plant.as_ref())?;
        if c.json {
            out::print_json(&restart_json(&view))?
        } else {
            out::print(restart_text(&view))?
        }
    } else {
        let view = v.power(c.as_of, plant.as_ref())?;
        if c.json { out::print_json(&power_json(&view))? } else { out::print(power_text(&view))? }
    }
    Ok(0)
}

fn head(at: Option<Utc>) -> String {
    format!("as of {} UTC\n", at.map_or_else(|| "nothing read yet".to_owned(), Utc::to_minute))
}

fn power_text(v: &PowerView) -> String {
    let d = &v.demand;
    let mut s = head(v.at);
    let _ = writeln!(
        s,
        "{} boxes draw {:.0} kW (90 % {:.0} to {:.0} kW), {:.0} kVA; {:.0} kW if all ran at once",
        d.boxes, d.mean_kw, d.kw_p90[0], d.kw_p90[1], d.mean_kva, d.all_at_once_kw
    );
    if let Some(m) = &v.margin {
        let _ = writeln!(s, "{}", m.words);
        let _ = writeln!(
            s,
            "left: {:.0} kW in the mean, {:.0} kW at the high end, {:.0} kW with all at once",
            m.margin_kw, m.margin_high_kw, m.margin_all_at_once_kw
        );
    }
    for r in &v.reliefs {
        let _ = writeln!(s, "  {}: {:+.0} kW", r.what, r.gain_kw);
    }
    let _ = writeln!(s);
    for b in &v.bays {
        let _ = writeln!(
            s,
            "{}  {:3} boxes  {:6.1} kW ({:.0} to {:.0})",
            b.group, b.demand.boxes, b.demand.mean_kw, b.demand.kw_p90[0], b.demand.kw_p90[1]
        );
    }
    let estimates = v.margin.iter().flat_map(|m| &m.estimates);
    for note in v.notes.iter().chain(estimates) {
        let _ = writeln!(s, "! {note}");
    }
    s.trim_end().to_owned()
}

fn restart_text(v: &RestartView) -> String {
    let r = &v.restart;
    let mut s = head(v.at);
    for c in &r.cautions {
        let _ = writeln!(s, "CAUTION: {c}");
    }
    let _ = writeln!(s, "\n{}\n", r.words);
    for start in r.starts.iter().take(SHOWN) {
        let cell = v.cells.iter().find(|(id, _)| *id == start.id).map_or("", |(_, c)| c.as_str());
        let when =
            start.hour.map_or_else(|| "not at all".to_owned(), |h| format!("{:.0} min", 60.0 * h));
        let safe =
            start.safe_until_h.map_or_else(String::new, |h| format!(", safe until {h:.1} h"));
        let _ = writeln!(s, "{when:>10}  {}  {cell}{safe}\n            {}", start.id, start.why);
    }
    if r.starts.len() > SHOWN {
        let _ = writeln!(s, "… and {} more; --json lists all", r.starts.len() - SHOWN);
    }
    for note in v.notes.iter().chain(&r.estimates) {
        let _ = writeln!(s, "! {note}");
    }
    s.trim_end().to_owned()
}

fn demand_json(d: &Demand) -> Value {
    let r = |x: f64| round_to(x, 2);
    json!({
        "boxes": d.boxes,
        "demand_kw": r(d.mean_kw),
        "demand_kw_p90": d.kw_p90.map(r),
        "demand_kva": r(d.mean_kva),
        "all_at_once_kw": r(d.all_at_once_kw),
        "estimated_boxes": d.estimated_boxes,
    })
}

fn power_json(v: &PowerView) -> Value {
    let r = |x: f64| round_to(x, 2);
    let mut out = demand_json(&v.demand);
    if let Some(map) = out.as_object_mut() {
        map.insert("as_of_at".into(), json!(v.at.map(|t| t.to_string())));
        let bays = v.bays.iter().map(|b| {
            let mut one = demand_json(&b.demand);
            if let Some(m) = one.as_object_mut() {
                m.insert("bay".into(), json!(b.group));
            }
            one
        });
        map.insert("bays".into(), Value::Array(bays.collect()));
        map.insert(
            "margin".into(),
            v.margin.as_ref().map_or(Value::Null, |m| {
                json!({
                    "sets_online": m.sets_online,
                    "allowed_kw": r(m.allowed_kw),
                    "load_kw": r(m.load_kw),
                    "load_kw_p90": m.load_kw_p90.map(r),
                    "margin_kw": r(m.margin_kw),
                    "margin_high_kw": r(m.margin_high_kw),
                    "margin_all_at_once_kw": r(m.margin_all_at_once_kw),
                    "step_kw": r(m.step_kw.value),
                    "words": m.words,
                })
            }),
        );
        let reliefs = v.reliefs.iter().map(|x| json!({"what": x.what, "gain_kw": r(x.gain_kw)}));
        map.insert("reliefs".into(), Value::Array(reliefs.collect()));
        map.insert("estimates".into(), json!(v.notes));
    }
    out
}

fn restart_json(v: &RestartView) -> Value {
    let r = |x: f64| round_to(x, 4);
    let restart = &v.restart;
    json!({
        "as_of_at": v.at.map(|t| t.to_string()),
        "starts": restart.starts.iter().map(|s| json!({
            "unit": s.id,
            "cell": v.cells.iter().find(|(id, _)| *id == s.id).map(|(_, c)| c),
            "feeder": s.feeder,
            "step": s.step,
            "start_h": s.hour.map(r),
            "safe_until_h": s.safe_until_h.map(r),
            "loss": r(s.loss),
            "why": s.why,
        })).collect::<Vec<_>>(),
        "stair": restart.stair.iter().map(|p| json!({
            "hour_h": r(p.hour),
            "started": p.started,
            "load_kw": r(p.kw),
            "limit_kw": r(p.limit_kw),
            "step_kw": r(p.step_kw),
            "limit_step_kw": r(p.limit_step_kw),
        })).collect::<Vec<_>>(),
        "loss": r(restart.loss),
        "loss_if_none": r(restart.loss_if_none),
        "exact": restart.exact,
        "gap": r(restart.gap),
        "done_h": restart.done_at_h.map(r),
        "left_off": restart.left_off,
        "words": restart.words,
        "estimates": v.notes.iter().chain(&restart.estimates).collect::<Vec<_>>(),
        "cautions": restart.cautions,
    })
}
