//! Gas in a long round line under vacuum: viscous, transitional and molecular flow.
//!
//! Laminar: Poiseuille's law for a gas at the mean pressure of both ends. Molecular: Knudsen's
//! long-tube law. Between them Knudsen's (1909) interpolation, which adds the two with a correction
//! of the molecular part. Entrance losses, bends (give their equivalent length) and choking are not
//! counted: use it for service hoses, not for orifices.

use units::math::{exp, ln, sqrt};

use crate::error::{FluidError, within};

/// Molar gas constant, J/(mol·K) (exact, SI 2019).
pub const R_MOLAR: f64 = 8.314_462_618;

const PI: f64 = std::f64::consts::PI;

/// A gas at a temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gas {
    /// Molar mass, kg/mol.
    pub molar_mass: f64,
    /// Dynamic viscosity, Pa·s.
    pub viscosity_pa_s: f64,
    /// Temperature, K.
    pub t_k: f64,
}

/// Air at 20 °C: 28.964 g/mol, 18.2 µPa·s.
pub const AIR_20_C: Gas = Gas { molar_mass: 0.028_964, viscosity_pa_s: 18.2e-6, t_k: 293.15 };

/// How gas moves in a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Regime {
    /// Kn < 0.01: molecules meet each other.
    Viscous,
    /// 0.01 to 0.5.
    Transitional,
    /// Kn > 0.5: molecules meet the wall.
    Molecular,
}

/// A round line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hose {
    /// Inner diameter, m.
    pub diameter_m: f64,
    /// Length with the equivalent length of its bends, m.
    pub length_m: f64,
}

impl Gas {
    /// Mean molecular speed, m/s.
    #[must_use]
    pub fn mean_speed_m_s(&self) -> f64 {
        sqrt(8.0 * R_MOLAR * self.t_k / (PI * self.molar_mass))
    }

    /// Mean free path, m, at a pressure (Pa), from the viscosity (Maxwell).
    #[must_use]
    pub fn mean_free_path_m(&self, p_pa: f64) -> f64 {
        self.viscosity_pa_s / p_pa * sqrt(PI * R_MOLAR * self.t_k / (2.0 * self.molar_mass))
    }
}

impl Hose {
    /// A line of sane size: 0.1 mm to 1 m wide, 1 mm to 1 km long.
    ///
    /// # Errors
    /// [`FluidError::OutOfRange`].
    pub fn new(diameter_m: f64, length_m: f64) -> Result<Self, FluidError> {
        within("inner diameter", "m", diameter_m, 1e-4, 1.0)?;
        within("length", "m", length_m, 1e-3, 1e3)?;
        Ok(Self { diameter_m, length_m })
    }

    /// Conductance of viscous flow at the mean pressure of both ends (Pa), m³/s.
    #[must_use]
    pub fn viscous_m3_s(&self, gas: &Gas, mean_pa: f64) -> f64 {
        let d2 = self.diameter_m * self.diameter_m;
        PI * d2 * d2 * mean_pa / (128.0 * gas.viscosity_pa_s * self.length_m)
    }

    /// Conductance of molecular flow for a mean molecular speed (m/s), m³/s.
    #[must_use]
    pub fn molecular_at_speed_m3_s(&self, mean_speed_m_s: f64) -> f64 {
        let d = self.diameter_m;
        PI * d * d * d / (12.0 * self.length_m) * mean_speed_m_s
    }

    /// Conductance of molecular flow, m³/s.
    #[must_use]
    pub fn molecular_m3_s(&self, gas: &Gas) -> f64 {
        self.molecular_at_speed_m3_s(gas.mean_speed_m_s())
    }

    /// Conductance in any regime at the mean pressure of both ends (Pa), m³/s.
    #[must_use]
    pub fn conductance_m3_s(&self, gas: &Gas, mean_pa: f64) -> f64 {
        let speed = sqrt(gas.molar_mass / (R_MOLAR * gas.t_k));
        let x = speed * self.diameter_m * mean_pa / gas.viscosity_pa_s;
        let share = (1.0 + x) / (1.0 + 1.24 * x);
        self.viscous_m3_s(gas, mean_pa) + self.molecular_m3_s(gas) * share
    }

