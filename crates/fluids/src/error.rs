//! What can go wrong when a property is asked for, with what to do about it.

use std::fmt;

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq)]
pub enum FluidError {
    /// No table of this name.
    Unknown {
        /// The name as given.
        name: String,
    },
    /// A table that cannot be read: the program was built from damaged data.
    Damaged {
        /// The table's name.
        name: &'static str,
    },
    /// A value beyond what the tables or equations cover. Nothing is ever extrapolated.
    OutOfRange {
        /// What the value is, in the trade's words.
        what: &'static str,
        /// Its unit.
        unit: &'static str,
        /// The value.
        value: f64,
        /// Lower end, itself admissible.
        min: f64,
        /// Upper end, itself admissible.
        max: f64,
    },
    /// In the box around the critical point where no value is trusted.
    NearCritical {
        /// Temperature, °C.
        temp_c: f64,
        /// Absolute pressure, kPa.
        pressure_kpa: f64,
        /// The box: temperature from and to, °C.
        temps_c: [f64; 2],
        /// The box: pressure from and to, kPa.
        pressures_kpa: [f64; 2],
    },
    /// The state is solid, or liquid and solid.
    Frozen {
        /// Temperature, °C.
        temp_c: f64,
        /// Absolute pressure, kPa.
        pressure_kpa: f64,
    },
    /// The data source has no value of this kind for this fluid.
    NotAvailable {
        /// What was asked for.
        what: &'static str,
        /// Why there is none.
        why: &'static str,
    },
}

impl fmt::Display for FluidError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unknown { name } => {
                write!(f, "no refrigerant {name}; known are")?;
                for n in crate::refrigerant::NAMES {
                    write!(f, " {n}")?;
                }
                Ok(())
            }
            Self::Damaged { name } => {
                write!(f, "the property table of {name} is damaged; install the program anew")
            }
            Self::OutOfRange { what, unit, value, min, max } => write!(
                f,
                "{what} {value:.6} {unit} is outside the range {min:.6} to {max:.6} {unit}; \
                 check the reading and its unit"
            ),
            Self::NearCritical { temp_c, pressure_kpa, temps_c, pressures_kpa } => write!(
                f,
                "{temp_c:.3} °C, {pressure_kpa:.1} kPa is too near the critical point for a \
                 trusted value ({:.2} to {:.2} °C with {:.1} to {:.1} kPa is not covered)",
                temps_c[0], temps_c[1], pressures_kpa[0], pressures_kpa[1]
            ),
            Self::Frozen { temp_c, pressure_kpa } => write!(
                f,
                "at {temp_c:.2} °C and {pressure_kpa:.1} kPa the fluid is, or may be, solid; \
                 there is no liquid or vapour state to show"
            ),
            Self::NotAvailable { what, why } => write!(f, "{what} is not available: {why}"),
        }
    }
}

impl std::error::Error for FluidError {}

/// `value` itself when it lies between `min` and `max`; NaN never does.
pub(crate) fn within(
    what: &'static str,
    unit: &'static str,
    value: f64,
    min: f64,
    max: f64,
) -> Result<f64, FluidError> {
    if value >= min && value <= max {
        Ok(value)
    } else {
        Err(FluidError::OutOfRange { what, unit, value, min, max })
    }
}
