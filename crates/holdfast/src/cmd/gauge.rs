//! `holdfast gauge`

use std::fmt::Write as _;
use std::io::Read as _;
use std::path::{Path, PathBuf};

use circuit::derived::{KEYS, WORDS};
use circuit::reading::Value as Field;
use circuit::{Card, Diagnosis, FaultShare, Input, Pair};
use lexopt::{Arg, Parser, ValueExt};
use record::{Act, GaugesRead, UnitId};
use serde_json::{Map, Value, json};
use units::Utc;
use units::math::round_to;
use voyage::{Voyage, has_come};
use web::pages::gauges::{as_told, judged, rests_line};

use crate::args::{Command, Invocation, usage};
use crate::fail::Fail;
use crate::{files, out};

/// Options of `gauge`.
#[derive(Default)]
pub struct Gauge {
    /// File of readings; `-` is standard input.
    pub input: PathBuf,
    /// More machine cards.
    pub cards: Vec<PathBuf>,
    /// Whose earlier sound readings count.
    unit: Option<UnitId>,
    /// Whether readings and answer are kept.
    keep: bool,
    who: Option<String>,
    at: Option<Utc>,
    voyage: Option<PathBuf>,
    /// JSON on standard output.
    pub json: bool,
}

/// `holdfast gauge --help`
pub const HELP: &str = "\
holdfast gauge --input FILE.json|- [--card FILE.toml]... [--json]
               [--unit UNIT | --keep UNIT [--who NAME] [--at TIME]] [--voyage FILE]

What gauges and thermometers say about a circuit: superheat, subcooling, condenser split, each
with its 90 % interval; how probable each fault is, with reasons; what to measure next. Every
reading may be missing but the fluid and one pressure. Keys of the input:
  fluid machine mode (chilled|frozen) set_point_c compressor_on barometer_kpa
  suction_kpag discharge_kpag liquid_kpag        gauges: above the barometer, not absolute
  suction_line_c compressor_in_c discharge_line_c liquid_line_c condenser_out_c    pipes
  supply_c return_c ambient_c current_a
  gauge_class_low gauge_class_high gauge_span_low_kpa gauge_span_high_kpa thermometer_k
  baseline       a list of earlier readings of this unit when it was sound: sharpens the answer
--unit         rest also on earlier readings of this box in the voyage file that were judged sound
--keep         the same, and keep readings and answer in the voyage file, with --who, read at --at
suction_kpag at the compressor; suction_line_c at the valve's bulb; liquid_* after the drier;
condenser_out_c before the receiver. machine names a card: generic-40ft-r134a,
generic-40ft-r404a, or the id of a card given with --card. Without it only usual directions are
judged. Read after 15 minutes of steady running at full capacity. compressor_on false: a standing
circuit or cylinder, one pressure and liquid_line_c or ambient_c.

440 V, rotating fans, hot pipes, gas under pressure: maker's instructions and the ship's
procedures first. Suspected counterfeit gas: stop, do not open.

example: echo '{\"fluid\":\"R134a\",\"machine\":\"generic-40ft-r134a\",\"suction_kpag\":126,
           \"discharge_kpag\":1339,\"suction_line_c\":2,\"liquid_line_c\":49,\"return_c\":8,
           \"supply_c\":1.2,\"ambient_c\":38}' | holdfast gauge --input -";

/// Reads the options.
pub fn parse(parser: &mut Parser) -> Result<Invocation, Fail> {
    let mut input: Option<PathBuf> = None;
    let mut c = Gauge::default();
    while let Some(arg) = parser.next().map_err(usage)? {
        match arg {
            Arg::Long("help") | Arg::Short('h') => return Ok(Invocation::Help(HELP)),
            Arg::Long("json") => c.json = true,
            Arg::Long("input") => input = Some(parser.value().map_err(usage)?.into()),
            Arg::Long("card") => c.cards.push(parser.value().map_err(usage)?.into()),
            Arg::Long("unit") => c.unit = Some(unit(&text_of(parser)?)?),
            Arg::Long("keep") => {
                c.unit = Some(unit(&text_of(parser)?)?);
                c.keep = true;
            }
            Arg::Long("who") => c.who = Some(text_of(parser)?),
            Arg::Long("at") => {
                let text = text_of(parser)?;
                let at = Utc::parse(&text)
                    .map_err(|e| Fail::refused(format!("--at: \"{text}\" {e}")))?;
                c.at = Some(at);
            }
            Arg::Long("voyage") => c.voyage = Some(parser.value().map_err(usage)?.into()),
            other => return Err(usage(other.unexpected())),
        }
    }
    c.input = input.ok_or_else(|| {
        Fail::refused(
            "gauge: name the readings: --input FILE.json, or --input - for standard input",
        )
    })?;
    if !c.keep && (c.who.is_some() || c.at.is_some()) {
        return Err(Fail::refused("gauge: --who and --at go with --keep UNIT"));
    }
    Ok(Invocation::Run(Command::Gauge(c)))
}

fn text_of(parser: &mut Parser) -> Result<String, Fail> {
    parser.value().and_then(ValueExt::string).map_err(usage)
}

