//! The plant as the figure takes it: names, words, hatches, and where a tap leads.

use figures::pipework::{Hatch, HighHose, Part, Pipework, Stem};
use service::plant::{HighPlace, Joint, PortSide, Power, Seat, Supply};
use service::{Action, Content, State, Stated, Volume};

/// What is inside, short enough for the drawing.
#[must_use]
pub fn inside(c: Content) -> &'static str {
    match c {
        Content::Mixture => "refrigerant with air or nitrogen in it",
        c => c.id(),
    }
}

fn hatch(c: Content) -> Hatch {
    match c {
        Content::Refrigerant => Hatch::Pressure,
        Content::Liquid => Hatch::Liquid,
        Content::RefrigerantLow => Hatch::Slight,
        Content::Recovered | Content::Vacuum | Content::VacuumHeld => Hatch::Empty,
        Content::NitrogenPressure => Hatch::Nitrogen,
        Content::NitrogenLow => Hatch::NitrogenSlight,
        Content::Air => Hatch::Air,
        Content::Mixture => Hatch::Mixed,
    }
}

fn stem(seat: Seat, side: PortSide) -> Stem {
    match (seat, side) {
        (Seat::Back, _) => Stem::Back,
        (Seat::Mid, _) => Stem::Mid,
        (Seat::Front, PortSide::Component) => Stem::FrontMachine,
        (Seat::Front, PortSide::Line) => Stem::FrontLine,
    }
}

/// Keys of the parts that can be tapped, with what a tap changes them to.
#[must_use]
pub fn tapped(key: &str, s: &State) -> Option<&'static str> {
    let turn = |seat: Seat| match seat {
        Seat::Back => "mid",
        Seat::Mid => "front-seated",
        Seat::Front => "back-seated",
    };
    let pick = |on: bool, a, b| if on { b } else { a };
    Some(match key {
        "suction_valve" => turn(s.suction),
        "discharge_valve" => turn(s.discharge),
        "king_valve" => turn(s.king),
        "expansion_valve" => pick(s.expansion_held, "held open", "controlled"),
        "low_hand_valve" => pick(s.low_hand, "open", "shut"),
        "high_hand_valve" => pick(s.high_hand, "open", "shut"),
        "low_hose" => pick(s.low_hose, "on suction port", "off"),
        "high_hose" => match s.high_hose {
            HighPlace::Off => "on discharge port",
            HighPlace::Discharge => "on king port",
            HighPlace::King => "off",
        },
        "vacuum_pump" => pick(s.pump, "fitted", "off"),
        "recovery_unit" => pick(s.recovery, "fitted", "off"),
        "supply" => match s.supply {
            Supply::None => "nitrogen",
            Supply::Nitrogen => "charging cylinder",
            Supply::Cylinder => "none",
        },
        "power" => match s.power {
            Power::Running => "standby",
            Power::Standby => "locked out",
            Power::Locked => "running",
        },
        "joint" => match s.joint {
            Joint::Sound => "open",
            Joint::Open => "fitted",
            Joint::Fitted => "sound",
        },
        _ => return None,
    })
}

/// The key that a step changes, to mark it on the drawing; a volume's for a step of the machines.
#[must_use]
pub fn key_of(action: Action) -> &'static str {
    match action {
        Action::Suction(_) => "suction_valve",
        Action::Discharge(_) => "discharge_valve",
        Action::King(_) => "king_valve",
        Action::HoldExpansion | Action::ReleaseExpansion => "expansion_valve",
        Action::Lock | Action::Unlock | Action::Start | Action::Stop | Action::RunCheck => "power",
        Action::OpenLowHand | Action::ShutLowHand => "low_hand_valve",
        Action::OpenHighHand | Action::ShutHighHand => "high_hand_valve",
        Action::FitLowHose | Action::RemoveLowHose => "low_hose",
        Action::HighHose(_) => "high_hose",
        Action::FitPump | Action::RemovePump | Action::Evacuate | Action::Hold => "vacuum_pump",
        Action::FitRecovery | Action::RemoveRecovery | Action::Recover => "recovery_unit",
        Action::Supply(_)
        | Action::BreakWithNitrogen
        | Action::TestWithNitrogen
        | Action::VentNitrogen
        | Action::WeighIn => "supply",
        Action::EmptyHoses => "high_hand_valve",
        Action::PullDown | Action::WatchRise => "c.evaporator",
        Action::OpenJoint | Action::FitPart => "joint",
    }
}

