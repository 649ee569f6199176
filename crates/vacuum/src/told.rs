//! What is said of the two tests with a pressure gauge, and the cautions of all this work. Page,
//! command and record take their sentences from here.

use fluids::Refrigerant;

use crate::nitrogen::{PressureResult, PressureTest, PressureVerdict, nitrogen_grams_per_year};
use crate::standing::{Standing, StandingResult, StandingVerdict};

/// A caution: what must not be missed, and the rest of it. Common practice of the trade, no source.
pub type Caution = (&'static str, &'static str);

/// Before a pump is connected.
pub const EVACUATING: [Caution; 6] = [
    (
        "Refrigerant first recovered",
        "into a cylinder, never vented; the circuit at rest, its power switched off, locked and \
         proved dead.",
    ),
    ("Never run or energise a compressor in vacuum:", "its windings flash over at low pressure."),
    (
        "Nitrogen only through a regulator",
        "with a relief valve, set no higher than the maker's test pressure; never oxygen, never \
         air. Keep clear of the fittings while pressure rises.",
    ),
    (
        "Nitrogen and refrigerant displace air and suffocate without a warning:",
        "ventilate, vent where nobody breathes it, never work alone in a closed or low space.",
    ),
    (
        "Fresh oil in the pump;",
        "close the valve between pump and circuit before the pump stops, or its oil is drawn in. \
         Goggles and gloves: oil and pipes are hot or very cold.",
    ),
    ("Local codes, the maker's instructions and licensed practice", "come first."),
];

/// Before nitrogen is let in.
pub const PRESSURE_TEST: [Caution; 3] = [
    (
        "Dry nitrogen through a regulator with a relief valve, never oxygen or air;",
        "never above the maker's test pressure; raise it in steps and stand clear.",
    ),
    (
        "Let the pressure down before a joint is touched,",
        "and vent where nobody breathes it: nitrogen suffocates without a warning.",
    ),
    ("Maker's instructions, permits, local codes and licensed practice", "come first."),
];

/// Before a gauge goes on a standing charge.
pub const STANDING_CHARGE: [Caution; 3] = [
    (
        "Unit off and locked out.",
        "Liquid refrigerant freezes skin and eyes: goggles and gloves, connect slowly.",
    ),
    ("A match with saturation does not prove which refrigerant it is.", ""),
    ("Maker's instructions, local codes and licensed practice", "come first."),
];

/// A caution as one sentence.
#[must_use]
pub fn sentence(c: &Caution) -> String {
    format!("{} {}", c.0, c.1).trim_end().to_owned()
}

/// A figure with a real minus sign, never `−0.0`.
fn figure(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|b| matches!(b, b'0' | b'.')) => rest.to_owned(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

fn kpa(pa: f64) -> String {
    figure(pa / 1e3, 1)
}

impl PressureVerdict {
    /// The verdict in one sentence.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Leaking => "It fell by more than the instruments' own error: a leak.",
            Self::NoFallSeen => "No fall beyond the instruments' own error.",
            Self::Rose => {
                "It rose by more than temperature and the instruments' error: this test says \
                 nothing."
            }
        }
    }
}

/// A nitrogen test, sentence by sentence, the verdict first.
#[must_use]
pub fn nitrogen(t: &PressureTest, r: &PressureResult) -> Vec<String> {
    let [low, high] = r.fall_pa_p90;
    let mut all = vec![
        r.verdict().words().to_owned(),
        format!(
            "Temperature alone makes {} kPa; what is missing beside that is {} kPa (90 %: {} to \
             {} kPa).",
            kpa(r.expected_pa - t.start.0),
            kpa(r.fall_pa),
            kpa(low),
            kpa(high)
        ),
    ];
    match r.verdict() {
        PressureVerdict::Leaking => {
            let [low, high] = r.leak_pa_m3_s_p90;
            all.push(format!(
                "That is {:.1e} Pa·m³/s at test pressure (90 %: {low:.1e} to {high:.1e}). Do \
                 first: bubbles or a detector at every joint, halves isolated one after the other.",
                r.leak_pa_m3_s
            ));
        }
        PressureVerdict::Rose => all.push(
            "Look whether the regulator is closed and its hose off, and whether the thermometer \
             sits on the metal out of the sun; then begin again."
                .to_owned(),
        ),
        PressureVerdict::NoFallSeen => {}
    }
    all.push(format!(
        "The smallest leak that shows in this time with these instruments, nine times in ten: \
         {:.1e} Pa·m³/s, {} g of nitrogen a year. A smaller one is not ruled out; a finer gauge, a \
         longer time or a steadier temperature sees more.",
        r.smallest_pa_m3_s,
        figure(nitrogen_grams_per_year(r.smallest_pa_m3_s), 0)
    ));
    all
}

