//! A standing circuit or a cylinder: one pressure against saturation at its temperature.

use fluids::{Refrigerant, Side};
use units::math::sqrt;
use units::temperature::ZERO_C_K;

use crate::derived::Derived;
use crate::diagnose::{Diagnosis, FaultShare};
use crate::evidence::Noise;
use crate::explain;
use crate::fault::Fault;
use crate::normal::below;
use crate::reading::{Input, Key, Refusal};

/// Excess that other gas may make, kPa; and deficit of another refrigerant, share of saturation.
const EXCESS_KPA: f64 = 280.0;
const DEFICIT: f64 = 0.5;

/// Judges a standing circuit (contract §4, fine print 7).
pub fn judge(
    input: &Input,
    fluid: &'static Refrigerant,
    noise: &Noise,
    derived: Derived,
) -> Result<Diagnosis, Refusal> {
    let (key, at, t_c) = measured(input)?;
    let sat = |t: f64| fluid.p_sat_pa(t + ZERO_C_K, Side::Bubble).map(|p| p / 1e3);
    let expected = sat(t_c).map_err(|e| Refusal(format!("{}: {e}", at.id())))?;
    let slope = sat(t_c + 0.5).unwrap_or(expected) - sat(t_c - 0.5).unwrap_or(expected);
    let gap = input.get(key).unwrap_or(0.0) + noise.barometer_kpa - expected;
    let half = noise.gauge_half_kpa.get(key.index()).copied().unwrap_or(31.0);
    let thermal = slope * noise.thermometer_k;
    let blur = sqrt(thermal * thermal + noise.weather_kpa * noise.weather_kpa);
    let weights = weights(gap, expected, half, blur);
    let faults = Fault::ALL.into_iter().map(|fault| {
        let mine = weights.iter().find(|w| w.0 == fault).map_or(0.0, |w| w.1);
        share(fault, mine, (gap, expected), (key, at, t_c), half + 2.0 * blur)
    });
    let mut faults: Vec<FaultShare> = faults.collect();
    faults.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    let mut d = Diagnosis {
        derived,
        faults,
        next: Vec::new(),
        cautions: Vec::new(),
        pairs: Vec::new(),
        alike: Vec::new(),
        questions: Vec::new(),
        mode: None,
        modulated: false,
        machine: input.machine.clone(),
    };
    d.cautions = explain::cautions(input, fluid, &d);
    Ok(d)
}

/// The pressure that is judged, and the temperature it is judged at.
fn measured(input: &Input) -> Result<(Key, Key, f64), Refusal> {
    let key = [Key::Suction, Key::Discharge, Key::Liquid]
        .into_iter()
        .find(|k| input.get(*k).is_some())
        .ok_or_else(|| Refusal("no pressure given".into()))?;
    let (at, t_c) = [Key::LiquidLine, Key::Ambient]
        .into_iter()
        .find_map(|k| input.get(k).map(|t| (k, t)))
        .ok_or_else(|| {
            let what = "a standing circuit needs its temperature: give liquid_line_c or ambient_c";
            Refusal(what.into())
        })?;
    Ok((key, at, t_c))
}

/// Probabilities of sound, other gas, other refrigerant; they sum to 1.
fn weights(gap: f64, expected: f64, half: f64, blur: f64) -> [(Fault, f64); 3] {
    // Density of the gap when the true gap is even between two ends.
    let flat = |lo: f64, hi: f64| {
        let n = 16;
        let one = |i: i32| {
            let e = -half + 2.0 * half * (f64::from(i) + 0.5) / f64::from(n);
            below((gap - e - lo) / blur) - below((gap - e - hi) / blur)
        };
        (0..n).map(one).sum::<f64>() / f64::from(n) / (hi - lo)
    };
    let sound = (below((gap + half) / blur) - below((gap - half) / blur)) / (2.0 * half);
    let raw = [
        (Fault::None, 3.0 * sound),
        (Fault::NonCondensables, flat(0.0, EXCESS_KPA)),
        // Identity is the question here: weighed like any other fault, not as a rarity.
        (Fault::WrongRefrigerant, flat(-DEFICIT * expected, 0.0)),
    ];
    let sum: f64 = raw.iter().map(|w| w.1).sum();
    if sum > 1e-12 {
        return raw.map(|(f, w)| (f, w / sum));
    }
    // Farther off than any of the three supposes: the sign decides.
    let high = f64::from(u8::from(gap > 0.0));
    [(Fault::None, 0.0), (Fault::NonCondensables, high), (Fault::WrongRefrigerant, 1.0 - high)]
}

fn share(
    fault: Fault,
    probability: f64,
    (gap, expected): (f64, f64),
    (key, at, t_c): (Key, Key, f64),
    reach: f64,
) -> FaultShare {
    let fact = format!(
        "{} is {:+.0} kPa against saturation ({expected:.0} kPa absolute) at {} {t_c} °C; gauge \
         and thermometer explain ±{reach:.0} kPa",
        key.words(),
        gap,
        at.id()
    );
    let fits = match fault {
        Fault::None => gap.abs() <= reach,
        Fault::NonCondensables => gap > reach,
        Fault::WrongRefrigerant => gap < -reach,
        _ => false,
    };
    let speaks = matches!(fault, Fault::None | Fault::NonCondensables | Fault::WrongRefrigerant);
    let (because, against) = match (speaks, fits) {
        (true, true) => (vec![fact], Vec::new()),
        (true, false) => (Vec::new(), vec![fact]),
        _ => (Vec::new(), vec!["a standing circuit does not show it".to_owned()]),
    };
    FaultShare {
        fault,
        probability,
        severity: None,
        severity_p90: None,
        detail: None,
        because,
        against,
    }
}
