//! The list as a whole: order, no panic, history, view, and how long it takes.

use assess::Clock;
use box_model::CargoTable;
use proptest::prelude::*;
use record::{BoxFacts, Channel, ListedUnit, Mode, Reading, Span, State};

use crate::bench::{hourly, listed, readings, start, unit};

fn any_reading(n: u32) -> impl Strategy<Value = Reading> {
    let value = prop_oneof![8 => -30.0..30.0f64, 1 => -300.0..2000.0f64, 1 => Just(0.0)];
    (
        -30i64..200,
        proptest::collection::vec(proptest::option::of(value), 13),
        proptest::option::of(any::<bool>()),
        0usize..5,
        proptest::option::of("[A-Z0-9]{0,4}"),
        0usize..2,
    )
        .prop_map(move |(h, values, power, mode, alarm, source)| {
            let at = start().plus_hours(h as f64 / 2.0);
            let mut r = Reading::new(unit(n), at, ["round", "logger"][source].into());
            for (c, v) in Channel::ALL.into_iter().zip(values) {
                if let Some(v) = v {
                    r.set(c, v);
                }
            }
            r.on_power = power;
            let modes = [Mode::Chilled, Mode::Frozen, Mode::Defrost, Mode::Off];
            r.mode = modes.get(mode).copied();
            r.alarm = alarm.map(Into::into);
            r
        })
}

fn any_list() -> impl Strategy<Value = Option<ListedUnit>> {
    let cargo = prop_oneof![
        Just("BANANAS"),
        Just("CITRUS"),
        Just("FROZEN FISH"),
        Just("PHARMA"),
        Just("BEEF"),
        Just("TULIP BULBS"),
        Just("")
    ];
    let set = proptest::option::of(-65.0..40.0f64);
    let list = (
        cargo,
        set,
        proptest::option::of(any::<bool>()),
        proptest::option::of(0.0..40_000.0f64),
        proptest::option::of((-30.0..20.0f64, 0.0..5.0f64)),
        any::<bool>(),
    )
        .prop_map(|(cargo, set, full, weight, range, thermal)| ListedUnit {
            full,
            weight_kg: weight,
            range_c: range.map(|(low, wide)| [low, low + wide]),
            thermal,
            ..listed(cargo, set)
        });
    proptest::option::of(list)
}

fn any_facts(n: u32) -> impl Strategy<Value = BoxFacts> {
    (any_list(), proptest::collection::vec(any_reading(n), 0..30))
        .prop_map(move |(listed, readings)| BoxFacts { unit: unit(n), listed, readings })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn no_facts_panic_and_the_order_holds(
        a in any_facts(1), b in any_facts(2), c in any_facts(3), d in any_facts(4),
        horizon_h in -10.0..900.0f64,
    ) {
        let table = CargoTable::embedded();
        let clock = Clock { as_of: start().plus_hours(90.0), horizon_h };
        let all = [a, b, c, d];
        let list = assess::watch(&all, clock, &table);
        let rank = |l: &record::BoxLine| {
            (l.state == State::Ok, l.hours_to_limit.unwrap_or(f64::INFINITY))
        };
        for pair in list.boxes.windows(2) {
            let (x, y) = (rank(&pair[0]), rank(&pair[1]));
            let (fine, next_fine) = (x.0, y.0);
            prop_assert!(next_fine || !fine, "a box that is fine before one that is not");
            prop_assert!(next_fine || x.1 <= y.1);
        }
        for line in &list.boxes {
            prop_assert!(!line.reason.is_empty() && !line.action.is_empty());
            prop_assert_eq!(line.hours_to_limit.is_some(), line.hours_to_limit_p90.is_some());
            if let (Some(h), Some([low, high])) = (line.hours_to_limit, line.hours_to_limit_p90) {
                prop_assert!(0.0 <= low && low <= h && h <= high && h.is_finite());
                prop_assert!(high <= horizon_h.max(0.0) + 0.01, "{} {}", high, horizon_h);
                prop_assert!(line.state != State::Ok && line.limit.is_some());
            }
            if let Some([low, high]) = line.cargo_c_p90 {
                prop_assert!(low <= high && low.is_finite() && high.is_finite());
            }
            for pair in line.findings.windows(2) {
                prop_assert!(pair[0].state >= pair[1].state);
            }
        }
        for facts in &all {
            let line = assess::box_line(facts, clock, &table);
            let span = Span { from: start(), to: clock.as_of };
            let past = assess::history(facts, &line, span, &table);
            for trace in &past.traces {
                for piece in &trace.pieces {
                    prop_assert!(!piece.is_empty() && piece.is_sorted_by_key(|(t, _)| *t));
                }
            }
            let view = assess::box_view(facts, clock, &table);
            prop_assert_eq!(view.line, line);
        }
    }

    /// The same facts give the same line in whatever order the rows came.
    #[test]
    fn the_order_of_rows_does_not_matter(facts in any_facts(1)) {
        let table = CargoTable::embedded();
        let clock = Clock { as_of: start().plus_hours(90.0), horizon_h: 300.0 };
        let mut sorted = facts;
        sorted.readings.sort_by_key(|r| r.at);
        sorted.readings.dedup_by_key(|r| r.at);
        let mut turned = sorted.clone();
        turned.readings.reverse();
        prop_assert_eq!(
            assess::box_line(&sorted, clock, &table),
            assess::box_line(&turned, clock, &table)
        );
    }
}

