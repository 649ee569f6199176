//! `holdfast gauge` as a user's script sees it (contract §4).

use std::io::Write as _;
use std::process::{Output, Stdio};

use serde_json::{Value, json};

use crate::run::Desk;

/// The R404A card's own check values: liquid restriction, severity 0.4, 38/8 °C, chilled.
fn restricted() -> Value {
    json!({
        "fluid": "R404A", "machine": "generic-40ft-r404a", "barometer_kpa": 101.325,
        "suction_kpag": 470.1 - 101.325, "discharge_kpag": 2361.3 - 101.325,
        "liquid_kpag": 1653.3 - 101.325, "suction_line_c": 1.59, "compressor_in_c": 9.24,
        "discharge_line_c": 83.6, "liquid_line_c": 35.88, "condenser_out_c": 48.10,
        "supply_c": 1.41, "return_c": 8.0, "ambient_c": 38.0, "current_a": 11.89,
        "mode": "chilled",
    })
}

fn piped(d: &Desk, args: &[&str], input: &str) -> Output {
    let mut child = d
        .command(args)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(input.as_bytes()).unwrap();
    child.wait_with_output().unwrap()
}

#[test]
fn diagnosis_by_the_contract() {
    let d = Desk::new();
    d.file("r.json", restricted().to_string());
    let v = d.json(&["gauge", "--input", "r.json"]);
    for key in [
        "evaporating_dew_c",
        "condensing_bubble_c",
        "superheat_k",
        "superheat_k_p90",
        "compressor_superheat_k",
        "subcooling_k",
        "condenser_split_k",
        "pressure_ratio",
    ] {
        assert!(!v["derived"][key].is_null(), "{key}");
    }
    let faults = v["faults"].as_array().unwrap();
    assert_eq!(faults.len(), 14);
    assert_eq!(faults[0]["fault"], "liquid_restriction");
    let sum: f64 = faults.iter().map(|f| f["probability"].as_f64().unwrap()).sum();
    assert!((sum - 1.0).abs() < 1e-6, "{sum}");
    let [a, b] = [0, 1].map(|i| faults[0]["severity_p90"][i].as_f64().unwrap());
    assert!(a < 0.4 && 0.4 < b);
    assert!(!faults[0]["because"].as_array().unwrap().is_empty());
    assert!(!v["cautions"].as_array().unwrap().is_empty());
}

#[test]
fn missing_readings_are_null_and_suggested() {
    let d = Desk::new();
    let out = piped(
        &d,
        &["gauge", "--input", "-", "--json"],
        r#"{"fluid":"R134a","machine":"generic-40ft-r134a","suction_kpag":126.0,"supply_c":null}"#,
    );
    assert_eq!(out.status.code(), Some(0));
    let v: Value = serde_json::from_slice(&out.stdout).unwrap();
    assert!(v["derived"]["superheat_k"].is_null() && v["derived"]["superheat_k_p90"].is_null());
    assert!(v["derived"].as_object().unwrap().contains_key("subcooling_k"));
    let next = v["next"].as_array().unwrap();
    let worth: Vec<f64> = next.iter().map(|n| n["worth_bits"].as_f64().unwrap()).collect();
    assert!(worth.len() > 3 && worth.windows(2).all(|w| w[0] >= w[1]), "{worth:?}");
    assert!(next[0]["measure"].is_string() && next[0]["how"].is_string());
    let cautions = v["cautions"].to_string();
    assert!(cautions.contains("101.325"), "{cautions}");
}

#[test]
fn standing_circuit() {
    let d = Desk::new();
    for (p, want) in [(577.0, "wrong_refrigerant"), (720.0, "non_condensables"), (665.4, "none")] {
        let input = json!({"fluid":"R134a","suction_kpag":p - 101.325,"ambient_c":25.0,
            "barometer_kpa":101.325,"compressor_on":false});
        d.file("s.json", input.to_string());
        let v = d.json(&["gauge", "--input", "s.json"]);
        assert_eq!(v["faults"][0]["fault"], want);
        assert!(v["cautions"].to_string().contains("prove identity"));
    }
}

#[test]
fn a_card_of_ones_own() {
    let d = Desk::new();
    let text = include_str!("../../../../data/machines/generic-40ft-r134a.toml");
    d.file("mine.toml", text.replace("generic-40ft-r134a", "mine"));
    d.file("r.json", r#"{"fluid":"R134a","machine":"mine","suction_kpag":126,"return_c":8}"#);
    assert_eq!(d.json(&["gauge", "--input", "r.json", "--card", "mine.toml"])["machine"], "mine");
    let e = d.refused(&["gauge", "--input", "r.json"]);
    assert!(e.contains("mine") && e.contains("--card"), "{e}");
    d.file("bad.toml", text.replace("clearance = 0.022", "clearance = 22"));
    let e = d.refused(&["gauge", "--input", "r.json", "--card", "bad.toml"]);
    assert!(e.contains("bad.toml") && e.contains("line ") && e.contains("clearance"), "{e}");
}

#[test]
fn text_puts_cautions_first() {
    let d = Desk::new();
    d.file("r.json", restricted().to_string());
    let out = d.run(&["gauge", "--input", "r.json"]);
    let text = String::from_utf8(out.stdout).unwrap();
    let at = |w: &str| text.find(w).unwrap_or_else(|| panic!("no {w} in {text}"));
    assert!(at("440 V") < at("superheat at the bulb"));
    assert!(at("superheat at the bulb") < at("drier or liquid line blocked, severity"));
    assert!(text.contains("burst"), "trapped liquid: {text}");
}

#[test]
fn refused_by_name() {
    let d = Desk::new();
    let base = restricted();
    let with = |key: &str, value: Value| {
        let mut v = base.clone();
        v[key] = value;
        v.to_string()
    };
    for (text, words) in [
        (with("suction_kpa", json!(470.0)), "suction_kpag"),
        (with("supply_c", json!("1,4")), "supply_c"),
        (with("discharge_kpag", json!(200.0)), "suction_kpag"),
        (with("fluid", json!("R9")), "R134a"),
        (with("ambient_c", json!(100.4)), "ambient_c"),
        (r#"{"fluid":"R134a"}"#.into(), "no pressure"),
        (r#"{"suction_kpag":120}"#.into(), "fluid"),
        ("[1,2]".into(), "braces"),
        ("{\"fluid\":".into(), "JSON"),
    ] {
        d.file("r.json", &text);
        let e = d.refused(&["gauge", "--input", "r.json", "--json"]);
        assert!(e.contains("r.json") && e.contains(words), "{words}: {e}");
    }
    assert!(d.refused(&["gauge"]).contains("--input"));
    assert!(d.refused(&["gauge", "--input", "nowhere.json"]).contains("nowhere.json"));
}
