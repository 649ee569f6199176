//! States from pressure and enthalpy or entropy.

use crate::error::FluidError;
use crate::refrigerant::{Refrigerant, Side};
use crate::state::{P_MIN_PA, State};

/// Which quantity is given beside the pressure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Given {
    Enthalpy,
    Entropy,
}

impl Given {
    fn of(self, s: &State) -> f64 {
        match self {
            Self::Enthalpy => s.h_j_kg,
            Self::Entropy => s.s_j_kgk,
        }
    }

    /// How fast it rises with temperature at constant pressure.
    fn slope(self, s: &State) -> f64 {
        let cp = s.cp_j_kgk.unwrap_or(1000.0);
        match self {
            Self::Enthalpy => cp,
            Self::Entropy => cp / s.t_k,
        }
    }

    fn beyond(self, value: f64, min: f64, max: f64) -> FluidError {
        let (what, unit, scale) = match self {
            Self::Enthalpy => ("enthalpy at this pressure", "kJ/kg", 1e-3),
            Self::Entropy => ("entropy at this pressure", "kJ/(kg·K)", 1e-3),
        };
        let (value, min, max) = (value * scale, min * scale, max * scale);
        FluidError::OutOfRange { what, unit, value, min, max }
    }
}

impl Refrigerant {
    /// The state at an absolute pressure (Pa) and specific enthalpy (J/kg).
    ///
    /// # Errors
    /// [`FluidError::OutOfRange`], [`FluidError::NearCritical`], [`FluidError::Frozen`].
    pub fn state_ph(&self, p_pa: f64, h_j_kg: f64) -> Result<State, FluidError> {
        self.state_given(p_pa, h_j_kg, Given::Enthalpy)
    }

    /// The state at an absolute pressure (Pa) and specific entropy (J/(kg·K)).
    ///
    /// # Errors
    /// [`FluidError::OutOfRange`], [`FluidError::NearCritical`], [`FluidError::Frozen`].
    pub fn state_ps(&self, p_pa: f64, s_j_kgk: f64) -> Result<State, FluidError> {
        self.state_given(p_pa, s_j_kgk, Given::Entropy)
    }

    fn state_given(&self, p_pa: f64, value: f64, given: Given) -> Result<State, FluidError> {
        let c = &self.table.constants;
        crate::error::within(
            "pressure",
            "kPa absolute",
            p_pa / 1e3,
            P_MIN_PA / 1e3,
            c.p_max / 1e3,
        )?;
        if p_pa >= c.p_top_dew.min(c.p_top_bubble).min(c.refused[2]) {
            return self.search(p_pa, value, given, self.coldest_liquid(p_pa), c.t_max);
        }
        if p_pa < c.p_low {
            return self.search(p_pa, value, given, c.t_min, c.t_max);
        }
        let t_dew = self.t_sat_k(p_pa, Side::Dew)?;
        // A hair above the line, so that the state is the vapour.
        let dew = self.state_pt(p_pa, (t_dew + 1e-9).max(c.t_min))?;
        if value >= given.of(&dew) {
            return self.search(p_pa, value, given, dew.t_k, c.t_max);
        }
        let Ok(t_bubble) = self.t_sat_k(p_pa, Side::Bubble) else {
            let (min, max) = self.pressure_range_pa(Side::Bubble);
            return Err(FluidError::OutOfRange {
                what: "pressure for a wet state",
                unit: "kPa absolute",
                value: p_pa / 1e3,
                min: min / 1e3,
                max: max / 1e3,
            });
        };
        let bubble = self.saturated_at_p(p_pa, Side::Bubble)?;
        let at_bubble = match given {
            Given::Enthalpy => bubble.h_j_kg,
            Given::Entropy => bubble.s_j_kgk,
        };
        if value <= at_bubble {
            let coldest = self.coldest_liquid(p_pa).min(t_bubble);
            return self.search(p_pa, value, given, coldest, t_bubble - 1e-9);
        }
        let start = (value - at_bubble) / (given.of(&dew) - at_bubble);
        if !c.blend {
            return self.state_pq(p_pa, start.clamp(0.0, 1.0));
        }
        let q = self.solve_share(p_pa, start, |s| given.of(s) - value)?;
        self.state_pq(p_pa, q)
    }

    /// Where liquid begins at this pressure: the cold end of the table or the melting line.
    fn coldest_liquid(&self, p_pa: f64) -> f64 {
        let c = &self.table.constants;
        c.t_min + c.melt * p_pa
    }

    /// Newton between two temperatures, halving when it would leave them.
    fn search(
        &self,
        p_pa: f64,
        value: f64,
        given: Given,
        from_k: f64,
        to_k: f64,
    ) -> Result<State, FluidError> {
        let c = &self.table.constants;
        let (mut lo, mut hi) = (from_k.max(c.t_min), to_k.min(c.t_max));
        let first = self.state_pt(p_pa, lo)?;
        let (low, slope) = (given.of(&first), given.slope(&first));
        // Within what one rounding of the table explains, the end itself is the answer.
        let slack = 1e-9 * value.abs().max(1.0);
        if value < low - slack - slope * 1e-6 {
            let high = given.of(&self.state_pt(p_pa, hi)?);
            return Err(given.beyond(value, low, high));
        }
        let mut t = (lo + (value - low) / slope).clamp(lo, hi);
        let mut best = first;
        let mut before = f64::INFINITY;
        for _ in 0..80 {
            let at = match self.state_pt(p_pa, t) {
                Ok(s) => s,
                // The way may lead past the critical box: halve until clear of it.
                Err(FluidError::NearCritical { .. }) => {
                    return self.around_critical(p_pa, value, given, (lo, hi));
                }
                Err(e) => return Err(e),
            };
            best = at;
            let miss = value - given.of(&at);
            if miss > 0.0 {
                lo = t;
            } else {
                hi = t;
            }
            if miss.abs() < 1e-11 * value.abs() || hi - lo < 1e-10 {
                break;
            }
            // A step that leaves the bracket, or that gains little (cp -> infinity close to the
            // critical point), gives way to halving.
            let next = t + miss / given.slope(&at);
            let good = next > lo && next < hi && miss.abs() < 0.5 * before;
            before = miss.abs();
            t = if good { next } else { 0.5 * (lo + hi) };
        }
        let miss = value - given.of(&best);
        if miss > slack + given.slope(&best) * 1e-6 && best.t_k >= to_k - 1e-6 {
            return Err(given.beyond(value, low, given.of(&best)));
        }
        Ok(best)
    }

    /// On either side of the box around the critical point, whose edges are known.
    fn around_critical(
        &self,
        p_pa: f64,
        value: f64,
        given: Given,
        ends: (f64, f64),
    ) -> Result<State, FluidError> {
        let [t0, t1, ..] = self.table.constants.refused;
        let below = self.state_pt(p_pa, (t0 - 1e-9).max(ends.0));
        if let Ok(s) = &below
            && value <= given.of(s)
            && ends.0 < s.t_k
        {
            return self.search(p_pa, value, given, ends.0, s.t_k);
        }
        let above = self.state_pt(p_pa, t1 + 1e-9);
        if let Ok(s) = &above
            && value >= given.of(s)
            && ends.1 > s.t_k
        {
            return self.search(p_pa, value, given, s.t_k, ends.1);
        }
        Err(self.near_critical(p_pa, 0.5 * (t0 + t1)))
    }
}
