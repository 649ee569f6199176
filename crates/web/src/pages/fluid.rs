//! A refrigerant: saturation both ways, the state, and the diagram they lie on.

use figures::{Look, PhDiagram, PhLine, PhMark, PhPoint, ph_diagram};
use fluids::answer::Given;
use fluids::diagram::{Curve, Point};
use fluids::text::{Pressure, parse_pressure, parse_temperature_c};
use fluids::{
    FluidError, Refrigerant, SaturationAnswer, StateAnswer, saturation_answer, state_answer,
};
use maud::{Markup, PreEscaped, html};
use units::temperature::ZERO_C_K;

use super::{Live, Shell, Tab, page};

/// One standard atmosphere, kPa, by definition (10th CGPM 1954, resolution 4).
const STANDARD_KPA: f64 = 101.325;
const PSI_KPA: f64 = 6.894_757_293_168;
/// Longest text looked at in a field.
const LONGEST: usize = 60;

/// The form as it was sent.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    name: String,
    pressure: String,
    temperature: String,
    barometer: String,
}

impl Asked {
    /// From the address; what is missing is empty, the barometer standard.
    #[must_use]
    pub fn from_pairs(pairs: &[(String, String)]) -> Self {
        let field = |key: &str, without: &str| {
            let found = pairs.iter().find(|(k, _)| k == key);
            let text = found.map_or(without, |(_, v)| v.trim());
            text.chars().take(LONGEST).collect::<String>()
        };
        Self {
            name: field("name", "R134a"),
            pressure: field("p", ""),
            temperature: field("t", ""),
            barometer: field("barometer", "101.325"),
        }
    }
}

/// What the fields hold, or in words why not.
struct Heard {
    barometer: Result<f64, String>,
    pressure: Option<Result<Pressure, String>>,
    temp_c: Option<Result<f64, String>>,
}

fn hear(asked: &Asked) -> Heard {
    let text = asked.barometer.replace(',', ".");
    let barometer =
        text.parse::<f64>().ok().filter(|b| (80.0..=110.0).contains(b)).ok_or_else(|| {
            "The barometer is not read: write kPa without unit, 80 to 110 (1 013 mbar is 101.3)."
                .to_owned()
        });
    let at = barometer.clone().unwrap_or(STANDARD_KPA);
    let some = |t: &str| (!t.is_empty()).then(|| t.to_owned());
    Heard {
        pressure: some(&asked.pressure)
            .map(|t| parse_pressure(&t, at).map_err(|e| format!("Pressure: {e}."))),
        temp_c: some(&asked.temperature)
            .map(|t| parse_temperature_c(&t).map_err(|e| format!("Temperature: {e}."))),
        barometer,
    }
}

/// What comes of it.
enum Answer {
    Nothing,
    Saturation(SaturationAnswer),
    State(Box<StateAnswer>),
    Refused(String),
}

fn answer(fluid: &Refrigerant, heard: &Heard) -> Answer {
    if heard.barometer.is_err() {
        return Answer::Nothing;
    }
    let saturated = |given| saturation_answer(fluid.name(), given).map(Answer::Saturation);
    let made: Result<Answer, FluidError> = match (&heard.pressure, &heard.temp_c) {
        (Some(Ok(p)), None) => saturated(Given::PressureKpa(p.absolute_kpa)),
        (None, Some(Ok(t))) => saturated(Given::TemperatureC(*t)),
        (Some(Ok(p)), Some(Ok(t))) => {
            state_answer(fluid.name(), p.absolute_kpa, *t).map(|s| Answer::State(Box::new(s)))
        }
        _ => Ok(Answer::Nothing),
    };
    made.unwrap_or_else(|e| Answer::Refused(e.to_string()))
}

