//! What is said with a verdict: why, what next, what to mind.

use crate::PA_PER_UM;
use crate::ahead::plain_form;
use crate::judge::{Found, FreeWater, Setup, Verdict};
use crate::loss::Loss;
use crate::noise::Points;
use crate::priors::TIGHT_UM_MIN;
use crate::weigh::Class;

/// Most probable form of the answer.
fn top_form(f: &Found<'_>) -> Option<&'static str> {
    let of = f.parts.iter().filter(|p| p.class == f.best);
    of.max_by(|a, b| a.ln_z.total_cmp(&b.ln_z)).map(|p| plain_form(p.slice.form))
}

/// Why.
pub(crate) fn because(points: &Points, f: &Found<'_>) -> Vec<String> {
    let mut all = Vec::new();
    let s = &f.scene;
    if f.parts.is_empty() {
        let n = points.fitted;
        return vec![format!(
            "{n} readings after the first minute are too few to tell a leak from moisture; read at \
             least every minute for 15 min"
        )];
    }
    all.push(format!(
        "{} readings after the first minute, to {:.0} min: {:.0} to {:.0} µm, noise {:.1} %",
        points.fitted,
        s.end,
        s.first,
        s.last,
        points.noise * 100.0
    ));
    if let Some(form) = top_form(f) {
        all.push(format!("the curve is best told as {form}"));
    }
    if let Some(r) = f.rise {
        all.push(format!(
            "steady rise {:.2} µm/min [{:.2}, {:.2}]; gross tight is below {TIGHT_UM_MIN} µm/min",
            r.mid, r.p90[0], r.p90[1]
        ));
    }
    all.extend(water(f));
    if f.ruled.too_short && f.best == Class::Dry {
        all.push(format!("{:.0} min is too short to call it dry; 10 min is the least", s.end));
    }
    if f.ruled.much && f.best == Class::Dry {
        all.push("it rises too much to be called dry, whatever gives off the gas".to_owned());
    }
    if points.coarse {
        all.push(format!(
            "the display's steps of {:.0} µm hide more than the noise does",
            points.resolution_um
        ));
    }
    if points.wild > 0 {
        all.push(format!("{} readings far off their neighbours were left out", points.wild));
    }
    all
}

/// What the plateau says of water.
fn water(f: &Found<'_>) -> Vec<String> {
    let mut all = Vec::new();
    let wet = matches!(f.best, Class::Wet | Class::Both);
    if let Some(l) = f.limit.filter(|_| wet) {
        all.push(format!(
            "moisture would level off at {:.0} µm ({:.0} Pa) [{:.0}, {:.0}]",
            l.mid,
            l.mid * PA_PER_UM,
            l.p90[0],
            l.p90[1]
        ));
        if let (None, Ok(t)) = (f.scene.p_sat, fluids::water::temperature_k(l.mid * PA_PER_UM)) {
            let t_c = t - units::temperature::ZERO_C_K;
            all.push(format!(
                "liquid or ice at {t_c:.0} °C would give the same plateau: measure the coldest \
                 surface and compare"
            ));
        }
    }
    let Some(p) = f.scene.p_sat else { return all };
    let name = if p * PA_PER_UM < fluids::water::TRIPLE_PA { "ice" } else { "water" };
    all.push(match (f.free_water, f.ruled.near_sat, f.ruled.above_sat) {
        (FreeWater::Yes, ..) => {
            format!(
                "the plateau is the vapour pressure of {name} at the coldest surface, {p:.0} µm"
            )
        }
        (_, true, _) => format!(
            "the hold stands within a tenth of the vapour pressure of {name} at the coldest \
             surface ({p:.0} µm): it may hide {name}"
        ),
        (_, _, true) => format!(
            "the hold stands above the vapour pressure of {name} at the coldest surface ({p:.0} \
             µm), so {name} may hide under it"
        ),
        (FreeWater::No, ..) => format!(
            "it stays clearly below the vapour pressure of {name} at the coldest surface ({p:.0} \
             µm): no free {name}"
        ),
        _ => format!("{name} at the coldest surface would level off at {p:.0} µm"),
    });
    all
}

/// What to do next, least trouble first.
pub(crate) fn next(f: &Found<'_>) -> Vec<String> {
    let mut all: Vec<&str> = Vec::new();
    // 10 °C: 9212 µm (reference §4.2).
    let cold = f.scene.p_sat.is_some_and(|p| p < 9212.0);
    match (f.verdict, f.best) {
        (Verdict::DryAndGrossTight, _) => {
            all.push(
                "go on to charging by the maker's instructions, and check joints under \
                      pressure: small leaks show only there",
            );
        }
        (Verdict::Undecided, _) => {
            all.push(
                "leave the valve closed and keep reading; log the coldest surface's \
                      temperature with it",
            );
            all.push(
                "then break with dry nitrogen through a regulator and pull again: a leak \
                      repeats itself, moisture shrinks",
            );
        }
        (_, Class::Leaking) => {
            all.push("first rule out the rig: hold with the hose and gauge alone");
            all.push(
                "isolate halves of the circuit one after the other and hold each: the half \
                      that rises has it",
            );
            all.push(
                "break with dry nitrogen through a regulator and look for it under pressure \
                      with bubbles or a detector",
            );
        }
        (_, Class::Both) => {
            all.push(
                "find the leak first (isolate halves and hold each; nitrogen and bubbles): \
                      it brings moisture in",
            );
            all.push("then warm the coil, pull again after a nitrogen break, and fit a new drier");
        }
        _ => {
            all.push(
                "pull again after a break with dry nitrogen through a regulator: the \
                      moisture's part must shrink",
            );
            all.push("change the pump's oil: it is wet now; fit a new drier at the end");
        }
    }
    if cold && f.verdict != Verdict::DryAndGrossTight {
        all.push(
            "warm the coldest surface above 10 °C (defrost heaters, fan) before the next pull",
        );
    }
    all.into_iter().map(str::to_owned).collect()
}

/// What to mind.
pub(crate) fn cautions(
    points: &Points,
    setup: &Setup,
    f: &Found<'_>,
    loss: Option<&Loss>,
) -> Vec<String> {
    let mut all = vec![
        "a hold shows dryness and gross tightness only; a leak of 50 g a year moves it a quarter of \
         a µm in 10 min"
            .to_owned(),
    ];
    let slowing = top_form(f) == Some(plain_form(crate::columns::Form::Root));
    if f.best == Class::Dry && slowing {
        all.push(
            "the rise slows down without levelling off: oil or surfaces giving off gas; a second \
             pull should show less of it"
                .to_owned(),
        );
    }
    if setup.coldest_c.is_none() {
        all.push("no coldest temperature given: free water or ice cannot be told".to_owned());
    } else if f.scene.p_sat.is_some_and(|p| p < 4588.0) {
        all.push(
            "ice: vacuum hardly moves it; warm the coil above 10 °C and hold again".to_owned(),
        );
    }
    if f.best == Class::Dry && f.scene.last > 1500.0 {
        all.push(format!("{:.0} µm is far above the usual 500 µm", f.scene.last));
    }
    if f.best == Class::Wet {
        let hidden = f.rise.map_or(TIGHT_UM_MIN, |r| r.p90[1].max(TIGHT_UM_MIN));
        all.push(format!(
            "a steady rise of less than {hidden:.1} µm/min could hide under the moisture"
        ));
    }
    if setup.volume_m3.is_none() {
        all.push("no volume given: the leak rate cannot be worked out".to_owned());
    } else if setup.fluid.is_none() {
        all.push("no refrigerant given: the loss in operation cannot be worked out".to_owned());
    }
    all.extend(loss.map(|l| format!("loss in operation: {}", l.assumptions)));
    if points.coarse {
        all.push("a gauge with finer steps would tell in less time".to_owned());
    }
    all
}
