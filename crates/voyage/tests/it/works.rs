//! Service work through the front door: what is refused, what survives a restart.

use record::{Act, PlantWords, ServiceAct, ServiceDeed, UnitId, WorkStanding};
use service::{Answer, State};
use units::Utc;
use voyage::Voyage;
use voyage::works::{Work, action_named, plant_words};

use crate::{filled, now};

fn unit() -> UnitId {
    UnitId::from_text("QQQU1000027").unwrap()
}

fn entry(work: &str, minute: f64, deed: ServiceDeed) -> Act {
    let at = now().plus_hours(minute / 60.0);
    Act::Service(Box::new(ServiceAct { work: work.into(), unit: unit(), at, deed }))
}

fn put(v: &mut Voyage, minute: f64, deed: ServiceDeed, who: &str) -> Result<i64, String> {
    v.enter(&entry("S1", minute, deed), &[], who, now()).map_err(|e| e.to_string())
}

fn begin(v: &mut Voyage, id: &str, goal: &str, plant: PlantWords) -> Result<i64, String> {
    let deed = ServiceDeed::Begun {
        goal: goal.into(),
        goal_words: goal.into(),
        plant,
        remark: String::new(),
    };
    v.enter(&entry(id, 0.0, deed), &[], "Ann", now()).map_err(|e| e.to_string())
}

fn work(v: &Voyage) -> Work {
    Work::of(v.work("S1").unwrap().clone()).unwrap()
}

/// The first step of the way on.
fn next(w: &Work) -> service::ToldStep {
    match w.answer().unwrap() {
        Answer::Possible(steps) => steps[0].clone(),
        Answer::Impossible(why) => panic!("{why:?}"),
    }
}

/// A reading in the middle of what is expected; the least, where only that is told.
fn as_expected(w: &Work, action: service::Action) -> impl Fn(&str) -> String {
    let all = w.expects(action).unwrap();
    move |what: &str| {
        let e = all.iter().find(|e| e.what == what).unwrap();
        match (e.from, e.to) {
            (Some(a), Some(b)) => format!("{:.3}", (a + b) / 2.0),
            (Some(a), None) => format!("{a:.3}"),
            (None, Some(b)) => format!("{:.3}", b - 1.0),
            (None, None) => "1000".into(),
        }
    }
}

fn stop(why: &str) -> ServiceDeed {
    ServiceDeed::Stopped { why: why.into() }
}

#[test]
fn a_pump_down_goes_through_hands_and_a_restart_to_its_end() {
    let dir = tempfile::tempdir().unwrap();
    let mut v = filled(&dir);
    begin(&mut v, "S1", "pumped-down", plant_words(&[State::default()])).unwrap();
    let mut done = 0;
    while !work(&v).reached() {
        let (w, who) = (work(&v), v.work("S1").unwrap().person.clone());
        let step = next(&w);
        let read = as_expected(&w, step.step.action);
        let deed = w.step(step.step.action, &read, String::new()).unwrap();
        put(&mut v, 1.0, deed, &who).unwrap();
        done += 1;
        if done == 6 {
            put(&mut v, 1.0, stop("watch over"), "Ann").unwrap();
            let before = v.acts().works.clone();
            drop(v);
            v = Voyage::open(&dir.path().join("v")).unwrap();
            assert_eq!(v.acts().works, before);
            let resumed = ServiceDeed::Resumed { remark: "valves as entered".into() };
            put(&mut v, 1.0, resumed, "Bo").unwrap();
        }
        assert!(done < 40);
    }
    // The plan from running has 17 steps (docs/service.md); broken off and gone on with, no more.
    assert_eq!(done, 17);
    put(&mut v, 3.0, ServiceDeed::Finished { reached: true, remark: String::new() }, "Bo").unwrap();
    assert_eq!(v.work("S1").unwrap().standing, WorkStanding::Reached);
    assert_eq!(v.work("S1").unwrap().person, "Bo");
    // The journal's own seal holds over it, and the log tells it.
    let log = v.log(&voyage::LogAsked { unit: Some(unit()), ..Default::default() }).unwrap();
    assert_eq!(log.iter().filter(|l| l.kind == "service").count(), 17 + 4);
}

