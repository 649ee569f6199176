//! Holds of known truth, and what the judge must and must not say of them.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

use fluids::water::vapour_pressure_pa;
use units::math::{exp, ln};
use vacuum::{FreeWater, Judgement, PA_PER_UM, Reading, Setup, Verdict, judge};

fn hold(minutes: u32, every_s: u32, curve: impl Fn(f64) -> f64) -> Vec<Reading> {
    (0..=minutes * 60 / every_s)
        .map(|i| f64::from(i * every_s))
        .map(|t_s| Reading { t_s, pressure_pa: curve(t_s) })
        .collect()
}

/// Multiplicative noise that is the same on every run: a Weyl sequence through a sum of twelve.
fn noisy(readings: Vec<Reading>, noise: f64, seed: f64) -> Vec<Reading> {
    let mut x = seed;
    readings
        .into_iter()
        .map(|r| {
            let mut sum = -6.0;
            for _ in 0..12 {
                x = (x * 997.0 + 0.618_033_988_749_895).fract();
                sum += x;
            }
            Reading { pressure_pa: r.pressure_pa * (1.0 + noise * sum), ..r }
        })
        .collect()
}

fn setup(coldest_c: Option<f64>) -> Setup {
    Setup { volume_m3: Some(0.015), coldest_c, fluid: Some("R134a".to_owned()), resolution_um: 0.0 }
}

fn show(j: &Judgement) -> String {
    format!(
        "{:?} {:?} rise {:?} limit {:?} {:?} watch {} {:?}",
        j.verdict,
        j.probabilities,
        j.rise_um_min,
        j.moisture_limit_pa,
        j.free_water,
        j.watch_longer_min,
        j.watch_longer_sure
    )
}

/// Reference refrigeration-service.md §4.7, test vector LM ([calc]).
fn lm(t: f64) -> f64 {
    40.0 + 2.5e-4 / 0.015 * t + 150.0 * (1.0 - exp(-t / 300.0))
}

#[test]
fn the_published_vector() {
    for (t, p) in [(0.0, 40.0), (60.0, 68.190), (600.0, 179.700), (3600.0, 249.999)] {
        assert!((lm(t) - p).abs() < 2e-3);
    }
    for (noise, tolerance) in [(0.0, 0.04), (0.01, 0.1)] {
        let j = judge(&noisy(hold(60, 10, lm), noise, 0.3), &setup(Some(20.0)));
        println!("{}", show(&j));
        assert_eq!(j.verdict, Verdict::WetAndLeaking);
        let leak = j.leak_pa_m3_s.unwrap();
        assert!((leak.mid / 2.5e-4 - 1.0).abs() < tolerance, "{leak:?}");
        assert!(leak.p90[0] < 2.5e-4 && leak.p90[1] > 2.5e-4, "{leak:?}");
        assert!((j.moisture_limit_pa.unwrap().mid / 190.0 - 1.0).abs() < tolerance);
        assert_eq!(j.free_water, FreeWater::No);
    }
}

#[test]
fn level_is_dry_and_never_more_is_said() {
    for noise in [0.0, 0.01, 0.03, 0.05] {
        let j = judge(&noisy(hold(30, 10, |_| 40.0), noise, 0.1), &setup(Some(20.0)));
        println!("{}", show(&j));
        assert_eq!(j.verdict, Verdict::DryAndGrossTight);
        assert_eq!(j.free_water, FreeWater::No);
        assert_eq!(j.watch_longer_min, 0.0);
        let said = format!("{j:?}").to_lowercase();
        assert!(!said.contains("leak-free") && !said.contains("leak free"));
    }
}

#[test]
fn straight_is_a_leak() {
    for (q, noise) in [(2.5e-4, 0.02), (2.5e-3, 0.05), (1e-4, 0.01)] {
        let j =
            judge(&noisy(hold(30, 10, |t| 40.0 + q / 0.015 * t), noise, 0.7), &setup(Some(20.0)));
        println!("{}", show(&j));
        assert_eq!(j.verdict, Verdict::Leaking);
        assert!((j.leak_pa_m3_s.unwrap().mid / q - 1.0).abs() < 0.1);
    }
}

#[test]
fn saturating_is_wet() {
    let bound = |t: f64| 40.0 + 150.0 * (1.0 - exp(-t / 300.0));
    let j = judge(&noisy(hold(30, 10, bound), 0.02, 0.2), &setup(Some(20.0)));
    println!("{}", show(&j));
    assert_eq!((j.verdict, j.free_water), (Verdict::Wet, FreeWater::No));
    assert!((j.moisture_limit_pa.unwrap().mid / 190.0 - 1.0).abs() < 0.05);
}

