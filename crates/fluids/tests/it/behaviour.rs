//! Refusals, text, answers for the command line, the diagram, and properties that always hold.

use fluids::answer::Given;
use fluids::diagram::Point;
use fluids::refrigerant::NAMES;
use fluids::text::{NotRead, parse_pressure, parse_temperature_c};
use fluids::{FluidError, Phase, Refrigerant, Side, saturation_answer, state_answer};
use proptest::prelude::*;

#[test]
fn every_table_names_its_sources_and_is_small() {
    let all = Refrigerant::all().unwrap();
    assert_eq!(all.len(), NAMES.len());
    for f in all {
        let sources = f.sources();
        assert!(sources.contains("CoolProp 8") && sources.contains("equation_of_state="));
        assert!(f.table_bytes() < 1_000_000, "{}: {}", f.name(), f.table_bytes());
        let (cold, top) = f.saturation_range_k();
        let triple = if f.name() == "R744" { 216.592 } else { 213.15 };
        assert!(cold <= triple && top > f.critical().0 - 1.0, "{}", f.name());
        assert!(f.temperature_range_k().1 >= 423.15);
        assert_eq!(f.sources().contains("mixture_model="), f.is_blend());
    }
    assert_eq!(Refrigerant::named("co2").unwrap().name(), "R744");
    assert_eq!(Refrigerant::named(" r-134A").unwrap().name(), "R134a");
    let e = Refrigerant::named("R12").unwrap_err();
    assert!(e.to_string().contains("R12") && e.to_string().contains("R452A"));
}

#[test]
fn outside_is_an_error_with_both_ends() {
    for name in NAMES {
        let f = Refrigerant::named(name).unwrap();
        let (cold, top) = f.saturation_range_k();
        for t in [cold - 0.01, top + 0.01, f64::NAN, f64::INFINITY] {
            let e = f.p_sat_pa(t, Side::Dew).unwrap_err();
            assert!(matches!(e, FluidError::OutOfRange { unit: "°C", .. }), "{name} {e}");
        }
        let p_max = f.pressure_max_pa();
        for p in [-1.0, 0.0, p_max * 1.001, f64::NAN, f64::INFINITY] {
            assert!(f.state_pt(p, 300.0).is_err(), "{name} {p}");
            assert!(f.t_sat_k(p, Side::Bubble).is_err(), "{name} {p}");
            assert!(f.state_ph(p, 400e3).is_err() && f.state_ps(p, 1700.0).is_err());
        }
        for t in [cold - 0.01, f.temperature_range_k().1 + 0.01, f64::NAN] {
            assert!(f.state_pt(1e5, t).is_err(), "{name} {t}");
        }
        let (tc, pc) = f.critical();
        let e = f.state_pt(pc, tc).unwrap_err();
        assert!(matches!(e, FluidError::NearCritical { .. }), "{name} {e}");
        assert!(f.state_pq(1e6, 1.5).is_err() && f.state_pq(1e6, f64::NAN).is_err());
        assert!(f.state_ph(1e6, 5e6).is_err() && f.state_ph(1e6, -5e6).is_err());
        assert!(f.state_ps(1e6, 5e3).is_err() && f.state_ps(1e6, -5e3).is_err());
    }
    let e = Refrigerant::named("R134a").unwrap().p_sat_pa(400.0, Side::Dew).unwrap_err();
    let text = e.to_string();
    assert!(text.contains("126.85") && text.contains("-100") && text.contains("101.06"), "{text}");
}

/// Dry ice: reference §1.1, R744 below −56.56 °C; its liquid freezes under pressure.
#[test]
fn frozen_carbon_dioxide_is_refused() {
    let f = Refrigerant::named("R744").unwrap();
    assert!(matches!(f.state_pt(15e6, 217.5), Err(FluidError::Frozen { .. })));
    assert!(f.state_pt(101_325.0, 293.15).is_ok());
    let (cold, _) = f.saturation_range_k();
    assert!((cold - 273.15 + 56.56).abs() < 0.01);
    assert!((f.pressure_range_pa(Side::Dew).0 / 1e5 - 5.18).abs() < 0.01);
}

#[test]
fn transport_where_there_is_a_model() {
    for name in NAMES {
        let f = Refrigerant::named(name).unwrap();
        let got = f.transport(1e5, 293.15);
        assert_eq!(got.is_ok(), !["R452A", "R513A"].contains(&name), "{name} {got:?}");
    }
    let e = Refrigerant::named("R452A").unwrap().transport(1e5, 293.15).unwrap_err();
    assert!(matches!(e, FluidError::NotAvailable { .. }) && e.to_string().contains("blend"));
}

