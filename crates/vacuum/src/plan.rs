//! How long a circuit takes to evacuate.
//!
//! V·dp/dt = −S_eff(p)·(p − p_ult) from 101.325 kPa, air at 20 °C, without outgassing; with water,
//! the pump holds p_sat(coldest) until the water is gone. The time to a pressure is
//! V·∫ du/S_eff with u = ln(p − p_ult), by quadrature.

use fluids::FluidError;
use fluids::hose::{Hose, Pump};
use fluids::water::{TRIPLE_K, vapour_pressure_pa};
use units::math::{ln, pow};
use units::temperature::kelvin_from_celsius;

use crate::PA_PER_UM;
use crate::advice::{Advice, advise};
use crate::lines::Lines;
use crate::quadrature::integral;

/// Where every evacuation starts, Pa.
pub const START_PA: f64 = 101_325.0;
/// What a two-stage oil pump in fair order ends at, Pa (0.02 mbar; the example in
/// reference §4.4; from memory, unverified).
pub const USUAL_ULTIMATE_PA: f64 = 2.0;
/// Gas constant of water vapour, J/(kg·K), and the temperature at which it is pumped, K.
const BOIL_OFF: f64 = 461.5 * 293.0;
/// Heat to evaporate, and to sublime, one gram of water, J (reference §4.5).
const HEAT_J_G: (f64, f64) = (2450.0, 2840.0);

/// Water left in the circuit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Water {
    /// How much, g.
    pub mass_g: f64,
    /// Temperature of the coldest surface, °C.
    pub coldest_c: f64,
}

/// Evacuations broken with dry nitrogen before the last one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Breaks {
    /// How many breaks: two make a triple evacuation.
    pub count: u8,
    /// The pressure at which each is broken, Pa.
    pub at_pa: f64,
    /// How long the nitrogen stands, min.
    pub dwell_min: f64,
}

/// What is to be evacuated, with what.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// Volume of the circuit, m³.
    pub volume_m3: f64,
    /// The pump.
    pub pump: Pump,
    /// Hoses side by side, at least one.
    pub hoses: Vec<Hose>,
    /// A narrow place in series with every hose, such as a valve core.
    pub valve: Option<Hose>,
    /// The pressure wanted, Pa.
    pub target_pa: f64,
    /// Water in the circuit.
    pub water: Option<Water>,
    /// Nitrogen breaks.
    pub breaks: Option<Breaks>,
}

/// Where the time goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bottleneck {
    /// The hoses (and valve cores) pass less than the pump could draw.
    Hose,
    /// The pump's own speed.
    Pump,
    /// The pump's ultimate pressure is close to the target.
    Ultimate,
    /// Water boiling off.
    Water,
    /// Nitrogen breaks.
    Breaks,
}

/// The water's part of a plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoilOff {
    /// Vapour pressure at the coldest surface, Pa.
    pub p_sat_pa: f64,
    /// Whether that is over ice.
    pub ice: bool,
    /// Time at that pressure, min.
    pub time_min: f64,
    /// Heat that the surfaces must give to the water, kJ.
    pub heat_kj: f64,
}

/// An answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Minutes to the target; none when it cannot be reached.
    pub time_min: Option<f64>,
    /// Speed at the circuit at the target, m³/s.
    pub speed_m3_s: f64,
    /// The pump's ultimate pressure, Pa.
    pub limit_pa: f64,
    /// Pressure at the pump's inlet when the circuit meets the target, Pa.
    pub inlet_pa: f64,
    /// What the water takes.
    pub boil_off: Option<BoilOff>,
    /// What the nitrogen breaks take in all, min.
    pub breaks_min: Option<f64>,
    /// Share of the first air that is left after all breaks.
    pub air_left: Option<f64>,
    /// Where the time goes.
    pub bottleneck: Bottleneck,
    /// What would help, least trouble first.
    pub advice: Vec<Advice>,
}

