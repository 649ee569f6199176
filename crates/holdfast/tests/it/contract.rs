//! What a user's script may rely on (commands, exit status, JSON keys).

use serde_json::{Value, json};

use crate::run::Desk;

const LIST: &str = "UNB+UNOA:2+A+B+260301:0600+1'UNH+1+BAPLIE:D:95B:UN:SMDG22'BGM++P+9'\
LOC+147+0220382::5'FTX+AAA+++FROZEN FISH'MEA+VGM++KGM:21400'TMP+2+-18.0:CEL'RNG+5+CEL:-20:-16'\
LOC+9+XXAAA'LOC+11+XXBBB'EQD+CN+QQQU1000011+45R1+++5'\
LOC+147+0220182::5'FTX+AAA+++BANANAS'MEA+VGM++KGM:22000'TMP+2+13.5:CEL'LOC+9+XXAAA'LOC+11+XXBBB'\
EQD+CN+QQQU1000027+45R1+++5'\
LOC+147+0220582::5'LOC+9+XXAAA'LOC+11+XXBBB'EQD+CN+QQQU3000010+45G1+++5'UNT+22+1'UNZ+1+1'";

const ROUND: &str = "time_utc,unit,set_point_c,supply_c,return_c,ambient_c,on_power,source\n\
2026-03-05 08:00,QQQU1000011,-18.0,-18.6,-17.5,30,1,round\n\
2026-03-05 08:04,QQQU1000027,13.5,,14.6,30,0,round\n";

fn keys(v: &Value) -> Vec<String> {
    v.as_object().unwrap().keys().cloned().collect()
}

fn has_keys(v: &Value, wanted: &[&str]) {
    let have = keys(v);
    for k in wanted {
        assert!(have.iter().any(|h| h == k), "no key {k} in {have:?}");
    }
}

#[test]
fn load_reports_every_container() {
    let d = Desk::new();
    d.file("list.edi", LIST);
    let v = d.json(&["load", "list.edi"]);
    has_keys(&v, &["files", "messages", "units", "warnings", "changes"]);
    assert_eq!(v["warnings"], json!([]));
    assert_eq!(v["changes"], json!({"added":3,"removed":0,"moved":0,"set_point_changed":0}));
    let u = &v["units"][0];
    has_keys(u, &["vent_m3_h", "humidity_pct", "set_point_as_sent", "check_digit_ok"]);
    assert_eq!(u["unit"], "QQQU1000011");
    assert_eq!((&u["bay"], &u["row"], &u["tier"]), (&json!(22), &json!(3), &json!(82)));
    assert_eq!((&u["weight_kg"], &u["set_point_c"]), (&json!(21400.0), &json!(-18.0)));
    assert_eq!(u["range_c"], json!([-20.0, -16.0]));
    assert_eq!(v["units"][2]["thermal"], json!(false));
    assert!(!d.path().join("voyage.holdfast").exists(), "read only without a voyage");
}

#[test]
fn a_second_load_is_a_difference() {
    let d = Desk::new();
    d.file("a.edi", LIST);
    let b = LIST
        .replace("0220382", "0220384")
        .replace("TMP+2+13.5", "TMP+2+13.3")
        .replace("QQQU3000010", "QQQU1000032");
    d.file("b.edi", &b);
    let v = ["--voyage", "v.holdfast"];
    assert_eq!(d.json(&["load", "a.edi", v[0], v[1]])["changes"]["added"], 3);
    let want = json!({"added":1,"removed":1,"moved":1,"set_point_changed":1});
    assert_eq!(d.json(&["load", "b.edi", "--dry-run", v[0], v[1]])["changes"], want);
    assert_eq!(d.json(&["load", "b.edi", v[0], v[1]])["changes"], want, "dry run stored nothing");
    let nothing = json!({"added":0,"removed":0,"moved":0,"set_point_changed":0});
    assert_eq!(d.json(&["load", "b.edi", v[0], v[1]])["changes"], nothing);
}

