//! The register of instruments, ice-point checks, recorder charts, the hand-over list of a port.

use serde_json::{Value, json};

use crate::run::{Desk, logger, unit};
use crate::vacuum_watch::with_hold;

/// A small voyage with two ports, readings, and a key of its own.
struct Ship(Desk);

impl Ship {
    fn new() -> Self {
        let d = Desk::new();
        let mut list = String::from("unit,stow,size_type,full,set_point_c,cargo,discharge_port\n");
        for n in 0..6 {
            let port = if n < 4 { "XXMAR" } else { "XXNOR" };
            list +=
                &format!("{},{:03}0182,45R1,true,-18.0,FROZEN FISH,{port}\n", unit(n), 2 + 4 * n);
        }
        d.file("list.csv", list);
        d.file("log.csv", logger(0, 400));
        let ship = Self(d);
        ship.ok(&["load", "list.csv", "--voyage", "v.holdfast", "--who", "Mate"]);
        ship.ok(&["take", "log.csv", "--voyage", "v.holdfast", "--who", "Mate"]);
        ship
    }

    fn ok(&self, args: &[&str]) -> Value {
        let mut c = self.0.command(args);
        c.env("HOLDFAST_VOYAGE", "v.holdfast").env("HOLDFAST_KEY", self.0.path().join("key"));
        let out = c.arg("--json").output().unwrap();
        let err = String::from_utf8_lossy(&out.stderr);
        assert_eq!(out.status.code(), Some(0), "{args:?}: {err}");
        serde_json::from_slice(&out.stdout).unwrap()
    }

    fn no(&self, args: &[&str]) -> String {
        let all: Vec<&str> = args.iter().copied().chain(["--voyage", "v.holdfast"]).collect();
        self.0.refused(&all)
    }

    fn add(&self, id: &str, kind: &str, more: &[&str]) -> Value {
        let head = ["instrument", "add", id, "--kind", kind, "--who", "Eng"];
        self.ok(&[&head, more].concat())
    }

    fn instrument(&self, id: &str, on: &str) -> Value {
        self.ok(&["instrument", "list", id, "--on", on])["instruments"][0].clone()
    }
}

/// The figures of contract 3: slurry 0.0, 0.0, 0.1 gives −1/30 K, as for a treatment.
#[test]
fn a_check_gives_correction_spread_and_drift() {
    let s = Ship::new();
    // Without a voyage and without storing anything.
    let tried = s.0.json(&[
        "instrument",
        "check",
        "--try",
        "--reading",
        "0.0",
        "--reading",
        "0.0",
        "--reading",
        "0.1",
    ]);
    let one = &tried["checks"][0];
    assert_eq!((&tried["entry"], &one["count"]), (&Value::Null, &json!(3)));
    assert!((one["correction_k"].as_f64().unwrap() + 1.0 / 30.0).abs() < 1e-6);
    assert!(one["correction_k_p90"][0].as_f64().unwrap() < -0.1);
    let alone = s.0.json(&["instrument", "check", "--try", "--reading", "-0.1"]);
    assert_eq!(alone["checks"][0]["correction_k_p90"], Value::Null);

    s.add("TH-1", "thermometer", &["--serial", "5512", "--check-every-days", "30"]);
    let check = |at: &str, r: &str| {
        s.ok(&[
            "instrument",
            "check",
            "th-1",
            "--at",
            at,
            "--reading",
            r,
            "--reading",
            r,
            "--reading",
            r,
            "--reading",
            r,
            "--stirred",
            "--ice",
            "fresh water, stood 10 min",
        ])
    };
    check("2025-03-01T08:00Z", "0.0");
    check("2026-03-01T08:00Z", "0.1");
    let i = s.instrument("TH-1", "2026-03-20 00:00");
    assert_eq!(i["check_due"], json!({"state": "soon", "day": "2026-03-31"}));
    let drift = &i["checks"][1]["drift"];
    assert!((drift["drift_k"].as_f64().unwrap() - 0.1).abs() < 1e-9, "{drift}");
    assert!((drift["per_year_k"].as_f64().unwrap() - 0.1).abs() < 1e-3);
    assert_eq!(i["checks"][1]["notes"], "fresh water, stood 10 min; stirred");
    // The interval of the drift is wide enough to say that nothing is proved by one step of 0.1.
    assert!(drift["drift_k_p90"][0].as_f64().unwrap() < 0.1);

    for (bad, word) in [("x", "\"x\""), ("88", "\"88\""), ("", "plain decimal")] {
        let told = s.no(&["instrument", "check", "TH-1", "--reading", bad]);
        assert!(told.contains(word), "{told}");
    }
    s.no(&["instrument", "check", "TH-9", "--reading", "0.1"]);
    s.no(&["instrument", "check", "TH-1", "--reading", "0.1", "--at", "2099-01-01T00:00Z"]);
    s.no(&["instrument", "check", &unit(1), "--reading", "0.1"]);
}

