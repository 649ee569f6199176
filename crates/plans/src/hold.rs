//! The air of a hold in which boxes run: every kilowatt drawn, and the cargo's own heat, ends in
//! it.

use crate::{Marked, Refused};

/// Hold air above which units stop or lose capacity, °C (GDV Container Handbook §8.3.2: their
/// usual ambient limit).
pub const LIMIT_C: f64 = 45.0;
/// Hold air at which to act, °C: estimate.
pub const WARN_C: f64 = 40.0;
/// Specific heat of air, kJ/(kg·K), and density kg/m³ of warm air as the reference table of hold
/// ventilation uses them.
const AIR_KJ_KGK: f64 = 1.006;
const AIR_KG_M3: f64 = 1.13;

/// One box in the hold.
#[derive(Debug, Clone, PartialEq)]
pub struct HoldBox {
    /// Box number.
    pub id: String,
    /// Heat given to the hold air, kW, as an average over its cycles. Where no power is read, the
    /// range of the GDV Container Handbook §8.3.1-2 (4 to 5 frozen, 12 to 13 bananas, 7 to 15 in
    /// general) is a guide.
    pub rejected_kw: Marked,
    /// How much warmer its intake is than the hold's mean, K: own hot air drawn in again, a high
    /// tier, a dead corner. 0 when not known.
    pub intake_above_k: f64,
}

/// A hold with its ventilation.
#[derive(Debug, Clone, PartialEq)]
pub struct Hold {
    /// Name.
    pub name: String,
    /// Boxes that run in it.
    pub boxes: Vec<HoldBox>,
    /// Air the fans bring in, m³/h.
    pub air_m3_h: Marked,
    /// Temperature of the air brought in, °C.
    pub outside_c: f64,
    /// Relative standard deviation of heat over air as known: estimate unless measured.
    pub ratio_sd: f64,
}

/// How a hold stands.
#[derive(Debug, Clone, PartialEq)]
pub struct HoldState {
    /// Name.
    pub name: String,
    /// Heat of all boxes, kW.
    pub heat_kw: f64,
    /// Steady mean temperature of the air that leaves, °C; `None` without ventilation.
    pub air_c: Option<f64>,
    /// 90 % interval, °C.
    pub air_c_p90: Option<[f64; 2]>,
    /// Air needed to keep the hottest intake at [`LIMIT_C`], m³/h; `None` when the outside air is
    /// too warm for any.
    pub air_needed_m3_h: Option<f64>,
    /// Boxes whose intake reaches [`LIMIT_C`] at the upper end of the interval, hottest first.
    pub at_risk: Vec<String>,
    /// How many kW less, or m³/h more, would clear them; in words.
    pub words: String,
    /// What in it is an estimate.
    pub estimates: Vec<String>,
}

/// Air needed to carry `heat_kw` at a rise of `rise_k`, m³/h: V = Q / (ρ c ΔT).
#[must_use]
pub fn air_needed_m3_h(heat_kw: f64, rise_k: f64) -> f64 {
    3600.0 * heat_kw / (AIR_KG_M3 * AIR_KJ_KGK * rise_k)
}

/// Steady state of `hold`. Heat through the ship's side is left out: at sea it cools a hold this
/// warm, so the answer is on the safe side.
///
/// # Errors
/// [`Refused`] when a figure is not possible.
pub fn state(hold: &Hold) -> Result<HoldState, Refused> {
    let air = hold.air_m3_h.value;
    let ok = hold.boxes.iter().all(|b| b.rejected_kw.value >= 0.0 && b.intake_above_k >= 0.0);
    if !(ok && air >= 0.0 && hold.outside_c.is_finite() && (0.0..1.0).contains(&hold.ratio_sd)) {
        return Err(Refused(format!(
            "{}: heat, air flow, outside air or spread is not possible; check the figures",
            hold.name
        )));
    }
    let heat_kw: f64 = hold.boxes.iter().map(|b| b.rejected_kw.value).sum();
    let worst_k = hold.boxes.iter().map(|b| b.intake_above_k).fold(0.0, f64::max);
    let rise = (air > 0.0).then(|| 3600.0 * heat_kw / (AIR_KG_M3 * AIR_KJ_KGK * air));
    let spread = 1.644_854 * hold.ratio_sd;
    let ends = rise.map(|r| {
        [hold.outside_c + r * (1.0 - spread).max(0.0), hold.outside_c + r * (1.0 + spread)]
    });
    let room_k = LIMIT_C - worst_k - hold.outside_c;
    let needed = (room_k > 0.0).then(|| air_needed_m3_h(heat_kw, room_k));
    let mut risk: Vec<(&str, f64)> = hold
        .boxes
        .iter()
        .filter(|b| ends.is_none_or(|e| e[1] + b.intake_above_k > LIMIT_C))
        .map(|b| (b.id.as_str(), b.intake_above_k))
        .collect();
    risk.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(b.0)));
    let mut estimates = Vec::new();
    let guessed = hold.boxes.iter().filter(|b| b.rejected_kw.is_estimate()).count();
    if guessed > 0 {
        estimates.push(format!("heat of {guessed} of {} boxes: estimate", hold.boxes.len()));
    }
    if hold.air_m3_h.is_estimate() {
        estimates.push(format!("ventilation {air:.0} m³/h: estimate"));
    }
    Ok(HoldState {
        name: hold.name.clone(),
        heat_kw,
        air_c: rise.map(|r| hold.outside_c + r),
        air_c_p90: ends,
        air_needed_m3_h: needed,
        words: words(hold, heat_kw, ends, needed, risk.len()),
        at_risk: risk.into_iter().map(|r| r.0.to_owned()).collect(),
        estimates,
    })
}

