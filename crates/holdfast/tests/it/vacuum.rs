//! `holdfast vacuum`

use serde_json::Value;

use crate::run::Desk;

const PLAN: [&str; 8] =
    ["vacuum", "plan", "--volume-l", "15", "--pump-l-s", "2.36", "--pump-ultimate-pa", "2"];

fn plan(more: &[&str]) -> Value {
    let all: Vec<&str> = PLAN.into_iter().chain(more.iter().copied()).collect();
    Desk::new().json(&all)
}

/// A hold of 30 min, read every 15 s, in whole µm.
fn hold(curve: impl Fn(f64) -> f64) -> String {
    let rows: String = (0..=120)
        .map(|i| {
            let t = f64::from(i) * 0.25;
            // A ripple of 1 %, the same on every run.
            let ripple = 1.0 + 0.01 * f64::from((i * 7919) % 21 - 10) / 6.0;
            format!("{t},{:.0}\n", curve(t) * ripple)
        })
        .collect();
    format!("minutes,pressure_um\n{rows}")
}

/// Runs `hold --json` and gives the status with the document.
fn judged(csv: &str, more: &[&str]) -> (i32, Value) {
    let desk = Desk::new();
    desk.file("hold.csv", csv);
    let head = ["vacuum", "hold", "--readings", "hold.csv", "--json"];
    let all: Vec<&str> = head.into_iter().chain(more.iter().copied()).collect();
    let out = desk.run(&all);
    assert!(out.stderr.is_empty(), "{}", String::from_utf8_lossy(&out.stderr));
    let said = String::from_utf8_lossy(&out.stdout).to_lowercase();
    assert!(!said.contains("leak-free") && !said.contains("leak free"), "{said}");
    (out.status.code().unwrap(), serde_json::from_slice(&out.stdout).unwrap())
}

/// Reference refrigeration-service.md §4.4, "Hose effect" ([calc]): 15.9 and 8.2 min to 500 µm.
#[test]
fn plan_meets_the_table() {
    let one = plan(&["--hose", "4.8x1.8", "--target-um", "500"]);
    assert!((one["time_min"].as_f64().unwrap() - 15.9).abs() < 0.2, "{one}");
    assert!((one["effective_speed_l_s"].as_f64().unwrap() - 0.0195).abs() < 3e-4, "{one}");
    assert!((one["limit_um"].as_f64().unwrap() - 15.0).abs() < 0.01, "{one}");
    assert!(one["advice"].as_array().unwrap().iter().any(|a| a.as_str().unwrap().contains("8.2")));
    let two = plan(&["--hose", "4.8 X 1.8", "--hose", "4.8x1.8", "--target-um", "500"]);
    assert!((two["time_min"].as_f64().unwrap() - 8.2).abs() < 0.1, "{two}");
}

#[test]
fn plan_with_water() {
    let more = ["--hose", "9.5x0.9", "--target-um", "500", "--water-g", "10", "--coldest-c"];
    let at = |c: &'static str| plan(&more.iter().copied().chain([c]).collect::<Vec<_>>());
    assert!(at("20")["time_min"].as_f64().unwrap() > 4.0);
    assert_eq!(at("20")["boil_off"]["ice"], false);
    // Ice at −60 °C has about 1 Pa, below the pump's 2 Pa.
    let cold = at("-60");
    assert!(cold["time_min"].is_null() && !cold["advice"].as_array().unwrap().is_empty());
    let deep = plan(&["--hose", "9.5x0.9", "--target-um", "10"]);
    assert!(deep["time_min"].is_null() && !deep["advice"].as_array().unwrap().is_empty());
}

#[test]
fn plan_refuses_by_name() {
    let desk = Desk::new();
    let tail = ["--target-um", "500", "--hose"];
    for bad in ["6mmx1.5m", "6.35", "x1.5", "0x1", "-6x1", "6.35x", "1,5x2"] {
        let all: Vec<&str> = PLAN.into_iter().chain(tail).chain([bad]).collect();
        assert!(desk.refused(&all).contains("--hose"), "{bad}");
    }
    let water: Vec<&str> = PLAN.into_iter().chain(tail).chain(["6x1", "--water-g", "3"]).collect();
    assert!(desk.refused(&water).contains("--coldest-c"));
    desk.refused(&PLAN);
    desk.refused(&["vacuum"]);
    desk.refused(&["vacuum", "squeeze"]);
    desk.refused(&["vacuum", "hold"]);
}

#[test]
fn dry_alone_is_status_0() {
    let (code, dry) = judged(&hold(|_| 300.0), &["--coldest-c", "18"]);
    assert_eq!((code, dry["verdict"].as_str()), (0, Some("dry_and_gross_tight")), "{dry}");
    assert_eq!(dry["watch_longer_min"], 0);
    assert!(dry["leak_pa_m3_s"].is_null() && dry["leak_pa_m3_s_p90"].is_null());
    assert_eq!(dry["free_water"], "no");
    // Ice at −20 °C stands at 774 µm (reference §4.2).
    let (code, ice) = judged(&hold(|_| 774.0), &["--coldest-c", "-20"]);
    assert_eq!(code, 3);
    assert_ne!(ice["verdict"], "dry_and_gross_tight");
    assert_ne!(ice["free_water"], "no");
}

