//! One step on the plant: what the plant is like afterwards and what it brought about.

use crate::action::Action;
use crate::flow::{component, contents, expose, pulled_down, settle, standing};
use crate::hazard::{Hazard, Hazards};
use crate::plant::{CIRCUIT, Content, HighPlace, Joint, Power, Rules, Seat, State, Supply, Volume};

/// What a step did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Outcome {
    /// The plant afterwards. After a hazard it is only a guess.
    pub after: State,
    /// What the step brought about; none for a safe step.
    pub hazards: Hazards,
    /// Trouble of the step, about its minutes: 1 for a hand movement. Estimates.
    pub effort: u32,
    /// Refrigerant lost to the air, g.
    pub lost_g: u32,
}

impl Outcome {
    /// What the planner minimises: effort, and dearly each gram lost.
    #[must_use]
    pub const fn cost(&self) -> u32 {
        self.effort + GRAM_COST * self.lost_g
    }
}

/// Minutes that a gram of refrigerant lost is worth. A choice.
pub const GRAM_COST: u32 = 20;
/// What a step costs that leaves a danger standing: dangers are dealt with first.
const DANGER_COST: u32 = 50;

/// Why a step cannot be taken at all (as opposed to: must not).
pub type Impossible = &'static str;

/// Takes a step.
///
/// # Errors
/// Why it cannot be done in this state.
pub fn apply(s: &State, action: Action, rules: &Rules) -> Result<Outcome, Impossible> {
    Here::new(s, rules).apply(action)
}

/// A state with what every step from it needs to know.
pub struct Here<'a> {
    s: State,
    rules: &'a Rules,
    standing: Hazards,
    unfinished: Option<Impossible>,
}

impl<'a> Here<'a> {
    /// Looks at a state once.
    #[must_use]
    pub fn new(s: &State, rules: &'a Rules) -> Self {
        let unfinished = unfinished(s, rules);
        Self { s: *s, rules, standing: standing(s, rules), unfinished }
    }

    /// Takes a step from here.
    ///
    /// # Errors
    /// Why it cannot be done in this state.
    pub fn apply(&self, action: Action) -> Result<Outcome, Impossible> {
        match self.unfinished {
            Some(why) if !finishes(&self.s, action) => Err(why),
            _ => take(&self.s, self.standing, action, self.rules),
        }
    }
}

fn take(s: &State, before: Hazards, action: Action, rules: &Rules) -> Result<Outcome, Impossible> {
    let mut work = Work { s: *s, rules, found: Hazards::NONE, lost_g: 0, effort: 1 };
    work.act(action)?;
    let mixed = settle(&mut work.s, rules);
    let after = standing(&work.s, rules);
    let mut found = work.found.with(mixed).with(after.without(before));
    // Every step takes time: a pump-down left running at its stop goes on into vacuum.
    let stays = pulled_down(s) && pulled_down(&work.s);
    let starts = action == Action::Start && pulled_down(&work.s);
    found.add_if(stays || starts, Hazard::RunIntoVacuum);
    if rules.gas_suspect && touches_gas(action) {
        found.add(Hazard::SuspectGas);
    }
    let low = [Volume::LiquidLine, Volume::Evaporator, Volume::Compressor];
    let still = low.iter().all(|v| work.s.of(*v) == Content::RefrigerantLow);
    work.s.settled &= still;
    if !after.is_empty() {
        work.effort += DANGER_COST;
    }
    Ok(Outcome { after: work.s, hazards: found, effort: work.effort, lost_g: work.lost_g })
}

fn touches_gas(action: Action) -> bool {
    matches!(
        action,
        Action::OpenJoint | Action::Start | Action::Recover | Action::WeighIn | Action::PullDown
    )
}

/// Some states want to be finished before anything else is moved.
fn unfinished(s: &State, rules: &Rules) -> Option<Impossible> {
    if s.joint == Joint::Open {
        return Some("the joint is open: fit the part before anything is moved");
    }
    let set = component(s, rules, Volume::Centre);
    let all = contents(s, set);
    let test = all & Content::NitrogenPressure.bit() != 0;
    if test && s.supply == Supply::Nitrogen {
        return Some("it stands under test pressure: let the nitrogen out first");
    }
    let unproved = contents(s, set & CIRCUIT) & Content::Vacuum.bit() != 0;
    // Where more of the circuit stands in vacuum, valves must be opened to watch all of it.
    let elsewhere = contents(s, CIRCUIT & !set) & Content::Vacuum.bit() != 0;
    (unproved && s.pump && !elsewhere).then_some("watch the vacuum before anything is moved")
}