#[test]
fn pressures_as_written() {
    let p = |t: &str| parse_pressure(t, 101.325).unwrap();
    assert!((p("1.8psig").absolute_kpa - (101.325 + 1.8 * 6.894_757)).abs() < 1e-5);
    assert!((p("0.35barg").gauge_kpa - 35.0).abs() < 1e-9);
    assert!((p(" 0,35 bar(g)").gauge_kpa - 35.0).abs() < 1e-9);
    // 500 µm = 66.66 Pa = 29.90 inHg below a 29.92 barometer (reference §4.1).
    assert!((p("500um").absolute_kpa - 0.066_66).abs() < 1e-5);
    assert!((p("500 micron").absolute_kpa - p("500µm").absolute_kpa).abs() < 1e-12);
    assert!((p("29.90inHgv").absolute_kpa * 1e3 / 66.66 - 1.0).abs() < 0.1);
    assert!((p("14.7psia").gauge_kpa - 0.028).abs() < 1e-3);
    assert!((p("-0.2 barg").absolute_kpa - 81.325).abs() < 1e-9);
    for t in ["1.8", "1.8 furlong", "1.8C", "1e3psig"] {
        let e = parse_pressure(t, 101.325).unwrap_err();
        assert!(matches!(e, NotRead::Unit { .. }) && e.to_string().contains("psig"), "{e}");
    }
    for t in ["1.8psi", "2bar", "200 kPa", "5 mbar", "70Pa"] {
        let e = parse_pressure(t, 101.325).unwrap_err();
        assert!(matches!(e, NotRead::GaugeOrAbsolute { .. }), "{t} {e}");
    }
    for t in ["", "psig", "nanbarg", "1,234psig", "--1barg"] {
        assert!(matches!(parse_pressure(t, 101.325), Err(NotRead::Number { .. })), "{t}");
    }
    assert!(matches!(parse_pressure("-2barg", 101.325), Err(NotRead::Impossible { .. })));
    for b in [0.0, 1013.25, f64::NAN] {
        assert!(matches!(parse_pressure("1barg", b), Err(NotRead::Barometer { .. })));
    }
}

#[test]
fn temperatures_as_written() {
    assert_eq!(parse_temperature_c("-18C"), Ok(-18.0));
    assert_eq!(parse_temperature_c("−18 °C"), Ok(-18.0));
    assert!((parse_temperature_c("34F").unwrap() - 10.0 / 9.0).abs() < 1e-12);
    assert_eq!(parse_temperature_c("273.15K"), Ok(0.0));
    assert!(parse_temperature_c("34").unwrap_err().to_string().contains("C F K"));
    assert!(matches!(parse_temperature_c("-300C"), Err(NotRead::Impossible { .. })));
    assert!(matches!(parse_temperature_c("warm"), Err(NotRead::Number { .. })));
}

/// Reference §1.3 and §8.2 through the command's answers.
#[test]
fn answers_for_the_command() {
    let a = saturation_answer("R452A", Given::PressureKpa(272.85)).unwrap();
    assert!((a.dew_c + 20.0).abs() < 1e-3 && a.t_c.is_none() && a.bubble_kpa == 272.85);
    let b = saturation_answer("R452A", Given::TemperatureC(-20.0)).unwrap();
    assert!((b.bubble_kpa / 320.09 - 1.0).abs() < 1e-4 && b.p_kpa.is_none());
    assert!((b.glide_k.unwrap() - 4.18).abs() < 0.006);
    assert!((a.glide_k.unwrap() - b.glide_k.unwrap()).abs() < 1e-3);
    let c = saturation_answer("r134a", Given::TemperatureC(25.0)).unwrap();
    assert!((c.p_kpa.unwrap() - 665.381).abs() < 1e-3 && c.glide_k == Some(0.0));

    let s = state_answer("R452A", 272.85, -14.0).unwrap();
    assert_eq!(s.phase, Phase::SuperheatedVapour);
    assert!((s.superheat_k.unwrap() - 6.0).abs() < 0.01 && s.subcooling_k.is_none());
    let s = state_answer("R452A", 1901.9, 36.0).unwrap();
    assert_eq!(s.phase, Phase::SubcooledLiquid);
    assert!((s.subcooling_k.unwrap() - 4.0).abs() < 0.01 && s.superheat_k.is_none());
    let s = state_answer("R452A", 1901.9, 41.0).unwrap();
    assert_eq!(s.phase, Phase::TwoPhase);
    assert!(s.quality.unwrap() > 0.1 && s.quality.unwrap() < 0.9 && s.cp_kj_kgk.is_none());
    let s = state_answer("R744", 9000.0, 40.0).unwrap();
    assert_eq!(s.phase, Phase::Supercritical);
    // IIR reference of every table: 200 and 1 at 0 °C.
    for name in NAMES {
        let f = Refrigerant::named(name).unwrap();
        let x = f.saturated_at_t(273.15, Side::Bubble).unwrap();
        let (h, s) = f.iir_offsets();
        assert!((x.h_j_kg - h - 200e3).abs() < 0.1 && (x.s_j_kgk - s - 1e3).abs() < 1e-3);
        assert!(f.is_blend() || h.abs() < 1.0, "{name}: {h}");
    }
}

