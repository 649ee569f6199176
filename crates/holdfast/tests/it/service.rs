//! `holdfast service` as a user runs it.

use serde_json::Value;

use crate::run::Desk;

fn run(desk: &Desk, args: &[&str]) -> (i32, String, String) {
    let out = desk.command(args).output().unwrap();
    let text = |b: &[u8]| String::from_utf8_lossy(b).into_owned();
    (out.status.code().unwrap(), text(&out.stdout), text(&out.stderr))
}

#[test]
fn a_plan_has_cautions_readings_and_states() {
    let desk = Desk::new();
    let (code, out, err) = run(&desk, &["service", "plan", "--goal", "pumped-down", "--json"]);
    assert_eq!((code, err.as_str()), (0, ""));
    let v: Value = serde_json::from_str(&out).unwrap();
    assert_eq!((v["goal"].as_str(), v["possible"].as_bool()), (Some("pumped-down"), Some(true)));
    let steps = v["steps"].as_array().unwrap();
    let stop = steps.iter().find(|s| s["action"] == "pull_down").unwrap();
    // Reference §5.2 G3: stop a little above the atmosphere.
    assert_eq!(stop["expect"][0]["from_kpag"], 10.0);
    assert!(!stop["cautions"].as_array().unwrap().is_empty());
    assert_eq!(steps.last().unwrap()["after"]["king_valve"], "front-seated");
    let (code, text, _) = run(&desk, &["service", "plan", "--goal", "pumped-down"]);
    assert_eq!(code, 0);
    let caution = text.find("! Never into vacuum").unwrap();
    assert!(caution < text.find("Watch the suction gauge fall").unwrap());
    assert!(text.contains("has no authority"));
}

#[test]
fn no_safe_way_is_status_3_and_says_what_would_help() {
    let desk = Desk::new();
    let file = desk.file("unit.json", r#"{"has_recovery_unit": false, "ambient_c": 38}"#);
    let file = file.to_str().unwrap();
    let ask = ["service", "plan", "--goal", "back-in-service", "--state", file, "--json"];
    let (code, out, _) = run(&desk, &ask);
    let v: Value = serde_json::from_str(&out).unwrap();
    assert_eq!((code, v["possible"].as_bool()), (3, Some(false)));
    assert_eq!(v["refrigerant_lost_g"], Value::Null);
    assert!(v["would_help"][0].as_str().unwrap().contains("recovery unit"), "{v}");
}

#[test]
fn bad_input_is_one_line() {
    let desk = Desk::new();
    let bad = desk.file("bad.json", r#"{"king_valve": "half"}"#);
    for ask in [
        vec!["service", "plan"],
        vec!["service", "plan", "--goal", "tea"],
        vec!["service", "plan", "--goal", "gauges-on", "--state", bad.to_str().unwrap()],
        vec!["service", "plan", "--goal", "gauges-on", "--state", "none.json"],
        vec!["service", "fly"],
    ] {
        let (code, out, err) = run(&desk, &ask);
        assert_eq!((code, out.as_str(), err.lines().count()), (2, "", 1), "{ask:?}: {err}");
    }
}

#[test]
fn a_state_can_be_shown_and_read_back() {
    let desk = Desk::new();
    let (_, out, _) = run(&desk, &["service", "state", "--json"]);
    let file = desk.file("state.json", &out);
    let again = run(&desk, &["service", "state", "--json", "--state", file.to_str().unwrap()]);
    assert_eq!((again.0, again.1), (0, out));
}