/// A reading that cannot go with what is taken to be inside is no step done, whatever is said of
/// it; an ordinary one out of range is, with a reason. (Common practice, no source.)
#[test]
fn a_reading_that_contradicts_is_refused_whatever_is_said() {
    let dir = tempfile::tempdir().unwrap();
    let mut v = filled(&dir);
    begin(&mut v, "S1", "pumped-down", plant_words(&[State::default()])).unwrap();
    let pull_down = action_named("pull_down").unwrap();
    while next(&work(&v)).step.action != pull_down {
        let w = work(&v);
        let step = next(&w).step.action;
        let deed = w.step(step, &as_expected(&w, step), String::new()).unwrap();
        put(&mut v, 1.0, deed, "Ann").unwrap();
    }
    let w = work(&v);
    let read = |low: &'static str| move |_: &str| low.to_owned();
    let said = "gauge sticks".to_owned();
    let full = w.step(pull_down, &read("300"), said.clone()).unwrap();
    let why = put(&mut v, 1.0, full, "Ann").unwrap_err();
    assert!(why.contains("pressure where it is taken to be empty"), "{why}");
    // 40 is out of 10 to 20, and no contradiction.
    let off = w.step(pull_down, &read("40"), said).unwrap();
    put(&mut v, 1.0, off, "Ann").unwrap();
}

#[test]
fn a_step_whose_guard_fails_is_refused_with_its_reason_and_nothing_is_stored() {
    let dir = tempfile::tempdir().unwrap();
    let mut v = filled(&dir);
    let mut plant = State { low_hose: true, ..State::default() };
    plant.suction = service::plant::Seat::Mid;
    plant.content[4] = service::Content::Refrigerant;
    begin(&mut v, "S1", "gauges-on", plant_words(&[plant])).unwrap();
    let before = v.journal().last_seq().unwrap();
    let w = work(&v);
    // Front-seating the discharge valve of a running unit: guard G1.
    let why = w
        .step(action_named("discharge_front").unwrap(), &|_| String::new(), String::new())
        .unwrap_err();
    assert!(why.contains("closed discharge valve") && why.contains("G1"), "{why}");
    // The same, forged past the page: the voyage holds it against the plant itself.
    let mut after = plant;
    after.discharge = service::plant::Seat::Front;
    let forged = ServiceDeed::StepDone {
        action: "discharge_front".into(),
        instruction: String::new(),
        readings: Vec::new(),
        remark: String::new(),
        after: plant_words(&[after]),
        booked: None,
    };
    let why = put(&mut v, 1.0, forged, "Ann").unwrap_err();
    assert!(why.contains("G1"), "{why}");
    // A step whose plant afterwards is made up.
    let mut fits =
        w.step(action_named("stop").unwrap(), &|_| String::new(), String::new()).unwrap();
    if let ServiceDeed::StepDone { after, .. } = &mut fits {
        after.keys.insert("power".into(), "locked out".into());
    }
    assert!(put(&mut v, 1.0, fits, "Ann").unwrap_err().contains("does not stand so"));
    assert_eq!(v.journal().last_seq().unwrap(), before);
    // Not in the plan and safe: taken, and the way on is made anew from there.
    let planned = next(&w).step.action;
    let stop = action_named("stop").unwrap();
    assert_ne!(planned, stop);
    let deed = w.step(stop, &|_| String::new(), String::new()).unwrap();
    put(&mut v, 1.0, deed, "Ann").unwrap();
    let w = work(&v);
    assert_eq!(w.stated.state.power, service::plant::Power::Standby);
    assert!(matches!(w.answer().unwrap(), Answer::Possible(s) if !s.is_empty()));
}

