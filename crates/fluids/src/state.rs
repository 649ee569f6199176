//! Single-phase and two-phase states from temperature and pressure, and by quality.

use units::math::{exp, ln, sqrt};
use units::temperature::ZERO_C_K;

use crate::error::{FluidError, within};
use crate::patches::{Block, Place};
use crate::refrigerant::{Refrigerant, Side};

/// Lowest pressure answered, Pa: a deep vacuum; the vapour is then as good as ideal.
pub const P_MIN_PA: f64 = 1.0;

pub(crate) const VAPOUR: u32 = 0;
pub(crate) const LOW: u32 = 1;
pub(crate) const LIQUID: u32 = 2;
pub(crate) const DENSE: u32 = 3;
pub(crate) const BESIDE: u32 = 4;
pub(crate) const MIXED: u32 = 5;

/// Liquid, vapour, or what lies between and beyond.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Phase {
    /// Colder than the bubble point.
    SubcooledLiquid,
    /// Between bubble and dew point.
    TwoPhase,
    /// Warmer than the dew point.
    SuperheatedVapour,
    /// Above both the critical temperature and pressure.
    Supercritical,
}

impl Phase {
    /// In the trade's words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::SubcooledLiquid => "subcooled liquid",
            Self::TwoPhase => "two-phase",
            Self::SuperheatedVapour => "superheated vapour",
            Self::Supercritical => "supercritical",
        }
    }
}

/// A state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct State {
    /// The phase.
    pub phase: Phase,
    /// Temperature, K.
    pub t_k: f64,
    /// Absolute pressure, Pa.
    pub p_pa: f64,
    /// Specific enthalpy, J/kg (CoolProp's default reference).
    pub h_j_kg: f64,
    /// Specific entropy, J/(kg·K).
    pub s_j_kgk: f64,
    /// Density, kg/m³.
    pub rho_kg_m3: f64,
    /// Specific heat capacity at constant pressure, J/(kg·K); none in the two-phase region.
    pub cp_j_kgk: Option<f64>,
    /// Vapour mass share, 0 to 1, in the two-phase region.
    pub quality: Option<f64>,
}

/// A block and the place in its unit square.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Spot {
    pub kind: u32,
    pub u: f64,
    pub v: f64,
    /// What the second axis spans, K, where it is a temperature.
    pub span_k: f64,
    /// ln p where the block stores s + R ln p.
    pub ln_p: f64,
}

/// Where a temperature and pressure lie.
pub(crate) enum Region {
    Single(Spot),
    Mixed { t_bubble: f64, t_dew: f64 },
}

impl Refrigerant {
    /// The state at an absolute pressure (Pa) and temperature (K). At the saturation temperature
    /// of a pure fluid this is the vapour; use [`Self::state_pq`] for wet states.
    ///
    /// # Errors
    /// [`FluidError::OutOfRange`], [`FluidError::NearCritical`], [`FluidError::Frozen`].
    pub fn state_pt(&self, p_pa: f64, t_k: f64) -> Result<State, FluidError> {
        match self.region(p_pa, t_k)? {
            Region::Single(spot) => self.single(spot, p_pa, t_k),
            Region::Mixed { t_bubble, t_dew } => self.mixed_at_t(p_pa, t_k, t_bubble, t_dew),
        }
    }

    /// Specific enthalpy (J/kg), entropy (J/(kg·K)) and density (kg/m³) alone, for loops over many
    /// states: the same values as [`Self::state_pt`], quicker in superheated vapour.
    ///
    /// # Errors
    /// As [`Self::state_pt`].
    pub fn h_s_rho(&self, p_pa: f64, t_k: f64) -> Result<(f64, f64, f64), FluidError> {
        let c = &self.table.constants;
        let [t0, t1, p0, p1] = c.refused;
        let clear = !(p_pa > p0 && p_pa < p1 && t_k > t0 && t_k < t1) && t_k <= c.t_max;
        if let (true, Some([t_dew, ln_p])) =
            (clear && p_pa < c.p_top_dew, self.quick_dew.with_ln(p_pa))
            && t_k >= t_dew
        {
            let (u, v) = self.vapour_square(ln_p, t_dew, t_k);
            if let Some([z, h, s]) = self.vapour().and_then(|b| b.place(u, v)?.three()) {
                return Ok((h, s - c.r * ln_p, p_pa / (z * c.r * t_k)));
            }
        }
        let s = self.state_pt(p_pa, t_k)?;
        Ok((s.h_j_kg, s.s_j_kgk, s.rho_kg_m3))
    }

