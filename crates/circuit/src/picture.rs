//! The cycle's corner points for a pressure-enthalpy diagram.

use crate::card::Card;
use crate::cycle::Cycle;
use crate::diagnose::scene;
use crate::evidence::{Doubt, HIDDEN, Hidden, Hypothesis};
use crate::fault::Fault;
use crate::linear::{climb, local};
use crate::reading::{Input, Mode};

/// A corner of the cycle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Corner {
    /// Where: compressor in, compressor out, condenser out, valve in, evaporator in, evaporator
    /// out.
    pub place: &'static str,
    /// Absolute pressure, kPa.
    pub p_kpa: f64,
    /// Specific enthalpy, kJ/kg (IIR reference).
    pub h_kj_kg: f64,
}

/// Two cycles to lay over each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Cycles {
    /// As the readings have it, with the fault that was asked for.
    pub measured: Vec<Corner>,
    /// What a sound unit would do at the same air temperatures.
    pub sound: Vec<Corner>,
}

/// The cycle that fits the readings best with this fault, and the sound one beside it. None when
/// there is no steady state.
#[must_use]
pub fn cycles(input: &Input, card: &Card, mode: Mode, fault: Fault) -> Option<Cycles> {
    let n = crate::derived::noise(input, &card.instruments, 0.0);
    let s = scene(input, card, n, mode);
    let z: Hidden = [0.0; HIDDEN];
    let sound = s.run(&Hypothesis::of(Fault::None), &z, None).ok()?;
    let fault = if fault.changes_machine() { fault } else { Fault::None };
    let h = Hypothesis::of(fault);
    let start = local(&s, &h, &z, s.run(&h, &z, None).ok()?).ok()?;
    let peak = climb(&s, &h, &start, &s.compared(), &s.variances(Doubt::NONE))?;
    let fluid = fluids::Refrigerant::named(&card.fluid).ok()?;
    let offset = fluid.iir_offsets().0;
    Some(Cycles {
        measured: corners(&peak.local.run.faulty.cycle, offset),
        sound: corners(&sound.sound.cycle, offset),
    })
}

/// Corner points of a solved cycle; `h_offset_j_kg` is the fluid's IIR offset.
#[must_use]
pub fn corners(c: &Cycle, h_offset_j_kg: f64) -> Vec<Corner> {
    let [inlet, outlet, condensed, valve, evaporator, bulb] = c.h_j_kg;
    let corner = |place, p: f64, h: f64| Corner {
        place,
        p_kpa: p / 1e3,
        h_kj_kg: (h - h_offset_j_kg) / 1e3,
    };
    vec![
        corner("compressor in", c.ps_pa, inlet),
        corner("compressor out", c.pt_pa, outlet),
        corner("condenser out", c.pc_pa, condensed),
        corner("valve in", c.liquid_pa, valve),
        corner("evaporator in", c.pe_pa, evaporator),
        corner("evaporator out", c.pe_pa, bulb),
    ]
}