/// The time alone, of a job that may be a changed one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Times {
    /// Minutes in all.
    pub total_min: f64,
    /// Of which water.
    pub water_min: f64,
    /// Of which nitrogen breaks.
    pub breaks_min: f64,
}

impl Job {
    pub(crate) fn lines(&self) -> Lines<'_> {
        Lines { hoses: &self.hoses, valve: self.valve, pump: self.pump }
    }

    /// Minutes from one pressure (Pa) down to another; dry, tight, without outgassing. Infinite
    /// when `to` is not above the pump's ultimate pressure.
    #[must_use]
    pub fn pump_down_min(&self, from_pa: f64, to_pa: f64) -> f64 {
        let ultimate = self.pump.ultimate_pa;
        if to_pa >= from_pa {
            return 0.0;
        }
        if to_pa <= ultimate {
            return f64::INFINITY;
        }
        let lines = self.lines();
        let slowness = |u: f64| 1.0 / lines.speed_m3_s(ultimate + units::math::exp(u));
        let area = integral(&slowness, ln(to_pa - ultimate), ln(from_pa - ultimate), 1e-8);
        self.volume_m3 * area / 60.0
    }

    /// The water's part; none without water.
    fn boil_off(&self) -> Result<Option<BoilOff>, FluidError> {
        let Some(water) = self.water.filter(|w| w.mass_g > 0.0) else { return Ok(None) };
        let t_k = kelvin_from_celsius(water.coldest_c);
        let p_sat_pa = vapour_pressure_pa(t_k)?;
        let above = p_sat_pa - self.pump.ultimate_pa;
        let kg_s = self.lines().speed_m3_s(p_sat_pa) * above / BOIL_OFF;
        let ice = t_k < TRIPLE_K;
        let time_min = if above > 0.0 { water.mass_g / 1e3 / kg_s / 60.0 } else { f64::INFINITY };
        let heat_j_g = if ice { HEAT_J_G.1 } else { HEAT_J_G.0 };
        Ok(Some(BoilOff { p_sat_pa, ice, time_min, heat_kj: water.mass_g * heat_j_g / 1e3 }))
    }

    /// The last pull: to p_sat, boil off, on to the target. Times are infinite when out of reach.
    pub(crate) fn times(&self) -> Result<Times, FluidError> {
        let water = self.boil_off()?;
        let breaks_min = self.breaks.map_or(0.0, |b| {
            f64::from(b.count) * (self.pump_down_min(START_PA, b.at_pa) + b.dwell_min)
        });
        let (last, water_min) = match water {
            None => (self.pump_down_min(START_PA, self.target_pa), 0.0),
            Some(w) if w.p_sat_pa >= START_PA => (f64::INFINITY, f64::INFINITY),
            Some(w) => {
                let down = self.pump_down_min(START_PA, w.p_sat_pa) + w.time_min;
                (down + self.pump_down_min(w.p_sat_pa, self.target_pa), w.time_min)
            }
        };
        let reachable = self.target_pa > self.pump.ultimate_pa;
        let total_min = if reachable { last + breaks_min } else { f64::INFINITY };
        Ok(Times { total_min, water_min, breaks_min })
    }

    fn bottleneck(&self, times: Times) -> Bottleneck {
        let lines = self.lines();
        let share = lines.speed_m3_s(self.target_pa) / self.pump.speed_m3_s;
        let beyond = self.target_pa <= self.pump.ultimate_pa;
        if beyond {
            Bottleneck::Ultimate
        } else if times.water_min > 0.5 * times.total_min || times.water_min.is_infinite() {
            Bottleneck::Water
        } else if times.breaks_min > 0.5 * times.total_min {
            Bottleneck::Breaks
        } else if share < 0.5 {
            Bottleneck::Hose
        } else if self.pump.ultimate_pa > 0.5 * self.target_pa {
            Bottleneck::Ultimate
        } else {
            Bottleneck::Pump
        }
    }
}

