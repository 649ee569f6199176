//! Steps that move gas: evacuate, recover, nitrogen, charge, pump down, open.

use crate::flow::{
    component, contents, expose, is_empty, is_foreign, is_refrigerant, members, pulled_down,
    reads_head, reads_high, reads_low,
};
use crate::hazard::Hazard;
use crate::plant::{CIRCUIT, Content, HighPlace, Joint, Power, Seat, Supply, Volume};
use crate::step::{Impossible, Work, need};

impl Work<'_> {
    /// What is open to the manifold's centre, with its contents.
    pub(crate) fn centre(&self) -> (u8, u16) {
        let set = component(&self.s, self.rules, Volume::Centre);
        (set, contents(&self.s, set))
    }

    /// The compressor's own valves are no shut-off against the charge behind them.
    pub(crate) fn behind_reeds(&self, set: u8) -> bool {
        let charged =
            !is_empty(self.s.of(Volume::HighSide)) && !is_foreign(self.s.of(Volume::HighSide));
        set & Volume::Compressor.bit() != 0
            && set & Volume::HighSide.bit() == 0
            && charged
            && self.s.discharge != Seat::Front
    }

    pub(crate) fn joint_in(&self, set: u8) -> bool {
        let side = Volume::LiquidLine.bit() | Volume::Evaporator.bit();
        self.s.joint == Joint::Open && set & side != 0
    }

    pub(crate) fn any(&self, set: u8, is: impl Fn(Content) -> bool) -> bool {
        members(set).any(|v| is(self.s.of(v)))
    }

    pub(crate) fn fill(&mut self, set: u8, c: Content) {
        for v in members(set) {
            self.s = self.s.with(v, c);
        }
    }

    /// What is done to one volume of the circuit is done to all that stand alike.
    pub(crate) fn whole(&self, set: u8, alike: impl Fn(Content) -> bool) -> Result<(), Impossible> {
        let left = self.any(CIRCUIT & !set, alike);
        need(!left, "open the valves between first: part of the circuit would be left out")
    }

    pub(crate) fn evacuate(&mut self) -> Result<(), Impossible> {
        need(self.s.pump, "no vacuum pump on the manifold")?;
        let (set, all) = self.centre();
        let charge = self.any(set, |c| is_refrigerant(c) || c == Content::Mixture);
        self.found.add_if(charge || self.behind_reeds(set), Hazard::PumpOnCharge);
        let test = Content::NitrogenPressure.bit();
        self.found.add_if(all & test != 0, Hazard::PumpOnPressure);
        self.found.add_if(self.joint_in(set), Hazard::AirDrawnIn);
        if set & CIRCUIT != 0 {
            self.whole(set, |c| is_foreign(c) || c == Content::Recovered)?;
        }
        let done = Content::Vacuum.bit() | Content::VacuumHeld.bit();
        if all & !done != 0 {
            self.fill(set, Content::Vacuum);
        }
        self.effort = if set & CIRCUIT != 0 { 30 } else { 3 };
        Ok(())
    }

    pub(crate) fn hold(&mut self) -> Result<(), Impossible> {
        need(self.s.pump, "no vacuum gauge on the manifold")?;
        let (set, all) = self.centre();
        need(set & CIRCUIT != 0, "nothing of the circuit is open to the vacuum gauge")?;
        let vacuum = Content::Vacuum.bit() | Content::VacuumHeld.bit();
        need(all & !vacuum == 0, "there is no vacuum to watch")?;
        self.whole(set, |c| c == Content::Vacuum)?;
        self.fill(set & CIRCUIT, Content::VacuumHeld);
        self.effort = 20;
        Ok(())
    }

    pub(crate) fn recover(&mut self) -> Result<(), Impossible> {
        need(self.s.recovery, "no recovery unit on the manifold")?;
        let (mut set, _) = self.centre();
        if set & Volume::HighSide.bit() != 0 && self.s.discharge != Seat::Front {
            // Gas passes the standing compressor forward and is drawn off with the rest.
            set |= component(&self.s, self.rules, Volume::Compressor);
        }
        let foreign = self.any(set, |c| is_foreign(c) || c == Content::Mixture);
        self.found.add_if(foreign, Hazard::ForeignGasRecovered);
        let circuit = set & CIRCUIT != 0;
        if circuit {
            let low = |c| is_refrigerant(c) || c == Content::Recovered;
            self.whole(set | Volume::HighSide.bit(), low)?;
        }
        let whole = set & Volume::HighSide.bit() != 0
            && self.s.of(Volume::HighSide) == Content::Refrigerant;
        let full = self.any(set & CIRCUIT, |c| c == Content::Refrigerant);
        self.found.add_if(whole && !self.rules.cylinder_room, Hazard::CylinderOverfilled);
        let running = self.s.power == Power::Running;
        self.found.add_if(circuit && running, Hazard::RunIntoVacuum);
        if self.any(set, |c| !matches!(c, Content::Vacuum | Content::VacuumHeld)) {
            self.fill(set, Content::Recovered);
            self.s.weighed &= !whole;
            self.s.checked &= !circuit;
        }
        self.effort = match (circuit, full, whole) {
            (false, ..) => 3,
            (true, false, _) => 6,
            (true, true, false) => 25,
            (true, true, true) => 40,
        };
        Ok(())
    }

    /// Guards of both ways to let nitrogen in.
    pub(crate) fn nitrogen(&mut self) -> Result<u8, Impossible> {
        need(self.s.supply == Supply::Nitrogen, "no nitrogen on the manifold")?;
        let (set, _) = self.centre();
        need(!self.joint_in(set), "the joint is open")?;
        let charge = self.any(set, |c| is_refrigerant(c) || c == Content::Mixture);
        self.found.add_if(charge || self.behind_reeds(set), Hazard::NitrogenIntoRefrigerant);
        Ok(set)
    }

    pub(crate) fn break_with_nitrogen(&mut self) -> Result<(), Impossible> {
        let set = self.nitrogen()?;
        let test = |c| c == Content::NitrogenPressure;
        need(!self.any(set, test), "it stands under nitrogen already")?;
        if set & CIRCUIT != 0 {
            self.whole(set, is_empty)?;
        }
        let airy = self.any(set, |c| c == Content::Air);
        self.fill(set, if airy { Content::Air } else { Content::NitrogenLow });
        self.effort = 2;
        Ok(())
    }

    pub(crate) fn test_with_nitrogen(&mut self) -> Result<(), Impossible> {
        let set = self.nitrogen()?;
        need(set & CIRCUIT != 0, "nothing of the circuit is open to the nitrogen")?;
        self.whole(set, |c| is_empty(c) || is_foreign(c))?;
        let charge = self.any(CIRCUIT, |c| is_refrigerant(c) || c == Content::Mixture);
        let barred = charge && !self.rules.test_with_charge_held;
        self.found.add_if(barred, Hazard::TestWithChargeIn);
        self.fill(set, Content::NitrogenPressure);
        let side = Volume::LiquidLine.bit() | Volume::Evaporator.bit();
        let whole = set & CIRCUIT == CIRCUIT;
        self.s.tested |= whole || (charge && set & side == side);
        self.effort = 30;
        Ok(())
    }

    pub(crate) fn vent_nitrogen(&mut self) -> Result<(), Impossible> {
        need(self.s.supply == Supply::Nitrogen, "no nitrogen regulator on the manifold")?;
        let (set, all) = self.centre();
        need(all & Content::NitrogenPressure.bit() != 0, "there is no nitrogen to let out")?;
        let charge = self.any(set, |c| is_refrigerant(c) || c == Content::Mixture);
        self.found.add_if(charge, Hazard::Release);
        self.fill(set, Content::NitrogenLow);
        self.effort = 2;
        Ok(())
    }

    pub(crate) fn weigh_in(&mut self) -> Result<(), Impossible> {
        need(self.s.supply == Supply::Cylinder, "no charging cylinder on the manifold")?;
        let (set, _) = self.centre();
        let into = Volume::HighSide.bit();
        need(set & into != 0, "the receiver is not open to the charging hose")?;
        let unknown = self.s.of(Volume::HighSide) == Content::Refrigerant;
        need(!unknown, "how much is in the unit is not known; recover and weigh it first")?;
        let left = self.any(CIRCUIT & !set, |c| is_refrigerant(c) || c == Content::Recovered);
        need(!left, "refrigerant is left elsewhere in the unit; recover it first")?;
        self.found.add_if(self.any(set, is_foreign), Hazard::UnpurgedHose);
        let proved = self.s.of(Volume::HighSide) == Content::VacuumHeld;
        self.found.add_if(!proved, Hazard::UnprovenVacuum);
        let suction = Volume::Compressor.bit() | Volume::Evaporator.bit();
        let wrong = set & suction != 0 || self.s.high_hose == HighPlace::Discharge;
        self.found.add_if(wrong, Hazard::LiquidIntoCompressor);
        self.found.add_if(self.s.power == Power::Running, Hazard::BackIntoCylinder);
        self.found.add_if(self.s.joint == Joint::Open, Hazard::Release);
        self.s = self.s.with(Volume::Centre, Content::Liquid);
        self.s.weighed = true;
        self.s.checked = false;
        self.effort = 20;
        Ok(())
    }

    pub(crate) fn empty_hoses(&mut self) -> Result<(), Impossible> {
        let (set, all) = self.centre();
        need(all & Content::Liquid.bit() != 0, "there is no liquid in the hoses")?;
        let into = set & Volume::HighSide.bit() != 0;
        need(into, "the hoses are not open to the high side")?;
        need(self.s.power != Power::Running, "stop the compressor: the high side pushes back")?;
        self.fill(set & !CIRCUIT, Content::Refrigerant);
        self.effort = 5;
        Ok(())
    }

    pub(crate) fn pull_down(&mut self) -> Result<(), Impossible> {
        need(self.s.power == Power::Running, "the compressor stands")?;
        need(self.s.king == Seat::Front, "the king valve is open")?;
        let blind = !reads_low(&self.s) || !reads_head(&self.s, self.rules);
        self.found.add_if(blind, Hazard::BlindPumpDown);
        self.found.add_if(!self.rules.receiver_room, Hazard::ReceiverOverfull);
        self.found.add_if(pulled_down(&self.s), Hazard::RunIntoVacuum);
        let low = [Volume::Compressor, Volume::Evaporator, Volume::LiquidLine];
        let set = low.iter().map(|v| component(&self.s, self.rules, *v)).fold(0, |a, b| a | b);
        need(set & Volume::HighSide.bit() == 0, "the low side is open to the high side")?;
        self.fill(set, Content::RefrigerantLow);
        self.s.checked = false;
        self.effort = 5;
        Ok(())
    }

    pub(crate) fn watch_rise(&mut self) -> Result<(), Impossible> {
        need(self.s.power != Power::Running, "the compressor runs")?;
        need(self.s.king == Seat::Front && reads_low(&self.s), "the low gauge shows nothing")?;
        let low = self.s.of(Volume::Evaporator) == Content::RefrigerantLow;
        need(low, "the low side is not at the stop of a pump-down")?;
        self.s.settled = true;
        self.effort = 10;
        Ok(())
    }

    pub(crate) fn open_joint(&mut self) -> Result<(), Impossible> {
        need(self.s.joint != Joint::Open, "the joint is open already")?;
        let king = self.s.king == Seat::Front;
        need(king, "shut the king valve first: only the part's side is to be opened")?;
        let rest = Volume::HighSide.bit() | Volume::Compressor.bit();
        let drawn = self.any(rest, is_empty);
        need(!drawn, "break the rest of the circuit with nitrogen too: a valve seat lets air by")?;
        let set = component(&self.s, self.rules, Volume::LiquidLine)
            | component(&self.s, self.rules, Volume::Evaporator);
        self.found.add_if(set & Volume::Compressor.bit() != 0, Hazard::OilOpenToAir);
        let (found, lost) = expose(&mut self.s, set);
        self.found = self.found.with(found);
        self.lost_g += lost;
        self.s.joint = Joint::Open;
        self.s.tested = false;
        self.s.checked = false;
        Ok(())
    }

    pub(crate) fn fit_part(&mut self) -> Result<(), Impossible> {
        need(self.s.joint == Joint::Open, "the joint is closed")?;
        self.s.joint = Joint::Fitted;
        self.effort = 45;
        Ok(())
    }

    pub(crate) fn run_check(&mut self) -> Result<(), Impossible> {
        need(self.s.power == Power::Running, "the compressor stands")?;
        need(self.s.king != Seat::Front, "the king valve is shut")?;
        need(reads_low(&self.s) && reads_high(&self.s), "the gauges do not show both sides")?;
        need(!self.s.low_hand && !self.s.high_hand, "a hand valve is open")?;
        self.s.checked = true;
        self.effort = 20;
        Ok(())
    }
}