fn words(
    hold: &Hold,
    heat_kw: f64,
    ends: Option<[f64; 2]>,
    needed: Option<f64>,
    at_risk: usize,
) -> String {
    let name = &hold.name;
    let Some(ends) = ends else {
        return format!(
            "{name}: no ventilation and {heat_kw:.0} kW of heat; start the fans or switch boxes \
             off before units stop on hot air. Test the air before entering."
        );
    };
    let range = format!("{name}: air {:.0} to {:.0} °C with {heat_kw:.0} kW", ends[0], ends[1]);
    if at_risk > 0 {
        let help = needed.map_or_else(
            || "no air flow is enough: move heat out or switch boxes off".to_owned(),
            |v| format!("{v:.0} m³/h would hold {LIMIT_C:.0} °C, {:.0} now", hold.air_m3_h.value),
        );
        return format!("{range}; {at_risk} box(es) may draw in over {LIMIT_C:.0} °C; {help}.");
    }
    if ends[1] > WARN_C {
        return format!("{range}; over {WARN_C:.0} °C: more fans, and watch the top tiers.");
    }
    format!("{range}; below {WARN_C:.0} °C.")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Table of the reference for hold ventilation (arithmetic at ρ 1.13; GDV Container Handbook
    /// §8.3.2 for the range of heat).
    #[test]
    fn air_as_tabulated() {
        for (q, five, ten) in [
            (4.5, 2850.0, 1425.0),
            (7.0, 4434.0, 2217.0),
            (11.0, 6967.0, 3484.0),
            (12.5, 7917.0, 3959.0),
            (15.0, 9501.0, 4750.0),
        ] {
            assert!((air_needed_m3_h(q, 5.0) - five).abs() < 1.0, "{q}");
            assert!((air_needed_m3_h(q, 10.0) - ten).abs() < 1.0, "{q}");
        }
    }

    fn hold(air: f64, outside_c: f64) -> Hold {
        let boxes = (0..10).map(|i| HoldBox {
            id: format!("QQQU{i:07}"),
            rejected_kw: Marked::estimate(7.0),
            intake_above_k: if i == 3 { 6.0 } else { 0.0 },
        });
        Hold {
            name: "hold 4".to_owned(),
            boxes: boxes.collect(),
            air_m3_h: Marked::measured(air),
            outside_c,
            ratio_sd: 0.1,
        }
    }

    #[test]
    fn rise_and_risk() {
        // 10 boxes at the table's 4434 m³/h each rise 5 K.
        let s = state(&hold(44_340.0, 35.0)).unwrap();
        assert!((s.air_c.unwrap() - 40.0).abs() < 0.01);
        assert_eq!(s.at_risk, ["QQQU0000003"]);
        assert!((s.air_needed_m3_h.unwrap() - air_needed_m3_h(70.0, 4.0)).abs() < 1e-6);
        assert!(state(&hold(44_340.0, 20.0)).unwrap().at_risk.is_empty());
        let none = state(&hold(0.0, 30.0)).unwrap();
        assert!(none.air_c.is_none() && none.at_risk.len() == 10);
        assert!(state(&hold(-1.0, 30.0)).is_err());
    }
}
