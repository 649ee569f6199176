//! The plant as nodes and edges, for whoever draws it.

use crate::flow::component;
use crate::plant::{HighPlace, Rules, Seat, State, Volume};

/// A valve or joint between two volumes, or between a volume and a hose.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Edge {
    /// Id of the valve.
    pub valve: &'static str,
    /// From.
    pub from: Volume,
    /// To.
    pub to: Volume,
    /// Gas passes.
    pub open: bool,
    /// Position in words.
    pub position: &'static str,
}

/// All edges of a state. Ports without a hose are left out.
#[must_use]
pub fn edges(s: &State, rules: &Rules) -> Vec<Edge> {
    use Volume::{Centre, Compressor, Evaporator, HighHose, HighSide, LiquidLine, LowHose};
    let shut = |open: bool| if open { "open" } else { "shut" };
    let line = |valve, from, to, seat: Seat| Edge {
        valve,
        from,
        to,
        open: seat != Seat::Front,
        position: seat.id(),
    };
    let expansion = s.expansion_open();
    let mut out = vec![
        line("suction_valve", Evaporator, Compressor, s.suction),
        line("discharge_valve", Compressor, HighSide, s.discharge),
        line("king_valve", HighSide, LiquidLine, s.king),
        Edge {
            valve: "expansion_valve",
            from: LiquidLine,
            to: Evaporator,
            open: expansion,
            position: shut(expansion),
        },
        Edge {
            valve: "low_hand_valve",
            from: LowHose,
            to: Centre,
            open: s.low_hand,
            position: shut(s.low_hand),
        },
        Edge {
            valve: "high_hand_valve",
            from: HighHose,
            to: Centre,
            open: s.high_hand,
            position: shut(s.high_hand),
        },
    ];
    let port = |valve, hose, near: Volume, seat: Seat| {
        let open = seat != Seat::Back;
        let sees = component(s, rules, hose);
        // A front-seated valve's port sees one side; the drawing shows which.
        let to = if open && sees & near.bit() == 0 { other(near) } else { near };
        Edge { valve, from: hose, to, open, position: seat.id() }
    };
    if s.low_hose {
        out.push(port("suction_port", LowHose, Compressor, s.suction));
    }
    match s.high_hose {
        HighPlace::Off => {}
        HighPlace::Discharge => out.push(port("discharge_port", HighHose, HighSide, s.discharge)),
        HighPlace::King => out.push(port("king_port", HighHose, HighSide, s.king)),
    }
    out
}

fn other(v: Volume) -> Volume {
    match v {
        Volume::Compressor => Volume::Evaporator,
        Volume::HighSide => Volume::LiquidLine,
        v => v,
    }
}
