//! What goes wrong: which fault, when, how badly, and what it does to box and sensors.

use crate::cargo::Kind;
use crate::dice::{Dice, Purpose};
use crate::manifest::Reefer;

/// Kinds of faults.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FaultKind {
    /// Plug tripped and still off at the end; living cargo.
    PlugTripped,
    /// Refrigerant is lost slowly.
    RefrigerantLoss,
    /// The compressor stopped for good.
    CompressorFailure,
    /// Ice stays on the coil and grows.
    IcedCoil,
    /// The cargo came aboard warm; the unit is sound.
    WarmLoaded,
    /// °F ordered, the figure typed as °C.
    FahrenheitTyped,
    /// One evaporator fan is lost.
    FanLoss,
    /// The minus sign was lost at the display.
    SignLost,
    /// Plug tripped for some hours, then restored.
    PlugRestored,
    /// The supply sensor is stuck at one value.
    StuckSupply,
    /// A probe reads 999.9.
    ProbeCode,
    /// Supply and return sensors are swapped.
    SwappedSensors,
    /// A probe drifts away.
    ProbeDrift,
}

impl FaultKind {
    /// All kinds, the most telling first: few boxes get the first of them.
    pub const ALL: [Self; 13] = [
        Self::PlugTripped,
        Self::RefrigerantLoss,
        Self::CompressorFailure,
        Self::IcedCoil,
        Self::WarmLoaded,
        Self::FahrenheitTyped,
        Self::FanLoss,
        Self::SignLost,
        Self::PlugRestored,
        Self::StuckSupply,
        Self::ProbeCode,
        Self::SwappedSensors,
        Self::ProbeDrift,
    ];

    /// Word in truth/faults.csv.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::PlugTripped => "plug_tripped",
            Self::RefrigerantLoss => "refrigerant_loss",
            Self::CompressorFailure => "compressor_failure",
            Self::IcedCoil => "iced_coil",
            Self::WarmLoaded => "warm_loaded",
            Self::FahrenheitTyped => "fahrenheit_typed_as_celsius",
            Self::FanLoss => "fan_loss",
            Self::SignLost => "set_point_sign_lost",
            Self::PlugRestored => "plug_tripped_restored",
            Self::StuckSupply => "stuck_supply_sensor",
            Self::ProbeCode => "probe_code",
            Self::SwappedSensors => "swapped_supply_return",
            Self::ProbeDrift => "probe_drift",
        }
    }

    /// What people on board can see of it.
    #[must_use]
    pub fn seen_as(self) -> &'static str {
        match self {
            Self::PlugTripped => "display dark or on battery; air creeping up; no power drawn",
            Self::RefrigerantLoss => "more power and longer running; then return air creeps up",
            Self::CompressorFailure => "fans run; air climbs; alarm; power drawn falls to the fans",
            Self::IcedCoil => "return minus supply widens; defrost runs to its time limit",
            Self::WarmLoaded => "supply right; return high and falling day by day",
            Self::FahrenheitTyped => "display set point is the list's figure in °F",
            Self::FanLoss => "fan current low; return minus supply about doubled",
            Self::SignLost => "display set point without the minus sign",
            Self::PlugRestored => "some hours without power; air jumped; then pulled down again",
            Self::StuckSupply => "supply shows one figure hour after hour; return moves away",
            Self::ProbeCode => "one probe shows 999.9",
            Self::SwappedSensors => "return air shown colder than supply outside defrost",
            Self::ProbeDrift => "one probe leaves the others while the air is unchanged",
        }
    }
}

/// A fault in one box.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fault {
    /// Kind.
    pub kind: FaultKind,
    /// Hours after departure.
    pub start_h: f64,
    /// Hours after departure at which it was put right.
    pub end_h: Option<f64>,
    /// 0 to 1, by kind: share of capacity or air lost at the end of the data, …
    pub severity: f64,
    /// By kind: hours to full severity, kelvin per day, stuck value, probe number, …
    pub measure: f64,
}