/// All probes of one session together: the treatment counts the session entered last.
#[test]
fn probes_and_sensors_of_a_box() {
    let s = Ship::new();
    s.ok(&[
        "instrument",
        "check",
        &unit(1),
        "--reading",
        "probe1=0.1",
        "--reading",
        "probe2=0.0",
        "--reading",
        "probe3=0.0",
        "--at",
        "2026-03-01T08:00Z",
        "--against",
        "TH-1",
    ]);
    s.ok(&[
        "instrument",
        "check",
        &unit(1),
        "--sensor",
        "supply",
        "--fahrenheit",
        "--reading",
        "32.4",
        "--at",
        "2026-03-01T09:00Z",
    ]);
    let checks = s.ok(&["instrument", "list"])["box_checks"].clone();
    let labels: Vec<&str> =
        checks.as_array().unwrap().iter().map(|c| c["of"].as_str().unwrap()).collect();
    let of = |name: &str| format!("{name} of {}", unit(1));
    let wanted =
        [of("pulp probe 1"), of("pulp probe 2"), of("pulp probe 3"), of("supply air sensor")];
    assert_eq!(labels, wanted);
    let k = checks[3]["ice"]["correction_k"].as_f64().unwrap();
    assert!((k + 0.4 / 1.8).abs() < 1e-5, "{k}");
    // The treatment works from the same session: 2.0 °C raw is 1.9 °C.
    let mut rows = String::from("time_utc,unit,probe1_c,probe2_c,probe3_c,source\n");
    for hour in 0..24 {
        rows += &format!("2026-03-01 {hour:02}:30,{},2.0,2.0,2.0,logger\n", unit(1));
    }
    s.0.file("probes.csv", rows);
    s.ok(&["take", "probes.csv"]);
    s.ok(&["treatment", "order", &unit(1), "--schedule", "us-t107-a-1.11"]);
    let t = s.ok(&["treatment", "show", &unit(1)]);
    assert_eq!(t["probes"][0]["latest_c"], json!(1.9), "{t}");
    s.no(&["instrument", "check", &unit(1), "--reading", "probe1=0.1", "--reading", "0.1"]);
    s.no(&["instrument", "check", &unit(1), "--sensor", "pulp", "--reading", "0.1"]);
}

#[test]
fn certificates_their_scans_and_an_instrument_in_use() {
    let s = Ship::new();
    s.0.file("vg.pdf", b"%PDF scan one");
    s.add(
        "VG-1",
        "vacuum-gauge",
        &[
            "--dated",
            "2025-01-10",
            "--every-months",
            "12",
            "--scan",
            "vg.pdf",
            "--certificate",
            "C1",
        ],
    );
    let i = s.instrument("VG-1", "2025-12-31 10:00");
    assert_eq!(i["due"], json!({"state": "soon", "day": "2026-01-10"}));
    assert_eq!(s.instrument("VG-1", "2026-01-10 23:00")["due"]["state"], "soon");
    assert_eq!(s.instrument("VG-1", "2026-01-11 00:00")["due"]["state"], "overdue");
    let sha = record::digest::Digest::of(b"%PDF scan one").to_string();
    assert_eq!(i["scans"], json!([{"name": "vg.pdf", "sha256": sha}]));
    // A new certificate; the sheet of 1 March still names an instrument that was out of date.
    let box_1 = unit(1);
    s.ok(&[
        "instrument",
        "check",
        &box_1,
        "--sensor",
        "return",
        "--reading",
        "0.1",
        "--at",
        "2026-03-01T09:00Z",
        "--against",
        "compared with vg-1",
    ]);
    s.ok(&["instrument", "change", "VG-1", "--dated", "2026-04-01", "--certificate", "C2"]);
    let i = s.instrument("VG-1", "2026-05-01 00:00");
    assert_eq!((&i["certificate"], &i["due"]["day"]), (&json!("C2"), &json!("2027-04-01")));
    let used = &i["uses"][0];
    assert_eq!((&used["on_day"], &used["unit"]), (&json!("out_of_date"), &json!(box_1)));
    // The log tells it, with the scan's hash; verify finds nothing altered.
    let log = s.ok(&["log", "--search", "VG-1 entered"]);
    assert_eq!(log["lines"][0]["files"][0]["sha256"], json!(sha));
    assert_eq!(s.ok(&["verify", "v.holdfast"])["intact"], json!(true));
}