#[test]
fn hands_readings_and_beginnings_that_cannot_be() {
    let dir = tempfile::tempdir().unwrap();
    let mut v = filled(&dir);
    let plant = plant_words(&[State::default()]);
    // A plant that is not whole, a goal nobody knows.
    let mut less = plant.clone();
    less.content.remove("centre");
    assert!(begin(&mut v, "S1", "gauges-on", less).unwrap_err().contains("manifold centre"));
    assert!(begin(&mut v, "S1", "tidy", plant.clone()).unwrap_err().contains("tidy"));
    begin(&mut v, "S1", "gauges-on", plant.clone()).unwrap();
    let twice = begin(&mut v, "S2", "gauges-on", plant).unwrap_err();
    assert!(twice.contains("two works on one unit"), "{twice}");
    let w = work(&v);
    let fit = action_named("fit_low_hose").unwrap();
    let deed = w.step(fit, &|_| String::new(), String::new()).unwrap();
    let why = put(&mut v, 1.0, deed.clone(), "Bo").unwrap_err();
    assert!(why.contains("hands of Ann"), "{why}");
    assert!(put(&mut v, 1.0, ServiceDeed::Resumed { remark: String::new() }, "Bo").is_err());
    assert!(put(&mut v, 1.0, stop(" "), "Ann").unwrap_err().contains("say why"));
    let over = |from: &str, to: &str| ServiceDeed::HandedOver {
        from: from.into(),
        to: to.into(),
        remark: String::new(),
    };
    assert!(put(&mut v, 1.0, over("Cy", "Bo"), "Ann").is_err());
    assert!(put(&mut v, 1.0, over("Ann", "ann "), "Ann").is_err());
    put(&mut v, 1.0, over("Ann", "Bo"), "Ann").unwrap();
    put(&mut v, 1.0, deed, "bo").unwrap();
    put(&mut v, 1.0, stop("meal"), "Bo").unwrap();
    let w = work(&v);
    let more = action_named("fit_pump").unwrap();
    let deed = w.step(more, &|_| String::new(), String::new()).unwrap();
    assert!(put(&mut v, 2.0, deed, "Bo").unwrap_err().contains("stopped"));
    let early = ServiceDeed::Resumed { remark: String::new() };
    assert!(put(&mut v, -60.0, early, "Bo").unwrap_err().contains("before"));
    let untrue = ServiceDeed::Finished { reached: true, remark: String::new() };
    assert!(put(&mut v, 2.0, untrue, "Bo").unwrap_err().contains("not reached"));
    let end = ServiceDeed::Finished { reached: false, remark: "no pump".into() };
    put(&mut v, 2.0, end, "Bo").unwrap();
    let after = ServiceDeed::Resumed { remark: String::new() };
    assert!(put(&mut v, 3.0, after, "Bo").unwrap_err().contains("over"));
}

/// 10 to 20 kPa gauge is the stop of a pump-down: 2.2 psi is 15.2 kPa (1 psi = 6.894757 kPa,
/// NIST SP 811), 0.3 bar is 30.
#[test]
fn a_reading_outside_its_range_wants_a_reason() {
    let dir = tempfile::tempdir().unwrap();
    let mut v = filled(&dir);
    begin(&mut v, "S1", "pumped-down", plant_words(&[State::default()])).unwrap();
    loop {
        let w = work(&v);
        let action = next(&w).step.action;
        if action == service::Action::PullDown {
            break;
        }
        let deed = w.step(action, &as_expected(&w, action), String::new()).unwrap();
        put(&mut v, 1.0, deed, "Ann").unwrap();
    }
    let w = work(&v);
    let step = |text: &str, remark: &str| {
        w.step(service::Action::PullDown, &|_| text.to_owned(), remark.to_owned())
    };
    assert!(step("0.3", "").is_ok(), "a bare figure is kPa gauge");
    assert!(step("0.3 bar", "").unwrap_err().contains("gauge"), "gauge or absolute is not guessed");
    let why = put(&mut v, 2.0, step("0.3 barg", "").unwrap(), "Ann").unwrap_err();
    assert!(why.contains("not in the range told"), "{why}");
    let why = put(&mut v, 2.0, step("", "").unwrap(), "Ann").unwrap_err();
    assert!(why.contains("not read"), "{why}");
    let ServiceDeed::StepDone { readings, .. } = step("2.2 psig", "").unwrap() else { panic!() };
    assert!((readings[0].value.unwrap() - 15.168).abs() < 0.01);
    put(&mut v, 2.0, step("0.3 barg", "second pull follows").unwrap(), "Ann").unwrap();
}