#[test]
fn a_leak_with_its_loss() {
    // Reference §4.7 ([calc]): 1 µm/min in
    // 15 l = 3.33e-5 Pa·m³/s; lost as R134a at 20 °C × 48.3 × 1.320e6 g/yr (§4.6).
    let known = ["--volume-l", "15", "--coldest-c", "18", "--fluid", "R134a"];
    let (code, j) = judged(&hold(|t| 300.0 + 20.0 * t), &known);
    assert_eq!((code, j["verdict"].as_str()), (3, Some("leaking")), "{j}");
    let leak = j["leak_pa_m3_s"].as_f64().unwrap();
    assert!((leak / (20.0 * 3.33e-5) - 1.0).abs() < 0.03, "{leak}");
    let interval: Vec<f64> =
        j["leak_pa_m3_s_p90"].as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect();
    assert!(interval[0] < leak && leak < interval[1]);
    let loss = j["operating_loss_g_per_year"].as_f64().unwrap();
    assert!((loss / (leak * 48.3 * 1.320e6) - 1.0).abs() < 0.015, "{loss}");
    let sum: f64 = j["probabilities"].as_object().unwrap().values().filter_map(Value::as_f64).sum();
    assert!((sum - 1.0).abs() < 1e-6);
}

#[test]
fn few_readings_and_bad_rows() {
    let (code, j) = judged("seconds,pressure_pa\n0,40\n60,40.1\n120,40\n", &[]);
    assert_eq!((code, j["verdict"].as_str()), (3, Some("undecided")));
    assert!(j["watch_longer_min"].as_u64().unwrap() > 0);
    let (_, j) = judged(&(hold(|_| 300.0) + "30.5,abc\n"), &[]);
    assert_eq!(j["refused"][0]["line"], 123);
    let desk = Desk::new();
    desk.file("empty.csv", "minutes,pressure_um\n");
    assert!(desk.refused(&["vacuum", "hold", "--readings", "empty.csv"]).contains("empty.csv"));
    desk.file("other.csv", "a,b\n1,2\n");
    assert!(desk.refused(&["vacuum", "hold", "--readings", "other.csv"]).contains("other.csv"));
    desk.refused(&["vacuum", "hold", "--readings", "none.csv"]);
}

#[test]
fn a_person_reads_cautions_first() {
    let desk = Desk::new();
    desk.file("hold.csv", hold(|t| 300.0 + 20.0 * t));
    let out = desk.run(&["vacuum", "hold", "--readings", "hold.csv"]);
    let text = String::from_utf8_lossy(&out.stdout).into_owned();
    let (mind, verdict) = (text.find("regulator").unwrap(), text.find("LEAKING").unwrap());
    assert!(mind < verdict, "{text}");
    assert!(desk.run(&["vacuum", "--help"]).status.success());
    assert!(desk.run(&["help", "vacuum"]).status.success());
}

/// Reference refrigeration-service.md §6.5 [calc]: 1 K makes 6.8 kPa at 20 bar absolute. A fall by
/// that much with the temperature is no leak; 50 kPa more is.
#[test]
fn nitrogen_is_corrected_for_temperature() {
    let d = Desk::new();
    let run = |end: &str| {
        let args = [
            "vacuum",
            "nitrogen",
            "--volume-l",
            "15",
            "--start",
            "2000kPaa",
            "--start-c",
            "20",
            "--end",
            end,
            "--end-c",
            "19",
            "--hours",
            "24",
            "--thermometer-k",
            "0.3",
            "--json",
        ];
        let out = d.run(&args);
        (out.status.code(), serde_json::from_slice::<Value>(&out.stdout).unwrap())
    };
    let (status, cold) = run("1993.2kPaa");
    assert_eq!((status, cold["verdict"].as_str()), (Some(0), Some("no_fall_seen")));
    assert!((cold["expected_kpa"].as_f64().unwrap() - 1993.2).abs() < 0.05, "{cold}");
    let (status, leak) = run("1943kPaa");
    assert_eq!((status, leak["verdict"].as_str()), (Some(3), Some("leaking")));
    assert!(leak["cautions"].to_string().contains("regulator"));
    let why = d.refused(&["vacuum", "nitrogen", "--volume-l", "15", "--start", "20"]);
    assert!(why.contains("--start"), "{why}");
}