impl StandingVerdict {
    /// Its name in the contract's manner.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::NonCondensables => "non_condensables",
            Self::NotThisRefrigerant => "not_this_refrigerant",
            Self::Consistent => "consistent",
        }
    }

    /// The verdict in one sentence.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::NonCondensables => {
                "Above saturation by more than the instruments' error: non-condensable gas, or \
                 another refrigerant mixed in."
            }
            Self::NotThisRefrigerant => {
                "Below saturation by more than the instruments' error: not this refrigerant, no \
                 liquid left, or not yet at one temperature."
            }
            Self::Consistent => {
                "Within the instruments' error of saturation. That does not prove which \
                 refrigerant it is."
            }
        }
    }
}

/// A standing pressure, sentence by sentence, the verdict first.
#[must_use]
pub fn standing(fluid: &Refrigerant, s: &Standing, r: &StandingResult) -> Vec<String> {
    let [low, high] = r.excess_pa_p90;
    let mut all = vec![
        r.verdict.words().to_owned(),
        format!(
            "{} at {} °C boils at {} kPa absolute; it stands {} kPa above (90 %: {} to {} kPa), as \
             {} K.",
            fluid.name(),
            figure(s.temp_c, 1),
            kpa(r.p_sat_pa),
            kpa(r.excess_pa),
            kpa(low),
            kpa(high),
            figure(r.excess_k, 1)
        ),
        format!("These instruments can tell {} kPa and more.", kpa(r.smallest_pa)),
    ];
    if let Some(g) = r.air_g.filter(|g| *g > 0.0) {
        all.push(format!("If all the excess is air, that is {} g of it.", figure(g, 1)));
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::nitrogen::pressure_test;

    /// Reference §6.5 ([calc]): 1 K makes 6.8 kPa at 20 bar absolute.
    #[test]
    fn a_rise_that_warmth_does_not_make_is_no_pass() {
        let mut t = PressureTest {
            volume_m3: 0.015,
            start: (20e5, 20.0),
            end: (20e5 + 6_800.0, 21.0),
            hours: 24.0,
            gauge_step_pa: 1000.0,
            thermometer_k: 0.3,
        };
        let r = pressure_test(&t).unwrap();
        assert_eq!(r.verdict(), PressureVerdict::NoFallSeen);
        assert!(nitrogen(&t, &r)[1].contains("Temperature alone makes 6.8 kPa"));
        t.end.0 += 20_000.0;
        let r = pressure_test(&t).unwrap();
        assert_eq!(r.verdict(), PressureVerdict::Rose);
        assert!(nitrogen(&t, &r).iter().any(|s| s.contains("regulator")));
        t.end.0 -= 60_000.0;
        assert_eq!(pressure_test(&t).unwrap().verdict(), PressureVerdict::Leaking);
    }

    #[test]
    fn nothing_promises_what_no_test_shows() {
        let all = EVACUATING.iter().chain(&PRESSURE_TEST).chain(&STANDING_CHARGE);
        for c in all {
            let s = sentence(c).to_lowercase();
            assert!(!s.contains("leak-free") && !s.contains("leak free") && !s.ends_with(' '));
        }
    }
}
