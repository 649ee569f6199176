//! Every step in plain words, and the cautions that stand before it.

use crate::action::Action;
use crate::plant::{HighPlace, Seat, Supply};

/// What to do, as one instruction.
#[must_use]
pub const fn instruction(a: Action) -> &'static str {
    match a {
        Action::Suction(_) | Action::Discharge(_) | Action::King(_) => stem(a),
        Action::Evacuate
        | Action::Hold
        | Action::Recover
        | Action::BreakWithNitrogen
        | Action::TestWithNitrogen
        | Action::VentNitrogen
        | Action::WeighIn
        | Action::EmptyHoses
        | Action::PullDown
        | Action::WatchRise
        | Action::OpenJoint
        | Action::FitPart
        | Action::RunCheck => work(a),
        _ => fitting(a),
    }
}

const fn stem(a: Action) -> &'static str {
    match a {
        Action::Suction(Seat::Back) => {
            "Suction valve: stem fully out (back-seated). The gauge port is shut."
        }
        Action::Suction(Seat::Mid) => "Suction valve: stem to mid. Line and gauge port are open.",
        Action::Suction(Seat::Front) => {
            "Suction valve: stem fully in (front-seated). The suction line is shut off."
        }
        Action::Discharge(Seat::Back) => {
            "Discharge valve: stem fully out (back-seated). The gauge port is shut."
        }
        Action::Discharge(Seat::Mid) => {
            "Discharge valve: stem to mid. Line and gauge port are open."
        }
        Action::Discharge(Seat::Front) => {
            "Discharge valve: stem fully in (front-seated). The compressor is shut off from the \
             condenser; it must not be started."
        }
        Action::King(Seat::Back) => {
            "King valve (receiver outlet): stem fully out (back-seated). The line is open."
        }
        Action::King(Seat::Mid) => {
            "King valve (receiver outlet): stem to mid. Line and gauge port are open."
        }
        Action::King(Seat::Front) => {
            "King valve (receiver outlet): stem fully in (front-seated). The liquid line is shut."
        }
        _ => "",
    }
}

const fn fitting(a: Action) -> &'static str {
    match a {
        Action::HoldExpansion => {
            "Hold expansion and solenoid valve open by the maker's means (magnet or service \
             function), the compressor staying locked out."
        }
        Action::ReleaseExpansion => "Let expansion and solenoid valve shut again.",
        Action::Lock => "Isolate the unit, lock and tag the breaker and plug, prove it dead.",
        Action::Unlock => "Take off lock and tag; power on, compressor not started.",
        Action::Start => "Start the unit at full cooling.",
        Action::Stop => "Stop the compressor.",
        Action::OpenLowHand => "Open the manifold's low hand valve.",
        Action::ShutLowHand => "Shut the manifold's low hand valve.",
        Action::OpenHighHand => "Open the manifold's high hand valve.",
        Action::ShutHighHand => "Shut the manifold's high hand valve.",
        Action::FitLowHose => {
            "Fit the low hose on the suction valve's gauge port, the stem being fully out."
        }
        Action::RemoveLowHose => "Take the low hose off; cap the port and put the stem cap on.",
        Action::HighHose(HighPlace::Discharge) => {
            "Fit the high hose on the discharge valve's gauge port, the stem being fully out."
        }
        Action::HighHose(HighPlace::King) => {
            "Fit the high hose on the king valve's gauge port, the stem being fully out."
        }
        Action::HighHose(HighPlace::Off) => {
            "Take the high hose off; cap the port and put the stem cap on."
        }
        Action::FitPump => {
            "Fit the vacuum pump and the vacuum gauge to the manifold's centre, pump valve shut."
        }
        Action::RemovePump => "Take vacuum pump and gauge off the manifold.",
        Action::FitRecovery => {
            "Fit the recovery unit with its cylinder (on a scale) to the centre, inlet shut."
        }
        Action::RemoveRecovery => "Shut the recovery cylinder; take the recovery unit off.",
        Action::Supply(Supply::Nitrogen) => {
            "Fit dry oxygen-free nitrogen through its regulator to the centre, regulator shut."
        }
        Action::Supply(Supply::Cylinder) => {
            "Fit the charging cylinder, on its scale, to the centre, cylinder valve shut."
        }
        Action::Supply(Supply::None) => "Shut the cylinder and take its hose off the centre.",
        _ => "",
    }
}

