//! `holdfast treatment order|list|show|slurry|decide|release|arrival`: treatments of a voyage.

use std::fmt::Write as _;
use std::path::PathBuf;

use lexopt::{Arg, Parser};
use record::treatment::{TreatmentForecast, TreatmentView};
use record::{Act, UnitId};
use serde_json::{Value, json};
use units::Utc;
use units::math::round_to;
use voyage::{AsOf, Voyage};

use super::check;
use crate::args::usage;
use crate::fail::Fail;
use crate::{files, out};

/// What can be done.
pub const VERBS: [&str; 7] = ["order", "list", "show", "slurry", "decide", "release", "arrival"];

/// A command about the treatments of a voyage.
#[derive(Default)]
pub struct Aboard {
    verb: String,
    names: Vec<String>,
    voyage: Option<PathBuf>,
    schedule: Option<String>,
    calibration: Option<PathBuf>,
    texts: Vec<(&'static str, String)>,
    verified: Option<bool>,
    json: bool,
}

/// Options that take a text.
const TEXTS: [&str; 11] = [
    "who",
    "at",
    "from",
    "to",
    "kind",
    "probe",
    "official",
    "authority",
    "document",
    "eta",
    "remark",
];

/// Reads what stands after the verb; `None` when help is asked for.
pub fn parse(verb: &str, parser: &mut Parser) -> Result<Option<Aboard>, Fail> {
    let mut c = Aboard { verb: verb.to_owned(), ..Aboard::default() };
    while let Some(arg) = parser.next().map_err(usage)? {
        match arg {
            Arg::Long("help") | Arg::Short('h') => return Ok(None),
            Arg::Long("json") => c.json = true,
            Arg::Long("voyage") => c.voyage = Some(parser.value().map_err(usage)?.into()),
            Arg::Long("schedule") => c.schedule = Some(super::text(parser)?),
            Arg::Long("calibration") => c.calibration = Some(parser.value().map_err(usage)?.into()),
            Arg::Long("verified" | "accepted") => c.verified = Some(true),
            Arg::Long("not-verified" | "not-accepted") => c.verified = Some(false),
            Arg::Long(name) => match TEXTS.into_iter().find(|t| *t == name) {
                Some(key) => c.texts.push((key, super::text(parser)?)),
                None => return Err(usage(Arg::Long(name).unexpected())),
            },
            Arg::Value(v) => c.names.push(v.to_string_lossy().into_owned()),
            other @ Arg::Short(_) => return Err(usage(other.unexpected())),
        }
    }
    Ok(Some(c))
}

/// Runs it.
pub fn run(c: &Aboard) -> Result<u8, Fail> {
    let path = files::voyage_path(c.voyage.as_deref());
    let mut v = Voyage::open(&path)?;
    match c.verb.as_str() {
        "list" => return c.list(&v),
        "show" => return c.show(&v),
        "order" => {
            let named = c.needed_schedule()?;
            let from = c.optional_time("from")?;
            v.order_treatment(c.units()?, schedule_text(named)?, from, &c.who(), files::now())?;
        }
        _ => {
            let act = c.act()?;
            let documents = match &c.calibration {
                Some(p) => files::read_all(std::slice::from_ref(p))?,
                None => Vec::new(),
            };
            v.enter(&act, &documents, &c.who(), files::now())?;
        }
    }
    if c.json {
        out::print_json(&json!({ "entered": true }))?;
    } else {
        out::print("entered in the journal")?;
    }
    Ok(0)
}

/// A schedule by the id of one that ships, or a file, as id and text.
fn schedule_text(named: &str) -> Result<(String, String), Fail> {
    let schedule = check::schedule(named)?;
    if let Some(shipped) = treatment::by_id(named) {
        return Ok((schedule.id, shipped.text.to_owned()));
    }
    let file = files::read_all(&[PathBuf::from(named)])?;
    let text = file.first().map(|f| String::from_utf8_lossy(&f.bytes).into_owned());
    Ok((schedule.id, text.unwrap_or_default()))
}

impl Aboard {
    fn get(&self, key: &str) -> Option<&str> {
        self.texts.iter().rev().find(|(k, _)| *k == key).map(|(_, v)| v.as_str())
    }

