//! The two other waits with a gauge: nitrogen under pressure, and a standing charge looked at for
//! non-condensable gas.

use figures::words::number;
use fluids::Refrigerant;
use maud::{Markup, html};
use vacuum::nitrogen::{PressureTest, nitrogen_grams_per_year, pressure_test};
use vacuum::standing::{Standing, StandingVerdict, standing_test};

use super::ask::{Answered, Sent, fluid_options};

const PRESSURE: &str = "pressure";
const STANDING: &str = "standing";

/// Nitrogen pressure test.
pub(super) fn nitrogen(sent: &Sent<'_>) -> Answered {
    let f = PRESSURE;
    let made = sent.answer(f, || nitrogen_answer(sent));
    let shown = html! {
        section #pressure aria-labelledby="pressure-head" {
            h2 #pressure-head { "Nitrogen pressure test" }
            p.caution-line {
                strong { "Dry nitrogen through a regulator with a relief valve, never oxygen or \
                    air; " }
                "never above the maker’s test pressure; raise it in steps, stand clear, and let it \
                 down before a joint is touched. Ventilate: it suffocates."
            }
            form.fluid-form method="get" action="/vacuum#pressure" {
                input type="hidden" name="ask" value=(f);
                (sent.field(f, "volume", "Volume, l", "15", ""))
                (sent.field(f, "p1", "Pressure at the start", "", "with its unit: 20barg, 290psig"))
                (sent.field(f, "t1", "Temperature at the start, °C", "", "of the metal, not the \
                    air"))
                (sent.field(f, "p2", "Pressure at the end", "", "with its unit"))
                (sent.field(f, "t2", "Temperature at the end, °C", "", ""))
                (sent.field(f, "hours", "Hours between", "24", ""))
                (sent.field(f, "step", "Step of the gauge, kPa", "10", "the smallest change you \
                    can read"))
                (sent.field(f, "thermometer", "Thermometer, K either way", "0.5", ""))
                (sent.field(f, "barometer", "Barometer, kPa", "101.325", ""))
                div { button.main type="submit" { "Work out" } }
            }
            (made.shown)
        }
    };
    Answered { shown, good: made.good }
}

fn nitrogen_answer(sent: &Sent<'_>) -> Result<Markup, String> {
    let f = PRESSURE;
    let t = PressureTest {
        volume_m3: sent.number(f, "volume", "The volume")? / 1e3,
        start: (
            sent.pressure_pa(f, "p1", "The pressure at the start")?,
            sent.number(f, "t1", "The temperature at the start")?,
        ),
        end: (
            sent.pressure_pa(f, "p2", "The pressure at the end")?,
            sent.number(f, "t2", "The temperature at the end")?,
        ),
        hours: sent.number(f, "hours", "The hours")?,
        gauge_step_pa: sent.number(f, "step", "The step of the gauge")? * 1e3,
        thermometer_k: sent.number(f, "thermometer", "The thermometer’s error")?,
    };
    if t.gauge_step_pa < 0.0 || t.thermometer_k < 0.0 {
        return Err("Gauge step and thermometer error are not below nought.".to_owned());
    }
    let r = pressure_test(&t).map_err(|e| format!("{e}."))?;
    let kpa = |pa: f64| number(pa / 1e3, 1);
    let [low, high] = r.fall_pa_p90;
    let year = |q: f64| number(nitrogen_grams_per_year(q), 0);
    let warmth = r.expected_pa - t.start.0;
    Ok(html! {
        section class={ "headline " (if r.shows_a_leak { "act" } else { "ok" }) } {
            p.verdict { strong {
                @if r.shows_a_leak { "It fell by more than the instruments’ own error: a leak." }
                @else { "No fall beyond the instruments’ own error." }
            } }
            p { "Temperature alone makes " (kpa(warmth)) " kPa; what is missing beside that is "
                (kpa(r.fall_pa)) " kPa " span.interval { "(90 %: " (kpa(low)) " to " (kpa(high))
                " kPa)" } "." }
            @if r.shows_a_leak {
                p { "That is " (format!("{:.1e}", r.leak_pa_m3_s)) " Pa·m³/s at test pressure "
                    span.interval { "(90 %: " (format!("{:.1e}", r.leak_pa_m3_s_p90[0])) " to "
                    (format!("{:.1e}", r.leak_pa_m3_s_p90[1])) ")" } ". Do first: bubbles or a \
                    detector at every joint, halves isolated one after the other." }
            }
            p { "The smallest leak that shows in this time with these instruments, nine times in \
                 ten: " (format!("{:.1e}", r.smallest_pa_m3_s)) " Pa·m³/s, "
                (year(r.smallest_pa_m3_s)) " g of nitrogen a year. A smaller one is not ruled \
                 out; a finer gauge, a longer time or a steadier temperature sees more." }
        }
    })
}