const fn work(a: Action) -> &'static str {
    match a {
        Action::Evacuate => {
            "Open the pump's valve, evacuate what is open to the centre, then shut the valve and \
             stop the pump."
        }
        Action::Hold => {
            "Pump valve shut: watch the vacuum gauge, note the readings, and judge the hold."
        }
        Action::Recover => {
            "Recover what is open to the centre; wait, and again if it rises; note the weight; \
             shut the inlet."
        }
        Action::BreakWithNitrogen => {
            "Let nitrogen in slowly to a little above the atmosphere; shut the regulator."
        }
        Action::TestWithNitrogen => {
            "Let nitrogen in by steps to the test pressure; shut the regulator; find leaks with \
             bubbles; watch the gauge."
        }
        Action::VentNitrogen => "Let the nitrogen out slowly, to a little above the atmosphere.",
        Action::WeighIn => {
            "Zero the scale. Open the cylinder for liquid and let the charge in by weight at the \
             king valve; shut the cylinder."
        }
        Action::EmptyHoses => {
            "Leave the high hand valve open and warm the hoses by hand until they hold no more \
             liquid; note what stays in them."
        }
        Action::PullDown => {
            "Watch the suction gauge fall and be ready to stop; watch the head pressure too."
        }
        Action::WatchRise => {
            "Watch the low gauge: a slow rise is refrigerant boiling out of oil (pump down \
             again, two or three times), a quick one a valve that lets by (stop and say so)."
        }
        Action::OpenJoint => {
            "Open the joint slowly; cap what stays open. Stop if anything blows or sucks."
        }
        Action::FitPart => {
            "Fit the part and a new drier, new gaskets; close. Brazing: nitrogen flowing through \
             the joint, hot-work permit."
        }
        Action::RunCheck => {
            "Run at full cooling until steady, read both gauges and the temperatures, check the \
             joint with a detector."
        }
        _ => "",
    }
}

const PRESSURE: &str = "Gloves and goggles: liquid refrigerant burns with cold, a hose can whip.";
const AIR: &str = "Ventilate, oxygen meter on in closed spaces: refrigerant and nitrogen gather \
                   low and choke.";
const ELECTRIC: &str = "440 V: lock and tag at the breaker, prove it dead, wait for capacitors.";

/// What to be told before taking the step; `circuit`: it reaches beyond the hoses.
#[must_use]
pub const fn cautions(a: Action, circuit: bool) -> &'static [&'static str] {
    match a {
        Action::Evacuate if !circuit => &[],
        Action::FitLowHose | Action::RemoveLowHose | Action::HighHose(_) => &[PRESSURE],
        Action::Lock => &[ELECTRIC],
        Action::Unlock | Action::Start => {
            &["Terminal cover on, nobody at fans or coil. A tripped breaker may mean a winding to \
             earth: do not reset it without a test (never in vacuum)."]
        }
        Action::King(Seat::Front) => {
            &["Liquid must not be shut in: pump down or keep the line open to one side."]
        }
        Action::PullDown => {
            &["Never into vacuum, and never with the discharge valve shut. Stop at once if the \
             head pressure climbs."]
        }
        Action::Recover => &[
            PRESSURE,
            AIR,
            "Cylinder for this gas only, in test date, never beyond its limit by mass: a full \
             one bursts on a hot deck.",
        ],
        Action::Evacuate | Action::Hold => &[
            "No power to the compressor and no insulation test in vacuum.",
            "A cold coil hides ice: warm it to 10 °C or more first.",
        ],
        Action::BreakWithNitrogen | Action::VentNitrogen | Action::Supply(Supply::Nitrogen) => {
            &[AIR, "Regulator always; never oxygen, never compressed air: oil explodes in them."]
        }
        Action::TestWithNitrogen => &[
            "Never oxygen, never compressed air: oil explodes in them.",
            "Not above the pressure on the plate (low side has its own); relief device fitted; \
             nobody in front of caps and sight glasses; instruments not rated for it off.",
            AIR,
        ],
        Action::OpenJoint => &[
            ELECTRIC,
            PRESSURE,
            AIR,
            "Both sides of the joint at atmospheric pressure? Read it, do not believe it.",
        ],
        Action::FitPart => {
            &["Brazing: hot-work permit, fire watch, no refrigerant left (it turns poisonous in \
             the flame), nothing closed that can build pressure."]
        }
        Action::Supply(Supply::Cylinder) => {
            &["Certificate and pressure of the cylinder first: counterfeit gas has killed. A \
             match of pressure and temperature is no proof of identity."]
        }
        Action::WeighIn => &[
            PRESSURE,
            "Blends as liquid only. Liquid never into the suction. Cylinder below 45 °C, no \
             flame to warm it.",
        ],
        _ => &[],
    }
}