    fn needed(&self, key: &str) -> Result<String, Fail> {
        self.get(key)
            .map(str::to_owned)
            .filter(|t| !t.trim().is_empty())
            .ok_or_else(|| Fail::refused(format!("treatment {}: --{key} is missing", self.verb)))
    }

    fn optional_time(&self, key: &str) -> Result<Option<Utc>, Fail> {
        let read = |t: &str| {
            Utc::parse(t)
                .map_err(|e| Fail::refused(format!("treatment {}: --{key} \"{t}\" {e}", self.verb)))
        };
        self.get(key).map(read).transpose()
    }

    fn time(&self, key: &str) -> Result<Utc, Fail> {
        self.needed(key)?;
        self.optional_time(key)?.ok_or_else(|| Fail::refused("no time"))
    }

    fn who(&self) -> String {
        files::who(self.get("who"))
    }

    fn needed_schedule(&self) -> Result<&str, Fail> {
        self.schedule.as_deref().ok_or_else(|| {
            Fail::refused(
                "treatment order: --schedule is missing; write a file or the id of one \
                           that ships",
            )
        })
    }

    fn units(&self) -> Result<Vec<UnitId>, Fail> {
        let unit = |n: &String| {
            UnitId::from_text(n).filter(UnitId::has_iso_form).ok_or_else(|| {
                Fail::refused(format!("treatment {}: \"{n}\" is no container number", self.verb))
            })
        };
        let units: Vec<UnitId> = self.names.iter().map(unit).collect::<Result<_, _>>()?;
        if units.is_empty() {
            return Err(Fail::refused(format!("treatment {}: name the container", self.verb)));
        }
        Ok(units)
    }

    fn unit(&self) -> Result<UnitId, Fail> {
        let mut units = self.units()?;
        match (units.pop(), units.is_empty()) {
            (Some(unit), true) => Ok(unit),
            _ => Err(Fail::refused(format!("treatment {}: one container at a time", self.verb))),
        }
    }

    fn decided(&self, words: &str) -> Result<bool, Fail> {
        self.verified
            .ok_or_else(|| Fail::refused(format!("treatment {}: write {words}", self.verb)))
    }

    fn act(&self) -> Result<Act, Fail> {
        Ok(match self.verb.as_str() {
            "slurry" => {
                let path = self.calibration.clone().ok_or_else(|| {
                    Fail::refused("treatment slurry: --calibration FILE.csv is missing")
                })?;
                let mut file = files::read_all(&[path])?;
                let file = file.pop().ok_or_else(|| Fail::refused("no calibration file"))?;
                Act::ProbesCalibrated {
                    unit: self.unit()?,
                    at: self.time("at")?,
                    readings: voyage::read_slurry(&file)?,
                    remark: self.get("remark").unwrap_or_default().to_owned(),
                }
            }
            "decide" => Act::OfficialDecided {
                unit: self.unit()?,
                at: self.time("at")?,
                from_at: self.time("from")?,
                to_at: self.time("to")?,
                kind: self.get("kind").map(str::to_owned),
                probe: self.get("probe").and_then(|p| p.parse().ok()),
                verified: self.decided("--verified or --not-verified")?,
                official: self.needed("official")?,
                authority: self.needed("authority")?,
                document: self.needed("document")?,
            },
            "release" => Act::TreatmentReleased {
                unit: self.unit()?,
                at: self.time("at")?,
                accepted: self.decided("--accepted or --not-accepted")?,
                official: self.needed("official")?,
                authority: self.needed("authority")?,
                document: self.needed("document")?,
            },
            _ => Act::ArrivalExpected {
                port: self.names.first().map(|p| p.to_uppercase()).ok_or_else(|| {
                    Fail::refused("treatment arrival: name the port, for example XXNOR")
                })?,
                eta: self.time("eta")?,
            },
        })
    }