/// A load order speaks for itself, not for the ship; a cut file removes nobody.
#[test]
fn orders_and_cut_files_remove_nobody_else() {
    let d = Desk::new();
    d.file("plan.edi", LIST);
    let order = |unit: &str| {
        format!(
            "UNH+1+COPRAR:D:95B:UN'BGM+45+1+9'LOC+9+XXAAA'EQD+CN+{unit}+45R1+++5'\
             TMP+2+-20:CEL'UNT+6+1'"
        )
    };
    d.file("order.edi", order("QQQU2000016"));
    d.file("order2.edi", order("QQQU3000026"));
    d.file("cut.edi", &LIST[..LIST.find("LOC+147+0220182").unwrap()]);
    let v = ["--voyage", "v"];
    d.json(&["load", "plan.edi", v[0], v[1]]);
    let c = d.json(&["load", "order.edi", v[0], v[1]])["changes"].clone();
    assert_eq!((&c["added"], &c["removed"]), (&json!(1), &json!(0)));
    let c = d.json(&["load", "order2.edi", v[0], v[1]])["changes"].clone();
    assert_eq!((&c["added"], &c["removed"]), (&json!(1), &json!(1)), "the order was replaced");
    let cut = d.json(&["load", "cut.edi", v[0], v[1]]);
    assert_eq!(cut["changes"]["removed"], 0);
    assert!(!cut["warnings"].as_array().unwrap().is_empty());
}

#[test]
fn take_counts_every_row() {
    let d = Desk::new();
    let text = format!(
        "{ROUND}2026-03-05 08:00,QQQU1000011,-18.0,-18.6,-17.5,30,1,round\n\
                        2026-03-05 08:09,QQQU1000011,cold,,,,,\n\n"
    );
    d.file("r.csv", text);
    let args = ["take", "r.csv", "--voyage", "v.holdfast"];
    let v = d.json(&args);
    has_keys(&v, &["files", "rows", "stored", "already_held", "refused", "conflicts", "warnings"]);
    assert_eq!((&v["rows"], &v["stored"], &v["already_held"]), (&json!(4), &json!(2), &json!(1)));
    assert_eq!(v["refused"][0]["line"], 5);
    assert!(v["refused"][0]["file"].as_str().unwrap().contains("r.csv"));
    let again = d.json(&args);
    assert_eq!((&again["stored"], &again["already_held"]), (&json!(0), &json!(3)));
    let entries = d.json(&["verify", "v.holdfast"])["entries"].clone();
    assert_eq!(entries, 1, "the same file brings no second entry");
}

#[test]
fn conflicts_are_kept_and_counted() {
    let d = Desk::new();
    d.file("a.csv", "time_utc,unit,supply_c,return_c\n2026-03-05 08:00,QQQU1000011,-18,-17\n");
    d.file("b.csv", "time_utc,unit,supply_c,return_c\n2026-03-05 08:00,QQQU1000011,-12,-17\n");
    d.file("c.csv", "time_utc,unit,supply_c,source\n2026-03-05 08:00,QQQU1000011,-9,other\n");
    let take = |f: &str| d.json(&["take", f, "--voyage", "v"]);
    assert_eq!(take("a.csv")["conflicts"], 0);
    let b = take("b.csv");
    assert_eq!((&b["stored"], &b["conflicts"]), (&json!(1), &json!(1)));
    assert_eq!(take("c.csv")["conflicts"], 0, "another source is another reading");
    for f in ["a.csv", "b.csv"] {
        let r = take(f);
        assert_eq!((&r["already_held"], &r["conflicts"]), (&json!(1), &json!(0)));
    }
    let view = d.json(&["box", "QQQU1000011", "--voyage", "v"]);
    assert_eq!(view["readings"].as_array().unwrap().len(), 3);
}

#[test]
fn watch_puts_the_right_box_on_top() {
    let d = Desk::new();
    d.file("list.edi", LIST);
    d.file("round.csv", ROUND);
    d.json(&["load", "list.edi", "--voyage", "v"]);
    d.json(&["take", "round.csv", "--voyage", "v"]);
    let w = d.json(&["watch", "--voyage", "v"]);
    assert_eq!(w["as_of_at"], "2026-03-05T08:04:00Z");
    let boxes = w["boxes"].as_array().unwrap();
    assert_eq!(boxes.len(), 2, "every thermal box, no dry one");
    let top = &boxes[0];
    has_keys(
        top,
        &[
            "unit",
            "stow",
            "cargo",
            "state",
            "reason",
            "hours_to_limit",
            "hours_to_limit_p90",
            "limit",
            "action",
        ],
    );
    assert_eq!((&top["unit"], &top["state"]), (&json!("QQQU1000027"), &json!("urgent")));
    let hours = top["hours_to_limit"].as_f64().unwrap();
    let [low, high] = [0, 1].map(|i| top["hours_to_limit_p90"][i].as_f64().unwrap());
    assert!(low <= hours && hours <= high && low >= 0.0, "{low} {hours} {high}");
    assert!(top["reason"].as_str().unwrap().to_lowercase().contains("power"));
    let fine = &boxes[1];
    assert_eq!((&fine["state"], &fine["hours_to_limit"]), (&json!("ok"), &json!(null)));
    let text = String::from_utf8(d.run(&["watch", "--voyage", "v"]).stdout).unwrap();
    assert!(text.contains("URGENT") && text.contains("QQQU1000027"), "{text}");
}

