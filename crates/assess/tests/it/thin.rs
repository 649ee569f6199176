//! Bad and thin data: the answer gets wider and says what it lacks; it never gets sure of what
//! nobody read. (Common practice, no source.)

use assess::{Clock, Question, outlook};
use box_model::CargoTable;
use record::{BoxFacts, Channel, Reading};

use crate::bench::{hourly, line_of, listed, readings, start, unit};

fn ahead(rows: Vec<Reading>, at_h: f64, question: Question) -> assess::Outlook {
    let facts =
        BoxFacts { unit: unit(1), listed: Some(listed("BANANAS", Some(13.5))), readings: rows };
    let clock = Clock { as_of: start().plus_hours(at_h), horizon_h: 400.0 };
    outlook(&facts, clock, &CargoTable::embedded(), question, 24).expect("an outlook")
}

fn width(o: &assess::Outlook) -> f64 {
    let (_, warm) = o.limits.first().expect("a warm limit");
    let [low, high] = warm.p90_h();
    high / low.max(0.5)
}

fn sound(days: i32) -> Vec<Reading> {
    hourly(0, 24 * days, |_| (13.5, 14.6), 13.5)
}

#[test]
fn without_ambient_it_is_wider_and_says_so() {
    let read = ahead(sound(4), 96.0, Question::PowerLostNow);
    let mut rows = sound(4);
    for r in &mut rows {
        let mut bare = Reading::new(r.unit.clone(), r.at, r.source.clone());
        for c in [Channel::Supply, Channel::Return, Channel::SetPoint] {
            if let Some(v) = r.get(c) {
                bare.set(c, v);
            }
        }
        *r = bare;
    }
    let unread = ahead(rows, 96.0, Question::PowerLostNow);
    assert!(width(&unread) > 1.15 * width(&read), "{} {}", width(&unread), width(&read));
    assert!(unread.lacks.iter().any(|l| l.contains("ambient")));
    assert!(!read.lacks.iter().any(|l| l.contains("ambient")));
}

#[test]
fn one_round_a_day_is_wider_than_a_logger() {
    let logger = ahead(sound(6), 144.0, Question::PresentCourse);
    let rounds: Vec<Reading> = sound(6).into_iter().step_by(24).collect();
    let few = ahead(rounds, 144.0, Question::PresentCourse);
    let sd = |o: &assess::Outlook| o.hours[0].cargo.sd_k;
    assert!(sd(&few) > 1.1 * sd(&logger), "{} {}", sd(&few), sd(&logger));
    assert!(few.lacks.iter().any(|l| l.contains("six hours")), "{:?}", few.lacks);
}

/// Unread for two days: it may have been dark all the time.
#[test]
fn a_stale_figure_is_not_shown_as_live() {
    let at = |h: f64| {
        let line = line_of(Some(listed("BANANAS", Some(13.5))), sound(4), h);
        let [low, high] = line.cargo_c_p90.expect("cargo");
        (high - low, line)
    };
    let (fresh, _) = at(96.0);
    let (stale, line) = at(144.0);
    assert!(stale > 2.5 * fresh, "{stale} {fresh}");
    assert!(line.reason.contains("Nothing read for 48 h"), "{}", line.reason);
}

#[test]
fn order_of_rows_and_a_stuck_sensor_do_not_fool_it() {
    let mut rows = sound(4);
    let straight = ahead(rows.clone(), 96.0, Question::PresentCourse);
    rows.reverse();
    assert_eq!(ahead(rows, 96.0, Question::PresentCourse), straight);
    // Supply stuck while return climbs to 17 °C: the cargo is not told by the stuck sensor.
    let climb = |h: f64| if h < 40.0 { 14.6 } else { 14.6 + 0.05 * (h - 40.0) };
    let mut stuck = hourly(0, 96, |h| (13.5, climb(h)), 13.5);
    for r in stuck.iter_mut().skip(40) {
        r.set(Channel::Supply, 13.4);
    }
    let o = ahead(stuck, 96.0, Question::PresentCourse);
    assert!(o.hours[0].cargo.mean_c > 15.0, "{:?}", o.hours[0].cargo);
}

/// The box was opened: an hour of warm air moves little of the cargo.
#[test]
fn an_open_door_is_no_warm_cargo() {
    let before = ahead(sound(4), 96.0, Question::PresentCourse).hours[0].cargo;
    let mut rows = sound(4);
    if let Some(r) = rows.iter_mut().rev().nth(1) {
        r.set(Channel::Supply, 19.0);
        r.set(Channel::Return, 22.0);
    }
    let after = ahead(rows, 96.0, Question::PresentCourse).hours[0].cargo;
    assert!((after.mean_c - before.mean_c).abs() < 0.5, "{before:?} {after:?}");
}

#[test]
fn chances_grow_with_time_and_repair_lowers_them() {
    let mut rows = hourly(0, 48, |_| (13.5, 14.6), 13.5);
    rows.extend(readings("49 - - - dead amb=30"));
    let dark = ahead(rows.clone(), 49.0, Question::PresentCourse);
    let soon = ahead(rows, 49.0, Question::RepairedIn(3.0));
    let chance = |o: &assess::Outlook, h: f64| o.limits[0].1.probability_by(h);
    for h in [1.0, 6.0, 12.0, 24.0, 48.0] {
        assert!(chance(&dark, h) <= chance(&dark, 2.0 * h));
        assert!(chance(&soon, h) <= chance(&dark, h) + 1e-9, "{h}");
    }
    assert!(chance(&dark, 72.0) > 0.95 && chance(&soon, 72.0) < 0.5);
}

/// Probe figures ahead start where the probes are and carry a spread of their own.
#[test]
fn probes_ahead() {
    let mut rows = sound(4);
    for (i, r) in rows.iter_mut().enumerate() {
        r.set(Channel::Probe1, 14.0 + 0.05 * ((i * 7) % 3) as f64);
        r.set(Channel::Probe2, 15.0 + 0.05 * ((i * 5) % 3) as f64);
    }
    let o = ahead(rows, 96.0, Question::PresentCourse);
    let [p1, p2, p3, _] = o.hours[0].probes;
    let (p1, p2) = (p1.expect("probe 1"), p2.expect("probe 2"));
    assert!((p1.mean_c - 14.05).abs() < 0.25 && (p2.mean_c - 15.05).abs() < 0.25, "{p1:?} {p2:?}");
    assert!(p1.sd_k >= 0.1 && p3.is_none() && o.hours.len() == 25);
}
