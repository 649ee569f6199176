//! A reading that nothing explains, but that would fit in another unit: asked about by name
//! instead of being diagnosed.

use units::temperature::celsius_from_fahrenheit;

use crate::evidence::{Doubt, Noise, Scene, Seen};
use crate::linear::Local;
use crate::reading::{Input, Key, Refusal};
use crate::weigh::{Effort, Weighed, probabilities, weigh_all};

/// Squared misfit above what the readings' number lets expect; a sound or singly faulty unit of
/// any structure near the card's stays far below.
const POOR: f64 = 45.0;
/// How much better (ln) another unit must fit before it is asked about.
const BETTER: f64 = 20.0;

/// Squared misfit of the best hypothesis.
pub(crate) fn misfit(scene: &Scene<'_>, all: &[Weighed]) -> f64 {
    let var = scene.variances(Doubt::NONE);
    let used = scene.compared();
    let of = |w: &Weighed| misfit_of(scene, &w.peak.local, &used, &var);
    all.iter().map(of).fold(f64::INFINITY, f64::min)
}

/// Squared misfit of one hypothesis at its peak, less what the readings' number lets expect.
pub(crate) fn misfit_of(scene: &Scene<'_>, l: &Local, used: &[usize], var: &Seen) -> f64 {
    let data: f64 = used
        .iter()
        .filter_map(|k| scene.read[*k].map(|d| (d - l.run.seen[*k]).powi(2) / var[*k]))
        .sum();
    data + l.z.iter().map(|v| v * v).sum::<f64>() - used.len() as f64
}

fn best(all: &[Weighed]) -> f64 {
    all.iter().fold(f64::NEG_INFINITY, |a, w| a.max(w.peak.ln_evidence))
}

/// What a reading would be, had it been entered in another unit.
fn others(key: Key, value: f64, noise: &Noise) -> Vec<(f64, &'static str)> {
    if key == Key::Current {
        return Vec::new();
    }
    if !key.is_pressure() {
        return vec![(celsius_from_fahrenheit(value), "in °F")];
    }
    let absolute = "an absolute pressure (gauge is absolute less barometer)";
    // No gauge in kPa is read below 60 in the high side, and none above 60 bar exists.
    let small = value > 0.0 && value < 60.0;
    [
        (value > 0.0, value - noise.barometer_kpa, absolute),
        (small, value * 100.0, "in bar"),
        (value > 0.0 && value < 600.0, value * 6.894_757, "in psi"),
    ]
    .into_iter()
    .filter(|(may, ..)| *may)
    .map(|(_, v, how)| (v, how))
    .collect()
}

/// A sensor that seems off by as much as °F and °C differ: asked about by name.
pub(crate) fn fahrenheit(scene: &Scene<'_>, all: &[Weighed]) -> Option<String> {
    let p = probabilities(all);
    let (top, share) = all.iter().zip(&p).max_by(|a, b| a.1.total_cmp(b.1))?;
    let (key, sign) = top.h.offset.filter(|_| *share > 0.5)?;
    let read = scene.read.get(key.index()).copied().flatten()?;
    let l = &top.peak.local;
    let off = sign * scene.card.faults.sensor_offset_k * scene.plain(&top.h, &l.z).severity;
    let fit = match key {
        Key::Return => scene.plain(&top.h, &l.z).at.return_c,
        _ => l.run.seen.get(key.index()).copied()? - off,
    };
    let other = celsius_from_fahrenheit(read);
    // As near as sound units of one card differ.
    ((other - fit).abs() < 4.0 && (read - fit).abs() > 4.0).then(|| {
        format!(
            "{} {read} does not go with the others: is it in °F? {read} °F is {other:.1} °C, and \
             they fit about {fit:.1}",
            key.id()
        )
    })
}

/// Asks about the one reading that makes sense of all when taken in another unit. `again` gives
/// the scene of changed readings.
pub(crate) fn suspect<'a>(
    input: &Input,
    scene: &Scene<'a>,
    all: &[Weighed],
    again: impl Fn(&Input) -> Scene<'a>,
) -> Result<(), Refusal> {
    if misfit(scene, all) < POOR {
        return Ok(());
    }
    let quick = Effort { pairs: 0, ..Effort::default() };
    let now = best(all);
    let mut found: Option<(f64, Key, f64, &str)> = None;
    for key in Key::ALL {
        let Some(value) = input.get(key) else { continue };
        for (other, how) in others(key, value, &scene.noise) {
            let mut changed = input.clone();
            changed.set(key, Some(other));
            let gain = best(&weigh_all(&again(&changed), &quick)) - now;
            if gain > BETTER && found.as_ref().is_none_or(|f| gain > f.0) {
                found = Some((gain, key, other, how));
            }
        }
    }
    let Some((_, key, other, how)) = found else { return Ok(()) };
    let value = input.get(key).unwrap_or(0.0);
    let unit = key.unit();
    Err(Refusal(format!(
        "{} {value} does not go with the other readings, {other:.1} {unit} would: is it {how}? \
         Read it again, correct it and ask again",
        key.id()
    )))
}
