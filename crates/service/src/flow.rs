//! Which volumes are open to each other, and what happens to their contents when they are.

use crate::hazard::{Hazard, Hazards};
use crate::plant::{
    CIRCUIT, Content, HOSES, HighPlace, Joint, PortSide, Power, Rules, Seat, State, Volume,
};

const REFRIGERANT: u16 =
    Content::Refrigerant.bit() | Content::Liquid.bit() | Content::RefrigerantLow.bit();
const FOREIGN: u16 =
    Content::NitrogenPressure.bit() | Content::NitrogenLow.bit() | Content::Air.bit();
const NITROGEN: u16 = Content::NitrogenPressure.bit() | Content::NitrogenLow.bit();
const EMPTY: u16 = Content::Recovered.bit() | Content::Vacuum.bit() | Content::VacuumHeld.bit();

/// A content that is refrigerant, alone.
#[must_use]
pub fn is_refrigerant(c: Content) -> bool {
    c.bit() & REFRIGERANT != 0
}

/// A content below the atmosphere.
#[must_use]
pub fn is_empty(c: Content) -> bool {
    c.bit() & EMPTY != 0
}

/// Air or nitrogen.
#[must_use]
pub fn is_foreign(c: Content) -> bool {
    c.bit() & FOREIGN != 0
}

/// Well above the atmosphere.
#[must_use]
pub fn is_pressure(c: Content) -> bool {
    matches!(
        c,
        Content::Refrigerant | Content::Liquid | Content::NitrogenPressure | Content::Mixture
    )
}

/// What flows where when two volumes meet: higher drives into lower.
fn level(c: Content) -> u8 {
    match c {
        Content::NitrogenPressure => 4,
        Content::Refrigerant | Content::Liquid | Content::Mixture => 3,
        Content::RefrigerantLow | Content::NitrogenLow | Content::Air => 2,
        Content::Recovered => 1,
        Content::Vacuum | Content::VacuumHeld => 0,
    }
}

/// For each volume the set of volumes it is open to, itself included.
fn open_to(s: &State, rules: &Rules) -> [u8; 7] {
    use Volume::{Centre, Compressor, Evaporator, HighHose, HighSide, LiquidLine, LowHose};
    let mut open = [0_u8; 7];
    for v in Volume::ALL {
        open[v as usize] = v.bit();
    }
    let mut join = |a: Volume, b: Volume| {
        open[a as usize] |= b.bit();
        open[b as usize] |= a.bit();
    };
    if s.suction != Seat::Front {
        join(Compressor, Evaporator);
    }
    if s.king != Seat::Front {
        join(HighSide, LiquidLine);
    }
    if s.expansion_open() {
        join(LiquidLine, Evaporator);
    }
    if s.low_hose {
        match (s.suction, rules.suction_port) {
            (Seat::Back, _) => {}
            (Seat::Front, PortSide::Line) => join(LowHose, Evaporator),
            _ => join(LowHose, Compressor),
        }
    }
    let front = |seat: Seat, side: PortSide, component: Volume, line: Volume| match (seat, side) {
        (Seat::Back, _) => None,
        (Seat::Front, PortSide::Component) => Some(component),
        _ => Some(line),
    };
    let port = match s.high_hose {
        HighPlace::Off => None,
        HighPlace::Discharge => front(s.discharge, rules.discharge_port, Compressor, HighSide),
        HighPlace::King => front(s.king, rules.king_port, HighSide, LiquidLine),
    };
    if let Some(v) = port {
        join(HighHose, v);
    }
    if s.low_hand {
        join(LowHose, Centre);
    }
    if s.high_hand {
        join(HighHose, Centre);
    }
    open
}

/// The set of volumes that share their content with this one.
#[must_use]
pub fn component(s: &State, rules: &Rules, v: Volume) -> u8 {
    spread(&open_to(s, rules), v.bit())
}

fn spread(open: &[u8; 7], from: u8) -> u8 {
    let mut set = from;
    loop {
        let next = members(set).fold(set, |all, v| all | open[v as usize]);
        if next == set {
            return set;
        }
        set = next;
    }
}

/// Volumes of a set.
pub fn members(set: u8) -> Members {
    Members(set)
}

/// The volumes of a set, lowest bit first.
#[derive(Debug, Clone, Copy)]
pub struct Members(u8);

impl Iterator for Members {
    type Item = Volume;

    fn next(&mut self) -> Option<Volume> {
        let v = Volume::ALL.get(self.0.trailing_zeros() as usize).copied()?;
        self.0 &= self.0 - 1;
        Some(v)
    }
}

/// Contents of a set of volumes.
#[must_use]
pub fn contents(s: &State, set: u8) -> u16 {
    members(set).map(|v| s.of(v).bit()).fold(0, |a, b| a | b)
}

