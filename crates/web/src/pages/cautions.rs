//! What can hurt a person at a box, said before what to do there.

use record::{BoxLine, FindingKind, State};

/// Cautions for work at this box, the gravest first. Empty for a box that is fine.
#[must_use]
pub fn cautions(b: &BoxLine) -> Vec<&'static str> {
    if b.state == State::Ok {
        return Vec::new();
    }
    let found = |kinds: &[FindingKind]| b.findings.iter().any(|f| kinds.contains(&f.kind));
    let mut list = Vec::new();
    if found(&[FindingKind::PowerLost]) {
        list.push(
            "440 V at plug and socket. Switch the socket off before the plug is drawn or put in; \
             never pull it under load. Wet plug, damaged cable or pins: leave it off and tag it.",
        );
    }
    list.push(
        "Before any panel is opened: switch off, lock and tag, prove it dead. Fans and compressor \
         can start by themselves at any time.",
    );
    let inside = [
        FindingKind::WideSpread,
        FindingKind::ProbeFault,
        FindingKind::FreezingRisk,
        FindingKind::ChillingRisk,
    ];
    if found(&inside) {
        list.push(
            "Before a door is opened: the air inside can be short of oxygen or full of carbon \
             dioxide. Do not go in until it is aired and proved, and never alone.",
        );
    }
    list.push(
        "High stacks, wet lashing bridges, darkness: two people or a radio, and the ship’s permit \
         for work aloft. Maker’s instructions and the ship’s procedures come before this page.",
    );
    list
}
