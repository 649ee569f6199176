//! The fit and what lies ahead, against boxes made by hand from known figures. (Invented figures
//! where no source is named; what is tested is that the fit finds them again.)

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // tests may stop at once

use box_model::body::{Air, Factors, Temps};
use box_model::fit::Missing;
use box_model::prior::Size;
use box_model::{
    Ahead, BoxFit, Contents, Cooling, Course, Estimate, FitPrior, Held, Look, Moving, Side, food,
};

const SIZE: Size = Size { twenty: false, high_cube: true };

fn beef() -> FitPrior {
    let mass = Estimate::plus_minus(25_000.0, 500.0);
    FitPrior::new(SIZE, None, mass, &Contents::Frozen(food::BEEF), None, -18.0)
}

fn cheese() -> FitPrior {
    let kj_per_kg_k = Estimate::new(2.6, 2.9, 3.1);
    let contents = Contents::Chilled { kj_per_kg_k, freeze_c: None, curve: None };
    FitPrior::new(SIZE, None, Estimate::plus_minus(20_000.0, 500.0), &contents, None, 4.0)
}

fn quiet(at_h: f64, supply_c: f64, return_c: f64) -> Look {
    Look {
        at_h,
        gap_h: 1.0,
        supply_c: Some(supply_c),
        return_c: Some(return_c),
        ambient_c: Some(30.0),
        powered: Some(true),
        ..Look::default()
    }
}

/// A dark box with probes tells leakage over heat capacity: with twice the leakage the fit must
/// go up, with half of it down, and the hours with it.
#[test]
fn a_dark_box_with_probes_tells_its_leakage() {
    let told = |times: f64| {
        let prior = cheese();
        let body = prior.body.clone();
        let f = Factors { ua: times, ..Factors::default() };
        let mut fit = BoxFit::new(prior);
        for h in 0..48 {
            fit.update(&quiet(f64::from(h), 4.0, 4.6));
        }
        let mut t = Temps::all(4.3);
        for h in 48..120 {
            t = body.step(t, 0.0, Air::Heat(0.0), 30.0, f, 1.0);
            fit.update(&Look {
                at_h: f64::from(h),
                gap_h: 1.0,
                ambient_c: Some(30.0),
                probes_c: [Some(t.shell_c), Some(body.mean_c(t)), Some(t.core_c), None],
                powered: Some(false),
                ..Look::default()
            });
        }
        let pace = fit.ua_w_per_k().best / fit.capacity_factor().best;
        (pace, fit.ua_w_per_k())
    };
    let (sound, width) = told(1.0);
    let (leaky, narrow) = told(1.4);
    assert!(leaky / sound > 1.25, "{leaky} {sound}");
    let prior = BoxFit::new(cheese()).ua_w_per_k();
    assert!(narrow.high / narrow.low < prior.high / prior.low && width.best > 30.0);
}

/// Warm cargo under good supply air: the heat that return carries must be told as warm cargo,
/// which then comes down as the true one does.
#[test]
fn warm_cargo_is_told_from_the_spread() {
    let prior = cheese();
    let (body, w) = (prior.body.clone(), prior.stream_w_per_k);
    let mut fit = BoxFit::new(prior);
    let mut t = Temps { air_c: 6.0, shell_c: 11.0, core_c: 12.0 };
    for h in 0..72 {
        let load = body.load_w(t, 30.0, Factors::default());
        let (supply, back) = (4.0, 4.0 + load / w);
        fit.update(&quiet(f64::from(h), supply, back));
        t = body.step(t, 1.0, Air::At(0.5 * (supply + back)), 30.0, Factors::default(), 1.0);
    }
    let cargo = fit.cargo_c();
    let truth = body.mean_c(t);
    assert!(truth > 6.0 && cargo.low < truth && truth < cargo.high, "{truth} {cargo:?}");
}

/// Twice-daily rounds and an hourly logger of the same box: the rounds' intervals are wider.
#[test]
fn rounds_tell_less() {
    let run = |gap_h: f64| {
        let mut fit = BoxFit::new(beef());
        for i in 0..(120.0 / gap_h) as u32 {
            let look = quiet(gap_h * f64::from(i), -19.5, -18.0);
            fit.update(&Look { gap_h, ..look });
        }
        let c = fit.cargo_c();
        (c.high - c.low, fit.missing())
    };
    let ((logger, a), (rounds, b)) = (run(1.0), run(12.0));
    assert!(rounds > 1.05 * logger, "{rounds} {logger}");
    assert!(!a.contains(&Missing::FewRounds) && b.contains(&Missing::FewRounds));
}

/// A reading older than the last is left out and said so.
#[test]
fn old_readings_are_left_out() {
    let mut fit = BoxFit::new(beef());
    fit.update(&quiet(5.0, -19.5, -18.0));
    let before = fit.clone();
    fit.update(&quiet(1.0, 20.0, 20.0));
    assert_eq!(fit.cargo_c(), before.cargo_c());
    assert!(fit.missing().contains(&Missing::OutOfOrder));
}

fn settled(prior: FitPrior, supply: f64, back: f64) -> BoxFit {
    let mut fit = BoxFit::new(prior);
    for h in 0..240 {
        fit.update(&quiet(f64::from(h), supply, back));
    }
    fit
}

