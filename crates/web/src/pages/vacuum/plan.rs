//! How long an evacuation takes, what holds it up, and what would help for the least trouble.

use figures::words::number;
use fluids::hose::{Hose, Pump};
use maud::{Markup, html};
use vacuum::advice::minutes;
use vacuum::plan::{Bottleneck, Breaks, Job, Plan, Water};
use vacuum::{PA_PER_UM, plan};

use super::ask::{Answered, Sent};

const FORM: &str = "plan";
/// Where a nitrogen break begins, µm, and how long the nitrogen stands, min (common practice).
const BREAK: (f64, f64) = (1500.0, 10.0);
/// A valve core as a short narrow pipe: inner diameter and length, m (estimate of ours).
const CORE: (f64, f64) = (0.0025, 0.015);

/// The form and its answer.
pub(super) fn part(sent: &Sent<'_>) -> Answered {
    let made = sent.answer(FORM, || {
        let job = job(sent)?;
        let found = plan(&job).map_err(|e| format!("{e}."))?;
        Ok(answer(&job, &found))
    });
    let shown = html! {
        section #plan aria-labelledby="plan-head" {
            h2 #plan-head { "Plan an evacuation" }
            p.hint { "Dry, tight and without oil giving off gas; a wet or oily circuit takes longer." }
            (form(sent))
            (made.shown)
        }
    };
    Answered { shown, good: made.good }
}

fn form(sent: &Sent<'_>) -> Markup {
    let cores = sent.text(FORM, "cores", "in") == "in";
    html! {
        form.fluid-form method="get" action="/vacuum#plan" {
            input type="hidden" name="ask" value=(FORM);
            (sent.field(FORM, "volume", "Volume of the circuit, l", "15", "of a refrigeration unit \
                usually 10 to 20"))
            (sent.field(FORM, "speed", "Pump speed, l/s", "2.36", "5 ft³/min is 2.36 l/s"))
            (sent.field(FORM, "ultimate", "Pump ends at, µm", "15", "blank it off and measure: old \
                oil ends at several hundred"))
            (sent.field(FORM, "bore", "Hose bore, mm", "4.8", "inside, a 1/4 inch hose has about \
                4.8"))
            (sent.field(FORM, "length", "Hose length, m", "1.8", ""))
            (sent.field(FORM, "hoses", "Hoses side by side", "1", ""))
            div {
                label for="plan-cores" { "Valve cores" }
                select #plan-cores name="cores" {
                    option value="in" selected[cores] { "left in" }
                    option value="out" selected[!cores] { "taken out" }
                }
            }
            (sent.field(FORM, "target", "Target, µm", "500", ""))
            (sent.field(FORM, "water", "Water inside, g", "", "empty: dry"))
            (sent.field(FORM, "coldest", "Coldest surface, °C", "", "needed with water"))
            (sent.field(FORM, "breaks", "Nitrogen breaks", "", "2 make a triple evacuation"))
            div { button.main type="submit" { "Work out" } }
        }
    }
}

fn job(sent: &Sent<'_>) -> Result<Job, String> {
    let needed = |key, name| sent.number(FORM, key, name);
    let (bore, length) =
        (needed("bore", "The hose’s bore")?, needed("length", "The hose’s length")?);
    let hose = Hose::new(bore / 1e3, length).map_err(|e| format!("Hose: {e}."))?;
    let count = needed("hoses", "The number of hoses")?;
    if !(1.0..=20.0).contains(&count) || count.fract() != 0.0 {
        return Err("The number of hoses is a whole number from 1 to 20.".to_owned());
    }
    let valve = match sent.text(FORM, "cores", "in").as_str() {
        "out" => None,
        _ => Some(Hose::new(CORE.0, CORE.1).map_err(|e| format!("Valve core: {e}."))?),
    };
    let water = match (
        sent.maybe(FORM, "water", "The water")?,
        sent.maybe(FORM, "coldest", "The coldest surface")?,
    ) {
        (Some(g), Some(coldest_c)) if g > 0.0 => Some(Water { mass_g: g, coldest_c }),
        (Some(g), None) if g > 0.0 => {
            return Err("With water, the coldest surface’s temperature is needed.".to_owned());
        }
        _ => None,
    };
    let breaks = match sent.maybe(FORM, "breaks", "The nitrogen breaks")? {
        Some(n) if !(0.0..=9.0).contains(&n) || n.fract() != 0.0 => {
            return Err("Nitrogen breaks: a whole number from 0 to 9.".to_owned());
        }
        Some(n) if n > 0.0 => {
            Some(Breaks { count: n as u8, at_pa: BREAK.0 * PA_PER_UM, dwell_min: BREAK.1 })
        }
        _ => None,
    };
    Ok(Job {
        volume_m3: needed("volume", "The volume")? / 1e3,
        pump: Pump {
            speed_m3_s: needed("speed", "The pump’s speed")? / 1e3,
            ultimate_pa: needed("ultimate", "The pump’s ultimate pressure")? * PA_PER_UM,
        },
        hoses: vec![hose; count as usize],
        valve,
        target_pa: needed("target", "The target")? * PA_PER_UM,
        water,
        breaks,
    })
}

fn bottleneck(b: Bottleneck) -> &'static str {
    match b {
        Bottleneck::Hose => "Hose and valve cores: they pass less than the pump could draw",
        Bottleneck::Pump => "The pump’s own speed",
        Bottleneck::Ultimate => "The pump’s ultimate pressure: too close to the target",
        Bottleneck::Water => "Water boiling off",
        Bottleneck::Breaks => "The nitrogen breaks",
    }
}

fn answer(job: &Job, p: &Plan) -> Markup {
    let um = |pa: f64| number(pa / PA_PER_UM, 0);
    let cheapest = p.advice.iter().find(|a| a.saves_min.is_some()).or(p.advice.first());
    html! {
        dl.figures {
            div { dt { "Time to " (um(job.target_pa)) " µm" }
                dd { @match p.time_min { Some(t) => (minutes(t)), None => "out of reach" } } }
            div { dt { "What holds it up" } dd.words { (bottleneck(p.bottleneck)) } }
            div { dt { "Reaches the circuit" }
                dd { (number(p.speed_m3_s * 1e3, 3)) " l/s" }
                dd.interval { "of the pump’s " (number(job.pump.speed_m3_s * 1e3, 2)) " l/s, at the \
                    target" } }
            div { dt { "At the pump then" } dd { (um(p.inlet_pa)) " µm" }
                dd.interval { "a gauge there reads low" } }
            @if let Some(b) = p.boil_off.filter(|b| b.time_min.is_finite()) {
                div { dt { @if b.ice { "Ice" } @else { "Water" } " holds it at" }
                    dd { (um(b.p_sat_pa)) " µm" }
                    dd.interval { "for " (minutes(b.time_min)) "; needs " (number(b.heat_kj, 1))
                        " kJ from the coil" } }
            }
            @if let (Some(m), Some(left)) = (p.breaks_min, p.air_left) {
                div { dt { "Nitrogen breaks" } dd { (minutes(m)) }
                    dd.interval { "at " (number(BREAK.0, 0)) " µm, " (number(BREAK.1, 0))
                        " min each; " (format!("{left:.0e}")) " of the first air is left" } }
            }
        }
        @if let Some(a) = cheapest {
            p.first { strong { "Cheapest improvement: " } (a.text) "." }
        }
        @if p.advice.len() > 1 {
            h3 { "What helps, least trouble first" }
            ol.findings { @for a in &p.advice { li { (a.text) } } }
        }
    }
}
