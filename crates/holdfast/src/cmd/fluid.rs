//! `holdfast fluid`

use std::fmt::Write as _;

use fluids::answer::Given;
use fluids::{FluidError, SaturationAnswer, StateAnswer};
use serde_json::{Value, json};
use units::math::round_to;

use crate::args::Fluid;
use crate::fail::Fail;
use crate::out;

/// Answers from a pressure, a temperature, or both.
pub fn run(c: &Fluid) -> Result<u8, Fail> {
    let refuse = |e: FluidError| Fail::refused(format!("fluid: {e}"));
    let p_kpa = c.pressure.map(|p| p.absolute_kpa);
    let (value, text) = match (p_kpa, c.temp_c) {
        (Some(p), Some(t)) => {
            let s = fluids::state_answer(&c.name, p, t).map_err(refuse)?;
            (state_json(&s), state_text(&s, c))
        }
        (Some(p), None) => saturation(c, Given::PressureKpa(p)).map_err(refuse)?,
        (None, Some(t)) => saturation(c, Given::TemperatureC(t)).map_err(refuse)?,
        (None, None) => {
            return Err(Fail::refused(
                "fluid: give a pressure, a temperature, or both; holdfast fluid --help",
            ));
        }
    };
    if c.json {
        out::print_json(&value)?
    } else {
        out::print(text)?
    }
    Ok(0)
}

fn saturation(c: &Fluid, given: Given) -> Result<(Value, String), FluidError> {
    let s = fluids::saturation_answer(&c.name, given)?;
    Ok((saturation_json(&s), saturation_text(&s, c)))
}

/// Six decimals are far below the tables' accuracy.
fn r(v: f64) -> f64 {
    round_to(v, 6)
}

fn saturation_json(s: &SaturationAnswer) -> Value {
    json!({
        "fluid": s.fluid,
        "p_kpa": s.p_kpa.map(r),
        "t_c": s.t_c.map(r),
        "bubble_c": r(s.bubble_c),
        "dew_c": r(s.dew_c),
        "bubble_kpa": r(s.bubble_kpa),
        "dew_kpa": r(s.dew_kpa),
        "glide_k": s.glide_k.map(r),
    })
}

fn state_json(s: &StateAnswer) -> Value {
    json!({
        "fluid": s.fluid,
        "p_kpa": r(s.p_kpa),
        "t_c": r(s.t_c),
        "phase": s.phase.words(),
        "h_kj_kg": r(s.h_kj_kg),
        "s_kj_kgk": r(s.s_kj_kgk),
        "rho_kg_m3": r(s.rho_kg_m3),
        "cp_kj_kgk": s.cp_kj_kgk.map(r),
        "superheat_k": s.superheat_k.map(r),
        "subcooling_k": s.subcooling_k.map(r),
        "quality": s.quality.map(r),
        "h_iir_kj_kg": r(s.h_iir_kj_kg),
        "s_iir_kj_kgk": r(s.s_iir_kj_kgk),
    })
}

/// Pound-force per square inch in kPa (NIST SP 811, appendix B.8).
const PSI_KPA: f64 = 6.894_757;

/// One absolute pressure as gauges show it.
fn pressures(absolute_kpa: f64, barometer_kpa: f64) -> String {
    let gauge = absolute_kpa - barometer_kpa;
    let psi = gauge / PSI_KPA;
    format!("{absolute_kpa:.2} kPa absolute = {:.3} barg = {psi:.1} psig", gauge / 100.0)
}

fn saturation_text(s: &SaturationAnswer, c: &Fluid) -> String {
    let mut t = format!("{}, saturation (barometer {:.2} kPa)\n", s.fluid, c.barometer_kpa);
    let line = |name: &str, temp_c: f64, p: f64| {
        format!("{name}  {temp_c:8.2} °C at {}\n", pressures(p, c.barometer_kpa))
    };
    t += &line("bubble (liquid line, subcooling)", s.bubble_c, s.bubble_kpa);
    t += &line("dew    (vapour line, superheat) ", s.dew_c, s.dew_kpa);
    if let Some(g) = s.glide_k.filter(|g| *g > 0.0) {
        let _ = writeln!(t, "glide {g:.2} K");
    }
    t + IDENTITY
}

/// Said with every answer (contract §4, reference/refrigeration-service.md §7).
const IDENTITY: &str = "Pressure and temperature alone never prove which refrigerant is inside.";

fn state_text(s: &StateAnswer, c: &Fluid) -> String {
    let mut t = format!("{}, {} at {:.2} °C\n", s.fluid, s.phase.words(), s.t_c);
    let _ = writeln!(
        t,
        "{} (barometer {:.2} kPa)",
        pressures(s.p_kpa, c.barometer_kpa),
        c.barometer_kpa
    );
    let _ = writeln!(
        t,
        "h {:.2} kJ/kg   s {:.4} kJ/(kg·K)   density {:.3} kg/m³{}",
        s.h_kj_kg,
        s.s_kj_kgk,
        s.rho_kg_m3,
        s.cp_kj_kgk.map_or_else(String::new, |cp| format!("   cp {cp:.3} kJ/(kg·K)"))
    );
    if let Some(k) = s.superheat_k {
        let _ = writeln!(t, "superheat {k:.2} K (from the dew line)");
    }
    if let Some(k) = s.subcooling_k {
        let _ = writeln!(t, "subcooling {k:.2} K (from the bubble line)");
    }
    t + IDENTITY
}