fn finishes(s: &State, action: Action) -> bool {
    let machine =
        matches!(action, Action::FitRecovery | Action::RemoveRecovery | Action::Supply(_));
    let ends =
        matches!(action, Action::Evacuate | Action::Hold | Action::VentNitrogen | Action::FitPart);
    ends || (machine && s.joint == Joint::Open)
}

/// A step being taken.
pub(crate) struct Work<'a> {
    pub(crate) s: State,
    pub(crate) rules: &'a Rules,
    pub(crate) found: Hazards,
    pub(crate) lost_g: u32,
    pub(crate) effort: u32,
}

/// What must hold for a step to be possible.
pub(crate) fn need(holds: bool, why: Impossible) -> Result<(), Impossible> {
    if holds { Ok(()) } else { Err(why) }
}

impl Work<'_> {
    fn act(&mut self, action: Action) -> Result<(), Impossible> {
        match action {
            Action::Suction(to) => {
                self.gauges_first()?;
                self.front_locked(to)?;
                turn(self.s.suction, to, self.s.low_hose)?;
                self.s.suction = to;
            }
            Action::Discharge(to) => {
                self.gauges_first()?;
                self.front_locked(to)?;
                turn(self.s.discharge, to, self.s.high_hose == HighPlace::Discharge)?;
                self.s.discharge = to;
            }
            Action::King(to) => {
                self.gauges_first()?;
                turn(self.s.king, to, self.s.high_hose == HighPlace::King)?;
                self.s.king = to;
            }
            Action::HoldExpansion | Action::ReleaseExpansion => {
                self.hold_expansion(action == Action::HoldExpansion)?;
            }
            Action::Lock | Action::Unlock | Action::Start | Action::Stop => self.power(action)?,
            Action::OpenLowHand | Action::ShutLowHand => {
                self.low_hand(action == Action::OpenLowHand)?;
            }
            Action::OpenHighHand | Action::ShutHighHand => {
                self.high_hand(action == Action::OpenHighHand)?;
            }
            Action::FitLowHose | Action::RemoveLowHose => {
                self.low_hose(action == Action::FitLowHose)?;
            }
            Action::HighHose(place) => self.high_hose(place)?,
            Action::FitPump | Action::RemovePump => self.pump(action == Action::FitPump)?,
            Action::FitRecovery | Action::RemoveRecovery => {
                self.recovery(action == Action::FitRecovery)?;
            }
            Action::Supply(what) => self.supply(what)?,
            Action::Evacuate => self.evacuate()?,
            Action::Hold => self.hold()?,
            Action::Recover => self.recover()?,
            Action::BreakWithNitrogen => self.break_with_nitrogen()?,
            Action::TestWithNitrogen => self.test_with_nitrogen()?,
            Action::VentNitrogen => self.vent_nitrogen()?,
            Action::WeighIn => self.weigh_in()?,
            Action::EmptyHoses => self.empty_hoses()?,
            Action::PullDown => self.pull_down()?,
            Action::WatchRise => self.watch_rise()?,
            Action::OpenJoint => self.open_joint()?,
            Action::FitPart => self.fit_part()?,
            Action::RunCheck => self.run_check()?,
        }
        Ok(())
    }

    /// A stem is turned only where the low gauge can show what it does.
    fn gauges_first(&self) -> Result<(), Impossible> {
        need(self.s.low_hose, "fit the gauges first: nothing shows what the valve does")
    }

    /// A running compressor's valves are never shut: that is a hazard, told as such. A live
    /// one's are not either.
    fn front_locked(&self, to: Seat) -> Result<(), Impossible> {
        let live = to == Seat::Front && self.s.power == Power::Standby;
        need(!live, "lock the unit out before shutting a compressor valve")
    }

    /// Machines are fitted and taken off with both hand valves shut; the pump comes first.
    fn machine(&self) -> Result<(), Impossible> {
        need(self.s.low_hose, "fit the hoses first")?;
        need(!self.s.low_hand && !self.s.high_hand, "shut both hand valves first")
    }

    fn hold_expansion(&mut self, on: bool) -> Result<(), Impossible> {
        need(self.s.expansion_held != on, "the expansion valve is so already")?;
        need(self.s.power == Power::Locked, "lock the unit out first")?;
        self.s.expansion_held = on;
        Ok(())
    }

    fn power(&mut self, action: Action) -> Result<(), Impossible> {
        let (from, to) = match action {
            Action::Lock => (Power::Standby, Power::Locked),
            Action::Unlock => (Power::Locked, Power::Standby),
            Action::Start => (Power::Standby, Power::Running),
            _ => (Power::Running, Power::Standby),
        };
        need(self.s.power == from, "the unit's power stands otherwise")?;
        let unlocks = action == Action::Unlock;
        need(!unlocks || !self.s.expansion_held, "let the expansion valve shut first")?;
        let shut = self.s.suction == Seat::Front || self.s.discharge == Seat::Front;
        need(!unlocks || !shut, "open suction and discharge valve before it is made live")?;
        self.s.power = to;
        Ok(())
    }

    fn low_hand(&mut self, open: bool) -> Result<(), Impossible> {
        need(self.s.low_hand != open, "the low hand valve is so already")?;
        need(self.s.low_hose || !open, "the low hose is on no port")?;
        need(self.s.pump || !open, "there is no vacuum pump behind it to clear the hoses")?;
        self.s.low_hand = open;
        Ok(())
    }

    fn high_hand(&mut self, open: bool) -> Result<(), Impossible> {
        need(self.s.high_hand != open, "the high hand valve is so already")?;
        let on = self.s.high_hose != HighPlace::Off;
        need(on || !open, "the high hose is on no port")?;
        need(self.s.pump || !open, "there is no vacuum pump behind it to clear the hoses")?;
        self.s.high_hand = open;
        Ok(())
    }

    /// Opens to the air what this volume is open to.
    fn open_to_air(&mut self, v: Volume) {
        let set = component(&self.s, self.rules, v);
        let (found, lost) = expose(&mut self.s, set);
        self.found = self.found.with(found);
        self.lost_g += lost;
    }

    fn low_hose(&mut self, on: bool) -> Result<(), Impossible> {
        need(self.s.low_hose != on, "the low hose is so already")?;
        need(!self.s.low_hand, "shut the low hand valve first")?;
        let last = self.s.high_hose == HighPlace::Off && !self.s.pump;
        need(on || last, "take the machines and the high hose off first")?;
        need(on || self.s.suction == Seat::Back, "shut its port first: stem fully out")?;
        self.found.add_if(on && self.s.suction != Seat::Back, Hazard::HoseUnderPressure);
        if !on {
            self.open_to_air(Volume::LowHose);
        }
        self.s.low_hose = on;
        Ok(())
    }

    fn high_hose(&mut self, place: HighPlace) -> Result<(), Impossible> {
        need(self.s.high_hose != place, "the high hose is so already")?;
        need(!self.s.high_hand, "shut the high hand valve first")?;
        need(self.s.low_hose, "fit the low hose first")?;
        if place == HighPlace::Off {
            let on_king = self.s.high_hose == HighPlace::King;
            let seat = if on_king { self.s.king } else { self.s.discharge };
            need(seat == Seat::Back, "shut its port first: stem fully out")?;
            self.open_to_air(Volume::HighHose);
        } else {
            need(self.s.high_hose == HighPlace::Off, "the high hose is on another port")?;
            let port = if place == HighPlace::King { self.s.king } else { self.s.discharge };
            self.found.add_if(port != Seat::Back, Hazard::HoseUnderPressure);
        }
        self.s.high_hose = place;
        Ok(())
    }

    fn pump(&mut self, on: bool) -> Result<(), Impossible> {
        need(self.s.pump != on, "the vacuum pump is so already")?;
        need(!on || self.rules.has_pump, "no vacuum pump at hand")?;
        self.machine()?;
        let last = !self.s.recovery && self.s.supply == Supply::None;
        need(on || last, "take the other machines off first")?;
        self.open_to_air(Volume::Centre);
        self.s.pump = on;
        Ok(())
    }

    fn recovery(&mut self, on: bool) -> Result<(), Impossible> {
        need(self.s.recovery != on, "the recovery unit is so already")?;
        need(!on || self.rules.has_recovery, "no recovery unit at hand")?;
        self.machine()?;
        need(self.s.pump, "fit the vacuum pump first, to clear the hoses")?;
        self.open_to_air(Volume::Centre);
        self.s.recovery = on;
        Ok(())
    }

    fn supply(&mut self, what: Supply) -> Result<(), Impossible> {
        need(self.s.supply != what, "the supply hose is so already")?;
        self.machine()?;
        need(self.s.pump, "fit the vacuum pump first, to clear the hoses")?;
        match what {
            Supply::None => {}
            Supply::Nitrogen => need(self.rules.has_nitrogen, "no nitrogen at hand")?,
            Supply::Cylinder => need(self.rules.has_charge, "no gas or scale at hand")?,
        }
        self.open_to_air(Volume::Centre);
        self.s.supply = what;
        Ok(())
    }
}

/// A valve with a hose on its port is turned one position at a time; a capped one has two.
fn turn(from: Seat, to: Seat, hose: bool) -> Result<(), Impossible> {
    need(from != to, "the valve stands so already")?;
    if hose {
        let jump = from != Seat::Mid && to != Seat::Mid;
        need(!jump, "turn the stem to mid first")
    } else {
        need(to != Seat::Mid, "the port is capped; mid would show nothing")
    }
}