/// Plans an evacuation.
///
/// # Errors
/// [`FluidError::OutOfRange`] when a size, pressure or temperature is no possible one.
pub fn plan(job: &Job) -> Result<Plan, FluidError> {
    check(job)?;
    let times = job.times()?;
    let lines = job.lines();
    let air_left = job.breaks.map(|b| pow(b.at_pa / START_PA, f64::from(b.count)));
    Ok(Plan {
        time_min: Some(times.total_min).filter(|t| t.is_finite()),
        speed_m3_s: lines.speed_m3_s(job.target_pa),
        limit_pa: job.pump.ultimate_pa,
        inlet_pa: lines.inlet_pa(job.target_pa),
        boil_off: job.boil_off()?,
        breaks_min: job.breaks.map(|_| times.breaks_min).filter(|t| t.is_finite()),
        air_left,
        bottleneck: job.bottleneck(times),
        advice: advise(job, times)?,
    })
}

fn check(job: &Job) -> Result<(), FluidError> {
    let within = |what, unit, value: f64, min, max| {
        if value >= min && value <= max {
            Ok(())
        } else {
            Err(FluidError::OutOfRange { what, unit, value, min, max })
        }
    };
    within("volume", "l", job.volume_m3 * 1e3, 1e-3, 1e6)?;
    within("pump speed", "l/s", job.pump.speed_m3_s * 1e3, 1e-3, 1e5)?;
    within("ultimate pressure of the pump", "Pa", job.pump.ultimate_pa, 0.0, START_PA)?;
    within("number of hoses", "", job.hoses.len() as f64, 1.0, 20.0)?;
    within("target", "µmHg", job.target_pa / PA_PER_UM, 1e-3, START_PA * 0.999 / PA_PER_UM)?;
    if let Some(w) = job.water {
        within("water", "g", w.mass_g, 0.0, 1e6)?;
        within("coldest surface", "°C", w.coldest_c, -80.0, 99.0)?;
    }
    if let Some(b) = job.breaks {
        within("number of nitrogen breaks", "", f64::from(b.count), 1.0, 9.0)?;
        within("pressure of the breaks", "Pa", b.at_pa, 1e-3, START_PA)?;
        within("dwell under nitrogen", "min", b.dwell_min, 0.0, 1e4)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn job(hoses: &[(f64, f64)], target_mbar: f64) -> Job {
        let hose = |(mm, m): &(f64, f64)| Hose::new(mm / 1e3, *m).unwrap();
        Job {
            volume_m3: 0.015,
            pump: Pump { speed_m3_s: 2.36e-3, ultimate_pa: 2.0 },
            hoses: hoses.iter().map(hose).collect(),
            valve: None,
            target_pa: target_mbar * 100.0,
            water: None,
            breaks: None,
        }
    }

    /// Reference refrigeration-service.md §4.4, "Hose effect" ([calc]; computed outside the
    /// project's code). The table has one decimal.
    #[test]
    fn hose_table() {
        type Row = (&'static [(f64, f64)], [f64; 4]);
        let rows: [Row; 4] = [
            (&[(4.8, 1.8)], [1.5, 6.1, 15.9, 27.4]),
            (&[(4.8, 1.8), (4.8, 1.8)], [0.9, 3.3, 8.2, 13.9]),
            (&[(8.0, 1.8)], [0.6, 1.3, 2.7, 4.5]),
            (&[(9.5, 0.9)], [0.5, 0.8, 1.2, 1.7]),
        ];
        for (hoses, times) in rows {
            for (mbar, want) in [10.0, 2.0, 0.667, 0.333].into_iter().zip(times) {
                let t = plan(&job(hoses, mbar)).unwrap().time_min.unwrap();
                assert!((t - want).abs() < 0.051 + 0.01 * want, "{hoses:?} {mbar}: {t}");
            }
        }
    }

    /// Reference §4.4: the 4.8 mm × 1.8 m hose conducts 0.0197 l/s at 500 µm ([calc]).
    #[test]
    fn speed_at_500_um() {
        let p = plan(&job(&[(4.8, 1.8)], 0.667)).unwrap();
        assert!((p.speed_m3_s * 1e3 - 0.0197 * 2.36 / (2.36 + 0.0197)).abs() < 2e-4);
        assert_eq!(p.bottleneck, Bottleneck::Hose);
    }

    /// Without a restriction: t = (V/S)·ln((p0 − pu)/(p − pu)) (closed form, reference §4.4).
    #[test]
    fn wide_line_is_the_closed_form() {
        let j = job(&[(500.0, 0.01)], 0.667);
        let want = 0.015 / 2.36e-3 * ln((START_PA - 2.0) / (66.7 - 2.0)) / 60.0;
        let got = plan(&j).unwrap().time_min.unwrap();
        assert!((got / want - 1.0).abs() < 1e-4, "{got} {want}");
    }

    /// The same equation by the classical fourth-order Runge–Kutta rule in steps of 10 ms.
    #[test]
    fn agrees_with_small_steps() {
        let j = job(&[(6.35, 1.5), (4.8, 0.9)], 2.0);
        let lines = j.lines();
        let slope = |p: f64| -lines.speed_m3_s(p) * (p - 2.0) / j.volume_m3;
        let (mut p, mut t, h) = (START_PA, 0.0, 0.01);
        while p > 200.0 {
            let k1 = slope(p);
            let k2 = slope(p + 0.5 * h * k1);
            let k3 = slope(p + 0.5 * h * k2);
            let k4 = slope(p + h * k3);
            p += h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4);
            t += h;
        }
        let got = plan(&j).unwrap().time_min.unwrap() * 60.0;
        assert!((got - t).abs() < 0.02, "{got} {t}");
    }

    /// Reference §4.5: 2.36 l/s at 2339 Pa carries 2.45 g/min, at 611 Pa 0.64 ([calc]).
    #[test]
    fn boil_off_rates() {
        for (coldest_c, g_min, tolerance) in [(20.0, 2.45, 0.01), (0.0, 0.64, 0.005)] {
            let mut j = job(&[(500.0, 0.01)], 0.667);
            j.pump.ultimate_pa = 0.0;
            j.water = Some(Water { mass_g: 10.0, coldest_c });
            let w = plan(&j).unwrap().boil_off.unwrap();
            assert!((10.0 / w.time_min - g_min).abs() < tolerance, "{}", 10.0 / w.time_min);
        }
    }

    #[test]
    fn out_of_reach_is_no_time() {
        let mut j = job(&[(8.0, 1.8)], 0.02);
        let p = plan(&j).unwrap();
        assert_eq!((p.time_min, p.bottleneck), (None, Bottleneck::Ultimate));
        assert!(!p.advice.is_empty());
        j.target_pa = 66.7;
        j.pump.ultimate_pa = 5.0;
        // Ice at -50 °C: 3.9 Pa.
        j.water = Some(Water { mass_g: 1.0, coldest_c: -50.0 });
        let p = plan(&j).unwrap();
        assert_eq!((p.time_min, p.bottleneck), (None, Bottleneck::Water));
        assert!(!p.advice.is_empty());
    }

    /// Reference §4.5: pulls to 2 mbar broken at 1013 mbar leave 3.9e-6 of the air after two.
    #[test]
    fn breaks_dilute() {
        let mut j = job(&[(8.0, 1.8)], 0.667);
        let plain = plan(&j).unwrap().time_min.unwrap();
        j.breaks = Some(Breaks { count: 2, at_pa: 200.0, dwell_min: 5.0 });
        let p = plan(&j).unwrap();
        assert!((p.air_left.unwrap() / 3.9e-6 - 1.0).abs() < 0.01);
        assert!((p.time_min.unwrap() - plain - p.breaks_min.unwrap()).abs() < 1e-9);
    }
}
