//! The steps that a person can take.

use crate::plant::{HighPlace, Seat, Supply};

/// One step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Action {
    /// Turn the suction service valve.
    Suction(Seat),
    /// Turn the discharge service valve.
    Discharge(Seat),
    /// Turn the king valve.
    King(Seat),
    /// Hold expansion and solenoid valve open by the maker's means.
    HoldExpansion,
    /// Let them shut again.
    ReleaseExpansion,
    /// Isolate, lock and tag.
    Lock,
    /// Take the lock off.
    Unlock,
    /// Start at full cooling.
    Start,
    /// Stop the compressor.
    Stop,
    /// Open the low hand valve.
    OpenLowHand,
    /// Shut the low hand valve.
    ShutLowHand,
    /// Open the high hand valve.
    OpenHighHand,
    /// Shut the high hand valve.
    ShutHighHand,
    /// Low hose on the suction port.
    FitLowHose,
    /// Low hose off.
    RemoveLowHose,
    /// High hose on a port; [`HighPlace::Off`] takes it off.
    HighHose(HighPlace),
    /// Vacuum pump and gauge on the centre.
    FitPump,
    /// Vacuum pump off the centre.
    RemovePump,
    /// Recovery unit and cylinder on the centre.
    FitRecovery,
    /// Recovery unit off the centre.
    RemoveRecovery,
    /// Nitrogen or charging cylinder on the centre; [`Supply::None`] takes it off.
    Supply(Supply),
    /// Evacuate what is open to the centre, then shut the pump's valve.
    Evacuate,
    /// Watch the vacuum.
    Hold,
    /// Recover what is open to the centre, then shut the unit's valve.
    Recover,
    /// Nitrogen in, to a little above the atmosphere.
    BreakWithNitrogen,
    /// Nitrogen in, to test pressure, and watch.
    TestWithNitrogen,
    /// Let the test nitrogen out.
    VentNitrogen,
    /// The charge in by weight, as liquid, at the king valve.
    WeighIn,
    /// Let the liquid in the charging hoses boil back into the unit.
    EmptyHoses,
    /// Watch the suction fall to the stop of the pump-down.
    PullDown,
    /// Watch the pumped-down side for a rise.
    WatchRise,
    /// Open the joint.
    OpenJoint,
    /// Fit part and drier, close.
    FitPart,
    /// Run steady and read.
    RunCheck,
}

use Action as A;

/// Every step there is.
pub const ALL: [Action; 43] = [
    A::Suction(Seat::Back),
    A::Suction(Seat::Mid),
    A::Suction(Seat::Front),
    A::Discharge(Seat::Back),
    A::Discharge(Seat::Mid),
    A::Discharge(Seat::Front),
    A::King(Seat::Back),
    A::King(Seat::Mid),
    A::King(Seat::Front),
    A::HoldExpansion,
    A::ReleaseExpansion,
    A::Lock,
    A::Unlock,
    A::Start,
    A::Stop,
    A::OpenLowHand,
    A::ShutLowHand,
    A::OpenHighHand,
    A::ShutHighHand,
    A::FitLowHose,
    A::RemoveLowHose,
    A::HighHose(HighPlace::Discharge),
    A::HighHose(HighPlace::King),
    A::HighHose(HighPlace::Off),
    A::FitPump,
    A::RemovePump,
    A::FitRecovery,
    A::RemoveRecovery,
    A::Supply(Supply::Nitrogen),
    A::Supply(Supply::Cylinder),
    A::Supply(Supply::None),
    A::Evacuate,
    A::Hold,
    A::Recover,
    A::BreakWithNitrogen,
    A::TestWithNitrogen,
    A::VentNitrogen,
    A::WeighIn,
    A::EmptyHoses,
    A::PullDown,
    A::WatchRise,
    A::OpenJoint,
    A::FitPart,
];

/// [`ALL`] with the running check, which changes nothing but the record.
pub fn all() -> impl Iterator<Item = Action> {
    ALL.into_iter().chain([A::RunCheck])
}

impl Action {
    /// Key in files.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            A::Suction(Seat::Back) => "suction_back",
            A::Suction(Seat::Mid) => "suction_mid",
            A::Suction(Seat::Front) => "suction_front",
            A::Discharge(Seat::Back) => "discharge_back",
            A::Discharge(Seat::Mid) => "discharge_mid",
            A::Discharge(Seat::Front) => "discharge_front",
            A::King(Seat::Back) => "king_back",
            A::King(Seat::Mid) => "king_mid",
            A::King(Seat::Front) => "king_front",
            A::HoldExpansion => "hold_expansion",
            A::ReleaseExpansion => "release_expansion",
            A::Lock => "lock",
            A::Unlock => "unlock",
            A::Start => "start",
            A::Stop => "stop",
            A::OpenLowHand => "open_low_hand",
            A::ShutLowHand => "shut_low_hand",
            A::OpenHighHand => "open_high_hand",
            A::ShutHighHand => "shut_high_hand",
            A::FitLowHose => "fit_low_hose",
            A::RemoveLowHose => "remove_low_hose",
            A::HighHose(HighPlace::Discharge) => "high_hose_on_discharge",
            A::HighHose(HighPlace::King) => "high_hose_on_king",
            A::HighHose(HighPlace::Off) => "remove_high_hose",
            A::FitPump => "fit_pump",
            A::RemovePump => "remove_pump",
            A::FitRecovery => "fit_recovery",
            A::RemoveRecovery => "remove_recovery",
            A::Supply(Supply::Nitrogen) => "fit_nitrogen",
            A::Supply(Supply::Cylinder) => "fit_cylinder",
            A::Supply(Supply::None) => "remove_supply",
            A::Evacuate => "evacuate",
            A::Hold => "hold",
            A::Recover => "recover",
            A::BreakWithNitrogen => "break_with_nitrogen",
            A::TestWithNitrogen => "test_with_nitrogen",
            A::VentNitrogen => "vent_nitrogen",
            A::WeighIn => "weigh_in",
            A::EmptyHoses => "empty_hoses",
            A::PullDown => "pull_down",
            A::WatchRise => "watch_rise",
            A::OpenJoint => "open_joint",
            A::FitPart => "fit_part",
            A::RunCheck => "run_check",
        }
    }
}
