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

/// Contract §4, key by key; keys of our own beside.
#[test]
fn every_key_of_the_contract() {
    let d = Desk::new();
    d.file("r.json", restricted().to_string());
    let v = d.json(&["gauge", "--input", "r.json"]);
    let top = v.as_object().unwrap();
    for key in ["derived", "faults", "next", "cautions", "combinations", "questions", "machine"] {
        assert!(top.contains_key(key), "{key}");
    }
    // Fine print 1, from the card's row.
    let k = |key: &str| v["derived"][key].as_f64().unwrap();
    assert!((k("evaporating_dew_c") - (1.59 - k("superheat_k"))).abs() < 1e-3);
    assert!((k("compressor_superheat_k") - k("superheat_k") - (9.24 - 1.59)).abs() < 1e-3);
    assert!((k("condenser_split_k") - (k("condensing_bubble_c") - 38.0)).abs() < 1e-3);
    assert!((k("pressure_ratio") - 2361.3 / 470.1).abs() < 1e-3);
    // The card: flashed liquid reads saturation.
    assert!(k("subcooling_k").abs() < 0.5, "after the drier: {}", k("subcooling_k"));
    let ids = "none undercharge overcharge non_condensables condenser_airflow evaporator_airflow \
               liquid_restriction expansion_stuck_closed expansion_stuck_open compressor_leak \
               hot_gas_leak suction_throttle_stuck wrong_refrigerant sensor_offset";
    let faults = v["faults"].as_array().unwrap();
    for id in ids.split_whitespace() {
        let f = faults.iter().find(|f| f["fault"] == id).unwrap_or_else(|| panic!("{id}"));
        for key in ["probability", "severity", "severity_p90", "because", "against"] {
            assert!(f.as_object().unwrap().contains_key(key), "{id} {key}");
        }
        assert!(f["because"].is_array() && f["against"].is_array());
    }
    for n in v["next"].as_array().unwrap() {
        assert!(n["measure"].is_string() && n["gain_bits"].is_f64() && n["how"].is_string());
    }
    assert_eq!(v["combinations"], json!([]), "one fault is not called two");
}

/// Sound readings of the R134a card's middle unit, frozen, at three air temperatures.
fn sound(k: usize) -> Value {
    let (p, d, bulb, gas, liquid, supply, back, air) = [
        (96.9, 1171.5, -20.2, 104.6, 41.2, -22.94, -18.0, 38.0),
        (94.4, 824.2, -20.5, 76.2, 28.2, -23.01, -17.0, 25.0),
        (101.8, 1308.3, -19.0, 113.3, 45.5, -21.88, -17.0, 42.0),
    ][k % 3];
    json!({
        "fluid": "R134a", "machine": "generic-40ft-r134a", "barometer_kpa": 101.325,
        "suction_kpag": p - 101.325, "discharge_kpag": d - 101.325, "suction_line_c": bulb,
        "discharge_line_c": gas, "liquid_line_c": liquid, "supply_c": supply, "return_c": back,
        "ambient_c": air, "mode": "frozen",
    })
}

/// Kept with a box, earlier sound readings narrow the next answer, and it says which.
#[test]
fn kept_readings_narrow_the_next_answer() {
    let d = Desk::new();
    d.file("list.csv", "unit,set_point_c,full\nQQQU1000011,-18,true\n");
    d.json(&["load", "list.csv", "--voyage", "v.holdfast"]);
    let unit = "QQQU1000011";
    let keep = |name: &str, at: &str| {
        let rest = ["--keep", unit, "--who", "A. Person", "--at", at, "--voyage", "v.holdfast"];
        d.json(&[&["gauge", "--input", name][..], &rest].concat())
    };
    for k in 0..3 {
        d.file("s.json", sound(k).to_string());
        let at = format!("2026-03-0{} 08:00", k + 2);
        let v = keep("s.json", &at);
        assert_eq!(v["faults"][0]["fault"], "none", "{v}");
        assert_eq!(v["kept"], true);
        assert_eq!(v["rests_on"].as_array().unwrap().len(), k);
    }
    // Ask only, resting on them; and the same with the three handed in as a baseline.
    // Not the same readings again: those would be counted once.
    let mut now = sound(1);
    now["return_c"] = json!(-17.1);
    d.file("s.json", now.to_string());
    let ask = ["gauge", "--input", "s.json", "--unit", unit, "--voyage", "v.holdfast"];
    let v = d.json(&ask);
    assert_eq!((v["kept"].as_bool(), v["rests_on"].as_array().unwrap().len()), (Some(false), 3));
    let alone = d.json(&["gauge", "--input", "s.json"]);
    assert!(alone.get("rests_on").is_none());
    let p = |v: &Value| {
        let list = v["faults"].as_array().unwrap();
        list.iter().find(|f| f["fault"] == "none").unwrap()["probability"].as_f64().unwrap()
    };
    assert!(p(&v) > p(&alone), "{} {}", p(&v), p(&alone));
    let mut by_hand = now;
    by_hand["baseline"] = json!([sound(0), sound(1), sound(2)]);
    d.file("b.json", by_hand.to_string());
    let b = d.json(&["gauge", "--input", "b.json"]);
    assert!(p(&b) > p(&alone), "{} {}", p(&b), p(&alone));
    let text = String::from_utf8(d.run(&ask).stdout).unwrap();
    assert!(text.contains("Rests also on 3 earlier readings"), "{text}");
    // The journal holds the three and agrees with itself.
    let log = d.json(&["log", "--unit", unit, "--voyage", "v.holdfast"]).to_string();
    assert!(log.matches("gauges").count() >= 3, "{log}");
    d.json(&["verify", "v.holdfast"]);
    // Refused: a name without --keep, a time to come, a box that is none, a torn baseline.
    assert!(d.refused(&["gauge", "--input", "s.json", "--who", "A"]).contains("--keep"));
    let late = ["--keep", unit, "--at", "2099-01-01 00:00", "--voyage", "v.holdfast"];
    let e = d.refused(&[&["gauge", "--input", "s.json", "--who", "A"][..], &late].concat());
    assert!(e.contains("lies ahead of this computer"), "{e}");
    assert!(d.refused(&["gauge", "--input", "s.json", "--unit", "BOX"]).contains("BOX"));
    by_hand["baseline"] = json!([sound(0), {"suction_kpag": "low"}]);
    d.file("b.json", by_hand.to_string());
    let e = d.refused(&["gauge", "--input", "b.json"]);
    assert!(e.contains("baseline entry 2") && e.contains("suction_kpag"), "{e}");
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
        (with("liquid_line_c", json!(96.6)), "discharge_line_c"),
        (with("condenser_out_c", json!(118.6)), "°F"),
        (with("liquid_kpag", json!(300.0)), "liquid_kpag"),
        (with("return_c", json!(46.4)), "return_c"),
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
