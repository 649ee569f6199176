//! `holdfast treatment` as a user runs it: files, exit status, one line, keys in order.

use serde_json::Value;

use crate::run::Desk;

const RULE: &str = r#"id = "example-14d"
title = "an example"
source = "made up for a test"
evidence = "official"
unit = "c"
hold_max = 1.11
days = 14
pulp_probes_min = 3
step_max = 0.39
gap_max_minutes = 60
calibration_limit = 0.3
on_excursion = "invalid_unless_verified"
on_step = "invalid_unless_verified"
on_gap = "invalid_unless_verified"
on_fault = "invalid_unless_verified"
"#;

const UNIT: &str = "QQQU1000011";

/// Hourly rows of the unit, `0..=last`, every probe as `cell(hour)` says.
fn logger(columns: &str, last: u32, cell: impl Fn(u32) -> String) -> String {
    let mut text = format!("time_utc,unit,{columns}\n");
    let start = units::Utc::parse("2026-03-01 00:00").unwrap();
    for h in 0..=last {
        text += &format!("{},{UNIT},{}\n", start.plus_hours(f64::from(h)), cell(h));
    }
    text
}

const PROBES: &str = "probe1_c,probe2_c,probe3_c";

fn flat(last: u32) -> String {
    logger(PROBES, last, |_| "0.9,0.9,0.9".into())
}

/// Runs a check with `--json`; exit status and the document.
fn check(d: &Desk, more: &[&str]) -> (Option<i32>, Value, String) {
    let mut args = vec!["treatment", "check", "--unit", UNIT, "--json"];
    args.extend(more);
    if !more.contains(&"--schedule") {
        args.extend(["--schedule", "rule.toml"]);
    }
    let out = d.run(&args);
    let text = String::from_utf8(out.stdout).unwrap();
    let err = String::from_utf8_lossy(&out.stderr).into_owned();
    let v = serde_json::from_str(&text).unwrap_or_else(|e| panic!("{more:?}: {e}: {err}"));
    (out.status.code(), v, text)
}

#[test]
fn a_clean_treatment() {
    let d = Desk::new();
    d.file("rule.toml", RULE);
    d.file("r.csv", flat(340));
    let (code, v, text) = check(&d, &["--readings", "r.csv"]);
    assert_eq!(code, Some(0));
    assert_eq!((&v["verdict"], &v["schedule"]), (&"time_met".into(), &"example-14d".into()));
    assert_eq!(v["time_met_at"], "2026-03-15T00:00:00Z");
    assert_eq!((v["elapsed_h"].as_f64(), v["remaining_h"].as_f64()), (Some(336.0), Some(0.0)));
    assert_eq!(
        (v["planning_restart_at"].clone(), v["rehearsal"].clone()),
        (Value::Null, false.into())
    );
    // The contract's keys, in the contract's order.
    let keys = [
        "schedule",
        "unit",
        "verdict",
        "started_at",
        "time_met_at",
        "elapsed_h",
        "required_h",
        "remaining_h",
        "probes",
        "breaches",
        "restarts",
        "extension_h",
        "planning_restart_at",
        "planning_finish_at",
        "rehearsal",
    ];
    let places: Vec<usize> = keys
        .iter()
        .map(|k| text.find(&format!("\"{k}\":")).unwrap_or_else(|| panic!("{k}")))
        .collect();
    assert!(places.is_sorted(), "{places:?}");
    assert_eq!(v["probes"].as_array().map(Vec::len), Some(4));
    assert_eq!(v["probes"][3]["fitted"], false);
}

#[test]
fn breaches_and_exit_status() {
    let d = Desk::new();
    d.file("rule.toml", RULE);
    d.file(
        "r.csv",
        logger(PROBES, 300, |h| match h {
            200 => "0.9,0.9,1.2".into(),
            _ => "0.9,0.9,1.0".into(),
        }),
    );
    let (code, v, _) = check(&d, &["--readings", "r.csv"]);
    assert_eq!((code, &v["verdict"]), (Some(3), &"invalid_pending".into()));
    let b = &v["breaches"][0];
    assert_eq!((&b["kind"], &b["probe"]), (&"excursion".into(), &"probe3".into()));
    assert_eq!((&b["worst_c"], &b["readings"]), (&1.2.into(), &1.into()));
    assert_eq!(b["effect"], "invalid_unless_verified");
    assert_eq!(v["planning_restart_at"], "2026-03-09T09:00:00Z");
    assert_eq!(v["planning_finish_at"], "2026-03-23T09:00:00Z");
    for (policy, code, verdict) in [("cancel", 3, "cancelled"), ("restart", 0, "running")] {
        d.file(
            "rule.toml",
            RULE.replace(
                "excursion = \"invalid_unless_verified\"",
                &format!("excursion = \"{policy}\""),
            ),
        );
        let (c, v, _) = check(&d, &["--readings", "r.csv"]);
        assert_eq!((c, v["verdict"].as_str()), (Some(code), Some(verdict)));
    }
}