/// Lets everything that is open to each other mix, and says what that brings about.
pub fn settle(s: &mut State, rules: &Rules) -> Hazards {
    let mut found = Hazards::NONE;
    let open = open_to(s, rules);
    let mut left = 0x7f_u8;
    for v in Volume::ALL {
        if left & v.bit() != 0 {
            let set = spread(&open, v.bit());
            left &= !set;
            found = found.with(mix(s, set));
        }
    }
    // The stopped compressor's own valves let gas pass forward, never back.
    let (low, high) = (s.of(Volume::Compressor), s.of(Volume::HighSide));
    if s.discharge != Seat::Front && level(low) > level(high) {
        let set = spread(&open, Volume::Compressor.bit() | Volume::HighSide.bit());
        found = found.with(mix(s, set));
    }
    plain_hoses(s);
    found
}

/// Mixes one set of volumes that are open to each other.
fn mix(s: &mut State, set: u8) -> Hazards {
    let (circuit, hoses) = (contents(s, set & CIRCUIT), contents(s, set & HOSES));
    let all = circuit | hoses;
    let mut found = Hazards::NONE;
    if all.count_ones() <= 1 {
        return found;
    }
    let has = |c: Content| all & c.bit() != 0;
    let (in_circuit, in_hoses) = if has(Content::Mixture) {
        found.add_if(all & REFRIGERANT != 0, Hazard::AirWithRefrigerant);
        (Content::Mixture, Content::Mixture)
    } else if all & REFRIGERANT != 0 && all & FOREIGN != 0 {
        found.add(spoiled(circuit));
        found.add_if(s.joint == Joint::Open, Hazard::Release);
        (Content::Mixture, Content::Mixture)
    } else if all & REFRIGERANT != 0 {
        let virgin = circuit & (Content::Vacuum.bit() | Content::VacuumHeld.bit()) != 0;
        found.add_if(circuit & Content::Vacuum.bit() != 0, Hazard::UnprovenVacuum);
        let suction = set & (Volume::Compressor.bit() | Volume::Evaporator.bit()) != 0;
        found.add_if(suction && has(Content::Liquid), Hazard::LiquidIntoCompressor);
        found.add_if(virgin && s.joint == Joint::Fitted && !s.tested, Hazard::Untested);
        refrigerant_mix(circuit, all)
    } else if all & FOREIGN != 0 {
        let drawn = circuit & EMPTY != 0 && has(Content::Air);
        found.add_if(drawn, Hazard::AirDrawnIn);
        let c = foreign_mix(circuit, all);
        (c, c)
    } else {
        empty_mix(circuit)
    };
    for v in members(set) {
        s.content[v as usize] = if v.bit() & CIRCUIT != 0 { in_circuit } else { in_hoses };
    }
    found
}

/// In a hose below the atmosphere is one thing, emptied, and refrigerant vapour is one thing,
/// to be recovered before the hose comes off.
fn plain_hoses(s: &mut State) {
    for v in members(HOSES) {
        if is_empty(s.of(v)) {
            s.content[v as usize] = Content::Vacuum;
        } else if s.of(v) == Content::RefrigerantLow {
            s.content[v as usize] = Content::Refrigerant;
        }
    }
}

fn spoiled(circuit: u16) -> Hazard {
    match circuit & FOREIGN {
        0 => Hazard::UnpurgedHose,
        f if f & NITROGEN != 0 => Hazard::NitrogenIntoRefrigerant,
        _ => Hazard::AirWithRefrigerant,
    }
}

fn refrigerant_mix(circuit: u16, all: u16) -> (Content, Content) {
    let liquid = all & Content::Liquid.bit() != 0;
    // Vapour in a hose is a few grams: it does not fill a side of the circuit.
    let source = if circuit == 0 { all } else { circuit };
    let full = liquid || source & Content::Refrigerant.bit() != 0;
    let in_circuit = if full { Content::Refrigerant } else { Content::RefrigerantLow };
    // A hose full of liquid stays so until it has boiled out.
    (in_circuit, if liquid { Content::Liquid } else { in_circuit })
}

fn foreign_mix(circuit: u16, all: u16) -> Content {
    let test = Content::NitrogenPressure.bit();
    // Test pressure in a hose alone is nothing once it meets the circuit.
    if circuit & test != 0 || (circuit == 0 && all & test != 0) {
        Content::NitrogenPressure
    } else if all & Content::Air.bit() != 0 {
        Content::Air
    } else {
        Content::NitrogenLow
    }
}

fn empty_mix(circuit: u16) -> (Content, Content) {
    let c = if circuit & Content::Recovered.bit() != 0 {
        Content::Recovered
    } else if circuit == Content::VacuumHeld.bit() {
        Content::VacuumHeld
    } else {
        Content::Vacuum
    };
    (c, Content::Vacuum)
}

