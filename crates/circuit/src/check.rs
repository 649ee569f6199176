//! Input that cannot be, and input that is doubtful.

use fluids::{Refrigerant, Side};
use units::temperature::{ZERO_C_K, celsius_from_fahrenheit};

use crate::evidence::Noise;
use crate::reading::{Input, Key, Refusal};

/// The refrigerant, when the input can be used at all.
pub fn usable(input: &Input) -> Result<&'static Refrigerant, Refusal> {
    if input.fluid.trim().is_empty() {
        return Err(Refusal("fluid: not given; write the name on the unit's plate".into()));
    }
    let fluid = Refrigerant::named(&input.fluid).map_err(|e| Refusal(format!("fluid: {e}")))?;
    let pressures = [Key::Suction, Key::Discharge, Key::Liquid];
    if pressures.iter().all(|k| input.get(*k).is_none()) {
        return Err(Refusal(
            "no pressure given; read at least one of suction_kpag, discharge_kpag, liquid_kpag"
                .into(),
        ));
    }
    let barometer = input.barometer_kpa.unwrap_or(crate::derived::STANDARD_KPA);
    for k in pressures {
        let Some(gauge) = input.get(k) else { continue };
        let (low, _) = fluid.pressure_range_pa(Side::Dew);
        let (_, high) = fluid.pressure_range_pa(Side::Bubble);
        let p = (gauge + barometer) * 1e3;
        if !(p >= low && p <= high) {
            return Err(Refusal(format!(
                "{}: {gauge} kPa gauge is outside {} ({:.0} to {:.0} kPa gauge); check the gauge, \
                 its unit and the fluid",
                k.id(),
                fluid.name(),
                low / 1e3 - barometer,
                high / 1e3 - barometer
            )));
        }
    }
    Ok(fluid)
}

/// What a running circuit cannot show, whatever the fault.
pub fn running(input: &Input, fluid: &Refrigerant, noise: &Noise) -> Result<(), Refusal> {
    let get = |k: Key| input.get(k);
    if let (Some(s), Some(d)) = (get(Key::Suction), get(Key::Discharge))
        && s >= d
    {
        return Err(Refusal(format!(
            "suction_kpag {s} is not below discharge_kpag {d}: swap the two, check the gauges' \
             zero, or set compressor_on to false if the compressor stands"
        )));
    }
    let slack = 4.0 * noise.gauge_half_kpa[1];
    if let (Some(l), Some(d)) = (get(Key::Liquid), get(Key::Discharge))
        && l > d + slack
    {
        return Err(Refusal(format!(
            "liquid_kpag {l} is above discharge_kpag {d}: read both gauges again"
        )));
    }
    if let (Some(s), Some(l)) = (get(Key::Suction), get(Key::Liquid))
        && s >= l
    {
        return Err(Refusal(format!(
            "suction_kpag {s} is not below liquid_kpag {l}: read both gauges again, or set \
             compressor_on to false"
        )));
    }
    let warm = 3.0 * noise.thermometer_k;
    // The widest a sensor is supposed to be off, with the clamp's own error.
    let wide = 13.0 + warm;
    let pairs = [
        (Key::LiquidLine, Key::DischargeLine, 3.0 + warm, "the liquid cannot leave hotter"),
        (Key::CondenserOut, Key::DischargeLine, 3.0 + warm, "the liquid cannot leave hotter"),
        (Key::SuctionLine, Key::Return, wide, "gas cannot be warmer than the air that warms it"),
        (Key::Supply, Key::Return, wide, "the coil cannot warm the air so far"),
    ];
    for (hot, cold, slack, why) in pairs {
        let (Some(a), Some(b)) = (get(hot), get(cold)) else { continue };
        if a > b + slack {
            return Err(Refusal(format!(
                "{} {a} is above {} {b}: {why}; read both again{}",
                hot.id(),
                cold.id(),
                fahrenheit(hot, a, b)
            )));
        }
    }
    condensing_below_air(input, fluid, noise)?;
    suction_line_colder(input, fluid, noise)
}

fn fahrenheit(key: Key, value: f64, limit: f64) -> String {
    let c = celsius_from_fahrenheit(value);
    if c < limit + 3.0 {
        format!(" (is {} in °F? {value} °F is {c:.1} °C)", key.id())
    } else {
        String::new()
    }
}