#[test]
fn calibration_and_two_decimals() {
    let d = Desk::new();
    d.file("rule.toml", RULE.replace("hold_max = 1.11", "hold_max = 1.67"));
    d.file(
        "r.csv",
        logger(PROBES, 3, |h| if h == 1 { "1.7,1.4,1.4" } else { "1.4,1.4,1.4" }.into()),
    );
    let slurry = "probe,reading_c\nprobe1,0.0\nprobe1,0.0\nprobe1,0.1\nprobe2,0.0\nprobe3,0.0\n";
    d.file("slurry.csv", slurry);
    let args = ["--readings", "r.csv", "--calibration", "slurry.csv"];
    let (code, v, _) = check(&d, &args);
    assert_eq!((code, &v["breaches"]), (Some(0), &Value::Array(vec![])));
    let max = v["probes"][0]["max_c"].as_f64().unwrap();
    assert!((max - 5.0 / 3.0).abs() < 1e-8, "{max}");
    d.file("slurry.csv", slurry.replace("probe2,0.0", "probe2,0.4"));
    let (code, v, _) = check(&d, &args);
    assert_eq!((code, &v["verdict"]), (Some(3), &"not_startable".into()));
    assert_eq!((&v["started_at"], &v["breaches"]), (&Value::Null, &Value::Array(vec![])));
    d.file("slurry.csv", "probe;reading_f\nprobe1;32,0\nprobe2;32,0\nprobe3;32,2\n");
    let (code, v, _) = check(&d, &args);
    assert_eq!(code, Some(3), "now 1.7 is over 1.67");
    assert!((v["probes"][2]["correction_c"].as_f64().unwrap() + 1.0 / 9.0).abs() < 1e-8);
}

#[test]
fn fahrenheit_columns_and_wrong_units() {
    let d = Desk::new();
    d.file("rule.toml", RULE);
    d.file(
        "f.csv",
        logger("probe1_f,probe2_f,probe3_f", 3, |h| {
            if h == 2 { "34.0,33.9,33.9" } else { "33.9,33.9,33.9" }.into()
        }),
    );
    let (_, v, _) = check(&d, &["--readings", "f.csv"]);
    let worst = v["breaches"][0]["worst_c"].as_f64().unwrap();
    assert!((worst - 10.0 / 9.0).abs() < 1e-8, "34.0 °F is over 1.11 °C");
    d.file("c.csv", logger(PROBES, 3, |_| "33.9,33.9,33.9".into()));
    let (_, v, _) = check(&d, &["--readings", "c.csv"]);
    let warned = v["warnings"].to_string();
    assert!(warned.contains("c.csv") && warned.contains("probe1_c") && warned.contains("°F"));
}

#[test]
fn rows_refused_and_rows_out_of_order() {
    let d = Desk::new();
    d.file("rule.toml", RULE);
    let good = flat(9);
    let lines: Vec<&str> = good.lines().collect();
    // Line 4 is hour 2 with text in a cell; hours 5 and 6 are exchanged.
    let bad = lines[3].replace("0.9,0.9,0.9", "0.9,cold,0.9");
    let mut mixed = lines.clone();
    mixed[3] = &bad;
    mixed.swap(6, 7);
    d.file("r.csv", mixed.join("\n") + "\n");
    let (code, v, _) = check(&d, &["--readings", "r.csv"]);
    assert_eq!(code, Some(3));
    assert_eq!((&v["refused"][0]["line"], v["refused"].as_array().unwrap().len()), (&4.into(), 1));
    // The refused row is absent: a gap, and nothing else.
    assert_eq!(v["breaches"].as_array().unwrap().len(), 1);
    assert_eq!(v["breaches"][0]["kind"], "gap");
    let warned = v["warnings"].to_string();
    assert!(warned.contains("r.csv:8") && warned.contains("backwards"), "{warned}");
    let out = d.run(&[
        "treatment",
        "check",
        "--schedule",
        "rule.toml",
        "--readings",
        "r.csv",
        "--unit",
        UNIT,
    ]);
    assert_eq!(out.status.code(), Some(3));
    assert!(String::from_utf8_lossy(&out.stderr).contains("r.csv:4"));
}

#[test]
fn only_the_units_rows_count() {
    let d = Desk::new();
    d.file("rule.toml", RULE);
    let mut text = logger("probe1_c,probe2_c,probe3_c,probe4_c", 3, |_| "0.9,0.9,0.9,".into());
    text += "2026-03-01 00:30,QQQU1000027,5.0,5.0,5.0,5.0\n";
    d.file("r.csv", text);
    let (_, v, _) = check(&d, &["--readings", "r.csv"]);
    assert_eq!((&v["verdict"], &v["reading_times"]), (&"running".into(), &4.into()));
    assert_eq!(v["probes"][3]["fitted"], false);
}

