//! Viscosity and thermal conductivity, where the source has a checked model.

use units::math::exp;
use units::temperature::ZERO_C_K;

use crate::error::{FluidError, within};
use crate::refrigerant::Refrigerant;
use crate::state::{Region, Spot};

/// Blocks of transport properties are numbered from here.
const TRANSPORT: u32 = 10;

/// Viscosity and thermal conductivity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Transport {
    /// Dynamic viscosity, Pa·s.
    pub viscosity_pa_s: f64,
    /// Thermal conductivity, W/(m·K).
    pub conductivity_w_mk: f64,
}

impl Refrigerant {
    /// Transport properties of the single-phase state at an absolute pressure (Pa) and
    /// temperature (K). At the saturation temperature of a pure fluid: of the vapour.
    ///
    /// # Errors
    /// [`FluidError::NotAvailable`] for blends without a checked model and for wet states;
    /// otherwise as [`Refrigerant::state_pt`].
    pub fn transport(&self, p_pa: f64, t_k: f64) -> Result<Transport, FluidError> {
        let what = "viscosity and conductivity";
        let none = |why| Err(FluidError::NotAvailable { what, why });
        if !self.has_transport() {
            return none("no checked model for this blend; CoolProp's mixture rule is a guess");
        }
        let (z, (_, warm)) = (ZERO_C_K, self.temperature_range_k());
        let from = self.table.constants.transport_from;
        within("temperature for viscosity", "°C", t_k - z, from - z, warm - z)?;
        let Region::Single(Spot { kind, u, v, .. }) = self.region(p_pa, t_k)? else {
            return none("the state is two-phase; ask for the liquid or the vapour");
        };
        let Some(place) = self.place(kind + TRANSPORT, u, v) else {
            return Err(FluidError::Damaged { name: self.name() });
        };
        Ok(Transport {
            viscosity_pa_s: exp(place.value(0)),
            conductivity_w_mk: exp(place.value(1)),
        })
    }

    /// Whether this refrigerant has transport properties.
    #[must_use]
    pub fn has_transport(&self) -> bool {
        self.table.blocks.iter().any(|b| b.kind >= TRANSPORT)
    }
}