    /// Place in the unit square of the vapour block.
    #[inline(always)]
    fn vapour_square(&self, ln_p: f64, t_dew: f64, t_k: f64) -> (f64, f64) {
        let line = &self.table.dew_of_p;
        let z = sqrt((self.ln_p_ref - ln_p).max(0.0));
        let u = ((z - line.lo) * line.per_span).clamp(0.0, 1.0);
        (u, (t_k - t_dew) / (self.table.constants.t_max - t_dew))
    }

    /// Dew temperature and ln p, where there is a dew line.
    #[inline(always)]
    fn dew(&self, p_pa: f64) -> Result<[f64; 2], FluidError> {
        match self.quick_dew.with_ln(p_pa) {
            Some(both) => Ok(both),
            None => Ok([self.t_sat_k(p_pa, Side::Dew)?, ln(p_pa)]),
        }
    }

    pub(crate) fn near_critical(&self, p_pa: f64, t_k: f64) -> FluidError {
        let [t0, t1, p0, p1] = self.table.constants.refused;
        FluidError::NearCritical {
            temp_c: t_k - ZERO_C_K,
            pressure_kpa: p_pa / 1e3,
            temps_c: [t0 - ZERO_C_K, t1 - ZERO_C_K],
            pressures_kpa: [p0 / 1e3, p1 / 1e3],
        }
    }

    fn check_ends(&self, p_pa: f64, t_k: f64) -> Result<(), FluidError> {
        let c = &self.table.constants;
        let z = ZERO_C_K;
        within("temperature", "°C", t_k - z, c.t_min - z, c.t_max - z)?;
        within("pressure", "kPa absolute", p_pa / 1e3, P_MIN_PA / 1e3, c.p_max / 1e3)?;
        Ok(())
    }

    #[inline(always)]
    pub(crate) fn region(&self, p_pa: f64, t_k: f64) -> Result<Region, FluidError> {
        self.check_ends(p_pa, t_k)?;
        let c = &self.table.constants;
        let [t0, t1, p0, p1] = c.refused;
        if t_k > t0 && t_k < t1 && p_pa > p0 && p_pa < p1 {
            return Err(self.near_critical(p_pa, t_k));
        }
        if p_pa < c.p_low {
            let td = self.t_sat_k(c.p_low, Side::Dew)?;
            let (u, v) = (p_pa / c.p_low, ((t_k - td) / (c.t_max - td)).max(0.0));
            return Ok(Region::Single(Spot {
                kind: LOW,
                u,
                v,
                span_k: c.t_max - td,
                ln_p: ln(p_pa),
            }));
        }
        if p_pa < c.p_top_dew {
            let [t_dew, ln_p] = self.dew(p_pa)?;
            if t_k >= t_dew {
                let (u, v) = self.vapour_square(ln_p, t_dew, t_k);
                let span_k = c.t_max - t_dew;
                return Ok(Region::Single(Spot { kind: VAPOUR, u, v, span_k, ln_p }));
            }
            if !c.blend {
                return self.liquid(p_pa, t_k);
            }
            let t_bubble = self.t_sat_k(p_pa, Side::Bubble)?;
            if t_k > t_bubble {
                return Ok(Region::Mixed { t_bubble, t_dew });
            }
            return self.liquid(p_pa, t_k);
        }
        self.region_above(p_pa, t_k)
    }

