//! `holdfast power`: what the boxes draw, what the plant has left, and the order of a restart.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use lexopt::{Arg, Parser, ValueExt};
use plans::plant::Demand;
use record::{Act, PlanAct, WeatherPoint};
use serde_json::{Value, json};
use units::math::round_to;
use voyage::{AsOf, NamedBytes, PowerAhead, PowerView, RestartView};

use crate::args::{Command, Invocation, usage};
use crate::fail::Fail;
use crate::{files, out};

/// `holdfast power --help`
pub const HELP: &str = "\
holdfast power [--restart] [--plant FILE.toml] [--weather FILE.csv] [--keep [--who NAME]]
               [--voyage FILE] [--as-of latest|now|TIME] [--json] [--out FILE.pdf]

What all boxes draw with its 90 % interval, by bay, feeder and in sum, from their own readings, now
and for three days ahead; what a box without a power reading draws is an estimate and said to be
one. Where the plant is stated: the margin of the generators on the board, what would bring room,
feeders against their breakers, the air of holds. No diversity factor is invented.
--restart   the order in which the boxes come back when all lost power now: within every limit,
            so that the least is lost, with the latest safe time of each box
--weather   what is expected on the route: time_utc,ambient_c and, where known, sun (0 to 1); where
            nothing is stated the ambient read in the last three days is taken again
--keep      --plant and --weather stand in the voyage from now on
--out       the same on paper, with its picture: the load, or with --restart the whole order; signed
--plant     the generators, a file like this:
              other_kw = 1400            # everything but the boxes, read from the board
              reserve_share = 0.85       # or largest_lost = 0.95
              [[generator]]
              name = \"DG1\"
              rated_kw = 2300
              rated_kva = 2875
              online = true
              step_share = 0.3           # largest load in one step, from the maker
              [[feeder]]
              name = \"FP1\"
              bays = [1, 2, 3, 5, 6, 7]
              limit_kva = 500            # inrush_limit_kva where known
              [[hold]]
              name = \"hold 1\"
              bays = [1, 2, 3]
              air_m3_h = 60000

It advises. The chief engineer and the engine room decide; before anything is switched on again the
cause of the blackout is known.

example: holdfast power --restart --voyage demo.holdfast --plant plant.toml";

/// Boxes shown of a restart; the JSON has all.
const SHOWN: usize = 40;

/// Options.
pub struct Power {
    restart: bool,
    plant: Option<PathBuf>,
    weather: Option<PathBuf>,
    keep: bool,
    who: Option<String>,
    out: Option<PathBuf>,
    voyage: Option<PathBuf>,
    as_of: AsOf,
    json: bool,
}

/// Reads what stands after `power`.
pub fn parse(parser: &mut Parser) -> Result<Invocation, Fail> {
    let mut c = Power {
        restart: false,
        plant: None,
        weather: None,
        keep: false,
        who: None,
        out: None,
        voyage: None,
        as_of: AsOf::Latest,
        json: false,
    };
    while let Some(arg) = parser.next().map_err(usage)? {
        match arg {
            Arg::Long("help") | Arg::Short('h') => return Ok(Invocation::Help(HELP)),
            Arg::Long("json") => c.json = true,
            Arg::Long("restart") => c.restart = true,
            Arg::Long("plant") => c.plant = Some(parser.value().map_err(usage)?.into()),
            Arg::Long("weather") => c.weather = Some(parser.value().map_err(usage)?.into()),
            Arg::Long("keep") => c.keep = true,
            Arg::Long("who") => {
                c.who = Some(parser.value().and_then(ValueExt::string).map_err(usage)?);
            }
            Arg::Long("out") => c.out = Some(parser.value().map_err(usage)?.into()),
            Arg::Long("voyage") => c.voyage = Some(parser.value().map_err(usage)?.into()),
            Arg::Long("as-of") => c.as_of = super::repair::as_of(parser)?,
            other => return Err(usage(other.unexpected())),
        }
    }
    Ok(Invocation::Run(Command::Power(c)))
}

/// Shows it.
pub fn run(c: &Power) -> Result<u8, Fail> {
    let plant_file = c.plant.as_deref().map(one_file).transpose()?;
    let plant = plant_file.as_ref().map(voyage::read_plant).transpose()?;
    let weather = c.weather.as_deref().map(weather).transpose()?;
    if c.keep && plant.is_none() && weather.is_none() {
        return Err(Fail::refused("power: --keep needs --plant or --weather; see power --help"));
    }
    let mut v = files::open_voyage(c.voyage.as_deref())?;
    if c.keep {
        let who = files::who(c.who.as_deref());
        if let Some(file) = &plant_file {
            let file = String::from_utf8_lossy(&file.bytes).into_owned();
            let act = Act::Plan(Box::new(PlanAct::Plant { file }));
            v.enter(&act, &[], &who, files::now())?;
        }
        if let (Some(points), Some(path)) = (&weather, &c.weather) {
            let source = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
            let act = PlanAct::Weather { points: points.clone(), source };
            v.enter(&Act::Plan(Box::new(act)), &[], &who, files::now())?;
        }
    }
    let list = v.watch(c.as_of)?;
    let head = super::watch::as_of(&list, c.as_of) + "\n";
    let loads = v.loads(&list, plant.as_ref())?;
    if c.restart {
        let view = v.restart(&loads)?;
        if let Some(path) = &c.out {
            super::paper(&mut v, c.who.as_deref(), path, |press| press.restart(&view))?;
        }
        if c.json {
            out::print_json(&restart_json(&view))?
        } else {
            out::print(head + &restart_text(&view))?
        }
    } else {
        let view = v.power(&loads, weather.as_deref())?;
        if let Some(path) = &c.out {
            super::paper(&mut v, c.who.as_deref(), path, |press| press.load(&view))?;
        }
        if c.json {
            out::print_json(&power_json(&view))?
        } else {
            out::print(head + &power_text(&view))?
        }
    }
    Ok(0)
}

