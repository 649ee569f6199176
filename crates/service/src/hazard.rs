//! What must not happen, each with its name, its guard in the reference and why it hurts.

/// A hazard or a loss that a step would bring about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Hazard {
    /// Compressor running against a closed discharge valve.
    ClosedDischarge,
    /// Compressor running on a closed suction valve.
    ClosedSuction,
    /// Compressor running, or left running, into vacuum.
    RunIntoVacuum,
    /// Compressor terminals live while the shell is in vacuum.
    LiveInVacuum,
    /// Compressor running on air, nitrogen or an empty circuit.
    RunWithoutCharge,
    /// Pump-down without a gauge that shows suction and head.
    BlindPumpDown,
    /// Pump-down of more charge than condenser and receiver hold.
    ReceiverOverfull,
    /// Liquid shut in between two closed valves.
    TrappedLiquid,
    /// A joint opened on a side under pressure.
    OpenUnderPressure,
    /// Air and moisture drawn into the circuit.
    AirDrawnIn,
    /// Compressor oil open to the air.
    OilOpenToAir,
    /// Work on an open or pressure-tested circuit with the unit live.
    LiveWork,
    /// Refrigerant let into the air.
    Release,
    /// A hose taken off, or a port opened, under pressure.
    HoseUnderPressure,
    /// A hose full of air opened to the circuit.
    UnpurgedHose,
    /// Nitrogen driven into refrigerant.
    NitrogenIntoRefrigerant,
    /// Nitrogen test while refrigerant is still in the application.
    TestWithChargeIn,
    /// Refrigerant and air put together in the circuit.
    AirWithRefrigerant,
    /// Vacuum pump opened to refrigerant.
    PumpOnCharge,
    /// Vacuum pump opened to pressure.
    PumpOnPressure,
    /// Air or nitrogen driven into the recovery cylinder.
    ForeignGasRecovered,
    /// Recovery cylinder filled beyond its limit by mass.
    CylinderOverfilled,
    /// Refrigerant let into a vacuum that was not proved.
    UnprovenVacuum,
    /// Refrigerant let into a repaired circuit that was not pressure-tested.
    Untested,
    /// Liquid charged into the suction side or the compressor.
    LiquidIntoCompressor,
    /// Cylinder opened to a high side that runs: it is filled backwards.
    BackIntoCylinder,
    /// Both hand valves open on a running unit.
    ShortCircuit,
    /// Expansion valve held open on a running unit.
    FloodBack,
    /// Work on gas whose identity is in doubt.
    SuspectGas,
    /// Refrigerant let into the manifold's centre with nothing fitted that can take it out.
    GasInGauges,
}

impl Hazard {
    /// All.
    pub const ALL: [Self; 30] = [
        Self::ClosedDischarge,
        Self::ClosedSuction,
        Self::RunIntoVacuum,
        Self::LiveInVacuum,
        Self::RunWithoutCharge,
        Self::BlindPumpDown,
        Self::ReceiverOverfull,
        Self::TrappedLiquid,
        Self::OpenUnderPressure,
        Self::AirDrawnIn,
        Self::OilOpenToAir,
        Self::LiveWork,
        Self::Release,
        Self::HoseUnderPressure,
        Self::UnpurgedHose,
        Self::NitrogenIntoRefrigerant,
        Self::TestWithChargeIn,
        Self::AirWithRefrigerant,
        Self::PumpOnCharge,
        Self::PumpOnPressure,
        Self::ForeignGasRecovered,
        Self::CylinderOverfilled,
        Self::UnprovenVacuum,
        Self::Untested,
        Self::LiquidIntoCompressor,
        Self::BackIntoCylinder,
        Self::ShortCircuit,
        Self::FloodBack,
        Self::SuspectGas,
        Self::GasInGauges,
    ];