#[test]
fn one_line_when_refused() {
    let d = Desk::new();
    d.file("rule.toml", RULE);
    d.file("r.csv", flat(3));
    d.file("empty.csv", "");
    d.file("slurry.csv", "probe,reading_c\nprobe1,0.0\nprobe2,cold\n");
    d.file("probe9.csv", "probe,reading_c\nprobe9,0.0\n");
    d.file("nolimit.toml", RULE.replace("hold_max = 1.11\n", ""));
    d.file("kelvin.toml", RULE.replace("unit = \"c\"", "unit = \"k\""));
    d.file("torn.toml", "id = \"x\nhold_max = 3\n");
    let run = |schedule: &str, readings: &str, unit: &str, calibration: Option<&str>| {
        let mut args = vec!["treatment", "check", "--json", "--schedule", schedule];
        args.extend(["--readings", readings, "--unit", unit]);
        if let Some(c) = calibration {
            args.extend(["--calibration", c]);
        }
        d.refused(&args)
    };
    for (err, words) in [
        (run("nolimit.toml", "r.csv", UNIT, None), ["nolimit.toml", "hold_max"]),
        (run("kelvin.toml", "r.csv", UNIT, None), ["kelvin.toml:5", "unit"]),
        (run("torn.toml", "r.csv", UNIT, None), ["torn.toml:1", "TOML"]),
        (run("missing.toml", "r.csv", UNIT, None), ["missing.toml", "check the name"]),
        (run("no-such-id", "r.csv", UNIT, None), ["no-such-id", "treatment schedules"]),
        (run("rule.toml", "empty.csv", UNIT, None), ["empty.csv", "empty"]),
        (run("rule.toml", "rule.toml", UNIT, None), ["rule.toml", "time_utc"]),
        (run("rule.toml", "r.csv", "QQQU1000027", None), ["r.csv", "QQQU1000027"]),
        (run("rule.toml", "r.csv", UNIT, Some("slurry.csv")), ["slurry.csv:3", "reading_c"]),
        (run("rule.toml", "r.csv", UNIT, Some("probe9.csv")), ["probe9.csv:2", "probe9"]),
    ] {
        for w in words {
            assert!(err.contains(w), "{w}: {err}");
        }
    }
    let err = d.refused(&["treatment", "check", "--readings", "r.csv", "--unit", UNIT]);
    assert!(err.contains("--schedule"), "{err}");
    d.refused(&["treatment"]);
    d.refused(&["treatment", "pass"]);
}

#[test]
fn shipped_schedules_and_rehearsal() {
    let d = Desk::new();
    let all = d.json(&["treatment", "schedules"]);
    let list = all["schedules"].as_array().unwrap();
    assert!(list.len() > 50);
    for s in list {
        assert_eq!(s["rehearsal"].as_bool(), Some(s["evidence"] == "unverified"), "{s}");
    }
    let text = String::from_utf8(d.run(&["treatment", "schedules"]).stdout).unwrap();
    assert!(text.contains("us-t107-a-1.11") && text.contains("REHEARSAL"));
    d.file("r.csv", logger(PROBES, 540, |_| "-0.6,-0.6,-0.6".into()));
    let id = ["--readings", "r.csv", "--schedule", "us-t107-e-shape"];
    let (code, v, _) = check(&d, &id);
    assert_eq!((code, &v["rehearsal"], &v["verdict"]), (Some(0), &true.into(), &"time_met".into()));
    let out = d.run(&["treatment", "check", id[0], id[1], id[2], id[3], "--unit", UNIT]);
    let text = String::from_utf8(out.stdout).unwrap();
    assert!(text.contains("rehearsal"), "{text}");
    assert!(!text.contains("passed") && !text.to_lowercase().contains("successful"));
}

#[test]
fn every_reading_time_on_demand() {
    let d = Desk::new();
    d.file(
        "r.csv",
        logger(PROBES, 30, |h| match h {
            0 => "3.0,0.9,0.9".into(),
            9 => "0.9,0.9,1.2".into(),
            _ => "0.9,0.9,0.9".into(),
        }),
    );
    let args = ["--readings", "r.csv", "--schedule", "us-t107-a-1.11", "--hours"];
    let (_, v, _) = check(&d, &args);
    let hours = v["hours"].as_array().unwrap();
    assert_eq!(hours.len(), 31);
    assert_eq!((&hours[0]["counts"], &hours[1]["started"]), (&false.into(), &true.into()));
    assert_eq!(hours[9]["found"][0]["kind"], "excursion");
    assert_eq!(hours[9]["found"][0]["rule"], "7 CFR 305.6(d)(9)");
    assert_eq!((&hours[9]["counts"], &hours[10]["counts"]), (&false.into(), &true.into()));
}
