//! The two other waits with a gauge: nitrogen under pressure, and a standing charge looked at for
//! non-condensable gas.

use fluids::Refrigerant;
use maud::{Markup, html};
use record::{Act, PressureKind};
use vacuum::nitrogen::{PressureTest, PressureVerdict, pressure_test};
use vacuum::standing::{Standing, StandingVerdict, standing_test};
use vacuum::told;
use voyage::pressure::{PressureHead, as_written, nitrogen_act, standing_act};

use super::ask::{Answered, Sent, fluid_options};
use super::cautions;

const PRESSURE: &str = "pressure";
const STANDING: &str = "standing";

/// The fields of a form, and the command's options that ask the same.
const NITROGEN_FIELDS: [(&str, &str); 9] = [
    ("volume", "volume-l"),
    ("p1", "start"),
    ("t1", "start-c"),
    ("p2", "end"),
    ("t2", "end-c"),
    ("hours", "hours"),
    ("step", "gauge-step-kpa"),
    ("thermometer", "thermometer-k"),
    ("barometer", "barometer-kpa"),
];
const STANDING_FIELDS: [(&str, &str); 7] = [
    ("fluid", "fluid"),
    ("p", "pressure"),
    ("t", "temp-c"),
    ("gauge", "gauge-error-kpa"),
    ("thermometer", "thermometer-k"),
    ("vapour", "vapour-l"),
    ("barometer", "barometer-kpa"),
];

/// Nitrogen pressure test.
pub(super) fn nitrogen(sent: &Sent<'_>) -> Answered {
    let f = PRESSURE;
    let made = sent.answer(f, || nitrogen_answer(sent));
    let shown = html! {
        section #pressure aria-labelledby="pressure-head" {
            h2 #pressure-head { "Nitrogen pressure test" }
            (cautions::line(&told::PRESSURE_TEST))
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

fn nitrogen_test(sent: &Sent<'_>) -> Result<PressureTest, String> {
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
    Ok(t)
}

fn nitrogen_answer(sent: &Sent<'_>) -> Result<Markup, String> {
    let t = nitrogen_test(sent)?;
    let r = pressure_test(&t).map_err(|e| format!("{e}."))?;
    let class = match r.verdict() {
        PressureVerdict::Leaking => "act",
        PressureVerdict::Rose => "watch",
        PressureVerdict::NoFallSeen => "ok",
    };
    Ok(html! {
        (answered(class, &told::nitrogen(&t, &r)))
        (keep_form(sent, PressureKind::Nitrogen))
    })
}

/// An answer, the verdict first.
fn answered(class: &str, told: &[String]) -> Markup {
    html! {
        section class={ "headline " (class) } {
            @for (i, line) in told.iter().enumerate() {
                @if i == 0 { p.verdict { strong { (line) } } } @else { p { (line) } }
            }
        }
    }
}

/// Standing pressure against saturation.
pub(super) fn standing(sent: &Sent<'_>) -> Answered {
    let f = STANDING;
    let made = sent.answer(f, || standing_answer(sent));
    let shown = html! {
        section #standing aria-labelledby="standing-head" {
            h2 #standing-head { "Standing pressure: non-condensable gas" }
            (cautions::line(&told::STANDING_CHARGE))
            p.hint {
                "Charge in the condenser, everything at one temperature for hours, liquid left in \
                 it."
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

fn standing_of(sent: &Sent<'_>) -> Result<(&'static Refrigerant, Standing), String> {
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
    Ok((fluid, s))
}

fn standing_answer(sent: &Sent<'_>) -> Result<Markup, String> {
    let (fluid, s) = standing_of(sent)?;
    let r = standing_test(fluid, &s).map_err(|e| format!("{e}."))?;
    let class = if r.verdict == StandingVerdict::Consistent { "ok" } else { "act" };
    Ok(html! {
        (answered(class, &told::standing(fluid, &s, &r)))
        (keep_form(sent, PressureKind::Standing))
    })
}

/// The form's word in the address, and its fields.
fn form_of(kind: PressureKind) -> (&'static str, &'static [(&'static str, &'static str)]) {
    match kind {
        PressureKind::Nitrogen => (PRESSURE, &NITROGEN_FIELDS),
        PressureKind::Standing => (STANDING, &STANDING_FIELDS),
    }
}

/// Signs the answer just given into the journal.
fn keep_form(sent: &Sent<'_>, kind: PressureKind) -> Markup {
    let (form, fields) = form_of(kind);
    let field = |key: &str, label: &str, most: &str, must: bool, hint: &str| {
        let id = format!("{form}-keep-{key}");
        html! {
            div {
                label for=(id) { (label) }
                input id=(id) name=(key) maxlength=(most) required[must] autocomplete="off"
                    placeholder=(hint);
            }
        }
    };
    html! {
        form.upload.keep-test method="post" action="/vacuum/keep" {
            h3 { "Sign it into the journal" }
            input type="hidden" name="ask" value=(form);
            @for (key, _) in fields {
                input type="hidden" name=(key) value=(sent.text(form, key, ""));
            }
            div.fluid-form {
                (field("unit_no", "Container, if it is one’s circuit", "20", false, "QQQU1000011"))
                (field("place", "Place or part", "120", false, "whole circuit; high side"))
                (field("gauge_name", "Which gauge (kind and number)", "120", true, "test gauge no. 2"))
                div {
                    label for={ (form) "-keep-cal" } { "Calibrated on (empty: no paper)" }
                    input id={ (form) "-keep-cal" } name="calibrated_on" type="date";
                }
                (field("ambient_c", "Ambient, °C", "8", false, "24"))
                (field("at", "Last reading taken at, UTC (empty: now)", "25", false, "now"))
                (field("remark", "Remark", "200", false, ""))
                (field("who", "Signed by", "80", true, ""))
            }
            button.main type="submit" { "Sign" }
            p.hint { "Readings and answer are kept as they stand now; nothing in the journal is \
                edited." }
        }
    }
}

/// What was sent by [`keep_form`], judged once more, as an act.
///
/// # Errors
/// What cannot be read.
pub(crate) fn to_keep(pairs: &[(String, String)], mut head: PressureHead) -> Result<Act, String> {
    let sent = Sent(pairs);
    let kind = match sent.is(PRESSURE) {
        true => PressureKind::Nitrogen,
        false => PressureKind::Standing,
    };
    let (form, fields) = form_of(kind);
    let options: Vec<&str> = fields.iter().map(|(_, option)| *option).collect();
    let texts: Vec<(&str, String)> =
        fields.iter().map(|(key, option)| (*option, sent.text(form, key, ""))).collect();
    head.as_written = as_written(&options, |option| {
        texts.iter().find(|(o, _)| *o == option).map(|(_, text)| text.as_str())
    });
    let act = match kind {
        PressureKind::Nitrogen => nitrogen_act(head, &nitrogen_test(&sent)?),
        PressureKind::Standing => {
            let (fluid, s) = standing_of(&sent)?;
            standing_act(head, fluid, &s)
        }
    };
    act.map_err(|e| format!("{e}."))
}
