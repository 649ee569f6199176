//! Cold treatments of a voyage, through the program as a user runs it.

use serde_json::Value;

use crate::run::Desk;

/// A demonstration ship with its treatments ordered, calibrated and running.
fn ship(desk: &Desk) {
    let made = desk.run(&["demo", "--dir", "ship", "--no-serve", "--boxes", "60"]);
    assert!(made.status.success(), "{made:?}");
}

const VOYAGE: &str = "ship/demo.holdfast";

fn first_unit(desk: &Desk) -> String {
    let list = desk.json(&["treatment", "list", "--voyage", VOYAGE]);
    let first = &list["treatments"][0];
    assert_eq!(first["schedule"], "demo-grapes-16d");
    assert_eq!(first["required_h"], 384.0);
    first["unit"].as_str().unwrap().to_owned()
}

fn show(desk: &Desk, unit: &str) -> Value {
    desk.json(&["treatment", "show", unit, "--voyage", VOYAGE])
}

#[test]
fn a_treatment_from_order_to_release() {
    let desk = Desk::new();
    ship(&desk);
    let unit = first_unit(&desk);
    let before = show(&desk, &unit);
    let fitted = before["probes"].as_array().unwrap().iter().filter(|p| p["fitted"] == true);
    assert_eq!(fitted.count(), 3);
    assert!(before["forecast"].is_object(), "{before}");
    assert!(before["what_if"].as_array().unwrap().len() >= 4);
    // Without the official's name nothing is stored.
    let at = "2026-03-16T08:00:00Z";
    let bare = ["treatment", "release", &unit, "--voyage", VOYAGE, "--accepted", "--at", at];
    let refused = desk.refused(&bare);
    assert!(refused.contains("--official"), "{refused}");
    let mut full = bare.to_vec();
    full.extend(["--official", "A. Person", "--authority", "XX", "--document", "XX-1"]);
    assert!(desk.run(&full).status.success());
    let after = show(&desk, &unit);
    assert_eq!(after["released_at"], at);
    assert_eq!(after["state"], "ok");
    let intact = desk.json(&["verify", VOYAGE, "--json"]);
    assert_eq!(intact["intact"], true);
}

#[test]
fn an_official_verifies_a_breach_and_the_clock_stands() {
    let desk = Desk::new();
    ship(&desk);
    // A record of our own: 30 hours at 0.9 °C, one excursion in the 20th.
    let unit = first_unit(&desk);
    let mut text = String::from("time_utc,unit,probe1_c,probe2_c,probe3_c,source\n");
    let start = units::Utc::parse("2026-03-16T07:00:00Z").unwrap();
    for h in 0..30 {
        let at = start.plus_hours(f64::from(h));
        let warm = if h == 20 { "1.3" } else { "0.9" };
        text += &format!("{at},{unit},0.8,0.9,{warm},second recorder\n");
    }
    desk.file("record.csv", text);
    assert!(desk.run(&["take", "record.csv", "--voyage", VOYAGE]).status.success());
    desk.file(
        "two-days.toml",
        "id='two-days'\ntitle='x'\nsource='x'\nevidence='unverified'\nunit='c'\nhold_max=1.11\n\
         days=2\npulp_probes_min=3\nextra_probes_must_comply=true\ngap_max_minutes=60\n\
         gap_jitter_s=0\ncalibration_correction=true\non_excursion='invalid_unless_verified'\n\
         on_step='warn'\non_gap='invalid_unless_verified'\non_fault='warn'\nfault_hours=0\n",
    );
    let mut order = vec!["treatment", "order", &unit, "--schedule", "two-days.toml", "--from"];
    order.extend(["2026-03-16T07:00:00Z", "--voyage", VOYAGE, "--who", "mate"]);
    assert!(desk.run(&order).status.success());
    let pending = show(&desk, &unit);
    assert_eq!(pending["breaches"][0]["effect"], "invalid_unless_verified", "{pending}");
    assert_eq!(pending["state"], "act");
    let decide = [
        "treatment",
        "decide",
        &unit,
        "--voyage",
        VOYAGE,
        "--from",
        "2026-03-17T03:00:00Z",
        "--to",
        "2026-03-17T03:00:00Z",
        "--kind",
        "excursion",
        "--verified",
        "--official",
        "A. Person",
        "--authority",
        "XX",
        "--document",
        "XX-2",
        "--at",
        "2026-03-18T00:00:00Z",
    ];
    assert!(desk.run(&decide).status.success());
    let verified = show(&desk, &unit);
    assert_eq!(verified["breaches"][0]["effect"], "verified");
    assert_eq!(verified["elapsed_h"], 29.0);
    assert!(verified["breaches"][0]["decided"].as_str().unwrap().contains("A. Person"));
}