/// Standing pressure against saturation.
pub(super) fn standing(sent: &Sent<'_>) -> Answered {
    let f = STANDING;
    let made = sent.answer(f, || standing_answer(sent));
    let shown = html! {
        section #standing aria-labelledby="standing-head" {
            h2 #standing-head { "Standing pressure: non-condensable gas" }
            p.hint {
                "Charge in the condenser, unit off and locked, everything at one temperature for \
                 hours. Liquid must be left. Liquid refrigerant freezes skin and eyes: goggles and \
                 gloves, connect slowly."
            }
            form.fluid-form method="get" action="/vacuum#standing" {
                input type="hidden" name="ask" value=(f);
                div {
                    label for="standing-fluid" { "Refrigerant on the plate" }
                    select #standing-fluid name="fluid" {
                        (fluid_options(&sent.text(f, "fluid", "R134a")))
                    }
                }
                (sent.field(f, "p", "Standing pressure", "", "with its unit: 5.9barg, 665kPaa"))
                (sent.field(f, "t", "Temperature of all, °C", "", "condenser and air around it"))
                (sent.field(f, "gauge", "Gauge error either way, kPa", "31", "class × span: class \
                    1.0 over 31 bar is 31 kPa"))
                (sent.field(f, "thermometer", "Thermometer, K either way", "0.3", ""))
                (sent.field(f, "vapour", "Vapour space, l", "", "empty: mass of air not worked out"))
                (sent.field(f, "barometer", "Barometer, kPa", "101.325", ""))
                div { button.main type="submit" { "Work out" } }
            }
            (made.shown)
        }
    };
    Answered { shown, good: made.good }
}

fn standing_answer(sent: &Sent<'_>) -> Result<Markup, String> {
    let f = STANDING;
    let fluid =
        Refrigerant::named(&sent.text(f, "fluid", "")).map_err(|e| format!("Refrigerant: {e}."))?;
    let s = Standing {
        pressure_pa: sent.pressure_pa(f, "p", "The standing pressure")?,
        temp_c: sent.number(f, "t", "The temperature")?,
        gauge_error_pa: sent.number(f, "gauge", "The gauge’s error")? * 1e3,
        thermometer_k: sent.number(f, "thermometer", "The thermometer’s error")?,
        vapour_m3: sent.maybe(f, "vapour", "The vapour space")?.map(|l| l / 1e3),
    };
    if s.gauge_error_pa < 0.0 || s.thermometer_k < 0.0 || s.vapour_m3.is_some_and(|v| v < 0.0) {
        return Err("Errors and volumes are not below nought.".to_owned());
    }
    let r = standing_test(fluid, &s).map_err(|e| format!("{e}."))?;
    let kpa = |pa: f64| number(pa / 1e3, 1);
    let (class, words) = match r.verdict {
        StandingVerdict::NonCondensables => (
            "act",
            "Above saturation by more than the instruments’ error: non-condensable gas, or another \
             refrigerant mixed in.",
        ),
        StandingVerdict::NotThisRefrigerant => (
            "act",
            "Below saturation by more than the instruments’ error: not this refrigerant, or no \
             liquid left, or not yet at one temperature.",
        ),
        StandingVerdict::Consistent => (
            "ok",
            "Within the instruments’ error of saturation. That does not prove which refrigerant it \
             is.",
        ),
    };
    Ok(html! {
        section class={ "headline " (class) } {
            p.verdict { strong { (words) } }
            p { (fluid.name()) " at " (number(s.temp_c, 1)) " °C boils at " (kpa(r.p_sat_pa))
                " kPa absolute; it stands " (kpa(r.excess_pa)) " kPa above "
                span.interval { "(90 %: " (kpa(r.excess_pa_p90[0])) " to "
                    (kpa(r.excess_pa_p90[1])) ")" } ", as " (number(r.excess_k, 1)) " K." }
            p { "These instruments can tell " (kpa(r.smallest_pa)) " kPa and more."
                @if let Some(g) = r.air_g.filter(|g| *g > 0.0) {
                    " If all the excess is air, that is " (number(g, 1)) " g of it."
                } }
        }
    })
}
