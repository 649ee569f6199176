//! What the temperatures so far cost the cargo, by published kinetics where there are any. It
//! ranks and warns; it passes no judgement on a cargo.

use box_model::Cargo;
use box_model::kinetics::{Yardstick, mean_kinetic_c};
use record::{CargoFact, Fan};
use units::Utc;

use crate::ground::Ground;
use crate::words::celsius;

/// A gap in the readings longer than this is not counted over, h.
const GAP_H: f64 = 24.0;

/// Facts about quality used so far and on the present course, one for each cargo it may be.
/// `trace` is the cargo temperature at each reading of the fit's window, as estimated there.
pub fn quality(g: &Ground<'_>, trace: &[(Utc, f64)], ahead: &Fan) -> Vec<CargoFact> {
    let sticks: Vec<(&Cargo, Yardstick)> =
        g.cargo.candidates.iter().filter_map(|c| Some((*c, Yardstick::of(c)?))).collect();
    if sticks.is_empty() {
        return Vec::new();
    }
    let mut out: Vec<CargoFact> = Vec::new();
    for (cargo, stick) in sticks {
        if let Some(fact) = fact(cargo, &stick, trace, ahead)
            && !out.iter().any(|f| f.text == fact.text)
        {
            out.push(fact);
        }
    }
    out
}

fn fact(cargo: &Cargo, stick: &Yardstick, trace: &[(Utc, f64)], ahead: &Fan) -> Option<CargoFact> {
    let spans = spans(trace);
    let days: f64 = spans.iter().map(|s| s.0).sum();
    if days <= 0.0 {
        return None;
    }
    let made = |name: &str, text: String, source: &str, unverified: bool| CargoFact {
        name: name.to_owned(),
        text,
        source: source.to_owned(),
        unverified,
    };
    let Some(at_c) = stick.at_c() else {
        let mkt = mean_kinetic_c(&trace.iter().map(|(_, c)| *c).collect::<Vec<_>>())?;
        return Some(made(
            "mean kinetic temperature",
            format!("{} of the cargo as estimated over the last {days:.1} d read", celsius(mkt)),
            "83.144 kJ/mol",
            true,
        ));
    };
    let used = spans.iter().map(|(d, c)| stick.rate(*c).map(|r| d * r)).sum::<Option<f64>>()?;
    let mut text = format!(
        "{used:.1} d at {} in the last {days:.1} d read, by the estimated cargo temperature",
        celsius(at_c)
    );
    if let Some((more, in_days)) = on_present_course(stick, ahead) {
        text.push_str(&format!("; on the present course {more:.1} d in the next {in_days:.1} d"));
    }
    let (source, unverified, by) = match stick {
        Yardstick::Published(decay) => (decay.source, false, decay.index.to_owned()),
        Yardstick::ChilledFish => ("", true, "spoilage of fish of temperate waters".to_owned()),
        Yardstick::Respiration { .. } => {
            ("", true, format!("respiration of {} as a yardstick, estimate", cargo.name))
        }
        Yardstick::MeanKinetic => ("", true, String::new()),
    };
    text.push_str(&format!(" ({by})"));
    if let Some([low, high]) = life_d(stick) {
        text.push_str(&format!("; published life there {low:.0} to {high:.0} d"));
    }
    Some(made("quality used so far", text, source, unverified))
}

fn life_d(stick: &Yardstick) -> Option<[f64; 2]> {
    match stick {
        Yardstick::Published(decay) => decay.life_d,
        Yardstick::Respiration { life_d: [Some(low), Some(high)], .. } => Some([*low, *high]),
        _ => None,
    }
}

/// (Days, °C) between neighbouring points; long gaps are left out.
fn spans(trace: &[(Utc, f64)]) -> Vec<(f64, f64)> {
    trace
        .windows(2)
        .filter_map(|pair| match pair {
            [a, b] => {
                let hours = b.0.hours_since(a.0);
                (hours > 0.0 && hours <= GAP_H).then(|| (hours / 24.0, 0.5 * (a.1 + b.1)))
            }
            _ => None,
        })
        .collect()
}

/// Days used on the present course, and in how many days.
fn on_present_course(stick: &Yardstick, fan: &Fan) -> Option<(f64, f64)> {
    let line = fan.lines.first()?;
    let hours = line.cargo.last()?.hours;
    let used = line
        .cargo
        .iter()
        .skip(1)
        .map(|p| stick.rate(p.cargo_c).map(|r| r / 24.0))
        .sum::<Option<f64>>()?;
    Some((used, hours / 24.0))
}
