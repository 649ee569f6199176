//! What can hurt a person or a compressor around a vacuum, said before anything else.

use maud::{Markup, html};
use vacuum::told::{Caution, EVACUATING};

/// All of it, for the page on which the work begins.
pub(super) fn all() -> Markup {
    html! {
        aside.caution {
            h2 { "Before a pump is connected" }
            ul { @for (lead, rest) in &EVACUATING { li { strong { (lead) } " " (rest) } } }
        }
    }
}

/// A few of them in running text, before a smaller test.
pub(super) fn line(all: &[Caution]) -> Markup {
    html! {
        p.caution-line { @for (lead, rest) in all { strong { (lead) } " " (rest) " " } }
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