/// A running condenser is warmer than the air that cools it.
fn condensing_below_air(input: &Input, fluid: &Refrigerant, noise: &Noise) -> Result<(), Refusal> {
    let (Some(p), Some(air)) = (input.get(Key::Discharge), input.get(Key::Ambient)) else {
        return Ok(());
    };
    let condensing = |gauge_kpa: f64| {
        let pa = (gauge_kpa + noise.barometer_kpa) * 1e3;
        fluid.t_sat_k(pa, Side::Bubble).ok().map(|t| t - ZERO_C_K)
    };
    // The widest that gauge, weather and thermometer allow, and a little.
    let most = p + noise.gauge_half_kpa[1] + 2.0 * noise.weather_kpa;
    match condensing(most) {
        Some(t) if t < air - 4.0 - 3.0 * noise.thermometer_k => {}
        _ => return Ok(()),
    }
    let fits = |kpa: f64| condensing(kpa).is_some_and(|t| t > air && t < air + 40.0);
    let unit = [(100.0, "bar"), (6.894_757, "psi")].into_iter().find(|(by, _)| fits(p * by));
    let hint = unit.map_or_else(
        || "is ambient_c the air that enters the condenser, and does the compressor run?".into(),
        |(by, name)| format!("is it in {name}? {p} {name} are {:.0} kPa", p * by),
    );
    Err(Refusal(format!(
        "discharge_kpag {p} says condensing at {:.1} °C or less, colder than ambient_c {air} that \
         cools it: {hint}; read both again",
        condensing(most).unwrap_or(0.0)
    )))
}

/// No pipe of the low side is far below the evaporating temperature.
fn suction_line_colder(input: &Input, fluid: &Refrigerant, noise: &Noise) -> Result<(), Refusal> {
    let Some(p) = input.get(Key::Suction) else { return Ok(()) };
    let lowest = (p - noise.gauge_half_kpa[0] + noise.barometer_kpa).max(1.0);
    let Ok(td) = fluid.t_sat_k(lowest * 1e3, Side::Bubble) else { return Ok(()) };
    let te = td - ZERO_C_K;
    // All the air colder than the coil: the gauge was read as absolute, or is another unit's.
    let air: Vec<(Key, f64)> = [Key::Return, Key::Supply, Key::SuctionLine]
        .into_iter()
        .filter_map(|k| input.get(k).map(|t| (k, t)))
        .collect();
    if air.len() >= 2 && air.iter().all(|(_, t)| te > *t + 2.0 + 3.0 * noise.thermometer_k) {
        return Err(Refusal(format!(
            "suction_kpag {p} says the coil is at {te:.1} °C or more, warmer than {}: is it an \
             absolute pressure (subtract the barometer), or is the compressor off?",
            air.iter().map(|(k, t)| format!("{} {t}", k.id())).collect::<Vec<_>>().join(" and ")
        )));
    }
    Ok(())
}

/// Return less supply air beyond which one of the two is doubted, K; sound units have 2 to 9, and
/// the card's machine at three tenths of its air some 14.
const WIDEST_AIR_K: f64 = 15.0;

/// Discharge cut-outs trip at 120 to 140 °C (reference §2.2 and the cards, unverified).
const HOTTEST_C: f64 = 150.0;

/// What a person should look at again before trusting the answer.
pub fn doubtful(input: &Input, fluid: &Refrigerant, noise: &Noise) -> Vec<String> {
    let mut out = Vec::new();
    let b = noise.barometer_kpa;
    let sat = |k: Key, side: Side| {
        let p = input.get(k)? + b;
        fluid.t_sat_k(p * 1e3, side).ok().map(|t| t - ZERO_C_K)
    };
    if let (Some(te), Some(s)) = (sat(Key::Suction, Side::Bubble), input.get(Key::Supply))
        && te > s + 3.0
    {
        out.push(format!(
            "suction_kpag says the coil is at {te:.1} °C, warmer than supply_c {s}: is the \
             pressure absolute, or one of the two misread?"
        ));
    }
    if let (Some(r), Some(s)) = (input.get(Key::Return), input.get(Key::Supply))
        && r - s > WIDEST_AIR_K
    {
        let other = celsius_from_fahrenheit(r);
        let hint = if (0.0..10.0).contains(&(other - s)) {
            format!(" (is return_c in °F? {r} °F is {other:.1} °C)")
        } else {
            String::new()
        };
        out.push(format!(
            "return_c {r} is {:.0} K above supply_c {s}, more than a coil cools: read both \
             again{hint}",
            r - s
        ));
    }
    if let (Some(tc), Some(a)) = (sat(Key::Discharge, Side::Bubble), input.get(Key::Ambient))
        && tc < a - 2.0
    {
        out.push(format!(
            "discharge_kpag says condensing at {tc:.1} °C, below ambient_c {a}: read both again \
             (is ambient_c the air that enters the condenser?)"
        ));
    }
    if let Some(t) = input.get(Key::DischargeLine).filter(|t| *t > HOTTEST_C) {
        out.push(format!(
            "discharge_line_c {t} is hotter than a discharge cut-out lets it run: is it in °F? \
             {t} °F is {:.1} °C",
            celsius_from_fahrenheit(t)
        ));
    }
    if let (Some(td), Some(t)) = (sat(Key::Discharge, Side::Dew), input.get(Key::DischargeLine))
        && t < td - 4.0
    {
        out.push(format!(
            "discharge_line_c {t} is below condensing at {td:.1} °C: is the clamp on the discharge \
             pipe, and does it touch?"
        ));
    }
    out
}