/// The page, and whether everything asked for could be answered.
#[must_use]
pub fn fluid_page(shell: &Shell, asked: &Asked) -> (Markup, bool) {
    let heard = hear(asked);
    let fluid = Refrigerant::named(&asked.name);
    let made = fluid.as_ref().map_or(Answer::Nothing, |f| answer(f, &heard));
    let wrong = |r: &Option<Result<f64, String>>| matches!(r, Some(Err(_)));
    let good = fluid.is_ok()
        && heard.barometer.is_ok()
        && !matches!(heard.pressure, Some(Err(_)))
        && !wrong(&heard.temp_c)
        && !matches!(made, Answer::Refused(_));
    let at = heard.barometer.clone().unwrap_or(STANDARD_KPA);
    let content = html! {
        h1 { "Fluids" }
        (form(asked, &heard, fluid.as_ref().err()))
        (cautions(fluid.as_ref().ok().map(|f| f.name())))
        @if let Ok(f) = &fluid {
            section aria-label="Answer" { (answer_part(f, &made, at)) }
            h2 { "Pressure over enthalpy, " (f.name()) }
            (diagram(f, &made))
            h2 { "Where the values come from" }
            p.hint {
                "Tables made from the equations of state named here; outside them there is no "
                "answer, never a guess."
            }
            pre.ph-source { (f.sources()) }
        }
    };
    (page(shell, Tab::Fluids, Live::No, "Fluids", &content), good)
}

fn field(id: &str, label: &str, value: &str, hint: &str, error: Option<&str>) -> Markup {
    let (hint_id, error_id) = (format!("{id}-hint"), format!("{id}-error"));
    let told = if error.is_some() { format!("{error_id} {hint_id}") } else { hint_id.clone() };
    html! {
        div {
            label for=(id) { (label) }
            input id=(id) name=(id) value=(value) maxlength=(LONGEST) autocomplete="off"
                spellcheck="false" autocapitalize="none" aria-describedby=(told)
                aria-invalid=[error.is_some().then_some("true")];
            @if let Some(e) = error { p.field-error id=(error_id) role="alert" { (e) } }
            p.hint id=(hint_id) { (hint) }
        }
    }
}

fn form(asked: &Asked, heard: &Heard, unknown: Option<&FluidError>) -> Markup {
    let names: Vec<&str> =
        Refrigerant::all().map_or_else(|_| Vec::new(), |a| a.iter().map(|f| f.name()).collect());
    let chosen = Refrigerant::named(&asked.name).map_or("", Refrigerant::name);
    let pressure = heard.pressure.as_ref().and_then(|r| r.as_ref().err());
    let temperature = heard.temp_c.as_ref().and_then(|r| r.as_ref().err());
    html! {
        form.fluid-form method="get" action="/fluid" {
            div {
                label for="name" { "Refrigerant" }
                select id="name" name="name" aria-describedby=[unknown.map(|_| "name-error")] {
                    @if unknown.is_some() {
                        option value=(asked.name) selected { (asked.name) }
                    }
                    @for n in &names { option value=(n) selected[*n == chosen] { (n) } }
                }
                @if let Some(e) = unknown {
                    p.field-error #name-error role="alert" { (e) }
                }
            }
            (field("p", "Pressure, with its unit", &asked.pressure,
                "1.8psig 0.35barg 250kPag 15psia 500um; gauge or absolute must be said",
                pressure.map(String::as_str)))
            (field("t", "Temperature, with its unit", &asked.temperature,
                "-18C 34F 255K", temperature.map(String::as_str)))
            (field("barometer", "Barometer, kPa", &asked.barometer,
                "101.325 unless you read another; gauge pressure counts from it",
                heard.barometer.as_ref().err().map(String::as_str)))
            div { button.main type="submit" { "Look up" } }
        }
        p.hint.how {
            "Pressure alone or temperature alone gives saturation both ways; both together give "
            "the state."
        }
    }
}

/// What can hurt a person who connects a gauge.
pub(super) fn cautions(name: Option<&str>) -> Markup {
    html! {
        aside.caution {
            h2 { "Before a gauge is connected" }
            ul {
                @if name == Some("R290") {
                    li { "R290 is highly flammable: no flame, spark or switch near, gas \
                          detector on, ventilate; only with the training and tools for it." }
                }
                @if name == Some("R1234yf") {
                    li { "R1234yf burns (mildly flammable): keep flames and hot surfaces away." }
                }
                @if name == Some("R744") {
                    li { "R744 stands under very high pressure, far above other refrigerants, and \
                          rises fast when warmed: only hoses and gauges rated for it. It \
                          suffocates in a closed space." }
                }
                li { "Pressure, and liquid that freezes skin and eyes: goggles and gloves, connect \
                      and vent slowly. Escaped gas displaces air: ventilate low places." }
                li { "Maker’s instructions, the ship’s procedures and the licence for refrigerant \
                      work come first." }
                li { "Pressure and temperature alone never prove which refrigerant is inside. A \
                      gauge and a probe on a sick unit have errors of their own: compare them with \
                      the barometer and a second one before you believe them." }
            }
        }
    }
}

