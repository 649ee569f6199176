//! The nitrogen pressure test: a fall corrected for temperature, and what it could see at all.

use fluids::FluidError;
use fluids::leak::grams_per_year;
use units::math::sqrt;
use units::temperature::kelvin_from_celsius;

/// A pressure test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PressureTest {
    /// Volume, m³.
    pub volume_m3: f64,
    /// Absolute pressure and temperature at the start, Pa and °C.
    pub start: (f64, f64),
    /// Absolute pressure and temperature at the end, Pa and °C.
    pub end: (f64, f64),
    /// Hours between.
    pub hours: f64,
    /// Step, or class error, of the gauge, Pa.
    pub gauge_step_pa: f64,
    /// Standard deviation of a temperature reading, K.
    pub thermometer_k: f64,
}

/// What it says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PressureResult {
    /// Pressure that the end temperature alone would give, Pa.
    pub expected_pa: f64,
    /// What is missing, Pa; negative when it rose.
    pub fall_pa: f64,
    /// 90 % interval of that.
    pub fall_pa_p90: [f64; 2],
    /// Leak, Pa·m³/s, with its interval.
    pub leak_pa_m3_s: f64,
    /// 90 % interval of the leak.
    pub leak_pa_m3_s_p90: [f64; 2],
    /// The smallest leak that would show in this time, nine times in ten, Pa·m³/s.
    pub smallest_pa_m3_s: f64,
    /// Whether the fall is more than the instruments' own error.
    pub shows_a_leak: bool,
}

/// What a pressure test says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PressureVerdict {
    /// It fell by more than the instruments' error.
    Leaking,
    /// No fall that these instruments can tell.
    NoFallSeen,
    /// It rose by more than temperature and the instruments' error: gas came in, or the
    /// temperature is not the gas's.
    Rose,
}

impl PressureVerdict {
    /// Its name.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Leaking => "leaking",
            Self::NoFallSeen => "no_fall_seen",
            Self::Rose => "rose",
        }
    }
}

impl PressureResult {
    /// The verdict.
    #[must_use]
    pub fn verdict(&self) -> PressureVerdict {
        match (self.shows_a_leak, self.fall_pa_p90[1] < 0.0) {
            (true, _) => PressureVerdict::Leaking,
            (false, true) => PressureVerdict::Rose,
            (false, false) => PressureVerdict::NoFallSeen,
        }
    }
}

/// Standard normal deviates for 5 %, and for 5 % and 10 % together.
const Z: (f64, f64) = (1.645, 1.645 + 1.282);

/// Corrects for temperature: p2 = p1·T2/T1 (ideal gas).
///
/// # Errors
/// [`FluidError::OutOfRange`] for values that no test has.
pub fn pressure_test(t: &PressureTest) -> Result<PressureResult, FluidError> {
    let within = |what, unit, value: f64, min, max| {
        if value >= min && value <= max {
            Ok(())
        } else {
            Err(FluidError::OutOfRange { what, unit, value, min, max })
        }
    };
    for (pa, temp_c) in [t.start, t.end] {
        within("test pressure", "kPa absolute", pa / 1e3, 50.0, 10_000.0)?;
        within("test temperature", "°C", temp_c, -40.0, 80.0)?;
    }
    within("duration", "h", t.hours, 1.0 / 60.0, 1000.0)?;
    within("volume", "l", t.volume_m3 * 1e3, 1e-3, 1e6)?;
    let (k1, k2) = (kelvin_from_celsius(t.start.1), kelvin_from_celsius(t.end.1));
    let expected_pa = t.start.0 * k2 / k1;
    let fall_pa = expected_pa - t.end.0;
    // Two gauge readings, each even over its step, and two temperatures.
    let gauge = t.gauge_step_pa / sqrt(12.0);
    let warmth = expected_pa / k2 * t.thermometer_k;
    let sd = sqrt(2.0 * gauge * gauge + 2.0 * warmth * warmth);
    let rate = |pa: f64| pa * t.volume_m3 / (t.hours * 3600.0);
    let interval = [fall_pa - Z.0 * sd, fall_pa + Z.0 * sd];
    Ok(PressureResult {
        expected_pa,
        fall_pa,
        fall_pa_p90: interval,
        leak_pa_m3_s: rate(fall_pa),
        leak_pa_m3_s_p90: interval.map(rate),
        smallest_pa_m3_s: rate(Z.1 * sd),
        shows_a_leak: fall_pa > Z.0 * sd,
    })
}

/// Hours after which a leak (Pa·m³/s at test pressure) would show, nine times in ten.
#[must_use]
pub fn hours_to_see(leak_pa_m3_s: f64, t: &PressureTest) -> Option<f64> {
    let seen = pressure_test(t).ok()?.smallest_pa_m3_s * t.hours;
    (leak_pa_m3_s > 0.0).then(|| seen / leak_pa_m3_s)
}

/// Nitrogen's molar mass, kg/mol.
pub const NITROGEN_KG_MOL: f64 = 0.028_013_4;

/// A leak of nitrogen in g per year at 20 °C.
#[must_use]
pub fn nitrogen_grams_per_year(pa_m3_s: f64) -> f64 {
    grams_per_year(pa_m3_s, NITROGEN_KG_MOL, 293.15)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn test(p: f64, dt: f64) -> PressureTest {
        PressureTest {
            volume_m3: 0.015,
            start: (p, 20.0),
            end: (p, 20.0 + dt),
            hours: 24.0,
            gauge_step_pa: 1000.0,
            thermometer_k: 0.3,
        }
    }

    /// Reference §6.5 ([calc]): 1 K changes 3.4/6.8/10.2 kPa at 10/20/30 bar absolute.
    #[test]
    fn one_kelvin() {
        for (bar, kpa) in [(10.0, 3.4), (20.0, 6.8), (30.0, 10.2)] {
            let r = pressure_test(&test(bar * 1e5, 1.0)).unwrap();
            assert!(((r.expected_pa - bar * 1e5) / 1e3 - kpa).abs() < 0.05);
        }
    }

    /// Reference §4.6 ([calc]): 5 g/yr R134a from 15 l at 20 bar moves 181 Pa in 24 h: 1.3 kPa of
    /// thermometer error hides it.
    #[test]
    fn a_small_leak_is_not_seen() {
        let mut t = test(20e5, 0.0);
        t.end.0 -= 181.0;
        let r = pressure_test(&t).unwrap();
        assert!(!r.shows_a_leak && r.fall_pa_p90[0] < 0.0);
        assert!(r.smallest_pa_m3_s > 10.0 * r.leak_pa_m3_s);
        let longer = hours_to_see(r.leak_pa_m3_s, &t).unwrap();
        assert!(longer > 240.0, "{longer}");
        t.end.0 = 19.5e5;
        assert!(pressure_test(&t).unwrap().shows_a_leak);
    }
}