/// What a fault does at one instant; all sound by default.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effects {
    /// Plug energised.
    pub powered: bool,
    /// Compressor able to run.
    pub compressor: bool,
    /// Share of cooling capacity left.
    pub capacity: f64,
    /// Share of fans left.
    pub fans: f64,
    /// Share of ice that a defrost leaves.
    pub ice_kept: f64,
    /// Frost growing faster than on a sound coil, times.
    pub frost_factor: f64,
    /// Set point at the controller where it differs from the order, °C.
    pub set_c: Option<f64>,
    /// What the supply sensor shows whatever the air does, °C.
    pub stuck_supply_c: Option<f64>,
    /// Supply and return sensors swapped.
    pub swapped: bool,
    /// The second probe reads 999.9.
    pub probe_code: bool,
    /// Error of the first probe, K.
    pub probe_drift_k: f64,
}

impl Default for Effects {
    fn default() -> Self {
        Self {
            powered: true,
            compressor: true,
            capacity: 1.0,
            fans: 1.0,
            ice_kept: 0.0,
            frost_factor: 1.0,
            set_c: None,
            stuck_supply_c: None,
            swapped: false,
            probe_code: false,
            probe_drift_k: 0.0,
        }
    }
}

impl Fault {
    /// True while the fault is there, `hours` after departure.
    #[must_use]
    pub fn live(&self, hours: f64) -> bool {
        hours >= self.start_h && self.end_h.is_none_or(|e| hours < e)
    }

    /// Its effects `hours` after departure.
    #[must_use]
    pub fn effects(&self, hours: f64) -> Effects {
        let mut e = Effects::default();
        if !self.live(hours) {
            return e;
        }
        let since_h = hours - self.start_h;
        match self.kind {
            FaultKind::PlugTripped | FaultKind::PlugRestored => e.powered = false,
            FaultKind::RefrigerantLoss => {
                let share = (since_h / self.measure.max(1.0)).min(1.25);
                e.capacity = (1.0 - self.severity * share).max(0.03);
            }
            FaultKind::CompressorFailure => e.compressor = false,
            FaultKind::IcedCoil => {
                e.ice_kept = 1.0;
                e.frost_factor = self.measure;
            }
            FaultKind::WarmLoaded => {}
            FaultKind::FanLoss => e.fans = 1.0 - self.severity,
            FaultKind::SignLost | FaultKind::FahrenheitTyped => e.set_c = Some(self.measure),
            FaultKind::StuckSupply => e.stuck_supply_c = Some(self.measure),
            FaultKind::ProbeCode => e.probe_code = true,
            FaultKind::SwappedSensors => e.swapped = true,
            FaultKind::ProbeDrift => e.probe_drift_k = self.measure * since_h / 24.0,
        }
        e
    }
}

/// How many boxes of `boxes` get a fault: about 11 %, every kind once from 60 boxes on.
#[must_use]
pub fn how_many(boxes: usize) -> usize {
    let share = (boxes * 11).div_ceil(100);
    let all = FaultKind::ALL.len();
    match boxes {
        0 => 0,
        1..60 => boxes.div_ceil(6).min(all),
        _ => share.max(all),
    }
}

/// Gives faults to boxes that stay aboard from departure to the end of the data.
pub fn inject(reefers: &mut [Reefer], seed: u64, data_h: f64) {
    let mut dice = Dice::new(seed, Purpose::Faults, 0);
    let mut free: Vec<usize> = (0..reefers.len())
        .filter(|i| reefers.get(*i).is_some_and(|r| r.load_h == 0.0 && r.leave_h.is_none()))
        .collect();
    dice.shuffle(&mut free);
    let again = FaultKind::ALL
        .into_iter()
        .filter(|k| !matches!(k, FaultKind::PlugTripped | FaultKind::PlugRestored))
        .cycle();
    let kinds = FaultKind::ALL.into_iter().chain(again);
    for (n, kind) in kinds.take(how_many(reefers.len())).enumerate() {
        // The first of each kind is number 0, the next number 1, …
        let extra = n.saturating_sub(FaultKind::ALL.len());
        let number = if n < FaultKind::ALL.len() { 0 } else { 1 + extra / 11 };
        let fits = |i: &usize| reefers.get(*i).is_some_and(|r| suits(kind, number, r));
        let Some(at) = free.iter().position(fits).or((!free.is_empty()).then_some(0)) else {
            return;
        };
        let i = free.swap_remove(at);
        if let Some(r) = reefers.get_mut(i) {
            if !suits(kind, number, r) {
                r.recast(wanted_cargo(kind, number), &mut dice);
            }
            strike(r, kind, number, data_h, &mut dice);
        }
    }
}