#[test]
fn diagram_has_its_lines_in_order() {
    for name in NAMES {
        let f = Refrigerant::named(name).unwrap();
        let d = f.diagram(&f.usual_frame().unwrap()).unwrap();
        assert!(d.bubble.len() > 50 && d.dew.len() > 50, "{name}");
        let (a, b) = (d.bubble.last().unwrap(), d.dew.last().unwrap());
        // The dome closes: exactly for pure fluids, to a few kJ/kg for blends (0.6 K short).
        assert!((a.h_kj_kg - b.h_kj_kg).abs() < if f.is_blend() { 60.0 } else { 1.5 }, "{name}");
        assert!(d.isotherms.len() > 12 && d.isentropes.len() > 6, "{name}");
        assert_eq!(d.qualities.len(), 9, "{name}");
        for c in d.isotherms.iter().chain(&d.isentropes).chain(&d.qualities) {
            assert!(c.points.windows(2).all(|w| w[0].p_kpa <= w[1].p_kpa), "{name} {}", c.value);
            assert!(c.points.iter().all(|p| p.h_kj_kg.is_finite()));
        }
        for c in &d.isentropes {
            assert!(c.points.windows(2).all(|w| w[0].h_kj_kg < w[1].h_kj_kg), "{name} {}", c.value);
        }
        // Across the dome once, and never back; only cold liquid gains a little under pressure.
        for c in &d.isotherms {
            let back = |w: &[Point]| w[1].h_kj_kg - w[0].h_kj_kg > 1.0;
            assert!(!c.points.windows(2).any(back), "{name} {}", c.value);
        }
        let mut bad = f.usual_frame().unwrap();
        bad.p_to_kpa = 1.0;
        assert!(f.diagram(&bad).is_err());
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 3000, ..ProptestConfig::default() })]

    /// Density falls and entropy and enthalpy rise with temperature at constant pressure, whichever
    /// block the two states lie in; p,h and p,s lead back.
    #[test]
    fn one_state_after_another(
        n in 0..NAMES.len(),
        share_p in 0.0..1.0f64,
        share_t in 0.0..1.0f64,
        by in 0.05..5.0f64,
    ) {
        let f = Refrigerant::named(NAMES[n]).unwrap();
        let (cold, warm) = f.temperature_range_k();
        let p = 100.0 * units::math::pow(f.pressure_max_pa() / 100.0, share_p);
        let t = cold + (warm - by - cold) * share_t;
        if let (Ok(a), Ok(b)) = (f.state_pt(p, t), f.state_pt(p, t + by)) {
            prop_assert!(b.h_j_kg > a.h_j_kg && b.s_j_kgk > a.s_j_kgk);
            prop_assert!(b.rho_kg_m3 < a.rho_kg_m3);
            let lean = f.h_s_rho(p, t).unwrap();
            prop_assert!((lean.0 - a.h_j_kg).abs() < 1e-6 && (lean.1 - a.s_j_kgk).abs() < 1e-9);
            prop_assert!((lean.2 / a.rho_kg_m3 - 1.0).abs() < 1e-12);
            let from_h = f.state_ph(p, a.h_j_kg).unwrap();
            prop_assert!((from_h.t_k - t).abs() < 1e-3, "{} for {t}", from_h.t_k);
            let from_s = f.state_ps(p, a.s_j_kgk).unwrap();
            prop_assert!((from_s.t_k - t).abs() < 1e-3, "{} for {t}", from_s.t_k);
        }
    }

    /// Both ways along both lines.
    #[test]
    fn lines_both_ways(n in 0..NAMES.len(), share in 0.0..1.0f64, dew in any::<bool>()) {
        let f = Refrigerant::named(NAMES[n]).unwrap();
        let side = if dew { Side::Dew } else { Side::Bubble };
        let (cold, top) = f.saturation_range_k();
        let t = cold + (top - cold) * share;
        let p = f.p_sat_pa(t, side).unwrap();
        // The project's goal for the saturation temperature, 0.2 mK; ten times that at the top.
        let slack = if t > f.critical().0 - 2.0 { 2e-3 } else { 2e-4 };
        prop_assert!((f.t_sat_k(p, side).unwrap() - t).abs() < slack);
        let (bubble, dew) = (f.p_sat_pa(t, Side::Bubble), f.p_sat_pa(t, Side::Dew));
        prop_assert!(bubble.unwrap() >= dew.unwrap() * (1.0 - 1e-6));
    }

    #[test]
    fn no_text_panics(text in ".{0,24}", b in 70.0..120.0f64) {
        let _ = parse_pressure(&text, b);
        let _ = parse_temperature_c(&text);
        let _ = Refrigerant::named(&text);
    }
}
