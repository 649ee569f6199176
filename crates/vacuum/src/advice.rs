//! What would shorten an evacuation, least trouble first, with the time each would save.

use fluids::FluidError;
use fluids::hose::Hose;

use crate::PA_PER_UM;
use crate::plan::{Job, Times, Water};

/// One thing to do.
#[derive(Debug, Clone, PartialEq)]
pub struct Advice {
    /// What, in a sentence that names the time it would take and save.
    pub text: String,
    /// Minutes it would save; none when there is no time to compare with.
    pub saves_min: Option<f64>,
}

/// A sentence without a saving.
fn plain(text: impl Into<String>) -> Advice {
    Advice { text: text.into(), saves_min: None }
}

/// Minutes as people say them.
#[must_use]
pub fn minutes(t: f64) -> String {
    if t >= 600.0 {
        format!("{:.0} h", t / 60.0)
    } else if t >= 9.95 {
        format!("{t:.0} min")
    } else {
        format!("{t:.1} min")
    }
}

/// All advice on a job whose times are known.
pub(crate) fn advise(job: &Job, now: Times) -> Result<Vec<Advice>, FluidError> {
    let mut all = blocked(job);
    for (what, changed) in changes(job) {
        let then = changed.times()?.total_min;
        all.extend(compare(&what, now.total_min, then));
    }
    if let Some(w) = job.water.filter(|w| w.mass_g >= 50.0) {
        all.insert(0, plain(format!(
            "{:.0} g of water is more than a vacuum pump should carry away: drain it, then blow \
             through with dry nitrogen from a regulator",
            w.mass_g
        )));
    }
    if all.is_empty() {
        all.push(plain(
            "nothing cheap would save a tenth of the time; put the gauge on the circuit, far from \
             the pump",
        ));
    } else {
        all.push(plain(
            "put the gauge on the circuit, far from the pump: at the pump it reads low",
        ));
    }
    Ok(all)
}

/// Why the target is out of reach, and what is below what it should be.
fn blocked(job: &Job) -> Vec<Advice> {
    let ultimate = job.pump.ultimate_pa;
    let um = |pa: f64| pa / PA_PER_UM;
    let mut all = Vec::new();
    if job.target_pa <= ultimate {
        all.push(plain(format!(
            "the pump ends at {:.0} µm and never reaches {:.0} µm: change its oil and blank it off \
             to measure its ultimate pressure, or take a better pump",
            um(ultimate),
            um(job.target_pa)
        )));
    }
    let Some(w) = job.water.filter(|w| w.mass_g > 0.0) else { return all };
    let t_k = units::temperature::kelvin_from_celsius(w.coldest_c);
    let Ok(p_sat) = fluids::water::vapour_pressure_pa(t_k) else { return all };
    if p_sat <= ultimate {
        all.push(plain(format!(
            "ice at {:.0} °C gives {:.0} µm only, not above the pump's {:.0} µm: it never leaves; \
             warm the coil above 10 °C first",
            w.coldest_c,
            um(p_sat),
            um(ultimate)
        )));
    } else if job.target_pa >= p_sat {
        all.push(plain(format!(
            "{:.0} µm is reached while ice at {:.0} °C ({:.0} µm) is still there, so reaching it \
             proves nothing about water: warm the coil above 10 °C",
            um(job.target_pa),
            w.coldest_c,
            um(p_sat)
        )));
    }
    all
}

/// Changes worth trying, least trouble first.
fn changes(job: &Job) -> Vec<(String, Job)> {
    let mut all = Vec::new();
    if let Some(w) = job.water.filter(|w| w.mass_g > 0.0) {
        for warm_c in [10.0, 20.0, 30.0] {
            if w.coldest_c < warm_c - 2.0 {
                let water = Some(Water { coldest_c: warm_c, ..w });
                let what = format!("warming the coil to {warm_c:.0} °C (defrost heaters, fan)");
                all.push((what, Job { water, ..job.clone() }));
            }
        }
    }
    if job.valve.is_some() {
        let what = "taking the valve cores out with a core tool".to_owned();
        all.push((what, Job { valve: None, ..job.clone() }));
    }
    let short = |h: &Hose| Hose { length_m: 0.5 * h.length_m, ..*h };
    let hoses = job.hoses.iter().map(short).collect();
    all.push(("hoses of half the length".to_owned(), Job { hoses, ..job.clone() }));
    if let Some(first) = job.hoses.first() {
        let nth = if job.hoses.len() == 1 { "a second hose" } else { "one more hose" };
        let hoses = job.hoses.iter().chain([first]).copied().collect();
        all.push((format!("{nth} like the first, side by side"), Job { hoses, ..job.clone() }));
        let wide = |h: &Hose| Hose { diameter_m: h.diameter_m.max(0.0095), ..*h };
        if first.diameter_m < 0.009 {
            let hoses = job.hoses.iter().map(wide).collect();
            all.push(("hoses of 9.5 mm bore".to_owned(), Job { hoses, ..job.clone() }));
        }
    }
    let mut pump = job.pump;
    if pump.ultimate_pa > 0.2 * job.target_pa {
        pump.ultimate_pa *= 0.5;
        let what = "fresh pump oil that halves the pump's ultimate pressure".to_owned();
        all.push((what, Job { pump, ..job.clone() }));
    }
    let mut pump = job.pump;
    pump.speed_m3_s *= 2.0;
    all.push(("a pump of twice the speed".to_owned(), Job { pump, ..job.clone() }));
    all
}

/// Said only when a tenth of the time and 10 s are saved.
fn compare(what: &str, now_min: f64, then_min: f64) -> Option<Advice> {
    if !then_min.is_finite() {
        return None;
    }
    if !now_min.is_finite() {
        let text = format!("{what} would reach it in {}", minutes(then_min));
        return Some(plain(text));
    }
    let saves = now_min - then_min;
    if saves < 0.1 * now_min || saves < 1.0 / 6.0 {
        return None;
    }
    let text = format!(
        "{what} would bring it from {} to {} (saves {})",
        minutes(now_min),
        minutes(then_min),
        minutes(saves)
    );
    Some(Advice { text, saves_min: Some(saves) })
}