#[test]
fn files_that_are_no_voyage_are_refused_untouched() {
    let d = Desk::new();
    d.file("list.edi", LIST);
    d.file("round.csv", ROUND);
    let other = d.file("other", "my notes, long enough to look at. ".repeat(20));
    let before = std::fs::read(&other).unwrap();
    for args in [
        &["load", "list.edi", "--voyage", "other"][..],
        &["take", "round.csv", "--voyage", "other"],
        &["watch", "--voyage", "other"],
        &["box", "QQQU1000011", "--voyage", "other"],
        &["verify", "other"],
        &["serve", "--voyage", "other", "--listen", "127.0.0.1:0"],
    ] {
        assert!(d.refused(args).contains("other"), "{args:?}");
    }
    assert_eq!(std::fs::read(&other).unwrap(), before);
}

/// On a refusal nothing of any file of the command is stored, and no voyage file appears.
#[test]
fn a_refused_command_stores_nothing() {
    let d = Desk::new();
    d.file("good.csv", ROUND);
    d.file("good.edi", LIST);
    d.file("letter.txt", "Dear all, the boxes are fine.");
    d.file("allbad.csv", "time_utc,unit,supply_c\nyesterday,QQQU1000011,1\n");
    for args in [
        &["take", "good.csv", "letter.txt", "--voyage", "v"][..],
        &["take", "good.csv", "missing.csv", "--voyage", "v"],
        &["take", "allbad.csv", "--voyage", "v"],
        &["load", "good.edi", "letter.txt", "--voyage", "v"],
        &["load", "missing.edi", "--voyage", "v"],
    ] {
        d.refused(args);
        assert!(!d.path().join("v").exists(), "{args:?}");
    }
    d.json(&["take", "good.csv", "--voyage", "v"]);
    d.refused(&["take", "letter.txt", "--voyage", "v"]);
    assert_eq!(d.json(&["verify", "v"])["entries"], 1);
}

#[test]
fn usage_is_refused_in_one_line() {
    let d = Desk::new();
    for args in [
        &["frobnicate"][..],
        &["load"],
        &["take"],
        &["watch", "--colour"],
        &["watch", "--as-of", "yesterday"],
        &["box"],
        &["box", "QQQU1000011", "--voyage", "none"],
        &["serve", "--listen", "0.0.0.0:8137"],
        &["serve", "--listen", "over there"],
        &["demo", "--boxes", "-3"],
        &["demo", "--boxes", "100000"],
        &["fluid"],
        &["fluid", "R134a"],
        &["fluid", "R999", "--t-c", "1"],
        &["fluid", "R134a", "--p", "1.8"],
        &["fluid", "R134a", "--p", "1.8psi"],
        &["fluid", "R134a", "--t-c", "-200"],
        &["fluid", "R134a", "--p-kpa", "1", "--p", "1psig"],
    ] {
        d.refused(args);
    }
    for command in ["load", "take", "watch", "box", "verify", "demo", "serve", "fluid"] {
        let out = d.run(&[command, "--help"]);
        let text = String::from_utf8(out.stdout).unwrap();
        assert_eq!(out.status.code(), Some(0));
        assert!(text.contains("example:"), "{command}: {text}");
    }
}

#[test]
fn the_environment_names_the_voyage() {
    let d = Desk::new();
    d.file("list.edi", LIST);
    let out = d.command(&["load", "list.edi"]).env("HOLDFAST_VOYAGE", "env.holdfast").output();
    assert_eq!(out.unwrap().status.code(), Some(0));
    assert!(d.path().join("env.holdfast").exists());
    let out = d.command(&["watch", "--json"]).env("HOLDFAST_VOYAGE", "env.holdfast").output();
    let v: Value = serde_json::from_slice(&out.unwrap().stdout).unwrap();
    assert_eq!(v["as_of_at"], Value::Null, "nothing read yet");
    assert_eq!(v["boxes"].as_array().unwrap().len(), 2);
}

