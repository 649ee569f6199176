//! `holdfast dossier --all`, what it replaces and what it leaves alone.

use std::fs;

use serde_json::Value;

use crate::run::{Desk, logger, unit};

fn ship() -> Desk {
    let d = Desk::new();
    let mut list = String::from("unit,stow,size_type,full,set_point_c,cargo,discharge_port\n");
    for n in 0..12 {
        let port = if n % 2 == 0 { "XXMAR" } else { "" };
        list += &format!("{},{:03}0182,45R1,true,-18.0,FROZEN FISH,{port}\n", unit(n), 2 + 4 * n);
    }
    d.file("list.csv", list);
    // Larger than what is attached to every box, so that it is shared.
    d.file("log.csv", logger(0, 400));
    for args in [["load", "list.csv"], ["take", "log.csv"]] {
        let out = d.command(&args).args(["--voyage", "v.holdfast", "--who", "Mate"]).output();
        assert_eq!(out.unwrap().status.code(), Some(0), "{args:?}");
    }
    d
}

fn run(d: &Desk, args: &[&str]) -> (i32, Value, String) {
    let mut c = d.command(args);
    c.env("HOLDFAST_VOYAGE", "v.holdfast").env("HOLDFAST_KEY", d.path().join("key"));
    let out = c.arg("--json").output().unwrap();
    let err = String::from_utf8_lossy(&out.stderr).into_owned();
    (out.status.code().unwrap(), serde_json::from_slice(&out.stdout).unwrap_or_default(), err)
}

#[test]
fn all_boxes_share_their_large_files_and_each_can_be_checked() {
    let d = ship();
    let (code, made, err) = run(&d, &["dossier", "--all", "--out", "out"]);
    assert_eq!(code, 0, "{err}");
    let boxes = made["boxes"].as_u64().unwrap();
    assert!(boxes >= 12, "{made}");
    let shared: Vec<_> = fs::read_dir(d.path().join("out/originals")).unwrap().collect();
    assert_eq!(shared.len(), 1, "the logger's file, once");
    let bytes = fs::read(shared[0].as_ref().unwrap().path()).unwrap();
    assert_eq!(bytes, fs::read(d.path().join("log.csv")).unwrap());
    for n in 0..12 {
        let (code, found, err) = run(&d, &["verify", &format!("out/{}", unit(n))]);
        assert_eq!((code, &found["intact"]), (0, &Value::Bool(true)), "{found} {err}");
    }
    for sheet in ["XXMAR", "not-known"] {
        let (code, ..) = run(&d, &["verify", &format!("out/ports/{sheet}.pdf")]);
        assert_eq!(code, 0, "{sheet}");
    }
    // A shared file that is altered is missed by every box that names it.
    fs::write(shared[0].as_ref().unwrap().path(), b"other").unwrap();
    assert_eq!(run(&d, &["verify", &format!("out/{}", unit(3))]).0, 3);
}

#[test]
fn an_older_dossier_is_replaced_and_nothing_else() {
    let d = ship();
    let folder = d.path().join("out").join(unit(2));
    fs::create_dir_all(&folder).unwrap();
    fs::write(folder.join("notes.txt"), "mine").unwrap();
    let (code, _, err) = run(&d, &["dossier", &unit(2), "--out", "out"]);
    assert_eq!(code, 2);
    assert!(err.contains("is no dossier") && err.lines().count() == 1, "{err}");
    assert_eq!(fs::read_to_string(folder.join("notes.txt")).unwrap(), "mine");
    for _ in 0..2 {
        assert_eq!(run(&d, &["dossier", &unit(4), "--out", "out"]).0, 0);
        assert_eq!(run(&d, &["verify", &format!("out/{}", unit(4))]).0, 0);
    }
}

#[test]
fn what_cannot_be_made_is_refused_in_one_line() {
    let d = ship();
    for (args, words) in [
        (&["dossier", "--out", "out"][..], "name one box or --all"),
        (&["dossier", "QQQU1000011", "--all", "--out", "out"], "name one box or --all"),
        (&["dossier", "QQQU1000011"], "--out"),
        (&["dossier", "QQQU9999999", "--out", "out"], "on no list and never read"),
    ] {
        let (code, _, err) = run(&d, args);
        assert_eq!((code, err.lines().count()), (2, 1), "{args:?}: {err}");
        assert!(err.contains(words), "{err}");
    }
    assert!(!d.path().join("out").exists(), "nothing was written");
}