fn unit(text: &str) -> Result<UnitId, Fail> {
    UnitId::from_text(text)
        .filter(UnitId::has_iso_form)
        .ok_or_else(|| Fail::refused(format!("\"{text}\" is no container number")))
}

/// Diagnoses one set of readings.
pub fn run(c: &Gauge) -> Result<u8, Fail> {
    let more = c.cards.iter().map(|p| read_card(p)).collect::<Result<Vec<Card>, Fail>>()?;
    // A card given by hand goes before an embedded one of the same id.
    let cards: Vec<&Card> = more.iter().chain(Card::embedded()).collect();
    let (mut input, given) = read_input(&c.input)?;
    let mut voyage = match &c.unit {
        Some(_) => Some(files::open_voyage(c.voyage.as_deref())?),
        None => None,
    };
    let held = voyage.as_ref().zip(c.unit.as_ref());
    let earlier = held.and_then(|(v, u)| v.acts().gauges.get(u).cloned()).unwrap_or_default();
    let (d, rests_on) = judged(&mut input, &earlier, &cards)
        .map_err(|e| Fail::refused(format!("{}: {e}", name(&c.input))))?;
    if let (true, Some(v), Some(unit)) = (c.keep, &mut voyage, &c.unit) {
        keep(c, v, as_told(&d, &rests_on, given, unit.clone(), c.at.unwrap_or_else(files::now)))?;
    }
    let wrong = voyage.as_ref().map_or_else(Vec::new, |v| {
        v.instruments_wrong(&voyage::instrument_state::ON_GAUGES, files::now())
    });
    if c.json {
        let mut answer = as_json(&d);
        if let (Value::Object(map), true) = (&mut answer, c.unit.is_some()) {
            let times: Vec<String> = rests_on.iter().map(|t| t.to_minute()).collect();
            map.insert("rests_on".into(), json!(times));
            map.insert("kept".into(), json!(c.keep));
            map.insert("instruments".into(), json!(wrong));
        }
        out::print_json(&answer)?
    } else {
        let mut t = out::instruments_wrong(&wrong) + &text(&input, &d);
        if let Some(line) = rests_line(&rests_on) {
            let _ = write!(t, "\n\n{line}");
        }
        if c.keep {
            t += "\n\nKept in the voyage file.";
        }
        out::print(t)?
    }
    Ok(0)
}

fn keep(c: &Gauge, v: &mut Voyage, read: GaugesRead) -> Result<(), Fail> {
    has_come("gauge: --at", read.at, files::now()).map_err(Fail::refused)?;
    v.enter(&Act::GaugesRead(Box::new(read)), &[], &files::who(c.who.as_deref()), files::now())?;
    Ok(())
}

fn name(path: &Path) -> String {
    if path == Path::new("-") { "standard input".into() } else { path.display().to_string() }
}

fn bytes(path: &Path) -> Result<Vec<u8>, Fail> {
    let mut bytes = Vec::new();
    let read = if path == Path::new("-") {
        std::io::stdin().lock().read_to_end(&mut bytes).map(|_| ())
    } else {
        std::fs::read(path).map(|b| bytes = b)
    };
    read.map_err(|e| Fail::refused(format!("{}: {e}; check the name and try again", name(path))))?;
    Ok(bytes)
}

fn utf8(path: &Path) -> Result<String, Fail> {
    String::from_utf8(bytes(path)?)
        .map_err(|_| Fail::refused(format!("{}: not a text file (UTF-8)", name(path))))
}

fn read_card(path: &Path) -> Result<Card, Fail> {
    Card::from_toml(&utf8(path)?).map_err(|e| Fail::refused(format!("{}: {e}", path.display())))
}

/// The readings, and the same as the text that the journal keeps (without a baseline: it holds
/// the earlier readings itself).
fn read_input(path: &Path) -> Result<(Input, String), Fail> {
    let refuse = |what: String| Fail::refused(format!("{}: {what}", name(path)));
    let value: Value = serde_json::from_str(utf8(path)?.trim_start_matches('\u{feff}'))
        .map_err(|e| refuse(format!("no JSON: {e}; holdfast gauge --help shows an example")))?;
    let Value::Object(mut map) = value else {
        return Err(refuse("one group of readings in braces is wanted, { ... }".into()));
    };
    let mut input = Input::default();
    fill(&mut input, &map).map_err(refuse)?;
    map.remove("baseline");
    Ok((input, Value::Object(map).to_string()))
}

fn fill(input: &mut Input, map: &Map<String, Value>) -> Result<(), String> {
    for (key, value) in map {
        if key == "baseline" {
            continue;
        }
        input.put(key, &field(value)).map_err(|e| e.to_string())?;
    }
    let list = match map.get("baseline") {
        None | Some(Value::Null) => return Ok(()),
        Some(Value::Array(list)) => list,
        Some(_) => return Err("baseline: a list of readings is wanted, [ {...}, ... ]".into()),
    };
    for (i, one) in list.iter().enumerate() {
        let at = |e: String| format!("baseline entry {}: {e}", i + 1);
        let Value::Object(one) = one else {
            return Err(at("one group of readings in braces is wanted".into()));
        };
        // The same unit, the same instruments unless said.
        let mut earlier = Input {
            baseline: Vec::new(),
            mode: None,
            set_point_c: None,
            readings: Default::default(),
            barometer_kpa: None,
            ..input.clone()
        };
        fill(&mut earlier, one).map_err(at)?;
        input.baseline.push(earlier);
    }
    Ok(())
}