/// Whether a fault of this kind belongs into this box.
fn suits(kind: FaultKind, number: usize, r: &Reefer) -> bool {
    let cargo = r.cargo.kind;
    match kind {
        FaultKind::PlugTripped => matches!(r.cargo.id, "banana" | "broccoli"),
        FaultKind::PlugRestored => cargo == Kind::Frozen,
        FaultKind::WarmLoaded => matches!(r.cargo.id, "orange" | "apple" | "banana" | "lemon"),
        FaultKind::FahrenheitTyped => {
            r.cargo.id == if number.is_multiple_of(2) { "ice_cream" } else { "frozen_meat" }
        }
        FaultKind::SignLost if number.is_multiple_of(2) => cargo == Kind::Frozen,
        FaultKind::SignLost => r.cargo.id == "beef_chilled",
        FaultKind::StuckSupply => cargo != Kind::Frozen && r.set_c < 8.0,
        FaultKind::ProbeCode | FaultKind::ProbeDrift | FaultKind::SwappedSensors => {
            cargo == Kind::Living
        }
        FaultKind::IcedCoil => r.set_c < 6.0,
        FaultKind::FanLoss => cargo == Kind::Living,
        FaultKind::RefrigerantLoss => (cargo == Kind::Frozen) == (number.is_multiple_of(2)),
        FaultKind::CompressorFailure => (cargo == Kind::Living) == (number.is_multiple_of(2)),
    }
}

/// The cargo to put in where no box suits.
fn wanted_cargo(kind: FaultKind, number: usize) -> &'static str {
    match kind {
        FaultKind::PlugTripped => "banana",
        FaultKind::PlugRestored => "frozen_fish_lean",
        FaultKind::FahrenheitTyped if number.is_multiple_of(2) => "ice_cream",
        FaultKind::FahrenheitTyped => "frozen_meat",
        FaultKind::SignLost if number.is_multiple_of(2) => "frozen_fish_lean",
        FaultKind::SignLost => "beef_chilled",
        FaultKind::RefrigerantLoss if number.is_multiple_of(2) => "frozen_meat",
        FaultKind::CompressorFailure if !number.is_multiple_of(2) => "frozen_meat",
        FaultKind::StuckSupply | FaultKind::IcedCoil => "grape",
        _ => "orange",
    }
}

/// Times and sizes for fault number `number` of its kind: shares of the data's length, so that
/// at its end faults stand at different stages.
struct Plan {
    number: usize,
    data_h: f64,
    jitter: f64,
}

impl Plan {
    fn stage(&self, choices: [f64; 3]) -> f64 {
        choices.get(self.number % 3).copied().unwrap_or(0.5)
    }

    fn share_h(&self, share: f64) -> f64 {
        ((share + self.jitter) * self.data_h).max(1.0)
    }

    fn before_end_h(&self, hours: f64) -> f64 {
        (self.data_h - hours).max(1.0)
    }

    fn even(&self) -> bool {
        self.number.is_multiple_of(2)
    }
}

/// Sets the fault of number `number` of its kind on `r`.
fn strike(r: &mut Reefer, kind: FaultKind, number: usize, data_h: f64, dice: &mut Dice) {
    let jitter = dice.between(-0.02, 0.02);
    let plan = Plan { number, data_h, jitter };
    let mut fault = Fault { kind, start_h: 0.0, end_h: None, severity: 1.0, measure: 0.0 };
    machine_fault(&mut fault, &plan, dice);
    people_fault(&mut fault, r, &plan, dice);
    sensor_fault(&mut fault, r, &plan);
    // Faults that only a logger can tell in time have one.
    r.logger = true;
    r.fault = Some(fault);
}