/// A pressure in the four ways it is read, at the barometer.
fn four_ways(kpa: f64, barometer: f64) -> Markup {
    let gauge = kpa - barometer;
    html! {
        td { (number(kpa, 2)) } td { (number(gauge, 2)) }
        td { (number(gauge / 100.0, 3)) } td { (number(gauge / PSI_KPA, 2)) }
    }
}

fn answer_part(fluid: &Refrigerant, made: &Answer, barometer: f64) -> Markup {
    match made {
        Answer::Nothing => html! {
            p.hint { "Nothing looked up: write a pressure, a temperature or both above." }
        },
        Answer::Refused(why) => html! { p.field-error role="alert" { (why) } },
        Answer::Saturation(s) => saturation(s, barometer),
        Answer::State(s) => state(fluid, s, barometer),
    }
}

fn pressures(rows: &[(&str, Option<f64>, f64)], barometer: f64) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label="Pressures" {
            table.pressures {
                caption { "Gauge counts from a barometer of " (number(barometer, 3)) " kPa" }
                thead { tr {
                    th scope="col" { "" }
                    th scope="col" { "°C" }
                    th scope="col" { "kPa absolute" } th scope="col" { "kPa gauge" }
                    th scope="col" { "bar gauge" } th scope="col" { "psig" }
                } }
                tbody {
                    @for (name, t, kpa) in rows {
                        tr {
                            th scope="row" { (name) }
                            td { @if let Some(t) = t { (number(*t, 2)) } }
                            (four_ways(*kpa, barometer))
                        }
                    }
                }
            }
        }
    }
}

fn saturation(s: &SaturationAnswer, barometer: f64) -> Markup {
    html! {
        h2 { "Saturation of " (s.fluid) }
        (pressures(&[
            ("Bubble (liquid begins to boil)", Some(s.bubble_c), s.bubble_kpa),
            ("Dew (last drop gone)", Some(s.dew_c), s.dew_kpa),
        ], barometer))
        p {
            @match s.glide_k {
                Some(0.0) => "No glide: one temperature at one pressure.",
                Some(g) => { "Glide " strong { (number(g, 2)) " K" } ": dew less bubble \
                    temperature at one pressure. Superheat counts from dew, subcooling from \
                    bubble." }
                None => "Glide not known here: the bubble line does not reach so low.",
            }
        }
    }
}

fn state(fluid: &Refrigerant, s: &StateAnswer, barometer: f64) -> Markup {
    let transport = fluid.transport(s.p_kpa * 1e3, s.t_c + ZERO_C_K);
    let row = |name: &str, value: Option<String>| {
        html! { @if let Some(v) = value { div { dt { (name) } dd { (v) } } } }
    };
    html! {
        h2 { (s.fluid) ": " (s.phase.words()) }
        (pressures(&[("State", Some(s.t_c), s.p_kpa)], barometer))
        dl.figures {
            (row("Superheat", s.superheat_k.map(|k| format!("{} K", number(k, 2)))))
            (row("Subcooling", s.subcooling_k.map(|k| format!("{} K", number(k, 2)))))
            (row("Vapour share", s.quality.map(|x| format!("{} kg/kg", number(x, 3)))))
            (row("Enthalpy h", Some(format!("{} kJ/kg", number(s.h_iir_kj_kg, 2)))))
            (row("Entropy s", Some(format!("{} kJ/(kg·K)", number(s.s_iir_kj_kgk, 4)))))
            (row("Density", Some(format!("{} kg/m³", number(s.rho_kg_m3, 3)))))
            (row("Specific heat cp", s.cp_kj_kgk.map(|c| format!("{} kJ/(kg·K)", number(c, 4)))))
            @if let Ok(t) = &transport {
                (row("Viscosity", Some(format!("{} µPa·s", number(t.viscosity_pa_s * 1e6, 2)))))
                (row("Conductivity",
                    Some(format!("{} mW/(m·K)", number(t.conductivity_w_mk * 1e3, 2)))))
            }
        }
        @if let Err(e) = &transport {
            p.hint { "No viscosity and conductivity: " (without_model(e)) "." }
        }
        p.hint { "h and s by the IIR reference: 200 kJ/kg and 1 kJ/(kg·K) for liquid at its bubble \
                  point at 0\u{a0}°C." }
    }
}