/// What is inside is not known: a step is taken only if it is safe however the plant is filled.
#[test]
fn unknown_fillings_are_kept_and_narrowed() {
    let dir = tempfile::tempdir().unwrap();
    let mut v = filled(&dir);
    let mut seen = State { low_hose: true, ..State::default() };
    seen.suction = service::plant::Seat::Back;
    let air = seen;
    let mut gas = seen;
    gas.content[4] = service::Content::Refrigerant;
    begin(&mut v, "S1", "gauges-off", plant_words(&[air, gas])).unwrap();
    let w = work(&v);
    assert!(!w.is_known() && w.fillings.len() == 2);
    let off = action_named("remove_low_hose").unwrap();
    let why = w.step(off, &|_| String::new(), String::new()).unwrap_err();
    assert!(why.contains("not known"), "{why}");
    let read = ServiceDeed::Corrected { plant: plant_words(&[air]), why: "read 0 kPa".into() };
    put(&mut v, 1.0, read, "Ann").unwrap();
    drop(v);
    let mut v = Voyage::open(&dir.path().join("v")).unwrap();
    let w = work(&v);
    assert!(w.is_known());
    let deed = w.step(off, &|_| String::new(), String::new()).unwrap();
    put(&mut v, 2.0, deed, "Ann").unwrap();
    let at: Utc = v.work("S1").unwrap().last_at();
    assert_eq!(at, now().plus_hours(2.0 / 60.0));
}

/// What is weighed at a step stands in the account by the same entry; 4.5 kg of a made-up plate.
#[test]
fn a_weight_is_keyed_once() {
    let dir = tempfile::tempdir().unwrap();
    let mut v = filled(&dir);
    let gas = |v: &mut Voyage, of: &str| {
        let head = r#"{"act":"gas","of":"#;
        let act: Act = serde_json::from_str(&format!("{head}{of}}}")).unwrap();
        v.enter(&act, &[], "Ann", now()).unwrap();
    };
    gas(&mut v, r#""cylinder","id":"C1","gas":"R134a","recovery":true"#);
    gas(&mut v, r#""cylinder","id":"C4","gas":"R404A","recovery":true"#);
    gas(&mut v, r#""plate","unit":"QQQU1000027","gas":"R134a","charge_g":4500"#);
    let mut plant = plant_words(&[State::default()]);
    plant.keys.insert("charge_kg".into(), "4.5".into());
    begin(&mut v, "S1", "repair", plant).unwrap();
    let (action, w) = loop {
        let w = work(&v);
        let action = next(&w).step.action;
        if w.expects(action).unwrap().iter().any(|e| e.what == "scale") {
            break (action, w);
        }
        let deed = w.step(action, &as_expected(&w, action), String::new()).unwrap();
        put(&mut v, 1.0, deed, "Ann").unwrap();
    };
    assert_eq!(action.id(), "recover");
    let read = as_expected(&w, action);
    let read = |what: &str| if what == "scale" { "4.321 kg".into() } else { read(what) };
    let book = |cylinder: &str| {
        let find = |key: &str| if key == "cylinder" { cylinder.to_owned() } else { String::new() };
        let deed = w.step(action, &read, String::new()).unwrap();
        let words = voyage::Words { find: &find, at: now().plus_hours(0.1), who: "Ann" };
        w.booking(deed, &words).unwrap()
    };
    // A cylinder of another gas, and one nobody entered: nothing of the step is stored.
    let before = v.journal().last_seq().unwrap();
    for (id, said) in [("C4", "do not go together"), ("C9", "not entered")] {
        let why = put(&mut v, 6.0, book(id), "Ann").unwrap_err();
        assert!(why.contains(said), "{why}");
    }
    // Forged: another mass than the scale showed.
    let mut forged = book("C1");
    if let ServiceDeed::StepDone { booked: Some(t), .. } = &mut forged {
        t.g = 1;
    }
    assert!(put(&mut v, 6.0, forged, "Ann").unwrap_err().contains("scale"));
    assert_eq!(v.journal().last_seq().unwrap(), before);
    let seq = put(&mut v, 6.0, book("C1"), "Ann").unwrap();
    assert_eq!(seq, before + 1, "one entry");
    drop(v);
    let mut v = Voyage::open(&dir.path().join("v")).unwrap();
    let held = |v: &Voyage| v.gas_account(now().plus_hours(1.0)).cylinders[0].held.map(|h| h.g);
    assert_eq!(held(&v), Some(4321));
    let step = v.work("S1").unwrap().entries.last().unwrap().act.clone();
    assert!(step.title().contains("Booked: 4.321 kg R134a from QQQU1000027 to cylinder C1"));
    assert_eq!(voyage::booking::entry_of(&v.acts().gas, &step).unwrap().seq, seq);
    // Struck out in the account, it no longer counts there; the step stands.
    gas(&mut v, &format!(r#""struck","entry":{seq},"why":"other cylinder""#));
    assert_eq!(held(&v), None);
    assert!(voyage::booking::entry_of(&v.acts().gas, &step).unwrap().struck.is_some());
}
