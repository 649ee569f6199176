//! A lower bound on what is still to be done, so that the search looks where the goal lies.
//!
//! Each part is the effort of one step that no path to the goal can do without; the tests hold it
//! against the true cost of every state that can be reached.

use crate::flow::{is_empty, is_foreign, is_refrigerant};
use crate::goal::Goal;
use crate::plant::{Content, HighPlace, Joint, Power, Rules, Seat, State, Supply, Volume};

/// Effort that is certainly still needed.
#[must_use]
pub fn at_least(goal: Goal, s: &State, rules: &Rules) -> u32 {
    match goal {
        Goal::LowSideOpen if s.joint != Joint::Open => 1 + opening(s),
        Goal::PartFitted => fitting(s),
        Goal::NitrogenTested => testing(s, s.tested, rules),
        Goal::EvacuatedHeld => evacuating(s.of(Volume::LiquidLine)),
        Goal::Charged => charging(s),
        Goal::RunningChecked => running(s),
        Goal::BackInService => tidy(s, running(s)),
        Goal::Repair => tidy(s, repair(s, rules)),
        _ => 0,
    }
}

/// Up to an open joint: the side emptied and broken with nitrogen, the unit locked out.
fn opening(s: &State) -> u32 {
    let c = s.of(Volume::LiquidLine);
    let empty = if is_refrigerant(c) {
        6 + 1
    } else if is_empty(c) || c == Content::NitrogenPressure {
        1
    } else {
        0
    };
    empty + locking(s)
}

fn locking(s: &State) -> u32 {
    match s.power {
        Power::Locked => 0,
        Power::Standby => 1,
        Power::Running => 2,
    }
}

fn fitting(s: &State) -> u32 {
    match s.joint {
        Joint::Fitted => 0,
        Joint::Open => 45,
        Joint::Sound => 46 + opening(s),
    }
}

fn testing(s: &State, tested: bool, rules: &Rules) -> u32 {
    let under = s.content.contains(&Content::NitrogenPressure);
    if tested {
        return if under { 2 } else { 0 };
    }
    let charge = is_refrigerant(s.of(Volume::HighSide)) && !rules.test_with_charge_held;
    32 + if charge { 6 } else { 0 }
}

fn evacuating(c: Content) -> u32 {
    match c {
        Content::VacuumHeld => 0,
        Content::Vacuum => 20,
        c if is_refrigerant(c) => 56,
        _ => 50,
    }
}

fn charging(s: &State) -> u32 {
    if s.weighed {
        return if s.content.contains(&Content::Liquid) { 5 } else { 0 };
    }
    25 + evacuating(s.of(Volume::HighSide))
}

fn running(s: &State) -> u32 {
    let start = match s.power {
        Power::Running => 0,
        Power::Standby => 1,
        Power::Locked => 2,
    };
    start + if s.checked { 0 } else { 20 }
}

fn repair(s: &State, rules: &Rules) -> u32 {
    let c = s.of(Volume::LiquidLine);
    let done = s.joint == Joint::Fitted;
    let tested = done && s.tested;
    let mut sum = fitting(s);
    let test = 32;
    sum += if tested { testing(s, true, rules) } else { test };
    sum += match c {
        Content::Vacuum if done => 20,
        c if !done || is_foreign(c) => 50,
        _ => 0,
    };
    if !done {
        // Locked for the joint, then live again and started; checked afterwards.
        sum += 2 + 20;
    } else {
        sum += running(s);
    }
    sum + recharging(s, tested, rules)
}

/// The charge out and in again, where the test or the state of the high side asks for it, with
/// the machines for both.
fn recharging(s: &State, tested: bool, rules: &Rules) -> u32 {
    let one = |needed: bool| if needed { 1 } else { 0 };
    let high = s.of(Volume::HighSide);
    let counted = s.joint == Joint::Sound && is_refrigerant(s.of(Volume::LiquidLine));
    let all_out = !tested && !rules.test_with_charge_held;
    let weigh = all_out || !(is_refrigerant(high) || high == Content::Recovered);
    let recover = all_out && high == Content::Refrigerant;
    let mut sum = if weigh { 25 } else { 0 };
    if recover {
        sum += 40 - if counted { 6 } else { 0 };
    }
    sum += 2 * one((recover || counted) && !s.recovery);
    let nitrogen = !tested && s.supply != Supply::Nitrogen;
    let cylinder = weigh && (!tested || s.supply != Supply::Cylinder);
    let taken_off = s.supply == Supply::None && (!tested || weigh);
    sum + one(nitrogen) + one(cylinder) + one(taken_off)
}

/// What hangs on the unit comes off at the end; what is still to be done needs gauges first.
fn tidy(s: &State, before: u32) -> u32 {
    let on = |fitted: bool| if fitted { 1 } else { 0 };
    let still = before >= 20;
    let pair = |fitted: bool| match (fitted, still) {
        (true, _) => 1,
        (false, true) => 2,
        (false, false) => 0,
    };
    let back = |seat: Seat| on(seat != Seat::Back);
    // The check wants both gauges to show; with them the pump that clears the hoses.
    before
        + pair(s.low_hose)
        + pair(s.high_hose != HighPlace::Off)
        + pair(s.pump)
        + on(s.recovery)
        + on(s.supply != Supply::None)
        + back(s.king)
        + back(s.suction)
        + back(s.discharge)
        + on(s.low_hand)
        + on(s.high_hand)
}
