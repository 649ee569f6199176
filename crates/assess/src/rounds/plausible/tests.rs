//! Slips of the pen, one of each kind, and true figures that nobody should be asked about.

use super::*;
use record::{BoxLine, State, UnitId};

fn at(text: &str) -> Utc {
    Utc::parse(text).unwrap()
}

/// A box last read four hours ago.
fn line(set_c: f64, supply: [f64; 3], back: [f64; 3]) -> RoundLine {
    let usual = |channel, v: [f64; 3]| Usual {
        channel,
        range: [v[0], v[1]],
        last: v[2],
        at: at("2026-03-16T04:00:00Z"),
    };
    RoundLine {
        line: BoxLine {
            unit: UnitId::from_text("QQQU1000011").unwrap(),
            stow: None,
            cell: None,
            size_type: None,
            cargo: None,
            discharge_port: None,
            full: Some(true),
            state: State::Ok,
            reason: String::new(),
            hours_to_limit: None,
            hours_to_limit_p90: None,
            limit: None,
            action: String::new(),
            findings: Vec::new(),
            set_point_c: Some(set_c),
            supply_c: None,
            return_c: None,
            cargo_c: None,
            cargo_c_p90: None,
            on_power: None,
            last_read_at: None,
        },
        coldest_c: None,
        warmest_c: Some(-15.0),
        vent_m3_h: None,
        humidity_pct: None,
        also: Vec::new(),
        last: Vec::new(),
        usual: vec![usual(Channel::Supply, supply), usual(Channel::Return, back)],
    }
}

fn frozen() -> RoundLine {
    line(-18.0, [-19.6, -18.9, -19.1], [-18.3, -17.6, -17.9])
}

fn bananas() -> RoundLine {
    line(13.3, [13.1, 13.4, 13.3], [14.0, 14.5, 14.2])
}

fn keyed(supply: &str, back: &str) -> Vec<Keyed> {
    [(Channel::Supply, supply), (Channel::Return, back)]
        .into_iter()
        .filter(|(_, t)| !t.is_empty())
        .map(|(channel, t)| Keyed { channel, value: t.parse().unwrap(), text: t.to_owned() })
        .collect()
}

/// Kind and figure offered of every question.
fn asked(supply: &str, back: &str, line: &RoundLine) -> Vec<(QuestionKind, Vec<f64>)> {
    questions(&keyed(supply, back), line, at("2026-03-16T08:00:00Z"), false)
        .into_iter()
        .map(|q| (q.kind, q.instead.iter().map(|(_, v)| *v).collect()))
        .collect()
}

#[test]
fn true_figures_are_not_questioned() {
    for (s, r) in [("-19.4", "-18.0"), ("-18.9", "-17.2"), ("-20.3", "-18.8")] {
        assert_eq!(asked(s, r, &frozen()), [], "{s} {r}");
    }
    for (s, r) in [("13.3", "14.2"), ("13.9", "14.9"), ("12.4", "13.9"), ("13", "14")] {
        assert_eq!(asked(s, r, &bananas()), [], "{s} {r}");
    }
}

/// The slips that cost cargo: minus lost, °F for °C (reference/cargo-and-box.md §7.1), and those
/// of hurried hands.
#[test]
fn each_slip_is_asked_about_with_what_it_would_be() {
    use QuestionKind::{Digits, Exchanged, Fahrenheit, Far, Impossible, Point, Sign, SignAndPoint};
    let cases: [(&str, &str, RoundLine, QuestionKind, &[f64]); 13] = [
        ("19.1", "", frozen(), Sign, &[-19.1]),
        ("191", "", frozen(), SignAndPoint, &[-19.1]),
        ("-191", "", frozen(), Point, &[-19.1]),
        ("-1.91", "", frozen(), Point, &[-19.1]),
        // −2.4 °F is −19.1 °C (definition of the scale).
        ("-2.4", "", frozen(), Fahrenheit, &[-19.1]),
        ("133", "", bananas(), Point, &[13.3]),
        ("1.33", "", bananas(), Point, &[13.3]),
        // 55.9 °F is 13.3 °C.
        ("55.9", "", bananas(), Fahrenheit, &[13.3]),
        ("31.3", "", bananas(), Digits, &[13.3]),
        ("-13.3", "", bananas(), Sign, &[13.3]),
        ("14.2", "13.3", bananas(), Exchanged, &[13.3, 14.2]),
        ("23.3", "", bananas(), Far, &[]),
        ("999.9", "", bananas(), Impossible, &[]),
    ];
    for (s, r, line, kind, instead) in cases {
        assert_eq!(asked(s, r, &line), [(kind, instead.to_vec())], "{s} {r}");
    }
}

/// Nothing that was read before is offered: only what the digits written can be.
#[test]
fn the_last_value_is_never_offered() {
    for text in ["23.3", "9.9", "17.1", "0.2", "4.1", "-3", "77"] {
        for (_, instead) in asked(text, "", &bananas()) {
            for v in instead {
                let digits = |t: &str| {
                    let mut d: Vec<char> = t.chars().filter(|c| c.is_ascii_digit()).collect();
                    d.sort_unstable();
                    d.into_iter().filter(|c| *c != '0').collect::<String>()
                };
                let of_f = (celsius_from_fahrenheit(text.parse().unwrap()) - v).abs() < 0.06;
                assert!(of_f || digits(text) == digits(&format!("{v}")), "{text} {v}");
            }
        }
    }
}

#[test]
fn a_defrost_explains_air_and_nothing_else() {
    let ask =
        |text: &str| questions(&keyed(text, ""), &frozen(), at("2026-03-16T08:00:00Z"), true).len();
    assert_eq!((ask("4.0"), ask("-12.0"), ask("999")), (0, 0, 1));
}

#[test]
fn a_box_never_read_is_judged_by_its_set_point_and_one_without_any_by_the_sensor() {
    let mut new = frozen();
    new.usual.clear();
    assert_eq!(asked("18.1", "", &new), [(QuestionKind::Sign, vec![-18.1])]);
    assert_eq!(asked("-13.0", "", &new), []);
    new.line.set_point_c = None;
    assert_eq!(asked("18.1", "", &new), []);
    assert_eq!(asked("181", "", &new), [(QuestionKind::Impossible, vec![])]);
    assert_eq!(asked("", "", &new), []);
}

/// The longer nobody looked, the further a box may have gone.
#[test]
fn an_old_reading_asks_less() {
    let later = at("2026-03-18T04:00:00Z");
    assert_eq!(asked("-16.2", "", &frozen()).len(), 1);
    assert_eq!(questions(&keyed("-16.2", ""), &frozen(), later, false), []);
}

#[test]
fn humidity_and_gases_are_percent() {
    let mut l = bananas();
    l.usual.push(Usual {
        channel: Channel::Rh,
        range: [88.0, 92.0],
        last: 90.0,
        at: at("2026-03-16T04:00:00Z"),
    });
    let ask = |text: &str| {
        let k = Keyed { channel: Channel::Rh, value: text.parse().unwrap(), text: text.to_owned() };
        questions(&[k], &l, at("2026-03-16T08:00:00Z"), false).pop().map(|q| (q.kind, q.instead))
    };
    assert_eq!(ask("85"), None);
    assert_eq!(ask("9"), Some((QuestionKind::Point, vec![(Channel::Rh, 90.0)])));
    assert_eq!(ask("900"), Some((QuestionKind::Point, vec![(Channel::Rh, 90.0)])));
    assert_eq!(ask("60"), Some((QuestionKind::Far, vec![])));
}
