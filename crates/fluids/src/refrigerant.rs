//! Refrigerants by name, and their bubble and dew lines both ways.

use std::sync::OnceLock;

use units::math::{exp, ln, sqrt};

use crate::error::{FluidError, within};
use crate::line::{Line, Nodes, Quick};
use crate::patches::Block;
use crate::table::{Table, read};

/// Refrigerants with a table, in the order of the tables.
pub const NAMES: [&str; 8] = ["R134a", "R404A", "R452A", "R513A", "R744", "R290", "R1234yf", "R23"];

macro_rules! table_bytes {
    ($name:literal) => {
        include_bytes!(concat!("../../../data/fluids/", $name, ".bin"))
    };
}

const BYTES: [&[u8]; NAMES.len()] = [
    table_bytes!("R134a"),
    table_bytes!("R404A"),
    table_bytes!("R452A"),
    table_bytes!("R513A"),
    table_bytes!("R744"),
    table_bytes!("R290"),
    table_bytes!("R1234yf"),
    table_bytes!("R23"),
];

static READ: [OnceLock<Option<Refrigerant>>; NAMES.len()] =
    [const { OnceLock::new() }; NAMES.len()];

static NODES: OnceLock<Nodes> = OnceLock::new();

/// Which end of condensation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// The first bubble in liquid: saturated liquid. Subcooling counts from here.
    Bubble,
    /// The last drop in vapour: saturated vapour. Superheat counts from here.
    Dew,
}

/// A state on the bubble or dew line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Saturated {
    /// Temperature, K.
    pub t_k: f64,
    /// Absolute pressure, Pa.
    pub p_pa: f64,
    /// Density, kg/m³.
    pub rho_kg_m3: f64,
    /// Specific enthalpy, J/kg (CoolProp's default reference; see [`Refrigerant::iir_offsets`]).
    pub h_j_kg: f64,
    /// Specific entropy, J/(kg·K).
    pub s_j_kgk: f64,
}

/// One refrigerant. Get it by [`Refrigerant::named`].
#[derive(Debug)]
pub struct Refrigerant {
    name: &'static str,
    bytes: usize,
    pub(crate) table: Table,
    pub(crate) ln_p_ref: f64,
    quick_bubble: Quick,
    pub(crate) quick_dew: Quick,
}