/// Why there is no viscosity, without saying twice that there is none.
fn without_model(e: &FluidError) -> String {
    match e {
        FluidError::NotAvailable { why, .. } => (*why).to_owned(),
        other => other.to_string(),
    }
}

fn number(v: f64, places: usize) -> String {
    let text = format!("{v:.places$}");
    if text.trim_start_matches('-').chars().all(|c| c == '0' || c == '.') {
        return text.trim_start_matches('-').to_owned();
    }
    text.replace('-', "−")
}

fn diagram(fluid: &Refrigerant, made: &Answer) -> Markup {
    match lines(fluid, made) {
        Ok(d) => html! {
            figure.ph-figure {
                (PreEscaped(ph_diagram(&d, Look::Wide)))
                (PreEscaped(ph_diagram(&d, Look::Narrow)))
            }
            @if fluid.is_blend() {
                p.hint { "The top of a blend’s dome is left open: nothing is trusted so close to \
                          its critical point." }
            }
        },
        Err(why) => html! { p.field-error { "The diagram could not be drawn: " (why) } },
    }
}

fn lines(fluid: &Refrigerant, made: &Answer) -> Result<PhDiagram, FluidError> {
    let mut frame = fluid.usual_frame()?;
    frame.points = 60;
    let top = fluid.pressure_max_pa() / 1e3;
    let (h0, _) = fluid.iir_offsets();
    let mut marks = Vec::new();
    let mut mark = |h_kj_kg: f64, p_kpa: f64, label: &str| {
        marks.push(PhMark { at: PhPoint { h_kj_kg, p_kpa }, label: label.to_owned() });
    };
    match made {
        Answer::State(s) => mark(s.h_iir_kj_kg, s.p_kpa, "state"),
        Answer::Saturation(s) => {
            let ends = [
                (fluids::Side::Bubble, s.bubble_kpa, "bubble"),
                (fluids::Side::Dew, s.dew_kpa, "dew"),
            ];
            for (side, kpa, word) in ends {
                if let Ok(at) = fluid.saturated_at_p(kpa * 1e3, side) {
                    mark((at.h_j_kg - h0) / 1e3, kpa, word);
                }
            }
        }
        Answer::Nothing | Answer::Refused(_) => {}
    }
    for m in &marks {
        frame.p_from_kpa = frame.p_from_kpa.min(m.at.p_kpa * 0.8);
        frame.p_to_kpa = frame.p_to_kpa.max((m.at.p_kpa * 1.2).min(top));
    }
    let d = fluid.diagram(&frame)?;
    let points = |all: &[Point]| -> Vec<PhPoint> {
        all.iter().map(|p| PhPoint { h_kj_kg: p.h_kj_kg, p_kpa: p.p_kpa }).collect()
    };
    let curves = |all: &[Curve]| -> Vec<PhLine> {
        all.iter().map(|c| PhLine { value: c.value, points: points(&c.points) }).collect()
    };
    let bubble = points(&d.bubble);
    Ok(PhDiagram {
        fluid: fluid.name().to_owned(),
        critical: bubble.last().copied().filter(|_| !fluid.is_blend()),
        bubble,
        dew: points(&d.dew),
        isotherms: curves(&d.isotherms),
        isentropes: curves(&d.isentropes),
        qualities: curves(&d.qualities),
        marks,
        cycles: Vec::new(),
        pressures_kpa: [frame.p_from_kpa, frame.p_to_kpa],
    })
}
