//! Water, ice and moist air against the `iapws` and `psychrolib` packages and printed points.

use fluids::air::{MoistAir, saturation_kpa};
use fluids::water;

fn rows(text: &str) -> impl Iterator<Item = Vec<&str>> {
    text.lines().filter(|l| !l.starts_with('#')).map(|l| l.split(',').collect())
}

fn close(what: &str, ours: f64, theirs: f64, tolerance: f64) {
    assert!((ours - theirs).abs() <= tolerance, "{what}: {ours} for {theirs}");
}

/// `tools/fluid-tables/outside.py`: the same equations coded elsewhere.
#[test]
fn water_and_ice_as_the_iapws_package() {
    let mut n = 0;
    for row in rows(include_str!("../reference/water.csv")) {
        let (t, p): (f64, f64) = (row[1].parse().unwrap(), row[2].parse().unwrap());
        let (ours, back) = match row[0] {
            "water" => (water::saturation_pa(t).unwrap(), water::boiling_k(p).unwrap()),
            _ => (water::sublimation_pa(t).unwrap(), water::frost_k(p).unwrap()),
        };
        close(row[0], ours / p, 1.0, 1e-9);
        close(row[0], back, t, 1e-6);
        n += 1;
    }
    assert_eq!(n, 120);
}

/// Printed verification values: IAPWS R7-97, tables 35 and 36; IAPWS R14-08, table 3 (230 K).
#[test]
fn printed_verification_values() {
    for (t, p) in [(300.0, 0.353_658_941e-2), (500.0, 0.263_889_776e1), (600.0, 0.123_443_146e2)] {
        close("R7-97 p", water::saturation_pa(t).unwrap() / 1e6 / p, 1.0, 1e-8);
    }
    for (p, t) in [(0.1, 0.372_755_919e3), (1.0, 0.453_035_632e3), (10.0, 0.584_149_488e3)] {
        close("R7-97 T", water::boiling_k(p * 1e6).unwrap(), t, 1e-6);
    }
    close("R14-08", water::sublimation_pa(230.0).unwrap(), 8.947_35, 1e-5);
}

/// Reference table of the project, §4.2 (computed from IAPWS-95 and R14-08): rounding of the print.
#[test]
fn ice_and_water_table() {
    for (t, p) in [
        (-50.0, 3.938),
        (-40.0, 12.841),
        (-30.0, 38.005),
        (-20.0, 103.24),
        (-10.0, 259.87),
        (-5.0, 401.74),
        (0.01, 611.66),
        (5.0, 872.6),
        (10.0, 1228.2),
        (20.0, 2339.3),
        (25.0, 3169.9),
        (30.0, 4247.0),
        (40.0, 7384.9),
        (50.0, 12_352.0),
    ] {
        close("p", water::vapour_pressure_pa(t + 273.15).unwrap() / p, 1.0, 1e-4);
    }
    for (um, t) in [(50.0, -45.6), (500.0, -24.5), (1000.0, -17.3), (5000.0, 1.2), (25_400.0, 26.1)]
    {
        let p = um * fluids::leak::PA_PER_UM_HG;
        close("T", water::temperature_k(p).unwrap() - 273.15, t, 0.06);
    }
    assert!(water::sublimation_pa(280.0).is_err() && water::saturation_pa(270.0).is_err());
    assert!(water::boiling_k(f64::NAN).is_err() && water::frost_k(700.0).is_err());
}

/// `tools/fluid-tables/outside.py`: psychrolib finds its dew point to 0.001 K and its wet bulb
/// to 0.001 K.
#[test]
fn moist_air_as_psychrolib() {
    let mut n = 0;
    for row in rows(include_str!("../reference/air.csv")) {
        let v: Vec<f64> = row.iter().map(|c| c.parse().unwrap()).collect();
        let air = MoistAir::from_humidity(v[0], v[1], v[2]).unwrap();
        close("W", air.humidity_ratio / v[3], 1.0, 1e-9);
        close("h", air.enthalpy_kj_kg(), v[4], 1e-6);
        close("v", air.volume_m3_kg(), v[5], 1e-8);
        let dew = air.dew_point_c().unwrap();
        close("dew", dew, v[6], 0.002);
        close("psat", saturation_kpa(v[0]).unwrap() / v[8], 1.0, 1e-9);
        close("RH", air.humidity_pct(), v[1], 1e-6);
        let again = MoistAir::from_dew_point(v[0], dew.min(v[0]), v[2]).unwrap();
        close("W from dew", again.humidity_ratio / air.humidity_ratio, 1.0, 1e-6);
        let wet = air.wet_bulb_c().unwrap();
        close("wet bulb", wet, v[7], 0.003);
        // Between the ice and water forms, at 0 °C, the formulas leave a step.
        if wet.abs() > 0.02 {
            let again = MoistAir::from_wet_bulb(v[0], wet, v[2]).unwrap();
            close("W from wet bulb", again.humidity_ratio, air.humidity_ratio, 1e-9);
        }
        n += 1;
    }
    assert_eq!(n, 200);
}

/// Points printed in the project's cargo reference, §5.1 (ASHRAE Fundamentals 2017 ch. 1).
#[test]
fn printed_moist_air_points() {
    for (t, rh, w, h, v, dew) in [
        (35.0, 80.0, 28.92, 109.42, 0.9135, 31.02),
        (30.0, 75.0, 20.18, 81.78, 0.8867, 25.08),
        (13.3, 90.0, 8.554, 34.99, 0.8226, 11.70),
        (0.0, 90.0, 3.395, 8.49, 0.7780, -1.27),
        (2.0, 85.0, 3.705, 11.29, 0.7841, -0.22),
        (5.0, 65.0, 3.501, 13.82, 0.7924, -0.91),
        (17.0, 70.0, 8.440, 38.48, 0.8331, 11.50),
        (20.0, 65.0, 9.473, 44.17, 0.8431, 13.23),
    ] {
        let air = MoistAir::from_humidity(t, rh, 101.325).unwrap();
        close("W", air.humidity_ratio * 1e3, w, 0.006);
        close("h", air.enthalpy_kj_kg(), h, 0.006);
        close("v", air.volume_m3_kg(), v, 6e-5);
        close("dew", air.dew_point_c().unwrap(), dew, 0.006);
    }
    close("psat 35", saturation_kpa(35.0).unwrap() * 1e3, 5627.8, 0.06);
    assert!(MoistAir::from_humidity(20.0, 101.0, 101.325).is_err());
    assert!(MoistAir::from_dew_point(20.0, 21.0, 101.325).is_err());
    assert!(MoistAir::from_wet_bulb(20.0, 21.0, 101.325).is_err());
    assert!(MoistAir::from_wet_bulb(20.0, -20.0, 101.325).is_err());
    assert!(MoistAir::from_humidity(20.0, 50.0, f64::NAN).is_err());
}