#[test]
fn an_instrument_withdrawn_and_entries_that_are_refused() {
    let s = Ship::new();
    s.add("VG-1", "vacuum-gauge", &[]);
    s.ok(&["instrument", "withdraw", "VG-1", "--why", "dropped"]);
    for args in [
        ["instrument", "add", "VG-1", "--kind", "vacuum_gauge"].as_slice(),
        &["instrument", "change", "VG-1", "--place", "x"],
        &["instrument", "check", "VG-1", "--reading", "0.1"],
        &["instrument", "withdraw", "VG-1", "--why", "again"],
        &["instrument", "add", "GAUGE", "--kind", "other"],
        &["instrument", "add", "G-1", "--kind", "clock"],
        &["instrument", "add", "G-1", "--kind", "other", "--dated", "2026-02-30"],
        &[
            "instrument",
            "add",
            "G-1",
            "--kind",
            "other",
            "--dated",
            "2026-02-03",
            "--due",
            "2025-01-01",
        ],
        &["instrument", "add", "G-1", "--kind", "other", "--scan", "missing.pdf"],
        &["instrument", "mend", "G-1"],
        &["instrument", "list", "G-7"],
    ] {
        s.no(args);
    }
}

#[test]
fn charts_are_put_on_taken_off_and_kept() {
    let s = Ship::new();
    let u = unit(2);
    s.0.file("c.png", b"scan of a chart");
    s.ok(&["chart", "on", &u, "--at", "2026-03-01T08:00Z", "--days", "31", "--chart", "no. 3"]);
    assert!(s.no(&["chart", "on", &u, "--days", "7"]).contains("still on"));
    let on = |t: &str| s.ok(&["chart", "list", "--on", t])["charts"][0]["state"].clone();
    assert_eq!(on("2026-03-20T08:00Z"), "in_date");
    assert_eq!(on("2026-04-01T00:00Z"), "soon");
    assert_eq!(on("2026-04-01T09:00Z"), "overdue");
    s.ok(&["chart", "off", &u, "--at", "2026-04-01T20:00Z"]);
    let c = s.ok(&["chart", "list", &u])["charts"][0].clone();
    assert_eq!((&c["kept"], &c["late_h"]), (&Value::Null, &json!(12.0)));
    s.ok(&["chart", "keep", &u, "--kept", "folder 2", "--scan", "c.png"]);
    let c = s.ok(&["chart", "list", &u])["charts"][0].clone();
    let sha = record::digest::Digest::of(b"scan of a chart").to_string();
    assert_eq!((&c["kept"], &c["scans"][0]["sha256"]), (&json!("folder 2"), &json!(sha)));
    for args in [
        ["chart", "off", u.as_str()].as_slice(),
        &["chart", "on", &u],
        &["chart", "on", &u, "--days", "0"],
        &["chart", "keep", &u],
        &["chart", "keep", &u, "--put-on", "2026-01-01T00:00Z", "--kept", "x"],
        &["chart", "on", "nobox", "--days", "7"],
        &["chart", "on", "QQQU9999990", "--days", "7"],
        &["chart", "burn", &u],
    ] {
        s.no(args);
    }
}