fn one_file(path: &Path) -> Result<NamedBytes, Fail> {
    let mut read = files::read_all(&[path.to_path_buf()])?;
    read.pop().ok_or_else(|| Fail::refused("no file was named"))
}

/// The weather file. One bad row refuses it: a forecast with a hole in it is soon misread.
fn weather(path: &Path) -> Result<Vec<WeatherPoint>, Fail> {
    let file = one_file(path)?;
    let (points, refused) =
        voyage::read_weather(&file.name, &file.bytes).map_err(|e| Fail::refused(e.to_string()))?;
    match refused.first() {
        Some(r) => Err(Fail::refused(format!("{}:{}: {}; correct it", r.file, r.line, r.why))),
        None if points.is_empty() => {
            Err(Fail::refused(format!("{}: no row of weather in it", file.name)))
        }
        None => Ok(points),
    }
}

fn power_text(v: &PowerView) -> String {
    let d = &v.demand;
    let mut s = String::new();
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
        let _ = writeln!(s, "  {}", r.what);
    }
    ahead_text(&mut s, v);
    let _ = writeln!(s);
    for f in &v.feeders {
        let d = &f.load.demand;
        let over = if d.mean_kva > f.limit_kva { "  OVER ITS LIMIT" } else { "" };
        let _ = writeln!(
            s,
            "{}  {:3} boxes  {:6.0} kVA of {:.0}, {:.0} kVA if all ran at once{over}",
            f.load.group, d.boxes, d.mean_kva, f.limit_kva, d.all_at_once_kva
        );
    }
    for h in &v.holds {
        let _ = writeln!(s, "{}", h.words);
    }
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

/// The hours ahead in one paragraph: the hottest, and where the margin ends.
fn ahead_text(s: &mut String, v: &PowerView) {
    let Some(hot) = v.hottest() else { return };
    let _ = writeln!(
        s,
        "most ahead: {:.0} kW (90 % {:.0} to {:.0}) at {} UTC, {:.0} °C outside",
        hot.demand.mean_kw,
        hot.demand.kw_p90[0],
        hot.demand.kw_p90[1],
        hot.at.to_minute(),
        hot.weather.ambient_c
    );
    let short = |p: &&PowerAhead| p.margin.as_ref().is_some_and(|m| m.margin_high_kw < 0.0);
    if let Some(first) = v.ahead.iter().find(short) {
        let _ = writeln!(
            s,
            "SHORT from about {} UTC at the high end of the interval: plan a further set",
            first.at.to_minute()
        );
    }
}

fn restart_text(v: &RestartView) -> String {
    let r = &v.restart;
    let mut s = String::new();
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
        map.insert("feeders".into(), feeders_json(v));
        map.insert("ahead".into(), v.ahead.iter().map(ahead_json).collect());
        map.insert("holds".into(), holds_json(v));
        let reliefs = v.reliefs.iter().map(|x| json!({"what": x.what, "gain_kw": r(x.gain_kw)}));
        map.insert("reliefs".into(), Value::Array(reliefs.collect()));
        map.insert("estimates".into(), json!(v.notes));
    }
    out
}

fn feeders_json(v: &PowerView) -> Value {
    let one = |f: &voyage::FeederLoad| {
        let mut out = demand_json(&f.load.demand);
        if let Some(m) = out.as_object_mut() {
            m.insert("feeder".into(), json!(f.load.group));
            m.insert("limit_kva".into(), json!(f.limit_kva));
        }
        out
    };
    v.feeders.iter().map(one).collect()
}

fn ahead_json(p: &PowerAhead) -> Value {
    let r = |x: f64| round_to(x, 2);
    json!({
        "at": p.at.to_string(),
        "ambient_c": r(p.weather.ambient_c),
        "sun": r(p.weather.sun),
        "demand_kw": r(p.demand.mean_kw),
        "demand_kw_p90": p.demand.kw_p90.map(r),
        "margin_kw": p.margin.as_ref().map(|m| r(m.margin_kw)),
        "margin_high_kw": p.margin.as_ref().map(|m| r(m.margin_high_kw)),
    })
}

fn holds_json(v: &PowerView) -> Value {
    let r = |x: f64| round_to(x, 2);
    let one = |h: &plans::hold::HoldState| {
        json!({
            "hold": h.name,
            "heat_kw": r(h.heat_kw),
            "air_c": h.air_c.map(r),
            "air_c_p90": h.air_c_p90.map(|p| p.map(r)),
            "air_needed_m3_h": h.air_needed_m3_h.map(r),
            "at_risk": h.at_risk,
            "words": h.words,
            "estimates": h.estimates,
        })
    };
    v.holds.iter().map(one).collect()
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
