//! `holdfast vacuum hold`

use std::fmt::Write as _;
use std::path::Path;

use serde_json::{Value, json};
use units::math::round_to;
use vacuum::hold::Fit;
use vacuum::readings::{Read, parse};
use vacuum::{Judgement, Setup, Verdict, judge};

use super::cautions;
use crate::fail::Fail;
use crate::{files, out};

/// Refused rows told to a person; the rest are counted.
const REFUSED_SHOWN: usize = 10;

/// Judges; exit status 0 only for dry and gross tight.
pub fn run(path: &Path, setup: &Setup, given: bool, as_json: bool) -> Result<u8, Fail> {
    let bytes = files::read_all(&[path.to_path_buf()])?.pop().map(|f| f.bytes).unwrap_or_default();
    let name = path.display();
    let read = parse(&bytes).map_err(|e| Fail::refused(format!("{name}: {e}")))?;
    if read.readings.is_empty() {
        let why = read.refused.first().map_or_else(|| "no rows".to_owned(), ToString::to_string);
        return Err(Fail::refused(format!("{name}: no reading could be read; {why}")));
    }
    let mut setup = setup.clone();
    if !given {
        setup.resolution_um = read.resolution_um;
    }
    let j = judge(&read.readings, &setup);
    if as_json {
        out::print_json(&wire(&j, &read, &name.to_string(), &setup))?;
    } else {
        out::print(told(&j, &read))?;
    }
    Ok(if j.verdict == Verdict::DryAndGrossTight { 0 } else { 3 })
}

/// A value with four significant figures more than anybody measures.
fn figures(v: f64) -> f64 {
    if v == 0.0 || !v.is_finite() {
        return 0.0;
    }
    format!("{v:.6e}").parse().unwrap_or(v)
}

/// Four probabilities with six decimals that still sum to 1.
pub(super) fn probabilities(j: &Judgement) -> Value {
    let p = &j.probabilities;
    json!({
        "dry_and_gross_tight": p.dry_and_gross_tight,
        "wet": p.wet,
        "leaking": p.leaking,
        "wet_and_leaking": p.wet_and_leaking,
    })
}

fn wire(j: &Judgement, read: &Read, file: &str, setup: &Setup) -> Value {
    let refused = read.refused.iter().map(|r| json!({"file": file, "line": r.line, "why": r.why}));
    let cautions = cautions().into_iter().chain(j.cautions.iter().cloned());
    let mut all = judgement_json(j);
    if let Value::Object(map) = &mut all {
        map.insert("readings".into(), json!(read.readings.len()));
        map.insert("rows_repeated".into(), json!(read.repeated));
        map.insert("gauge_resolution_um".into(), json!(figures(setup.resolution_um)));
        map.insert("cautions".into(), json!(cautions.collect::<Vec<_>>()));
        map.insert("refused".into(), json!(refused.collect::<Vec<_>>()));
    }
    all
}

/// What the readings say, without what stood around them.
pub(super) fn judgement_json(j: &Judgement) -> Value {
    let mid = |e: Option<vacuum::Estimate>| e.map(|e| figures(e.mid));
    let p90 = |e: Option<vacuum::Estimate>| e.map(|e| e.p90.map(figures));
    let loss = j.loss.as_ref().map(|l| l.g_per_year);
    json!({
        "verdict": j.verdict.as_str(),
        "probabilities": probabilities(j),
        "leak_pa_m3_s": mid(j.leak_pa_m3_s),
        "leak_pa_m3_s_p90": p90(j.leak_pa_m3_s),
        "operating_loss_g_per_year": mid(loss),
        "operating_loss_g_per_year_p90": p90(loss),
        "moisture_limit_pa": mid(j.moisture_limit_pa),
        "moisture_limit_pa_p90": p90(j.moisture_limit_pa),
        "free_water": j.free_water.as_str(),
        "watch_longer_min": whole(j.watch_longer_min),
        "watch_longer_sure": j.watch_longer_sure.map(|p| round_to(p, 3)),
        "rise_um_min": mid(j.rise_um_min),
        "rise_um_min_p90": p90(j.rise_um_min),
        "p_sat_pa": j.p_sat_pa.map(figures),
        "noise_pct": round_to(j.noise * 100.0, 3),
        "readings_fitted": j.fitted,
        "readings_left_out": j.wild,
        "fits": j.fits.iter().map(fit).collect::<Vec<_>>(),
        "because": j.because,
        "next": j.next,
        "cautions": j.cautions,
    })
}

