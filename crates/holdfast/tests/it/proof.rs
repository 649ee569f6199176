//! Messages, notes, the log, and that what was altered is seen without the voyage.

use serde_json::{Value, json};

use crate::run::{Desk, logger, unit};

/// A small voyage with a list, readings, and a key of its own.
struct Ship(Desk);

impl Ship {
    fn new() -> Self {
        let d = Desk::new();
        let mut list = String::from("unit,stow,size_type,full,set_point_c,cargo,discharge_port\n");
        for n in 0..40 {
            list +=
                &format!("{},{:03}0182,45R1,true,-18.0,FROZEN FISH,XXMAR\n", unit(n), 2 + 4 * n);
        }
        d.file("list.csv", list);
        d.file("log.csv", logger(0, 800));
        let ship = Self(d);
        ship.ok(&["load", "list.csv", "--voyage", "v.holdfast", "--who", "Mate"]);
        ship.ok(&["take", "log.csv", "--voyage", "v.holdfast", "--who", "Mate"]);
        ship
    }

    fn json(&self, args: &[&str]) -> (i32, Value) {
        let mut c = self.0.command(args);
        c.env("HOLDFAST_VOYAGE", "v.holdfast").env("HOLDFAST_KEY", self.0.path().join("key"));
        let out = c.arg("--json").output().unwrap();
        let err = String::from_utf8_lossy(&out.stderr).into_owned();
        let value = serde_json::from_slice(&out.stdout).unwrap_or_else(|_| json!(err));
        (out.status.code().unwrap(), value)
    }

    fn ok(&self, args: &[&str]) -> Value {
        let (code, value) = self.json(args);
        assert_eq!(code, 0, "{args:?}: {value}");
        value
    }

    fn altered(&self, args: &[&str]) -> String {
        let (code, value) = self.json(args);
        assert_eq!((code, &value["intact"]), (3, &json!(false)), "{args:?}: {value}");
        value["first_altered"].as_str().unwrap().to_owned()
    }
}

/// Contract §6; budget of reference/interchange.md §7.
#[test]
fn messages_are_numbered_entered_and_within_their_budget() {
    let s = Ship::new();
    let box_9 = unit(9);
    let preview = s.ok(&["report", "--kind", "twice-daily", "--preview"]);
    assert_eq!((&preview["number"], &preview["entry"]), (&json!(1), &Value::Null));
    let first = s.ok(&["report", "--kind", "twice-daily", "--out", "outbox", "--who", "Mate"]);
    assert_eq!((&first["number"], &first["entry"]), (&json!(1), &json!(3)));
    let text = first["text"].as_str().unwrap();
    assert_eq!(
        std::fs::read_to_string(s.0.path().join("outbox/report-0001-twice-daily.txt")).unwrap(),
        text
    );
    assert!(text.len() <= 4000 && text.lines().all(|l| l.len() <= 76) && text.is_ascii(), "{text}");
    assert!(first["attachment_bytes"].as_u64().unwrap() <= 25_000);
    assert!(text.contains(&format!("ROOT {}@2\n", first["root"].as_str().unwrap())), "{text}");

    s.ok(&["note", &box_9, "fan", "stands", "--kind", "noticed", "--at", "2026-03-01T19:00Z"]);
    let second = s.ok(&["report", "--kind", "exceptions"]);
    assert_eq!(second["number"], 2);
    let flat = second["text"].as_str().unwrap().split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("NOTICED 03-01 19:00 UTC"), "{flat}");
    assert!(flat.contains("DONE, RESTORED: NOT WRITTEN DOWN"), "{flat}");

    s.0.file("more.csv", format!(
        "time_utc,unit,supply_c,return_c,on_power,source\n2026-03-01 21:00,{box_9},-9.0,-8.0,1,round\n"
    ));
    s.ok(&["take", "more.csv"]);
    let third = s.ok(&["report", "--kind", "twice-daily", "--delta"]);
    assert_eq!((&third["number"], &third["since_number"]), (&json!(3), &json!(1)));
    assert!(third["text"].as_str().unwrap().contains(&box_9), "{third}");
    assert!(third["table_rows"].as_u64().unwrap() < 40, "{third}");
    s.0.refused(&["report", "--kind", "weekly", "--voyage", "v.holdfast"]);
    s.0.refused(&["report", "--voyage", "v.holdfast"]);
    // A root that left the ship: the present log continues it, and no other.
    let root = first["root"].as_str().unwrap();
    let held = s.ok(&["verify", "v.holdfast", "--against", &format!("{}@2", &root[..16])]);
    assert_eq!(held["continues"], true);
    let other = format!("{}@2", "0123456789abcdef".repeat(4));
    assert!(s.altered(&["verify", "v.holdfast", "--against", &other]).contains("rewritten"));
    let longer = format!("{root}@99");
    assert!(s.altered(&["verify", "v.holdfast", "--against", &longer]).contains("missing"));
    for bad in ["5b1c@2", "xyz", &format!("{root}@0"), root] {
        s.0.refused(&["verify", "v.holdfast", "--against", bad]);
    }
}