/// Plug and machine.
fn machine_fault(fault: &mut Fault, plan: &Plan, dice: &mut Dice) {
    match fault.kind {
        FaultKind::PlugTripped => fault.start_h = plan.before_end_h(dice.between(5.0, 7.0)),
        FaultKind::PlugRestored => {
            fault.start_h = plan.share_h(0.45);
            let restored_h = fault.start_h + dice.between(7.0, 13.0);
            fault.end_h = Some(restored_h.min(plan.before_end_h(2.0)));
        }
        FaultKind::RefrigerantLoss => {
            fault.start_h = plan.share_h(plan.stage([0.3, 0.62, 0.45]));
            fault.severity = plan.stage([0.95, 0.55, 0.8]);
            fault.measure = plan.data_h - fault.start_h;
        }
        FaultKind::CompressorFailure => {
            let before_h = plan.stage([9.0, 26.0, 3.0]) + dice.unit();
            fault.start_h = plan.before_end_h(before_h);
        }
        FaultKind::IcedCoil => {
            fault.start_h = plan.share_h(plan.stage([0.68, 0.82, 0.92]));
            fault.measure = dice.between(1.0, 2.0);
            fault.severity = plan.stage([0.9, 0.5, 0.2]);
        }
        FaultKind::FanLoss => {
            fault.start_h = plan.share_h(plan.stage([0.55, 0.8, 0.93]));
            fault.severity = plan.stage([0.6, 0.45, 0.5]);
        }
        _ => {}
    }
}

/// What people did: loading warm, setting wrong.
fn people_fault(fault: &mut Fault, r: &mut Reefer, plan: &Plan, dice: &mut Dice) {
    match fault.kind {
        FaultKind::WarmLoaded => {
            fault.measure = plan.stage([7.0, 5.0, 9.0]) + dice.unit();
            fault.severity = (fault.measure / 10.0).min(1.0);
            r.warm_by_k = fault.measure;
        }
        FaultKind::FahrenheitTyped => {
            let (order_f, before_h) = if plan.even() {
                (-10.0, dice.between(20.0, 32.0))
            } else {
                (0.0, dice.between(8.0, 11.0))
            };
            r.order_fahrenheit(order_f);
            fault.start_h = plan.before_end_h(before_h);
            fault.measure = order_f;
        }
        FaultKind::SignLost => {
            if plan.even() {
                fault.start_h = plan.before_end_h(dice.between(7.0, 11.0));
            }
            fault.measure = -r.set_c;
        }
        _ => {}
    }
}

/// What sensors say.
fn sensor_fault(fault: &mut Fault, r: &mut Reefer, plan: &Plan) {
    match fault.kind {
        FaultKind::StuckSupply => {
            fault.start_h = plan.share_h(plan.stage([0.6, 0.8, 0.9]));
            fault.measure = r.set_c + plan.stage([0.7, -0.6, 0.5]);
        }
        FaultKind::ProbeCode => {
            fault.start_h = plan.share_h(plan.stage([0.6, 0.85, 0.3]));
            r.probes = 3;
        }
        FaultKind::SwappedSensors => {
            fault.start_h = plan.share_h(plan.stage([0.5, 0.0, 0.8]));
        }
        FaultKind::ProbeDrift => {
            fault.start_h = plan.share_h(0.4);
            fault.measure = plan.stage([0.3, -0.25, 0.5]);
            fault.severity = 0.3;
            r.probes = 3;
        }
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn about_one_box_in_nine() {
        assert_eq!(how_many(300), 33);
        assert_eq!(how_many(60), 13);
        assert_eq!(how_many(1), 1);
        for n in [120, 300, 1000, 3000] {
            let share = how_many(n) as f64 / n as f64;
            assert!((0.10..0.121).contains(&share), "{n} {share}");
        }
    }

    #[test]
    fn effects_only_while_live() {
        let f = Fault {
            kind: FaultKind::PlugRestored,
            start_h: 10.0,
            end_h: Some(18.0),
            severity: 1.0,
            measure: 0.0,
        };
        assert!(f.effects(9.9).powered && !f.effects(10.0).powered && f.effects(18.0).powered);
    }
}
