//! `holdfast treatment check --all`: the same verdicts as box by box, counted and listed.

use serde_json::{Value, json};

use crate::run::Desk;

const RULE: &str = "id = \"r\"\ntitle = \"made up\"\nsource = \"made up for a test\"\n\
evidence = \"official\"\nunit = \"c\"\nhold_max = 1.11\ndays = 1\npulp_probes_min = 2\n\
step_max = 0.39\ngap_max_minutes = 60\non_excursion = \"invalid_unless_verified\"\n\
on_step = \"invalid_unless_verified\"\non_gap = \"invalid_unless_verified\"\n\
on_fault = \"invalid_unless_verified\"\n";

/// Hourly rows of a box.
fn rows(unit: &str, hours: std::ops::Range<u32>, warm_at: Option<u32>) -> String {
    let start = units::Utc::parse("2026-03-01 00:00").unwrap();
    hours
        .map(|h| {
            let t = if warm_at == Some(h) { "1.12" } else { "0.80" };
            format!("{},{unit},{t},0.8\n", start.plus_hours(f64::from(h)))
        })
        .collect()
}

const HEAD: &str = "time_utc,unit,probe1_c,probe2_c\n";
const UNITS: [&str; 3] = ["QQQU1000011", "QQQU1000027", "QQQU1000032"];

#[test]
fn every_box_of_several_files() {
    let d = Desk::new();
    d.file("rule.toml", RULE);
    // The first box is met over two files, the second broken, the third runs.
    let first = rows(UNITS[0], 0..10, None) + &rows(UNITS[1], 0..30, Some(7));
    d.file("a.csv", format!("{HEAD}{first}bad row\n"));
    d.file(
        "b.csv",
        format!("{HEAD}{}{}", rows(UNITS[2], 0..9, None), rows(UNITS[0], 10..25, None)),
    );
    let args = ["treatment", "check", "--schedule", "rule.toml", "--all", "--readings", "a.csv"];
    let out = d.run(&[&args[..], &["b.csv", "--json"]].concat());
    assert_eq!(out.status.code(), Some(3), "one box needs an official");
    let v: Value = serde_json::from_slice(&out.stdout).unwrap();
    assert_eq!((&v["schedule"], &v["units"], &v["rows"]), (&json!("r"), &json!(3), &json!(65)));
    let counts = &v["verdicts"];
    assert_eq!((&counts["time_met"], &counts["invalid_pending"]), (&json!(1), &json!(1)));
    assert_eq!((&counts["running"], &counts["cancelled"]), (&json!(1), &json!(0)));
    assert_eq!(v["refused"][0]["line"], 42);
    let boxes = v["boxes"].as_array().unwrap();
    assert_eq!(boxes.iter().map(|b| &b["unit"]).collect::<Vec<_>>(), UNITS);
    assert_eq!(boxes[0]["time_met_at"], "2026-03-02T00:00:00Z");
    assert_eq!((&boxes[1]["breaches"], &boxes[1]["time_met_at"]), (&json!(1), &Value::Null));
    assert_eq!(boxes[2]["started_at"], "2026-03-01T00:00:00Z");

    let out = d.run(&[&args[..], &["b.csv"]].concat());
    let text = String::from_utf8(out.stdout).unwrap();
    assert!(text.contains("an official must decide\n  QQQU1000027  1 breaches"), "{text}");
    assert!(text.contains("last to end") && text.contains(UNITS[2]), "{text}");
    let calm = ["treatment", "check", "--schedule", "rule.toml", "--all", "--readings", "b.csv"];
    assert_eq!(d.run(&calm).status.code(), Some(0));
}

#[test]
fn what_cannot_be_checked_is_refused() {
    let d = Desk::new();
    d.file("rule.toml", RULE);
    d.file("empty.csv", HEAD);
    d.file("other.csv", "name,value\na,1\n");
    let base = ["treatment", "check", "--schedule", "rule.toml", "--all", "--readings"];
    for file in ["empty.csv", "other.csv", "missing.csv"] {
        let err = d.refused(&[&base[..], &[file]].concat());
        assert!(err.contains(file), "{err}");
    }
    d.refused(&[&base[..], &["empty.csv", "--unit", UNITS[0]]].concat());
    d.refused(&base[..5]);
}