#[test]
fn the_log_tells_who_did_what_and_which_rounds_are_missing() {
    let s = Ship::new();
    let box_3 = unit(3);
    s.ok(&["note", &box_3, "defrosted by hand", "--kind", "done", "--who", "J. Ruiz"]);
    s.0.file("late.csv", format!(
        "time_utc,unit,supply_c,return_c,on_power,source\n2026-03-03 08:00,{box_3},-18.0,-17.5,1,round\n"
    ));
    s.ok(&["take", "late.csv"]);
    s.ok(&[
        "note",
        "--missed",
        "--from",
        "2026-03-02T04:00Z",
        "--to",
        "2026-03-02T20:00Z",
        "deck closed",
        "--wind",
        "NW 9",
        "--sea",
        "6 m",
        "--who",
        "Mate",
    ]);
    let all = s.ok(&["log"]);
    let lines = all["lines"].as_array().unwrap();
    assert!(lines.iter().any(|l| l["who"] == "J. Ruiz" && l["late_h"].is_null()), "{all}");
    let missed = lines.iter().find(|l| l["kind"] == "no round").unwrap();
    assert!(missed["late_h"].as_f64().unwrap() > 3.0, "{missed}");
    let gap = lines.iter().find(|l| l["kind"] == "gap").unwrap();
    let words = gap["words"].as_str().unwrap();
    assert!(words.contains("wind NW 9; sea 6 m (entered by Mate)"), "{words}");
    let of_box = s.ok(&["log", "--unit", &unit(5)]);
    let of_box = of_box["lines"].as_array().unwrap();
    assert!(!of_box.iter().any(|l| l["words"].as_str().unwrap().contains("defrosted")));
    let found = s.ok(&["log", "--search", "DEFROSTED hand"]);
    assert_eq!(found["lines"].as_array().unwrap().len(), 1);
    let out = s.0.command(&["log", "--csv", "--voyage", "v.holdfast"]).output().unwrap();
    let text = String::from_utf8(out.stdout).unwrap();
    assert!(text.starts_with("entry,happened_utc,") && text.contains("\r\n"), "{text}");
    for bad in [
        &["note", "--voyage", "v.holdfast"][..],
        &["note", "QQQU9999999", "x", "--voyage", "v.holdfast"],
        &["note", "x", "--at", "2090-01-01T00:00Z", "--voyage", "v.holdfast"],
        &["note", "x", "--kind", "guessed", "--voyage", "v.holdfast"],
        &["note", "--missed", "x", "--voyage", "v.holdfast"],
        &["log", "--from", "yesterday", "--voyage", "v.holdfast"],
        &["log", "--unit", "no box", "--voyage", "v.holdfast"],
    ] {
        s.0.refused(bad);
    }
}

