//! Demand against the binomial law and the reference's table; margin by hand.

use plans::Marked;
use plans::plant::{
    BoxLoad, Generator, Mode, Plant, Reserve, Weather, demand, grouped, kva_of, margin, outlook,
    reliefs,
};

fn frozen(i: usize, kw: f64, duty: f64) -> BoxLoad {
    BoxLoad {
        id: format!("QQQU{i:07}"),
        bay: 2 + 4 * (i % 3) as u16,
        feeder: format!("feeder {}", i % 2),
        mode: Mode::Frozen,
        running_kw: Marked::measured(kw),
        running_sd_kw: 0.0,
        duty: Marked::estimate(duty),
        power_factor: 0.8,
        leak_share: 0.8,
        inside_c: -18.0,
        sun_k: 0.0,
    }
}

fn chilled(i: usize, kw: f64) -> BoxLoad {
    BoxLoad { mode: Mode::Chilled, inside_c: 2.0, ..frozen(i, kw, 1.0) }
}

/// Smallest k with P(X <= k) >= p for X binomial, by the chances themselves.
fn binomial_point(n: usize, d: f64, p: f64) -> usize {
    let mut chance = (1.0 - d).powi(n as i32);
    let mut sum = chance;
    let mut k = 0;
    while sum < p {
        chance *= (n - k) as f64 / (k + 1) as f64 * d / (1.0 - d);
        k += 1;
        sum += chance;
    }
    k
}

#[test]
fn blocks_follow_the_binomial_law() {
    for (n, d) in [(4, 0.3), (10, 0.5), (57, 0.62), (300, 0.5)] {
        let boxes: Vec<BoxLoad> = (0..n).map(|i| frozen(i, 6.0, d)).collect();
        let got = demand(&boxes, 0.0).unwrap();
        assert!((got.mean_kw - 6.0 * d * n as f64).abs() < 1e-9);
        for (p, kw) in [(0.05, got.kw_p90[0]), (0.95, got.kw_p90[1]), (0.99, got.kw_p99)] {
            let want = 6.0 * binomial_point(n, d, p) as f64;
            assert!((kw - want).abs() < 1e-3, "{n} {p}: {kw} {want}");
        }
        assert!((got.all_at_once_kw - 6.0 * n as f64).abs() < 1e-9);
    }
}

/// Reference table of the share of all-on at 99 %, 6 kW, duty 0.5: a normal approximation. Blocks
/// come in whole boxes, so the exact value lies within one box of it.
#[test]
fn share_of_all_on_as_tabulated() {
    for (n, share) in [(10, 0.87), (50, 0.66), (100, 0.62), (300, 0.57), (1000, 0.54)] {
        let boxes: Vec<BoxLoad> = (0..n).map(|i| frozen(i, 6.0, 0.5)).collect();
        let got = demand(&boxes, 0.0).unwrap().kw_p99 / (6.0 * n as f64);
        assert!((got - share).abs() < 1.0 / n as f64 + 0.005, "{n}: {got}");
    }
}

#[test]
fn errors_of_powers_and_a_shared_error_widen() {
    let mut boxes: Vec<BoxLoad> = (0..40).map(|i| chilled(i, 5.0)).collect();
    let sure = demand(&boxes, 0.0).unwrap();
    assert!((sure.kw_p90[1] - 200.0).abs() < 1e-3 && (sure.kw_p90[0] - 200.0).abs() < 1e-3);
    for b in &mut boxes {
        b.running_sd_kw = 1.0;
    }
    // Normal with sd √40: 1.6449 sd either side.
    let wide = demand(&boxes, 0.0).unwrap();
    assert!((wide.kw_p90[1] - (200.0 + 1.644_854 * 40f64.sqrt())).abs() < 1e-3);
    // A shared error of 10 % (20 kW) adds by squares; the grid of the shared error is 0.15 sd.
    let shared = demand(&boxes, 0.1).unwrap();
    let want = 200.0 + 1.644_854 * (40.0 + 400.0f64).sqrt();
    assert!((shared.kw_p90[1] - want).abs() < 0.08 * 20.0, "{} {want}", shared.kw_p90[1]);
    assert!((shared.mean_kw - 200.0).abs() < 1e-6);
}