#[test]
fn altered_evidence_is_status_3() {
    let d = Desk::new();
    d.file("round.csv", ROUND);
    d.json(&["take", "round.csv", "--voyage", "v"]);
    let fine = d.json(&["verify", "v"]);
    assert_eq!((&fine["intact"], &fine["entries"]), (&json!(true), &json!(1)));
    assert_eq!(fine["root"].as_str().unwrap().len(), 64);
    let mut bytes = std::fs::read(d.path().join("v")).unwrap();
    let needle = b"\"stored\":2";
    let at = bytes.windows(needle.len()).position(|w| w == needle).unwrap();
    bytes[at + needle.len() - 1] = b'3';
    d.file("v", bytes);
    let out = d.run(&["verify", "v", "--json"]);
    assert_eq!(out.status.code(), Some(3));
    let v: Value = serde_json::from_slice(&out.stdout).unwrap();
    assert_eq!(v["intact"], json!(false));
    assert!(v["problems"][0].as_str().unwrap().contains("entry 1"));
}

/// R134a 665.38 kPa at 25 °C and 1.8 psig at −10.3 °F: published pairs named in
/// reference/refrigeration-service.md.
#[test]
fn fluid_answers_both_ways() {
    let d = Desk::new();
    let v = d.json(&["fluid", "R134a", "--t-c", "25"]);
    has_keys(
        &v,
        &["fluid", "p_kpa", "t_c", "bubble_c", "dew_c", "bubble_kpa", "dew_kpa", "glide_k"],
    );
    assert!((v["p_kpa"].as_f64().unwrap() - 665.38).abs() < 0.05, "{v}");
    let v = d.json(&["fluid", "R134a", "--p", "1.8psig"]);
    let t_f = v["t_c"].as_f64().unwrap() * 1.8 + 32.0;
    assert!((t_f + 10.3).abs() < 0.1, "{t_f}");
    let back = d.json(&["fluid", "R134a", "--t-c", "-23.5"]);
    assert!(back["p_kpa"].as_f64().unwrap() > 100.0, "negative values in the plain form");
    let blend = d.json(&["fluid", "R452A", "--p-kpa", "1500"]);
    assert!(blend["dew_c"].as_f64() > blend["bubble_c"].as_f64());
    let glide = blend["dew_c"].as_f64().unwrap() - blend["bubble_c"].as_f64().unwrap();
    assert!((glide - blend["glide_k"].as_f64().unwrap()).abs() < 1e-5);
    let state = d.json(&["fluid", "R404A", "--p-kpa", "200", "--t-c", "0"]);
    has_keys(&state, &["phase", "h_kj_kg", "s_kj_kgk", "rho_kg_m3", "cp_kj_kgk", "superheat_k"]);
    assert!(state["superheat_k"].as_f64().unwrap() > 0.0 && state["subcooling_k"].is_null());
}

/// Damage of any kind is an alteration, not a refusal.
#[test]
fn damaged_files_are_status_3() {
    let d = Desk::new();
    d.file("round.csv", ROUND);
    d.json(&["take", "round.csv", "--voyage", "v"]);
    let whole = std::fs::read(d.path().join("v")).unwrap();
    let half = whole[..whole.len() / 2].to_vec();
    let longer = [whole.as_slice(), b"more"].concat();
    for (what, bytes) in [("cut", half), ("cut short", whole[..100].to_vec()), ("longer", longer)] {
        let dir = d.path().join(what);
        std::fs::create_dir(&dir).unwrap();
        std::fs::write(dir.join("v"), bytes).unwrap();
        for path in [dir.join("v"), dir] {
            let out = d.run(&["verify", &path.display().to_string(), "--json"]);
            assert_eq!(out.status.code(), Some(3), "{what}");
            let v: Value = serde_json::from_slice(&out.stdout).unwrap();
            assert_eq!(v["intact"], json!(false), "{what}");
        }
    }
    let folder = d.path().display().to_string();
    assert_eq!(d.json(&["verify", &folder])["intact"], json!(true));
    d.refused(&["verify", "nowhere"]);
}