#[test]
fn who_is_on_the_list() {
    let dry = BoxFacts {
        unit: unit(7),
        listed: Some(ListedUnit { thermal: false, ..ListedUnit::default() }),
        readings: Vec::new(),
    };
    let thermal = BoxFacts {
        unit: unit(8),
        listed: Some(listed("BANANAS", Some(13.5))),
        readings: Vec::new(),
    };
    let clock = Clock { as_of: start(), horizon_h: 300.0 };
    let list = assess::watch(&[dry, thermal], clock, &CargoTable::embedded());
    let units: Vec<_> = list.boxes.iter().map(|b| b.unit.clone()).collect();
    assert_eq!(units, [unit(8)]);
}

#[test]
fn a_history_has_gaps_and_spells() {
    let mut rows = hourly(0, 10, |_| (13.5, 14.5), 13.5);
    rows.extend(readings("11 - - - dead\n12 - - - dead\n13 14 14.9 13.5 on"));
    rows.extend(readings("14 20 19 13.5 defrost alarm=A7"));
    rows.extend(hourly(30, 36, |_| (13.5, 14.5), 13.5));
    let facts =
        BoxFacts { unit: unit(1), listed: Some(listed("BANANAS", Some(13.5))), readings: rows };
    let table = CargoTable::embedded();
    let clock = Clock { as_of: start().plus_hours(36.0), horizon_h: 300.0 };
    let line = assess::box_line(&facts, clock, &table);
    let span = Span { from: start(), to: clock.as_of };
    let past = assess::history(&facts, &line, span, &table);
    let h = |x: f64| start().plus_hours(x);
    assert_eq!(past.power_off, [Span { from: h(11.0), to: h(13.0) }]);
    assert_eq!(past.gaps, [Span { from: h(14.0), to: h(30.0) }]);
    assert_eq!(past.defrosts, [Span { from: h(14.0), to: h(15.0) }]);
    assert_eq!(past.alarms, [(h(14.0), "A7".to_owned())]);
    let supply = past.traces.iter().find(|t| t.channel == Channel::Supply).unwrap();
    // The silence after 14 h ends a piece; the two dead rows end another.
    assert_eq!(supply.pieces.iter().map(Vec::len).collect::<Vec<_>>(), [11, 2, 7]);
    assert!(past.limits_c.iter().any(|(c, _)| *c == 16.0));
}

/// 100 hourly readings with a drift, the slow path: well under a millisecond even on a busy
/// machine. Measured 60 to 130 µs on two shared cores.
#[test]
fn it_is_fast_enough() {
    let facts = BoxFacts {
        unit: unit(1),
        listed: Some(listed("BANANAS", Some(13.5))),
        readings: hourly(0, 99, |h| (13.5 + 0.02 * h, 14.5 + 0.03 * h), 13.5),
    };
    let table = CargoTable::embedded();
    let clock = Clock { as_of: start().plus_hours(99.0), horizon_h: 300.0 };
    let best_us = (0..50)
        .map(|_| {
            let begun = std::time::Instant::now();
            std::hint::black_box(assess::box_line(&facts, clock, &table));
            begun.elapsed().as_micros()
        })
        .min()
        .unwrap();
    println!("box_line of 100 readings: {best_us} us");
    assert!(best_us < 1000, "{best_us} us");
}
