//! Points for a pressure-enthalpy diagram: dome, lines of equal quality, temperature, entropy.

use units::math::{exp, ln};
use units::temperature::ZERO_C_K;

use crate::error::FluidError;
use crate::refrigerant::{Refrigerant, Side};

/// A point: specific enthalpy (kJ/kg, IIR reference) and absolute pressure (kPa).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// kJ/kg.
    pub h_kj_kg: f64,
    /// kPa absolute.
    pub p_kpa: f64,
}

/// A line of one value.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// What is equal along it: °C, kJ/(kg·K) (IIR reference) or kg/kg.
    pub value: f64,
    /// Its points in order; where the line leaves the covered region it ends.
    pub points: Vec<Point>,
}

/// Everything drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Diagram {
    /// Bubble line from cold to warm.
    pub bubble: Vec<Point>,
    /// Dew line from cold to warm.
    pub dew: Vec<Point>,
    /// Lines of equal temperature, °C, from low to high pressure.
    pub isotherms: Vec<Curve>,
    /// Lines of equal entropy, kJ/(kg·K), from low to high pressure.
    pub isentropes: Vec<Curve>,
    /// Lines of equal vapour share, kg/kg, from low to high pressure.
    pub qualities: Vec<Curve>,
}

/// What to draw.
#[derive(Debug, Clone, PartialEq)]
pub struct Frame {
    /// Lowest absolute pressure, kPa.
    pub p_from_kpa: f64,
    /// Highest absolute pressure, kPa.
    pub p_to_kpa: f64,
    /// Temperatures of the isotherms, °C.
    pub temps_c: Vec<f64>,
    /// Entropies of the isentropes, kJ/(kg·K), IIR reference.
    pub entropies_kj_kgk: Vec<f64>,
    /// Vapour shares, kg/kg.
    pub qualities: Vec<f64>,
    /// Points per line, at least 2.
    pub points: u16,
}

impl Refrigerant {
    /// A frame that suits service work: from the dew pressure at −50 °C (or the coldest) to a
    /// little above critical.
    ///
    /// # Errors
    /// [`FluidError`] when the table is damaged.
    pub fn usual_frame(&self) -> Result<Frame, FluidError> {
        let (cold, _) = self.saturation_range_k();
        let from = self.p_sat_pa((ZERO_C_K - 50.0).max(cold), Side::Dew)?;
        let to = (self.critical().1 * 1.25).min(self.pressure_max_pa());
        Ok(Frame {
            p_from_kpa: from / 1e3,
            p_to_kpa: to / 1e3,
            temps_c: (-5..=15).map(|i| f64::from(i) * 10.0).collect(),
            entropies_kj_kgk: (8..=28).map(|i| f64::from(i) * 0.1).collect(),
            qualities: (1..=9).map(|i| f64::from(i) * 0.1).collect(),
            points: 80,
        })
    }

    /// The lines of a pressure-enthalpy diagram.
    ///
    /// # Errors
    /// [`FluidError::OutOfRange`] when the frame has no pressures.
    pub fn diagram(&self, frame: &Frame) -> Result<Diagram, FluidError> {
        let top = self.pressure_max_pa() / 1e3;
        crate::error::within("lowest pressure", "kPa absolute", frame.p_from_kpa, 1e-3, top)?;
        crate::error::within("highest pressure", "kPa", frame.p_to_kpa, frame.p_from_kpa, top)?;
        let n = f64::from(frame.points.max(2) - 1);
        let (a, b) = (ln(frame.p_from_kpa * 1e3), ln(frame.p_to_kpa * 1e3));
        let pressures: Vec<f64> =
            (0..frame.points.max(2)).map(|i| exp(a + (b - a) * f64::from(i) / n)).collect();
        let s0 = self.iir_offsets().1;
        Ok(Diagram {
            bubble: self.dome(&pressures, Side::Bubble),
            dew: self.dome(&pressures, Side::Dew),
            isotherms: curves(&frame.temps_c, |t| self.isotherm(&pressures, t)),
            isentropes: curves(&frame.entropies_kj_kgk, |s| {
                let state = |p: &f64| self.state_ps(*p, s * 1e3 + s0).ok().map(|x| (x.h_j_kg, *p));
                self.points(pressures.iter().filter_map(state))
            }),
            qualities: curves(&frame.qualities, |q| {
                let state = |p: &f64| self.state_pq(*p, q).ok().map(|x| (x.h_j_kg, *p));
                self.points(pressures.iter().filter_map(state))
            }),
        })
    }

    fn points(&self, from: impl Iterator<Item = (f64, f64)>) -> Vec<Point> {
        let h0 = self.iir_offsets().0;
        from.map(|(h, p)| Point { h_kj_kg: (h - h0) / 1e3, p_kpa: p / 1e3 }).collect()
    }

    fn dome(&self, pressures: &[f64], side: Side) -> Vec<Point> {
        let mut at: Vec<f64> = pressures.to_vec();
        let (low, high) = self.pressure_range_pa(side);
        at.retain(|p| *p > low && *p < high);
        // Close to the top the dome bends fast: more points, and the top itself.
        let last = at.last().copied().unwrap_or(low);
        at.extend((1..=12).map(|i| high - (high - last) * sq(1.0 - f64::from(i) / 12.0)));
        self.points(at.iter().filter_map(|p| {
            let s = self.saturated_at_p(*p, side).ok()?;
            Some((s.h_j_kg, *p))
        }))
    }

    /// Through vapour, straight (or gliding) through the wet region, up the liquid.
    fn isotherm(&self, pressures: &[f64], t_c: f64) -> Vec<Point> {
        let t = t_c + ZERO_C_K;
        let mut at = pressures.to_vec();
        let mut ends = Vec::new();
        for side in [Side::Dew, Side::Bubble] {
            if let Ok(s) = self.saturated_at_t(t, side) {
                ends.push((s.h_j_kg, s.p_pa));
            }
        }
        if let (false, [dew, bubble]) = (self.is_blend(), ends.as_mut_slice()) {
            // One pressure, whatever the last digits of the two lines say: the line goes straight
            // across, never back.
            bubble.1 = dew.1;
        }
        let (from, to) = (at.first().copied(), at.last().copied());
        if let (Some(from), Some(to)) = (from, to) {
            ends.retain(|(_, p)| *p >= from && *p <= to);
        }
        let near = |p: f64| ends.iter().any(|(_, e)| (p / e - 1.0).abs() < 1e-9);
        at.retain(|p| !near(*p));
        let mut all: Vec<(f64, f64)> =
            at.iter().filter_map(|p| self.state_pt(*p, t).ok().map(|s| (s.h_j_kg, *p))).collect();
        all.extend(ends);
        // Enthalpy falls as pressure rises along an isotherm through the dome.
        all.sort_by(|x, y| x.1.total_cmp(&y.1).then(y.0.total_cmp(&x.0)));
        self.points(all.into_iter())
    }
}

fn sq(x: f64) -> f64 {
    x * x
}

fn curves(values: &[f64], line: impl Fn(f64) -> Vec<Point>) -> Vec<Curve> {
    let made = values.iter().map(|v| Curve { value: *v, points: line(*v) });
    made.filter(|c| c.points.len() > 1).collect()
}
