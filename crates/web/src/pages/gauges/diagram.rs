//! The cycle as it fits the readings, over the sound one.

use circuit::picture::Corner;
use figures::{Look, PhCycle, PhDiagram, PhLine, PhPoint, ph_diagram};
use fluids::diagram::{Curve, Point};
use fluids::{FluidError, Refrigerant};
use maud::{Markup, PreEscaped, html};

use super::answer::number;
use super::work::Told;

/// The two cycles, or why there are none.
pub fn diagram(told: &Told) -> Markup {
    html! {
        section aria-label="The cycle" {
            h2 { "The cycle" }
            @match (&told.cycles, &told.diagnosis.machine) {
                (Some(c), _) => (drawn(told, &c.measured, &c.sound)),
                (None, _) if !told.input.compressor_on => p.hint {
                    "A standing circuit runs no cycle."
                },
                (None, None) => p.hint {
                    "Choose a machine, and the cycle is drawn beside that of a sound unit."
                },
                (None, Some(_)) => p.hint {
                    "No steady cycle fits these readings, so none is drawn."
                },
            }
        }
    }
}

fn drawn(told: &Told, measured: &[Corner], sound: &[Corner]) -> Markup {
    let fault = told.diagnosis.faults.first().map_or("", |f| f.fault.words());
    let made = Refrigerant::named(&told.input.fluid).and_then(|f| lines(f, measured, sound));
    html! {
        p.hint {
            "Solid and numbered: the cycle that fits the readings best, supposing: " (fault)
            ". Dashed: a sound unit of this kind at the same air temperatures. Both are worked \
             out, not measured at every corner."
        }
        @match made {
            Ok(d) => figure.ph-figure {
                (PreEscaped(ph_diagram(&d, Look::Wide)))
                (PreEscaped(ph_diagram(&d, Look::Narrow)))
            },
            Err(why) => p.field-error { "The diagram could not be drawn: " (why) "." },
        }
        details {
            summary { "The corners in figures" }
            (corners(measured, sound))
        }
    }
}

fn corners(measured: &[Corner], sound: &[Corner]) -> Markup {
    html! {
        table.pressures {
            caption { "The cycle that fits the readings, and in brackets the sound one" }
            thead { tr {
                th scope="col" { "Corner" }
                th scope="col" { "kPa absolute" }
                th scope="col" { "h, kJ/kg" }
            } }
            tbody { @for (i, (m, s)) in measured.iter().zip(sound).enumerate() { tr {
                th scope="row" { (i + 1) " " (m.place) }
                td { (number(m.p_kpa, 0)) " (" (number(s.p_kpa, 0)) ")" }
                td { (number(m.h_kj_kg, 1)) " (" (number(s.h_kj_kg, 1)) ")" }
            } } }
        }
    }
}

fn lines(
    fluid: &Refrigerant,
    measured: &[Corner],
    sound: &[Corner],
) -> Result<PhDiagram, FluidError> {
    let top = fluid.pressure_max_pa() / 1e3;
    let pressures = || measured.iter().chain(sound).map(|c| c.p_kpa);
    let mut frame = fluid.usual_frame()?;
    frame.points = 60;
    frame.temps_c = (-3..=7).map(|i| f64::from(i) * 20.0).collect();
    // The cycle is what is looked at: fewer lines under it than on the page of the refrigerant.
    frame.entropies_kj_kgk = Vec::new();
    frame.qualities = Vec::new();
    let low = pressures().fold(f64::INFINITY, f64::min) * 0.5;
    let high = (pressures().fold(0.0, f64::max) * 2.5).min(frame.p_to_kpa).min(top);
    frame.p_from_kpa = low.max(1.0);
    frame.p_to_kpa = high;
    let d = fluid.diagram(&frame)?;
    let points = |all: &[Point]| -> Vec<PhPoint> {
        all.iter().map(|p| PhPoint { h_kj_kg: p.h_kj_kg, p_kpa: p.p_kpa }).collect()
    };
    let curves = |all: &[Curve]| -> Vec<PhLine> {
        all.iter().map(|c| PhLine { value: c.value, points: points(&c.points) }).collect()
    };
    let ring = |all: &[Corner], label: &str, dashed| PhCycle {
        points: all.iter().map(|c| PhPoint { h_kj_kg: c.h_kj_kg, p_kpa: c.p_kpa }).collect(),
        label: label.to_owned(),
        dashed,
    };
    Ok(PhDiagram {
        fluid: fluid.name().to_owned(),
        bubble: points(&d.bubble),
        dew: points(&d.dew),
        isotherms: curves(&d.isotherms),
        isentropes: Vec::new(),
        qualities: Vec::new(),
        critical: None,
        marks: Vec::new(),
        cycles: vec![ring(measured, "fits the readings", false), ring(sound, "sound unit", true)],
        pressures_kpa: [frame.p_from_kpa, frame.p_to_kpa],
    })
}