/// Liquid at 10 °C and ice at −20 °C: the plateau is p_sat (reference §4.2).
#[test]
fn the_plateau_of_water_and_ice() {
    for (cold_c, tau) in [(10.0, 240.0), (-20.0, 300.0), (-20.0, 20.0)] {
        let p = vapour_pressure_pa(cold_c + 273.15).unwrap();
        let curve = |t: f64| p - (p - 30.0) * exp(-t / tau);
        let j = judge(&noisy(hold(30, 10, curve), 0.02, 0.4), &setup(Some(cold_c)));
        println!("{}", show(&j));
        assert_eq!((j.verdict, j.free_water), (Verdict::Wet, FreeWater::Yes), "{cold_c}");
        let unknown = judge(&noisy(hold(30, 10, curve), 0.02, 0.4), &setup(None));
        assert_eq!(unknown.free_water, FreeWater::Unknown);
    }
}

/// Contract §5, fine print 5: within a tenth of p_sat(coldest) never dry, nor free water "no".
#[test]
fn a_hold_at_p_sat_is_never_dry() {
    for cold_c in [-30.0, -20.0, -5.0, 5.0, 20.0] {
        let p = vapour_pressure_pa(cold_c + 273.15).unwrap();
        for share in [0.9, 0.95, 1.0, 1.05, 1.1] {
            for noise in [0.0, 0.02, 0.05] {
                let j =
                    judge(&noisy(hold(30, 10, |_| share * p), noise, 0.9), &setup(Some(cold_c)));
                assert!(matches!(j.verdict, Verdict::Wet | Verdict::Undecided));
                assert_ne!(j.verdict, Verdict::DryAndGrossTight, "{cold_c} {share} {noise}");
                assert_ne!(j.free_water, FreeWater::No, "{cold_c} {share} {noise}");
            }
        }
        // Half of it and level is dry.
        let j = judge(&hold(30, 10, |_| 0.5 * p), &setup(Some(cold_c)));
        println!("{cold_c} {}", show(&j));
        assert_eq!(j.free_water, FreeWater::No);
    }
}

#[test]
fn outgassing_is_never_wet_or_leaking() {
    let forms: [fn(f64) -> f64; 4] = [
        |t| 40.0 + 5.0 * ln(1.0 + t / 60.0),
        |t| 30.0 + 2.0 * ln(1.0 + t / 20.0),
        |t| 40.0 + 0.3 * t.sqrt(),
        |t| 40.0 + 4.0 * t.sqrt(),
    ];
    for f in forms {
        for noise in [0.01, 0.03] {
            let j = judge(&noisy(hold(30, 10, f), noise, 0.5), &setup(Some(20.0)));
            println!("{}", show(&j));
            assert!(matches!(j.verdict, Verdict::DryAndGrossTight | Verdict::Undecided));
        }
    }
}

#[test]
fn slow_rises_in_noise_are_undecided() {
    // 0.6 µm/min for 12 min under 5 % noise, read every minute.
    let curve = |t: f64| 40.0 + 0.6 * PA_PER_UM / 60.0 * t;
    let j = judge(&noisy(hold(12, 60, curve), 0.05, 0.6), &setup(Some(20.0)));
    println!("{}", show(&j));
    assert_ne!(j.verdict, Verdict::DryAndGrossTight);
    assert!(j.watch_longer_min > 0.0);
    let few = judge(&hold(3, 60, |_| 40.0), &setup(None));
    assert_eq!(few.verdict, Verdict::Undecided);
    assert!(few.watch_longer_min > 0.0);
}

