//! What is assumed of a box before its own readings say better.

use units::math;

use crate::body::{self, Body, Storage};
use crate::dice::Z90;
use crate::estimate::Estimate;
use crate::fit::{AIR, BREATH, CAPACITY, CORE, INNER, N, PROBE, SHELL, SPREAD, STREAM, UA};
use crate::food::{self, Frozen};
use crate::prior::{Size, Stow};
use crate::respiration::Curve;

/// Volume of a 40 ft high-cube and a 20 ft box, m³ (reference/cargo-and-box.md §3.2).
const VOLUME_M3: [f64; 2] = [67.0, 28.0];
/// Air changes of the empty box at high fans, per hour, middle of 60 to 90; half at low fans
/// (§3.2, from memory, unverified).
const CHANGES_PER_H: f64 = 75.0;
/// Air carries this much, J/m³·K.
const AIR_J_PER_M3_K: f64 = 1206.0;
/// Frozen cargo is not known to the same make-up as the table's: spread of its heat capacity.
/// Our estimate.
const FROZEN_LN_SD: f64 = 0.13;

/// Published respiration ranges from mature-unripe to ripening (reference/cargo-and-box.md §1.2);
/// what is shipped is unripe: so far from the middle to the low end. Our estimate.
const UNRIPE: f64 = 0.4;

/// Everything assumed of one box. Widths are standard deviations.
#[derive(Debug, Clone, PartialEq)]
pub struct FitPrior {
    /// The body with its best figures.
    pub body: Body,
    /// Return air is held, low fans; else supply air, high fans.
    pub frozen: bool,
    /// Stream of air, W/K.
    pub stream_w_per_k: f64,
    /// Cargo before anything was read, °C.
    pub cargo_c: f64,
    /// Air that the cargo sees less the air that is read, K.
    pub air_bias_k: f64,
    /// Logarithm of the factor on the published respiration's middle.
    pub ln_breath: f64,
    /// Widths of the unknowns.
    pub sd: [f64; N],
    /// Ambient where it is not read, °C.
    pub outside_c: Estimate,
    /// What three bodies leave out of the mean, K.
    pub structure_k: f64,
}

/// Cargo by its kind.
#[derive(Debug, Clone, PartialEq)]
pub enum Contents {
    /// Frozen, of this composition.
    Frozen(Frozen),
    /// Chilled.
    Chilled {
        /// Specific heat, kJ/kg·K.
        kj_per_kg_k: Estimate,
        /// Freezing point, °C.
        freeze_c: Option<f64>,
        /// Respiration, for living cargo.
        curve: Option<Curve>,
    },
}

fn ln_sd(e: Estimate) -> f64 {
    if e.low > 0.0 { math::ln(e.high / e.low) / (2.0 * Z90) } else { 0.5 }
}

impl FitPrior {
    /// From size, age (where known), mass, cargo, fresh air and the ordered set point.
    #[must_use]
    pub fn new(
        size: Size,
        age_years: Option<f64>,
        mass_kg: Estimate,
        contents: &Contents,
        vent_m3_h: Option<f64>,
        set_c: f64,
    ) -> Self {
        let frozen = matches!(contents, Contents::Frozen(_));
        let (stow, storage, curve) = parts(contents);
        let mut body = Body::new(size, mass_kg.best, stow, storage);
        let living = curve.is_some();
        let scale = curve.as_ref().map_or(Estimate::plus_minus(1.0, 0.0), Curve::scale);
        body.curve = curve;
        let vent = vent_m3_h.unwrap_or(if living { 25.0 } else { 0.0 });
        body = body.with_vent(vent);
        let ua = size.ua_of_age_w_per_k(age_years);
        body.ua_w_per_k = ua.best;
        let mut sd = [0.0; N];
        sd[SHELL] = if frozen { 2.0 } else { 3.0 };
        sd[CORE] = if frozen { 2.2 } else { 3.2 };
        sd[AIR] = if frozen { 0.3 } else { 0.15 };
        sd[UA] = ln_sd(ua);
        sd[INNER] = ln_sd(size.coupling_w_per_k(stow));
        let heat = match contents {
            Contents::Frozen(_) => FROZEN_LN_SD,
            Contents::Chilled { kj_per_kg_k, .. } => ln_sd(*kj_per_kg_k),
        };
        let mass = ln_sd(mass_kg);
        sd[CAPACITY] = math::sqrt(heat * heat + mass * mass);
        sd[BREATH] = if living { 0.75 * ln_sd(scale) } else { 0.0 };
        sd[STREAM] = if frozen { 0.3 } else { 0.2 };
        sd[SPREAD] = 0.15;
        sd[PROBE] = 0.4;
        let volume = VOLUME_M3[usize::from(size.twenty)];
        let fans = if frozen { 0.5 } else { 1.0 };
        Self {
            body,
            frozen,
            stream_w_per_k: volume * CHANGES_PER_H * fans / 3600.0 * AIR_J_PER_M3_K,
            cargo_c: if frozen { set_c } else { set_c + 0.7 },
            air_bias_k: 0.0,
            ln_breath: -UNRIPE * math::ln(scale.high.max(1.0)),
            sd,
            outside_c: Estimate::new(15.0, 28.0, 42.0),
            structure_k: if frozen { 0.2 } else { 0.1 },
        }
    }
}

fn parts(contents: &Contents) -> (Stow, Storage, Option<Curve>) {
    match contents {
        Contents::Frozen(food) => (Stow::Frozen, body::frozen_storage(*food), None),
        Contents::Chilled { kj_per_kg_k, freeze_c, curve } => {
            let stow = if curve.is_some() { Stow::Vented } else { Stow::Chilled };
            (stow, body::chilled_storage(kj_per_kg_k.best, *freeze_c), curve.clone())
        }
    }
}

impl Default for Contents {
    /// Fresh produce that does not breathe: where nothing is known.
    fn default() -> Self {
        let c = food::FRESH_KJ_PER_KG_K;
        let kj_per_kg_k = Estimate::new(0.8 * c, c, 1.1 * c);
        Self::Chilled { kj_per_kg_k, freeze_c: None, curve: None }
    }
}