    /// Key in files.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::ClosedDischarge => "closed_discharge",
            Self::ClosedSuction => "closed_suction",
            Self::RunIntoVacuum => "run_into_vacuum",
            Self::LiveInVacuum => "live_in_vacuum",
            Self::RunWithoutCharge => "run_without_charge",
            Self::BlindPumpDown => "blind_pump_down",
            Self::ReceiverOverfull => "receiver_overfull",
            Self::TrappedLiquid => "trapped_liquid",
            Self::OpenUnderPressure => "open_under_pressure",
            Self::AirDrawnIn => "air_drawn_in",
            Self::OilOpenToAir => "oil_open_to_air",
            Self::LiveWork => "live_work",
            Self::Release => "release",
            Self::HoseUnderPressure => "hose_under_pressure",
            Self::UnpurgedHose => "unpurged_hose",
            Self::NitrogenIntoRefrigerant => "nitrogen_into_refrigerant",
            Self::TestWithChargeIn => "test_with_charge_in",
            Self::AirWithRefrigerant => "air_with_refrigerant",
            Self::PumpOnCharge => "pump_on_charge",
            Self::PumpOnPressure => "pump_on_pressure",
            Self::ForeignGasRecovered => "foreign_gas_recovered",
            Self::CylinderOverfilled => "cylinder_overfilled",
            Self::UnprovenVacuum => "unproven_vacuum",
            Self::Untested => "untested",
            Self::LiquidIntoCompressor => "liquid_into_compressor",
            Self::BackIntoCylinder => "back_into_cylinder",
            Self::ShortCircuit => "short_circuit",
            Self::FloodBack => "flood_back",
            Self::SuspectGas => "suspect_gas",
            Self::GasInGauges => "gas_in_gauges",
        }
    }

    /// Guard in reference/refrigeration-service.md §5.2, or the section that speaks of it.
    #[must_use]
    pub const fn guard(self) -> &'static str {
        match self {
            Self::ClosedDischarge => "G1",
            Self::ClosedSuction | Self::RunIntoVacuum | Self::BlindPumpDown => "G3",
            Self::LiveInVacuum | Self::RunWithoutCharge => "G2",
            Self::ReceiverOverfull => "G4",
            Self::OpenUnderPressure | Self::Release | Self::GasInGauges => "G5",
            Self::TestWithChargeIn => "G5, G9",
            Self::NitrogenIntoRefrigerant => "G5, G6",
            Self::Untested => "G9",
            Self::PumpOnCharge | Self::UnprovenVacuum => "G9, §4.3",
            Self::CylinderOverfilled | Self::ForeignGasRecovered => "G13",
            Self::ShortCircuit => "G14",
            Self::LiquidIntoCompressor | Self::FloodBack => "G15",
            Self::SuspectGas => "G16",
            Self::LiveWork => "G2, G18",
            Self::AirDrawnIn | Self::AirWithRefrigerant | Self::UnpurgedHose => "G3, §6.3",
            Self::OilOpenToAir => "§4.5",
            Self::HoseUnderPressure => "G18",
            Self::TrappedLiquid | Self::PumpOnPressure | Self::BackIntoCylinder => {
                "common practice, no source"
            }
        }
    }

    /// Why it hurts, in plain words.
    #[must_use]
    pub const fn why(self) -> &'static str {
        match self.why_machine() {
            Some(why) => why,
            None => match self.why_opened() {
                Some(why) => why,
                None => self.why_gas(),
            },
        }
    }

    /// Dangers to and from the machine.
    const fn why_machine(self) -> Option<&'static str> {
        Some(match self {
            Self::ClosedDischarge => {
                "the compressor runs against a closed discharge valve: pressure rises in seconds \
                 until something bursts"
            }
            Self::ClosedSuction => {
                "the compressor runs on a closed suction valve: it pulls itself into vacuum, \
                 without cooling and without oil"
            }
            Self::RunIntoVacuum => {
                "the compressor pulls into vacuum: the motor is not cooled and its winding can \
                 flash over; a leak on the low side then draws air in"
            }
            Self::LiveInVacuum => {
                "the motor terminals are live in vacuum: the thin gas does not insulate and the \
                 winding can flash over (no insulation test in vacuum either)"
            }
            Self::RunWithoutCharge => {
                "the compressor would run without refrigerant: no cooling, no oil return, and \
                 with air in it the oil vapour can explode"
            }
            Self::BlindPumpDown => {
                "nobody sees suction and head pressure during the pump-down: it is not stopped \
                 in time"
            }
            Self::ReceiverOverfull => {
                "condenser and receiver have no room for the whole charge: head pressure runs \
                 away, and liquid without vapour above it bursts the vessel when it warms"
            }
            Self::TrappedLiquid => {
                "liquid is shut in between closed valves: it has no room to expand and bursts \
                 pipe or hose when it warms"
            }
            _ => return None,
        })
    }

    /// Dangers of opening.
    const fn why_opened(self) -> Option<&'static str> {
        Some(match self {
            Self::OpenUnderPressure => {
                "the joint would be opened under pressure: parts fly, cold burns, refrigerant lost"
            }
            Self::AirDrawnIn => {
                "the side is below the atmosphere: opening it draws in air and moisture"
            }
            Self::OilOpenToAir => {
                "the compressor oil would stand open to the air: it drinks moisture that no \
                 vacuum takes out again"
            }
            Self::LiveWork => "the unit is live while somebody works on it: 440 V, moving fans",
            Self::Release => "refrigerant would go into the air: lost, forbidden, and choking",
            Self::HoseUnderPressure => {
                "a hose or port would be opened under pressure: it whips, cold burns, gas lost"
            }
            Self::UnpurgedHose => {
                "a hose full of air or nitrogen would be opened to the charge: it stays in the \
                 condenser and raises head pressure"
            }
            Self::NitrogenIntoRefrigerant => {
                "nitrogen would be driven into refrigerant: the charge is spoiled and the \
                 pressure adds up"
            }
            Self::TestWithChargeIn => {
                "refrigerant is still in the application: it must be recovered from the whole of \
                 it before nitrogen tests it"
            }
            Self::AirWithRefrigerant => {
                "air or nitrogen in the circuit would meet the charge: the charge is spoiled"
            }
            _ => return None,
        })
    }

    /// Dangers of gas in the wrong place.
    const fn why_gas(self) -> &'static str {
        match self {
            Self::PumpOnCharge => {
                "the vacuum pump would pump refrigerant into the air; recover it first"
            }
            Self::PumpOnPressure => {
                "the vacuum pump would be opened to pressure: it throws its oil and is ruined"
            }
            Self::ForeignGasRecovered => {
                "air or nitrogen would be driven into the recovery cylinder: its pressure rises \
                 and the gas in it is spoiled"
            }
            Self::CylinderOverfilled => {
                "the recovery cylinder would hold more than its limit by mass: on a hot deck it \
                 becomes full of liquid and bursts"
            }
            Self::UnprovenVacuum => {
                "refrigerant would go into a vacuum that was not watched: moisture or a leak \
                 stays unseen"
            }
            Self::Untested => {
                "refrigerant would go into a repaired circuit that was not tested with nitrogen"
            }
            Self::LiquidIntoCompressor => {
                "liquid would go into the suction side or the compressor: it breaks at the next \
                 start"
            }
            Self::BackIntoCylinder => {
                "the running high side would fill the charging cylinder backwards"
            }
            Self::ShortCircuit => {
                "both hand valves open on a running unit: discharge gas goes straight to suction"
            }
            Self::FloodBack => {
                "the expansion valve is held open on a running unit: liquid floods the compressor"
            }
            Self::GasInGauges => {
                "refrigerant would be shut into the manifold and no recovery unit is fitted to \
                 take it out: the gauges could not come off without letting it go"
            }
            Self::SuspectGas => {
                "the gas may be counterfeit: with aluminium it can form something that ignites \
                 in air; do not open, run or vent"
            }
            _ => "",
        }
    }

    /// What somebody could change so that it would no longer stand in the way.
    #[must_use]
    pub const fn would_help(self) -> &'static str {
        match self {
            Self::GasInGauges => "fit the recovery unit before the hand valve is opened",
            Self::CylinderOverfilled => "an evacuated recovery cylinder with room for the charge",
            Self::ReceiverOverfull => "recover the charge, or part of it, instead of pumping down",
            Self::TestWithChargeIn => {
                "recover the whole charge first (recovery unit and a cylinder with room), or a \
                 local rule and maker's instruction that allow the test with the charge held"
            }
            Self::SuspectGas => {
                "identify the gas with an analyser or a laboratory sample; ask ashore"
            }
            Self::ForeignGasRecovered | Self::AirWithRefrigerant => {
                "an empty cylinder marked for contaminated gas, and somebody certified to take it"
            }
            _ => "ask ashore: no step known here gets around it safely",
        }
    }
}

/// A set of hazards.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Hazards(u32);

impl Hazards {
    /// None.
    pub const NONE: Self = Self(0);

    /// Adds one.
    pub fn add(&mut self, h: Hazard) {
        self.0 |= 1 << h as u32;
    }

    /// Adds one where `when` holds.
    pub fn add_if(&mut self, when: bool, h: Hazard) {
        if when {
            self.add(h);
        }
    }

    /// Both sets together.
    #[must_use]
    pub const fn with(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// This set without the other.
    #[must_use]
    pub const fn without(self, other: Self) -> Self {
        Self(self.0 & !other.0)
    }

    /// The set of one.
    #[must_use]
    pub const fn one(h: Hazard) -> Self {
        Self(1 << h as u32)
    }

    /// Whether nothing is in it.
    #[must_use]
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// Whether it holds this one.
    #[must_use]
    pub const fn has(self, h: Hazard) -> bool {
        self.0 & (1 << h as u32) != 0
    }

    /// What is in it.
    pub fn iter(self) -> impl Iterator<Item = Hazard> {
        Hazard::ALL.into_iter().filter(move |h| self.has(*h))
    }
}