/// A display in steps of 50 µm that stands still for half an hour may hide no more than a fraction
/// of a step in that time; one that moved by two steps did rise.
#[test]
fn a_coarse_display() {
    let judged = |rise_um_min: f64, noise: f64| {
        let curve = |t: f64| (300.0 + rise_um_min * t / 60.0) * PA_PER_UM;
        let mut readings = noisy(hold(30, 10, curve), noise, 0.25);
        for r in &mut readings {
            r.pressure_pa = (r.pressure_pa / PA_PER_UM / 50.0).round() * 50.0 * PA_PER_UM;
        }
        let j = judge(&readings, &Setup { resolution_um: 50.0, ..setup(Some(20.0)) });
        println!("{rise_um_min} {noise} {}", show(&j));
        j
    };
    assert_eq!(judged(0.0, 0.01).verdict, Verdict::DryAndGrossTight);
    for noise in [0.01, 0.03] {
        // 9 µm of noise carries a reading over an edge now and then: no rise.
        let still = judged(0.0, noise).verdict;
        assert!(matches!(still, Verdict::DryAndGrossTight | Verdict::Undecided));
        for rise in [2.0, 4.0, 8.0] {
            let j = judged(rise, noise);
            assert_ne!(j.verdict, Verdict::DryAndGrossTight);
            assert_ne!(j.verdict, Verdict::Wet);
        }
        assert_eq!(judged(8.0, noise).verdict, Verdict::Leaking);
    }
}

/// A display in steps of 50 µm, noise of 5 % and a rise of 1.4 µm/min from 200 µm: the upper of two
/// steps is seen more and more often, from one in ninety to nine in ten (normal distribution, edge
/// 225 µm). Not tight by the contract's 0.5 µm/min, so that it must not be called dry, but for one hold
/// in twenty in which the noise hides it.
#[test]
fn a_flickering_display_tells_the_rise() {
    let step = 50.0 * PA_PER_UM;
    let setup = Setup { resolution_um: 50.0, ..setup(Some(11.5)) };
    let (mut leaking, mut wrong, mut seen) = (0, 0, 0);
    for seed in 1..=20 {
        let curve = |t: f64| (200.0 + 1.4 * t / 60.0) * PA_PER_UM;
        let mut readings = noisy(hold(30, 10, curve), 0.05, f64::from(seed) / 21.0);
        for r in &mut readings {
            r.pressure_pa = (r.pressure_pa / step).round() * step;
        }
        let j = judge(&readings, &setup);
        wrong += u32::from(j.verdict == Verdict::DryAndGrossTight);
        leaking += u32::from(j.verdict == Verdict::Leaking);
        let [low, high] = j.rise_um_min.unwrap().p90;
        seen += u32::from(low <= 1.4 && 1.4 <= high);
    }
    println!("leaking {leaking}, dry {wrong}, rise in its interval {seen} of 20");
    assert!(wrong <= 1 && leaking > wrong && seen >= 15, "{leaking}, {wrong}, {seen}");
}

/// Water in a box in the sun: 40 °C, 55 392 µm (reference §4.2), wet without a temperature told.
#[test]
fn warm_water_is_no_leak() {
    let curve = |t: f64| (300.0 + 55_092.0 * (1.0 - exp(-t / 240.0))) * PA_PER_UM;
    let j = judge(&noisy(hold(30, 20, curve), 0.02, 0.4), &setup(None));
    let p = j.probabilities;
    assert!(p.wet > 3.0 * p.wet_and_leaking && p.leaking < 0.01, "{}", show(&j));
}

#[test]
fn one_at_a_time_is_all_at_once_and_the_band_holds_what_comes() {
    let all = noisy(hold(60, 15, lm), 0.02, 0.8);
    let mut live = vacuum::Hold::new(setup(Some(20.0)));
    for r in all.iter().rev().filter(|r| r.t_s <= 1500.0) {
        live.push(*r);
    }
    let j = live.judgement();
    let mut sorted: Vec<Reading> = live.readings().to_vec();
    sorted.reverse();
    assert_eq!(j, judge(&sorted, &setup(Some(20.0))));
    let later = all.iter().filter(|r| r.t_s > 1500.0 && r.t_s < 2400.0);
    let inside = |r: &&Reading| {
        let b = j.band(r.t_s).unwrap();
        b.low_pa <= r.pressure_pa && r.pressure_pa <= b.high_pa
    };
    let n = later.clone().count();
    let k = later.filter(inside).count();
    assert!(k * 10 >= n * 7, "{k} of {n}");
    assert!(!j.fits.is_empty());
}

#[test]
fn nothing_panics() {
    let one = Reading { t_s: 100.0, pressure_pa: 0.0 };
    for n in [0, 1, 7, 50] {
        for readings in
            [vec![one; n], hold(n as u32, 60, |_| 0.0), hold(n as u32, 60, |t| t * 200.0)]
        {
            let j = judge(&readings, &setup(Some(-30.0)));
            let p = j.probabilities;
            let sum = p.dry_and_gross_tight + p.wet + p.leaking + p.wet_and_leaking;
            assert!((sum - 1.0).abs() < 1e-9, "{n}");
        }
    }
}