fn field(value: &Value) -> Field {
    match value {
        Value::Null => Field::Null,
        Value::Bool(b) => Field::Flag(*b),
        Value::Number(n) => n.as_f64().map_or(Field::Other, Field::Number),
        Value::String(t) => Field::Text(t.clone()),
        _ => Field::Other,
    }
}

fn as_json(d: &Diagnosis) -> Value {
    let mut derived = Map::new();
    for key in KEYS {
        let e = d.derived.get(key);
        let value = e.map_or(Value::Null, |e| json!(round_to(e.value, 4)));
        derived.insert(key.into(), value);
        let p90 = e.map_or(Value::Null, |e| json!(e.p90.map(|v| round_to(v, 4))));
        derived.insert(format!("{key}_p90"), p90);
    }
    let next = d.next.iter().map(|n| {
        json!({
            "measure": n.measure,
            "gain_bits": round_to(n.gain_bits, 4),
            "worth_bits": round_to(n.worth_bits, 4),
            "trouble": n.trouble,
            "how": n.how,
        })
    });
    json!({
        "derived": derived,
        "faults": d.faults.iter().map(fault_json).collect::<Vec<_>>(),
        "next": next.collect::<Vec<_>>(),
        "cautions": d.cautions,
        "combinations": d.pairs.iter().map(pair_json).collect::<Vec<_>>(),
        "cannot_tell_apart": d.alike,
        "questions": d.questions,
        "mode": d.mode.map(circuit::Mode::as_str),
        "full_capacity": d.mode.map(|_| !d.modulated),
        "machine": d.machine,
    })
}

/// Two faults at once, beside the single ones (contract §4, fine print 6).
fn pair_json(p: &Pair) -> Value {
    json!({
        "faults": p.faults.map(circuit::Fault::id),
        "probability": round_to(p.probability, 4),
        "severities": p.severities.map(|s| round_to(s, 3)),
    })
}

fn fault_json(f: &FaultShare) -> Value {
    json!({
        "fault": f.fault.id(),
        // Nine places: the sum stays 1 within a millionth of a percent.
        "probability": round_to(f.probability, 9),
        "severity": f.severity.map(|s| round_to(s, 3)),
        "severity_p90": f.severity_p90.map(|i| i.map(|s| round_to(s, 3))),
        "detail": f.detail,
        "because": f.because,
        "against": f.against,
    })
}

fn text(input: &Input, d: &Diagnosis) -> String {
    let mut t = String::from("FIRST\n");
    for c in &d.cautions {
        let _ = writeln!(t, "  ! {c}");
    }
    let _ = write!(t, "\nREADINGS SAY  ({}", input.fluid);
    if let Some(m) = d.mode {
        let throttled = if d.modulated { "throttled by control" } else { "full capacity" };
        let _ = write!(t, ", {}, {throttled}", m.as_str());
    }
    t += ")\n";
    for (key, words) in KEYS.iter().zip(WORDS) {
        let Some(e) = d.derived.get(key) else { continue };
        let unit = match *key {
            k if k.ends_with("_c") => "°C",
            k if k.ends_with("_k") => "K",
            k if k.ends_with("_kpa") => "kPa",
            _ => "",
        };
        let places = if *key == "pressure_ratio" { 2 } else { 1 };
        let [a, b] = e.p90;
        let _ = writeln!(
            t,
            "  {words:<34}{:>8.places$} {unit:<3} ({a:.places$} to {b:.places$})",
            e.value
        );
    }
    t += "\nMOST PROBABLE\n";
    for f in d.faults.iter().filter(|f| f.probability >= 0.02).take(5) {
        fault_text(&mut t, f);
    }
    for line in d.alike.iter().chain(&d.questions) {
        let _ = writeln!(t, "  ? {line}");
    }
    if !d.next.is_empty() {
        t += "\nMEASURE NEXT\n";
        for n in d.next.iter().take(3) {
            let _ = writeln!(t, "  {:<22}{:.2} bits: {}", n.measure, n.gain_bits, n.how);
        }
    }
    t.trim_end().to_owned()
}

fn fault_text(t: &mut String, f: &FaultShare) {
    let _ = write!(t, "  {:>3.0} %  {}", 100.0 * f.probability, f.fault.words());
    if let (Some(s), Some([a, b])) = (f.severity, f.severity_p90) {
        let _ = write!(t, ", severity {s:.2} ({a:.2} to {b:.2})");
    }
    if let Some(d) = &f.detail {
        let _ = write!(t, "; {d}");
    }
    t.push('\n');
    for b in &f.because {
        let _ = writeln!(t, "         + {b}");
    }
    for a in &f.against {
        let _ = writeln!(t, "         - {a}");
    }
}