/// Opens a set of volumes to the air: what that brings about, and grams lost.
pub fn expose(s: &mut State, set: u8) -> (Hazards, u32) {
    let mut found = Hazards::NONE;
    let mut lost_g = 0;
    for v in members(set) {
        let (c, circuit) = (s.of(v), v.bit() & CIRCUIT != 0);
        found.add_if(
            is_pressure(c),
            if circuit { Hazard::OpenUnderPressure } else { Hazard::HoseUnderPressure },
        );
        if c == Content::RefrigerantLow {
            found.add_if(circuit, Hazard::Release);
            lost_g += 1;
        }
        found.add_if(circuit && is_empty(c), Hazard::AirDrawnIn);
        s.content[v as usize] = Content::Air;
    }
    (found, lost_g)
}

/// Dangers of a state as it stands, whatever led there.
#[must_use]
pub fn standing(s: &State, rules: &Rules) -> Hazards {
    let mut found = Hazards::NONE;
    let (low, evap) = (s.of(Volume::Compressor), s.of(Volume::Evaporator));
    let live = s.power != Power::Locked;
    found.add_if(live && is_empty(low), Hazard::LiveInVacuum);
    let test = s.content.iter().take(4).any(|c| *c == Content::NitrogenPressure);
    found.add_if(live && test, Hazard::LiveWork);
    found.add_if(live && s.joint == Joint::Open, Hazard::LiveWork);
    let gas = is_refrigerant(s.of(Volume::Centre)) && !s.recovery;
    found.add_if(gas, Hazard::GasInGauges);
    let oil = s.joint == Joint::Open && s.suction != Seat::Front;
    found.add_if(oil, Hazard::OilOpenToAir);
    found.add_if(liquid_shut_in(s, rules), Hazard::TrappedLiquid);
    if s.power == Power::Running {
        found.add_if(s.discharge == Seat::Front, Hazard::ClosedDischarge);
        found.add_if(s.suction == Seat::Front, Hazard::ClosedSuction);
        found.add_if(s.expansion_held, Hazard::FloodBack);
        let short = s.low_hand && s.high_hand && reads_low(s) && reads_high(s);
        found.add_if(short, Hazard::ShortCircuit);
        let blind = s.king == Seat::Front && !(reads_low(s) && reads_head(s, rules));
        found.add_if(blind, Hazard::BlindPumpDown);
        let pulled = pulled_down(s);
        let charged = |c: Content| c == Content::Refrigerant;
        let low_fine = pulled || (charged(low) && charged(evap));
        found.add_if(!low_fine && (is_empty(low) || is_empty(evap)), Hazard::RunIntoVacuum);
        let high_fine = charged(s.of(Volume::HighSide));
        found.add_if(!low_fine || !high_fine, Hazard::RunWithoutCharge);
    }
    found
}

/// Running with the king valve shut and the low side already at the stop.
#[must_use]
pub fn pulled_down(s: &State) -> bool {
    s.power == Power::Running
        && s.king == Seat::Front
        && s.of(Volume::Compressor) == Content::RefrigerantLow
        && s.of(Volume::Evaporator) == Content::RefrigerantLow
}

/// The low gauge shows suction pressure.
#[must_use]
pub fn reads_low(s: &State) -> bool {
    s.low_hose && s.suction == Seat::Mid
}

/// The high gauge shows a port that is open to the line.
#[must_use]
pub fn reads_high(s: &State) -> bool {
    match s.high_hose {
        HighPlace::Off => false,
        HighPlace::Discharge => s.discharge == Seat::Mid,
        HighPlace::King => s.king == Seat::Mid,
    }
}

/// The high gauge shows head pressure.
#[must_use]
pub fn reads_head(s: &State, rules: &Rules) -> bool {
    component(s, rules, Volume::HighHose) & Volume::HighSide.bit() != 0
}

fn liquid_shut_in(s: &State, rules: &Rules) -> bool {
    let line = s.of(Volume::LiquidLine) == Content::Refrigerant
        && s.king == Seat::Front
        && !s.expansion_open();
    let wet = |v: &Volume| s.of(*v) == Content::Liquid;
    let hoses = [Volume::Centre, Volume::HighHose, Volume::LowHose];
    if !line && !hoses.iter().any(wet) {
        return false;
    }
    let open = open_to(s, rules);
    let ends = Volume::HighSide.bit() | Volume::Evaporator.bit();
    let line_shut = line && spread(&open, Volume::LiquidLine.bit()) & ends == 0;
    let into = |v: Volume| spread(&open, v.bit()) & Volume::HighSide.bit() != 0;
    line_shut || hoses.into_iter().any(|v| wet(&v) && !into(v))
}