/// Issue 9.2: on another computer, without the voyage; whatever was altered is seen and named.
#[test]
fn a_dossier_is_checked_without_its_voyage() {
    let s = Ship::new();
    let (a, b) = (unit(3), unit(4));
    s.ok(&["note", &a, "ice on coil", "--kind", "noticed", "--who", "J. Ruiz"]);
    for u in [&a, &b] {
        s.ok(&["dossier", u, "--out", "out"]);
    }
    std::fs::remove_file(s.0.path().join("v.holdfast")).unwrap();
    let folder = format!("out/{a}");
    let at = |name: &str| s.0.path().join("out").join(&a).join(name);
    assert_eq!(s.ok(&["verify", &folder])["kind"], "dossier");
    assert_eq!(s.ok(&["verify", "out"])["checked"], 2);
    let alone = s.ok(&["verify", &format!("{folder}/dossier.pdf")]);
    let of_folder = s.ok(&["verify", &folder]);
    assert_eq!((&alone["kind"], &alone["entries"]), (&json!("pdf"), &of_folder["entries"]));
    assert_eq!(
        (&alone["root"], &alone["public_key"]),
        (&of_folder["root"], &of_folder["public_key"])
    );

    let mended = |name: &str, change: &dyn Fn(&mut Vec<u8>), told: &str| {
        let whole = std::fs::read(at(name)).unwrap();
        let mut bytes = whole.clone();
        change(&mut bytes);
        std::fs::write(at(name), bytes).unwrap();
        let first = s.altered(&["verify", &folder]);
        assert!(first.contains(told), "{name}: {first}");
        assert!(!s.altered(&["verify", "out"]).is_empty());
        std::fs::write(at(name), whole).unwrap();
    };
    let edit = |bytes: &mut Vec<u8>| {
        let text = String::from_utf8(bytes.clone()).unwrap();
        *bytes = text.replace("ice on coil", "all in order").into_bytes();
    };
    mended("entries.jsonl", &edit, "entry 3 is not what was entered");
    mended("manifest.json", &|b| b[100] ^= 1, "manifest");
    mended(
        "manifest.sig",
        &|b| {
            b.pop();
            b.pop();
        },
        "manifest.sig",
    );
    mended("dossier.pdf", &|b| b[2000] ^= 1, "dossier.pdf");
    mended("readings.csv", &|b| b[50] ^= 1, "readings.csv");
    // A file too many, a file too few, the paper of another box.
    std::fs::write(at("extra.txt"), "x").unwrap();
    assert!(s.altered(&["verify", &folder]).contains("extra.txt is not on the signed list"));
    std::fs::remove_file(at("extra.txt")).unwrap();
    std::fs::copy(s.0.path().join("out").join(&b).join("dossier.pdf"), at("dossier.pdf")).unwrap();
    assert!(s.altered(&["verify", &folder]).contains(&format!("dossier.pdf is not about {a}")));
}

/// The short form of the 10,000 trials (docs/proof.md), over all that a dossier is made of.
#[test]
fn random_damage_is_seen() {
    let s = Ship::new();
    s.ok(&["dossier", &unit(3), "--out", "out"]);
    for what in ["out", "v.holdfast", &format!("out/{}/dossier.pdf", unit(3))] {
        let tried = s.ok(&["verify", what, "--try", "60"]);
        assert_eq!((&tried["seen"], &tried["unseen"]), (&json!(60), &json!([])), "{what}");
    }
}

/// A damaged head does not make a voyage file somebody else's.
#[test]
fn a_damaged_head_is_an_alteration() {
    let s = Ship::new();
    let whole = std::fs::read(s.0.path().join("v.holdfast")).unwrap();
    for at in [0, 5, 17, 20, 60, 68, 71, 97] {
        let mut bytes = whole.clone();
        bytes[at] ^= 4;
        s.0.file("v.holdfast", &bytes);
        s.altered(&["verify", "v.holdfast"]);
    }
    s.0.file("v.holdfast", &whole[..50]);
    s.altered(&["verify", "v.holdfast"]);
    s.0.file("other.db", "not a voyage, but long enough to be read as one. ".repeat(9));
    s.0.refused(&["verify", "other.db"]);
    s.0.file("other.pdf", "%PDF-1.4\nnothing of ours\n%%EOF\n");
    s.0.refused(&["verify", "other.pdf"]);
}