/// What a person sees of the power.
#[must_use]
pub fn power_words(p: Power) -> &'static str {
    match p {
        Power::Running => "unit running",
        Power::Standby => "live, stopped",
        Power::Locked => "locked out",
    }
}

fn expansion_words(s: &State) -> &'static str {
    match (s.expansion_held, s.power) {
        (true, _) => "held open",
        (false, Power::Running) => "controlled, open",
        _ => "shut",
    }
}

fn supply_words(s: Supply) -> &'static str {
    match s {
        Supply::None => "none fitted",
        Supply::Nitrogen => "nitrogen",
        Supply::Cylinder => "charging cylinder",
    }
}

fn joint_words(j: Joint) -> &'static str {
    match j {
        Joint::Sound => "shut, as found",
        Joint::Open => "OPEN to the air",
        Joint::Fitted => "shut, part and drier fitted",
    }
}

/// The drawing of a plant. `known`: for a volume, whether all fillings agree on it. `href`: where
/// a tap on a key or a volume leads. `marked`: the key the next step is about.
#[must_use]
pub fn drawn(
    stated: &Stated,
    known: &dyn Fn(Volume) -> bool,
    href: &dyn Fn(&str) -> Option<String>,
    marked: &str,
) -> Pipework {
    let (s, r) = (&stated.state, &stated.rules);
    let part = |key: &str, name: &str, words: &str| Part {
        name: name.to_owned(),
        words: words.to_owned(),
        href: href(key),
        marked: key == marked,
    };
    // A hose is a place and a volume: what is inside has keys of its own.
    let volume = |v: Volume| {
        let key = format!("c.{}", v.id());
        if known(v) {
            (part(&key, v.words(), inside(s.of(v))), hatch(s.of(v)))
        } else {
            (part(&key, v.words(), "not known"), Hatch::Unknown)
        }
    };
    let two = |open: bool| if open { Stem::Open } else { Stem::Shut };
    let word = |open: bool| if open { "open" } else { "shut" };
    let expansion = expansion_words(s);
    let on = |fitted: bool| if fitted { "fitted" } else { "none fitted" };
    let place = match s.high_hose {
        HighPlace::Off => ("off", HighHose::Off),
        HighPlace::Discharge => ("on discharge port", HighHose::Discharge),
        HighPlace::King => ("on king port", HighHose::King),
    };
    let low = if s.low_hose { "on suction port" } else { "off" };
    use Volume::{Centre, Compressor, Evaporator, HighHose as H, HighSide, LiquidLine, LowHose};
    Pipework {
        volumes: [Evaporator, Compressor, HighSide, LiquidLine, LowHose, Centre, H].map(volume),
        valves: [
            (
                part("suction_valve", "suction valve", s.suction.id()),
                stem(s.suction, r.suction_port),
            ),
            (
                part("discharge_valve", "discharge valve", s.discharge.id()),
                stem(s.discharge, r.discharge_port),
            ),
            (part("king_valve", "king valve", s.king.id()), stem(s.king, r.king_port)),
            (part("expansion_valve", "expansion valve", expansion), two(s.expansion_open())),
            (part("low_hand_valve", "low hand", word(s.low_hand)), two(s.low_hand)),
            (part("high_hand_valve", "high hand", word(s.high_hand)), two(s.high_hand)),
        ],
        low_hose: s.low_hose,
        high_hose: place.1,
        machines: [
            (part("vacuum_pump", "vacuum pump", on(s.pump)), s.pump),
            (part("recovery_unit", "recovery unit", on(s.recovery)), s.recovery),
            (part("supply", "supply hose", supply_words(s.supply)), s.supply != Supply::None),
        ],
        others: [
            part("power", "power", power_words(s.power)),
            part("joint", "joint of the part", joint_words(s.joint)),
            part("low_hose", "low hose is", low),
            part("high_hose", "high hose is", place.0),
        ],
    }
}