    /// Above the end of the dew line.
    fn region_above(&self, p_pa: f64, t_k: f64) -> Result<Region, FluidError> {
        let c = &self.table.constants;
        if t_k <= c.t_top {
            if c.blend && p_pa < self.p_sat_pa(t_k, Side::Bubble)? {
                return Err(self.near_critical(p_pa, t_k));
            }
            return self.liquid(p_pa, t_k);
        }
        if p_pa >= c.p_beside {
            let u = sqrt(ln(p_pa / c.p_beside) / ln(c.p_max / c.p_beside)).min(1.0);
            let span_k = c.t_max - c.t_top;
            let v = sqrt((t_k - c.t_top) / span_k).min(1.0);
            return Ok(Region::Single(Spot { kind: DENSE, u, v, span_k, ln_p: 0.0 }));
        }
        if t_k >= c.t_beside {
            let u = ln(p_pa / c.p_top_dew) / ln(c.p_beside / c.p_top_dew);
            let span_k = c.t_max - c.t_beside;
            let v = (t_k - c.t_beside) / span_k;
            return Ok(Region::Single(Spot {
                kind: BESIDE,
                u: u.clamp(0.0, 1.0),
                v,
                span_k,
                ln_p: ln(p_pa),
            }));
        }
        Err(self.near_critical(p_pa, t_k))
    }

    fn liquid(&self, p_pa: f64, t_k: f64) -> Result<Region, FluidError> {
        let c = &self.table.constants;
        if c.melt > 0.0 && t_k < c.t_min + c.melt * p_pa {
            return Err(FluidError::Frozen { temp_c: t_k - ZERO_C_K, pressure_kpa: p_pa / 1e3 });
        }
        let line = &self.table.bubble_of_t;
        let w = self.w(t_k, line);
        let p_bubble = exp(line.at(w, 0));
        let u = (w - line.lo) / (line.hi - line.lo);
        let v = ((p_pa - p_bubble) / (c.p_max - p_bubble)).clamp(0.0, 1.0);
        Ok(Region::Single(Spot { kind: LIQUID, u, v, span_k: 0.0, ln_p: 0.0 }))
    }