impl Refrigerant {
    /// The refrigerant of this name; case does not matter, `R-134a` is `R134a`, `CO2` is R744.
    ///
    /// # Errors
    /// [`FluidError::Unknown`].
    pub fn named(name: &str) -> Result<&'static Self, FluidError> {
        let plain: String = name.trim().replace(['-', ' '], "").to_lowercase();
        let plain = match plain.as_str() {
            "co2" => "r744",
            "propane" => "r290",
            other => other,
        };
        let index = NAMES.iter().position(|n| n.to_lowercase() == plain);
        let unknown = || FluidError::Unknown { name: name.to_owned() };
        Self::numbered(index.ok_or_else(unknown)?)
    }

    fn numbered(index: usize) -> Result<&'static Self, FluidError> {
        let (Some(name), Some(bytes), Some(cell)) =
            (NAMES.get(index), BYTES.get(index), READ.get(index))
        else {
            return Err(FluidError::Unknown { name: format!("number {index}") });
        };
        let made = || {
            let table = read(bytes)?;
            let p_ref = table.constants.p_ref;
            let ln_p_ref = ln(p_ref);
            let nodes = NODES.get_or_init(Nodes::default);
            let quick = |line: &Line| {
                let p = |z: f64| p_ref * exp(-z * z);
                let at = |ln_p: f64| line.at(sqrt((ln_p_ref - ln_p).max(0.0)), 0);
                Quick::new(nodes, p(line.hi), p(line.lo), at)
            };
            let (quick_bubble, quick_dew) = (quick(&table.bubble_of_p), quick(&table.dew_of_p));
            let made: usize = table.blocks.iter().map(Block::made_bytes).sum();
            let bytes = bytes.len() + made + quick_bubble.made_bytes() + quick_dew.made_bytes();
            Some(Self { name, bytes, table, ln_p_ref, quick_bubble, quick_dew })
        };
        cell.get_or_init(made).as_ref().ok_or(FluidError::Damaged { name })
    }

    /// All refrigerants.
    ///
    /// # Errors
    /// [`FluidError::Damaged`] when a table cannot be read.
    pub fn all() -> Result<Vec<&'static Self>, FluidError> {
        (0..NAMES.len()).map(Self::numbered).collect()
    }

    /// Its name, `R134a`.
    #[must_use]
    pub fn name(&self) -> &'static str {
        self.name
    }

    /// Size of its table and of what is made from it when it is read, bytes.
    #[must_use]
    pub fn table_bytes(&self) -> usize {
        self.bytes
    }

    /// Whether bubble and dew differ.
    #[must_use]
    pub fn is_blend(&self) -> bool {
        self.table.constants.blend
    }

    /// Where the values come from: lines `key=value` with CoolProp's version, the mole fractions,
    /// and the equation of state of every part by its literature key.
    #[must_use]
    pub fn sources(&self) -> &'static str {
        self.table.text.trim_end()
    }

    /// Molar mass, kg/mol.
    #[must_use]
    pub fn molar_mass_kg_mol(&self) -> f64 {
        self.table.constants.molar_mass
    }

    /// Critical temperature (K) and pressure (Pa).
    #[must_use]
    pub fn critical(&self) -> (f64, f64) {
        (self.table.constants.tc, self.table.constants.pc)
    }

    /// Coldest and warmest temperature of the saturation lines, K.
    #[must_use]
    pub fn saturation_range_k(&self) -> (f64, f64) {
        (self.table.constants.t_min, self.table.constants.t_top)
    }

    /// Coldest and warmest temperature of any state, K.
    #[must_use]
    pub fn temperature_range_k(&self) -> (f64, f64) {
        (self.table.constants.t_min, self.table.constants.t_max)
    }

    /// Highest pressure, Pa.
    #[must_use]
    pub fn pressure_max_pa(&self) -> f64 {
        self.table.constants.p_max
    }

    /// What to subtract from h (J/kg) and s (J/(kg·K)) for the IIR reference: 200 kJ/kg and
    /// 1 kJ/(kg·K) for liquid at its bubble point at 0 °C. Nothing to speak of for pure fluids.
    #[must_use]
    pub fn iir_offsets(&self) -> (f64, f64) {
        (self.table.constants.h_iir, self.table.constants.s_iir)
    }

    pub(crate) fn of_t(&self, side: Side) -> &Line {
        match side {
            Side::Bubble => &self.table.bubble_of_t,
            Side::Dew => &self.table.dew_of_t,
        }
    }

    fn of_p(&self, side: Side) -> &Line {
        match side {
            Side::Bubble => &self.table.bubble_of_p,
            Side::Dew => &self.table.dew_of_p,
        }
    }

    /// sqrt(1 − T/t_ref), the variable of the lines, kept between the line's ends.
    pub(crate) fn w(&self, t_k: f64, line: &Line) -> f64 {
        sqrt((1.0 - t_k / self.table.constants.t_ref).max(0.0)).clamp(line.lo, line.hi)
    }

    /// Absolute pressures of the line's ends, Pa.
    #[must_use]
    pub fn pressure_range_pa(&self, side: Side) -> (f64, f64) {
        let c = &self.table.constants;
        match side {
            Side::Dew => (c.p_low, c.p_top_dew),
            Side::Bubble => {
                let line = self.of_t(side);
                (exp(line.at(line.hi, 0)), c.p_top_bubble)
            }
        }
    }

    /// Saturation temperature (K) at an absolute pressure (Pa).
    ///
    /// # Errors
    /// [`FluidError::OutOfRange`] beyond the line's ends.
    pub fn t_sat_k(&self, p_pa: f64, side: Side) -> Result<f64, FluidError> {
        let quick = match side {
            Side::Bubble => &self.quick_bubble,
            Side::Dew => &self.quick_dew,
        };
        match quick.at(p_pa) {
            Some(t) => Ok(t),
            None => self.t_sat_at_ends(p_pa, side),
        }
    }

    /// Close to the ends of a line, and beyond them.
    fn t_sat_at_ends(&self, p_pa: f64, side: Side) -> Result<f64, FluidError> {
        let line = self.of_p(side);
        let c = &self.table.constants;
        let z = sqrt(ln(c.p_ref / p_pa).max(0.0));
        let slack = 1e-9;
        if p_pa > 0.0 && z >= line.lo - slack && z <= line.hi + slack && p_pa <= c.p_ref {
            return Ok(line.at(z, 0));
        }
        let (min, max) = self.pressure_range_pa(side);
        Err(FluidError::OutOfRange {
            what: "saturation pressure",
            unit: "kPa absolute",
            value: p_pa / 1e3,
            min: min / 1e3,
            max: max / 1e3,
        })
    }

    /// Saturation pressure (Pa absolute) at a temperature (K).
    ///
    /// # Errors
    /// [`FluidError::OutOfRange`] beyond the line's ends.
    pub fn p_sat_pa(&self, t_k: f64, side: Side) -> Result<f64, FluidError> {
        self.saturation_temperature(t_k)?;
        let line = self.of_t(side);
        Ok(exp(line.at(self.w(t_k, line), 0)))
    }

    fn saturation_temperature(&self, t_k: f64) -> Result<f64, FluidError> {
        let (min, max) = self.saturation_range_k();
        let z = units::temperature::ZERO_C_K;
        within("saturation temperature", "°C", t_k - z, min - z, max - z)
    }

    /// The whole saturated state at a temperature (K).
    ///
    /// # Errors
    /// [`FluidError::OutOfRange`] beyond the line's ends.
    pub fn saturated_at_t(&self, t_k: f64, side: Side) -> Result<Saturated, FluidError> {
        self.saturation_temperature(t_k)?;
        let line = self.of_t(side);
        let w = self.w(t_k, line);
        Ok(Saturated {
            t_k,
            p_pa: exp(line.at(w, 0)),
            rho_kg_m3: exp(line.at(w, 1)),
            h_j_kg: line.at(w, 2),
            s_j_kgk: line.at(w, 3),
        })
    }

    /// The whole saturated state at an absolute pressure (Pa).
    ///
    /// # Errors
    /// [`FluidError::OutOfRange`] beyond the line's ends.
    pub fn saturated_at_p(&self, p_pa: f64, side: Side) -> Result<Saturated, FluidError> {
        let (min, max) = self.saturation_range_k();
        // Rounding may carry the temperature a hair past the ends.
        let t_k = self.t_sat_k(p_pa, side)?.clamp(min, max);
        Ok(Saturated { p_pa, ..self.saturated_at_t(t_k, side)? })
    }
}