/// What the list says is derived from the voyage; every "must" names its source and its trust.
#[test]
fn the_list_of_a_port_says_what_is_open() {
    let s = Ship::new();
    let (u, other) = (unit(1), unit(5));
    s.ok(&["treatment", "order", &u, "--schedule", "us-t107-a-1.11"]);
    s.ok(&["chart", "on", &u, "--at", "2026-03-01T08:00Z", "--days", "31"]);
    s.ok(&["chart", "on", &other, "--at", "2026-03-01T08:00Z", "--days", "31"]);
    s.add("TH-1", "thermometer", &["--dated", "2020-01-10", "--every-months", "12"]);
    s.ok(&["note", &u, "ice on coil", "--kind", "noticed", "--at", "2026-03-02T08:00Z"]);
    let h = s.ok(&["handover", "xxmar"]);
    assert_eq!((&h["port"], &h["boxes"], &h["pdf"]), (&json!("XXMAR"), &json!(4), &Value::Null));
    let open: Vec<&str> =
        h["open"].as_array().unwrap().iter().map(|o| o.as_str().unwrap()).collect();
    for wanted in [
        format!("{u}: cold treatment not released"),
        format!("{u}: no probe calibration record is entered."),
        format!("{u}: the chart of 2026-03-01 08:00 UTC is still on"),
        "Instrument TH-1 at arrival: certificate OVERDUE since 2021-01-10".to_owned(),
    ] {
        assert!(open.iter().any(|o| o.starts_with(&wanted)), "{wanted}: {open:?}");
    }
    // The other port's box is not on it.
    assert!(!h.to_string().contains(&other), "{h}");
    let parts = h["parts"].as_object().unwrap();
    let keys =
        ["boxes", "calibrations", "charts", "dossiers", "instruments", "service", "treatments"];
    assert_eq!(parts.keys().map(String::as_str).collect::<Vec<_>>(), keys);
    for part in parts.values() {
        for m in part["must"].as_array().unwrap() {
            let told = |k: &str| !m[k].as_str().unwrap().is_empty();
            assert!(told("what") && told("source") && told("trust"), "{m}");
        }
    }
    let boxes = parts["boxes"]["rows"].as_array().unwrap();
    let mine = boxes.iter().find(|b| b["unit"] == json!(u)).unwrap();
    assert!(mine["open_matters"].as_str().unwrap().contains("ice on coil"), "{mine}");
    assert_eq!(parts["treatments"]["rows"][0]["calibration"], Value::Null);
    // Once the probes are read, the record stands there and is no longer open.
    s.ok(&[
        "instrument",
        "check",
        &u,
        "--reading",
        "probe1=0.1",
        "--reading",
        "probe1=0.1",
        "--at",
        "2026-03-01T08:00Z",
        "--against",
        "TH-1",
        "--who",
        "Eng",
    ]);
    let h = s.ok(&["handover", "XXMAR"]);
    assert_eq!(h["parts"]["treatments"]["rows"][0]["calibration"], "2026-03-01 08:00 by Eng");
    assert_eq!(h["parts"]["calibrations"]["rows"][0]["correction_k"], "-0.10");
    let open = h["open"].to_string();
    assert!(!open.contains("no probe calibration"), "{open}");
    assert!(open.contains("names TH-1, certificate OUT OF DATE that day"), "{open}");
    assert!(s.no(&["handover", "XXXXX"]).contains("XXMAR, XXNOR"));
    s.no(&["handover"]);
}

/// The paper is sealed; a box's dossier has checks, charts, and the certificate that was used.
#[test]
fn papers_carry_checks_charts_and_certificates() {
    let s = Ship::new();
    let u = unit(1);
    s.0.file("th.pdf", b"%PDF-1.4 scan of a certificate");
    s.0.file("c.png", b"scan of a chart");
    s.add("TH-1", "thermometer", &["--dated", "2026-01-10", "--scan", "th.pdf"]);
    for at in ["2026-01-20T08:00Z", "2026-03-01T08:00Z"] {
        s.ok(&[
            "instrument",
            "check",
            &u,
            "--sensor",
            "supply",
            "--reading",
            "0.1",
            "--reading",
            "0.2",
            "--at",
            at,
            "--against",
            "TH-1",
        ]);
    }
    s.ok(&["chart", "on", &u, "--at", "2026-03-01T08:00Z", "--days", "31"]);
    s.ok(&["chart", "off", &u, "--kept", "folder 2", "--scan", "c.png"]);
    let h = s.ok(&["handover", "XXMAR", "--out", "h/list.pdf", "--who", "Eng"]);
    assert_eq!(h["pdf"], "h/list.pdf");
    assert_eq!(s.ok(&["verify", "h/list.pdf"])["intact"], json!(true));
    let bytes = std::fs::read(s.0.path().join("h/list.pdf")).unwrap();
    let mut bad = bytes.clone();
    bad[bytes.len() / 2] ^= 1;
    s.0.file("bad.pdf", bad);
    assert_eq!(s.0.run(&["verify", "bad.pdf"]).status.code(), Some(3));

    s.ok(&["dossier", &u, "--out", "d", "--who", "Eng"]);
    let read = |name: &str| {
        let path = s.0.path().join("d").join(&u).join(name);
        std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
    };
    assert_eq!(read("originals/th.pdf"), "%PDF-1.4 scan of a certificate");
    assert_eq!(read("originals/c.png"), "scan of a chart");
    let checks = read("ice_checks.csv");
    assert_eq!(checks.lines().count(), 3, "{checks}");
    assert!(
        checks.contains(&format!("supply air sensor of {u},0.1 0.2,C,0.15,-0.15,")),
        "{checks}"
    );
    assert!(read("charts.csv").contains("folder 2"));
    assert!(read("instruments.csv").contains("TH-1"));
    assert_eq!(s.ok(&["verify", &format!("d/{u}")])["intact"], json!(true));
    // A box that these records are not about has none of them.
    s.ok(&["dossier", &unit(2), "--out", "d", "--who", "Eng"]);
    assert!(!s.0.path().join("d").join(unit(2)).join("charts.csv").exists());
}