/// Power lost: chances rise with time, the interval holds the middle, repair helps, and the
/// same question has the same answer.
#[test]
fn crossings_are_chances() {
    let fit = settled(beef(), -20.0, -18.0);
    let dark = Ahead::on(Course::NoPower, 0.0, 300.0);
    let c = fit.limit_crossing(&dark, Side::Warm, -15.0);
    let [low, high] = c.p90_h();
    let middle = c.middle_h().expect("reached");
    assert!(low < middle && middle < high && high < 300.0, "{low} {middle} {high}");
    assert!(c.probability_by(low) < 0.08 && c.probability_by(high) > 0.92);
    assert_eq!(c, fit.limit_crossing(&dark, Side::Warm, -15.0));
    let mended = Ahead { repair: Some((4.0, -18.5)), ..dark };
    let m = fit.limit_crossing(&mended, Side::Warm, -15.0);
    assert!(m.probability_by(100.0) < 0.2 && c.probability_by(100.0) > 0.9);
    // Hours already passed come off.
    let later = Ahead::on(Course::NoPower, 10.0, 300.0);
    let l = fit.limit_crossing(&later, Side::Warm, -15.0).middle_h().expect("reached");
    assert!((middle - l - 10.0).abs() < 0.3, "{middle} {l}");
}

/// The °F slip: a frozen unit told -10 for -23 °C has no heater; leakage and fans alone warm the
/// cargo, so it is slow. A chilled set point has heaters and is not.
#[test]
fn a_frozen_unit_does_not_heat() {
    let fit = settled(beef(), -20.0, -18.0);
    let held = |set_c: f64, heats: bool| Held {
        goal_c: Estimate::plus_minus(set_c, 0.4),
        cooling: Cooling::Usual,
        heats,
        fans_high: heats,
    };
    let hours = |h: Held| {
        let ahead = Ahead::on(Course::Held(h), 0.0, 400.0);
        fit.limit_crossing(&ahead, Side::Warm, -15.0).middle_h().expect("reached")
    };
    let (slip, sign) = (hours(held(-10.0, false)), hours(held(18.0, true)));
    let dark = fit
        .limit_crossing(&Ahead::on(Course::NoPower, 0.0, 400.0), Side::Warm, -15.0)
        .middle_h()
        .expect("reached");
    assert!(slip > 0.7 * dark && slip < 1.2 * dark, "{slip} {dark}");
    assert!(sign < 0.6 * slip, "{sign} {slip}");
}

/// A unit that fades: the faster, the sooner; one that is strong enough never gets there.
#[test]
fn a_fading_unit_gets_there_in_time() {
    let fit = settled(beef(), -20.0, -18.0);
    let hours = |per_d: f64| {
        let change_per_d = Estimate::plus_minus(per_d, 0.01);
        let times = Estimate::plus_minus(2.0, 0.2);
        let held = Held {
            goal_c: Estimate::plus_minus(-18.4, 0.3),
            cooling: Cooling::TimesLoad { times, change_per_d },
            heats: false,
            fans_high: false,
        };
        let ahead = Ahead::on(Course::Held(held), 0.0, 600.0);
        fit.limit_crossing(&ahead, Side::Warm, -15.0).quantile_h(0.5)
    };
    assert_eq!(hours(0.0), None);
    let (slow, fast) = (hours(-0.05).expect("reached"), hours(-0.15).expect("reached"));
    // At 15 % a day strength meets the load after some 80 h.
    assert!(fast > 80.0 && fast < slow, "{fast} {slow}");
}

/// Air that is imagined ahead of the cargo cannot warm it faster than heat comes in.
#[test]
fn heat_bounds_the_course_of_the_air() {
    let fit = settled(cheese(), 4.0, 4.6);
    let moving = Moving {
        air_c: Estimate::plus_minus(4.3, 0.1),
        slope_k_per_h: Estimate::plus_minus(20.0, 0.1),
        bound_c: 30.0,
        extra_w: Estimate::plus_minus(900.0, 10.0),
    };
    let ahead = Ahead::on(Course::Moving(moving), 0.0, 200.0);
    let h = fit.limit_crossing(&ahead, Side::Warm, 8.0).middle_h().expect("reached");
    // 1.9 kW into 58 MJ/K is 0.12 K/h: 30 h for 3.7 K.
    assert!(h > 20.0 && h < 45.0, "{h}");
}

/// Every part of the box ahead: means in order, widths grow, probes where they were.
#[test]
fn parts_ahead() {
    let fit = settled(beef(), -20.0, -18.0);
    let all = fit.predict(&Ahead::on(Course::NoPower, 0.0, 100.0), 72);
    assert_eq!(all.len(), 73);
    let (first, last) = (all[0], all[72]);
    assert!(last.cargo.mean_c > first.cargo.mean_c + 3.0);
    assert!(last.cargo.sd_k > first.cargo.sd_k);
    assert!(last.air.mean_c > last.shell.mean_c && last.shell.mean_c > last.core.mean_c);
    assert!(first.probes.iter().all(Option::is_none));
}