    fn list(&self, v: &Voyage) -> Result<u8, Fail> {
        let all = v.treatments(AsOf::Latest)?;
        if self.json {
            let list: Vec<Value> = all.iter().map(view_json).collect();
            out::print_json(&json!({ "treatments": list }))?;
        } else if all.is_empty() {
            out::print("no cold treatment is ordered; holdfast treatment order")?;
        } else {
            let lines: Vec<String> = all.iter().map(line).collect();
            out::print(format!("{}\n\n{STANDING_ORDER}", lines.join("\n")))?;
        }
        Ok(0)
    }

    fn show(&self, v: &Voyage) -> Result<u8, Fail> {
        let unit = self.unit()?;
        let view = v.treatment(&unit, AsOf::Latest)?.ok_or_else(|| {
            Fail::refused(format!("{unit}: no cold treatment is ordered; holdfast treatment order"))
        })?;
        if self.json {
            out::print_json(&view_json(&view))?;
        } else {
            out::print(whole(&view))?;
        }
        Ok(0)
    }
}

const STANDING_ORDER: &str = "Until an authority releases a box: do not unplug, do not open, do not \
                              change its set point.";

fn line(v: &TreatmentView) -> String {
    let mut s = format!(
        "{:7} {}  {}  {}\n        {}",
        v.state.as_str().to_uppercase(),
        v.unit,
        v.stow.as_deref().unwrap_or("no cell"),
        v.standing.words(),
        v.reason
    );
    let _ = write!(s, "\n        {}", counted(v));
    if !v.action.is_empty() {
        let _ = write!(s, "\n        Do first: {}", v.action);
    }
    s
}

fn counted(v: &TreatmentView) -> String {
    let mut s = format!("{:.0} of {:.0} h counted", v.elapsed_h, v.required_h);
    match (v.time_met_at, v.forecast.as_ref().and_then(|f| f.met_at)) {
        (Some(t), _) => {
            let _ = write!(s, ", time met {} UTC", t.to_minute());
        }
        (None, Some(t)) => {
            let _ = write!(s, ", time met about {} UTC", t.to_minute());
        }
        (None, None) => {}
    }
    if let (Some(p), Some(eta)) = (v.forecast.as_ref().and_then(|f| f.p_before_port), v.eta) {
        let port = v.discharge_port.as_deref().unwrap_or("its port");
        let _ = write!(s, ", before {port} ({} UTC): {}", eta.to_minute(), percent(p));
    }
    if v.rehearsal {
        s.push_str(" (rehearsal)");
    }
    s
}

/// Never 0 % or 100 % for what is only close to it.
fn percent(p: f64) -> String {
    match (100.0 * p).round() {
        w if w < 1.0 => "under 1 %".to_owned(),
        w if w > 99.0 => "over 99 %".to_owned(),
        w => format!("{w:.0} %"),
    }
}

fn whole(v: &TreatmentView) -> String {
    let mut s = format!("{}\n\n{} ({})\n{}\n", line(v), v.title, v.schedule_id, v.evidence);
    for p in v.probes.iter().filter(|p| p.fitted) {
        let c = |x: Option<f64>| x.map_or_else(|| "-".to_owned(), |x| format!("{x:.2}"));
        let _ = writeln!(
            s,
            "probe{}  latest {} °C, warmest {}, left to the limit {} K, heading for {}",
            p.number,
            c(p.latest_c),
            c(p.max_c),
            c(p.margin_k),
            c(p.heading_c)
        );
    }
    for b in &v.breaches {
        let rule = b.paragraph.as_ref().map_or_else(String::new, |p| format!(" [{p}]"));
        let decided = b.decided.as_ref().map_or_else(String::new, |d| format!(" ({d})"));
        let _ = writeln!(
            s,
            "{} {} to {} UTC: {} -> {}{rule}{decided}",
            b.kind,
            b.from_at.to_minute(),
            b.to_at.to_minute(),
            b.words,
            b.effect
        );
    }
    for w in &v.what_if {
        let what = if w.set_point_k == 0.0 {
            format!("arrival moved by {:+.0} h", w.eta_h)
        } else {
            format!("set point lower by {:.1} K", -w.set_point_k)
        };
        let met = w.forecast.met_at.map_or_else(|| "not in sight".to_owned(), Utc::to_minute);
        let port = w
            .forecast
            .p_before_port
            .map_or_else(String::new, |p| format!(", {} before port", percent(p)));
        let _ = writeln!(s, "what if {what}: time met {met}{port}");
    }
    for text in v.beside.iter().chain(&v.warnings) {
        let _ = writeln!(s, "! {text}");
    }
    let _ = write!(s, "\n{STANDING_ORDER}\nOnly an authority accepts a treatment.");
    s
}

fn forecast_json(f: &TreatmentForecast) -> Value {
    let at = |t: Option<Utc>| t.map(|t| t.to_string());
    json!({
        "start_probability": round_to(f.p_start, 4),
        "start_at": at(f.start_at),
        "start_at_p90": f.start_p90.map(|p| p.map(at)),
        "time_met_at": at(f.met_at),
        "time_met_at_p90": f.met_p90.map(at),
        "before_port_probability": f.p_before_port.map(|p| round_to(p, 4)),
        "breach_probability": round_to(f.p_breach, 4),
        "freezing_probability": f.p_freezing.map(|p| round_to(p, 4)),
        "assumes": f.assumes,
    })
}

fn view_json(v: &TreatmentView) -> Value {
    let at = |t: Option<Utc>| t.map(|t| t.to_string());
    let r2 = |x: Option<f64>| x.map(|x| round_to(x, 4));
    json!({
        "unit": v.unit.as_str(),
        "stow": v.stow,
        "cargo": v.cargo,
        "discharge_port": v.discharge_port,
        "eta_at": at(v.eta),
        "schedule": v.schedule_id,
        "title": v.title,
        "rehearsal": v.rehearsal,
        "standing": v.standing.words(),
        "state": v.state.as_str(),
        "reason": v.reason,
        "action": v.action,
        "released_at": at(v.released_at),
        "started_at": at(v.started_at),
        "time_met_at": at(v.time_met_at),
        "elapsed_h": round_to(v.elapsed_h, 4),
        "required_h": round_to(v.required_h, 4),
        "remaining_h": round_to(v.remaining_h, 4),
        "planning_restart_at": at(v.planning_restart_at),
        "planning_finish_at": at(v.planning_finish_at),
        "restarts": v.restarts,
        "probes": v.probes.iter().map(|p| json!({
            "probe": format!("probe{}", p.number),
            "fitted": p.fitted,
            "acceptable": p.acceptable,
            "latest_c": r2(p.latest_c),
            "margin_k": r2(p.margin_k),
            "max_c": r2(p.max_c),
            "min_c": r2(p.min_c),
            "heading_c": r2(p.heading_c),
            "heading_c_p90": p.heading_c_p90.map(|p| p.map(|x| round_to(x, 4))),
        })).collect::<Vec<_>>(),
        "breaches": v.breaches.iter().map(|b| json!({
            "kind": b.kind,
            "probe": b.probe.map(|p| format!("probe{p}")),
            "from_at": b.from_at.to_string(),
            "to_at": b.to_at.to_string(),
            "worst_c": b.worst_c,
            "effect": b.effect,
            "rule": b.paragraph,
            "decided": b.decided,
        })).collect::<Vec<_>>(),
        "forecast": v.forecast.as_ref().map(forecast_json),
        "what_if": v.what_if.iter().map(|w| json!({
            "set_point_k": w.set_point_k,
            "eta_moved_h": w.eta_h,
            "forecast": forecast_json(&w.forecast),
        })).collect::<Vec<_>>(),
        "beside_the_record": v.beside,
        "warnings": v.warnings,
    })
}
