//! What somebody wants to have done.

use crate::flow::{reads_head, reads_high, reads_low};
use crate::plant::{CIRCUIT, Content, HighPlace, Joint, Power, Rules, Seat, State, Supply, Volume};

/// Where a plan leads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Goal {
    /// Both gauges show the unit, hoses free of air.
    GaugesOn,
    /// Hoses off, valves as for running, unit as it is.
    GaugesOff,
    /// Charge in the receiver, low side isolated, watched and locked out.
    PumpedDown,
    /// The joint on the low side is open.
    LowSideOpen,
    /// Part and drier are fitted.
    PartFitted,
    /// Tested with nitrogen, and the nitrogen let out.
    NitrogenTested,
    /// Evacuated, and the vacuum stood its hold.
    EvacuatedHeld,
    /// The whole charge is in by weight, hoses emptied.
    Charged,
    /// Running and checked.
    RunningChecked,
    /// Running and checked, gauges off again.
    BackInService,
    /// The whole job: part and drier changed, tested, evacuated, running, checked, gauges off.
    Repair,
}

impl Goal {
    /// All, in the order of a job.
    pub const ALL: [Self; 11] = [
        Self::GaugesOn,
        Self::GaugesOff,
        Self::PumpedDown,
        Self::LowSideOpen,
        Self::PartFitted,
        Self::NitrogenTested,
        Self::EvacuatedHeld,
        Self::Charged,
        Self::RunningChecked,
        Self::BackInService,
        Self::Repair,
    ];

    /// Name on the command line.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::GaugesOn => "gauges-on",
            Self::GaugesOff => "gauges-off",
            Self::PumpedDown => "pumped-down",
            Self::LowSideOpen => "low-side-open",
            Self::PartFitted => "part-fitted",
            Self::NitrogenTested => "nitrogen-tested",
            Self::EvacuatedHeld => "evacuated",
            Self::Charged => "charged",
            Self::RunningChecked => "running-checked",
            Self::BackInService => "back-in-service",
            Self::Repair => "repair",
        }
    }

    /// In one line.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::GaugesOn => "gauges on, hoses free of air, both sides shown",
            Self::GaugesOff => "gauges and machines off, no hose under pressure",
            Self::PumpedDown => {
                "pumped down: charge in the receiver, low side isolated, locked out"
            }
            Self::LowSideOpen => "low side open to work on",
            Self::PartFitted => "part fitted and drier changed",
            Self::NitrogenTested => "pressure-tested with nitrogen, nitrogen let out",
            Self::EvacuatedHeld => "evacuated, and the vacuum stood its hold",
            Self::Charged => "charged by weight",
            Self::RunningChecked => "running and checked",
            Self::BackInService => "running, checked, gauges off again",
            Self::Repair => {
                "whole repair: part and drier changed, tested, evacuated, running, checked, \
                 gauges off"
            }
        }
    }

    /// The goal of this name.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        let plain = name.trim().to_lowercase().replace(['_', ' '], "-");
        Self::ALL.into_iter().find(|g| g.id() == plain)
    }

    /// Forgets of a state's history what neither this goal nor any hazard asks for.
    pub(crate) fn forget(self, s: &mut State) {
        let check = matches!(self, Self::RunningChecked | Self::BackInService | Self::Repair);
        s.checked &= check;
        s.weighed &= self == Self::Charged;
        s.settled &= self == Self::PumpedDown;
        s.tested &= self == Self::NitrogenTested || s.joint == Joint::Fitted;
    }

    /// Whether the state is there.
    #[must_use]
    pub fn reached(self, s: &State, rules: &Rules) -> bool {
        let circuit = |is: fn(Content) -> bool| {
            Volume::ALL.into_iter().filter(|v| v.bit() & CIRCUIT != 0).all(|v| is(s.of(v)))
        };
        let charged = || circuit(|c| c == Content::Refrigerant);
        match self {
            Self::GaugesOn => {
                let shown = reads_low(s) && reads_high(s) && reads_head(s, rules);
                shown && !s.low_hand && !s.high_hand
            }
            Self::GaugesOff => gauges_off(s),
            Self::PumpedDown => {
                s.settled
                    && s.power == Power::Locked
                    && [s.king, s.suction, s.discharge] == [Seat::Front; 3]
            }
            Self::LowSideOpen => s.joint == Joint::Open,
            Self::PartFitted => s.joint == Joint::Fitted,
            Self::NitrogenTested => {
                s.tested && Volume::ALL.iter().all(|v| s.of(*v) != Content::NitrogenPressure)
            }
            Self::EvacuatedHeld => {
                let held = |v| s.of(v) == Content::VacuumHeld;
                let high = held(Volume::HighSide) || s.of(Volume::HighSide) == Content::Refrigerant;
                held(Volume::LiquidLine)
                    && held(Volume::Evaporator)
                    && held(Volume::Compressor)
                    && high
            }
            Self::Charged => {
                s.weighed && charged() && Volume::ALL.iter().all(|v| s.of(*v) != Content::Liquid)
            }
            Self::RunningChecked => s.checked && s.power == Power::Running && charged(),
            Self::BackInService => {
                s.checked && s.power == Power::Running && charged() && gauges_off(s)
            }
            Self::Repair => {
                s.joint == Joint::Fitted
                    && s.tested
                    && s.checked
                    && s.power == Power::Running
                    && charged()
                    && gauges_off(s)
            }
        }
    }
}

fn gauges_off(s: &State) -> bool {
    !s.low_hose
        && s.high_hose == HighPlace::Off
        && !s.pump
        && !s.recovery
        && s.supply == Supply::None
        && [s.king, s.suction, s.discharge] == [Seat::Back; 3]
        && !s.expansion_held
}