#[test]
fn groups_add_up_and_weather_moves_the_load() {
    let mut boxes: Vec<BoxLoad> = (0..12).map(|i| frozen(i, 6.0, 0.5)).collect();
    boxes.extend((12..20).map(|i| chilled(i, 5.0)));
    for by_feeder in [false, true] {
        let parts = grouped(&boxes, by_feeder, 0.0).unwrap();
        let sum: f64 = parts.iter().map(|g| g.demand.mean_kw).sum();
        assert!((sum - 76.0).abs() < 1e-9 && parts.len() == if by_feeder { 2 } else { 3 });
    }
    let now = Weather { hour: 0.0, ambient_c: 30.0, sun: 0.0 };
    let hot = Weather { hour: 6.0, ambient_c: 40.0, sun: 0.0 };
    let then = &outlook(&boxes, &[now, hot], 0.0).unwrap()[1];
    // Frozen 48 to 58 K, chilled 28 to 38 K, 80 % of the load with the difference.
    let want = 36.0 * (1.0 + 0.8 * 10.0 / 48.0) + 40.0 * (1.0 + 0.8 * 10.0 / 28.0);
    assert!((then.demand.mean_kw - want).abs() < 1e-9);
}

fn plant(reserve: Reserve) -> Plant {
    let set = |name: &str, online| Generator {
        name: name.to_owned(),
        rated_kw: 1000.0,
        rated_kva: 1250.0,
        online,
        step_share: Marked::estimate(0.25),
    };
    Plant {
        generators: vec![set("No. 1", true), set("No. 2", true), set("No. 3", false)],
        other_kw: Marked::measured(800.0),
        other_sd_kw: 0.0,
        other_power_factor: 0.8,
        reserve,
        common_sd: Marked::estimate(0.0),
    }
}

#[test]
fn margin_by_hand() {
    let mut boxes: Vec<BoxLoad> = (0..100).map(|i| chilled(i, 6.0)).collect();
    let d = demand(&boxes, 0.0).unwrap();
    let m = margin(&plant(Reserve::Share(0.85)), &d).unwrap();
    // 0.85 × 2000 - 800 - 600.
    assert!((m.margin_kw - 300.0).abs() < 1e-9 && (m.margin_high_kw - 300.0).abs() < 1e-2);
    assert!((m.margin_kva - (0.85 * 2500.0 - 1000.0 - 750.0)).abs() < 1e-9);
    assert!((m.step_kw.value - 500.0).abs() < 1e-9 && m.step_kw.is_estimate());
    let lost = margin(&plant(Reserve::LargestLost(1.0)), &d).unwrap();
    assert!((lost.margin_kw + 400.0).abs() < 1e-9 && lost.words.contains("short by 400 kW"));
    let now = Weather { hour: 0.0, ambient_c: 32.0, sun: 1.0 };
    for b in boxes.iter_mut().take(50) {
        b.sun_k = 10.0;
    }
    let r = reliefs(&plant(Reserve::Share(0.85)), &boxes, &now).unwrap();
    assert!(r[0].what.contains("No. 3") && (r[0].gain_kw - 850.0).abs() < 1e-6);
    // 50 boxes of 6 kW, 40 K to 30 K, 80 % of it leak: 6 × 0.8 × 0.25 = 1.2 kW each.
    assert!((r[1].gain_kw - 60.0).abs() < 1e-2 && r[1].what.contains("1.20 kW"));
    assert!(demand(&[frozen(0, 6.0, 1.5)], 0.0).is_err());
}

/// Current at the greatest demand of a plug, 18.75 kVA: 27.1 A at 400 V, 24.6 A at 440 V (table of
/// ISO 1496-2 values in the GDV Container Handbook §8.1.1, currents worked out).
#[test]
fn plug_current() {
    for (volts, amps) in [(360.0, 30.1), (400.0, 27.1), (440.0, 24.6), (460.0, 23.5)] {
        assert!((kva_of(amps, volts) - 18.75).abs() < 0.05, "{volts}");
    }
}
