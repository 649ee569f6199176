//! `holdfast vacuum plan`

use std::fmt::Write as _;

use serde_json::{Value, json};
use units::math::round_to;
use vacuum::PA_PER_UM;
use vacuum::advice::minutes;
use vacuum::plan::{Bottleneck, Job, Plan};

use super::cautions;
use crate::fail::Fail;
use crate::out;

/// Plans; always exit status 0.
pub fn run(job: &Job, ultimate_given: bool, as_json: bool) -> Result<u8, Fail> {
    let plan = vacuum::plan(job).map_err(|e| Fail::refused(format!("vacuum plan: {e}")))?;
    if as_json {
        out::print_json(&wire(&plan, ultimate_given))?;
    } else {
        out::print(told(&plan, job, ultimate_given))?;
    }
    Ok(0)
}

fn um(pa: f64) -> f64 {
    pa / PA_PER_UM
}

fn wire(p: &Plan, ultimate_given: bool) -> Value {
    let r = |v: f64| round_to(v, 6);
    let boil = p.boil_off.map(|b| {
        json!({
            "p_sat_pa": r(b.p_sat_pa),
            "ice": b.ice,
            "time_min": b.time_min.is_finite().then(|| r(b.time_min)),
            "heat_kj": r(b.heat_kj),
        })
    });
    json!({
        "time_min": p.time_min.map(r),
        "effective_speed_l_s": r(p.speed_m3_s * 1e3),
        "limit_um": r(um(p.limit_pa)),
        "advice": p.advice.iter().map(|a| &a.text).collect::<Vec<_>>(),
        "advice_saves_min": p.advice.iter().map(|a| a.saves_min.map(r)).collect::<Vec<_>>(),
        "bottleneck": word(p.bottleneck),
        "pump_inlet_um": r(um(p.inlet_pa)),
        "pump_ultimate_assumed": !ultimate_given,
        "boil_off": boil,
        "breaks_min": p.breaks_min.map(r),
        "air_left": p.air_left,
        "cautions": cautions(),
    })
}

fn word(b: Bottleneck) -> &'static str {
    match b {
        Bottleneck::Hose => "hose",
        Bottleneck::Pump => "pump",
        Bottleneck::Ultimate => "pump_ultimate",
        Bottleneck::Water => "water",
        Bottleneck::Breaks => "breaks",
    }
}

fn told(p: &Plan, job: &Job, ultimate_given: bool) -> String {
    let mut t = String::from("Mind:\n");
    for c in cautions() {
        let _ = writeln!(t, "  - {c}");
    }
    let target = um(job.target_pa);
    let _ = match p.time_min {
        Some(m) => writeln!(t, "\n{} to {target:.0} µm", minutes(m)),
        None => writeln!(t, "\n{target:.0} µm is out of reach"),
    };
    let why = match p.bottleneck {
        Bottleneck::Hose => "the hose holds it up",
        Bottleneck::Pump => "the pump's speed sets the time",
        Bottleneck::Ultimate => "the pump's ultimate pressure is too close to the target",
        Bottleneck::Water => "the water holds it up",
        Bottleneck::Breaks => "the nitrogen breaks take most of the time",
    };
    let _ = writeln!(
        t,
        "{why}: {:.3} l/s reach the circuit of the pump's {:.2} l/s at the target",
        p.speed_m3_s * 1e3,
        job.pump.speed_m3_s * 1e3
    );
    let assumed = if ultimate_given { "" } else { " (assumed; --pump-ultimate-pa)" };
    let _ = writeln!(
        t,
        "the pump ends at {:.0} µm{assumed}; its inlet stands at {:.0} µm when the circuit is at \
         {target:.0}",
        um(p.limit_pa),
        um(p.inlet_pa)
    );
    if let Some(b) = p.boil_off.filter(|b| b.time_min.is_finite()) {
        let what = if b.ice { "ice" } else { "water" };
        let _ = writeln!(
            t,
            "{what} holds it at {:.0} µm for {}; it needs {:.1} kJ from the coil: too little heat \
             and it freezes",
            um(b.p_sat_pa),
            minutes(b.time_min),
            b.heat_kj
        );
    }
    if let (Some(m), Some(left)) = (p.breaks_min, p.air_left) {
        let _ = writeln!(
            t,
            "nitrogen breaks take {}; {left:.1e} of the first air is left after them",
            minutes(m)
        );
    }
    t += "\nWhat helps, least trouble first:\n";
    for a in &p.advice {
        let _ = writeln!(t, "  - {}", a.text);
    }
    t + "Dry, tight, without outgassing: a wet or oily circuit takes longer."
}