    #[inline(always)]
    pub(crate) fn place(&self, kind: u32, u: f64, v: f64) -> Option<Place<'_>> {
        self.table.blocks.iter().find(|b| b.kind == kind)?.place(u, v)
    }

    /// The vapour's block, the first of every table.
    #[inline(always)]
    fn vapour(&self) -> Option<&Block> {
        self.table.blocks.first().filter(|b| b.kind == VAPOUR)
    }

    fn damaged(&self) -> FluidError {
        FluidError::Damaged { name: self.name() }
    }

    #[inline(always)]
    fn single(&self, spot: Spot, p_pa: f64, t_k: f64) -> Result<State, FluidError> {
        let c = &self.table.constants;
        let place = self.place(spot.kind, spot.u, spot.v).ok_or_else(|| self.damaged())?;
        let gas = matches!(spot.kind, VAPOUR | LOW | BESIDE);
        let values = place.three_and_slope_v().ok_or_else(|| self.damaged())?;
        let ([first, h, third], h_slope) = values;
        let (rho, s) = if gas {
            (p_pa / (first * c.r * t_k), third - c.r * spot.ln_p)
        } else {
            (first, third)
        };
        let cp = match spot.kind {
            LIQUID => self.cp_liquid(&place, h_slope, p_pa, t_k),
            DENSE => h_slope / (2.0 * spot.v.max(1e-6) * spot.span_k),
            _ => h_slope / spot.span_k,
        };
        let phase = match spot.kind {
            LIQUID => Phase::SubcooledLiquid,
            _ if t_k > c.tc && p_pa > c.pc => Phase::Supercritical,
            DENSE => Phase::SubcooledLiquid,
            _ => Phase::SuperheatedVapour,
        };
        Ok(State {
            phase,
            t_k,
            p_pa,
            h_j_kg: h,
            s_j_kgk: s,
            rho_kg_m3: rho,
            cp_j_kgk: Some(cp),
            quality: None,
        })
    }

    /// (∂h/∂T)p in the liquid, whose axes are w(T) and the pressure above the bubble pressure.
    fn cp_liquid(&self, place: &Place<'_>, h_slope: f64, p_pa: f64, t_k: f64) -> f64 {
        let c = &self.table.constants;
        let line = &self.table.bubble_of_t;
        let w = self.w(t_k, line).max(1e-6);
        let dw = -0.5 / (w * c.t_ref);
        let pb = exp(line.at(w, 0));
        let dpb = pb * line.slope(w, 0) * dw;
        let room = c.p_max - pb;
        let dv = dpb * (p_pa - c.p_max) / (room * room);
        place.slope_u(1) * dw / (line.hi - line.lo) + h_slope * dv
    }

    /// A wet state by absolute pressure (Pa) and vapour mass share (0 to 1).
    ///
    /// # Errors
    /// [`FluidError::OutOfRange`] when the pressure has no two-phase state, or the share is not
    /// between 0 and 1.
    pub fn state_pq(&self, p_pa: f64, quality: f64) -> Result<State, FluidError> {
        within("vapour share", "kg/kg", quality, 0.0, 1.0)?;
        let c = &self.table.constants;
        let liquid = self.saturated_at_p(p_pa, Side::Bubble)?;
        let vapour = self.saturated_at_p(p_pa, Side::Dew)?;
        let (a, b) = (1.0 - quality, quality);
        let mut t_k = a * liquid.t_k + b * vapour.t_k;
        let mut volume = a / liquid.rho_kg_m3 + b / vapour.rho_kg_m3;
        let mut h = a * liquid.h_j_kg + b * vapour.h_j_kg;
        let mut s = a * liquid.s_j_kgk + b * vapour.s_j_kgk;
        if c.blend {
            let [z0, z1] = c.z_mixed;
            let z = sqrt(ln(c.p_ref / p_pa).max(0.0));
            let u = (z - z0) / (z1 - z0);
            if !(-1e-9..=1.0 + 1e-9).contains(&u) {
                return Err(self.near_critical(p_pa, t_k));
            }
            let place = self.place(MIXED, u.clamp(0.0, 1.0), quality);
            let place = place.ok_or_else(|| self.damaged())?;
            // Off the straight line between the ends, which are met exactly.
            let bow = a * b;
            t_k += bow * place.value(0);
            volume += bow * place.value(1) / vapour.rho_kg_m3;
            h += bow * place.value(2);
            s += bow * place.value(3);
        }
        Ok(State {
            phase: Phase::TwoPhase,
            t_k,
            p_pa,
            h_j_kg: h,
            s_j_kgk: s,
            rho_kg_m3: 1.0 / volume,
            cp_j_kgk: None,
            quality: Some(quality),
        })
    }

    /// A blend between its bubble and dew point: the share that has this temperature.
    fn mixed_at_t(&self, p: f64, t_k: f64, tb: f64, td: f64) -> Result<State, FluidError> {
        let start = (t_k - tb) / (td - tb);
        let q = self.solve_share(p, start, |s| s.t_k - t_k)?;
        Ok(State { t_k, ..self.state_pq(p, q)? })
    }

    /// The vapour share where `f`, which rises with it, is zero: regula falsi, halved when slow.
    pub(crate) fn solve_share(
        &self,
        p_pa: f64,
        start: f64,
        f: impl Fn(&State) -> f64,
    ) -> Result<f64, FluidError> {
        let (mut lo, mut hi) = (0.0, 1.0);
        let mut f_lo = f(&self.state_pq(p_pa, lo)?);
        let mut f_hi = f(&self.state_pq(p_pa, hi)?);
        let mut q = start.clamp(0.0, 1.0);
        for _ in 0..60 {
            let at = f(&self.state_pq(p_pa, q)?);
            if at == 0.0 || hi - lo < 1e-13 {
                break;
            }
            if at < 0.0 {
                (lo, f_lo) = (q, at);
                f_hi *= 0.5;
            } else {
                (hi, f_hi) = (q, at);
                f_lo *= 0.5;
            }
            let next = lo - f_lo * (hi - lo) / (f_hi - f_lo);
            if (next - q).abs() < 1e-13 {
                break;
            }
            q = if next > lo && next < hi { next } else { 0.5 * (lo + hi) };
        }
        Ok(q)
    }
}
