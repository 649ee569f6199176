//! Hoses side by side between circuit and pump.

use fluids::hose::{AIR_20_C, Hose, Pump};

/// Everything between the circuit and the pump's inlet.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Lines<'a> {
    /// Hoses side by side.
    pub hoses: &'a [Hose],
    /// A narrow place in series with every hose: the core of an access valve.
    pub valve: Option<Hose>,
    /// The pump.
    pub pump: Pump,
}

impl Lines<'_> {
    /// Conductance of all lines at the mean pressure of both ends (Pa), m³/s.
    pub fn conductance_m3_s(&self, mean_pa: f64) -> f64 {
        let core = self.valve.map(|v| 1.0 / v.conductance_m3_s(&AIR_20_C, mean_pa));
        let one = |h: &Hose| {
            let c = h.conductance_m3_s(&AIR_20_C, mean_pa);
            core.map_or(c, |r| 1.0 / (1.0 / c + r))
        };
        self.hoses.iter().map(one).sum()
    }

    /// Pressure at the pump's inlet, Pa, while the circuit stands at `p_pa`: the lines carry what
    /// the pump draws.
    pub fn inlet_pa(&self, p_pa: f64) -> f64 {
        let ultimate = self.pump.ultimate_pa;
        let (mut lo, mut hi) = (ultimate.min(p_pa), p_pa);
        for _ in 0..64 {
            let at = 0.5 * (lo + hi);
            let carried = self.conductance_m3_s(0.5 * (p_pa + at)) * (p_pa - at);
            if carried > self.pump.speed_m3_s * (at - ultimate) {
                lo = at;
            } else {
                hi = at;
            }
        }
        0.5 * (lo + hi)
    }

    /// Speed at the circuit, m³/s: S·C/(S + C), C at the mean pressure of both ends.
    pub fn speed_m3_s(&self, p_pa: f64) -> f64 {
        let c = self.conductance_m3_s(0.5 * (p_pa + self.inlet_pa(p_pa)));
        fluids::hose::effective_speed_m3_s(self.pump.speed_m3_s, c)
    }
}