fn fit(f: &Fit) -> Value {
    json!({
        "form": f.form.words(),
        "probability": round_to(f.probability, 6),
        "p0_pa": figures(f.p0_pa),
        "rise_pa_s": figures(f.rise_pa_s),
        "moisture_pa": figures(f.moisture_pa),
        "tau_s": f.tau_s.map(figures),
    })
}

/// Whole minutes, never 0 for a little.
pub(super) fn whole(minutes: f64) -> u64 {
    minutes.max(0.0).ceil() as u64
}

/// The four shares in brackets.
pub(super) fn probabilities_text(j: &Judgement) -> String {
    let p = &j.probabilities;
    format!(
        "(dry and gross tight {:.0} %, wet {:.0} %, leaking {:.0} %, both {:.0} %)",
        p.dry_and_gross_tight * 100.0,
        p.wet * 100.0,
        p.leaking * 100.0,
        p.wet_and_leaking * 100.0
    )
}

fn told(j: &Judgement, read: &Read) -> String {
    let mut t = String::from("Mind:\n");
    for c in cautions().iter().chain(&j.cautions) {
        let _ = writeln!(t, "  - {c}");
    }
    t.push('\n');
    t += &judgement_text(j);
    if !read.refused.is_empty() {
        let _ = writeln!(t, "\n{} rows were not read:", read.refused.len());
        for r in read.refused.iter().take(REFUSED_SHOWN) {
            let _ = writeln!(t, "  - {r}");
        }
    }
    t.trim_end().to_owned()
}

/// Verdict, figures, why and next.
pub(super) fn judgement_text(j: &Judgement) -> String {
    let mut t = String::new();
    let words = match j.verdict {
        Verdict::DryAndGrossTight => "DRY AND GROSS TIGHT",
        Verdict::Wet => "WET",
        Verdict::Leaking => "LEAKING",
        Verdict::WetAndLeaking => "WET AND LEAKING",
        Verdict::Undecided => "UNDECIDED",
    };
    let _ = writeln!(t, "{words}   {}", probabilities_text(j));
    if j.watch_longer_min > 0.0 {
        let _ = write!(t, "watch {} min longer", whole(j.watch_longer_min));
        let _ = match j.watch_longer_sure {
            Some(p) => writeln!(t, "; it decides then with a chance of {:.0} %", p * 100.0),
            None => writeln!(t),
        };
    }
    if let Some(l) = j.leak_pa_m3_s {
        let _ =
            writeln!(t, "leak {:.1e} Pa·m³/s of air [{:.1e}, {:.1e}]", l.mid, l.p90[0], l.p90[1]);
    }
    if let Some(l) = &j.loss {
        let g = l.g_per_year;
        let (by, unit) = if g.mid >= 2000.0 { (1e-3, "kg") } else { (1.0, "g") };
        let [low, high] = g.p90.map(|v| v * by);
        let mid = g.mid * by;
        let _ = writeln!(t, "loss in operation {mid:.0} {unit} a year [{low:.0}, {high:.0}]");
    }
    let _ = writeln!(t, "free water: {}", j.free_water.as_str());
    for (head, lines) in [("Why", &j.because), ("Next", &j.next)] {
        let _ = writeln!(t, "\n{head}:");
        for line in lines {
            let _ = writeln!(t, "  - {line}");
        }
    }
    t
}
