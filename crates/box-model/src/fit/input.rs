//! One reading of a box as the fit takes it.

/// What was read at one instant. What was not read, or cannot be believed, is `None`.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Look {
    /// Hours of the caller's clock.
    pub at_h: f64,
    /// Hours since the reading before.
    pub gap_h: f64,
    /// Supply air, °C; not in defrost nor in the hour after.
    pub supply_c: Option<f64>,
    /// Return air, °C; the same.
    pub return_c: Option<f64>,
    /// Ambient air, °C.
    pub ambient_c: Option<f64>,
    /// Pulp probes, °C.
    pub probes_c: [Option<f64>; 4],
    /// Plug energised and unit switched on.
    pub powered: Option<bool>,
}

impl Look {
    /// Return over supply, K.
    #[must_use]
    pub fn spread_k(&self) -> Option<f64> {
        Some(self.return_c? - self.supply_c?)
    }

    /// Readings close together tell little more than one: their share of an hourly reading.
    pub(crate) fn gap_weight(&self) -> f64 {
        self.gap_h.clamp(0.02, 2.0)
    }
}

/// What a fit had to do without.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Missing {
    /// Ambient air was never read: a warm day is assumed.
    Ambient,
    /// No air was read that could be used.
    Air,
    /// Supply and return were never read together: the load is not told.
    Spread,
    /// No probes: the cargo is told from the air alone.
    Probes,
    /// Read less than every six hours.
    FewRounds,
    /// Readings came later than newer ones and were left out.
    OutOfOrder,
}

impl Missing {
    /// In a sentence after "not known:".
    #[must_use]
    pub fn text(self) -> &'static str {
        match self {
            Self::Ambient => "ambient air was never read, a warm day is assumed",
            Self::Air => "no air was read that can be judged",
            Self::Spread => "supply and return were never read together",
            Self::Probes => "no pulp probes, the cargo is told from the air",
            Self::FewRounds => "read less than every six hours",
            Self::OutOfOrder => "readings came out of order",
        }
    }
}