/// Due dates by the calendar; drift by hand: four times 0.5 in ice after four times 0.0 is 0.5 K, by
/// more than the code of practice's 0.2 K (docs/instruments.md).
#[test]
fn what_is_wrong_with_an_instrument_is_told_where_it_is_used() {
    let s = Ship::new();
    with_hold(&s.0);
    s.add("VG-1", "vacuum_gauge", &["--dated", "2025-01-10", "--due", "2026-01-10"]);
    s.add("GS-1", "gauge_set", &["--dated", "2024-01-10", "--due", "2025-01-10"]);
    s.add("GS-2", "gauge_set", &["--dated", "2026-01-10", "--due", "2099-01-10"]);
    s.add("TH-2", "thermometer", &[]);
    for (at, r) in [("2026-01-01T08:00Z", "0.0"), ("2026-03-01T08:00Z", "0.5")] {
        let readings = ["--reading", r, "--reading", r, "--reading", r, "--reading", r];
        s.ok(&[&["instrument", "check", "TH-2", "--at", at], readings.as_slice()].concat());
    }
    let input = r#"{"fluid":"R134a","suction_kpag":126,"suction_line_c":2,"return_c":8}"#;
    s.0.file("g.json", input);
    let told = s.ok(&["gauge", "--input", "g.json", "--unit", &unit(1)]);
    let wrong: Vec<&str> =
        told["instruments"].as_array().unwrap().iter().filter_map(Value::as_str).collect();
    assert_eq!(wrong.len(), 2, "{wrong:?}");
    assert!(
        wrong[0].starts_with("GS-1: certificate OUT OF DATE") && wrong[0].contains("2025-01-10")
    );
    assert!(
        wrong[1].starts_with("TH-2: DRIFTED") && wrong[1].contains("0.50 K warmer"),
        "{wrong:?}"
    );
    assert!(wrong[1].contains("add -0.50 K"), "{wrong:?}");
    assert_eq!(s.0.json(&["gauge", "--input", "g.json"]).get("instruments"), None);

    let standing = |gauge: &str, json: bool| {
        let text = format!(
            "vacuum standing --fluid R134a --pressure 665.4kPaa --temp-c 25 --gauge-error-kpa 2 \
             --keep --unit {} --gauge {gauge} --who B --voyage v.holdfast",
            unit(1)
        );
        let mut args: Vec<&str> = text.split_whitespace().collect();
        args.extend(json.then_some("--json"));
        String::from_utf8(s.0.run(&args).stdout).unwrap()
    };
    let told: Value = serde_json::from_str(&standing("GS-1", true)).unwrap();
    assert!(told["instruments"][0].as_str().unwrap().starts_with("GS-1: certificate OUT OF DATE"));
    let told: Value = serde_json::from_str(&standing("GS-2", true)).unwrap();
    assert_eq!(told["instruments"], json!([]));
    assert!(standing("GS-1", false).contains("Instruments to look at:\n  - GS-1"));

    s.0.file("log.csv", "minutes,pressure_um\n0,300\n1,301\n");
    let watch = "vacuum watch log.csv --once --json --hold H1 --voyage v.holdfast";
    let out = s.0.run(&watch.split(' ').collect::<Vec<_>>()).stdout;
    let begin: Value = serde_json::from_slice(out.split(|b| *b == b'\n').next().unwrap()).unwrap();
    let wrong = begin["instruments"][0].as_str().unwrap();
    // Valve-off was on 6 March 2026.
    assert!(wrong.starts_with("VG-1: certificate OUT OF DATE, due 2026-01-10"), "{wrong}");
}
