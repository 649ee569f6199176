//! Power lost and not seen back.

use record::{Finding, FindingKind, State};

use crate::forecast::Forecast;
use crate::ground::Ground;
use crate::words::{celsius, when};

/// The finding, when power is off.
pub fn finding(g: &Ground<'_>, f: &Forecast) -> Option<Finding> {
    let spell = g.power_lost()?;
    let soon = f.hours.as_ref().is_some_and(|h| h.best <= 6.0);
    let urgent = soon || g.living() || g.cargo.is_pharma();
    let word = if spell.switched_off { "Switched off" } else { "No power" };
    let named = if g.cargo.is_unknown() && g.living() {
        "; a chilled cargo that is not named is taken as living"
    } else {
        ""
    };
    let what = format!(
        "{word} since {}; {}{named}.",
        when(spell.from),
        warming(g, f).unwrap_or_else(|| "how warm the cargo is was never read".to_owned())
    );
    let action = if spell.switched_off {
        "Ask who switched it off and why; switch it on and see supply air come down. Leave it \
         off only on a written order."
    } else {
        "Check plug and breaker from outside before opening anything: 440 V, so isolate and \
         lock off first. Try another outlet; then see supply air come down."
    };
    Some(Finding {
        kind: FindingKind::PowerLost,
        state: if urgent { State::Urgent } else { State::Act },
        what,
        action: action.to_owned(),
        since: Some(spell.from),
    })
}

/// `cargo (banana, green) is at about 14.1 °C and warms about 0.09 K/h at 31 °C ambient`.
fn warming(g: &Ground<'_>, f: &Forecast) -> Option<String> {
    let cargo = f.cargo?;
    let ambient = g.ambient_c.best;
    let rate = f.warming_k_per_h?;
    let verb = if rate < 0.0 { "cools" } else { "warms" };
    let assumed = if g.ambient_measured { "" } else { " (assumed)" };
    let told = if cargo.by_probes { ", going by its probes," } else { "" };
    Some(format!(
        "{} is at about {}{told} and {verb} about {:.2} K/h at {ambient:.0} °C ambient{assumed}",
        named(g),
        celsius(cargo.temp_c),
        rate.abs(),
    ))
}

fn named(g: &Ground<'_>) -> String {
    g.cargo
        .label()
        .map_or_else(|| "the cargo".to_owned(), |l| format!("cargo ({})", l.to_lowercase()))
}
