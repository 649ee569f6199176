//! What can hurt a person or a compressor around a vacuum, said before anything else. Common
//! practice of the trade; maker's instructions and local codes come first.

use maud::{Markup, html};

/// All of it, for the page on which the work begins.
pub(super) fn all() -> Markup {
    html! {
        aside.caution {
            h2 { "Before a pump is connected" }
            ul {
                li { "Refrigerant first recovered into a cylinder, never vented; the circuit at \
                      rest, its power switched off, locked and proved dead. Local codes, the \
                      maker’s instructions and licensed practice come before this page." }
                li { strong { "Never energise a compressor in vacuum: " } "its windings flash over \
                      at low pressure." }
                li { "Nitrogen only through a regulator with a relief valve, set no higher than \
                      the maker’s test pressure; never oxygen, never air. Keep clear of the \
                      fittings while pressure rises." }
                li { "Nitrogen and refrigerant displace air and suffocate without a warning: \
                      ventilate, never work alone in a closed or low space." }
                li { "Fresh oil in the pump; close the valve between pump and circuit before the \
                      pump stops, or its oil is drawn in. Goggles and gloves: oil and pipes are \
                      hot or very cold." }
            }
        }
    }
}

/// In two lines, where readings are keyed in.
pub(super) fn short() -> Markup {
    html! {
        p.caution-line {
            strong { "Never energise the compressor in vacuum. " }
            "Power locked off, refrigerant recovered, valve to the pump closed before the pump \
             stops. Nitrogen only through a regulator; it suffocates. Maker’s instructions, local \
             codes and licensed practice come first."
        }
    }
}