/// Reference §8, vector 12: R134a at 25 °C; 577 kPa is another gas, 715 kPa non-condensables, 665
/// agrees.
#[test]
fn a_standing_pressure_against_saturation() {
    let d = Desk::new();
    for (kpa, verdict, status) in [
        ("577kPaa", "not_this_refrigerant", 3),
        ("715kPaa", "non_condensables", 3),
        ("665kPaa", "consistent", 0),
    ] {
        let args = [
            "vacuum",
            "standing",
            "--fluid",
            "R134a",
            "--pressure",
            kpa,
            "--temp-c",
            "25",
            "--gauge-error-kpa",
            "6",
            "--json",
        ];
        let out = d.run(&args);
        let v: Value = serde_json::from_slice(&out.stdout).unwrap();
        assert_eq!(v["verdict"], verdict, "{kpa}");
        assert_eq!(out.status.code(), Some(status), "{kpa}");
        assert!(v["cautions"].to_string().contains("does not prove"));
    }
    d.refused(&["vacuum", "standing", "--fluid", "R999", "--pressure", "6barg", "--temp-c", "25"]);
}

/// A voyage in which one box is listed.
fn voyage(d: &Desk) {
    d.file("list.csv", "unit,set_point_c,full\nQQQU1000011,-18,true\n");
    d.json(&["load", "list.csv", "--voyage", "v.holdfast"]);
}

fn words(line: &str) -> Vec<&str> {
    line.split(' ').collect()
}

/// Reference §6.5 [calc]: 6.8 kPa of 1 K at 20 bar; §6.3 [calc]: 30 kPa above R134a at 25 °C.
#[test]
fn a_finished_test_is_signed_into_the_journal() {
    let d = Desk::new();
    voyage(&d);
    let nitrogen = "vacuum nitrogen --volume-l 15 --start 2000kPaa --start-c 20 --end 1943kPaa \
                    --end-c 19 --hours 24 --keep --unit QQQU1000011 --calibrated-on 2026-01-10 \
                    --ambient-c 24 --voyage v.holdfast";
    let with = |more: &[&'static str]| -> Vec<String> {
        let all = words(nitrogen).into_iter().filter(|w| !w.is_empty()).chain(more.iter().copied());
        all.map(str::to_owned).collect()
    };
    let refused = |more: &[&'static str]| {
        let args = with(more);
        d.refused(&args.iter().map(String::as_str).collect::<Vec<_>>())
    };
    // No record without a name, a gauge, a day that is one, an instant that has been.
    assert!(refused(&["--gauge", "no. 2"]).contains("--who"));
    assert!(refused(&["--who", "A. Person"]).contains("--gauge"));
    assert!(refused(&["--who", "A", "--gauge", "g", "--at", "2099-01-01 00:00"]).contains("--at"));
    let twice = refused(&["--who", "A", "--gauge", "g", "--unit", "QQQU1000011"]);
    assert!(twice.contains("twice"), "{twice}");
    let alone = "vacuum nitrogen --volume-l 15 --start 20barg --start-c 20 --end 20barg --end-c 20 \
                 --hours 1 --who A";
    assert!(d.refused(&alone.split_whitespace().collect::<Vec<_>>()).contains("--keep"));
    let args = with(&["--who", "A. Person", "--gauge", "test gauge no. 2", "--json"]);
    let out = d.run(&args.iter().map(String::as_str).collect::<Vec<_>>());
    let told: Value = serde_json::from_slice(&out.stdout).unwrap();
    assert_eq!((out.status.code(), told["verdict"].as_str()), (Some(3), Some("leaking")));
    assert_eq!((told["kept"].as_bool(), told["entry"].as_i64()), (Some(true), Some(2)));
    let standing = "vacuum standing --fluid R134a --pressure 695.4kPaa --temp-c 25 \
                    --gauge-error-kpa 2 --keep --unit QQQU1000011 --gauge no.3 --who B \
                    --voyage v.holdfast";
    let out = d.run(&standing.split_whitespace().collect::<Vec<_>>());
    assert!(String::from_utf8_lossy(&out.stdout).contains("entry 3"));
    // The log tells both in words, and the journal agrees with its own hashes.
    let log = d.json(&["log", "--unit", "QQQU1000011", "--voyage", "v.holdfast"]);
    let text = log.to_string();
    assert!(text.contains("nitrogen pressure test of QQQU1000011"), "{text}");
    assert!(text.contains("standing-pressure test of QQQU1000011"), "{text}");
    d.json(&["verify", "v.holdfast"]);
    // A box that nobody knows, and a test of nothing.
    let unknown = alone.replace("--who A", "--keep --who A --gauge g --unit QQQU1000027");
    let unknown = format!("{unknown} --voyage v.holdfast");
    let why = d.refused(&unknown.split_whitespace().collect::<Vec<_>>());
    assert!(why.contains("QQQU1000027"), "{why}");
    let nothing = unknown.replace("--unit QQQU1000027", "");
    let why = d.refused(&nothing.split_whitespace().collect::<Vec<_>>());
    assert!(why.contains("place"), "{why}");
    let dated = unknown.replace("--unit QQQU1000027", "--place rig --calibrated-on May");
    let why = d.refused(&dated.split_whitespace().collect::<Vec<_>>());
    assert!(why.contains("calibration"), "{why}");
}