    /// Mean free path over diameter.
    #[must_use]
    pub fn knudsen(&self, gas: &Gas, mean_pa: f64) -> f64 {
        gas.mean_free_path_m(mean_pa) / self.diameter_m
    }

    /// The regime at the mean pressure of both ends.
    #[must_use]
    pub fn regime(&self, gas: &Gas, mean_pa: f64) -> Regime {
        match self.knudsen(gas, mean_pa) {
            kn if kn < 0.01 => Regime::Viscous,
            kn if kn <= 0.5 => Regime::Transitional,
            _ => Regime::Molecular,
        }
    }
}

/// Conductances one after the other, m³/s.
#[must_use]
pub fn in_series_m3_s(conductances: &[f64]) -> f64 {
    1.0 / conductances.iter().map(|c| 1.0 / c).sum::<f64>()
}

/// What a pump of this speed (m³/s) still draws through this conductance (m³/s).
#[must_use]
pub fn effective_speed_m3_s(pump_m3_s: f64, conductance_m3_s: f64) -> f64 {
    pump_m3_s * conductance_m3_s / (pump_m3_s + conductance_m3_s)
}

/// A vacuum pump.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pump {
    /// Speed, m³/s.
    pub speed_m3_s: f64,
    /// The pressure it ends at, Pa.
    pub ultimate_pa: f64,
}

/// A volume being evacuated through equal lines side by side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evacuation {
    /// Volume of the circuit, m³.
    pub volume_m3: f64,
    /// The line; none: the pump sits on the circuit.
    pub hose: Option<Hose>,
    /// How many such lines side by side.
    pub lines: u8,
    /// The pump.
    pub pump: Pump,
    /// The gas.
    pub gas: Gas,
}

impl Evacuation {
    /// Pressure at the pump, Pa, while the circuit stands at `p_pa`: the line carries what the
    /// pump draws.
    #[must_use]
    pub fn pump_side_pa(&self, p_pa: f64) -> f64 {
        let Some(hose) = self.hose else { return p_pa };
        let (mut lo, mut hi) = (self.pump.ultimate_pa.min(p_pa), p_pa);
        for _ in 0..80 {
            let p2 = 0.5 * (lo + hi);
            let through = f64::from(self.lines)
                * hose.conductance_m3_s(&self.gas, 0.5 * (p_pa + p2))
                * (p_pa - p2);
            if through > self.pump.speed_m3_s * (p2 - self.pump.ultimate_pa) {
                lo = p2;
            } else {
                hi = p2;
            }
        }
        0.5 * (lo + hi)
    }

    /// What leaves the circuit at `p_pa`, Pa·m³/s.
    #[must_use]
    pub fn flow_pa_m3_s(&self, p_pa: f64) -> f64 {
        self.pump.speed_m3_s * (self.pump_side_pa(p_pa) - self.pump.ultimate_pa)
    }

    /// Time from one pressure (Pa) down to another, s; dry, tight, without outgassing.
    ///
    /// # Errors
    /// [`FluidError::OutOfRange`] unless ultimate < to < from.
    pub fn time_s(&self, from_pa: f64, to_pa: f64) -> Result<f64, FluidError> {
        within("start pressure", "kPa absolute", from_pa / 1e3, to_pa / 1e3, 1e4)?;
        let least = self.pump.ultimate_pa * 1.0001;
        within("end pressure", "kPa absolute", to_pa / 1e3, least / 1e3, from_pa / 1e3)?;
        // Simpson over ln p: dt = V p / flow dln p.
        let n = 400;
        let (a, b) = (ln(to_pa), ln(from_pa));
        let step = (b - a) / f64::from(n);
        let mut sum = 0.0;
        for i in 0..=n {
            let p = exp(a + step * f64::from(i));
            let weight = match i {
                0 => 1.0,
                i if i == n => 1.0,
                i if i % 2 == 1 => 4.0,
                _ => 2.0,
            };
            sum += weight * p / self.flow_pa_m3_s(p);
        }
        Ok(self.volume_m3 * sum * step / 3.0)
    }
}
